"""Findings about a coat's shapes: thin strokes, what is lost, where the edge errs."""

from __future__ import annotations

import math

from stopout.etching import EtchPlan
from stopout.job.record import Job
from stopout.mask import ThinPlace
from stopout.planning.findings.lands import land_findings
from stopout.planning.measures.margins import needed_stroke_mm, stroke_remedies
from stopout.planning.measures.wording import makers, shallower, where
from stopout.planning.plan import CoatPlan
from stopout.values import Finding, Level

# More strokes than this that come out within the tolerance are told in one finding.
_MADE_LISTED = 8


def shape_findings(coat: CoatPlan, job: Job, etch: EtchPlan | None) -> list[Finding]:
    """Findings about what can be made of a coat's shapes, and what is left of the lands."""
    found = _thin_findings(coat, job, etch)
    found += _outcome_findings(coat, job)
    found += land_findings(coat, job, etch)
    return found


def _thin_findings(coat: CoatPlan, job: Job, etch: EtchPlan | None) -> list[Finding]:
    """One finding for each thin stroke; many that are simply made share one."""
    made = [place for place in coat.thin_places if place.treatment == "made"]
    decided = [place for place in coat.thin_places if place.treatment != "made"]
    if len(made) <= _MADE_LISTED:
        return [_thin_finding(place, coat, job, etch) for place in [*decided, *made]]
    found = [_thin_finding(place, coat, job, etch) for place in decided]
    thinnest = min(made, key=lambda place: place.width_mm)
    length = sum(place.length_mm for place in made)
    found.append(
        Finding.note(
            "thin-opening",
            f"{len(made)} strokes narrower than the {2 * coat.reach_mm:.3f} mm "
            f"that {makers(job)}, {length:.1f} mm in all, are followed along their centre "
            f"line; they come out within the edge tolerance. The thinnest, "
            f"{thinnest.width_mm:.3f} mm {where(thinnest.at_mm, job)}, is finished "
            f"{thinnest.expected_mm:.3f} mm wide",
            "",
            at_mm=thinnest.at_mm,
            kind="made",
            size_mm=thinnest.width_mm,
        )
    )
    return found


def _thin_finding(place: ThinPlace, coat: CoatPlan, job: Job, etch: EtchPlan | None) -> Finding:
    """Say what becomes of a stroke that is too thin."""
    needed = _needed_mm(place, coat, job, etch)
    level, becomes, remedy = _treated(place, _thicker(place, needed, coat, job, etch))
    is_point = place.narrowest_mm < place.width_mm / 2
    return Finding(
        code="thin-opening",
        level=level,
        message=(
            f"a stroke {place.width_mm:.3f} mm wide {where(place.at_mm, job)} is narrower than "
            f"the {2 * coat.reach_mm:.3f} mm that {makers(job)}{becomes}"
        ),
        remedy=remedy,
        at_mm=place.at_mm,
        kind=place.treatment,
        size_mm=place.width_mm,
        needs_mm=None if is_point else needed,
    )


def _treated(place: ThinPlace, thicker: str) -> tuple[Level, str, str]:
    """How grave it is, what is made of the stroke, and what to do about it."""
    over = f"over {max(place.length_mm, 0.01):.2f} mm"
    if place.treatment == "made":
        made = (
            f"; {over} it is followed along its centre line and finished "
            f"{place.expected_mm:.3f} mm wide, within the edge tolerance"
        )
        return Level.NOTE, made, ""
    if place.treatment == "widened":
        joined = "; it then meets its neighbour" if place.joins_parts else ""
        if place.spoils_land:
            joined = "; the land beside it then closes or gets narrower than the shop's limit"
        made = f"; {over} it is widened to {place.expected_mm:.3f} mm{joined}"
        return Level.CAUTION, made, thicker
    if place.treatment == "left out":
        spoilt = ", since widened it takes land that must stay" if place.spoils_land else ""
        return Level.CAUTION, f"; {over} it is left out{spoilt}", thicker
    return Level.STOP, f" ({over})", f'{thicker} Or set too_thin = "widen" or "leave-out".'


