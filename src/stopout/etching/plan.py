"""The etch of a job: its rate, time and amounts, each stated with its source."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from stopout.etching.after import Rinses, neutralising_ways, plan_rinses
from stopout.etching.asked import EtchAsked
from stopout.etching.bath import amounts
from stopout.etching.bath.electrolytic import (
    Electro,
    cell_findings,
    cell_pair,
    plan_current,
)
from stopout.etching.bath.gas import gas_flow, wall_peak_ratio, warming_ratio
from stopout.etching.bath.pouring import (
    Load,
    batches_of,
    load_of,
    mixing_of,
    pour_for,
    time_ageing_s,
    water_l,
)
from stopout.etching.bath.strength import mixing_rise_k
from stopout.etching.bath.use import TrayFit, fit_tray
from stopout.etching.findings.bath import bath_findings, gas_findings, proposed_tray, tray_findings
from stopout.etching.findings.ceilings import ceiling_findings, planned_rise_k
from stopout.etching.findings.checks import check_pair_use
from stopout.etching.rates.doubt import factor_findings
from stopout.etching.rating import UsedRate, current_rate, used_rate
from stopout.etching.records import Pair
from stopout.etching.result import EtchPlan, Pour
from stopout.etching.schedule import check_schedule
from stopout.etching.words import cell_values, etch_factor_stated, given, stated_values
from stopout.values import Finding, Stated

# What no water that has touched the piece carries to a drain.
_KEPT_FROM_DRAINS = ("chromate-in-bath", "chromium-nickel-in-bath")


def plan_etch(asked: EtchAsked) -> EtchPlan:
    """Plan the etch of a job."""
    work = _work(asked)
    plan = _with_waste(asked, work, _planned(asked, work))
    return replace(plan, values=_values(asked, work, plan), findings=_findings(asked, work, plan))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Work:
    """What the steps share: what goes into the bath, how it lies there, and how fast it goes.

    `pair` is the asked one, with the heat and the gas of the current where there is one; `fill_l`
    is the bath poured.
    """

    pair: Pair
    rise_k: float
    load: Load
    fit: TrayFit
    electro: Electro | None
    rate: UsedRate
    pour: Pour
    fill_l: float

    @property
    def heat_kj_per_g(self) -> float:
        return self.pair.heat_kj_per_mol.value / amounts.metal_molar_mass(self.pair)

    @property
    def gas_l_per_g(self) -> float:
        gas_l_per_mol = self.pair.gas_mol_per_mol.value * amounts.molar_volume_l()
        return gas_l_per_mol / amounts.metal_molar_mass(self.pair)


def _work(asked: EtchAsked) -> _Work:
    rise_k = planned_rise_k(
        asked.rise_k, asked.pair.ceilings, asked.temperature_degc, asked.stands_degc
    )
    load = load_of(
        asked.pair,
        amounts.etch_volume_mm3(
            opening_area_mm2=asked.opening_area_mm2,
            opening_edge_mm=asked.opening_edge_mm,
            parts=asked.opening_parts,
            holes=asked.opening_holes,
            depth_mm=asked.depth_mm,
            undercut_mm=asked.undercut_mm,
        ),
        asked.opening_area_mm2,
        quantity=asked.quantity,
        use=asked.use,
    )
    fit = fit_tray(asked.blank_size_mm, asked.use, load.pieces, across_mm=asked.across_mm)
    electro, pair = _electro(asked, load, fit)
    heat_kj_per_g = pair.heat_kj_per_mol.value / amounts.metal_molar_mass(pair)
    pour, fill_l = pour_for(pair, asked.strength, load, fit, asked.use, rise_k, heat_kj_per_g)
    return _Work(
        pair=pair,
        rise_k=rise_k,
        load=load,
        fit=fit,
        electro=electro,
        rate=_rate(asked, pair, electro),
        pour=pour,
        fill_l=fill_l,
    )


def _electro(asked: EtchAsked, load: Load, fit: TrayFit) -> tuple[Electro | None, Pair]:
    """The current, and the pair with the heat and the gas of it."""
    pair, cell = asked.pair, asked.cell
    if cell is None:
        return None, pair
    electro = plan_current(
        pair,
        cell,
        asked.current,
        metal_at_once_g=load.piece_g * fit.at_once,
        opening_at_once_mm2=load.piece_mm2 * fit.at_once,
    )
    return electro, cell_pair(pair, electro, plates_out=cell.plates_out)


def _rate(asked: EtchAsked, pair: Pair, electro: Electro | None) -> UsedRate:
    if electro is not None:
        return current_rate(electro, depth_mm=asked.depth_mm)
    return used_rate(
        pair,
        asked.strength,
        temperature_degc=asked.temperature_degc,
        agitation=asked.agitation,
        use=asked.use,
        handed_in=asked.rate_um_per_min,
        origin=asked.rate_origin,
    )


def _planned(asked: EtchAsked, work: _Work) -> EtchPlan:
    """The plan's numbers up to the lift; waste and words are still to come."""
    pair, load, fill_l, strength = work.pair, work.load, work.fill_l, asked.strength
    time_s = 60_000.0 * asked.depth_mm / work.rate.value
    peak_ratio, together_g = _peak_ratio(asked, work), _together_g(asked, work)
    heat_kj = load.ordered_g * work.heat_kj_per_g
    ceiling = amounts.ceiling_g_per_l(pair, strength.g_per_l)
    water = water_l(strength, fill_l)
    mixing_rise = mixing_rise_k(pair.etchant, strength.g_per_l * fill_l, water)
    gas_l = together_g * work.gas_l_per_g
    return EtchPlan(
        etchant=pair.etchant.ident,
        depth_mm=asked.depth_mm,
        rate_um_per_min=work.rate.value,
        etched_area_mm2=asked.opening_area_mm2 * asked.quantity,
        metal_removed_g=load.ordered_g,
        gas_l=load.ordered_g * work.gas_l_per_g,
        heat_kj=heat_kj,
        bath_l=amounts.bath_l(
            pair,
            metal_g=load.ordered_g,
            heat_kj=heat_kj,
            rise_k=work.rise_k,
            strength_g_per_l=strength.g_per_l,
        ),
        bath_cover_l=_cover_l(asked, work),
        reagent_g=load.ordered_g * amounts.reagent_g_per_g_metal(pair),
        material=pair.material.ident,
        etchant_name=pair.etchant.name,
        gas=pair.gas,
        strength=strength,
        temperature_degc=asked.temperature_degc,
        rise_k=work.rise_k,
        is_rise_said=asked.rise_k is not None,
        heat_kj_per_min=together_g * work.heat_kj_per_g * peak_ratio / (time_s / 60.0),
        agitation=asked.agitation,
        quantity=asked.quantity,
        rate_low_um_per_min=work.rate.low,
        rate_high_um_per_min=work.rate.high,
        rate_grade=work.rate.grade,
        etch_factor=asked.factor,
        bath_fill_l=fill_l,
        water_fill_l=water,
        metal_per_piece_g=load.piece_g,
        mixing_rise_k=mixing_rise,
        time_ageing_s=time_ageing_s(work.pour, time_s, ceiling),
        pour=work.pour,
        mixing=mixing_of(mixing_rise, strength, asked.use, fill_l),
        batches=batches_of(load, work.fit, work.pour, fill_l, ceiling, time_s),
        flow=gas_flow(pair, gas_l=gas_l, time_s=time_s, peak_ratio=peak_ratio),
        schedule=check_schedule(
            depth_mm=asked.depth_mm,
            time_s=time_s,
            rate_ratio_low=work.rate.low / work.rate.value,
            rate_ratio_high=work.rate.high / work.rate.value,
        ),
        electro=work.electro,
        use=asked.use,
    )


