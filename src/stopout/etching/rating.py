"""The rate that a plan uses: given, from the table, of a used bath, or of a current."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from stopout.errors import PlanError
from stopout.etching.asked import Origin
from stopout.etching.bath.ageing import share_used, strength_order, used_bath_factor
from stopout.etching.bath.electrolytic import Electro
from stopout.etching.bath.strength import BathStrength
from stopout.etching.bath.use import BathUse
from stopout.etching.rates.doubt import rate_findings
from stopout.etching.rates.rate import rate_um_per_min as table_rate
from stopout.etching.records import Pair
from stopout.etching.words import given, rate_stated
from stopout.values import Finding, Grade, Level, Measured, Stated


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedRate:
    """The rate used, however it was come by [um/min]."""

    value: float
    low: float
    high: float
    grade: Grade | None
    stated: Stated
    findings: tuple[Finding, ...] = ()


def used_rate(
    pair: Pair,
    strength: BathStrength,
    *,
    temperature_degc: float,
    agitation: str,
    use: BathUse,
    handed_in: Measured | None,
    origin: Origin,
) -> UsedRate:
    """The rate of a bath.

    Parameters
    ----------
    pair, strength, temperature_degc, agitation : Pair, BathStrength, float, str
        The metal and the bath.
    use : BathUse
        With the metal already dissolved in it; the table's rate is that of a fresh bath.
    handed_in : Measured or None
        A measured rate, which is taken as it is.
    origin : Origin
        Where that one comes from.

    Raises
    ------
    PlanError
        If the rate handed in is not above zero.
    """
    if handed_in is not None:
        if not handed_in.value > 0.0:
            raise PlanError(f"an etch rate of {handed_in.value:g} um/min is not possible")
        return UsedRate(
            value=handed_in.value,
            # A spread wider than the value itself would put the low end below zero.
            low=max(handed_in.value - handed_in.sd, 0.1 * handed_in.value),
            high=handed_in.value + handed_in.sd,
            grade=None,
            stated=given("etch rate", handed_in, "um/min", origin.kind, origin.source),
            findings=rate_findings(
                pair,
                handed_in,
                strength_g_per_l=strength.g_per_l,
                temperature_degc=temperature_degc,
                agitation=agitation,
                is_fresh=use.dissolved_g_per_l <= 0.0,
                where=origin.source,
            ),
        )
    estimate = table_rate(
        pair,
        strength_g_per_l=strength.g_per_l,
        temperature_degc=temperature_degc,
        agitation=agitation,
    )
    refused = any(finding.level is Level.STOP for finding in estimate.findings)
    rate = UsedRate(
        value=estimate.um_per_min,
        low=estimate.low_um_per_min,
        high=estimate.high_um_per_min,
        grade=estimate.grade,
        stated=rate_stated(estimate),
        findings=(*estimate.findings, *(() if refused else _starting_guess(pair, estimate.grade))),
    )
    if refused or use.dissolved_g_per_l <= 0.0:
        return rate
    return _of_used_bath(pair, strength, agitation, use, rate)


def _of_used_bath(
    pair: Pair, strength: BathStrength, agitation: str, use: BathUse, fresh: UsedRate
) -> UsedRate:
    """The rate once some of the reagent is gone, as far as its law is known."""
    gone = share_used(pair, metal_g_per_l=use.dissolved_g_per_l, strength_g_per_l=strength.g_per_l)
    # A bath without reagent left is stopped elsewhere; a rate of nought would make no plan at all.
    gone = min(gone, 0.99)
    order = strength_order(pair, agitation)
    factor = 1.0 if order is None else used_bath_factor(gone, order.value)
    steepest = 1.0 if order is None else max(1.0, order.high or order.value)
    slowest = min(factor, used_bath_factor(gone, steepest))
    value = factor * fresh.value
    ends = fresh.low * slowest, fresh.high * max(factor, 1.0 if order is None else factor)
    text = f"{value:.4g} um/min ({ends[0]:.2g} to {ends[1]:.2g})"
    if order is None:
        how = "not corrected: how this bath slows with use is not known"
        findings = (*fresh.findings, _age_unknown(pair, use))
    else:
        how = f"x {factor:.3g} for the reagent used up, by the power {order.value:g}"
        findings = fresh.findings
    stated = replace(
        fresh.stated,
        value=text,
        kind="computed",
        source=f"{fresh.stated.source}; {use.dissolved_g_per_l:g} g/L dissolved: {how}",
    )
    # Correcting for use is one step farther from what the sources have seen.
    grade: Grade | None = "D" if fresh.grade == "D" else "C"
    return UsedRate(
        value=value,
        low=ends[0],
        high=ends[1],
        grade=grade,
        stated=replace(stated, grade=grade),
        findings=findings,
    )


def _age_unknown(pair: Pair, use: BathUse) -> Finding:
    return Finding.caution(
        "bath-age-unknown",
        f"the table does not say how {pair.etchant.name} slows with {use.dissolved_g_per_l:g} "
        f"g/L of {pair.material.name} in it; the fresh bath's rate is planned with, and the "
        "time may be longer",
        remedy="Etch a coupon in this bath, then give etch.rate as measured.",
    )


def _starting_guess(pair: Pair, grade: Grade | None) -> Iterator[Finding]:
    if grade not in ("C", "D"):
        return
    message = (
        f"the etch rate of {pair.material.name} in {pair.etchant.name} is of grade {grade}: "
        "a starting guess, etch a coupon first"
    )
    remedy = "Etch a coupon of the same metal, coat and bath; then give etch.rate as measured."
    yield Finding.caution("starting-guess", message, remedy)


def current_rate(electro: Electro, *, depth_mm: float) -> UsedRate:
    """The mean rate under a constant current: the depth over the time that the charge takes.

    Lower than Faraday's rate on the open area alone, since the side walls take their share of
    the current.
    """
    time_s = electro.charge_c / electro.current_a
    rate = 60_000.0 * depth_mm / time_s
    share = 1.0 / electro.efficiency.value
    low, high = rate * electro.efficiency_low * share, rate * electro.efficiency_high * share
    grade: Grade | None = "C" if electro.efficiency_high > electro.efficiency_low else None
    findings: tuple[Finding, ...] = ()
    if grade is not None:
        findings = (
            Finding.caution(
                "starting-guess",
                "the efficiency of the current is a starting guess "
                f"({electro.efficiency_low:g} to {electro.efficiency_high:g}): etch a coupon "
                "first",
                remedy=(
                    "Weigh a coupon before and after: efficiency = loss measured / loss by "
                    "Faraday's law; then give etch.efficiency."
                ),
            ),
        )
    return UsedRate(
        value=rate,
        low=low,
        high=high,
        grade=grade,
        stated=Stated(
            name="etch rate",
            value=f"{rate:.4g} um/min ({low:.2g} to {high:.2g})",
            kind="computed",
            source="Faraday's law at the set current, side walls included",
            grade=grade,
        ),
        findings=findings,
    )
