"""Closed curves that cross -> the region they wind round, by Clipper's positive fill."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from stopout.links import linked
from stopout.values import FloatArray

# Clipper counts in whole units of 1 nm; up to 1.07 m it needs no wide integers.
_UNITS_PER_MM = 1e6
# Parts and holes below 0.01 um2 are what rounding leaves where curves run through one point.
_CRUMB_MM2 = 1e-8
# Beyond the sum of two radii: what rounding and the corners outside true arcs may add.
APART_MM = 1e-3
# Edges that lie on each other may miss by what a number's last place is: that is meeting too.
_TOUCH_MM = 1e-6


def positive_fill(
    curves: Sequence[FloatArray], cluster: NDArray[np.intp] | None = None
) -> MultiPolygon:
    """Return the region in which the curves' winding numbers add up to one or more.

    Parameters
    ----------
    curves : sequence of (m, 2) ndarray
        Closed curves in mm; counterclockwise counts as plus one.
    cluster : (n,) ndarray of int, optional
        Which cluster each curve belongs to, see `clusters`; left out, all are of one.

    Returns
    -------
    MultiPolygon
        A valid region, its corners rounded to 1 nm.

    Notes
    -----
    Clipper's time grows with the edges that one scan line crosses. Clusters whose regions lie
    apart, and whose winding numbers are nowhere negative, are filled one by one instead: the
    letters at the two ends of a plate need not know of each other.
    """
    paths = [np.rint(curve * _UNITS_PER_MM).astype(np.int64) for curve in curves]
    homes = [0] * len(paths) if cluster is None else cluster.tolist()
    members: dict[int, list[Any]] = {}
    for path, home in zip(paths, homes, strict=True):
        if len(path) > 2:
            # Pairs of a tuple each are made four times as fast as lists.
            pairs = zip(path[:, 0].tolist(), path[:, 1].tolist(), strict=True)
            members.setdefault(home, []).append(list(pairs))
    if not members:
        return MultiPolygon()
    return as_region(np.concatenate([_filled(paths) for paths in members.values()]))


def clusters(shapes: NDArray[np.object_], reach_mm: float) -> NDArray[np.intp]:
    """Number shapes so that two of different numbers lie more than a reach apart.

    Parameters
    ----------
    shapes : (n,) ndarray of geometries
        Lines or polygons, in mm.
    reach_mm : float
        The distance up to which two shapes belong together.

    Returns
    -------
    (n,) ndarray of int
        The number of each shape's cluster.
    """
    return linked(len(shapes), *_near(shapes, reach_mm))


def united(parts: NDArray[np.object_]) -> NDArray[np.object_]:
    """Return the union of polygons, part by part; what meets no other is left as it is.

    Parameters
    ----------
    parts : (n,) ndarray of Polygon
        They may overlap.
    """
    one, other = _near(parts, _TOUCH_MM)
    meets = np.zeros(len(parts), dtype=bool)
    meets[one] = meets[other] = True
    joined = shapely.get_parts(shapely.union_all(parts[meets]))
    return np.concatenate([parts[~meets], joined])


def _near(
    shapes: NDArray[np.object_], reach_mm: float
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the pairs of shapes that lie within a reach, each once.

    The planner's way of asking, written anew: nothing of it is shared with what judges it.
    """
    boxes = shapely.bounds(shapes)
    wider = shapely.box(*(boxes + reach_mm * np.array([-1, -1, 1, 1])).T)
    one, other = shapely.STRtree(shapely.box(*boxes.T)).query(wider)
    one, other = one[one < other], other[one < other]
    # The larger of two is asked, which is prepared once: it may have nearly every vertex.
    size = shapely.get_num_coordinates(shapes)
    large = np.where(size[one] < size[other], other, one)
    small = one + other - large
    asked = shapes[np.unique(large)]
    shapely.prepare(asked)
    near = shapely.dwithin(shapes[large], shapes[small], reach_mm)
    shapely.destroy_prepared(asked)
    return one[near], other[near]


def _filled(paths: list[Any]) -> NDArray[np.object_]:
    # Loaded only where something is swept: a start that plans nothing is quicker without it.
    import pyclipper

    clipper = pyclipper.Pyclipper()
    clipper.AddPaths(paths, pyclipper.PT_SUBJECT, True)
    positive = pyclipper.PFT_POSITIVE
    return _polygons(clipper.Execute2(pyclipper.CT_UNION, positive, positive))


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
    numbers = chain.from_iterable(chain.from_iterable(rings))
    points = np.fromiter(numbers, np.float64, 2 * sum(sizes)).reshape(-1, 2)
    which = np.repeat(np.arange(len(rings)), sizes)
    lines = shapely.linearrings(points / _UNITS_PER_MM, indices=which)
    polygons: NDArray[np.object_] = shapely.polygons(lines, indices=np.asarray(owners))
    return polygons


def as_region(shapes: Any) -> MultiPolygon:
    """Return the polygons among disjoint shapes as one valid MultiPolygon without crumbs."""
    parts = shapely.get_parts(np.atleast_1d(np.asarray(shapes, dtype=object)))
    while (shapely.get_type_id(parts) > 3).any():
        parts = shapely.get_parts(parts)
    broken = ~shapely.is_valid(parts)
    if broken.any():
        mended = shapely.make_valid(parts[broken], method="structure", keep_collapsed=False)
        return as_region([*parts[~broken], *mended])
    parts = parts[shapely.area(parts) > _CRUMB_MM2]
    region: MultiPolygon = shapely.multipolygons(_without_pinholes(parts))
    return region


def _without_pinholes(parts: NDArray[np.object_]) -> NDArray[np.object_]:
    # Most have none, and rings are copies.
    holed = np.flatnonzero(shapely.get_num_interior_rings(parts))
    if not len(holed):
        return parts
    rings, among = shapely.get_rings(parts[holed], return_index=True)
    owner = holed[among]
    is_hole = np.diff(owner, prepend=-1) == 0
    tiny = np.zeros(len(rings), dtype=bool)
    tiny[is_hole] = shapely.area(shapely.polygons(rings[is_hole])) <= _CRUMB_MM2
    for i in np.unique(owner[tiny]):
        kept = rings[(owner == i) & ~tiny]
        parts[i] = Polygon(kept[0], list(kept[1:]))
    return parts
