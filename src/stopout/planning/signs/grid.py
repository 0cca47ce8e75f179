"""Overlays of a sign's regions on one grid.

Regions of a sign share edges from end to end. With edges that agree only to rounding, an overlay
can fail or leave threads of nothing; so every region is put on one grid, once and early, and every
overlay of them rounds to that same grid.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stopout.links import linked
from stopout.mask import as_multipolygon, parts_of

# A tenth of a micrometre: the last decimal of a program's coordinates.
GRID_MM = 1e-4
# Drawings come on a grid of a nanometre, often half way between two steps of this one: a quarter of
# a nanometre aside no point does, and a shape is rounded alike wherever it lies.
_ASIDE_MM = 2.5e-7


def on_grid(region: BaseGeometry) -> BaseGeometry:
    """Put a region on the grid; what is thinner than it vanishes, and the rest is valid."""
    if shapely.get_precision(region) == GRID_MM:
        return _areas(region)
    sound = region if region.is_valid else _areas(shapely.make_valid(region))
    return _areas(shapely.set_precision(shapely.transform(sound, _aside), GRID_MM))


def off_grid(region: BaseGeometry) -> MultiPolygon:
    """Return a region as it lies, with nothing left to round what is made of it to the grid.

    The library keeps a grid with each part of a region, but not in what is sent between processes:
    what is made of a region that still has it would hang on who makes it.
    """
    return as_multipolygon(shapely.set_precision(region, 0.0))


def _aside(xy: NDArray[np.float64]) -> NDArray[np.float64]:
    return xy + _ASIDE_MM


def union(regions: Sequence[BaseGeometry]) -> BaseGeometry:
    """Join regions; what meets no other region stays as it is."""
    if not regions:
        return Polygon()
    parts, of = shapely.get_parts(np.array(list(regions), dtype=object), return_index=True)
    one, other = shapely.STRtree(parts).query(parts, predicate="intersects")
    meet = of[one] != of[other]
    group = linked(len(parts), one[meet], other[meet])
    alone = np.bincount(group)[group] == 1
    rest, home = parts[~alone], group[~alone]
    joined = [shapely.union_all(rest[home == k], grid_size=GRID_MM) for k in np.unique(home)]
    found = _together([*shapely.set_precision(parts[alone], GRID_MM), *joined])
    return _areas(shapely.union_all(parts, grid_size=GRID_MM)) if found is None else found


def difference(region: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """Return what of a region the other does not cover."""
    return _overlaid(shapely.difference, region, other, keeps_covered=False)


def intersection(region: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """Return what both cover."""
    if shapely.get_num_geometries(region) < shapely.get_num_geometries(other):
        region, other = other, region
    return _overlaid(shapely.intersection, region, other, keeps_covered=True)


def _overlaid(
    overlay: Callable[..., Any], region: BaseGeometry, other: BaseGeometry, *, keeps_covered: bool
) -> BaseGeometry:
    """Overlay part by part: only parts whose edge another crosses or follows are worked on.

    A part that the other covers is kept or dropped whole, and one that it does not meet the other
    way round. Where parts lie so close that they run into each other on the grid, all are laid
    together.
    """
    parts, others = shapely.get_parts(region), shapely.get_parts(other)
    if len(parts) + len(others) > 2:
        part, at = shapely.STRtree(others).query(parts, predicate="intersects")
        shapely.prepare(others)
        covered, met = np.zeros((2, len(parts)), dtype=bool)
        covered[part[shapely.covers(others[at], parts[part])]] = True
        met[part] = True
        crossed = ~covered[part]
        cut, home = np.unique(part[crossed], return_inverse=True)
        against = shapely.multipolygons(others[at[crossed]], indices=home)
        kept = parts[covered if keeps_covered else ~met]
        found = _together([*_laid(kept, region), *overlay(parts[cut], against, grid_size=GRID_MM)])
        if found is not None:
            return found
    return _areas(overlay(region, other, grid_size=GRID_MM))


def _together(regions: Iterable[BaseGeometry]) -> BaseGeometry | None:
    """Return what was laid on the grid as one; None where its parts run into each other there."""
    whole = shapely.set_precision(as_multipolygon(list(regions)), GRID_MM, mode="pointwise")
    return whole if whole.is_valid else None


def _laid(parts: NDArray[np.object_], region: BaseGeometry) -> NDArray[np.object_]:
    """Put parts of a region on the grid, unless it lies there."""
    return (
        parts if shapely.get_precision(region) == GRID_MM else shapely.set_precision(parts, GRID_MM)
    )


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
    edges = shapely.transform(shapely.boundary(np.array(sound, dtype=object)), _aside)
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
    whole = _together([region])
    return (
        _areas(shapely.union_all(parts_of(region), grid_size=GRID_MM)) if whole is None else whole
    )
