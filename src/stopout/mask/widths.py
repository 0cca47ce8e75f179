"""The narrowest place of a region: of openings in the resist, of lands between them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any

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
_MOST_STEPS = 10**9
_NOTHING: PolygonArray = np.empty(0, dtype=object)
# What is narrow even at this width runs out in a point.
_POINT_MM = 0.004


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrowest:
    """The narrowest width of a region in mm and a place where it occurs."""

    width_mm: float
    at_mm: tuple[float, float] | None


# Makes a part of a search, or remembers it: of which region, by which widths, how it is made.
Recall = Callable[[int, tuple[int, ...], Callable[[], Any]], Any]


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
    found = narrowest_of([region], start_mm=start_mm, leave_out_points=leave_out_points)
    return Narrowest(width_mm=0.0, at_mm=None) if found is None else found


def narrowest_of(
    regions: Sequence[BaseGeometry],
    *,
    start_mm: float,
    most_mm: float = math.inf,
    leave_out_points: bool = False,
    recall: Recall = lambda region, widths, make: make(),
) -> Narrowest | None:
    """Measure the narrowest width among regions that lie apart.

    Parameters
    ----------
    regions : sequence of BaseGeometry
        Polygons in mm; some may be empty.
    start_mm : float
        A width to begin with, ideally a little over the expected result.
    most_mm : float
        Wider places are not looked for.
    leave_out_points : bool
        See `narrowest`.
    recall : callable
        Is given a region's number, the widths that have been tried on the way, and what makes the
        places found: it may return what was made of the same region by the same widths.

    Returns
    -------
    Narrowest or None
        Within 1 um; None where nothing is narrower than `most_mm`.
    """
    searches = [_Search(region, leave_out_points) for region in regions]
    asked = [k for k, region in enumerate(regions) if not region.is_empty]
    below, rung, most = 0, _steps(min(start_mm, most_mm)), _steps(most_mm)
    places: dict[int, list[_Place]] = {}
    while asked:
        places = {k: recall(k, (rung,), partial(searches[k].places, rung)) for k in asked}
        if any(places.values()) or rung >= most:
            break
        below, rung = rung, min(2 * rung, most)
    best, at = rung, None
    for k, known in places.items():
        if known:
            step, lost = recall(
                k, (rung, below, best), partial(_narrowed, known, rung, below, best)
            )
            best, at = step, at if lost is None else lost
    if at is None:
        return None
    point = at.representative_point()
    return Narrowest(
        width_mm=max(best - 1, 1) * _RESOLUTION_MM, at_mm=(float(point.x), float(point.y))
    )


def _steps(width_mm: float) -> int:
    """A width in whole steps of the resolution: the same widths are tried whatever is drawn."""
    return _MOST_STEPS if math.isinf(width_mm) else max(1, math.ceil(width_mm / _RESOLUTION_MM))


class _Search:
    """What is lost of one region; thinned and looked at only once it is asked."""

    def __init__(self, region: BaseGeometry, leave_out_points: bool) -> None:
        self._region, self._leaves_out_points = region, leave_out_points

    @cached_property
    def _parts(self) -> PolygonArray:
        return parts_of(shapely.simplify(parts_of(self._region), _CHORD_MM / 2))

    @cached_property
    def _points(self) -> PolygonArray:
        return _lost(self._parts, _POINT_MM) if self._leaves_out_points else self._parts[:0]

    def places(self, steps: int) -> list[_Place]:
        """Return the places that are narrower than a width."""
        width_mm = steps * _RESOLUTION_MM
        lost = _lost(self._parts, width_mm, self._points)
        if not len(lost):
            return []
        around = Surroundings(self._parts)
        return [
            _Place(region=around.own(one, 3 * width_mm), lost=one, points=self._points)
            for one in lost
        ]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Place:
    """A place that may be narrow: the region round it, and what was lost there, points left out."""

    region: BaseGeometry
    lost: BaseGeometry
    points: PolygonArray


def _narrowed(
    places: list[_Place], rung: int, below: int, best: int
) -> tuple[int, BaseGeometry | None]:
    """Return the least step of width at which one of some places is lost, and what is lost there.

    Parameters
    ----------
    places : list of _Place
        All that a region loses at a step.
    rung, below : int
        That step, and one at which nothing is lost.
    best : int
        A step at which another region loses something: places that keep more are passed over.

    Returns
    -------
    (int, BaseGeometry or None)
        The step found, or `best` and None.
    """
    at = None
    for place in places:
        lost, low = place.lost, below
        if best < rung or at is not None:
            # Most are no narrower than the narrowest so far: one look is enough for them.
            found = _lost_near(place, lost, best - 1) if best - 1 > below else _NOTHING
            if not len(found):
                continue
            best, lost = best - 1, found[0]
        at = lost
        while best - low > 1:
            middle = (low + best) // 2
            found = _lost_near(place, at, middle)
            if len(found):
                best, at = middle, found[0]
            else:
                low = middle
    return best, at


def _lost_near(place: _Place, lost: BaseGeometry, steps: int) -> PolygonArray:
    """Return what is lost at a smaller width, of what was lost at a larger one."""
    found = _lost(parts_of(place.region), steps * _RESOLUTION_MM, place.points)
    return np.asarray(found[shapely.intersects(found, lost)], dtype=object)


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
