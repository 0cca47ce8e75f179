"""The etch of a job: its rate, time and amounts, each stated with its source."""

from __future__ import annotations

import math
from dataclasses import replace

from stopout.errors import PlanError
from stopout.etching import amounts
from stopout.etching.after import Rinses, neutralising_ways, plan_rinses
from stopout.etching.bath_findings import (
    bath_findings,
    gas_findings,
    proposed_tray,
    tray_findings,
)
from stopout.etching.bath_use import (
    ACROSS_BUBBLED_MM,
    ACROSS_CELL_MM,
    FRESH,
    BathUse,
    TrayFit,
    fit_tray,
)
from stopout.etching.ceilings import ceiling_findings, planned_rise_k
from stopout.etching.checks import check_pair_use
from stopout.etching.electrolytic import (
    Cell,
    Current,
    Electro,
    cell_findings,
    cell_pair,
    cell_values,
    plan_current,
)
from stopout.etching.gas import gas_flow, wall_peak_ratio, warming_ratio
from stopout.etching.pouring import (
    Load,
    batches_of,
    load_of,
    mixing_of,
    pour_for,
    time_ageing_s,
    water_l,
)
from stopout.etching.rating import UsedRate, current_rate, used_rate
from stopout.etching.records import Pair
from stopout.etching.result import EtchPlan, Origin, Pour
from stopout.etching.schedule import check_schedule
from stopout.etching.strength import BathStrength, mixing_rise_k
from stopout.etching.words import etch_factor_stated, given, stated_values
from stopout.values import Finding, Level, Measured

# What no water that has touched the piece carries to a drain.
_KEPT_FROM_DRAINS = ("chromate-in-bath", "chromium-nickel-in-bath")