def _needed_mm(place: ThinPlace, coat: CoatPlan, job: Job, etch: EtchPlan | None) -> float:
    """How wide the stroke must be drawn to be made."""
    needed = _least_mm(coat, job, etch)
    # Wide enough by itself: what is beside it is in the way of what the tolerance would allow.
    return 2 * coat.reach_mm if place.narrowest_mm >= needed else needed


def _least_mm(coat: CoatPlan, job: Job, etch: EtchPlan | None) -> float:
    """The drawn width from which a stroke is made, were nothing beside it."""
    return needed_stroke_mm(
        mark_mm=max(axis.value for axis in coat.mark_mm),
        undercut_mm=etch.undercut_mm if etch else 0.0,
        edge_tolerance_mm=job.limits.edge_tolerance_mm,
    )


def _thicker(
    place: ThinPlace, needed_mm: float, coat: CoatPlan, job: Job, etch: EtchPlan | None
) -> str:
    wider = _drawn_thicker(place, needed_mm)
    if place.narrowest_mm < place.width_mm / 2:
        return f"{wider}. A point is best ended bluntly, or left as it is."
    if place.joins_parts or place.spoils_land:
        if place.narrowest_mm >= _least_mm(coat, job, etch):
            return "Draw the gap beside it wider."
        return f"{wider}, and the gap beside it wider too."
    ways = stroke_remedies(
        place.narrowest_mm,
        mark_mm=max(axis.value for axis in coat.mark_mm),
        undercut_mm=etch.undercut_mm if etch else 0.0,
        factor=etch.etch_factor if etch is not None else None,
        edge_tolerance_mm=job.limits.edge_tolerance_mm,
    )
    return f"{wider}. {ways}"


def _drawn_thicker(place: ThinPlace, needed_mm: float) -> str:
    """Say how wide to draw a stroke, rounded up; sizes are told for its narrowest place."""
    wide = math.ceil(100 * needed_mm - 1e-6) / 100
    if place.narrowest_mm < 0.95 * place.width_mm:
        least = f"{place.narrowest_mm:.3f} mm at its narrowest now"
        return f"Draw it {wide:.2f} mm wide or more throughout ({least})"
    return f"Draw it {wide:.2f} mm wide or more"


def _outcome_findings(coat: CoatPlan, job: Job) -> list[Finding]:
    """Compare the prediction with the artwork."""
    outcome, tolerance = coat.outcome, job.limits.edge_tolerance_mm
    if coat.opening.is_empty:
        return [
            Finding.stop(
                "nothing-to-clear",
                f"coat {coat.number}: nothing of the artwork can be made, all is too thin",
                f"Draw it thicker,{shallower(job)} or use a finer mark.",
            )
        ]
    found = []
    left_out = any(place.treatment == "left out" for place in coat.thin_places)
    # The last micrometre is the arithmetic's own.
    if outcome.worst_inside_mm > tolerance + 0.001 and not left_out:
        found.append(
            Finding.note(
                "corner-short",
                f"the finished edge stops {outcome.worst_inside_mm:.3f} mm short of the "
                f"artwork {where(outcome.worst_inside_at, job)}: sharp corners are rounded "
                f"to the reach of {coat.reach_mm:.3f} mm",
                f"Use a finer mark,{shallower(job)} or accept rounder corners.",
                at_mm=outcome.worst_inside_at,
            )
        )
    if outcome.worst_outside_unwidened_mm > tolerance + 0.001:
        found.append(
            Finding.caution(
                "edge-outside",
                f"the finished edge goes {outcome.worst_outside_unwidened_mm:.3f} mm beyond "
                f"the artwork {where(outcome.worst_outside_unwidened_at, job)}",
                "Check the spacing and the mark that the job gives.",
                at_mm=outcome.worst_outside_unwidened_at,
            )
        )
    return found
