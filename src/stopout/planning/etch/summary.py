"""The `etch` part of plan.json, also printed by `stopout bath --json`."""

from __future__ import annotations

from typing import Any

from stopout.etching import Electro, EtchPlan
from stopout.planning.plain import fields_of
from stopout.units import six_digits

# Of very many batches the first and the last say enough.
_MOST_BATCHES = 24

_AMOUNTS = """
    depth_mm rate_um_per_min time_s etched_area_mm2 metal_removed_g gas_l gas_wet_l heat_kj bath_l
    bath_cover_l reagent_g reagent_charge_g"""
_RATE_AND_TIMES = """
    rate_low_um_per_min rate_high_um_per_min rate_grade time_low_s time_high_s time_ageing_s
    metal_per_piece_g air_l_per_min"""
_FLOW = """
    gas_mean_ml_per_min=mean_ml_per_min gas_peak_ml_per_min=peak_ml_per_min ventilation_l_per_min
    ventilation_factor=safety_factor"""
_CHECK = "what share time_s depth_mm depth_low_mm depth_high_mm"
_NEUTRALISER = """
    id=ident amount_g end_ph solution_ml=stock_ml water_l vessel_l rise_k gas_l portions portion_g
    wait_min"""
_BATCH = "batch=number pieces start_g_per_l end_g_per_l time_s"
_RINSES = "count volume_l lifts drag_out_l carried_g last_share all_kept"
_ELECTRO = """
    current_a current_density_a_per_cm2=density_a_per_cm2 charge_ah voltage_most_v=voltage_high_v
    supply_a supply_v hydrogen_ml_per_min chlorine_ml_per_min chlorine_air_l_per_min"""


def etch_summary(etch: EtchPlan) -> dict[str, Any]:
    """Return plan.json's `etch`, as docs/reference/plan-json.md describes its keys."""
    batches = etch.batches
    if len(batches) > _MOST_BATCHES:
        batches = (*batches[: _MOST_BATCHES - 1], batches[-1])
    return {
        "etchant": etch.etchant,
        **fields_of(etch, _AMOUNTS),
        "temperature_degc": etch.temperature_degc,
        "strength_g_per_l": six_digits(etch.strength.g_per_l),
        **fields_of(etch, _RATE_AND_TIMES),
        **fields_of(etch.flow, _FLOW),
        "bath": _bath(etch),
        "batch_count": len(etch.batches),
        "batches": [fields_of(batch, _BATCH) for batch in batches],
        "checks": [fields_of(check, _CHECK) for check in etch.schedule],
        "neutralisers": [fields_of(way, _NEUTRALISER) for way in etch.neutralising],
        "not_neutralised_by": [fields_of(way, "id=ident reason") for way in etch.declined],
        **fields_of(etch, "sludge_g"),
        "rinses": None if etch.rinses is None else fields_of(etch.rinses, _RINSES),
        "electro": None if etch.electro is None else _electro(etch.electro),
    }


def _bath(etch: EtchPlan) -> dict[str, Any]:
    pour, mixing = etch.pour, etch.mixing
    return {
        "id": etch.use.ident or None,
        **fields_of(pour, "pieces metal_g"),
        "fill_l": six_digits(etch.bath_fill_l),
        **fields_of(pour, "decided_by heat_l capacity_l"),
        **fields_of(etch, "reagent_fill_g water_l=water_fill_l"),
        **fields_of(mixing, "stock_l stock_water_l"),
        **fields_of(etch, "mixing_rise_k"),
        "mixing_portions": mixing.portions,
        **fields_of(pour, "warms_k=rise_k start_g_per_l end_g_per_l limit_g_per_l tray_mm"),
        **fields_of(pour, "plates_at_once=at_once tray_proposed=is_proposed hangs cover_mm"),
    }


def _electro(electro: Electro) -> dict[str, Any]:
    return {
        **fields_of(electro, "electrolyte valence"),
        "efficiency": six_digits(electro.efficiency.value),
        **fields_of(electro, _ELECTRO),
    }
