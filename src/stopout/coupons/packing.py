"""Where the parts of a coupon find room: boxes laid into a face of any outline."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

# Parts are laid on a grid of this; finer would only take longer.
_CELL_MM = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """Lower left corners by the parts' numbers; `left_out` are those that found no room."""

    corners_mm: dict[int, tuple[float, float]]
    left_out: tuple[int, ...]


class Room:
    """The cells of a face that are still free.

    Parameters
    ----------
    usable : BaseGeometry
        Where parts may lie, in mm.
    """

    def __init__(self, usable: BaseGeometry) -> None:
        x0, y0, x1, y1 = usable.bounds if not usable.is_empty else (0.0, 0.0, 0.0, 0.0)
        self.origin = (x0, y0)
        n_x = max(0, math.floor((x1 - x0) / _CELL_MM + 1e-6))
        n_y = max(0, math.floor((y1 - y0) / _CELL_MM + 1e-6))
        x = x0 + _CELL_MM * np.arange(n_x + 1)
        y = y0 + _CELL_MM * np.arange(n_y + 1)
        shapely.prepare(usable)
        grid_x, grid_y = np.meshgrid(x, y)
        inside = shapely.intersects_xy(usable, grid_x, grid_y)
        # A cell is free where all four of its corners are inside.
        self.free: NDArray[np.bool_] = (
            inside[:-1, :-1] & inside[1:, :-1] & inside[:-1, 1:] & inside[1:, 1:]
        )

    def place(
        self, width_mm: float, height_mm: float, *, near_mm: tuple[float, float] | None = None
    ) -> tuple[float, float] | None:
        """Take room for a box and return its lower left corner; None where there is none.

        Parameters
        ----------
        width_mm, height_mm : float
            Size of the box.
        near_mm : (x, y), optional
            Where the box should lie as near as can be; left out: as high up and far left as it
            goes, so that boxes fill rows like writing.
        """
        n_x, n_y = (max(1, math.ceil(size / _CELL_MM - 1e-6)) for size in (width_mm, height_mm))
        fits = self._fits(n_x, n_y)
        rows, columns = np.nonzero(fits)
        if not len(rows):
            return None
        if near_mm is None:
            best = int(np.lexsort((columns, -rows))[0])
        else:
            x = self.origin[0] + _CELL_MM * columns + width_mm / 2 - near_mm[0]
            y = self.origin[1] + _CELL_MM * rows + height_mm / 2 - near_mm[1]
            best = int(np.argmin(np.hypot(x, y)))
        row, column = int(rows[best]), int(columns[best])
        self.free[row : row + n_y, column : column + n_x] = False
        return (self.origin[0] + _CELL_MM * column, self.origin[1] + _CELL_MM * row)

    def _fits(self, n_x: int, n_y: int) -> NDArray[np.bool_]:
        """Where the lower left cell of a box of that many cells may lie."""
        height, width = self.free.shape
        if n_x > width or n_y > height:
            return np.zeros((0, 0), dtype=bool)
        total = np.zeros((height + 1, width + 1), dtype=np.int64)
        total[1:, 1:] = (~self.free).cumsum(axis=0).cumsum(axis=1)
        taken = total[n_y:, n_x:] - total[:-n_y, n_x:] - total[n_y:, :-n_x] + total[:-n_y, :-n_x]
        return np.asarray(taken == 0)


def pack(room: Room, sizes_mm: Sequence[tuple[float, float]]) -> Packed:
    """Lay boxes one after another into what is free.

    Parameters
    ----------
    room : Room
        The face; what is taken of it is marked there.
    sizes_mm : sequence of (width, height)
        The boxes, the most important first.
    """
    corners: dict[int, tuple[float, float]] = {}
    left_out = []
    for k, (width, height) in enumerate(sizes_mm):
        corner = room.place(width, height)
        if corner is None:
            left_out.append(k)
        else:
            corners[k] = corner
    return Packed(corners_mm=corners, left_out=tuple(left_out))