def _peak_ratio(asked: EtchAsked, work: _Work) -> float:
    """The peak of gas and heat over their mean: walls open up, the bath warms, the rate may err."""
    walls = wall_peak_ratio(
        opening_area_mm2=asked.opening_area_mm2,
        opening_edge_mm=asked.opening_edge_mm,
        parts=asked.opening_parts,
        holes=asked.opening_holes,
        undercut_mm=asked.undercut_mm,
    )
    warming = warming_ratio(
        work.pair,
        temperature_degc=asked.temperature_degc,
        rise_k=work.rise_k,
        agitation=asked.agitation,
    )
    return walls * warming * work.rate.high / work.rate.value


def _together_g(asked: EtchAsked, work: _Work) -> float:
    """Metal of the pieces that lie in the bath together [g]."""
    use, fit = asked.use, work.fit
    # Where neither job nor tray says how many do, all of them may.
    is_said = use.tray_mm is not None or use.plates_at_once is not None or fit.is_proposed
    return work.load.piece_g * (fit.at_once if is_said else work.load.pieces)


def _cover_l(asked: EtchAsked, work: _Work) -> float:
    """The bath that covers what lies in it; by its definition one piece, where no tray is named."""
    if work.fit.is_proposed and asked.blank_size_mm is not None:
        return amounts.bath_cover_l(asked.blank_size_mm)
    return work.pour.cover_l


