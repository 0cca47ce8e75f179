"""From a plan to what its preview shows."""

from __future__ import annotations

from collections.abc import Sequence

from shapely.geometry.base import BaseGeometry

from stopout.etching import EtchPlan
from stopout.mask import mirror_left_right
from stopout.pictures.piece.deviations import told_in_full
from stopout.pictures.piece.scene import CloseUp, CoatScene, PreviewScene
from stopout.planning import CoatPlan, Plan
from stopout.planning.road.front import coat_tints
from stopout.planning.signs.light import coat_name
from stopout.units import format_duration, format_roughly
from stopout.values import Finding

# Deviations below this are the arithmetic's own and not worth an enlargement.
_NOTICEABLE_MM = 0.006


def preview_scene(plan: Plan) -> PreviewScene:
    """Gather the preview of a plan; of a sign's coats the outcome is that of the least true one."""
    job, coat = plan.job, _least_true(plan)
    outcome = coat.outcome
    return PreviewScene(
        title=_title(plan),
        width_mm=job.blank.width_mm,
        height_mm=job.blank.height_mm,
        blank=plan.face,
        target=coat.target,
        opening=coat.opening,
        finished=coat.finished,
        too_much=outcome.too_much,
        too_little=outcome.too_little,
        lost=outcome.lost_parts,
        widened=outcome.widened_parts,
        outcome_of=f": coat {coat.number}, {coat.coat.colour}" if len(plan.coats) > 1 else "",
        is_back_worked=job.blank.is_back_worked,
        has_beam=job.route.has_beam,
        numbers=_numbers(plan),
        findings=_told(plan),
        headline=plan.full_headline,
        is_draft=plan.is_draft,
        verdict=tuple(one.brief for one in plan.verdict.lines),
        verdict_in_full=tuple(told_in_full(one) for one in plan.verdict.lines),
        state=plan.verdict.state,
        front_view=() if plan.front is None else _in_colours(plan, plan.front.views),
        tints=_tints(plan),
        drawn=plan.drawing.picture if plan.front is not None else None,
        coats=_coats(plan),
        missed_view=_missed_view(plan),
        missed_note=_missed_note(plan),
        material=job.blank.material,
        resist_colour=job.coats[0].colour,
        lit_edge="" if job.light is None else job.light.edge,
        edge_tolerance_mm=job.limits.edge_tolerance_mm,
        worst=_worst(coat),
        thinnest=_thinnest(coat),
        least_stroke_mm=coat.stroke.width_mm,
    )


def _told(plan: Plan) -> tuple[Finding, ...]:
    """Return the findings about things, each at all of its places, in the verdict's order."""
    return tuple(
        Finding(code=one.code, level=one.level, message=one.message, remedy=one.remedy, at_mm=place)
        for one in plan.verdict.told
        for place in (one.places_mm or (None,))
    )


def _least_true(plan: Plan) -> CoatPlan:
    """Return the coat whose edges stray farthest from the artwork."""
    return max(
        plan.coats,
        key=lambda coat: max(coat.outcome.worst_outside_mm, coat.outcome.worst_inside_mm),
    )


def _worst(coat: CoatPlan) -> CloseUp | None:
    """Return the place that strays farthest from the artwork; None lets the picture find none."""
    outcome = coat.outcome
    found = [
        (outcome.worst_outside_mm, outcome.worst_outside_at, "outside"),
        (outcome.worst_inside_mm, outcome.worst_inside_at, "inside"),
    ]
    distance, at, side = max(found, key=lambda entry: entry[0])
    if at is None or distance < _NOTICEABLE_MM:
        return None
    caption = f"{1000 * distance:.0f} µm {side} the artwork"
    return CloseUp(at_mm=at, caption=caption, span_mm=min(max(6 * distance, 0.6), 4.0))


def _thinnest(coat: CoatPlan) -> CloseUp | None:
    """Return the thinnest stroke that the mask had to treat; None lets the picture look for one."""
    if not coat.thin_places:
        return None
    place = min(coat.thin_places, key=lambda entry: entry.width_mm)
    caption = f"thinnest stroke, drawn {place.width_mm:.3f} mm wide: {place.treatment}"
    return CloseUp(at_mm=place.at_mm, caption=caption, span_mm=max(0.9, 4 * place.width_mm))


