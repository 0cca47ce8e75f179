"""What `stopout bath` prints for people: a table, the formulas, the time that is left."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from stopout.cli.speech.wrapping import wrapped
from stopout.etching.bath.strength import companion_stock_g_per_l
from stopout.etching.safety import aid_strictest, incidents_of, never_mixed, wear_strictest
from stopout.etching.schedule import MEASURE
from stopout.units import format_duration, format_least, format_number, format_roughly

if TYPE_CHECKING:
    from stopout.etching import EtchPlan, Hazard, Pair, Remaining
    from stopout.etching.explain import Explained
    from stopout.values import Finding

_WIDEST = 110
_COLUMN = 26
_DECIDED = {
    "heat": "the heat",
    "capacity": "the dissolved metal",
    "cover": "covering the pieces",
    "volume": "what there is",
}
_MOST_BATCHES = 12


def warning_lines(findings: tuple[Finding, ...], hazards: tuple[Hazard, ...]) -> Iterator[str]:
    """What stops the bath, and what in it bears the word danger: before anything else.

    Parameters
    ----------
    findings : tuple of Finding
        Those of the bath.
    hazards : tuple of Hazard
        Those of bath, gas, metal and neutralisers.
    """
    stops = [finding.message for finding in findings if finding.level == "stop"]
    if stops:
        yield from _hanging("STOP: do not work by these numbers: ", "; ".join(stops) + ".", 6)
    worst = [hazard.name for hazard in hazards if hazard.signal == "Danger"]
    named = f"{', '.join(worst)}. " if worst else ""
    word = "DANGER: " if worst else "CAUTION: "
    yield from _hanging(word, f"{named}Read the hazards before anything is opened or mixed.", 6)


def heading_lines(pair: Pair, etch: EtchPlan) -> Iterator[str]:
    """Metal, bath, depth and pieces in a sentence."""
    pieces = "1 piece" if etch.quantity == 1 else f"{etch.quantity} pieces"
    if etch.use.spares:
        pieces += f" and {etch.use.spares} spare"
    yield from _wrapped(
        f"{pair.material.name} in {pair.etchant.name}, {etch.strength.as_given}, "
        f"{etch.temperature_degc:g} degC: {format_number(etch.depth_mm)} mm deep, {pieces}"
    )


def bath_lines(pair: Pair, etch: EtchPlan) -> Iterator[str]:
    """The etch and its bath as a table in words."""
    for title, rows in (
        ("Etch", _etch(etch)),
        ("Current", _current(etch)),
        ("Bath", _bath(pair, etch)),
        ("Gas and heat", _gas(pair, etch)),
        ("Checks", _checks(etch)),
        ("Batches", _batches(etch)),
        ("Waste", _waste(pair, etch)),
    ):
        found = list(rows)
        if found:
            yield ""
            yield title
        for name, value in found:
            yield from _row(name, value)


def _etch(etch: EtchPlan) -> Iterator[tuple[str, str]]:
    grade = etch.rate_grade
    guess = " a starting guess, etch the coupon first" if grade in ("C", "D") else ""
    graded = f"; grade {grade}:{guess}" if guess else (f"; grade {grade}" if grade else "")
    rate = f"{_n(etch.rate_um_per_min)} um/min"
    if etch.rate_high_um_per_min > etch.rate_low_um_per_min:
        rate += f" ({_n(etch.rate_low_um_per_min, 2)} to {_n(etch.rate_high_um_per_min, 2)})"
    yield "rate", rate + graded
    time = format_duration(etch.time_s)
    if etch.time_high_s > etch.time_low_s:
        time += f" ({format_roughly(etch.time_low_s)} to {format_roughly(etch.longest_s)})"
    yield "time", time
    if etch.time_ageing_s is not None and etch.electro is None:
        yield "with the bath ageing", format_duration(etch.time_ageing_s)
    factor = f"etch factor {_n(etch.etch_factor.value)}"
    yield "undercut", f"{1000 * etch.undercut_mm:.0f} um per edge ({factor})"
    yield "weight lost, a piece", f"{_n(etch.metal_per_piece_g)} g: weigh before and after"
    yield "metal, all that goes in", f"{_n(etch.pour.metal_g)} g"


def _current(etch: EtchPlan) -> Iterator[tuple[str, str]]:
    electro = etch.electro
    if electro is None:
        return
    together = "1 piece" if etch.pour.at_once == 1 else f"{etch.pour.at_once} pieces together"
    yield (
        "current",
        f"{_n(electro.current_a)} A constant, {together} "
        f"({_n(electro.density_a_per_cm2)} A/cm2 on the open metal)",
    )
    yield (
        "voltage",
        f"below {_n(electro.voltage_high_v)} V: from there on paint lifts; the less the better",
    )
    yield (
        "charge",
        f"{_n(electro.charge_ah)} Ah at {_n(electro.valence)} electrons an atom, efficiency "
        f"{_n(electro.efficiency.value)} ({_n(electro.efficiency_low)} to "
        f"{_n(electro.efficiency_high)})",
    )
    yield (
        "supply",
        f"{format_least(electro.supply_a)} A at up to {format_least(electro.supply_v)} V",
    )


def _bath(pair: Pair, etch: EtchPlan) -> Iterator[tuple[str, str]]:
    pour, mixing = etch.pour, etch.mixing
    yield "pour", f"{_n(etch.bath_fill_l)} L, decided by {_DECIDED[pour.decided_by]}"
    asked = f"heat {_n(pour.heat_l)} L, dissolved metal {_n(pour.capacity_l)} L"
    if pour.cover_l > 0.0:
        sides = f"{pour.tray_mm[0]:g} x {pour.tray_mm[1]:g} mm"
        asked += f", covering in a tray of {sides} {_n(pour.cover_l)} L"
    yield "asked for by", asked
    if pour.start_g_per_l > 0.0:
        yield (
            "use",
            f"the used bath as it is; what is missing is topped up with fresh bath of "
            f"{etch.strength.as_given}",
        )
    elif mixing.stock_l is not None and mixing.stock_water_l is not None:
        assert etch.use.stock is not None
        yield from _companions(pair, etch)
        yield (
            "then mix" if pair.etchant.companions else "mix",
            f"{_n(mixing.stock_l)} L of stock ({etch.use.stock.as_given}) INTO "
            f"{_n(mixing.stock_water_l)} L of cold water, slowly, stirred",
        )
    elif pair.etchant.ready_made:
        yield "solution", f"{_n(etch.bath_fill_l)} L of {etch.strength.deg_baume:.1f} degBe"
    else:
        yield from _companions(pair, etch)
        yield (
            "then mix" if pair.etchant.companions else "mix",
            f"{_n(etch.reagent_fill_g)} g of {pair.etchant.reagent} INTO "
            f"{_n(etch.water_fill_l)} L of cold water, slowly, stirred"
            + ("; never water onto it" if pair.etchant.solution_kj_per_g else ""),
        )
    is_fresh = pour.start_g_per_l <= 0.0
    if is_fresh and mixing.portions is not None and etch.mixing_rise_k is not None:
        yield (
            "mixing warms it",
            f"by {etch.mixing_rise_k:.0f} K: {mixing.portions} portions, let it cool between",
        )
    yield (
        "the etch warms it",
        f"by {_n(pour.rise_k, 2)} K a batch, no heat lost; {etch.rise_k:g} K allowed",
    )
    yield (
        "dissolved metal",
        f"from {_n(pour.start_g_per_l)} to {_n(pour.end_g_per_l)} g/L; finished at "
        f"{_n(pour.limit_g_per_l)} g/L",
    )
    if etch.reagent_g > 0.0:
        yield "used up", f"{_n(etch.reagent_g)} g of {pair.etchant.reagent} for the pieces ordered"


def _companions(pair: Pair, etch: EtchPlan) -> Iterator[tuple[str, str]]:
    """What goes into the water before the reagent, so that acid meets only water."""
    for companion in pair.etchant.companions:
        grams = companion_stock_g_per_l(companion, etch.strength.g_per_l) * etch.bath_fill_l
        how = ", stirred" if companion.stock_fraction is None else ", slowly, extracted; it fumes"
        yield "mix first", f"{_n(grams)} g of {companion.name} INTO the cold water{how}"


def _gas(pair: Pair, etch: EtchPlan) -> Iterator[tuple[str, str]]:
    flow, wet = etch.flow, etch.wet_ratio
    if etch.gas_l > 0.0 and pair.gas:
        yield (
            pair.gas,
            f"{_n(etch.gas_wet_l)} L wet at {etch.temperature_degc:g} degC ({_n(etch.gas_l)} L dry "
            f"at 25 degC); {_n(wet * flow.mean_ml_per_min)} mL/min on average, up to "
            f"{_n(wet * flow.peak_ml_per_min)} mL/min",
        )
    if flow.air_l_per_min is not None and flow.ventilation_l_per_min is not None:
        yield (
            "ventilation",
            f"{format_least(flow.ventilation_l_per_min)} L/min: {_n(flow.air_l_per_min)} L/min for "
            f"a quarter of the lower flammable limit x safety factor {_n(flow.safety_factor)}",
        )
    if etch.electro is not None and etch.electro.chlorine_air_l_per_min is not None:
        yield (
            "and for chlorine",
            f"{format_least(etch.electro.chlorine_air_l_per_min)} L/min if some of the current "
            "makes it: outdoors, or extraction at the rim",
        )
    yield "heat", f"{_n(etch.heat_kj)} kJ"


def _checks(etch: EtchPlan) -> Iterator[tuple[str, str]]:
    for check in etch.schedule:
        depth = f"{1000 * check.depth_mm:.0f} um"
        if check.depth_high_mm > check.depth_low_mm:
            low, high = 1000 * check.depth_low_mm, 1000 * check.depth_high_mm
            depth += f" ({low:.0f} to {high:.0f})"
        text = f"{format_duration(check.time_s)}; expect {depth}"
        if check.what == "look" and etch.time_low_s < MEASURE * etch.time_s:
            text += "; measure too: the fast end may be through before 80 %"
        yield f"{check.what} at {100 * check.share:.0f} %", text


def _batches(etch: EtchPlan) -> Iterator[tuple[str, str]]:
    if len(etch.batches) < 2:
        return
    shown = etch.batches
    if len(shown) > _MOST_BATCHES:
        shown = (*shown[: _MOST_BATCHES - 1], shown[-1])
    for batch in shown:
        pieces = "1 piece" if batch.pieces == 1 else f"{batch.pieces} pieces"
        time = "the bath is used up" if batch.time_s is None else format_duration(batch.time_s)
        yield f"{batch.number}", f"{pieces}, {time}; ends at {_n(batch.end_g_per_l)} g/L"


def _waste(pair: Pair, etch: EtchPlan) -> Iterator[tuple[str, str]]:
    for way in etch.neutralising:
        sold = (
            "" if way.stock_ml is None else f" ({_n(way.stock_ml)} mL of {way.stock_percent:g} %)"
        )
        gas = f", {_n(way.gas_l)} L of gas" if way.gas_l else ""
        yield (
            "made neutral by one of",
            f"{_n(way.amount_g)} g {way.name}{sold} in {way.portions} portions, the bath first "
            f"into {_n(way.water_l)} L of water, vessel {_n(way.vessel_l)} L{gas}, to pH "
            f"{way.end_ph}",
        )
    for turned_down in etch.declined:
        yield f"not by {turned_down.name}", turned_down.reason
    if etch.sludge_g is not None:
        yield "sludge", f"{_n(etch.sludge_g)} g dry; as gel five to ten times that"
    yield "where it goes", "local code and a licensed waste carrier decide; never down the drain"


def hazard_lines(pair: Pair, hazards: tuple[Hazard, ...]) -> Iterator[str]:
    """What can hurt, what to wear, and what to heed at the bath.

    Parameters
    ----------
    pair : Pair
        The metal in its bath.
    hazards : tuple of Hazard
        Those of bath, gas, metal and neutralisers.
    """
    yield "Hazards"
    for hazard in hazards:
        word = f" ({hazard.signal})" if hazard.signal else ""
        cautions = " ".join(line.text for line in hazard.cautions)
        yield from _hanging("  ", f"{hazard.name}{word}: {cautions}", 4)
    wear = "; ".join(item.advice.text for item in wear_strictest(hazards))
    yield from _hanging("  wear: ", f"{wear}.", 4)
    for line in never_mixed(hazards):
        yield from _hanging("  never: ", line.text, 4)
    yield "First aid, the strictest of these; the sheet has all, and spills"
    for aid in aid_strictest(hazards):
        yield from _hanging(f"  {aid.route}: ", aid.aid.advice.text, 4)
    yield "If it goes wrong"
    for incident in incidents_of(hazards):
        steps = " ".join(line.text for line in incident.steps)
        yield from _hanging("  ", f"{incident.title}: {steps}", 4)
    yield "Mixing, etching, waste"
    lines = (*pair.etchant.mixing, *pair.advice, *pair.waste, *pair.etchant.waste)
    for line in lines:
        yield from _hanging("  - ", line.text, 4)
    yield from _wrapped(
        "The supplier's safety data sheet, local codes and licensed practice come before all this."
    )


def explained_lines(explained: tuple[Explained, ...]) -> Iterator[str]:
    """Each formula, and under it the same with its numbers."""
    yield "Formulas"
    for item in explained:
        yield from _hanging(f"  {item.what} = ", item.formula, 6)
        yield from _hanging("      = ", f"{item.numbers} = {item.result}", 8)


def remaining_lines(left: Remaining, depth_mm: float) -> Iterator[str]:
    """The corrected time."""
    low, high = left.remaining_low_s, left.remaining_high_s
    ends = f" ({format_duration(low)} to {format_duration(high)})" if high > low else ""
    if left.remaining_s <= 0.0:
        yield from _wrapped(
            f"So far {_n(left.rate_um_per_min)} um/min: {format_number(depth_mm)} mm are reached. "
            "Lift the piece out."
        )
        return
    yield from _wrapped(
        f"So far {_n(left.rate_um_per_min)} um/min. Time left to {format_number(depth_mm)} mm: "
        f"{format_duration(left.remaining_s)}{ends}, {format_duration(left.total_s)} in all. "
        "Measure again before it is up."
    )


def loss_lines(loss_g: float, depth_mm: float, wanted_mm: float) -> Iterator[str]:
    """The mean depth that a loss of weight means."""
    yield from _wrapped(
        f"A loss of {_n(loss_g)} g a piece is a mean depth of {1000 * depth_mm:.0f} um; "
        f"{1000 * wanted_mm:.0f} um are wanted."
    )


def _row(name: str, value: str) -> list[str]:
    return _hanging(f"  {name}".ljust(_COLUMN) + "  ", value, _COLUMN + 2)


def _hanging(start: str, text: str, indent: int) -> list[str]:
    return wrapped(text, widest=_WIDEST, start=start, indent=indent)


def _wrapped(words: str) -> list[str]:
    return wrapped(words, widest=_WIDEST)


def _n(value: float, digits: int = 3) -> str:
    return format_number(value, digits=digits)
