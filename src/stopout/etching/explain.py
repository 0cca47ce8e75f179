"""Each formula of a planned etch with its numbers put in, for `stopout bath --explain`."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from stopout.etching.bath import amounts
from stopout.etching.bath.electrolytic import FARADAY_C_PER_MOL
from stopout.etching.records import Pair
from stopout.etching.result import EtchPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """A result, the formula in words or symbols, and the same with its numbers."""

    what: str
    formula: str
    numbers: str
    result: str


def explain(
    pair: Pair,
    plan: EtchPlan,
    *,
    opening_area_mm2: float,
    opening_edge_mm: float,
    parts: int,
    holes: int,
) -> tuple[Explained, ...]:
    """Explain a planned etch.

    Parameters
    ----------
    pair : Pair
        The metal in its bath, as `plan_etch` was given it.
    plan : EtchPlan
        What it gave.
    opening_area_mm2, opening_edge_mm, parts, holes : float, float, int, int
        Of one piece's resist opening.
    """
    volume = amounts.etch_volume_mm3(
        opening_area_mm2=opening_area_mm2,
        opening_edge_mm=opening_edge_mm,
        parts=parts,
        holes=holes,
        depth_mm=plan.depth_mm,
        undercut_mm=plan.undercut_mm,
    )
    shape = (
        f"{_n(opening_area_mm2)} x {_n(plan.depth_mm)} + 0.785 x {_n(plan.undercut_mm)} x "
        f"{_n(plan.depth_mm)} x {_n(opening_edge_mm)} + 2.094 x {_n(plan.undercut_mm)}^2 x "
        f"{_n(plan.depth_mm)} x {parts - holes}"
    )
    return (
        Explained(
            what="undercut per edge",
            formula="depth / etch factor",
            numbers=f"{_n(plan.depth_mm)} mm / {_n(plan.etch_factor.value)}",
            result=f"{_n(plan.undercut_mm)} mm",
        ),
        Explained(
            what="metal removed, one piece",
            formula="A d + (pi/4) u d L + (2/3) pi u^2 d (parts - holes)",
            numbers=shape,
            result=f"{_n(volume)} mm3",
        ),
        *_rows(pair, plan, volume),
        *_time(pair, plan),
        *_bath(pair, plan),
        *_flow(plan),
        *_mixing(pair, plan),
    )


def _rows(pair: Pair, plan: EtchPlan, volume_mm3: float) -> Iterator[Explained]:
    density = pair.material.density_g_per_cm3.value
    molar = amounts.metal_molar_mass(pair)
    mol = plan.metal_removed_g / molar
    yield Explained(
        what="weight lost, one piece",
        formula="volume x density",
        numbers=f"{_n(volume_mm3)} mm3 x {_n(density)} g/cm3 / 1000",
        result=f"{_n(plan.metal_per_piece_g)} g",
    )
    yield Explained(
        what="metal, all pieces ordered",
        formula="quantity x weight lost; / molar mass",
        numbers=f"{plan.quantity} x {_n(plan.metal_per_piece_g)} g; / {_n(molar)} g/mol",
        result=f"{_n(plan.metal_removed_g)} g = {_n(mol)} mol",
    )
    if plan.reagent_g > 0.0:
        reagent = pair.etchant.molar_mass_g_per_mol.value
        ratio = pair.reagent_mol_per_mol.value
        yield Explained(
            what=f"{pair.etchant.reagent} used up",
            formula="moles x reagent per mole x its molar mass",
            numbers=f"{_n(mol)} x {_n(ratio)} x {_n(reagent)} g/mol",
            result=f"{_n(plan.reagent_g)} g",
        )
    if plan.gas_l > 0.0:
        yield Explained(
            what=f"{pair.gas} at 25 degC and 101.325 kPa",
            formula="moles x gas per mole x R T / p",
            numbers=(
                f"{_n(mol)} x {_n(pair.gas_mol_per_mol.value)} x {_n(amounts.molar_volume_l())} L"
            ),
            result=f"{_n(plan.gas_l)} L",
        )
    yield Explained(
        what="heat",
        formula="moles x heat per mole",
        numbers=f"{_n(mol)} x {_n(pair.heat_kj_per_mol.value)} kJ/mol",
        result=f"{_n(plan.heat_kj)} kJ",
    )


def _time(pair: Pair, plan: EtchPlan) -> Iterator[Explained]:
    electro = plan.electro
    if electro is not None:
        molar = amounts.metal_molar_mass(pair)
        yield Explained(
            what="charge, pieces in the bath together",
            formula="m n F / (M efficiency)",
            numbers=(
                f"{_n(plan.metal_per_piece_g * plan.pour.at_once)} g x {_n(electro.valence)} x "
                f"{FARADAY_C_PER_MOL:.2f} C/mol / ({_n(molar)} g/mol x "
                f"{_n(electro.efficiency.value)})"
            ),
            result=f"{_n(electro.charge_c)} C = {_n(electro.charge_ah)} Ah",
        )
        yield Explained(
            what="time",
            formula="charge / current",
            numbers=f"{_n(electro.charge_c)} C / {_n(electro.current_a)} A",
            result=f"{_n(plan.time_s)} s = {_n(plan.time_s / 60)} min",
        )
    else:
        yield Explained(
            what="time",
            formula="depth / rate",
            numbers=f"{_n(1000 * plan.depth_mm)} um / {_n(plan.rate_um_per_min)} um/min",
            result=f"{_n(plan.time_s / 60)} min",
        )
    ceiling = amounts.ceiling_g_per_l(pair, plan.strength.g_per_l)
    if plan.time_ageing_s is None or math.isinf(ceiling):
        return
    load = plan.pour.end_g_per_l - plan.pour.start_g_per_l
    left = ceiling - plan.pour.start_g_per_l
    yield Explained(
        what="share of the reagent used up (x)",
        formula="metal per litre / what the reagent left could dissolve",
        numbers=f"{_n(load)} g/L / {_n(left)} g/L",
        result=_n(load / left),
    )
    yield Explained(
        what="time with the bath ageing",
        formula="time x -ln(1 - x)/x",
        numbers=f"{_n(plan.time_s / 60)} min x {_n(plan.time_ageing_s / plan.time_s)}",
        result=f"{_n(plan.time_ageing_s / 60)} min",
    )


def _bath(pair: Pair, plan: EtchPlan) -> Iterator[Explained]:
    pour = plan.pour
    heat = plan.heat_kj * (pour.metal_g / plan.metal_removed_g) if plan.metal_removed_g else 0.0
    yield Explained(
        what="bath for the heat",
        formula="heat of all that goes in / (heat capacity x rise)",
        numbers=(
            f"{_n(heat)} kJ / ({_n(pair.heat_capacity_kj_per_l_k.value)} kJ/(L K) x "
            f"{_n(plan.rise_k)} K)"
        ),
        result=f"{_n(pour.heat_l)} L",
    )
    if pour.capacity_l > 0.0:
        yield Explained(
            what="bath for the metal",
            formula="metal of all that goes in / room left for it",
            numbers=f"{_n(pour.metal_g)} g / {_n(pour.metal_g / pour.capacity_l)} g/L",
            result=f"{_n(pour.capacity_l)} L",
        )
    if pour.cover_l > 0.0:
        yield Explained(
            what="bath that covers",
            formula="floor x (20 mm + upright side + 15 mm)" if pour.hangs else "floor x 15 mm",
            numbers=f"{_n(pour.tray_mm[0])} mm x {_n(pour.tray_mm[1])} mm x {_n(pour.cover_mm)} mm",
            result=f"{_n(pour.cover_l)} L",
        )
    yield Explained(
        what="bath to pour",
        formula={"volume": "as given"}.get(pour.decided_by, "the largest of them"),
        numbers=pour.decided_by,
        result=f"{_n(plan.bath_fill_l)} L",
    )
    yield Explained(
        what="how much one batch warms it",
        formula="heat of a batch / (heat capacity x bath)",
        numbers=(
            f"{_n(heat * plan.metal_per_piece_g * pour.at_once / pour.metal_g)} kJ / "
            f"({_n(pair.heat_capacity_kj_per_l_k.value)} kJ/(L K) x {_n(plan.bath_fill_l)} L)"
            if pour.metal_g
            else "0"
        ),
        result=f"{_n(pour.rise_k)} K",
    )


def _flow(plan: EtchPlan) -> Iterator[Explained]:
    flow = plan.flow
    if plan.gas_l <= 0.0:
        return
    yield Explained(
        what="gas as it leaves the bath, wet",
        formula="dry gas x T / 298.15 K x p / (p - vapour pressure of water)",
        numbers=f"{_n(plan.gas_l)} L x {_n(plan.wet_ratio)}",
        result=f"{_n(plan.gas_wet_l)} L",
    )
    yield Explained(
        what="peak flow of gas",
        formula="mean flow x (walls opened, bath warmed by its rise, rate at its high end)",
        numbers=(
            f"{_n(flow.mean_ml_per_min)} mL/min x {_n(flow.peak_ml_per_min / flow.mean_ml_per_min)}"
        ),
        result=f"{_n(flow.peak_ml_per_min)} mL/min",
    )
    if flow.air_l_per_min is None or flow.ventilation_l_per_min is None:
        return
    yield Explained(
        what="air for a quarter of the lower flammable limit",
        formula="flow x (1 / (0.25 x limit) - 1)",
        numbers=(
            f"{_n(flow.mean_ml_per_min / 1000)} L/min x "
            f"{_n(1000 * flow.air_l_per_min / flow.mean_ml_per_min)}"
        ),
        result=f"{_n(flow.air_l_per_min)} L/min",
    )
    yield Explained(
        what="ventilation to provide",
        formula="that x safety factor",
        numbers=f"{_n(flow.air_l_per_min)} L/min x {_n(flow.safety_factor)}",
        result=f"{_n(flow.ventilation_l_per_min)} L/min",
    )


def _mixing(pair: Pair, plan: EtchPlan) -> Iterator[Explained]:
    yield Explained(
        what=f"{pair.etchant.reagent} in the bath",
        formula="strength x bath",
        numbers=f"{_n(plan.strength.g_per_l)} g/L x {_n(plan.bath_fill_l)} L",
        result=f"{_n(plan.reagent_fill_g)} g",
    )
    stock, mixing = plan.use.stock, plan.mixing
    if stock is not None and mixing.stock_l is not None:
        yield Explained(
            what="stock solution",
            formula="reagent in the bath / strength of the stock",
            numbers=f"{_n(plan.reagent_fill_g)} g / {_n(stock.g_per_l)} g/L",
            result=f"{_n(mixing.stock_l)} L, and {_n(mixing.stock_water_l or 0.0)} L of water",
        )
    for way in plan.neutralising:
        yield Explained(
            what=f"neutralised by {way.name}",
            formula="grams per gram of reagent x reagent in the bath",
            numbers=f"{_n(way.amount_g / plan.reagent_fill_g)} x {_n(plan.reagent_fill_g)} g",
            result=f"{_n(way.amount_g)} g, to pH {way.end_ph}",
        )


def _n(value: float) -> str:
    """Four significant digits, plainly."""
    return f"{value:.4g}"
