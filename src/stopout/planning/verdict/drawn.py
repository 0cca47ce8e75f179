"""What a reader looks for in a coat: the drawing's parts, and what the prediction shows of them."""

from __future__ import annotations

from shapely.geometry.base import BaseGeometry

from stopout.job.record import Job
from stopout.mask import erode
from stopout.outcome import Change, changed_parts


def changes_of(
    job: Job,
    *,
    target: BaseGeometry,
    finished: BaseGeometry,
    face: BaseGeometry,
    reach_mm: float,
) -> tuple[Change, ...]:
    """Hold the drawing against the prediction, part by part.

    Parameters
    ----------
    job : Job
        For polarity and tolerance: of a raised job what stands is looked at.
    target, finished, face : BaseGeometry
        The coat's target, the predicted region and the blank's face, as worked.
    reach_mm : float
        Undercut and half a mark.
    """
    drawn, made = target, finished
    if job.artwork.dark == "raised" and not job.route.is_sign:
        field = erode(face, job.artwork.field_mm or 0.0)
        drawn, made = field.difference(target), field.difference(finished)
    return changed_parts(
        drawn,
        made,
        reach_mm=reach_mm,
        edge_tolerance_mm=job.limits.edge_tolerance_mm,
    )
