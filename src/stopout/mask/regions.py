"""Small helpers on regions: tidy, flatten into parts, mirror, scale."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

# Pieces smaller than a square of 0.1 um are leftovers of floating-point set operations.
_SMALLEST_PART_MM2 = 1e-8
_POLYGON = 3

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
    return np.asarray(parts[kept], dtype=object)


def as_multipolygon(region: BaseGeometry | Iterable[BaseGeometry]) -> MultiPolygon:
    """Return the polygons of a region as one MultiPolygon (the parts must be disjoint)."""
    whole: MultiPolygon = shapely.multipolygons(parts_of(region))
    return whole


def count_holes(parts: PolygonArray) -> int:
    """Count the holes of an array of polygons."""
    return int(shapely.get_num_interior_rings(parts).sum()) if len(parts) else 0


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
    return np.asarray(chords, dtype=object)


def clip_each(polygons: PolygonArray, bounds: NDArray[np.float64]) -> PolygonArray:
    """Cut each polygon off at its own rectangle (x0, y0, x1, y1).

    The quick way of clipping takes time for the vertices alone, but may leave an invalid polygon
    where an edge runs along the rectangle; such a one is made anew by intersection.
    """
    clipped = np.empty(len(polygons), dtype=object)
    clipped[:] = [
        shapely.clip_by_rect(polygon, *frame)
        for polygon, frame in zip(polygons, bounds, strict=True)
    ]
    wrong = ~shapely.is_valid(clipped)
    if wrong.any():
        clipped[wrong] = shapely.intersection(polygons[wrong], shapely.box(*bounds[wrong].T))
    return clipped
