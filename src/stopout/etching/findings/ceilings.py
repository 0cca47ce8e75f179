"""Ceilings: what a bath must never be, whoever measured what, and what a bench cannot hold."""

from __future__ import annotations

import math
from collections.abc import Iterator

from stopout.etching.records import Ceilings, Pair, Sourced
from stopout.etching.result import EtchPlan
from stopout.units import format_number, format_rounded
from stopout.values import Finding

# How the codes of these findings begin. Of a bath that breaks one, nothing may read as a recipe.
CEILING = "ceiling-"
# How much a bath may warm where nothing is said. Our own rule.
DEFAULT_RISE_K = 10.0
# A rise that is left out is made smaller to stay below the ceiling, but not to nothing: a bath
# that may warm by less is a bath that starts too warm. Our own rule.
_LEAST_RISE_K = 3.0
_WATER_BOILS_DEGC = 100.0
_SLACK = 1.0 + 1e-9
_LICENSED = "on an industrial line, under licensed practice; this is not work for a bench"


def planned_rise_k(
    rise_k: float | None,
    ceilings: Ceilings,
    temperature_degc: float,
    stands_degc: float | None = None,
) -> float:
    """The rise that a bath may take [K]: as given, else 10 K or what ceiling and resist leave.

    Parameters
    ----------
    rise_k : float or None
        As the job says; None where it says nothing.
    ceilings : Ceilings
        Of the pair.
    temperature_degc : float
        Of the bath when the piece goes in.
    stands_degc : float or None
        The warmest bath that the resist stands, where that is known.
    """
    if rise_k is not None:
        return rise_k
    least = min(DEFAULT_RISE_K, ceilings.rise_k.value)
    for warmest in (_warmest_degc(ceilings), stands_degc):
        room = math.inf if warmest is None else warmest - temperature_degc
        least = min(least, room) if room >= _LEAST_RISE_K else least
    return least


def ceiling_findings(pair: Pair, plan: EtchPlan) -> tuple[Finding, ...]:
    """Stops where the bath is stronger, warmer or larger than any number may make it."""
    return (
        *_strength(pair, plan),
        *_temperature(pair, plan),
        *_warmest(pair, plan),
        *_rise(pair, plan),
        *_bench(pair, plan),
    )


def _warmest_degc(ceilings: Ceilings) -> float:
    """The pair's own ceiling, never nearer to boiling than a bench keeps."""
    return min(ceilings.warmest_degc.value, _WATER_BOILS_DEGC - ceilings.bench.boiling_room_k.value)


def _strength(pair: Pair, plan: EtchPlan) -> Iterator[Finding]:
    most = pair.ceilings.strength_g_per_l
    if most is None or plan.strength.g_per_l <= most.value * _SLACK:
        return
    held = f"{plan.strength.as_given} ({plan.strength.g_per_l:.0f} g/L)"
    if plan.strength.as_given.endswith("g/L"):
        held = plan.strength.as_given
    yield _stop(
        "strength",
        f"{_bath(pair)} at {held} is stronger than its ceiling of {most.value:g} g/L, which "
        f"no measured rate lifts: {_why(most)}",
        f"Mix a bath of {_down(most.value)} g/L or less.",
    )


def _temperature(pair: Pair, plan: EtchPlan) -> Iterator[Finding]:
    most = pair.ceilings.temperature_degc
    if plan.temperature_degc <= most.value * _SLACK:
        return
    yield _stop(
        "temperature",
        f"{_bath(pair)} at {plan.temperature_degc:g} degC is warmer than its ceiling of "
        f"{most.value:g} degC, which no measured rate lifts: {_why(most)}",
        f"Etch at {most.value:g} degC or cooler: slower, but it does not run away.",
    )


def _warmest(pair: Pair, plan: EtchPlan) -> Iterator[Finding]:
    most, warmest = _warmest_degc(pair.ceilings), plan.temperature_degc + plan.rise_k
    if warmest <= most * _SLACK:
        return
    room = math.floor(most - plan.temperature_degc + 1e-9)
    remedy = f"Allow a rise of {room:g} K or less, or start cooler."
    if room < 1.0:
        least = min(DEFAULT_RISE_K, pair.ceilings.rise_k.value)
        remedy = f"Start at {most - least:g} degC or cooler."
    yield _stop(
        "warmest",
        f"{_bath(pair)} may warm from {plan.temperature_degc:g} to {warmest:g} degC; it must "
        f"never pass {most:g} degC: {_why(pair.ceilings.warmest_degc)}",
        remedy,
    )


def _rise(pair: Pair, plan: EtchPlan) -> Iterator[Finding]:
    most = pair.ceilings.rise_k
    if plan.rise_k <= most.value * _SLACK:
        return
    if plan.use.is_cooled:
        yield Finding.caution(
            "cooled-bath",
            f"a rise of {plan.rise_k:g} K is for a bath that is cooled: if the cooling "
            "stops, the etch grows faster as it warms",
            remedy=(
                "A cold water bath round the tray and the thermometer in the bath, before the "
                f"piece goes in; lift the piece out at "
                f"{plan.temperature_degc + plan.rise_k:g} degC or when the cooling stops."
            ),
        )
        return
    yield _stop(
        "rise",
        f"a rise of {plan.rise_k:g} K is more than the {most.value:g} K that a bath without "
        f"cooling may take: {_why(most)}",
        f"Allow {most.value:g} K or less in a larger bath, or cool the vessel and say so "
        "(bath.cooled = true, --cooled).",
    )


def _bench(pair: Pair, plan: EtchPlan) -> Iterator[Finding]:
    """Litres, burnable gas, heat and amperes of what is done at once."""
    bench = pair.ceilings.bench
    if plan.bath_fill_l > bench.volume_l.value * _SLACK:
        yield _too_much("volume", "bath", plan.bath_fill_l, "L", bench.volume_l)
    gas = 1e-3 * plan.flow.peak_ml_per_min
    most = bench.flammable_gas_l_per_min
    if plan.flow.air_l_per_min is not None and gas > most.value * _SLACK:
        yield _too_much("gas", f"{pair.gas} at its peak", gas, "L/min", most)
    if plan.heat_kj_per_min > bench.heat_kj_per_min.value * _SLACK:
        heat = plan.heat_kj_per_min
        yield _too_much("heat", "heat", heat, "kJ/min", bench.heat_kj_per_min)
    electro = plan.electro
    if electro is not None and electro.current_a > bench.current_a.value * _SLACK:
        yield _too_much("current", "current", electro.current_a, "A", bench.current_a)


def _too_much(what: str, name: str, value: float, unit: str, most: Sourced) -> Finding:
    share = most.value / value
    return _stop(
        what,
        f"{name}: {format_rounded(value)} {unit}, past the {most.value:g} {unit} "
        f"that a bench may do at once: {_why(most)}",
        f"Etch {_share(share)} of this open area at once or less, or have it done {_LICENSED}.",
    )


def _share(share: float) -> str:
    """A share in words that never says more than it is."""
    percent = math.floor(100.0 * share)
    return f"{percent} %" if percent >= 1 else "a hundredth"


def _stop(what: str, message: str, remedy: str) -> Finding:
    return Finding.stop(CEILING + what, message, remedy)


def _bath(pair: Pair) -> str:
    return f"{pair.material.name} in {pair.etchant.name}"


def _why(value: Sourced) -> str:
    """Whose ceiling it is; the tables have the source and the reason."""
    return "a published range ends there" if value.kind == "published" else "our own rule"


def _down(value: float) -> str:
    return format_number(math.floor(value + 1e-9))
