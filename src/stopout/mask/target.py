"""The target: which region of the piece is to be recessed or cleared, as worked."""

from __future__ import annotations

from collections.abc import Iterable

import shapely
from shapely.geometry import MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from stopout.mask.offset import erode
from stopout.mask.regions import as_multipolygon, mirror_left_right


def blank_region(
    *,
    width_mm: float,
    height_mm: float,
    corner_radius_mm: float = 0.0,
    outline: BaseGeometry | None = None,
    holes: Iterable[tuple[tuple[float, float], float]] = (),
) -> Polygon:
    """Return the blank's face as seen, in mm: a rounded rectangle or an outline, less its holes.

    Parameters
    ----------
    width_mm, height_mm, corner_radius_mm : float
        The rounded rectangle; its lower left corner is the origin.
    outline : BaseGeometry, optional
        Replaces the rounded rectangle.
    holes : iterable of ((x, y), diameter)
        Round holes, as seen, in mm.
    """
    if outline is not None:
        face: BaseGeometry = outline
    else:
        r = min(corner_radius_mm, min(width_mm, height_mm) / 2 * (1 - 1e-9))
        core = box(r, r, width_mm - r, height_mm - r)
        # 128 chords per quarter keep a 50 mm corner within 2 um of its arc.
        face = core.buffer(r, quad_segs=128) if r > 0 else core
    for (x, y), diameter in holes:
        face = face.difference(Point(x, y).buffer(diameter / 2, quad_segs=64))
    return max(shapely.get_parts(face), key=lambda part: part.area, default=Polygon())


def as_worked(region: BaseGeometry, *, width_mm: float, is_back_worked: bool) -> BaseGeometry:
    """Turn a region from as seen to as worked: mirrored where the piece is worked on its back."""
    return mirror_left_right(region, width_mm=width_mm) if is_back_worked else region


def make_target(
    dark: BaseGeometry,
    blank: BaseGeometry,
    *,
    is_raised: bool = False,
    field_mm: float = 0.0,
) -> MultiPolygon:
    """Return the region to be recessed or cleared.

    Parameters
    ----------
    dark, blank : BaseGeometry
        The dark artwork and the blank's face (holes cut out), in one frame, in mm.
    is_raised : bool
        True where the dark artwork stands and the rest of the field is recessed.
    field_mm : float
        For raised artwork: margin between the blank's edge (its holes included) and the field.

    Returns
    -------
    MultiPolygon
        The target, clipped to the blank's face.
    """
    if is_raised:
        return as_multipolygon(erode(blank, field_mm).difference(dark))
    return as_multipolygon(dark.intersection(blank))
