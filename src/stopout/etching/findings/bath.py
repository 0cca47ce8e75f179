"""What a poured bath has to say: its size, its tray, its age, its gas, its mixing."""

from __future__ import annotations

import math
from collections.abc import Iterator

from stopout.etching.bath import amounts
from stopout.etching.bath.use import GAP_MM, TrayFit
from stopout.etching.records import Pair
from stopout.etching.result import EtchPlan
from stopout.units import format_least, format_number, format_rounded
from stopout.values import Finding, Level
from stopout.wording import counted

# Trade depths of plates that are filled with paint, published by a maker of such plates.
FILLED_DEPTH_MM = (0.18, 0.51)
# Warmer than this, fresh lye eats paint and spits. Our own rule.
_HOT_MIX_DEGC = 50.0
# With less of the blank's thickness left than this share, the plate may bend or be pierced where
# the etch runs ahead. Our own rule.
_FLOOR_SHARE = 0.5


def bath_findings(pair: Pair, plan: EtchPlan) -> tuple[Finding, ...]:
    """Findings about how much bath there is and how used up it is or gets."""
    return (
        *_decomposes(pair, plan),
        *_cover(pair, plan),
        *_too_small(plan),
        *_capacity(pair, plan),
        *_batches(plan),
        *_mixing(pair, plan),
    )


def _decomposes(pair: Pair, plan: EtchPlan) -> Iterator[Finding]:
    """A stop where the etch itself warms the bath past where it goes to pieces."""
    most, warmest = pair.etchant.decomposes_degc, plan.temperature_degc + plan.pour.rise_k
    if most is None or warmest <= most.value + 1e-6:
        return
    room_k = most.value - plan.temperature_degc
    remedy = f"Start at less than {most.value:g} degC, its rise included."
    if room_k >= 1.0:
        # Rounded down and up: what is followed to the letter must be enough.
        litres = plan.bath_fill_l * plan.pour.rise_k / room_k
        remedy = (
            f"Allow a rise of at most {math.floor(room_k):g} K: a bath of "
            f"{math.ceil(1000.0 * litres * room_k / math.floor(room_k)) / 1000.0:g} L or more; or "
            "start cooler."
        )
    yield Finding.stop(
        "bath-decomposes",
        f"the etch warms the bath from {plan.temperature_degc:g} to {warmest:.3g} degC, "
        f"but {pair.etchant.name} decomposes above {most.value:g} degC, which heats it "
        "further and gives off oxygen",
        remedy,
    )


def _cover(pair: Pair, plan: EtchPlan) -> Iterator[Finding]:
    pour = plan.pour
    if pour.decided_by != "cover":
        return
    tray = f"{pour.tray_mm[0]:g} x {pour.tray_mm[1]:g} mm"
    where = (
        f"what lies in the tray of {tray}"
        if plan.use.tray_mm or pour.is_proposed
        else f"a tray of {tray}, 20 mm larger all round"
    )
    if pour.at_once == 1 and not plan.use.tray_mm and not pour.is_proposed:
        where = "one piece in a tray 20 mm larger all round"
    if pour.hangs:
        where = f"what hangs in a vessel of {tray}, {pour.cover_mm:.0f} mm deep"
    chemistry = max(pour.heat_l, pour.capacity_l)
    held = f" that hold {format_number(plan.reagent_fill_g, digits=4)} g of {pair.etchant.reagent}"
    if pour.start_g_per_l > 0.0:
        held = " of the used bath, topped up with fresh bath if need be"
    yield Finding.note(
        "bath-cover",
        f"{format_number(chemistry, digits=3)} L would do for the chemistry, but it takes "
        f"{format_number(pour.cover_l, digits=3)} L to cover {where}",
        remedy=f"Pour {_up(plan.bath_fill_l)} L{held}.",
    )


def _too_small(plan: EtchPlan) -> tuple[Finding, ...]:
    """Where the job says how much bath there is: whether it is enough."""
    pour, found = plan.pour, []
    if pour.decided_by != "volume":
        return ()
    if pour.rise_k > plan.rise_k * (1.0 + 1e-9):
        found.append(
            Finding.stop(
                "bath-small",
                f"{plan.bath_fill_l:g} L warm by {format_number(pour.rise_k, digits=3)} K with "
                f"{counted(pour.at_once, 'piece')} at once; {plan.rise_k:g} K is allowed",
                remedy=(
                    f"Pour at least {_up(plan.bath_fill_l * pour.rise_k / plan.rise_k)} L, or etch "
                    "fewer pieces at once (bath.plates_at_once), letting the bath cool between."
                ),
            )
        )
    return (*found, *_shallow(plan))


