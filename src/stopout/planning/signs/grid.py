"""Overlays of a sign's regions on one grid.

Regions of a sign share edges from end to end. With edges that agree only to rounding, an overlay
can fail or leave threads of nothing; so every region is put on one grid, once and early, and every
overlay of them rounds to that same grid.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

# A tenth of a micrometre: the last decimal of a program's coordinates.
GRID_MM = 1e-4


def on_grid(region: BaseGeometry) -> BaseGeometry:
    """Put a region on the grid; what is thinner than it vanishes, and the rest is valid."""
    sound = region if region.is_valid else shapely.make_valid(region)
    return _areas(shapely.set_precision(sound, GRID_MM))


def union(regions: Sequence[BaseGeometry]) -> BaseGeometry:
    """Join regions."""
    if not regions:
        return Polygon()
    return _areas(shapely.union_all(np.array(list(regions), dtype=object), grid_size=GRID_MM))


def difference(region: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """Return what of a region the other does not cover."""
    return _areas(shapely.difference(region, other, grid_size=GRID_MM))


def intersection(region: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """Return what both cover."""
    return _areas(shapely.intersection(region, other, grid_size=GRID_MM))


def partition(regions: Sequence[BaseGeometry]) -> tuple[NDArray[np.object_], NDArray[np.bool_]]:
    """Part the plane by the edges of several regions, all of them noded together on the grid.

    Regions put on the grid one by one would keep threads of nothing between them: an edge that is
    cut by a neighbour's corners is rounded otherwise than the whole one.

    Parameters
    ----------
    regions : sequence of BaseGeometry
        Regions whose edges may meet, cross or run together.

    Returns
    -------
    faces : (n,) ndarray of Polygon
        The parts, with the vertices of their neighbours; what lies in no region is left out.
    lies_in : (m, n) ndarray of bool
        In which of the regions each lies.
    """
    sound = [r if r.is_valid else shapely.make_valid(r) for r in regions]
    edges = shapely.boundary(np.array(sound, dtype=object))
    lines = shapely.union_all(edges, grid_size=GRID_MM)
    faces = np.asarray(shapely.get_parts(shapely.polygonize(shapely.get_parts(lines))))
    inner = shapely.point_on_surface(faces)
    lies_in = np.zeros((len(sound), len(faces)), dtype=bool)
    of, which = shapely.STRtree(sound).query(inner, predicate="intersects")
    lies_in[which, of] = True
    kept = lies_in.any(axis=0)
    return faces[kept], lies_in[:, kept]


def _areas(region: BaseGeometry) -> BaseGeometry:
    """Drop the points and lines that an overlay leaves where regions only touch."""
    if region.geom_type in ("Polygon", "MultiPolygon"):
        return region
    parts = [part for part in shapely.get_parts(region) if part.geom_type.endswith("Polygon")]
    return _areas(shapely.union_all(parts, grid_size=GRID_MM)) if parts else Polygon()
