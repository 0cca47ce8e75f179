"""The wet stages of an etched plate in the bath: coupon, etch, rinse."""

from __future__ import annotations

from collections.abc import Mapping

from stopout.etching import EtchPlan, Pair
from stopout.etching.schedule import LOOK, MEASURE
from stopout.planning import Plan
from stopout.sheet.model import STAGE, Block, Heading, Hold
from stopout.sheet.stages.day import batch_table, cell_steps, coupon_current, current_on
from stopout.sheet.stages.hazards import hazard_boxes
from stopout.sheet.stages.rinse import still_rinses
from stopout.sheet.steps import advice, check, note, signed, step
from stopout.sheet.words import duration, grams, roughly, significant, span
from stopout.units import format_least

_AGITATION = {
    "tray": "Keep the bath moving over the face, softly, all the time.",
    "rocked": "Rock the tray without a break.",
    "bubbled": "Keep the air bubbling evenly along the face.",
    "spray": "Keep the spray moving evenly over the face.",
}


def is_guess(etch: EtchPlan) -> bool:
    """Tell whether the etch rate is only a starting guess, so that a coupon comes first."""
    return etch.rate_grade in ("C", "D")


def coupon_stage(
    plan: Plan, etch: EtchPlan, pair: Pair, statements: Mapping[str, str]
) -> list[Block]:
    """Etch a coupon first, where the rate is only a starting guess."""
    um = 1000 * etch.depth_mm
    return [
        Heading(text="Etch the coupon first", letter=STAGE),
        note(
            f"The rate ({significant(etch.rate_um_per_min)}\u00a0µm/min, grade "
            f"{etch.rate_grade}) is a starting guess: the same depth may take from "
            f"{span(etch.time_low_s, etch.longest_s)}."
        ),
        *hazard_boxes(plan, "etching", statements),
        *_air(etch),
        *coupon_current(etch),
        step(
            "Etch the coupon for half the planned time.",
            "Same coat, same bath, same temperature, moved in the same way.",
            measured=(("time in", "min"), ("bath", "°C")),
            timer_s=LOOK * etch.time_s,
            act="coupon-etch",
        ),
        step(
            "Rinse the coupon as a piece is rinsed, and measure its depth at three places.",
            "Needle indicator or the focus of a microscope.",
            sets=(("if the guess holds", f"{LOOK * um:.0f}\u00a0µm"),),
            measured=(("depth 1", "µm"), ("depth 2", "µm"), ("depth 3", "µm")),
            act="coupon-depth",
        ),
        step(
            "Measure a stroke's width across resist and metal.",
            "Undercut per edge = (width in the metal − width in the resist) / 2.",
            sets=(("undercut, full depth", f"{1000 * etch.undercut_mm:.0f}\u00a0µm"),),
            measured=(("in resist", "mm"), ("in metal", "mm")),
            act="coupon-stroke",
        ),
        step(
            "Work out the rate and the time.",
            f"Rate = mean depth / time in. Time for the pieces = {um:.0f}\u00a0µm / rate. "
            f"Undercut off by more than 20\u00a0µm: give {_measured_keys(etch)} in the job file "
            "and plan again.",
            measured=(("rate", "µm/min"), ("time", "min")),
            act="coupon-rate",
        ),
    ]


