"""Rings taken apart into pieces of the plane, each with few vertices, without any rounding.

The sweep that fills rings looks, at each vertex, at all edges that pass it: with the vertices of a
long jagged outline that grows with their square. In a piece of the plane only few edges pass.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

Grid = np.ndarray[tuple[int, int], np.dtype[np.int64]]
Sizes = np.ndarray[tuple[int], np.dtype[np.int64]]

_FEW = 2000
# Halves that together hold more than this share of the whole are no gain: the edges are long.
_GAIN = 1.4


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxedRings:
    """Rings that wind about each point of a box as often as all rings do; beyond it they differ.

    `box` is (left, bottom, right, top) in the unit of the vertices.
    """

    rings: list[Grid]
    box: tuple[int, int, int, int]


def pieces_of(rings: list[Grid]) -> list[BoxedRings]:
    """Take rings apart into pieces of the plane that tile their box.

    Parameters
    ----------
    rings : list of (n, 2) ndarray of int
        Vertices; each ring closes by itself and may cross itself and others.

    Returns
    -------
    list of Piece
        One with all rings where they have few vertices, or edges too long to gain by it.
    """
    points = np.vstack(rings)
    low, high = points.min(axis=0), points.max(axis=0)
    sizes = np.array([len(ring) for ring in rings])
    return list(_halved(points, sizes, low, high))


def _halved(points: Grid, sizes: Sizes, low: Grid, high: Grid) -> Iterator[BoxedRings]:
    axis = int(np.argmax(high - low))
    inside = np.all((points >= low) & (points <= high), axis=1)
    at = int(np.median(points[inside, axis])) if inside.any() else 0
    if len(points) > _FEW and low[axis] < at < high[axis]:
        below, above = _half(points, sizes, axis, at, 1), _half(points, sizes, axis, at, -1)
        if len(below[0]) + len(above[0]) < _GAIN * len(points):
            middle = at * (np.arange(2) == axis)
            yield from _halved(*below, low, np.where(np.arange(2) == axis, middle, high))
            yield from _halved(*above, np.where(np.arange(2) == axis, middle, low), high)
            return
    box = (int(low[0]), int(low[1]), int(high[0]), int(high[1]))
    rings = np.split(points, np.cumsum(sizes)[:-1]) if len(sizes) else []
    yield BoxedRings(rings=[ring for ring in rings if len(ring) >= 3], box=box)


def _half(points: Grid, sizes: Sizes, axis: int, at: int, side: int) -> tuple[Grid, Sizes]:
    """Rings that wind about one half of the plane as the given ones do.

    Of each stretch beyond the line only its two end vertices stay: what joins them lies beyond the
    line too, so that it can be drawn tight there without passing over a point of the half.
    """
    inside = side * (points[:, axis] - at) <= 0
    ends = np.cumsum(sizes)
    before = np.arange(len(points)) - 1
    after = before + 2
    before[ends - sizes], after[ends - 1] = ends - 1, ends - sizes
    kept = inside | inside[before] | inside[after]
    counts = np.add.reduceat(kept, ends - sizes) if len(sizes) else sizes
    return points[kept], counts[counts > 0]
