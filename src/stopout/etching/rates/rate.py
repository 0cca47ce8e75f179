"""Etch rate: from a stated reference, by Arrhenius, within the stated range only."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from stopout.etching.records import Pair, RateReference
from stopout.units import format_number
from stopout.values import Finding, Grade, Kind

# CODATA 2018, exact since the 2019 revision of the SI.
GAS_CONSTANT_J_PER_MOL_K = 8.31446261815324
_ZERO_DEGC_K = 273.15
# How near the reference point the reference's own grade still holds.
_SAME_KELVIN = 5.0
_SAME_STRENGTH = 0.10
# A strength that differs by no more than this is the same to any hydrometer.
_READING = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class RateEstimate:
    """A rate from the tables: its value and range, grade and source, and what is to be said.

    Where a finding says stop, the value is the one at the nearest end of the stated range, never
    one beyond it.
    """

    um_per_min: float
    low_um_per_min: float
    high_um_per_min: float
    kind: Kind
    grade: Grade | None
    source: str
    findings: tuple[Finding, ...] = ()


def rate_um_per_min(
    pair: Pair, *, strength_g_per_l: float, temperature_degc: float, agitation: str = "tray"
) -> RateEstimate:
    """Etch rate of a metal in a bath, from the table's reference for this agitation.

    Parameters
    ----------
    pair : Pair
        The metal and the etchant.
    strength_g_per_l : float
        Strength of the bath [g/L].
    temperature_degc : float
        Temperature of the bath [degC].
    agitation : str
        `tray`, `rocked`, `bubbled`, `spray`. Where the table has no rate for it, the tray's is
        used, or else the first there is, and a finding says so.

    Returns
    -------
    RateEstimate
        With a stop among its findings where temperature or strength is outside the stated range.

    Notes
    -----
    r = r_ref exp(-(Ea/R)(1/T - 1/T_ref)) (c/c_ref)^n, T in K. The range of the result spans
    the ranges of r_ref, Ea and n. S. Arrhenius's law; sources of r_ref, Ea and n with each value.
    """
    reference, findings = _reference_for(pair, agitation)
    temperature, strength, outside = _into_range(
        pair, reference, temperature_degc, strength_g_per_l
    )
    factors = _temperature_factors(reference, temperature)
    least, by_strength, most = _strength_factors(reference, strength)
    base = reference.um_per_min
    low, high = base.low or base.value, base.high or base.value
    return RateEstimate(
        um_per_min=base.value * factors[1] * by_strength,
        low_um_per_min=low * factors[0] * least,
        high_um_per_min=high * factors[2] * most,
        kind=base.kind if _is_at_reference(reference, temperature, strength) else "computed",
        grade=_grade(reference, temperature, strength),
        source=_source(reference, temperature, strength),
        findings=(*findings, *outside),
    )


def arrhenius_ratio(activation_kj_per_mol: float, from_degc: float, to_degc: float) -> float:
    """By how much a rate grows from one temperature to another (Arrhenius)."""
    inverse_k = 1.0 / (to_degc + _ZERO_DEGC_K) - 1.0 / (from_degc + _ZERO_DEGC_K)
    return math.exp(-1000.0 * activation_kj_per_mol / GAS_CONSTANT_J_PER_MOL_K * inverse_k)


def _reference_for(pair: Pair, agitation: str) -> tuple[RateReference, tuple[Finding, ...]]:
    for reference in pair.rates:
        if agitation in reference.agitation:
            return reference, ()
    used = next((r for r in pair.rates if "tray" in r.agitation), pair.rates[0])
    # The quieter bath etches more slowly; which one is quieter decides what is to be expected.
    is_quieter = agitation == "tray" or (agitation == "rocked" and "tray" not in used.agitation)
    named = (
        "the still tray's" if "tray" in used.agitation else f"that of a {used.agitation[0]} bath"
    )
    message = (
        f"the table has no rate for {pair.material.name} in {pair.etchant.name} with "
        f"{agitation} agitation; {named} is used, and the real etch is likely "
        f"{'slower' if is_quieter else 'faster'}"
    )
    finding = Finding.caution(
        "agitation-unknown",
        message,
        remedy="Look at a coupon early and often; then give etch.rate as measured.",
    )
    return used, (finding,)


def _into_range(
    pair: Pair, reference: RateReference, temperature_degc: float, strength_g_per_l: float
) -> tuple[float, float, tuple[Finding, ...]]:
    """Temperature and strength held to the stated range, with a stop for what was outside it."""
    strongest = pair.ceilings.strength_g_per_l
    kinds = (
        (
            "temperature",
            temperature_degc,
            reference.temperature_range_degc,
            "degC",
            pair.ceilings.temperature_degc.value,
        ),
        (
            "strength",
            strength_g_per_l,
            reference.strength_range_g_per_l,
            "g/L",
            math.inf if strongest is None else strongest.value,
        ),
    )
    held, findings = [], []
    for name, value, (low, high), unit, ceiling in kinds:
        held.append(min(max(value, low), high))
        # A strength given in degrees or per cent need not hit the end of a range to the digit.
        if low * (1.0 - 1e-3) <= value <= high * (1.0 + 1e-3):
            continue
        findings.append(
            Finding.stop(
                f"rate-{name}-out-of-range",
                f"no etch rate is known for {pair.material.name} in {pair.etchant.name} at "
                f"{value:.4g} {unit}; the sources cover {low:.4g} to {high:.4g} {unit}",
                remedy=_range_remedy(value < low, low, min(high, ceiling), unit),
            )
        )
    return held[0], held[1], tuple(findings)


def _range_remedy(is_below: bool, low: float, high: float, unit: str) -> str:
    remedy = f"Use a bath of {low:.4g} to {high:.4g} {unit}"
    if is_below:
        return f"{remedy}, or measure a coupon in this bath and give etch.rate."
    # Nobody is sent to try out a hotter or stronger bath than the sources have seen.
    return f"{remedy}; a hotter or stronger one than that may run away."


def _temperature_factors(
    reference: RateReference, temperature_degc: float
) -> tuple[float, float, float]:
    """Least, planned and largest factor from the reference temperature to this one."""
    start = reference.temperature_degc
    if reference.points:
        factor = _between_points(reference.points, temperature_degc) / _between_points(
            reference.points, start
        )
        return factor, factor, factor
    energy = reference.activation_kj_per_mol
    if energy is None:
        return 1.0, 1.0, 1.0
    # `or` would take an energy of 0 for a missing one; 0 is a legitimate low end.
    ends = [energy.value if end is None else end for end in (energy.low, energy.high)]
    planned = arrhenius_ratio(energy.value, start, temperature_degc)
    spread = [arrhenius_ratio(end, start, temperature_degc) for end in ends]
    return min(*spread, planned), planned, max(*spread, planned)


def _strength_factors(
    reference: RateReference, strength_g_per_l: float
) -> tuple[float, float, float]:
    """Least, planned and largest factor from the reference strength to this one."""
    order = reference.strength_order
    if order is None:
        return 1.0, 1.0, 1.0
    ratio = strength_g_per_l / reference.strength_g_per_l
    ends = [order.value if end is None else end for end in (order.low, order.high)]
    planned = ratio**order.value
    spread = [ratio**end for end in ends]
    return min(*spread, planned), planned, max(*spread, planned)


def _between_points(points: tuple[tuple[float, float], ...], temperature_degc: float) -> float:
    """A straight line in ln(value) against 1/T between the neighbouring points."""
    pairs = tuple(pairwise(points))
    (t0, v0), (t1, v1) = next((p for p in pairs if temperature_degc <= p[1][0]), pairs[-1])
    share = (1.0 / (temperature_degc + _ZERO_DEGC_K) - 1.0 / (t0 + _ZERO_DEGC_K)) / (
        1.0 / (t1 + _ZERO_DEGC_K) - 1.0 / (t0 + _ZERO_DEGC_K)
    )
    return v0 * math.exp(share * math.log(v1 / v0))


def _is_at_reference(reference: RateReference, temperature: float, strength: float) -> bool:
    near_temperature = abs(temperature - reference.temperature_degc) <= _SAME_KELVIN
    near_strength = abs(strength / reference.strength_g_per_l - 1.0) <= _SAME_STRENGTH
    return near_temperature and near_strength


def _grade(reference: RateReference, temperature: float, strength: float) -> Grade | None:
    if _is_at_reference(reference, temperature, strength):
        return reference.um_per_min.grade
    return reference.scaled_grade


def _source(reference: RateReference, temperature: float, strength: float) -> str:
    base = reference.um_per_min
    text = (
        f"{format_number(base.value, digits=4)} um/min at {reference.temperature_degc:g} degC and "
        f"{format_number(reference.strength_g_per_l, digits=4)} g/L: {base.source_and_note}"
    )
    energy, order = reference.activation_kj_per_mol, reference.strength_order
    if abs(temperature - reference.temperature_degc) <= 1e-9 or reference.points:
        pass
    elif energy is None:
        text += f"; used at {temperature:g} degC as it stands, no dependence on it being known"
    else:
        text += f"; to {temperature:g} degC with {energy.value:g} kJ/mol: {energy.source_and_note}"
    if abs(strength / reference.strength_g_per_l - 1.0) <= 1e-9:
        return text
    if order is None and abs(strength / reference.strength_g_per_l - 1.0) <= _READING:
        return text
    if order is None:
        text += f"; used at {strength:.4g} g/L as it stands, no dependence on it being known"
    else:
        text += f"; to {strength:.4g} g/L by the power {order.value:g}: {order.source_and_note}"
    return text