def plan_etch(
    pair: Pair,
    *,
    strength: BathStrength,
    temperature_degc: float,
    depth_mm: float,
    etch_factor: Measured | None,
    rate_um_per_min: Measured | None,
    rise_k: float | None,
    opening_area_mm2: float,
    opening_edge_mm: float,
    opening_parts: int,
    opening_holes: int,
    quantity: int,
    blank_size_mm: tuple[float, float] | None,
    agitation: str = "tray",
    etch_factor_origin: Origin | None = None,
    rate_origin: Origin | None = None,
    use: BathUse = FRESH,
    sludge: amounts.Sludge | None = None,
    cell: Cell | None = None,
    current: Current | None = None,
) -> EtchPlan:
    """Plan the etch of a job.

    Parameters
    ----------
    pair : Pair
        The metal in its etchant, from the tables.
    strength : BathStrength
        The bath's strength, from `bath_strength`.
    temperature_degc, depth_mm : float
        Bath temperature, and depth at the open floor.
    rise_k : float or None
        How much the bath may warm; None: 10 K, or what the pair's ceiling leaves.
    etch_factor, rate_um_per_min : Measured or None
        As the job file or the shop book has them; None takes the table's.
    opening_area_mm2, opening_edge_mm, opening_parts, opening_holes : float, float, int, int
        Area, whole boundary, parts and holes of one piece's resist opening.
    quantity : int
        Pieces etched in one bath.
    blank_size_mm : (float, float) or None
        Width and height of the blank; None where they are not known: the bath that covers it is
        then nought, unless a tray is named.
    agitation : str
        `tray`, `rocked`, `bubbled` or `spray`.
    etch_factor_origin, rate_origin : Origin or None
        Where the values handed in come from; None means the job file.
    use : BathUse
        Tray, spares, coupon, stock solution, and what earlier work has left in the bath.
    sludge : Sludge or None
        What falls out when the spent bath is neutralised; None where that is not known.
    cell, current : Cell or None, Current or None
        For an etch by a current: what the table knows of it, and what the job says.

    Returns
    -------
    EtchPlan

    Raises
    ------
    PlanError
        If a number cannot be right at all (a depth of zero, a negative area).
    """
    is_rise_said = rise_k is not None
    rise_k = planned_rise_k(rise_k, pair.ceilings, temperature_degc)
    _refuse_nonsense(
        depth_mm=depth_mm, rise_k=rise_k, opening_area_mm2=opening_area_mm2, quantity=quantity
    )
    if not 0.0 < temperature_degc < 100.0:
        raise PlanError(f"a bath at {temperature_degc:g} degC is no water bath; use 0 to 100 degC")
    if use.coupon_area_mm2 and not opening_area_mm2 > 0.0:
        raise PlanError("etch: nothing is open to the bath; check the artwork and `dark`")
    factor = etch_factor or table_etch_factor(pair)
    undercut = amounts.undercut_mm(depth_mm, factor.value)
    opening = {
        "opening_area_mm2": opening_area_mm2,
        "opening_edge_mm": opening_edge_mm,
        "parts": opening_parts,
        "holes": opening_holes,
        "undercut_mm": undercut,
    }
    volume_mm3 = amounts.etch_volume_mm3(**opening, depth_mm=depth_mm)  # type: ignore[arg-type]
    load = load_of(pair, volume_mm3, opening_area_mm2, quantity=quantity, use=use)
    fit = fit_tray(blank_size_mm, use, load.pieces, across_mm=_across_mm(cell, agitation))
    electro, pair = _electro(pair, cell, current or Current(), load, fit)
    rate = (
        current_rate(electro, depth_mm=depth_mm)
        if electro is not None
        else used_rate(
            pair,
            strength,
            temperature_degc=temperature_degc,
            agitation=agitation,
            use=use,
            handed_in=rate_um_per_min,
            origin=rate_origin or Origin(),
        )
    )
    heat_kj_per_g = pair.heat_kj_per_mol.value / amounts.metal_molar_mass(pair)
    gas_l_per_g = (
        pair.gas_mol_per_mol.value * amounts.molar_volume_l() / amounts.metal_molar_mass(pair)
    )
    bath = amounts.bath_l(
        pair,
        metal_g=load.ordered_g,
        heat_kj=load.ordered_g * heat_kj_per_g,
        rise_k=rise_k,
        strength_g_per_l=strength.g_per_l,
    )
    pour, fill = pour_for(pair, strength, load, fit, use, rise_k, heat_kj_per_g)
    time_s = _time_s(depth_mm, rate.value)
    peak = wall_peak_ratio(**opening) * warming_ratio(  # type: ignore[arg-type]
        pair, temperature_degc=temperature_degc, rise_k=rise_k, agitation=agitation
    )
    together_g = _together_g(load, fit, use)
    peak *= rate.high / rate.value
    flow = gas_flow(pair, gas_l=together_g * gas_l_per_g, time_s=time_s, peak_ratio=peak)
    ceiling = amounts.ceiling_g_per_l(pair, strength.g_per_l)
    water = water_l(strength, fill)
    mixing_rise = mixing_rise_k(pair.etchant, strength.g_per_l * fill, water)
    neutral, declined = neutralising_ways(
        pair,
        bath_l=fill,
        reagent_g=strength.g_per_l * fill,
        metal_g=pour.end_g_per_l * fill,
        sludge=sludge,
    )
    schedule = check_schedule(
        depth_mm=depth_mm,
        time_s=time_s,
        rate_ratio_low=rate.low / rate.value,
        rate_ratio_high=rate.high / rate.value,
    )
    plan = EtchPlan(
        etchant=pair.etchant.ident,
        depth_mm=depth_mm,
        rate_um_per_min=rate.value,
        time_s=time_s,
        etched_area_mm2=opening_area_mm2 * quantity,
        metal_removed_g=load.ordered_g,
        gas_l=load.ordered_g * gas_l_per_g,
        gas_wet_l=load.ordered_g * gas_l_per_g * amounts.wet_gas_ratio(temperature_degc),
        heat_kj=load.ordered_g * heat_kj_per_g,
        bath_l=bath,
        # By its definition: of one piece, where nobody named a tray.
        bath_cover_l=(
            amounts.bath_cover_l(blank_size_mm)
            if fit.is_proposed and blank_size_mm is not None
            else pour.cover_l
        ),
        reagent_g=load.ordered_g * amounts.reagent_g_per_g_metal(pair),
        reagent_charge_g=strength.g_per_l * bath,
        material=pair.material.ident,
        etchant_name=pair.etchant.name,
        gas=pair.gas,
        strength=strength,
        temperature_degc=temperature_degc,
        rise_k=rise_k,
        is_rise_said=is_rise_said,
        heat_kj_per_min=together_g * heat_kj_per_g * peak / (time_s / 60.0),
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
        water_fill_l=water,
        metal_g_per_l=pour.end_g_per_l,
        metal_per_piece_g=load.piece_g,
        gas_ml_per_min=flow.mean_ml_per_min,
        air_l_per_min=flow.air_l_per_min,
        mixing_rise_k=mixing_rise,
        time_ageing_s=time_ageing_s(pour, time_s, ceiling),
        pour=pour,
        mixing=mixing_of(mixing_rise, strength, use, fill),
        batches=batches_of(load, fit, pour, fill, ceiling, time_s),
        flow=flow,
        schedule=schedule,
        neutralising=neutral,
        declined=declined,
        rinses=_rinses(pair, strength, load, pour, blank_size_mm, len(schedule)),
        sludge_g=amounts.sludge_g(
            sludge if pair.neutralisers else None,
            metal_g=pour.end_g_per_l * fill,
            reagent_g=strength.g_per_l * fill,
        ),
        electro=electro,
        use=use,
        values=(),
        findings=(),
    )
    worded = _with_words(pair, plan, rate, etch_factor, etch_factor_origin or Origin())
    trayed: tuple[Finding, ...] = ()
    if use.tray_mm is not None and blank_size_mm is not None:
        trayed = tray_findings(fit, blank_size_mm)
    elif fit.is_proposed:
        trayed = proposed_tray(fit, load.pieces)
    worded = replace(worded, findings=(*worded.findings, *trayed, *_stock_findings(plan)))
    if cell is None or electro is None:
        return worded
    job = current or Current()
    return replace(
        worded,
        values=(*cell_values(cell, job, electro), *worded.values),
        findings=(*cell_findings(cell, job, electro), *worded.findings),
    )


