"""plan.json: the plan as plain data, to its contract (docs/reference/plan-json.md)."""

from __future__ import annotations

from typing import Any

from stopout.etching import EtchPlan
from stopout.planning.margins import Advice, Margin
from stopout.planning.plan import CoatPlan, Plan
from stopout.values import Finding

__all__ = ["FORMAT", "file_names", "summarise"]

FORMAT = "stopout-plan-1"

# Shares of the medial axis' length whose widths are stated.
_SHARES = (0.0, 0.05, 0.25, 0.5, 0.75, 0.95)

_ETCH_KEYS = (
    "depth_mm",
    "rate_um_per_min",
    "time_s",
    "etched_area_mm2",
    "metal_removed_g",
    "gas_l",
    "heat_kj",
    "bath_l",
    "bath_cover_l",
    "reagent_g",
    "reagent_charge_g",
)


def summarise(plan: Plan, *, sheets: bool = False) -> dict[str, Any]:
    """Return plan.json's content: lengths mm, areas mm^2, times s unless a key says otherwise.

    Parameters
    ----------
    plan : Plan
        The plan.
    sheets : bool
        Whether sheet.pdf (and later sheet.html) stand beside it.
    """
    job, drawing = plan.job, plan.drawing
    etch = plan.etch
    return {
        "format": FORMAT,
        "job": {
            "name": job.name,
            "revision": job.revision,
            "quantity": job.quantity,
            "job_sha256": job.sha256,
        },
        "artwork": {
            "file": drawing.file,
            "sha256": drawing.sha256,
            "width_mm": _mm(drawing.width_mm),
            "height_mm": _mm(drawing.height_mm),
            "area_mm2": _mm(drawing.area_mm2),
        },
        "orientation": {
            "worked_side": job.blank.worked_side,
            "mirrored": job.blank.is_back_worked,
        },
        "undercut_mm": _mm(etch.undercut_mm) if etch else 0.0,
        "undercut_spread_mm": _mm(etch.undercut_spread_mm) if etch else 0.0,
        "etch_factor": _number(etch.etch_factor.value) if etch else None,
        "coats": [_coat(coat) for coat in plan.coats],
        "etch": _etch(etch) if etch else None,
        "findings": [_finding(finding) for finding in plan.findings],
        "values": [
            {
                "name": value.name,
                "value": value.value,
                "kind": value.kind,
                "grade": value.grade,
                "source": value.source,
            }
            for value in plan.values
        ],
        "blank_at_mm": list(plan.blank_at_mm),
        "files": {
            "preview": "preview.png",
            "sheet_pdf": "sheet.pdf" if sheets else None,
            "sheet_html": None,
            "sheet_json": "sheet.json" if sheets else None,
            "bounds": "bounds.nc" if plan.bounds_program is not None else None,
        },
    }


def file_names(coat: CoatPlan) -> dict[str, str | None]:
    """Return the names of a coat's files; no program where the plan is stopped."""
    number = coat.number
    return {
        "mask_svg": f"mask-{number}.svg",
        "mask_png": f"mask-{number}.png",
        "program": f"clear-{number}.nc" if coat.program is not None else None,
    }


def _coat(coat: CoatPlan) -> dict[str, Any]:
    mask, clearing, outcome = coat.mask, coat.clearing, coat.outcome
    times = clearing.times
    return {
        "coat": coat.number,
        "mask": {
            "openings": mask.openings,
            "area_mm2": _mm(mask.area_mm2),
            "narrowest_opening_mm": _mm(mask.narrowest_opening_mm),
            "narrowest_land_mm": _mm(mask.narrowest_land_mm),
        },
        "clearing": {
            "mark_mm": [_mm(axis.value) for axis in clearing.mark_mm],
            "reach_mm": _mm(clearing.reach_mm),
            "spacing_mm": _mm(clearing.spacing_mm),
            "line_direction": clearing.line_direction,
            "power_fraction": clearing.power_fraction,
            "speed_mm_s": clearing.speed_mm_s,
            "passes": clearing.passes,
            "outline_speed_mm_s": _number(clearing.outline_speed_mm_s),
            "dose_ratio_max": _number(times.dose_ratio_max),
            "cleared_length_mm": _number(times.cleared_length_mm),
            "travel_length_mm": _number(times.travel_length_mm),
            "time_s": _number(times.time_s),
            "time_one_direction_s": _number(clearing.time_one_direction_s),
            "time_other_direction_s": _optional(clearing.time_other_direction_s),
            "time_floor_s": _number(times.time_floor_s),
            "area_floor_s": _number(clearing.area_floor_s),
        },
        "outcome": {
            "area_mm2": _mm(outcome.area_mm2),
            "worst_outside_mm": _mm(outcome.worst_outside_mm),
            "worst_outside_unwidened_mm": _mm(outcome.worst_outside_unwidened_mm),
            "worst_inside_mm": _mm(outcome.worst_inside_mm),
            "lost": outcome.lost,
            "merged": outcome.merged,
            "widened": outcome.widened,
            "finished_land_mm": _mm(coat.finished_land_mm),
        },
        "margins": {"stroke": _margin(coat.stroke), "land": _margin(coat.land)},
        "advice": _advice(coat.advice),
        "widths": {
            "shares": list(_SHARES),
            "target_mm": [_mm(width) for width in coat.widths[0].quantiles(_SHARES)],
            "land_mm": [_mm(width) for width in coat.widths[1].quantiles(_SHARES)],
        },
        "files": file_names(coat),
    }


def _margin(margin: Margin) -> dict[str, Any]:
    return {
        "width_mm": _mm(margin.width_mm),
        "sd_mm": _mm(margin.sd_mm),
        "low_mm": _mm(margin.low_mm),
        "high_mm": _mm(margin.high_mm),
        "survives": margin.survives,
    }


def _advice(advice: Advice) -> dict[str, Any]:
    return {
        "greatest_depth_mm": _optional(advice.greatest_depth_mm),
        "smallest_scale": _optional(advice.smallest_scale),
        "largest_mark_mm": _optional(advice.largest_mark_mm),
        "letter_height_mm": _number(advice.letter_height_mm),
        "standard_height_mm": _optional(advice.standard_height_mm),
    }


def _etch(etch: EtchPlan) -> dict[str, Any]:
    numbers = {key: _number(getattr(etch, key)) for key in _ETCH_KEYS}
    return {
        "etchant": etch.etchant,
        **numbers,
        "temperature_degc": etch.temperature_degc,
        "strength_g_per_l": _number(etch.strength.g_per_l),
        "time_low_s": _number(etch.time_low_s),
        "time_high_s": _number(etch.time_high_s),
        "metal_per_piece_g": _number(etch.metal_per_piece_g),
        "air_l_per_min": _optional(etch.air_l_per_min),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    at = finding.at_mm
    return {
        "code": finding.code,
        "level": str(finding.level),
        "at_mm": None if at is None else [round(at[0], 3), round(at[1], 3)],
        "message": finding.message,
        "remedy": finding.remedy,
    }


def _mm(value: float) -> float:
    """Round to a tenth of a micrometre (of a square one for areas in mm^2): 4 decimals and more."""
    return round(float(value), 5)


def _number(value: float) -> float:
    """Keep six significant digits: more would claim what no bench can hold."""
    return float(f"{float(value):.6g}")


def _optional(value: float | None) -> float | None:
    return None if value is None else _number(value)
