"""The wet stages of an etched plate: mix, coupon, etch, rinse, waste."""

from __future__ import annotations

from collections.abc import Mapping

from stopout.etching import EtchPlan, Pair, neutraliser_g
from stopout.planning import Plan
from stopout.sheet.hazards import hazard_boxes
from stopout.sheet.model import STAGE, Block, Heading, Hold, Note, Sketches, Table
from stopout.sheet.sketches import bath_sketch
from stopout.sheet.steps import advice, step
from stopout.sheet.words import advised, duration, grams, litres, roughly, significant, typeset

__all__ = [
    "LOOK",
    "MEASURE",
    "TRAY_MARGIN_MM",
    "coupon_stage",
    "etch_stage",
    "is_guess",
    "mix_stage",
    "rinse_stage",
    "tray_mm",
    "waste_stage",
]

# The shares of the time at which the etch is looked at and measured: common practice, no source.
LOOK, MEASURE = 0.5, 0.8
TRAY_MARGIN_MM = 20.0
_AGITATION = {
    "tray": "Keep the bath moving over the face, softly, all the time.",
    "rocked": "Rock the tray without a break.",
    "bubbled": "Keep the air bubbling evenly along the face.",
    "spray": "Keep the spray moving evenly over the face.",
}


def is_guess(etch: EtchPlan) -> bool:
    """Tell whether the etch rate is only a starting guess, so that a coupon comes first."""
    return etch.rate_grade in ("C", "D")


def tray_mm(plan: Plan) -> tuple[float, float]:
    """Smallest floor of the tray: the piece and 20 mm all round (common practice, no source)."""
    blank = plan.job.blank
    return blank.width_mm + 2 * TRAY_MARGIN_MM, blank.height_mm + 2 * TRAY_MARGIN_MM


def mix_stage(plan: Plan, etch: EtchPlan, pair: Pair, statements: Mapping[str, str]) -> list[Block]:
    """Make up the bath: what goes into what, how much, how warm."""
    blocks: list[Block] = [
        Heading(text="Make up the bath", letter=STAGE),
        *hazard_boxes(plan, "mixing", statements),
        *advice(plan, pair.etchant.mixing),
    ]
    blocks += _ready_made(etch, pair) if pair.etchant.ready_made else _dissolved(etch, pair)
    width, height = tray_mm(plan)
    depth = 1e6 * etch.bath_fill_l / (width * height)
    return [
        *blocks,
        Sketches(sketches=(bath_sketch(plan, tray_mm=(width, height), bath_mm=depth),)),
        step(
            "Pour the bath into the etching tray.",
            f"Plastic, standing level in a larger tray; at this floor the bath stands "
            f"{depth:.0f}\u00a0mm deep. A larger tray needs more bath of the same strength.",
            sets=(
                ("tray, at least", f"{width:.0f} × {height:.0f}\u00a0mm"),
                ("bath", litres(etch.bath_fill_l)),
            ),
        ),
        step(
            "Bring the bath to its temperature.",
            "In a larger vessel of warm or cold water; never over a flame.",
            sets=(("bath", f"{etch.temperature_degc:g}\u00a0°C"),),
            measured=(("bath", "°C"),),
        ),
    ]


def coupon_stage(
    plan: Plan, etch: EtchPlan, pair: Pair, statements: Mapping[str, str]
) -> list[Block]:
    """Etch a coupon first, where the rate is only a starting guess."""
    um = 1000 * etch.depth_mm
    return [
        Heading(text="Etch the coupon first", letter=STAGE),
        Note(
            lines=(
                f"The etch rate of the plan ({significant(etch.rate_um_per_min)}\u00a0µm/min, "
                f"grade {etch.rate_grade}) is a starting guess: etch the coupon first. The same "
                f"depth may take from {roughly(etch.time_low_s)} to {roughly(etch.time_high_s)}.",
            )
        ),
        *hazard_boxes(plan, "etching", statements),
        *advice(plan, pair.advice),
        *_air(etch),
        step(
            "Etch the coupon for half the planned time.",
            "Same coat, same bath, same temperature, moved in the same way.",
            measured=(("time in", "min"), ("bath", "°C")),
            timer_s=LOOK * etch.time_s,
        ),
        step("Rinse the coupon.", "In the first rinse, which is kept as waste."),
        step(
            "Measure the coupon's depth at three places.",
            "Needle indicator or the focus of a microscope.",
            sets=(("if the guess holds", f"{LOOK * um:.0f}\u00a0µm"),),
            measured=(("depth 1", "µm"), ("depth 2", "µm"), ("depth 3", "µm")),
        ),
        step(
            "Measure a stroke's width across resist and metal.",
            "Undercut per edge = (width in the metal − width in the resist) / 2.",
            sets=(("undercut, full depth", f"{1000 * etch.undercut_mm:.0f}\u00a0µm"),),
            measured=(("in resist", "mm"), ("in metal", "mm")),
        ),
        step(
            "Work out the rate and the time.",
            f"Rate = mean depth / time in. Time for the pieces = {um:.0f}\u00a0µm / rate. If the "
            "undercut differs by more than 20\u00a0µm, give rate and etch factor in the job file "
            "and plan again.",
            measured=(("rate", "µm/min"), ("time", "min")),
        ),
        Hold(
            number=0,
            before="a piece goes in: its time comes from the coupon",
            checks=("rate and time are written above", "resist on the coupon has held"),
        ),
    ]