def _title(plan: Plan) -> tuple[str, ...]:
    job = plan.job
    blank = (
        f"{plan.material.name}, {job.blank.width_mm:g} x {job.blank.height_mm:g} x "
        f"{job.blank.thickness_mm:g} mm"
    )
    lines = [job.name, f"revision {job.revision}, {plan.told_count}; {blank}"]
    if plan.is_draft:
        lines.append("draft: nothing to work from")
    if plan.etch is not None and not plan.is_stopped:
        lines.append(
            f"{plan.etch.depth_mm:g} mm deep in {plan.etch.etchant_name}, "
            f"{plan.etch.temperature_degc:g} degC"
        )
    return tuple(lines)


def _numbers(plan: Plan) -> tuple[tuple[str, str], ...]:
    rows: list[tuple[str, str]] = []
    for coat in plan.coats:
        of = f", coat {coat.number}" if len(plan.coats) > 1 else ""
        rows += _coat_numbers(coat, of=of, is_light=plan.job.route.is_lit)
    # A stopped plan gives no recipe.
    if plan.etch is not None and not plan.is_stopped:
        rows += [
            ("etching time", etch_time(plan.etch)),
            ("undercut per edge", f"{1000 * plan.etch.undercut_mm:.0f} um"),
            ("bath, at least", f"{least_bath_l(plan.etch):.2f} L"),
        ]
    return tuple(rows)


def _coat_numbers(coat: CoatPlan, *, of: str, is_light: bool) -> list[tuple[str, str]]:
    outcome = coat.outcome
    rows = [
        (
            f"narrowest {'mark' if is_light else 'opening'}{of}",
            f"{coat.mask.narrowest_opening_mm:.3f} mm",
        ),
        (
            f"narrowest {'gap' if is_light else 'finished land'}{of}",
            f"{coat.finished_land_mm:.3f} mm",
        ),
        (f"edge outside the artwork, worst{of}", f"{1000 * outcome.worst_outside_mm:.0f} um"),
        (f"edge short of the artwork, worst{of}", f"{1000 * outcome.worst_inside_mm:.0f} um"),
    ]
    if coat.clearing is not None:
        rows.append(
            (
                f"{'marking' if is_light else 'clearing'} time{of}",
                format_duration(coat.clearing.times.time_s),
            )
        )
    return rows


def _tints(plan: Plan) -> tuple[str, ...]:
    """Return each coat's tint, a diffuser's as it looks lit."""
    if plan.front is None:
        return ()
    return tuple(
        f"{tint} diffuser" if resist.is_diffuser and not coat.is_window else tint
        for coat, resist, tint in zip(
            plan.job.coats, plan.resists, coat_tints(plan.job, plan.front), strict=True
        )
    )


def _in_colours(plan: Plan, views: Sequence[BaseGeometry]) -> tuple[tuple[str, BaseGeometry], ...]:
    width = plan.job.blank.width_mm
    return tuple(
        (coat_name(coat, resist), mirror_left_right(region, width_mm=width))
        for coat, resist, region in zip(plan.job.coats, plan.resists, views, strict=True)
    )


def _coats(plan: Plan) -> tuple[CoatScene, ...]:
    """Return a sign's cleared coats, where there are several."""
    if plan.front is None or len(plan.coats) < 2:
        return ()
    is_through = plan.front.method == "through"
    return tuple(
        CoatScene(
            number=coat.number,
            colour=coat_name(coat.coat, plan.resists[coat.number - 1]),
            opening=coat.opening,
            note="As worked. Light: cleared"
            + (" through all coats." if is_through and coat.number > 1 else "."),
        )
        for coat in plan.coats
    )


def _missed_view(plan: Plan) -> tuple[tuple[str, BaseGeometry], ...]:
    if plan.front is None or plan.front.moved_views is None:
        return ()
    return _in_colours(plan, plan.front.moved_views)


def _missed_note(plan: Plan) -> str:
    if plan.front is None or plan.front.slip is None:
        return ""
    error, width = plan.job.registration.error_mm, plan.front.slip.width_mm
    sliver = (
        f"a wrong colour shows up to {width:.2f} mm wide."
        if width > 0
        else "no wrong colour shows, edges move."
    )
    return f"One clearing {error:g} mm off: {sliver}"


def etch_time(etch: EtchPlan) -> str:
    """The etch time in words, with its range where the rate is one."""
    time = format_duration(etch.time_s)
    if etch.time_high_s <= etch.time_low_s:
        return time
    return f"{time} ({format_roughly(etch.time_low_s)} to {format_roughly(etch.longest_s)})"


def least_bath_l(etch: EtchPlan) -> float:
    """The bath that everything in it asks for, spares and coupon included [L]."""
    return max(etch.pour.heat_l, etch.pour.capacity_l, etch.pour.cover_l)
