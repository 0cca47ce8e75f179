"""The etch of a job: its rate, time and amounts, each stated with its source."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from stopout.errors import PlanError
from stopout.etching import amounts
from stopout.etching.checks import check_pair_use
from stopout.etching.rate import rate_um_per_min as table_rate
from stopout.etching.records import Pair
from stopout.etching.result import EtchPlan, Origin
from stopout.etching.strength import BathStrength, mixing_rise_k, water_density_g_per_ml
from stopout.etching.words import (
    bath_findings,
    etch_factor_stated,
    gas_findings,
    given,
    rate_stated,
    stated_values,
)
from stopout.values import Finding, Grade, Level, Measured, Stated

__all__ = ["plan_etch", "table_etch_factor"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rate:
    """The rate used, however it was come by."""

    value: float
    low: float
    high: float
    grade: Grade | None
    stated: Stated
    findings: tuple[Finding, ...] = ()


def plan_etch(
    pair: Pair,
    *,
    strength: BathStrength,
    temperature_degc: float,
    depth_mm: float,
    etch_factor: Measured | None,
    rate_um_per_min: Measured | None,
    rise_k: float,
    opening_area_mm2: float,
    opening_edge_mm: float,
    opening_parts: int,
    opening_holes: int,
    quantity: int,
    blank_size_mm: tuple[float, float],
    agitation: str = "tray",
    etch_factor_origin: Origin | None = None,
    rate_origin: Origin | None = None,
) -> EtchPlan:
    """Plan the etch of a job.

    Parameters
    ----------
    pair : Pair
        The metal in its etchant, from the tables.
    strength : BathStrength
        The bath's strength, from `bath_strength`.
    temperature_degc, depth_mm, rise_k : float
        Bath temperature, depth at the open floor, and how much the bath may warm.
    etch_factor, rate_um_per_min : Measured or None
        As the job file or the shop book has them; None takes the table's.
    opening_area_mm2, opening_edge_mm, opening_parts, opening_holes : float, float, int, int
        Area, whole boundary, parts and holes of one piece's resist opening.
    quantity : int
        Pieces etched in one bath.
    blank_size_mm : (float, float)
        Width and height of the blank.
    agitation : str
        `tray`, `rocked`, `bubbled` or `spray`.
    etch_factor_origin, rate_origin : Origin or None
        Where the values handed in come from; None means the job file.

    Returns
    -------
    EtchPlan

    Raises
    ------
    PlanError
        If a number cannot be right at all (a depth of zero, a negative area).
    """
    _refuse_nonsense(
        depth_mm=depth_mm, rise_k=rise_k, opening_area_mm2=opening_area_mm2, quantity=quantity
    )
    if not 0.0 < temperature_degc < 100.0:
        raise PlanError(f"a bath at {temperature_degc:g} degC is no water bath; use 0 to 100 degC")
    factor = etch_factor or table_etch_factor(pair)
    rate = _rate(
        pair, strength, temperature_degc, agitation, rate_um_per_min, rate_origin or Origin()
    )
    undercut = amounts.undercut_mm(depth_mm, factor.value)
    volume_mm3 = amounts.etch_volume_mm3(
        opening_area_mm2=opening_area_mm2,
        opening_edge_mm=opening_edge_mm,
        parts=opening_parts,
        holes=opening_holes,
        depth_mm=depth_mm,
        undercut_mm=undercut,
    )
    piece_g = volume_mm3 * 1e-3 * pair.material.density_g_per_cm3.value
    metal_g = piece_g * quantity
    metal_mol = metal_g / amounts.metal_molar_mass(pair)
    heat_kj = metal_mol * pair.heat_kj_per_mol.value
    bath = amounts.bath_l(
        pair, metal_g=metal_g, heat_kj=heat_kj, rise_k=rise_k, strength_g_per_l=strength.g_per_l
    )
    cover = amounts.bath_cover_l(blank_size_mm)
    fill = max(bath, cover)
    water_l = _water_l(strength, fill)
    gas_l = metal_mol * pair.gas_mol_per_mol.value * amounts.molar_volume_l()
    time_s = _time_s(depth_mm, rate.value)
    gas_per_min = gas_l / (time_s / 60.0)
    plan = EtchPlan(
        etchant=pair.etchant.ident,
        depth_mm=depth_mm,
        rate_um_per_min=rate.value,
        time_s=time_s,
        etched_area_mm2=opening_area_mm2 * quantity,
        metal_removed_g=metal_g,
        gas_l=gas_l,
        heat_kj=heat_kj,
        bath_l=bath,
        bath_cover_l=cover,
        reagent_g=metal_g * amounts.reagent_g_per_g_metal(pair),
        reagent_charge_g=strength.g_per_l * bath,
        material=pair.material.ident,
        etchant_name=pair.etchant.name,
        gas=pair.gas,
        strength=strength,
        temperature_degc=temperature_degc,
        rise_k=rise_k,
        agitation=agitation,
        quantity=quantity,
        rate_low_um_per_min=rate.low,
        rate_high_um_per_min=rate.high,
        rate_grade=rate.grade,
        time_low_s=_time_s(depth_mm, rate.high),
        time_high_s=_time_s(depth_mm, rate.low),
        etch_factor=factor,
        undercut_mm=undercut,
        undercut_spread_mm=amounts.undercut_spread_mm(depth_mm, factor.value, factor.sd),
        bath_fill_l=fill,
        reagent_fill_g=strength.g_per_l * fill,
        water_fill_l=water_l,
        metal_g_per_l=metal_g / fill,
        metal_per_piece_g=piece_g,
        gas_ml_per_min=1000.0 * gas_per_min,
        air_l_per_min=_air_l_per_min(pair, gas_per_min),
        mixing_rise_k=mixing_rise_k(pair.etchant, strength.g_per_l * fill, water_l),
        values=(),
        findings=(),
    )
    return _with_words(pair, plan, rate, etch_factor, etch_factor_origin or Origin())


def table_etch_factor(pair: Pair) -> Measured:
    """The table's etch factor, its standard deviation half the distance to the low end.

    So that the value less two standard deviations is the table's low end.
    """
    factor = pair.etch_factor
    low = factor.value if factor.low is None else factor.low
    return Measured(value=factor.value, sd=0.5 * (factor.value - low))


def _refuse_nonsense(
    *, depth_mm: float, rise_k: float, opening_area_mm2: float, quantity: int
) -> None:
    for name, value in (("depth", depth_mm), ("rise", rise_k), ("quantity", float(quantity))):
        if not (math.isfinite(value) and value > 0.0):
            raise PlanError(f"etch: a {name} of {value:g} is not possible; it must be above zero")
    if not (math.isfinite(opening_area_mm2) and opening_area_mm2 >= 0.0):
        raise PlanError(f"etch: an opening of {opening_area_mm2:g} mm2 is not possible")


def _rate(
    pair: Pair,
    strength: BathStrength,
    temperature_degc: float,
    agitation: str,
    handed_in: Measured | None,
    origin: Origin,
) -> _Rate:
    if handed_in is not None:
        if not handed_in.value > 0.0:
            raise PlanError(f"an etch rate of {handed_in.value:g} um/min is not possible")
        return _Rate(
            value=handed_in.value,
            # A spread wider than the value itself would put the low end below zero.
            low=max(handed_in.value - handed_in.sd, 0.1 * handed_in.value),
            high=handed_in.value + handed_in.sd,
            grade=None,
            stated=given("etch rate", handed_in, "um/min", origin.kind, origin.source),
        )
    estimate = table_rate(
        pair,
        strength_g_per_l=strength.g_per_l,
        temperature_degc=temperature_degc,
        agitation=agitation,
    )
    refused = any(finding.level is Level.STOP for finding in estimate.findings)
    return _Rate(
        value=estimate.um_per_min,
        low=estimate.low_um_per_min,
        high=estimate.high_um_per_min,
        grade=estimate.grade,
        stated=rate_stated(estimate),
        findings=estimate.findings + (() if refused else _starting_guess(pair, estimate.grade)),
    )


def _starting_guess(pair: Pair, grade: Grade | None) -> tuple[Finding, ...]:
    if grade not in ("C", "D"):
        return ()
    message = (
        f"the etch rate of {pair.material.name} in {pair.etchant.name} is of grade {grade}: "
        "a starting guess, etch a coupon first"
    )
    remedy = "Etch a coupon of the same metal, coat and bath; then give etch.rate as measured."
    return (Finding(code="starting-guess", level=Level.CAUTION, message=message, remedy=remedy),)


def _time_s(depth_mm: float, um_per_min: float) -> float:
    return 60.0 * 1000.0 * depth_mm / um_per_min


def _air_l_per_min(pair: Pair, gas_l_per_min: float) -> float | None:
    limit = pair.gas_lower_flammable_fraction
    if limit is None:
        return None
    return amounts.dilution_air_l_per_min(gas_l_per_min, limit.value)


def _water_l(strength: BathStrength, bath_l: float) -> float:
    """The water in a bath, measured out at 20 degC."""
    water_g_per_ml = strength.density_g_per_ml * (1.0 - strength.fraction)
    return bath_l * water_g_per_ml / water_density_g_per_ml(20.0)


def _with_words(
    pair: Pair, plan: EtchPlan, rate: _Rate, etch_factor: Measured | None, origin: Origin
) -> EtchPlan:
    """The plan with its stated values and findings."""
    if etch_factor is not None:
        factor = given("etch factor", etch_factor, "", origin.kind, origin.source)
    else:
        factor = etch_factor_stated(pair, plan.etch_factor)
    return replace(
        plan,
        values=(rate.stated, factor, *stated_values(pair, plan)),
        findings=(
            *rate.findings,
            *check_pair_use(pair, temperature_degc=plan.temperature_degc, depth_mm=plan.depth_mm),
            *bath_findings(pair, plan),
            *gas_findings(pair, plan),
        ),
    )