def etch_stage(
    plan: Plan, etch: EtchPlan, pair: Pair, statements: Mapping[str, str]
) -> list[Block]:
    """Weigh, etch, look at half the time, measure at four fifths, lift out."""
    um = 1000 * etch.depth_mm
    guess = is_guess(etch)
    one = "" if etch.quantity == 1 else " One piece after another goes into the same bath."
    ask = " Where the coupon gave another time, use that one." if guess else ""
    most = etch.temperature_degc + etch.rise_k
    return [
        Heading(text="Etch", letter=STAGE),
        *hazard_boxes(plan, "etching", statements, again=guess),
        *([] if guess else advice(plan, pair.advice)),
        *_air(etch),
        step(
            "Weigh each cleared piece, dry.",
            "The loss of weight is the best gauge of the mean depth; write it in the record of "
            "the pieces.",
            measured=(("piece 1", "g"),),
        ),
        Hold(
            number=0,
            before="the etch: it cannot be undone",
            checks=(
                "lettering read on the piece against the order",
                "back, edges and hole walls covered; pinholes closed",
                "bath, temperature, extraction and water at hand",
            ),
            signatures=2,
        ),
        step(
            "Measure the bath's temperature.",
            f"Lift the piece out if it ever passes {most:g}\u00a0°C.",
            sets=(("bath", f"{etch.temperature_degc:g}\u00a0°C"),),
            measured=(("start", "°C"),),
        ),
        step(
            "Lower the piece into the bath.",
            f"Start the timer.{one}{ask}",
            timer_s=etch.time_s,
        ),
        step(_AGITATION.get(etch.agitation, _AGITATION["tray"])),
        step(
            "Look at the piece after half the time.",
            "Lift, rinse, brush softly, look: all openings attacked alike, resist sound; back in.",
            sets=(
                ("at 50\u00a0%", duration(LOOK * etch.time_s)),
                ("depth", f"{LOOK * um:.0f}\u00a0µm"),
            ),
            measured=(("depth", "µm"), ("bath", "°C")),
        ),
        step(
            "Measure the depth after four fifths of the time.",
            "Time left = time so far × (set depth − measured depth) / measured depth.",
            sets=(
                ("at 80\u00a0%", duration(MEASURE * etch.time_s)),
                ("depth", f"{MEASURE * um:.0f}\u00a0µm"),
            ),
            measured=(("depth", "µm"), ("time left", "min")),
        ),
        step(
            "Lift the piece out at its depth.",
            "By the time left that was just worked out.",
            sets=(("time", duration(etch.time_s)), ("depth", f"{um:.0f}\u00a0µm")),
            measured=(("time in", "min"), ("bath, end", "°C")),
        ),
    ]


def rinse_stage(plan: Plan, etch: EtchPlan, statements: Mapping[str, str]) -> list[Block]:
    """Rinse, weigh and gauge, while more can still be etched."""
    um = 1000 * etch.depth_mm
    return [
        Heading(text="Rinse and gauge", letter=STAGE),
        *hazard_boxes(plan, "rinsing", statements),
        step("Dip the piece in the first rinse.", "Keep this rinse: it is waste like the bath."),
        step("Rinse the piece in running water.", "Brush the recesses softly."),
        step(
            "Hold pH paper to the wet recesses.",
            "Rinse on until it shows no more than the tap water does.",
            sets=(("pH", "as tap water"),),
            measured=(("recess", "pH"), ("tap water", "pH")),
        ),
        step("Dry the piece."),
        step(
            "Weigh the piece.",
            "Loss = weight before − weight now.",
            sets=(("loss, one piece", grams(etch.metal_per_piece_g)),),
            measured=(("loss", "g"),),
        ),
        step(
            "Measure the depth at three places.",
            "Too shallow: back into the bath, the resist still being on.",
            sets=(("depth", f"{um:.0f}\u00a0µm"),),
            measured=(("depth 1", "µm"), ("depth 2", "µm"), ("depth 3", "µm")),
        ),
        Hold(
            number=0,
            before="the resist is stripped: after that no more can be etched",
            checks=("depth accepted", "every stroke is there"),
            signatures=2,
        ),
    ]


