"""Regions as pixels: how much of each pixel a region covers, and how it looks when blurred."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.values import FloatArray, Grey

_SUBROWS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Square pixels over a window of the piece, row 0 on top as in a picture.

    `left_mm`, `top_mm` is the outer corner of the first pixel, y up.
    """

    left_mm: float
    top_mm: float
    pitch_mm: float
    rows: int
    columns: int

    def to_px(self, points_mm: FloatArray) -> FloatArray:
        """(n, 2) points in mm to columns and rows; pixel centres are whole numbers."""
        x = (points_mm[:, 0] - self.left_mm) / self.pitch_mm - 0.5
        y = (self.top_mm - points_mm[:, 1]) / self.pitch_mm - 0.5
        return np.column_stack([x, y])

    def matrix(self) -> FloatArray:
        """(3, 3) transform from columns and rows to mm."""
        pitch = self.pitch_mm
        return np.array(
            [
                [pitch, 0, self.left_mm + pitch / 2],
                [0, -pitch, self.top_mm - pitch / 2],
                [0, 0, 1.0],
            ]
        )


def coverage(region: BaseGeometry, grid: Grid) -> Grey:
    """Share of each pixel that a region covers.

    Parameters
    ----------
    region : BaseGeometry
        In mm; Polygon or MultiPolygon, maybe empty.
    grid : Grid

    Returns
    -------
    (rows, columns) ndarray of float32
        Exact along rows, by four lines a row across them.

    Notes
    -----
    Each outline that crosses a line adds what lies to its right with the sign of its way, so that
    a running sum along the line is the winding number. The rings are turned accordingly first.
    """
    rings = shapely.get_rings(shapely.orient_polygons(shapely.get_parts(region)))
    total = np.zeros(grid.rows * (grid.columns + 2))
    if len(rings):
        points, ring = shapely.get_coordinates(rings, return_index=True)
        _add_crossings(total, grid.to_px(points) + 0.5, ring, grid)
    summed = np.cumsum(total.reshape(grid.rows, grid.columns + 2), axis=1)[:, : grid.columns]
    return np.asarray(np.clip(summed, 0, 1), np.float32)


def _add_crossings(total: FloatArray, px: FloatArray, ring: NDArray[np.intp], grid: Grid) -> None:
    same = ring[1:] == ring[:-1]
    a, b = px[:-1][same], px[1:][same]
    low = np.minimum(a[:, 1], b[:, 1]) * _SUBROWS - 0.5
    high = np.maximum(a[:, 1], b[:, 1]) * _SUBROWS - 0.5
    first = np.clip(np.ceil(low), 0, grid.rows * _SUBROWS).astype(np.intp)
    last = np.clip(np.ceil(high), 0, grid.rows * _SUBROWS).astype(np.intp)
    count = last - first
    segment = np.repeat(np.arange(len(a)), count)
    start = np.repeat(np.cumsum(count) - count, count)
    line = first[segment] + np.arange(len(segment)) - start
    p, q = a[segment], b[segment]
    share = ((line + 0.5) / _SUBROWS - p[:, 1]) / (q[:, 1] - p[:, 1])
    x = np.clip(p[:, 0] + share * (q[:, 0] - p[:, 0]), 0, grid.columns)
    # With y down a ring that keeps its inside to the left goes down on the left of it.
    sign = np.where(q[:, 1] > p[:, 1], 1.0, -1.0) / _SUBROWS
    column = np.floor(x).astype(np.intp)
    part = x - column
    at = (line // _SUBROWS) * (grid.columns + 2) + column
    size = len(total)
    total += np.bincount(at, weights=sign * (1 - part), minlength=size)[:size]
    total += np.bincount(at + 1, weights=sign * part, minlength=size)[:size]
