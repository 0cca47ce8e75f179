"""The boxes of masks and patterns, and where the tiles of a pattern lie."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from stopout.artwork.regions.curves import Affine
from stopout.artwork.regions.rings import EMPTY, as_xy, only_areas

MOST_TILES = 20_000


def tile_of(target: Any, frame: Affine) -> BaseGeometry:
    """The box x, y, width, height of a mask or pattern, in page mm."""
    x, y, wide, high = (float(target.get(key, "0")) for key in ("x", "y", "width", "height"))
    corners = np.array([complex(x, y), complex(x + wide, y), complex(x + wide, y + high),
                        complex(x, y + high)])  # fmt: skip
    box = Polygon(as_xy(frame.apply(corners)))
    return box if box.area > 0.0 and box.is_valid else EMPTY


def shifts_of(
    base: Affine, region: BaseGeometry, tile: tuple[float, float, float, float]
) -> list[tuple[float, float]]:
    """How far each tile that touches a region lies from the first, in page mm."""
    x, y, wide, high = tile
    matrix = np.array([[base.a, base.c], [base.b, base.d]])
    if abs(np.linalg.det(matrix)) < 1e-18:
        return []
    x0, y0, x1, y1 = region.bounds
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]) - [base.e, base.f]
    own = np.linalg.solve(matrix, corners.T).T
    low = np.floor((own.min(axis=0) - [x, y]) / [wide, high] + 1e-9).astype(int)
    high_end = np.ceil((own.max(axis=0) - [x, y]) / [wide, high] - 1e-9).astype(int)
    count = np.maximum(high_end - low, 0)
    if int(count[0]) * int(count[1]) > MOST_TILES:
        return [(0.0, 0.0)] * min(int(count[0]) * int(count[1]), 10 * MOST_TILES)
    return [
        (base.a * i * wide + base.c * j * high, base.b * i * wide + base.d * j * high)
        for i in range(int(low[0]), int(high_end[0]))
        for j in range(int(low[1]), int(high_end[1]))
    ]


def repeated(region: BaseGeometry, shifts: list[tuple[float, float]]) -> BaseGeometry:
    copies = [shapely.transform(region, lambda xy, by=shift: xy + by) for shift in shifts]
    return only_areas(shapely.union_all(copies)) if copies else EMPTY
