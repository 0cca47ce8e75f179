"""The `etch` part of plan.json, also printed by `stopout bath --json`."""

from __future__ import annotations

from typing import Any

from stopout.etching import Electro, EtchPlan, Rinses

_KEYS = (
    "depth_mm",
    "rate_um_per_min",
    "time_s",
    "etched_area_mm2",
    "metal_removed_g",
    "gas_l",
    "gas_wet_l",
    "heat_kj",
    "bath_l",
    "bath_cover_l",
    "reagent_g",
    "reagent_charge_g",
)
# Of very many batches the first and the last say enough.
_MOST_BATCHES = 24


def etch_summary(etch: EtchPlan) -> dict[str, Any]:
    """Return plan.json's `etch`, as docs/reference/plan-json.md describes its keys.

    Parameters
    ----------
    etch : EtchPlan
        The planned etch.
    """
    return {
        "etchant": etch.etchant,
        **{key: _number(getattr(etch, key)) for key in _KEYS},
        "temperature_degc": etch.temperature_degc,
        "strength_g_per_l": _number(etch.strength.g_per_l),
        "rate_low_um_per_min": _number(etch.rate_low_um_per_min),
        "rate_high_um_per_min": _number(etch.rate_high_um_per_min),
        "rate_grade": etch.rate_grade,
        "time_low_s": _number(etch.time_low_s),
        "time_high_s": _number(etch.time_high_s),
        "time_ageing_s": _optional(etch.time_ageing_s),
        "metal_per_piece_g": _number(etch.metal_per_piece_g),
        "air_l_per_min": _optional(etch.air_l_per_min),
        "gas_mean_ml_per_min": _number(etch.flow.mean_ml_per_min),
        "gas_peak_ml_per_min": _number(etch.flow.peak_ml_per_min),
        "ventilation_l_per_min": _optional(etch.flow.ventilation_l_per_min),
        "ventilation_factor": _number(etch.flow.safety_factor),
        "bath": _bath(etch),
        "batch_count": len(etch.batches),
        "batches": _batches(etch),
        "checks": [
            {
                "what": check.what,
                "share": _number(check.share),
                "time_s": _number(check.time_s),
                "depth_mm": _number(check.depth_mm),
                "depth_low_mm": _number(check.depth_low_mm),
                "depth_high_mm": _number(check.depth_high_mm),
            }
            for check in etch.schedule
        ],
        "neutralisers": [
            {
                "id": way.ident,
                "amount_g": _number(way.amount_g),
                "end_ph": way.end_ph,
                "solution_ml": _optional(way.stock_ml),
                "water_l": _number(way.water_l),
                "vessel_l": _number(way.vessel_l),
                "rise_k": _number(way.rise_k),
                "gas_l": _number(way.gas_l),
                "portions": way.portions,
                "portion_g": _number(way.portion_g),
                "wait_min": _number(way.wait_min),
            }
            for way in etch.neutralising
        ],
        "not_neutralised_by": [{"id": way.ident, "reason": way.reason} for way in etch.declined],
        "sludge_g": _optional(etch.sludge_g),
        "rinses": None if etch.rinses is None else _rinses(etch.rinses),
        "electro": None if etch.electro is None else _electro(etch.electro),
    }


def _rinses(rinses: Rinses) -> dict[str, Any]:
    return {
        "count": rinses.count,
        "volume_l": _number(rinses.volume_l),
        "lifts": rinses.lifts,
        "drag_out_l": _number(rinses.drag_out_l),
        "carried_g": _number(rinses.carried_g),
        "last_share": _number(rinses.last_share),
        "all_kept": rinses.all_kept,
    }


def _bath(etch: EtchPlan) -> dict[str, Any]:
    pour, mixing = etch.pour, etch.mixing
    return {
        "id": etch.use.ident or None,
        "pieces": pour.pieces,
        "metal_g": _number(pour.metal_g),
        "fill_l": _number(etch.bath_fill_l),
        "decided_by": pour.decided_by,
        "heat_l": _number(pour.heat_l),
        "capacity_l": _number(pour.capacity_l),
        "reagent_fill_g": _number(etch.reagent_fill_g),
        "water_l": _number(etch.water_fill_l),
        "stock_l": _optional(mixing.stock_l),
        "stock_water_l": _optional(mixing.stock_water_l),
        "mixing_rise_k": _optional(etch.mixing_rise_k),
        "mixing_portions": mixing.portions,
        "warms_k": _number(pour.rise_k),
        "start_g_per_l": _number(pour.start_g_per_l),
        "end_g_per_l": _number(pour.end_g_per_l),
        "limit_g_per_l": _number(pour.limit_g_per_l),
        "tray_mm": [_number(side) for side in pour.tray_mm],
        "plates_at_once": pour.at_once,
        "tray_proposed": pour.is_proposed,
        "hangs": pour.hangs,
        "cover_mm": _number(pour.cover_mm),
    }


def _batches(etch: EtchPlan) -> list[dict[str, Any]]:
    shown = etch.batches
    if len(shown) > _MOST_BATCHES:
        shown = (*shown[: _MOST_BATCHES - 1], shown[-1])
    return [
        {
            "batch": batch.number,
            "pieces": batch.pieces,
            "start_g_per_l": _number(batch.start_g_per_l),
            "end_g_per_l": _number(batch.end_g_per_l),
            "time_s": _optional(batch.time_s),
        }
        for batch in shown
    ]


def _electro(electro: Electro) -> dict[str, Any]:
    return {
        "electrolyte": electro.electrolyte,
        "valence": _number(electro.valence),
        "efficiency": _number(electro.efficiency.value),
        "current_a": _number(electro.current_a),
        "current_density_a_per_cm2": _number(electro.density_a_per_cm2),
        "charge_ah": _number(electro.charge_ah),
        "voltage_most_v": _number(electro.voltage_high_v),
        "supply_a": _number(electro.supply_a),
        "supply_v": _number(electro.supply_v),
        "hydrogen_ml_per_min": _number(electro.hydrogen_ml_per_min),
        "chlorine_ml_per_min": _optional(electro.chlorine_ml_per_min),
        "chlorine_air_l_per_min": _optional(electro.chlorine_air_l_per_min),
    }


def _number(value: float) -> float:
    """Keep six significant digits: more would claim what no bench can hold."""
    return float(f"{float(value):.6g}")


def _optional(value: float | None) -> float | None:
    return None if value is None else _number(value)
