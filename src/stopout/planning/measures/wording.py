"""Words that several findings share: what sets a limit, where a place lies."""

from __future__ import annotations

from shapely.geometry.base import BaseGeometry

from stopout.job.record import Job


def makers(job: Job) -> str:
    """Say what sets the narrowest stroke: the mark alone where nothing is etched."""
    return "this mark makes" if job.etch is None else "this mark and etch make"


def shallower(job: Job) -> str:
    return "" if job.etch is None else " etch less deep,"


def where(at_mm: tuple[float, float] | None, job: Job) -> str:
    """Say where, as worked, and as seen too on a back-worked piece."""
    if at_mm is None:
        return ""
    text = f"at ({at_mm[0]:.2f}, {at_mm[1]:.2f}) mm"
    if job.blank.is_back_worked:
        seen = job.blank.width_mm - at_mm[0]
        text += f" as worked (({seen:.2f}, {at_mm[1]:.2f}) as seen)"
    return text


def point_of(region: BaseGeometry) -> tuple[float, float] | None:
    if region.is_empty:
        return None
    point = region.representative_point()
    return (float(point.x), float(point.y))
