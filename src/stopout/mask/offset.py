"""Erosion, dilation and opening of regions by discs and by the mark's ellipse.

The planner's engine is the offset of the GEOS library, part by part: parts are disjoint, so an
erosion never mixes them, and array calls are several times faster than one large geometry.
The forward model in `stopout.outcome` uses another engine on purpose.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any, Literal

import numpy as np
import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.mask.regions import (
    PolygonArray,
    as_multipolygon,
    meeting,
    parts_of,
    parts_of_each,
    scale_y,
)

# Chords per quarter circle: the sagitta of an arc of radius 0.15 mm is then 0.05 um.
_QUARTER_CHORDS = 32
# Arcs of arcs double their vertices at every step; this much thinning keeps them in bounds. Ten
# times as much would move the tip of a sharp corner by micrometres, one way or the other.
_THINNING_MM = 0.00003
# From this many holes or parts on it pays to offset ring by ring.
_MANY = 32
# Edges that lie on each other may miss by what a number's last place is: that is meeting too.
_TOUCH_MM = 1e-6


Join = Literal["round", "bevel"]


def erode(
    region: BaseGeometry | PolygonArray, radius_mm: float, *, chords: int = _QUARTER_CHORDS
) -> MultiPolygon:
    """Erode a region by a disc: the centres whose disc fits inside."""
    parts = parts_of(region)
    if radius_mm <= 0:
        return as_multipolygon(parts)
    return as_multipolygon(_eroded(parts, radius_mm, chords))


def _eroded(parts: PolygonArray, radius_mm: float, chords: int = _QUARTER_CHORDS) -> PolygonArray:
    return thinned(offset_each(parts, -radius_mm, chords=chords))


def dilate(
    region: BaseGeometry | PolygonArray,
    radius_mm: float,
    *,
    chords: int = _QUARTER_CHORDS,
    within_mm: float = _THINNING_MM,
) -> MultiPolygon:
    """Dilate a region by a disc; parts that then overlap become one.

    Offsets of arcs made of thousands of chords take many times as long: thinned within more, as
    where only a slack counts, a second one is quick.
    """
    parts = parts_of(region)
    if radius_mm <= 0:
        return as_multipolygon(parts)
    dilated = offset_each(parts, radius_mm, chords=chords)
    return merge_overlaps(thinned(dilated, within_mm))


def offset_each(
    parts: PolygonArray, by_mm: float, *, chords: int, join_style: Join = "round"
) -> PolygonArray:
    """Offset each of some polygons, outwards or (below zero) inwards.

    The library takes a time that grows with the square of a polygon's holes: of those with many
    each ring is offset by itself.
    """
    many = shapely.get_num_interior_rings(parts) > _MANY
    found = np.empty(len(parts), dtype=object)
    found[~many] = shapely.buffer(parts[~many], by_mm, quad_segs=chords, join_style=join_style)
    for k in np.flatnonzero(many):
        rings = shapely.polygons(shapely.get_rings(parts[k]))
        outer = shapely.buffer(rings[0], by_mm, quad_segs=chords, join_style=join_style)
        # Grown inwards a hole is what is left of it, which meets nothing.
        inwards = shapely.buffer(rings[1:], -by_mm, quad_segs=chords, join_style=join_style)
        holes = parts_of(inwards)
        found[k] = _pierced(parts_of(outer), holes) if by_mm > 0 else _less(outer, holes)
    return found


def offset_areas(
    areas: PolygonArray, by_mm: float, *, chords: int, join_style: Join = "round"
) -> PolygonArray:
    """Offset each of some polygons or multipolygons; of those of many rings part by part."""
    parts, whole = shapely.get_parts(areas, return_index=True)
    rings = np.bincount(whole, 1 + shapely.get_num_interior_rings(parts), len(areas))
    found = np.empty(len(areas), dtype=object)
    few = rings <= _MANY
    found[few] = shapely.buffer(areas[few], by_mm, quad_segs=chords, join_style=join_style)
    for k in np.flatnonzero(~few):
        own = offset_each(parts[whole == k], by_mm, chords=chords, join_style=join_style)
        found[k] = merge_overlaps(own) if by_mm > 0 else as_multipolygon(own)
    return found


def _less(outer: BaseGeometry, holes: PolygonArray) -> MultiPolygon:
    """Take holes out of a region; those that meet nothing need no set operation."""
    one, other = meeting(holes, _TOUCH_MM)
    shapely.prepare(outer)
    meets = ~shapely.contains_properly(outer, holes)
    meets[one] = meets[other] = True
    # One that closed to a ring as it grew leaves an island within.
    meets |= shapely.get_num_interior_rings(holes) > 0
    left = parts_of(shapely.difference(outer, shapely.union_all(holes[meets])))
    return _pierced(left, holes[~meets])


def _pierced(parts: PolygonArray, holes: PolygonArray) -> MultiPolygon:
    """Add holes, each well within one of some disjoint parts."""
    part, hole = shapely.STRtree(holes).query(parts, predicate="contains_properly")
    rings, owner = shapely.get_rings(parts, return_index=True)
    # Of a part its outline comes first.
    order = np.argsort(np.concatenate([owner, part]), kind="stable")
    whole = np.concatenate([rings, shapely.get_exterior_ring(holes[hole])])[order]
    made = shapely.polygons(whole, indices=np.concatenate([owner, part])[order])
    return as_multipolygon(made)


def thinned(parts: PolygonArray, by_mm: float = _THINNING_MM) -> PolygonArray:
    """Drop vertices of each that hardly matter, the quick way: what crosses itself is mended."""
    return np.asarray(shapely.simplify(parts, by_mm, preserve_topology=False))


def open_by_disc(
    region: BaseGeometry, radius_mm: float, *, chords: int = _QUARTER_CHORDS
) -> MultiPolygon:
    """Open a region by a disc: erosion, then dilation; few chords will do for a small one."""
    return dilate(erode(region, radius_mm, chords=chords), radius_mm, chords=chords)


def erode_by_mark(region: BaseGeometry, mark_mm: tuple[float, float]) -> MultiPolygon:
    """Erode a region by the mark's ellipse, given by its full axes along x and y."""
    return as_multipolygon(erode_each_by_mark(parts_of(region), mark_mm))