def _shallow(plan: EtchPlan) -> Iterator[Finding]:
    """Whether the bath stands over the pieces: not to be covered at all is a stop."""
    pour = plan.pour
    open_mm2 = plan.etched_area_mm2 / plan.quantity * pour.at_once
    floor_mm2 = pour.tray_mm[0] * pour.tray_mm[1]
    where = f"in a tray of {pour.tray_mm[0]:g} x {pour.tray_mm[1]:g} mm"
    if not floor_mm2:
        # Nothing is known of the tray, but it cannot be smaller than what is open to the bath.
        floor_mm2, where = open_mm2, "even in a tray no larger than the open metal"
    deep_mm = 1e6 * plan.bath_fill_l / floor_mm2 if floor_mm2 else math.inf
    if deep_mm >= pour.cover_mm * (1.0 - 1e-9):
        return
    is_bare = deep_mm < pour.bare_mm
    yield Finding(
        code="bath-bare" if is_bare else "bath-shallow",
        level=Level.STOP if is_bare else Level.CAUTION,
        message=(
            f"{plan.bath_fill_l:g} L stand only {format_rounded(deep_mm)} mm deep {where}"
            + (": the piece is not covered, and boils dry in places" if is_bare else "")
        ),
        remedy=f"Pour {_up(1e-6 * floor_mm2 * pour.cover_mm)} L, or use a smaller tray.",
    )


def _up(litres: float) -> str:
    """Litres rounded up: what is followed to the letter must be enough."""
    return format_number(math.ceil(1000.0 * litres - 1e-6) / 1000.0, digits=None)


def _capacity(pair: Pair, plan: EtchPlan) -> Iterator[Finding]:
    pour, metal = plan.pour, pair.material.name
    usual = amounts.capacity_g_per_l(pair, plan.strength.g_per_l)
    if pour.end_g_per_l > pour.limit_g_per_l * (1.0 + 1e-9):
        held = f"holds {pour.start_g_per_l:.3g} g/L of {metal} already and " * bool(
            pour.start_g_per_l
        )
        yield Finding.stop(
            "bath-spent",
            f"the bath {held}would end at {pour.end_g_per_l:.3g} g/L of {metal}; it is "
            f"finished at {format_number(pour.limit_g_per_l, digits=3)} g/L",
            remedy="Mix a fresh bath, or a larger one; the spent one goes to its waste.",
        )
        return
    is_weak = pair.capacity_share is None and usual < pair.capacity_g_per_l.value
    if is_weak:
        yield Finding.caution(
            "weak-bath",
            f"a bath of {plan.strength.as_given} is planned for only {usual:.3g} g/L of "
            f"{metal}; the usual {pair.capacity_g_per_l.value:g} g/L is for stronger baths",
            remedy="Mix a stronger bath, or keep to the planned amount and use it only once.",
        )
    if pour.end_g_per_l > 0.8 * usual:
        is_past = pour.end_g_per_l > usual * (1.0 + 1e-9)
        yield Finding(
            code="bath-used-up",
            level=Level.CAUTION if is_past else Level.NOTE,
            message=(
                f"this job brings the bath to {pour.end_g_per_l:.3g} g/L of {metal}, "
                f"{'past' if is_past else 'near'} the {usual:.3g} g/L it is planned for"
            ),
            remedy="Do not use this bath for another job.",
        )


def _batches(plan: EtchPlan) -> Iterator[Finding]:
    """A note where the last batch takes noticeably longer than the first."""
    times = [batch.time_s for batch in plan.batches]
    first, last = times[0], times[-1]
    if len(times) < 2 or first is None or last is None or last < 1.03 * first:
        return
    yield Finding.note(
        "batches-slow",
        f"{len(times)} batches one after another age the bath: the first takes "
        f"{first / 60.0:.3g} min, the last {last / 60.0:.3g} min",
        remedy="Give each batch its own time, and gauge the depth of each.",
    )


def _mixing(pair: Pair, plan: EtchPlan) -> Iterator[Finding]:
    hottest = plan.mixing.hottest_degc
    if plan.pour.start_g_per_l > 0.0 or hottest is None or hottest <= _HOT_MIX_DEGC:
        return
    yield Finding.caution(
        "mixing-hot",
        f"{format_number(plan.reagent_fill_g, digits=4)} g of {pair.etchant.reagent} bring "
        f"{plan.water_fill_l:.3g} L of water from 20 to {hottest:.0f} degC if added at once",
        remedy=(
            f"Add it in {plan.mixing.portions} portions or more, stirred, into cold water; "
            "wait after each until the vessel has cooled. Never water onto it."
        ),
    )


