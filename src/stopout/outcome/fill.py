"""Closed curves that cross -> the region they wind round, by Clipper's positive fill."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from stopout.values import FloatArray

__all__ = ["as_region", "positive_fill"]

# Clipper counts in whole units of 1 nm; up to 1.07 m it needs no wide integers.
_UNITS_PER_MM = 1e6
# Parts and holes below 0.01 um2 are what rounding leaves where curves run through one point.
_CRUMB_MM2 = 1e-8


def positive_fill(curves: Sequence[FloatArray]) -> MultiPolygon:
    """Return the region in which the curves' winding numbers add up to one or more.

    Parameters
    ----------
    curves : sequence of (m, 2) ndarray
        Closed curves in mm; counterclockwise counts as plus one.

    Returns
    -------
    MultiPolygon
        A valid region, its corners rounded to 1 nm.
    """
    # Loaded only where something is swept: a start that plans nothing is quicker without it.
    import pyclipper

    paths = [np.rint(curve * _UNITS_PER_MM).astype(np.int64).tolist() for curve in curves]
    paths = [path for path in paths if len(path) > 2]
    if not paths:
        return MultiPolygon()
    clipper = pyclipper.Pyclipper()
    clipper.AddPaths(paths, pyclipper.PT_SUBJECT, True)
    positive = pyclipper.PFT_POSITIVE
    return as_region(_polygons(clipper.Execute2(pyclipper.CT_UNION, positive, positive)))


def _polygons(tree: Any) -> NDArray[np.object_]:
    """Turn Clipper's tree, outlines at odd depths and holes at even ones, into polygons."""
    rings: list[Any] = []
    owners: list[int] = []
    outlines = list(tree.Childs)
    for owner, outline in enumerate(outlines):
        rings += [outline.Contour, *(hole.Contour for hole in outline.Childs)]
        owners += [owner] * (1 + len(outline.Childs))
        # The list grows while it is walked: what lies within holes comes later.
        outlines.extend(island for hole in outline.Childs for island in hole.Childs)
    if not rings:
        return np.array([], dtype=object)
    sizes = [len(ring) for ring in rings]
    points = np.concatenate([np.asarray(ring, dtype=np.float64) for ring in rings])
    which = np.repeat(np.arange(len(rings)), sizes)
    lines = shapely.linearrings(points / _UNITS_PER_MM, indices=which)
    polygons: NDArray[np.object_] = shapely.polygons(lines, indices=np.asarray(owners))
    return polygons


def as_region(shapes: Any) -> MultiPolygon:
    """Return the polygons among disjoint shapes as one valid MultiPolygon without crumbs."""
    parts = shapely.get_parts(np.atleast_1d(np.asarray(shapes, dtype=object)))
    while (shapely.get_type_id(parts) > 3).any():
        parts = shapely.get_parts(parts)
    parts = parts[shapely.get_type_id(parts) == 3]
    broken = ~shapely.is_valid(parts)
    if broken.any():
        mended = shapely.make_valid(parts[broken], method="structure", keep_collapsed=False)
        return as_region([*parts[~broken], *mended])
    parts = parts[shapely.area(parts) > _CRUMB_MM2]
    for i in np.flatnonzero(shapely.get_num_interior_rings(parts)):
        parts[i] = _without_pinholes(parts[i])
    region: MultiPolygon = shapely.multipolygons(parts)
    return region


def _without_pinholes(part: Polygon) -> Polygon:
    holes = [hole for hole in part.interiors if Polygon(hole).area > _CRUMB_MM2]
    return part if len(holes) == len(part.interiors) else Polygon(part.exterior, holes)
