"""The narrowest place of a region: of openings in the resist, of lands between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.mask.regions import PolygonArray, count_holes, parts_of

__all__ = ["Narrowest", "narrowest"]

_QUARTER_CHORDS = 8
_RESOLUTION_MM = 0.0005
# Opening with chords instead of arcs, and set operations, move edges by less than this.
_SLACK_MM = 0.001
_SMALLEST_HOLE_MM2 = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrowest:
    """The narrowest width of a region in mm and a place where it occurs."""

    width_mm: float
    at_mm: tuple[float, float] | None


def narrowest(region: BaseGeometry, *, start_mm: float = 0.05) -> Narrowest:
    """Measure the narrowest width of a region.

    It is the largest w whose opening by a disc of diameter w changes neither the number of parts
    nor of holes and leaves no residue deeper than 3 w / 2 (so that corners of 29 degrees and
    more do not count as narrow). Found by growing w until something fails, then halving.

    Parameters
    ----------
    region : BaseGeometry
        Polygons in mm.
    start_mm : float
        A width to begin with, ideally a little under the expected result.

    Returns
    -------
    Narrowest
        Width 0 for an empty region; within 0.5 um otherwise.
    """
    parts = parts_of(region)
    if not len(parts):
        return Narrowest(width_mm=0.0, at_mm=None)
    parts = shapely.simplify(parts, _RESOLUTION_MM / 2)
    low, high, failing = 0.0, start_mm, parts
    while True:
        failing = _failing(parts, high)
        if len(failing):
            break
        low, high = high, high * 1.5
    while high - low > _RESOLUTION_MM:
        # A geometric step first where nothing has passed yet: widths differ by factors.
        middle = (low + high) / 2
        still = _failing(failing, middle)
        if len(still):
            high, failing = middle, still
        else:
            low = middle
    return Narrowest(width_mm=low, at_mm=_place(failing[0], high))


def _failing(parts: PolygonArray, width_mm: float) -> PolygonArray:
    """Return the parts that an opening by a disc of this diameter changes."""
    cores = shapely.buffer(parts, -width_mm / 2, quad_segs=_QUARTER_CHORDS)
    opened = shapely.buffer(cores, width_mm / 2, quad_segs=_QUARTER_CHORDS)
    n_parts = shapely.get_num_geometries(opened) * ~shapely.is_empty(opened)
    fails = n_parts != 1
    fails |= np.array(
        [
            _holes_above(shape) != count_holes(np.array([part]))
            for shape, part in zip(opened, parts, strict=True)
        ],
        dtype=bool,
    )
    rest = np.flatnonzero(~fails)
    if len(rest):
        near = shapely.buffer(cores[rest], 2 * width_mm + _SLACK_MM, quad_segs=_QUARTER_CHORDS)
        fails[rest] = ~shapely.covers(near, parts[rest])
    return np.asarray(parts[fails], dtype=object)


def _holes_above(shape: BaseGeometry) -> int:
    """Count the holes of an opened shape, leaving out specks of the arithmetic."""
    rings = [ring for part in shapely.get_parts(shape) for ring in part.interiors]
    if not rings:
        return 0
    areas = shapely.area(shapely.polygons(rings))
    return int((areas > _SMALLEST_HOLE_MM2).sum())


def _place(part: BaseGeometry, width_mm: float) -> tuple[float, float]:
    """Return a point of the part that its opening by a disc of this diameter leaves out."""
    core = part.buffer(-width_mm / 2, quad_segs=_QUARTER_CHORDS)
    residue = part.difference(core.buffer(width_mm / 2 + _SLACK_MM, quad_segs=_QUARTER_CHORDS))
    pieces = parts_of(residue)
    shape = max(pieces, key=lambda piece: float(piece.area)) if len(pieces) else part
    point = shape.representative_point()
    return (float(point.x), float(point.y))
