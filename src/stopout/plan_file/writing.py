"""plan.json: the plan as plain data, to its contract (docs/reference/plan-json.md)."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from stopout.job.record import Job
from stopout.mask import Bridge, NarrowLand, ThinPlace, islands_of
from stopout.plan_file import FORMAT
from stopout.planning.etch.summary import etch_summary
from stopout.planning.opening.by_film import film_dark_is_art, film_reading
from stopout.planning.plain import fields_of
from stopout.planning.plan import ClearingNumbers, CoatPlan, LightPlan, Plan, file_names
from stopout.planning.road.times import coat_times
from stopout.planning.signs.front import Front
from stopout.planning.verdict import Told, Verdict
from stopout.units import six_digits
from stopout.values import COORDINATE_DECIMALS, Stated

# Shares of the medial axis' length whose widths are stated.
_SHARES = (0.0, 0.05, 0.25, 0.5, 0.75, 0.95)

# What is told of records, by the names of their fields, or as key=field.
_OUTCOME = "area_mm2 worst_outside_mm worst_outside_unwidened_mm worst_inside_mm"
_MARGIN = "width_mm sd_mm low_mm high_mm survives"
_ADVICE = """
    greatest_depth_mm smallest_scale largest_mark_mm letter_height_mm standard_height_mm"""
_DOTS = "count dwell_s power_fraction=power time_strokes_s"
_ORDER = "coats time_s now_s sliver_mm"
_COLOUR = "colour drawn_mm2 seen_mm2 wrong_mm2 coats"
_THIN = "width_mm expected_mm length_mm treatment joins_parts spoils_land"
_NARROW = "width_mm needed_mm length_mm widened=is_widened"
_BRIDGE = "width_mm=drawn_mm resist_mm over_mm"
# How far the outline of the face may be simplified: only stray spots are looked for up to it.
_FACE_LEAN_MM = 0.02

# Chords of outlines stand off their curves by 0.3 um, two thinnings of arcs by 0.1 um each.
_CHORD_ERROR_MM = 0.0005


def summarise(plan: Plan, *, sheets: bool = False) -> dict[str, Any]:
    """Return plan.json's content: lengths mm, areas mm^2, times s unless a key says otherwise.

    Parameters
    ----------
    plan : Plan
        The plan.
    sheets : bool
        Whether sheet.pdf, sheet-annex.pdf, sheet.html and sheet.json stand beside it.
    """
    job, drawing = plan.job, plan.drawing
    etch = plan.etch
    return {
        "format": FORMAT,
        "draft": plan.is_draft,
        "job": fields_of(job, "name revision quantity spares job_sha256=sha256"),
        "artwork": _told_of(drawing, "file sha256 width_mm height_mm area_mm2"),
        "orientation": fields_of(job.blank, "worked_side mirrored=is_back_worked"),
        "method": job.method,
        "blank": _blank(plan),
        "undercut_mm": _mm(etch.undercut_mm) if etch else 0.0,
        "undercut_spread_mm": _mm(etch.undercut_spread_mm) if etch else 0.0,
        "etch_factor": six_digits(etch.etch_factor.value) if etch else None,
        "coats": [_whole_coat(coat, plan) for coat in plan.coats],
        "front": _front(plan.front, job) if plan.front else None,
        "colours": _colours(plan.front),
        "light": _light(plan.light) if plan.light else None,
        "pieces": _pieces(plan),
        # Of a bath that is refused, or whose rate nobody knows, no amounts are given.
        "etch": etch_summary(etch) if etch and not plan.is_bath_refused else None,
        "verdict": _verdict(plan.verdict),
        "findings": [_told(one) for one in plan.verdict.told],
        "spans": _spans(plan),
        "values": [asdict(value) for value in _values(plan)],
        "blank_at_mm": list(plan.blank_at_mm) if job.route.has_beam else None,
        "machine": asdict(job.laser) if job.route.has_beam else None,
        "files": {
            "preview": "preview.png",
            "sheet_pdf": "sheet.pdf" if sheets else None,
            # A sheet that says STOP has nothing to look up.
            "sheet_annex": "sheet-annex.pdf" if sheets and not plan.is_stopped else None,
            "sheet_html": "sheet.html" if sheets else None,
            "sheet_json": "sheet.json" if sheets else None,
            "bounds": "bounds.nc" if plan.bounds_program is not None else None,
        },
    }


def _whole_coat(coat: CoatPlan, plan: Plan) -> dict[str, Any]:
    job = plan.job
    is_timed = coat.clearing is not None and not job.route.is_lit
    error_mm = _mm(_program_error_mm(job.laser.step_mm)) if job.route.has_beam else None
    return {
        **_coat(coat, job, plan.face),
        "files": file_names(coat, is_draft=plan.is_draft),
        "times": coat_times(coat, job) if is_timed else None,
        "program_error_mm": error_mm,
    }


def _spans(plan: Plan) -> list[dict[str, Any]]:
    spans = plan.job.laser.spans if plan.job.route.has_beam else ()
    return [fields_of(span, "name value low high unit") for span in spans]


def _values(plan: Plan) -> tuple[Stated, ...]:
    if not plan.job.route.has_beam:
        return plan.values
    return (*plan.values, _program_error(plan.job.laser.step_mm))


def _light(light: LightPlan) -> dict[str, Any]:
    keys = "near_mm far_mm spacing_mm aimed covered"
    return {
        "edge": light.edge,
        "far": light.far,
        "bands": [_told_of(band, keys) for band in light.bands],
    }


def _blank(plan: Plan) -> dict[str, Any]:
    """Return what a scan of the piece is held against: its face as worked, holes cut out."""
    blank, etch = plan.job.blank, plan.job.etch
    face = shapely.simplify(plan.face, _FACE_LEAN_MM)
    return {
        **_told_of(blank, "material finish width_mm height_mm thickness_mm"),
        "agitation": etch.agitation if etch else None,
        "face_mm": [
            [[_mm(float(x)), _mm(float(y))] for x, y in shapely.get_coordinates(ring)[:-1]]
            for ring in shapely.get_rings(shapely.get_parts(face))
        ],
    }


def _program_error_mm(step_mm: float) -> float:
    """Return how far the beam may stray from the planned path: chords, rounding, half a step."""
    rounding = math.sqrt(2) / 2 * 0.1**COORDINATE_DECIMALS
    return float(_CHORD_ERROR_MM + rounding + step_mm / 2)


def _program_error(step_mm: float) -> Stated:
    return Stated(
        name="program error and half a step",
        value=f"{1000 * _program_error_mm(step_mm):.2f} um",
        kind="computed",
        source=(
            f"chords {1000 * _CHORD_ERROR_MM:g} um, coordinates to {COORDINATE_DECIMALS} decimals, "
            "half a motor step"
        ),
    )


def _coat(coat: CoatPlan, job: Job, face: BaseGeometry) -> dict[str, Any]:
    mask, outcome = coat.mask, coat.outcome

    return {
        "coat": coat.number,
        "mask": _told_of(mask, "openings area_mm2 narrowest_opening_mm narrowest_land_mm"),
        "clearing": None if coat.clearing is None else _clearing(coat.clearing),
        "film": _film(coat, job, face),
        "outcome": {
            **_told_of(outcome, _OUTCOME),
            "lost": coat.lost,
            "merged": coat.merged,
            "widened": outcome.widened,
            "finished_land_mm": _mm(coat.finished_land_mm),
        },
        "thin_strokes": [_placed(place, _THIN) for place in coat.thin_places],
        "narrow_lands": [_placed(land, _NARROW) for land in coat.narrow_lands],
        "lost_bridges": [_placed(bridge, _BRIDGE) for bridge in coat.bridges],
        "lost_counters": [_placed(counter, _BRIDGE) for counter in coat.counters],
        "margins": {"stroke": _told_of(coat.stroke, _MARGIN), "land": _told_of(coat.land, _MARGIN)},
        "advice": fields_of(coat.advice, _ADVICE),
        "widths": {
            "shares": list(_SHARES),
            "target_mm": [_mm(width) for width in coat.widths[0].quantiles(_SHARES)],
            "land_mm": [_mm(width) for width in coat.widths[1].quantiles(_SHARES)],
        },
        "program_bytes": None if coat.program is None else len(coat.program),
        "program_moves": len(coat.moves),
    }


def _clearing(clearing: ClearingNumbers) -> dict[str, Any]:
    times = clearing.times
    return {
        "mark_mm": [_mm(axis.value) for axis in clearing.mark_mm],
        **_told_of(clearing, "reach_mm spacing_mm line_direction"),
        "power_fraction": clearing.power_fraction,
        "speed_mm_s": clearing.speed_mm_s,
        **fields_of(clearing, "passes outline_speed_mm_s"),
        "dose_ratio_max": six_digits(times.dose_ratio_max),
        "lines_per_s_max": times.lines_per_s_max,
        **fields_of(times, "cleared_length_mm travel_length_mm time_s"),
        **fields_of(clearing, "time_range_s time_one_direction_s time_other_direction_s"),
        "time_floor_s": six_digits(times.time_floor_s),
        "area_floor_s": six_digits(clearing.area_floor_s),
        "dots": None if clearing.dots is None else fields_of(clearing.dots, _DOTS),
        "focus_step_mm": clearing.focus_step_mm,
    }


def _film(coat: CoatPlan, job: Job, face: BaseGeometry) -> dict[str, Any] | None:
    """How the opening is drawn for a film or a knife; None where a beam clears it."""
    if coat.drawn is None:
        return None
    back = job.blank.is_back_worked
    made: dict[str, Any] = {
        "smallest_opening_mm": _mm(coat.mark_mm[0].value),
        "reach_mm": _mm(coat.reach_mm),
        "drawn_area_mm2": _mm(coat.drawn.area),
    }
    if job.film is not None:
        film, side = job.film, job.film.printed_side
        reading = film_reading(is_back_worked=back, printed_side=side)
        return made | {
            "growth_mm": film.growth_mm,
            "resist_acts": film.resist_acts,
            "dark_is_art": film_dark_is_art(
                film.resist_acts, letters_opened=job.artwork.dark == "recessed"
            ),
            "printed_side": side,
            "printed_mirrored": reading.page == "BACKWARDS",
            "reads_on_work": reading.on_work,
            "page_mm": list(film.page_mm),
        }
    islands = islands_of(coat.drawn, face)
    return made | {
        "islands": len(islands),
        "smallest_island_mm": _mm(islands[0].across_mm) if islands else None,
        "bridges": len(coat.bridge_ties),
    }


def _front(front: Front, job: Job) -> dict[str, Any]:
    slip = front.slip
    return {
        "method": front.method,
        "reason": front.reason,
        "clearings": front.n_clearings,
        **fields_of(front.agreement, "agreement=share agreement_by_coat=by_coat"),
        "registration_error_mm": job.registration.error_mm,
        "sliver_mm": None if slip is None else _mm(slip.width_mm),
        "sliver_at_mm": None
        if slip is None or slip.at_mm is None
        else [round(axis, 3) for axis in slip.at_mm],
        "placing_mm": job.registration.placing_mm,
        "bleed_mm": _mm(front.bleed_mm),
        "edge_sliver_mm": _mm(front.edge_sliver[0]),
        "order": None if front.order is None else _told_of(front.order, _ORDER),
    }


def _colours(front: Front | None) -> list[dict[str, Any]] | None:
    """The artwork's colours and what becomes of them; None where no rendering shows them."""
    if front is None or front.compared is None:
        return None
    return [_told_of(row, _COLOUR) for row in front.compared.colours]


