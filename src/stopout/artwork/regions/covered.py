"""How much of each pixel a region covers, exactly: sums of signed areas along its edges."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.values import FloatArray

# Edges that are taken in one go, for the memory's sake.
_MOST_EDGES = 200_000
_POLYGON = 3

_Edges = tuple[FloatArray, FloatArray, FloatArray, FloatArray]


def covered(region: BaseGeometry, size: tuple[int, int]) -> FloatArray:
    """Return the share of each pixel that a region covers.

    Parameters
    ----------
    region : BaseGeometry
        Areas in pixels, from the upper left corner of the picture; their rings may touch.
    size : (int, int)
        Columns and rows of the picture.

    Returns
    -------
    (rows, columns) ndarray
        From 0 to 1; pixel (row, column) covers the square from there to (row + 1, column + 1).

    Notes
    -----
    To the right of a piece of edge within one pixel its row is covered as high as the piece is, and
    in the pixel itself by what lies beside it: the areas of Green's theorem.
    """
    columns, rows = size
    steps = np.zeros(rows * (columns + 2))
    edges = _edges(region)
    for first in range(0, len(edges[0]), _MOST_EDGES):
        ax, ay, bx, by = (ends[first : first + _MOST_EDGES] for ends in edges)
        ay, ax, by, bx = _cut(ay, ax, by, bx)
        ax, ay, bx, by = _cut(ax, ay, bx, by)
        middle, row = (ax + bx) / 2, np.floor((ay + by) / 2).astype(np.intp)
        column = np.clip(np.floor(middle), 0, columns).astype(np.intp)
        within = (row >= 0) & (row < rows)
        high, beside = (by - ay) * within, np.clip(middle - column, 0.0, 1.0)
        at = np.where(within, row, 0) * (columns + 2) + column
        steps += np.bincount(at, high * (1.0 - beside), len(steps))
        steps[1:] += np.bincount(at, high * beside, len(steps))[:-1]
    shares = np.cumsum(steps.reshape(rows, columns + 2), axis=1)[:, :columns]
    return np.clip(shares, 0.0, 1.0)


def _edges(region: BaseGeometry) -> _Edges:
    """Return the ends of all edges, so turned that what they bound is added and holes taken off."""
    parts = shapely.get_parts(region)
    rings, part = shapely.get_rings(
        parts[shapely.get_type_id(parts) == _POLYGON], return_index=True
    )
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    own = ring[1:] == ring[:-1]
    (ax, ay), (bx, by), ring = xy[:-1][own].T, xy[1:][own].T, ring[1:][own]
    # The library tells a ring's turn by one corner, which may lie where it touches itself.
    turn = np.bincount(ring, (bx + ax) * (by - ay), len(rings))
    is_shell = np.append(True, part[1:] != part[:-1])[: len(rings)]
    back = ((turn > 0) == is_shell)[ring]
    return (
        np.where(back, bx, ax),
        np.where(back, by, ay),
        np.where(back, ax, bx),
        np.where(back, ay, by),
    )


def _cut(a: FloatArray, u: FloatArray, b: FloatArray, v: FloatArray) -> _Edges:
    """Cut edges from (a, u) to (b, v) wherever the first coordinate is whole."""
    low, up = np.floor(a), np.floor(b) - np.floor(a)
    many = np.abs(up).astype(np.intp)
    last = np.cumsum(many)
    first = last - many
    edge = np.repeat(np.arange(len(a)), many)
    number = np.arange(len(edge)) - first[edge]
    line = low[edge] + np.where(up[edge] > 0, number + 1, -number)
    other = u[edge] + (line - a[edge]) / (b - a)[edge] * (v - u)[edge]
    # A cut ends one piece and begins the next.
    return (
        np.insert(line, first, a),
        np.insert(other, first, u),
        np.insert(line, last, b),
        np.insert(other, last, v),
    )
