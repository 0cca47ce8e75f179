"""Lines half way between the two sides of slivers, of all slivers together."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from stopout.clearing.plane import Polygons
from stopout.values import FloatArray

__all__ = ["PER_MARK", "middles", "shortened"]

Index = NDArray[np.int64]

# A sliver's middle line is drawn with a point about every this many marks.
PER_MARK = 0.25
_MOST_POINTS = 600
# So many pairs of points are looked at together: memory.
_AT_ONCE = 2_000_000


def middles(edges: Polygons) -> Polygons:
    """Return the lines half way between the two sides of slivers, from tip to tip.

    The tips are a sliver's two corners farthest apart; points of both sides are paired by their
    share of the way.

    Parameters
    ----------
    edges : (n,) ndarray of LineString or LinearRing
        The closed edge of each sliver, lengths in marks.

    Returns
    -------
    (n,) ndarray of LineString
    """
    if not len(edges):
        return edges
    points, bounds = _few(edges)
    at = _along(points)
    first, last = bounds[:-1], bounds[1:] - 1
    low, high = np.sort(_farthest(points, first, last), axis=0)
    whole = at[last] - at[first]
    # From the lower tip to the higher: onwards, or back past the beginning.
    onwards = at[first + high] - at[first + low]
    n = np.maximum(2, np.ceil(np.maximum(onwards, whole - onwards) / PER_MARK).astype(int) + 1)
    line = np.repeat(np.arange(len(edges)), n)
    share = (np.arange(len(line)) - np.repeat(np.cumsum(n) - n, n)) / (n - 1)[line]
    begin = (at[first + low] - at[first])[line]
    back = (begin - share * (whole - onwards)[line]) % whole[line]
    sides = [
        _places(points, at, first[line], last[line], way)
        for way in (begin + share * onwards[line], back)
    ]
    return np.asarray(shapely.linestrings((sides[0] + sides[1]) / 2, indices=line))


def shortened(lines: Polygons, by: float) -> Polygons:
    """Return lines longer than twice some length without as much at either end."""
    if not len(lines):
        return lines
    xy, whose = shapely.get_coordinates(lines, return_index=True)
    bounds = np.searchsorted(whose, np.arange(len(lines) + 1))
    at = _along(xy)
    at -= at[bounds[:-1]][whose]
    length = at[bounds[1:] - 1]
    inner = (at > by) & (at < length[whose] - by)
    ways = (np.full(len(lines), by), length - by)
    ends = [shapely.get_coordinates(shapely.line_interpolate_point(lines, way)) for way in ways]
    points = np.concatenate([xy[inner], *ends])
    every = np.arange(len(lines))
    line = np.concatenate([whose[inner], every, every])
    place = np.concatenate([at[inner], *ways])
    order = np.lexsort((place, line))
    return np.asarray(shapely.linestrings(points[order], indices=line[order]))


def _few(edges: Polygons) -> tuple[FloatArray, Index]:
    """Return the vertices of closed edges, of very many some only, and where each one's begin."""
    points, whose = shapely.get_coordinates(edges, return_index=True)
    bounds = np.searchsorted(whose, np.arange(len(edges) + 1))
    number = np.arange(len(points)) - bounds[:-1][whose]
    every = np.maximum(1, (np.diff(bounds) - 1) // _MOST_POINTS)
    kept = number % every[whose] == 0
    kept[bounds[1:] - 1] = True
    points, whose = points[kept], whose[kept]
    return points, np.searchsorted(whose, np.arange(len(edges) + 1))


def _along(points: FloatArray) -> FloatArray:
    """Return how far along each vertex lies, all lines one after another."""
    return np.append(0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T)))


def _farthest(points: FloatArray, first: Index, last: Index) -> Index:
    """Return each edge's two vertices farthest apart by number, the first of equals: (2, n)."""
    count = last - first
    found = np.zeros((2, len(count)), dtype=np.int64)
    # Edges of about as many vertices together, the shorter of them filled up with their first.
    size = np.maximum(4, 2 ** np.ceil(np.log2(np.maximum(count, 1))).astype(int))
    for n in np.unique(size).tolist():
        some = np.flatnonzero(size == n)
        for mine in np.array_split(some, -(-len(some) * n * n // _AT_ONCE)):
            number = np.arange(n)
            number = np.where(number < count[mine, None], number, 0)
            few = points[first[mine, None] + number]
            gap = ((few[:, :, None] - few[:, None]) ** 2).sum(axis=-1)
            found[:, mine] = np.divmod(gap.reshape(len(mine), -1).argmax(axis=1), n)
    return found


def _places(
    points: FloatArray, at: FloatArray, first: Index, last: Index, along: FloatArray
) -> FloatArray:
    """Return places so far along lines, whose first and last vertices are told for each place."""
    way = at[first] + along
    k = np.clip(np.searchsorted(at, way, side="right") - 1, first, last - 1)
    share = (way - at[k]) / np.maximum(at[k + 1] - at[k], 1e-12)
    return np.asarray(points[k] + share.clip(0.0, 1.0)[:, None] * (points[k + 1] - points[k]))
