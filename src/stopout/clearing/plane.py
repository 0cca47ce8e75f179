"""The plane stretched so that a mark, or a spacing each way, becomes a disc."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from stopout.mask.offset import Join, offset_areas

__all__ = ["QUAD_SEGS", "Plane", "Polygons"]

Polygons = NDArray[np.object_]

# Chords stand off an arc of half a mark by 0.0015 marks, to the side of clearing more.
QUAD_SEGS = 10
# Shapes shorter round than this many marks are offset with more points.
_SMALL = 30.0


class Plane:
    """The plane stretched so that an ellipse of these full axes becomes a disc of diameter 1."""

    def __init__(self, axes_mm: Sequence[float]) -> None:
        self.axes = np.asarray(axes_mm, dtype=float)

    def into(self, areas: Polygons) -> Polygons:
        """Return geometries in mm stretched into this plane."""
        return np.asarray(shapely.transform(areas, lambda xy: xy / self.axes))

    def back(self, areas: Polygons) -> Polygons:
        """Return geometries of this plane in mm."""
        return np.asarray(shapely.transform(areas, lambda xy: xy * self.axes))

    def grown(self, areas: Polygons, by: float, *, join_style: Join = "round") -> Polygons:
        """Return each of some areas grown (or shrunk) by so many full axes."""
        parts, whole = shapely.get_parts(self.into(areas), return_index=True)
        # The library simplifies what it offsets, and loses small shapes of few points by it.
        small = shapely.length(parts) < _SMALL
        parts[small] = shapely.segmentize(parts[small], _SMALL / 100)
        joined = grouped(parts, whole, len(areas))
        return self.back(offset_areas(joined, by, chords=QUAD_SEGS, join_style=join_style))


def thinned(areas: Polygons, chord_mm: float) -> Polygons:
    """Return areas of fewer vertices, by the quick way: what crosses itself is mended."""
    return np.asarray(shapely.simplify(areas, chord_mm, preserve_topology=False))


def thinned_lines(lines: Polygons, chord_mm: float) -> Polygons:
    """Return lines or rings, as lines, of fewer vertices; closed ones keep at least four."""
    xy, line = shapely.get_coordinates(lines, return_index=True)
    plain = shapely.linestrings(xy, indices=line)
    thin = np.asarray(shapely.simplify(plain, chord_mm, preserve_topology=False))
    flat = shapely.is_closed(plain) & (shapely.get_num_coordinates(thin) < 4)
    thin[flat] = shapely.simplify(lines[flat], chord_mm)
    return thin


def grouped(parts: Polygons, whole: NDArray[np.int64], n: int) -> Polygons:
    """Return n areas of parts, whose each is told in rising order; some may have none."""
    if len(parts) == n and np.array_equal(whole, np.arange(n)):
        return parts
    empty = np.full(n, shapely.MultiPolygon())
    return (
        np.asarray(shapely.multipolygons(parts, indices=whole, out=empty))
        if n and len(parts)
        else empty
    )


def areas_in(geometries: Polygons) -> tuple[Polygons, NDArray[np.int64]]:
    """Return the polygons of some geometries that have an area, and whose each is."""
    parts, whole = shapely.get_parts(geometries, return_index=True)
    real = (shapely.get_type_id(parts) == shapely.GeometryType.POLYGON) & (shapely.area(parts) > 0)
    return parts[real], whole[real]