def gas_findings(pair: Pair, plan: EtchPlan) -> tuple[Finding, ...]:
    """The gas that is given off, its flow and the air against it."""
    if not pair.gas or plan.gas_l <= 0.0:
        return ()
    flow, wet = plan.flow, plan.wet_ratio
    message = (
        f"the etch gives off up to {plan.gas_wet_l:.3g} L of {pair.gas}, wet as it leaves the "
        f"bath, {format_number(wet * flow.mean_ml_per_min, digits=3)} mL/min on average and up to "
        f"{format_number(wet * flow.peak_ml_per_min, digits=3)} mL/min at its peak"
    )
    remedy = "Open tray, never a lid; extraction or outdoors; no flame, spark or thinner near it."
    if flow.air_l_per_min is not None and flow.ventilation_l_per_min is not None:
        remedy += (
            f" Move at least {format_least(flow.ventilation_l_per_min, digits=3)} L/min of air: "
            f"{_times(flow.safety_factor)} times what would keep the mean flow at a quarter of its "
            "lower flammable limit if all were mixed, for peaks and poor mixing."
        )
    return (Finding.caution("gas", message, remedy),)


def _times(factor: float) -> str:
    return "ten" if abs(factor - 10.0) < 0.05 else f"{format_number(factor, digits=3)}"


def tray_findings(fit: TrayFit, blank_size_mm: tuple[float, float]) -> tuple[Finding, ...]:
    """Whether the pieces lie in the named tray."""
    tray = f"a {'vessel' if fit.hangs else 'tray'} of {fit.tray_mm[0]:g} x {fit.tray_mm[1]:g} mm"
    piece = f"{blank_size_mm[0]:g} x {blank_size_mm[1]:g} mm"
    how = "hang, with room before and behind," if fit.hangs else "lie flat"
    if fit.most == 0 or fit.at_once > fit.most:
        what = f"{fit.at_once} pieces" if fit.at_once > 1 else "a piece"
        lay = f"put at most {fit.most} in it, or " if fit.most else ""
        return (
            Finding.stop(
                "tray-small",
                f"{what} of {piece} cannot {how} in {tray}",
                remedy=f"{lay}use a larger tray.".capitalize(),
            ),
        )
    if fit.at_once > fit.fits:
        return (
            Finding.caution(
                "tray-tight",
                f"in {tray} the {counted(fit.at_once, 'piece')} of {piece} have less than "
                f"{GAP_MM:g} mm "
                "round them: bath and bubbles move badly there",
                remedy="Use a larger tray, or lay fewer pieces into it.",
            ),
        )
    return ()


def proposed_tray(fit: TrayFit, pieces: int) -> tuple[Finding, ...]:
    """Say which tray was taken where nobody named one."""
    all_of_them = fit.at_once >= pieces
    what = f"all {pieces} pieces lie" if all_of_them else f"{fit.at_once} of {pieces} pieces lie"
    size = "smallest usual one that takes them" if all_of_them else "usual one that takes most"
    return (
        Finding.note(
            "tray-proposed",
            f"no tray is named: {what} in one of {fit.tray_mm[0]:g} x {fit.tray_mm[1]:g} mm, "
            f"the {size}, {GAP_MM:g} mm apart",
            remedy="Name your own as bath.tray; bath and batches follow it.",
        ),
    )


def floor_findings(
    *, depth_mm: float, thickness_mm: float | None, is_filled: bool
) -> tuple[Finding, ...]:
    """Whether the floor that is left is sound, and whether the recess holds paint."""
    found = []
    if thickness_mm is not None and _FLOOR_SHARE * thickness_mm < depth_mm < thickness_mm:
        found.append(
            Finding.caution(
                "thin-floor",
                f"only {thickness_mm - depth_mm:.3g} mm of the blank's {thickness_mm:g} mm is "
                f"left under a recess {depth_mm:g} mm deep",
                remedy=(
                    f"Etch to {_FLOOR_SHARE * thickness_mm:.3g} mm or less, or use a thicker blank."
                ),
            )
        )
    low, high = FILLED_DEPTH_MM
    if is_filled and depth_mm < low:
        found.append(
            Finding.note(
                "shallow-fill",
                f"a recess {depth_mm:g} mm deep is shallower than the {low:g} to {high:g} mm "
                "that makers of filled plates etch: the paint may be rubbed out in levelling",
                remedy=f"Etch to {low:g} mm or more if the resist lasts, or level by wiping only.",
            )
        )
    return tuple(found)
