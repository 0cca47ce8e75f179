"""The record that a planned etch is: rate, time, amounts, and what is to be said of them."""

from __future__ import annotations

from dataclasses import dataclass

from stopout.etching.strength import BathStrength
from stopout.values import Finding, Grade, Kind, Measured, Stated

__all__ = ["EtchPlan", "Origin"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Where a rate or an etch factor that is handed in comes from."""

    kind: Kind = "given"
    source: str = "job file"


@dataclass(frozen=True, slots=True, kw_only=True)
class EtchPlan:
    """What the plan and the sheet say of the etch; amounts for the whole quantity in one bath.

    Attributes
    ----------
    etchant, depth_mm, rate_um_per_min, time_s, etched_area_mm2, metal_removed_g, gas_l, heat_kj,
    bath_l, bath_cover_l, reagent_g, reagent_charge_g
        As plan.json's `etch` names them. `gas_l` is dry at 25 degC and 101.325 kPa; `reagent_g`
        is stoichiometric; `reagent_charge_g` = strength x `bath_l`.
    rate_low_um_per_min, rate_high_um_per_min, rate_grade
        The range in which the rate may lie (one standard deviation for a rate handed in).
    time_low_s, time_high_s
        The time at the high and at the low rate.
    etch_factor, undercut_mm, undercut_spread_mm
        Depth / undercut per edge; `undercut_spread_mm` = depth x sd / F^2.
    bath_fill_l, reagent_fill_g, water_fill_l
        The bath to pour: the larger of `bath_l` and `bath_cover_l`, the reagent in it (without
        its water), and the water, all of it where the reagent is bought dry.
    metal_g_per_l
        Dissolved metal in the poured bath when all is etched.
    gas_ml_per_min, air_l_per_min
        Mean flow of gas over the etch, and the air that keeps it at a quarter of its lower
        flammable limit (no safety factor); None where the gas does not burn or there is none.
    metal_per_piece_g
        The loss of weight of one piece: weighing is the shop's best gauge of mean depth.
    mixing_rise_k
        How much the poured bath warms when the dry reagent goes into its water, all at once.
    """

    etchant: str
    depth_mm: float
    rate_um_per_min: float
    time_s: float
    etched_area_mm2: float
    metal_removed_g: float
    gas_l: float
    heat_kj: float
    bath_l: float
    bath_cover_l: float
    reagent_g: float
    reagent_charge_g: float
    material: str
    etchant_name: str
    gas: str
    strength: BathStrength
    temperature_degc: float
    rise_k: float
    agitation: str
    quantity: int
    rate_low_um_per_min: float
    rate_high_um_per_min: float
    rate_grade: Grade | None
    time_low_s: float
    time_high_s: float
    etch_factor: Measured
    undercut_mm: float
    undercut_spread_mm: float
    bath_fill_l: float
    reagent_fill_g: float
    water_fill_l: float
    metal_g_per_l: float
    metal_per_piece_g: float
    gas_ml_per_min: float
    air_l_per_min: float | None
    mixing_rise_k: float | None
    values: tuple[Stated, ...]
    findings: tuple[Finding, ...]