def dilate_by_mark(
    region: BaseGeometry, mark_mm: tuple[float, float], *, within_mm: float = _THINNING_MM
) -> MultiPolygon:
    """Dilate a region by the mark's ellipse, given by its full axes along x and y."""
    whole = np.array([as_multipolygon(region)])
    grown: MultiPolygon = dilate_each_by_mark(whole, mark_mm, within_mm=within_mm)[0]
    return grown


def erode_each_by_mark(
    parts: PolygonArray, mark_mm: tuple[float, float], *, chords: int = _QUARTER_CHORDS
) -> PolygonArray:
    """Erode each of some polygons by the mark's ellipse; what is left of each, perhaps nothing."""
    factor = mark_mm[0] / mark_mm[1]
    eroded = _eroded(scale_y(parts, factor), mark_mm[0] / 2, chords)
    return np.asarray(scale_y(eroded, 1 / factor))


def dilate_each_by_mark(
    regions: PolygonArray,
    mark_mm: tuple[float, float],
    *,
    chords: int = _QUARTER_CHORDS,
    within_mm: float = _THINNING_MM,
) -> PolygonArray:
    """Dilate each of some regions by the mark's ellipse, as `dilate_by_mark` does one."""
    factor = mark_mm[0] / mark_mm[1]
    parts, home = parts_of_each(scale_y(regions, factor))
    grown = thinned(offset_each(parts, mark_mm[0] / 2, chords=chords), within_mm)
    bounds = np.searchsorted(home, np.arange(len(regions) + 1))
    found = np.empty(len(regions), dtype=object)
    found[:] = [merge_overlaps(grown[a:b]) for a, b in pairwise(bounds)]
    return np.asarray(scale_y(found, 1 / factor))


def erode_by_both(
    region: BaseGeometry, radius_mm: float, mark_mm: tuple[float, float]
) -> MultiPolygon:
    """Erode a region by a disc and the mark: of a round mark in one step, for two discs are one."""
    if mark_mm[0] == mark_mm[1]:
        return erode(region, radius_mm + mark_mm[0] / 2)
    return erode_by_mark(erode(region, radius_mm), mark_mm)


def dilate_by_both(
    region: BaseGeometry,
    radius_mm: float,
    mark_mm: tuple[float, float],
    *,
    chords: int = _QUARTER_CHORDS,
    within_mm: float = _THINNING_MM,
) -> MultiPolygon:
    """Dilate a region by the mark and a disc: by a round mark in one step.

    Fewer chords a quarter circle will do where only parts and holes are counted.
    """
    if mark_mm[0] == mark_mm[1]:
        discs = radius_mm + mark_mm[0] / 2
        return dilate(region, discs, chords=chords, within_mm=within_mm)
    marks = dilate_by_mark(region, mark_mm, within_mm=within_mm)
    return dilate(marks, radius_mm, chords=chords, within_mm=within_mm)


def swept(lines: Any, mark_mm: tuple[float, float], undercut_mm: float) -> Any:
    """Return what is finished along lines (a geometry or an array): mark swept, then etched."""
    factor = mark_mm[0] / mark_mm[1]
    cleared = scale_y(shapely.buffer(scale_y(lines, factor), mark_mm[0] / 2), 1 / factor)
    return shapely.buffer(cleared, undercut_mm)


def merge_overlaps(parts: PolygonArray) -> MultiPolygon:
    """Union only the parts that meet others; the rest stay as they are."""
    parts = parts_of(parts)
    if len(parts) < 2:
        return as_multipolygon(parts)
    first, second = meeting(parts, _TOUCH_MM)
    meets = np.zeros(len(parts), dtype=bool)
    meets[first] = meets[second] = True
    merged = shapely.union_all(parts[meets])
    whole: MultiPolygon = shapely.multipolygons(np.concatenate([parts[~meets], parts_of(merged)]))
    return whole