def table_etch_factor(pair: Pair) -> Measured:
    """The table's etch factor, its standard deviation half the distance to the low end.

    So that the value less two standard deviations is the table's low end.
    """
    factor = pair.etch_factor
    low = factor.value if factor.low is None else factor.low
    return Measured(value=factor.value, sd=0.5 * (factor.value - low))


def _rinses(
    pair: Pair,
    strength: BathStrength,
    load: Load,
    pour: Pour,
    blank_size_mm: tuple[float, float] | None,
    looks: int,
) -> Rinses | None:
    """The still rinses; each look and each measurement is a lift, as is the last."""
    if blank_size_mm is None:
        return None
    return plan_rinses(
        face_mm2=blank_size_mm[0] * blank_size_mm[1],
        pieces=load.pieces,
        lifts_each=looks,
        strength_g_per_l=strength.g_per_l,
        least_l=pour.cover_l,
        all_kept=any(ident in _KEPT_FROM_DRAINS for ident in pair.hazards),
    )


def _refuse_nonsense(
    *, depth_mm: float, rise_k: float, opening_area_mm2: float, quantity: int
) -> None:
    for name, value in (("depth", depth_mm), ("rise", rise_k), ("quantity", float(quantity))):
        if not (math.isfinite(value) and value > 0.0):
            raise PlanError(f"etch: a {name} of {value:g} is not possible; it must be above zero")
    if not (math.isfinite(opening_area_mm2) and opening_area_mm2 >= 0.0):
        raise PlanError(f"etch: an opening of {opening_area_mm2:g} mm2 is not possible")


def _electro(
    pair: Pair, cell: Cell | None, current: Current, load: Load, fit: TrayFit
) -> tuple[Electro | None, Pair]:
    """The current, and the pair with the heat and the gas of it."""
    if cell is None:
        return None, pair
    electro = plan_current(
        pair,
        cell,
        current,
        metal_at_once_g=load.piece_g * fit.at_once,
        opening_at_once_mm2=load.piece_mm2 * fit.at_once,
    )
    return electro, cell_pair(pair, electro, plates_out=cell.plates_out)


def _across_mm(cell: Cell | None, agitation: str) -> float:
    """Room across the vessel where the piece hangs; nought where it lies."""
    if cell is not None:
        return ACROSS_CELL_MM
    return ACROSS_BUBBLED_MM if agitation == "bubbled" else 0.0


def _together_g(load: Load, fit: TrayFit, use: BathUse) -> float:
    """Metal of the pieces that lie in the bath together [g]."""
    # Where neither job nor tray says how many do, all of them may.
    is_said = use.tray_mm is not None or use.plates_at_once is not None or fit.is_proposed
    return load.piece_g * (fit.at_once if is_said else load.pieces)


def _stock_findings(plan: EtchPlan) -> tuple[Finding, ...]:
    stock = plan.use.stock
    if stock is None or plan.mixing.stock_l is not None:
        return ()
    return (
        Finding(
            code="stock-weak",
            level=Level.STOP,
            message=(
                f"a stock solution of {stock.as_given} is weaker than the bath of "
                f"{plan.strength.as_given}"
            ),
            remedy="Name a stronger stock, or plan with a weaker bath.",
        ),
    )


def _time_s(depth_mm: float, um_per_min: float) -> float:
    return 60.0 * 1000.0 * depth_mm / um_per_min


def _with_words(
    pair: Pair, plan: EtchPlan, rate: UsedRate, etch_factor: Measured | None, origin: Origin
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
            *ceiling_findings(pair, plan),
            *rate.findings,
            *check_pair_use(pair, temperature_degc=plan.temperature_degc, depth_mm=plan.depth_mm),
            *bath_findings(pair, plan),
            *gas_findings(pair, plan),
        ),
    )