def waste_stage(
    plan: Plan, etch: EtchPlan, pair: Pair, statements: Mapping[str, str]
) -> list[Block]:
    """Where the bath and the first rinse go, and what makes them neutral."""
    rows = tuple(
        (
            typeset(way.name),
            grams(neutraliser_g(way, etch.reagent_fill_g)),
            way.end_ph,
            " ".join(advised(line) for line in way.advice),
        )
        for way in pair.neutralisers
    )
    blocks: list[Block] = [
        Heading(text="Bath and waste", letter=STAGE),
        *hazard_boxes(plan, "waste", statements),
        *advice(plan, (*pair.waste, *pair.etchant.waste)),
        step(
            "Let the bath cool until it gives off nothing.",
            "No piece, no scrap of metal left in it; extraction on.",
        ),
        step(
            "Pour the bath and the first rinse into their labelled waste container.",
            "Vented cap, open vessel until all is quiet; label: what was the bath, the metal, the "
            "date. This comes first: nothing is added in the tray.",
            sets=(
                ("bath", litres(etch.bath_fill_l)),
                ("dissolved metal", f"{significant(etch.metal_g_per_l)}\u00a0g/L"),
            ),
            measured=(("bath and rinse", "L"),),
        ),
    ]
    if rows:
        blocks += [
            *advice(plan, pair.etchant.neutralising),
            step(
                "If its safety data sheet and the local code allow it, neutralise the cooled "
                "bath with ONE of these.",
                f"In the waste container, as the sheet of the chemical says; else leave it to the "
                f"licensed carrier. Amounts for the {grams(etch.reagent_fill_g)} of "
                f"{pair.etchant.name} in it. Open vessel, slowly, stirred, below 30\u00a0°C; "
                "check the pH at the end.",
                measured=(("end", "pH"),),
                optional=True,
            ),
            Table(
                columns=("One of", "For the whole bath", "To pH", "Mind"),
                shares=(1.3, 1.0, 0.6, 2.2),
                rows=rows,
            ),
        ]
    return [
        *blocks,
        step("Write the waste record."),
        Table(
            columns=("Bath no.", "Litres", "What is in it", "Label", "Date", "Carrier", "Initials"),
            shares=(0.8, 0.7, 1.6, 1.0, 0.9, 1.2, 0.8),
            rows=(),
            blank_rows=2,
            hand=True,
        ),
    ]


def _dissolved(etch: EtchPlan, pair: Pair) -> list[Block]:
    rise = etch.mixing_rise_k
    warms = "" if rise is None else f" It warms by up to {rise:.0f}\u00a0K."
    return [
        step(
            "Measure cold water into the mixing vessel.",
            "The water comes first, all of it.",
            sets=(("water", litres(etch.water_fill_l)),),
            measured=(("water", "L"),),
        ),
        step(
            f"Weigh the {pair.etchant.name}.",
            "Dry vessel, lid on at once.",
            sets=((pair.etchant.name, grams(etch.reagent_fill_g)),),
            measured=(("weighed", "g"),),
        ),
        step(
            f"Stir the {pair.etchant.name} INTO the cold water, a little at a time.",
            f"Never water onto it.{warms} Wait whenever it gets hot to the hand outside.",
        ),
        step(
            "Let the mixture cool below the bath's temperature.",
            "Before any piece goes in.",
            sets=(("at most", f"{etch.temperature_degc:g}\u00a0°C"),),
            measured=(("mixture", "°C"),),
        ),
    ]


def _ready_made(etch: EtchPlan, pair: Pair) -> list[Block]:
    strength = etch.strength
    return [
        step(
            f"Measure the {pair.etchant.name} solution into the mixing vessel.",
            f"{strength.deg_baume:.1f}\u00a0°Bé is {strength.g_per_l:.0f}\u00a0g/L or "
            f"{100 * strength.fraction:.1f}\u00a0% by weight; this much holds "
            f"{grams(etch.reagent_fill_g)} of {pair.etchant.name}. Stronger stock is first poured "
            "INTO cold water, slowly and stirred, never water onto it.",
            sets=(
                ("solution", litres(etch.bath_fill_l)),
                ("strength", f"{strength.deg_baume:.1f}\u00a0°Bé"),
            ),
            measured=(("solution", "L"),),
        ),
        step(
            "Measure the density with a hydrometer.",
            "At about 20\u00a0°C; only a fresh bath shows its strength this way.",
            sets=(("density", f"{strength.density_g_per_ml:.3f}\u00a0g/mL"),),
            measured=(("density", "g/mL"),),
        ),
    ]


def _air(etch: EtchPlan) -> list[Block]:
    if etch.air_l_per_min is None or etch.gas_l <= 0:
        # Acid vapour rises from warm chloride baths too, though no gas is counted.
        return [step("Start the extraction.", "Vapour and droplets rise from any bath.")]
    return [
        step(
            "Start the extraction, open tray, no lid.",
            f"{significant(etch.gas_l)}\u00a0L of {etch.gas} in all, "
            f"{significant(etch.gas_ml_per_min)}\u00a0mL/min on average. "
            f"{significant(etch.air_l_per_min)}\u00a0L/min of air would do if perfectly mixed; "
            "ten times that is set.",
            sets=(("air, at least", f"{significant(10 * etch.air_l_per_min, 2)}\u00a0L/min"),),
        )
    ]
