"""Kinds of shapes: areas that are the same but for their place, so that one is looked at for all.

The dots of a picture are of few kinds. Places are rounded to a program's decimals, so that what is
made of one of a kind is moved by whole steps of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from shapely import Polygon

from stopout.values import COORDINATE_DECIMALS, FloatArray

__all__ = ["kinds_of"]

# Shapes whose vertices agree within this are the same.
_SAME_MM = 1e-6


def kinds_of(areas: Sequence[Polygon]) -> tuple[list[int], FloatArray]:
    """Return for each area the first that is the same but for its place, and the places.

    Returns
    -------
    first : list of int
        Index of the first area of the same kind, an area's own where it is that.
    at_mm : (n, 2) ndarray
        Lower left corners, rounded to a program's decimals.
    """
    shapes = np.array(areas, dtype=object)
    at = np.round(shapely.bounds(shapes).reshape(-1, 4)[:, :2], COORDINATE_DECIMALS)
    xy, whose = shapely.get_coordinates(shapes, return_index=True)
    grid = np.round((xy - at[whose]) / _SAME_MM).astype(np.int64)
    bounds = np.searchsorted(whose, np.arange(len(shapes) + 1))
    # A ring ends where it begins: the vertices tell the rings apart.
    known: dict[bytes, int] = {}
    first = [known.setdefault(grid[a:b].tobytes(), k) for k, (a, b) in enumerate(pairwise(bounds))]
    return first, at
