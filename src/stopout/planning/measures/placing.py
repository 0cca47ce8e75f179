"""Where the blank lies, and which way it is turned."""

from __future__ import annotations

from dataclasses import replace

from shapely.geometry.base import BaseGeometry

from stopout.job.record import Blank, Job
from stopout.mask import as_worked, blank_region
from stopout.values import Finding


def face_as_seen(blank: Blank, outline: BaseGeometry | None) -> BaseGeometry:
    """Return a blank's face, its holes cut out; `outline` replaces the rounded rectangle."""
    return blank_region(
        width_mm=blank.width_mm,
        height_mm=blank.height_mm,
        corner_radius_mm=blank.corner_radius_mm,
        outline=outline,
        holes=[(hole.at_mm, hole.diameter_mm) for hole in blank.holes],
    )


def as_worked_on(region: BaseGeometry, job: Job) -> BaseGeometry:
    """Turn a region as seen to the face that is worked."""
    return as_worked(region, width_mm=job.blank.width_mm, is_back_worked=job.blank.is_back_worked)


def placed_as_worked(finding: Finding, job: Job) -> Finding:
    """Turn a finding about the artwork, placed as seen, to its place as worked."""
    if finding.at_mm is None or not job.blank.is_back_worked:
        return finding
    x, y = finding.at_mm
    return replace(finding, at_mm=(job.blank.width_mm - x, y))


def place_of_blank(job: Job) -> tuple[float, float]:
    """Return the blank's corner from the bed's: the job's, else that of a blank in its middle."""
    if not job.route.has_beam:
        return (0.0, 0.0)
    if job.laser.blank_at_mm is not None:
        return job.laser.blank_at_mm
    bed = job.laser.bed_mm
    return ((bed[0] - job.blank.width_mm) / 2, (bed[1] - job.blank.height_mm) / 2)