def _placed(record: ThinPlace | NarrowLand | Bridge, keys: str) -> dict[str, Any]:
    return {"at_mm": [round(axis, 3) for axis in record.at_mm], **_told_of(record, keys)}


def _verdict(verdict: Verdict) -> dict[str, Any]:
    """The verdict: what to act on first, at most five lines."""
    return {
        "state": verdict.state,
        "unmeasured": verdict.unmeasured,
        "lines": [
            {"code": one.code, "level": str(one.level), "message": one.text, "places": _places(one)}
            for one in verdict.lines
        ],
    }


def _told(one: Told) -> dict[str, Any]:
    places = _places(one)
    return {
        "code": one.code,
        "level": str(one.level),
        "thing": one.thing,
        "at_mm": places[0] if places else None,
        "places_mm": places,
        "message": one.message,
        "remedy": one.remedy,
    }


def _places(one: Told) -> list[list[float]]:
    return [[round(x, 3), round(y, 3)] for x, y in one.places_mm]


def _mm(value: float) -> float:
    """Round to a tenth of a micrometre (of a square one for areas in mm^2): 4 decimals and more."""
    return round(float(value), 5)


def _told_of(record: object, keys: str) -> dict[str, Any]:
    return fields_of(record, keys, length=_mm)


def _pieces(plan: Plan) -> list[dict[str, Any]]:
    """The pieces of a series, each with its place as worked and the program that clears it."""
    plans = dict(plan.numbered_panels)
    if not plan.are_loose:
        plans[1] = plan
    names = {
        number: file_names(panel.coats[0])["program"] if panel.coats else None
        for number, panel in plans.items()
    }
    return [
        {
            "number": piece.number,
            "fields": dict(piece.fields),
            "panel": piece.panel,
            "at_mm": list(piece.at_mm),
            "size_mm": list(piece.size_mm),
            "program": None if name is None else plan.panel_file(name, piece.panel),
        }
        for piece in plan.pieces
        for name in (names[piece.panel],)
    ]