def etch_stage(
    plan: Plan,
    etch: EtchPlan,
    pair: Pair,
    statements: Mapping[str, str],
    *,
    is_coupon: bool = False,
) -> list[Block]:
    """Weigh, etch, look at half the time, measure at four fifths, lift out.

    Parameters
    ----------
    plan, etch, pair : Plan, EtchPlan, Pair
        What is etched in what.
    statements : mapping
        Texts of the hazard and precautionary statements by code.
    is_coupon : bool
        True where the piece is itself the coupon, so that none was etched before it, and the
        stage is the first to meet the bath's dangers.
    """
    guess = is_guess(etch) and not is_coupon
    return [
        Heading(text="Etch", letter=STAGE),
        *hazard_boxes(plan, "etching", statements, again=guess),
        *([] if guess else _air(etch)),
        *cell_steps(etch),
        *batch_table(etch),
        step(
            "Weigh each cleared piece, dry.",
            "Into the record of the pieces: the loss of weight is the best gauge of the depth.",
            measured=(("piece 1", "g"),),
            act="weigh-before",
        ),
        _hold(plan, guess=guess),
        _lower(etch, guess=guess),
        *current_on(etch),
        step(_AGITATION.get(etch.agitation, _AGITATION["tray"]), act="keep"),
        *_early_look(etch),
        *_looks(etch, guess=guess),
    ]


def _hold(plan: Plan, *, guess: bool) -> Hold:
    return Hold(
        number=0,
        before="the bath: the etch cannot be undone",
        checks=(
            *(("coupon: rate and time written, its resist has held",) if guess else ()),
            "lettering read against the order, openings down to metal",
            "back, edges, hole walls covered; no pinhole, no lifted edge",
            "bath warm, extraction on, running water at hand",
        ),
        signatures=signed(plan),
    )


def _lower(etch: EtchPlan, *, guess: bool) -> Block:
    one = ""
    if len(etch.batches) > 1:
        one = (
            " One piece after another goes into the same bath."
            if etch.pour.at_once == 1
            else f" {etch.pour.at_once} pieces at once, batch after batch."
        )
    # What the coupon gave is nearer than the range in which the guess may be off.
    ask = " Where the coupon gave another time, use that one." if guess else _range(etch)
    most = etch.temperature_degc + etch.rise_k
    start = "Start the timer." if etch.electro is None else "The timer starts with the current."
    return step(
        "Lower the piece into the bath.",
        f"{start}{one}{ask} Out if the bath ever passes {most:g}\u00a0°C.",
        sets=(("bath", f"{etch.temperature_degc:g}\u00a0°C"),),
        measured=(("start", "°C"),),
        timer_s=etch.time_s,
        act="lower",
    )


def _looks(etch: EtchPlan, *, guess: bool) -> list[Block]:
    """Look at half the time, measure at four fifths, lift at the depth."""
    um = 1000 * etch.depth_mm
    return [
        step(
            "Look at the piece after half the time.",
            "Lift, rinse, brush softly, look: all openings alike, resist sound; back in."
            + ("" if guess else _measure_now(etch)),
            sets=(
                ("at 50\u00a0%", duration(LOOK * etch.time_s)),
                ("depth", f"{LOOK * um:.0f}\u00a0µm"),
            ),
            measured=(("depth", "µm"), ("bath", "°C")),
            act="look",
        ),
        step(
            "Measure the depth after four fifths of the time.",
            "Time left = time so far × (set depth − measured depth) / measured depth.",
            sets=(
                ("at 80\u00a0%", duration(MEASURE * etch.time_s)),
                ("depth", f"{MEASURE * um:.0f}\u00a0µm"),
            ),
            measured=(("depth", "µm"), ("time left", "min")),
            act="gauge",
        ),
        step(
            "Lift the piece out at its depth.",
            "By the time left that was just worked out.",
            sets=(("time", duration(etch.time_s)), ("depth", f"{um:.0f}\u00a0µm")),
            measured=(("time in", "min"), ("bath, end", "°C")),
            act="lift",
        ),
    ]


def _measured_keys(etch: EtchPlan) -> str:
    if etch.electro is None:
        return "rate and etch factor"
    # The rate follows from the current; the efficiency carries what was measured.
    planned = significant(etch.electro.efficiency.value)
    return f"efficiency ({planned} x rate / planned rate) and etch factor"


def _range(etch: EtchPlan) -> str:
    """The time as a range, where it is one."""
    between = span(etch.time_low_s, etch.longest_s)
    return f" It may take from {between}." if between else ""


