"""Lines of a drawing that enclose areas: ends joined, nests told apart.

A drawing for a machine shop gives areas by their outlines, often in pieces. Pieces whose ends meet
are joined; an outline within another cuts it out, one within that is an area again; outlines that
cross are areas both, and one that is drawn twice counts once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from stopout.artwork.regions.curves import ComplexArray
from stopout.artwork.regions.rings import EMPTY, only_areas

# Two outlines that share all but so much of their area are one drawn twice.
_SAME = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Joined:
    """Closed outlines, and the chains that stay open; each a run of points."""

    closed: list[ComplexArray]
    open: list[ComplexArray]


def joined(pieces: Sequence[ComplexArray], *, gap: float) -> Joined:
    """Join runs of points whose ends lie no farther apart than `gap`.

    Parameters
    ----------
    pieces : sequence of (n,) ndarray of complex
        Runs of points, closed or open.
    gap : float
        The largest distance between ends that meet, in the unit of the points.
    """
    closed, loose = [], []
    for piece in pieces:
        if len(piece) > 2 and abs(piece[0] - piece[-1]) <= gap:
            closed.append(piece)
        elif len(piece) > 1:
            loose.append(piece)
    more, still = _chained(loose, gap)
    return Joined(closed + more, still)


def _chained(
    loose: list[ComplexArray], gap: float
) -> tuple[list[ComplexArray], list[ComplexArray]]:
    """Follow each chain from end to end; where three ends meet the first drawn goes on."""
    from scipy.spatial import cKDTree

    if not loose:
        return [], []
    ends = np.array([[piece[k].real, piece[k].imag] for piece in loose for k in (0, -1)])
    near = cKDTree(ends).query_ball_point(ends, gap)
    used = [False] * len(loose)
    closed: list[ComplexArray] = []
    still: list[ComplexArray] = []
    for first in range(len(loose)):
        if used[first]:
            continue
        used[first] = True
        chain = [loose[first]]
        for forward in (True, False):
            tip = 2 * first + (1 if forward else 0)
            while True:
                other = next((e for e in sorted(near[tip]) if not used[e // 2]), None)
                if other is None:
                    break
                used[other // 2] = True
                piece = loose[other // 2]
                if forward:
                    chain.append(piece if other % 2 == 0 else piece[::-1])
                else:
                    chain.insert(0, piece[::-1] if other % 2 == 0 else piece)
                tip = other ^ 1
        run = np.concatenate(chain)
        (closed if len(run) > 2 and abs(run[0] - run[-1]) <= gap else still).append(run)
    return closed, still


def nested(rings: Sequence[ComplexArray]) -> tuple[BaseGeometry, int]:
    """The areas that outlines enclose, and how many outlines were drawn more than once."""
    polygons = [_polygon(ring) for ring in rings]
    polygons = [polygon for polygon in polygons if not polygon.is_empty]
    if not polygons:
        return EMPTY, 0
    order = np.argsort([-polygon.area for polygon in polygons], kind="stable")
    shapes = np.array(polygons, dtype=object)[order]
    shapes, twice = _once(shapes)
    depth = _depths(shapes)
    region: BaseGeometry = EMPTY
    for level in range(int(depth.max(initial=0)) + 1):
        layer = shapely.union_all(shapes[depth == level])
        region = (
            shapely.union(region, layer) if level % 2 == 0 else shapely.difference(region, layer)
        )
    return only_areas(region), twice


def _polygon(ring: ComplexArray) -> BaseGeometry:
    shape = Polygon(np.column_stack([ring.real, ring.imag]))
    return shape if shape.is_valid else only_areas(shapely.make_valid(shape))


def _once(shapes: NDArray[np.object_]) -> tuple[NDArray[np.object_], int]:
    tree = shapely.STRtree(shapes)
    keep = np.ones(len(shapes), dtype=bool)
    one, two = tree.query(shapes, predicate="intersects")
    areas = shapely.area(shapes)
    for i, j in zip(one.tolist(), two.tolist(), strict=True):
        if i < j and keep[i] and keep[j] and abs(areas[i] - areas[j]) <= _SAME * areas[i]:
            apart = shapely.symmetric_difference(shapes[i], shapes[j]).area
            keep[j] = apart > 100 * _SAME * areas[i]
    return shapes[keep], int(np.count_nonzero(~keep))


def _depths(shapes: NDArray[np.object_]) -> NDArray[np.int64]:
    """In how many others each shape lies as a whole."""
    tree = shapely.STRtree(shapes)
    inner, outer = tree.query(shapes, predicate="covered_by")
    return np.bincount(inner[inner != outer], minlength=len(shapes))
