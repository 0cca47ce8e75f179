"""Delaunay triangles of points; of very many tile by tile, for the library's time grows faster.

A triangle of the points of one tile whose circle lies within that tile is one of all points: no
other point lies in it. What is left has corners about which triangles are missing; of these corners
together it is found, and kept where no other point lies in its circle.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stopout.values import FloatArray

Index = NDArray[np.intp]

# From so many points on they are taken tile by tile, so many in a tile.
_MANY = 20_000
_TILE = 6_000
# What rounding may move a circle by, in mm and as a share of its radius.
_ROUNDING = 1e-9
_NOTHING: Index = np.empty((0, 3), dtype=np.intp)


def delaunay(points: FloatArray) -> tuple[Index, Index]:
    """Return the Delaunay triangles of points, and each one's neighbours across from its corners.

    Parameters
    ----------
    points : (n, 2) ndarray
        In mm, no four on one circle.

    Returns
    -------
    triangles : (m, 3) ndarray of int
        Their corners; none of fewer than three points, or of such that lie on one line.
    neighbours : (m, 3) ndarray of int
        The triangle beyond the side across from each corner; -1 for none.
    """
    return _of(points) if len(points) < _MANY else _by_tiles(points)


def circles(points: FloatArray, triangles: Index) -> tuple[FloatArray, FloatArray]:
    """Return the centres and radii of triangles' circles, not finite where a triangle is flat."""
    corners = points[triangles]
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    twice_area = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        aa, bb = (a**2).sum(axis=1), (b**2).sum(axis=1)
        x = (b[:, 1] * aa - a[:, 1] * bb) / (2 * twice_area)
        y = (a[:, 0] * bb - b[:, 0] * aa) / (2 * twice_area)
    off = np.column_stack([x, y])
    return corners[:, 0] + off, np.hypot(x, y)


def _of(points: FloatArray) -> tuple[Index, Index]:
    # Imported here: the command line need not wait for it.
    from scipy.spatial import Delaunay, QhullError

    try:
        made = Delaunay(points)
    except (QhullError, ValueError):
        # Too few points, or points on one line.
        return _NOTHING, _NOTHING
    return made.simplices.astype(np.intp), made.neighbors.astype(np.intp)


def _by_tiles(points: FloatArray) -> tuple[Index, Index]:
    tiles = _Tiles(points)
    made, beside = tiles.triangles()
    sure = tiles.hold(made)
    made, beside = _kept(made, beside, sure)
    # Corners that are met by none, or by a side beyond which a triangle is missing: all triangles
    # go the same way round, so that where one such side ends another begins.
    missing = np.ones(len(points), dtype=bool)
    missing[made] = False
    of, across = np.nonzero(beside < 0)
    missing[made[of, (across + 1) % 3]] = True
    rest = np.flatnonzero(missing)
    others, near = _of(points[rest])
    others = rest[others]
    others, near = _kept(others, near, ~tiles.hold(others) & _are_empty(points, others))
    count = len(made)
    made = np.concatenate([made, others])
    beside = np.concatenate([beside, np.where(near < 0, -1, near + count)])
    return made, _joined(made, beside, len(points))


class _Tiles:
    """Tiles of a plane with about as many points in each."""

    def __init__(self, points: FloatArray) -> None:
        self._points = points
        self._low, size = points.min(axis=0), np.maximum(np.ptp(points, axis=0), _ROUNDING)
        side = np.sqrt(size.prod() * _TILE / len(points))
        self._count = np.maximum(1, np.ceil(size / side)).astype(np.intp)
        self._step = size / self._count

    def triangles(self) -> tuple[Index, Index]:
        """Return the triangles of each tile's points by themselves."""
        cell = np.minimum((self._points - self._low) // self._step, self._count - 1)
        name = cell[:, 0] * self._count[1] + cell[:, 1]
        order = np.argsort(name, kind="stable")
        made, beside, count = [_NOTHING], [_NOTHING], 0
        for own in np.split(order, np.flatnonzero(np.diff(name[order])) + 1):
            found, near = _of(self._points[own])
            made.append(own[found])
            beside.append(np.where(near < 0, -1, near + count))
            count += len(found)
        return np.concatenate(made), np.concatenate(beside)

    def hold(self, triangles: Index) -> NDArray[np.bool_]:
        """Tell the circles of which triangles lie within one tile."""
        # Whatever order a triangle's corners come in, its circle is the same to the last place.
        centre, radius = circles(self._points, np.sort(triangles, axis=1))
        finite = np.asarray(np.isfinite(radius))
        centre[~finite], radius[~finite] = 0.0, np.inf
        low = self._low + (centre - self._low) // self._step * self._step
        reach = (radius + _ROUNDING)[:, None]
        return np.asarray(
            ((centre - reach > low) & (centre + reach < low + self._step)).all(axis=1)
        )


def _are_empty(points: FloatArray, triangles: Index) -> NDArray[np.bool_]:
    """Tell which triangles have no point within their circles."""
    from scipy.spatial import cKDTree

    centre, radius = circles(points, triangles)
    is_empty = np.asarray(np.isfinite(radius))
    nearest, _ = cKDTree(points).query(centre[is_empty])
    is_empty[is_empty] = nearest >= radius[is_empty] * (1 - _ROUNDING)
    return is_empty


def _kept(triangles: Index, neighbours: Index, kept: NDArray[np.bool_]) -> tuple[Index, Index]:
    """Return some of some triangles, their neighbours numbered anew."""
    number = np.append(np.where(kept, np.cumsum(kept) - 1, -1), -1)
    return triangles[kept], number[neighbours[kept]]


def _joined(triangles: Index, neighbours: Index, n_points: int) -> Index:
    """Return the neighbours of triangles, those known in part whose open sides are the same."""
    at = np.argwhere(neighbours < 0)
    ends = np.sort([triangles[at[:, 0], (at[:, 1] + k) % 3] for k in (1, 2)], axis=0)
    side = ends[0] * n_points + ends[1]
    order = np.argsort(side, kind="stable")
    same = np.flatnonzero(np.diff(side[order]) == 0)
    one, other = at[order[same]], at[order[same + 1]]
    joined = neighbours.copy()
    joined[one[:, 0], one[:, 1]], joined[other[:, 0], other[:, 1]] = other[:, 0], one[:, 0]
    return joined