def _measure_now(etch: EtchPlan) -> str:
    """Where the fast end of the rate would be through before the depth is measured."""
    if etch.time_low_s >= MEASURE * etch.time_s:
        return ""
    return (
        f" Measure now: at the fast end of the rate the depth is there after "
        f"{roughly(etch.time_low_s)}."
    )


def _early_look(etch: EtchPlan) -> list[Block]:
    """A look before half the time, where the rate may be twice the planned one or more."""
    first = etch.schedule[0]
    if first.share >= LOOK:
        return []
    return [
        step(
            "Look at the piece early.",
            "The rate may be more than twice the planned one: by then half the depth may be there.",
            sets=((f"at {100 * first.share:.0f}\u00a0%", duration(first.time_s)),),
            measured=(("depth", "µm"),),
            act="look",
        )
    ]


def rinse_stage(plan: Plan, etch: EtchPlan, statements: Mapping[str, str]) -> list[Block]:
    """Rinse, weigh and gauge, while more can still be etched."""
    um = 1000 * etch.depth_mm
    all_kept = etch.rinses is not None and etch.rinses.all_kept
    return [
        Heading(text="Rinse and gauge", letter=STAGE),
        *hazard_boxes(plan, "rinsing", statements),
        *still_rinses(etch),
        *advice(plan, plan.material.after_etch),
        step(
            "Hold pH paper to the wet recesses.",
            "Rinse on until it shows no more than the tap water does"
            + (", in fresh bowls that are kept." if all_kept else "."),
            sets=(("pH", "as tap water"),),
            measured=(("recess", "pH"), ("tap water", "pH")),
        ),
        step(
            "Dry the piece and weigh it.",
            "Into the record: loss = weight before − weight now.",
            sets=(("loss, one piece", grams(etch.metal_per_piece_g)),),
            measured=(("loss", "g"),),
            act="weigh-after",
        ),
        step(
            "Measure the depth at three places.",
            "Into the record. Too shallow: back into the bath, the resist still being on.",
            sets=(("depth", f"{um:.0f}\u00a0µm"),),
            measured=(("depth 1", "µm"), ("depth 2", "µm"), ("depth 3", "µm")),
            act="depth",
        ),
        check(
            "the bath is put by and the resist comes off: after that no more can be etched",
            "depth accepted",
            "every stroke is there",
        ),
    ]


def _times(factor: float) -> str:
    return "ten" if abs(factor - 10.0) < 0.05 else significant(factor)


def _air(etch: EtchPlan) -> list[Block]:
    if etch.air_l_per_min is None or etch.gas_l <= 0:
        # Acid vapour rises from warm chloride baths too, though no gas is counted.
        return [step("Start the extraction.", "Vapour and droplets rise from any bath.")]
    chlorine_air = 0.0 if etch.electro is None else etch.electro.chlorine_air_l_per_min or 0.0
    blown = max(etch.flow.ventilation_l_per_min or 10 * etch.air_l_per_min, chlorine_air)
    return [
        step(
            "Start the extraction, open tray, no lid.",
            f"{significant(etch.gas_wet_l)}\u00a0L of wet {etch.gas} in all, up to "
            f"{significant(etch.wet_ratio * etch.flow.peak_ml_per_min)}\u00a0mL/min. Well mixed, "
            f"{significant(etch.air_l_per_min)}\u00a0L/min of air would do; "
            f"{_times(etch.flow.safety_factor)} times that is set.{_chlorine(chlorine_air)}",
            sets=(("air, at least", f"{format_least(blown)}\u00a0L/min"),),
        )
    ]


def _chlorine(air_l_per_min: float) -> str:
    """What chlorine asks for, which is far more than the hydrogen does."""
    if air_l_per_min <= 0.0:
        return ""
    return (
        f" Chlorine, if a part of the current makes it, asks for "
        f"{format_least(air_l_per_min)}\u00a0L/min: outdoors, or extraction at the rim."
    )
