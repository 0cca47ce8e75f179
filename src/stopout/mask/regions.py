"""Small helpers on regions: tidy, flatten into parts, mirror, scale."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.values import FloatArray

# Pieces smaller than a square of 0.1 um are leftovers of floating-point set operations.
_SMALLEST_PART_MM2 = 1e-8
_POLYGON = 3
# What boxes laid side by side may lose in their last places, and more.
_BESIDE_MM = 1e-6

PolygonArray = NDArray[Any]


def parts_of(region: BaseGeometry | Iterable[BaseGeometry]) -> PolygonArray:
    """Return the polygons of a region, or of several, as a flat object array.

    Lines, points and specks below 0.1 um square, which set operations leave behind, are dropped.
    """
    parts = np.atleast_1d(np.asarray(region, dtype=object))
    kinds = shapely.get_type_id(parts)
    # Collections may hold others.
    while (kinds > _POLYGON).any():
        parts = shapely.get_parts(parts)
        kinds = shapely.get_type_id(parts)
    kept = (kinds == _POLYGON) & (shapely.area(parts) > _SMALLEST_PART_MM2)
    return np.asarray(parts[kept])


def parts_of_each(regions: PolygonArray) -> tuple[PolygonArray, NDArray[np.intp]]:
    """Return the polygons of each of some regions, as `parts_of` does, and whose they are."""
    parts, owner = np.asarray(regions, dtype=object), np.arange(len(regions))
    kinds = shapely.get_type_id(parts)
    while (kinds > _POLYGON).any():
        parts, among = shapely.get_parts(parts, return_index=True)
        owner, kinds = owner[among], shapely.get_type_id(parts)
    kept = (kinds == _POLYGON) & (shapely.area(parts) > _SMALLEST_PART_MM2)
    return np.asarray(parts[kept]), owner[kept]


def meeting(
    parts: PolygonArray, within_mm: float, *, owner: NDArray[np.intp] | None = None
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the pairs of some polygons that meet, or lie within a distance; each pair once.

    Parameters
    ----------
    parts : (n,) array of Polygon
        The polygons.
    within_mm : float
        The distance.
    owner : (n,) ndarray of int, optional
        Whose each is: only those of one owner meet, wherever the others lie.
    """
    boxes = shapely.bounds(parts)
    if owner is not None and len(parts):
        # Owners side by side, so that a tree of boxes tells them apart.
        pitch = np.ceil(np.ptp(boxes[:, [0, 2]]) + 2 * within_mm + 1)
        boxes = boxes + np.outer(owner * pitch, [1, 0, 1, 0])
    slack = within_mm + _BESIDE_MM
    wider = shapely.box(*(boxes + slack * np.array([-1, -1, 1, 1])).T)
    one, other = shapely.STRtree(shapely.box(*boxes.T)).query(wider)
    kept = one < other
    one, other = one[kept], other[kept]
    # The larger of two is asked, and prepared once: it may have nearly every vertex.
    size = shapely.get_num_coordinates(parts)
    large = np.where(size[one] < size[other], other, one)
    small = one + other - large
    asked = parts[np.unique(large)]
    shapely.prepare(asked)
    near = shapely.dwithin(parts[large], parts[small], within_mm)
    shapely.destroy_prepared(asked)
    return one[near], other[near]


def gathered(parts: PolygonArray, owner: NDArray[np.intp], count: int) -> PolygonArray:
    """Return the parts of each of some owners as one MultiPolygon; they come owner by owner."""
    found = np.full(count, MultiPolygon())
    shapely.multipolygons(parts, indices=owner, out=found)
    return found


def united(parts: PolygonArray, owner: NDArray[np.intp], count: int) -> PolygonArray:
    """Return the union of the parts of each of some owners; they come owner by owner."""
    many = np.bincount(owner)
    table = np.full((count, int(many.max(initial=1))), None)
    first = np.cumsum(many) - many
    table[owner, np.arange(len(owner)) - first[owner]] = parts
    whole: PolygonArray = shapely.union_all(table, axis=1)
    return whole


def as_multipolygon(region: BaseGeometry | Iterable[BaseGeometry]) -> MultiPolygon:
    """Return the polygons of a region as one MultiPolygon (the parts must be disjoint)."""
    whole: MultiPolygon = shapely.multipolygons(parts_of(region))
    return whole


def count_holes(parts: PolygonArray) -> int:
    """Count the holes of an array of polygons."""
    return int(shapely.get_num_interior_rings(parts).sum())


def mirror_left_right(region: BaseGeometry, *, width_mm: float) -> BaseGeometry:
    """Mirror a region about the vertical centre line of a blank `width_mm` wide."""

    def flip(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack([width_mm - xy[:, 0], xy[:, 1]])

    return shapely.normalize(shapely.transform(region, flip))


def scale_y(region: Any, factor: float) -> Any:
    """Stretch a region (or an array of regions) along y by `factor` about y = 0."""
    if factor == 1.0:
        return region

    def stretch(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack([xy[:, 0], xy[:, 1] * factor])

    return shapely.transform(region, stretch)


def chords_of(geometries: Any) -> NDArray[Any]:
    """Return polygons' edges, or lines, as an array of two-point lines for nearest queries."""
    parts = shapely.get_parts(np.atleast_1d(geometries))
    is_area = shapely.get_type_id(parts) == 3
    lines = np.concatenate([shapely.get_parts(shapely.boundary(parts[is_area])), parts[~is_area]])
    xy, line = shapely.get_coordinates(lines, return_index=True)
    same = line[1:] == line[:-1]
    chords = shapely.linestrings(np.stack([xy[:-1][same], xy[1:][same]], axis=1))
    return np.asarray(chords)


def clip_each(polygons: PolygonArray, bounds: NDArray[np.float64]) -> PolygonArray:
    """Cut each polygon off at its own rectangle (x0, y0, x1, y1).

    The quick way of clipping takes time for the vertices alone, but may leave an invalid polygon
    where an edge runs along the rectangle; such a one is made anew by intersection.
    """
    clipped = np.array(polygons, dtype=object)
    own = shapely.bounds(clipped)
    crosses = np.flatnonzero(
        (own[:, :2] < bounds[:, :2]).any(axis=1) | (own[:, 2:] > bounds[:, 2:]).any(axis=1)
    )
    clipped[crosses] = [
        shapely.clip_by_rect(polygon, *frame)
        for polygon, frame in zip(polygons[crosses], bounds[crosses].tolist(), strict=True)
    ]
    wrong = crosses[~shapely.is_valid(clipped[crosses])]
    clipped[wrong] = shapely.intersection(polygons[wrong], shapely.box(*bounds[wrong].T))
    return clipped


def ring_points(
    rings: PolygonArray,
) -> tuple[FloatArray, NDArray[np.intp], FloatArray, FloatArray]:
    """Return the points of rings, each once; whose they are; the points before and after each."""
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    first = np.flatnonzero(np.diff(ring, prepend=-1))
    last = np.flatnonzero(np.diff(ring, append=-1))
    # A ring ends where it begins: before its first point comes the last but one.
    once = np.delete(np.arange(len(xy)), last)
    before = np.delete(np.arange(len(xy)) - 1, last)
    before[first - np.arange(len(first))] = last - 1
    return xy[once], ring[once], xy[before], xy[once + 1]