def _with_waste(asked: EtchAsked, work: _Work, plan: EtchPlan) -> EtchPlan:
    """The plan with its rinses, and what becomes of the spent bath."""
    pair, metal_g = work.pair, plan.metal_g_per_l * plan.bath_fill_l
    ways, declined = neutralising_ways(
        pair,
        bath_l=plan.bath_fill_l,
        reagent_g=plan.reagent_fill_g,
        metal_g=metal_g,
        sludge=asked.sludge,
    )
    sludge = asked.sludge if pair.neutralisers else None
    return replace(
        plan,
        neutralising=ways,
        declined=declined,
        rinses=_rinses(asked, plan, pair),
        sludge_g=amounts.sludge_g(sludge, metal_g=metal_g, reagent_g=plan.reagent_fill_g),
    )


def _rinses(asked: EtchAsked, plan: EtchPlan, pair: Pair) -> Rinses | None:
    """The still rinses; each look and each measurement is a lift, as is the last."""
    if asked.blank_size_mm is None:
        return None
    return plan_rinses(
        face_mm2=asked.blank_size_mm[0] * asked.blank_size_mm[1],
        pieces=plan.pour.pieces,
        lifts_each=len(plan.schedule),
        strength_g_per_l=plan.strength.g_per_l,
        least_l=plan.pour.cover_l,
        all_kept=any(ident in _KEPT_FROM_DRAINS for ident in pair.hazards),
    )


def _values(asked: EtchAsked, work: _Work, plan: EtchPlan) -> tuple[Stated, ...]:
    if asked.etch_factor is not None:
        origin = asked.etch_factor_origin
        factor = given("etch factor", asked.etch_factor, "", origin.kind, origin.source)
    else:
        factor = etch_factor_stated(work.pair, plan.etch_factor)
    of_cell: tuple[Stated, ...] = ()
    if asked.cell is not None and work.electro is not None:
        of_cell = cell_values(asked.cell, asked.current, work.electro)
    return (*of_cell, work.rate.stated, factor, *stated_values(work.pair, plan))


def _findings(asked: EtchAsked, work: _Work, plan: EtchPlan) -> tuple[Finding, ...]:
    pair = work.pair
    of_cell: tuple[Finding, ...] = ()
    if asked.cell is not None and work.electro is not None:
        of_cell = cell_findings(asked.cell, asked.current, work.electro)
    return (
        *of_cell,
        *ceiling_findings(pair, plan),
        *work.rate.findings,
        *_factor_findings(asked),
        *check_pair_use(pair, temperature_degc=plan.temperature_degc, depth_mm=plan.depth_mm),
        *bath_findings(pair, plan),
        *gas_findings(pair, plan),
        *_tray_findings(asked, work),
        *_stock_findings(plan),
    )


def _factor_findings(asked: EtchAsked) -> tuple[Finding, ...]:
    if asked.etch_factor is None:
        return ()
    return factor_findings(asked.pair, asked.etch_factor, where=asked.etch_factor_origin.source)


def _tray_findings(asked: EtchAsked, work: _Work) -> tuple[Finding, ...]:
    if asked.use.tray_mm is not None and asked.blank_size_mm is not None:
        return tray_findings(work.fit, asked.blank_size_mm)
    return proposed_tray(work.fit, work.load.pieces) if work.fit.is_proposed else ()


def _stock_findings(plan: EtchPlan) -> Iterator[Finding]:
    stock = plan.use.stock
    if stock is None or plan.mixing.stock_l is not None:
        return
    yield Finding.stop(
        "stock-weak",
        f"a stock solution of {stock.as_given} is weaker than the bath of {plan.strength.as_given}",
        remedy="Name a stronger stock, or plan with a weaker bath.",
    )
