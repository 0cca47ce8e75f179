"""The narrowest place of a region: of openings in the resist, of lands between them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.mask.regions import PolygonArray, parts_of
from stopout.mask.residue import is_more_than_corner, strokes_lost
from stopout.mask.surroundings import Surroundings

_RESOLUTION_MM = 0.0003
# The region is thinned by half of this, arcs stand off their chords by no more than this.
_CHORD_MM = 0.0003
# What opening leaves out counts only beyond this.
_SLACK_MM = 0.001
_DEPTH = 1.5
# What is narrow even at this width runs out in a point.
_POINT_MM = 0.004


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrowest:
    """The narrowest width of a region in mm and a place where it occurs."""

    width_mm: float
    at_mm: tuple[float, float] | None


def narrowest(
    region: BaseGeometry, *, start_mm: float = 0.05, leave_out_points: bool = False
) -> Narrowest:
    """Measure the narrowest width of a region.

    It is the largest w whose opening by a disc of diameter w changes neither the number of parts
    nor of holes and leaves no residue deeper than 3 w / 2 (so that corners of 29 degrees and
    more do not count as narrow). Found by growing w until something is lost; then only what lies
    round those places is looked at, and w is halved in.

    Parameters
    ----------
    region : BaseGeometry
        Polygons in mm.
    start_mm : float
        A width to begin with, ideally a little over the expected result.
    leave_out_points : bool
        Whether ends that run out in a point (still narrow at 4 um) are left out, so that only
        necks, whole parts and blunt ends count: a taper is narrow by intent.

    Returns
    -------
    Narrowest
        Width 0 for an empty region; within 1 um otherwise.
    """
    parts = parts_of(shapely.simplify(parts_of(region), _CHORD_MM / 2))
    if not len(parts):
        return Narrowest(width_mm=0.0, at_mm=None)
    points = _lost(parts, _POINT_MM) if leave_out_points else parts[:0]
    low, high = 0.0, start_mm
    lost = _lost(parts, high, points)
    while not len(lost):
        low, high = high, 2 * high
        lost = _lost(parts, high, points)
    around = Surroundings(parts)
    width, point = high, lost[0].representative_point()
    for stroke in lost:
        place = _Place(region=around.own(stroke, 3 * high), lost=stroke, points=points)
        if width <= 2 * _RESOLUTION_MM:
            break
        # Most places are no narrower than the narrowest so far: one look is enough for them.
        found = _lost_near(place, width - _RESOLUTION_MM)
        if len(found):
            width, found = _narrow_down(place, low, width - _RESOLUTION_MM, found)
            point = found[0].representative_point()
    return Narrowest(width_mm=width, at_mm=(float(point.x), float(point.y)))


def _narrow_down(
    place: _Place, low: float, high: float, found: PolygonArray
) -> tuple[float, PolygonArray]:
    """Return the width at which a place begins to lose strokes, and what it then loses."""
    while high - low > _RESOLUTION_MM:
        # Where nothing has been kept yet, widths may differ by factors.
        middle = (low + high) / 2 if low > 0 or high < 4 * _RESOLUTION_MM else high / 2
        lost = _lost_near(place, middle)
        if len(lost):
            high, found = middle, lost
        else:
            low = middle
    return low, found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Place:
    """A place that may be narrow: the region round it, and what was lost there, points left out."""

    region: BaseGeometry
    lost: BaseGeometry
    points: PolygonArray


def _lost_near(place: _Place, width_mm: float) -> PolygonArray:
    """Return what is lost at a smaller width, of what was lost at a larger one."""
    lost = _lost(parts_of(place.region), width_mm, place.points)
    return np.asarray(lost[shapely.intersects(lost, place.lost)], dtype=object)


def _lost(parts: PolygonArray, width_mm: float, points: PolygonArray | None = None) -> PolygonArray:
    """Return the strokes that an opening by a disc of this diameter loses, but for points."""
    radius = width_mm / 2
    chords = max(4, math.ceil(math.pi / 4 / math.sqrt(2 * _CHORD_MM / radius)))
    cores = shapely.buffer(parts, -radius, quad_segs=chords)
    opened = parts_of(shapely.buffer(cores, radius + _SLACK_MM, quad_segs=chords))
    found = [
        _but_for(
            strokes_lost(part, kept, depth_mm=2 * _DEPTH * radius, slack_mm=_SLACK_MM),
            kept,
            points,
        )
        for part, kept in _paired(parts, opened)
    ]
    return np.concatenate(found) if found else parts[:0]


def _but_for(lost: PolygonArray, kept: BaseGeometry, points: PolygonArray | None) -> PolygonArray:
    """Leave out the losses that hang on what is kept by one end and run out in a point."""
    if points is None or not len(points) or not len(lost):
        return lost
    is_end = ~is_more_than_corner(lost, kept, depth_mm=np.inf, slack_mm=_SLACK_MM)
    is_pointed = np.zeros(len(lost), dtype=bool)
    is_pointed[shapely.STRtree(points).query(lost, predicate="intersects")[0]] = True
    return np.asarray(lost[~(is_end & is_pointed)], dtype=object)


def _paired(parts: PolygonArray, opened: PolygonArray) -> list[tuple[BaseGeometry, BaseGeometry]]:
    """Pair each part with what is opened of it, leaving out parts that are kept whole."""
    tree = shapely.STRtree(opened)
    pairs = []
    for part in parts:
        near = opened[tree.query(part, predicate="intersects")]
        if not (len(near) == 1 and shapely.covers(near[0], part)):
            pairs.append((part, shapely.union_all(near)))
    return pairs
