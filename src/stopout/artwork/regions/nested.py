"""Rings that cross neither themselves nor each other, filled as they nest: no point is moved."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

_Polygons = NDArray[np.object_]


def fill_nested(rings: Sequence[NDArray[np.float64]], *, evenodd: bool) -> BaseGeometry | None:
    """Return what rings enclose; None where one crosses or touches itself or another.

    Parameters
    ----------
    rings : sequence of (n, 2) ndarray
        Of three points and more; each closes by itself.
    evenodd : bool
        Whether what is enclosed an odd number of times is filled; else what is enclosed more often
        one way round than the other (SVG 2, section 13.4.2, fill-rule).
    """
    lines = shapely.linearrings(
        np.concatenate(rings), indices=np.repeat(np.arange(len(rings)), list(map(len, rings)))
    )
    faces: _Polygons = shapely.polygons(lines)
    if not shapely.is_valid(faces).all():
        return None
    tree = shapely.STRtree(lines)
    one, other = tree.query(lines)
    met = one < other
    one, other = one[met], other[met]
    shapely.prepare(lines)
    if shapely.intersects(lines[one], lines[other]).any():
        return None
    inner, outer = _nested(faces, np.concatenate([one, other]), np.concatenate([other, one]))
    return _built(faces, inner, outer, evenodd=evenodd)


def _nested(
    faces: _Polygons, one: NDArray[np.intp], other: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return which face lies in which, of pairs whose boxes meet and whose rings do not."""
    first = shapely.get_point(shapely.get_exterior_ring(faces), 0)
    shapely.prepare(faces)
    within = shapely.contains(faces[other], first[one])
    return one[within], other[within]


def _built(
    faces: _Polygons, inner: NDArray[np.intp], outer: NDArray[np.intp], *, evenodd: bool
) -> BaseGeometry:
    count = len(faces)
    turn = np.where(shapely.is_ccw(shapely.get_exterior_ring(faces)), 1, -1)
    turns, depth = turn.copy(), np.ones(count, dtype=int)
    np.add.at(turns, inner, turn[outer])
    np.add.at(depth, inner, 1)
    inside = depth % 2 == 1 if evenodd else turns != 0
    outside = depth % 2 == 0 if evenodd else turns - turn != 0
    is_shell, is_hole = inside & ~outside, outside & ~inside
    # The shell of a hole is the smallest that it lies in.
    kept = is_hole[inner] & is_shell[outer]
    inner, outer = inner[kept], outer[kept]
    order = np.lexsort([shapely.area(faces[outer]), inner])
    inner, outer = inner[order], outer[order]
    own = np.diff(inner, prepend=-1) != 0
    shells = np.flatnonzero(is_shell)
    # Of each shell first its own ring, then its holes.
    home = np.concatenate([shells, outer[own]])
    ring = np.concatenate([shells, inner[own]])
    order = np.argsort(home, kind="stable")
    which = np.searchsorted(shells, home[order])
    parts = shapely.polygons(shapely.get_exterior_ring(faces[ring[order]]), indices=which)
    return parts[0] if len(parts) == 1 else MultiPolygon(parts.tolist())
