"""From a plan to what its preview shows."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from stopout.mask import mirror_left_right
from stopout.pictures import Place, PreviewScene
from stopout.planning import CoatPlan, Plan, front_view
from stopout.units import format_duration

__all__ = ["preview_scene", "result_lines"]

# Deviations below this are the arithmetic's own and not worth an enlargement.
_NOTICEABLE_MM = 0.006


def preview_scene(plan: Plan) -> PreviewScene:
    """Gather the preview of a plan; a sign's coats are drawn together, all cleared openings."""
    job = plan.job
    outcomes = [coat.outcome for coat in plan.coats]
    return PreviewScene(
        title=_title(plan),
        width_mm=job.blank.width_mm,
        height_mm=job.blank.height_mm,
        blank=plan.face,
        target=_union([coat.target for coat in plan.coats]),
        opening=_union([coat.opening for coat in plan.coats]),
        finished=_union([coat.finished for coat in plan.coats]),
        too_much=_union([outcome.too_much for outcome in outcomes]),
        too_little=_union([outcome.too_little for outcome in outcomes]),
        lost=_union([outcome.lost_parts for outcome in outcomes]),
        widened=_union([outcome.widened_parts for outcome in outcomes]),
        is_back_worked=job.blank.is_back_worked,
        numbers=_numbers(plan),
        findings=plan.findings,
        front_view=_front_view(plan),
        material=job.blank.material,
        resist_colour=job.coats[0].colour,
        edge_tolerance_mm=job.limits.edge_tolerance_mm,
        worst=_worst(plan),
        thinnest=_thinnest(plan),
    )


def _worst(plan: Plan) -> Place | None:
    """Return the place that strays farthest from the artwork; None lets the picture find none."""
    found = []
    for coat in plan.coats:
        outcome = coat.outcome
        found += [
            (outcome.worst_outside_mm, outcome.worst_outside_at, "outside"),
            (outcome.worst_inside_mm, outcome.worst_inside_at, "inside"),
        ]
    distance, at, side = max(found, key=lambda entry: entry[0])
    if at is None or distance < _NOTICEABLE_MM:
        return None
    caption = f"{1000 * distance:.0f} µm {side} the artwork"
    return Place(at_mm=at, caption=caption, span_mm=min(max(6 * distance, 0.6), 4.0))


def _thinnest(plan: Plan) -> Place | None:
    """Return the thinnest stroke that the mask had to treat; None lets the picture look for one."""
    places = [place for coat in plan.coats for place in coat.thin_places]
    if not places:
        return None
    place = min(places, key=lambda entry: entry.width_mm)
    caption = f"thinnest stroke, drawn {place.width_mm:.3f} mm wide: {place.treatment}"
    return Place(at_mm=place.at_mm, caption=caption, span_mm=max(0.9, 4 * place.width_mm))


def _union(regions: list[BaseGeometry]) -> BaseGeometry:
    return regions[0] if len(regions) == 1 else shapely.union_all(regions)


def _title(plan: Plan) -> tuple[str, ...]:
    job = plan.job
    blank = (
        f"{plan.material.name}, {job.blank.width_mm:g} x {job.blank.height_mm:g} x "
        f"{job.blank.thickness_mm:g} mm"
    )
    lines = [job.name, f"revision {job.revision}, {job.quantity} wanted; {blank}"]
    if plan.etch is not None and not plan.is_stopped:
        lines.append(
            f"{plan.etch.depth_mm:g} mm deep in {plan.etch.etchant_name}, "
            f"{plan.etch.temperature_degc:g} degC"
        )
    return tuple(lines)


def _numbers(plan: Plan) -> tuple[tuple[str, str], ...]:
    rows: list[tuple[str, str]] = []
    for coat in plan.coats:
        rows += _coat_numbers(coat, of=f", coat {coat.number}" if len(plan.coats) > 1 else "")
    # A stopped plan gives no recipe.
    if plan.etch is not None and not plan.is_stopped:
        rows += [
            ("etching time", format_duration(plan.etch.time_s)),
            ("undercut per edge", f"{1000 * plan.etch.undercut_mm:.0f} um"),
            ("bath, at least", f"{max(plan.etch.bath_l, plan.etch.bath_cover_l):.2f} L"),
        ]
    return tuple(rows)


def _coat_numbers(coat: CoatPlan, *, of: str) -> list[tuple[str, str]]:
    outcome, clearing = coat.outcome, coat.clearing
    return [
        (f"narrowest opening{of}", f"{coat.mask.narrowest_opening_mm:.3f} mm"),
        (f"narrowest finished land{of}", f"{coat.finished_land_mm:.3f} mm"),
        (f"edge outside the artwork, worst{of}", f"{1000 * outcome.worst_outside_mm:.0f} um"),
        (f"edge short of the artwork, worst{of}", f"{1000 * outcome.worst_inside_mm:.0f} um"),
        (f"clearing time{of}", format_duration(clearing.times.time_s)),
    ]


def _front_view(plan: Plan) -> tuple[tuple[str, BaseGeometry], ...]:
    """Return each coat's colour with the region seen through the front, as seen."""
    if not plan.shown:
        return ()
    cleared: list[BaseGeometry | None] = [None] * len(plan.job.coats)
    for coat in plan.coats:
        cleared[coat.number - 1] = coat.opening
    width = plan.job.blank.width_mm
    regions = front_view(plan.face, cleared)
    return tuple(
        (coat.colour, mirror_left_right(region, width_mm=width))
        for coat, region in zip(plan.job.coats, regions, strict=True)
    )


def result_lines(plan: Plan, folder: object) -> list[str]:
    """Return the few lines that tell a person what the plan came to."""
    lines = []
    for coat in plan.coats:
        clearing, outcome = coat.clearing, coat.outcome
        times = clearing.times
        lines += [
            f"coat {coat.number}: {coat.mask.openings} openings, {coat.mask.area_mm2:.1f} mm^2; "
            f"narrowest opening {coat.mask.narrowest_opening_mm:.3f} mm, "
            f"narrowest finished land {coat.finished_land_mm:.3f} mm",
            f"  clearing {format_duration(times.time_s)} "
            f"(one way, line by line: {format_duration(clearing.time_one_direction_s)}); "
            f"lines along {clearing.line_direction}, {clearing.spacing_mm:.4g} mm apart",
            f"  predicted edge: at most {1000 * outcome.worst_outside_mm:.0f} um outside and "
            f"{1000 * outcome.worst_inside_mm:.0f} um short of the artwork; lost {outcome.lost}, "
            f"merged {outcome.merged}, widened {outcome.widened}",
        ]
    etch = plan.etch
    if etch is not None and not plan.is_stopped:
        lines.append(
            f"etch {etch.depth_mm:g} mm in {etch.etchant_name}: {format_duration(etch.time_s)}, "
            f"bath {max(etch.bath_l, etch.bath_cover_l):.2f} L or more, gas {etch.gas_l:.2f} L, "
            f"heat {etch.heat_kj:.1f} kJ for {plan.job.quantity} piece(s)"
        )
    verdict = "STOP: no program was written; see the stops above" if plan.is_stopped else "ready"
    return [*lines, f"{folder}: {verdict}"]
