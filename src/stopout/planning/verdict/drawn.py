"""What a reader looks for in a coat: the drawing's parts, and what the prediction shows of them."""

from __future__ import annotations

from shapely.geometry.base import BaseGeometry

from stopout.job.record import Job
from stopout.mask import erode
from stopout.outcome import Change, changed_parts


def field_of(job: Job) -> float | None:
    """Return how wide the border is in which a raised drawing stands; None where none stands."""
    is_raised = job.artwork.dark == "raised" and not job.route.is_sign
    return (job.artwork.field_mm or 0.0) if is_raised else None


def changes_of(
    *,
    target: BaseGeometry,
    finished: BaseGeometry,
    face: BaseGeometry,
    reach_mm: float,
    edge_tolerance_mm: float,
    field_mm: float | None = None,
) -> tuple[Change, ...]:
    """Hold the drawing against the prediction, part by part.

    Parameters
    ----------
    target, finished, face : BaseGeometry
        The coat's target, the predicted region and the blank's face, as worked.
    reach_mm : float
        Undercut and half a mark.
    edge_tolerance_mm : float
        By how much edges may err.
    field_mm : float, optional
        From `field_of`: of a raised job what stands is looked at.
    """
    drawn, made = target, finished
    if field_mm is not None:
        field = erode(face, field_mm)
        drawn, made = field.difference(target), field.difference(finished)
    return changed_parts(drawn, made, reach_mm=reach_mm, edge_tolerance_mm=edge_tolerance_mm)
