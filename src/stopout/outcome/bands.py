"""What single straight lines sweep, apart from their round ends.

Fill rows lie by the thousand one above the other, each overlapping the next. The region of such a
stack can be written down as one polygon with steps at its sides; thousands of rectangles then
need not be united one by one, which is the larger part of the work.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from stopout.values import FloatArray

# Rows are stacked where they lie more than one radius apart, so that a row meets only the next
# ones, and less than two, so that it does meet them.
_NEAREST, _FARTHEST = 1.001, 1.999


def bands(lines_mm: FloatArray, radius_mm: float) -> list[FloatArray]:
    """Return polygons whose union is what a disc sweeps along lines, less the lines' round ends.

    Parameters
    ----------
    lines_mm : (n, 4) ndarray
        Both ends of each line, x0, y0, x1, y1, the lesser end first; none without length.
    radius_mm : float
        Radius of the disc.

    Returns
    -------
    list of (m, 2) ndarray
        Corners of polygons, counterclockwise; they may overlap.
    """
    level = lines_mm[:, 1] == lines_mm[:, 3]
    upright = lines_mm[:, 0] == lines_mm[:, 2]
    rows = lines_mm[level][:, [0, 2, 1]]
    columns = lines_mm[upright][:, [1, 3, 0]]
    turned = [corners[::-1, ::-1] for corners in _stacks(columns, radius_mm)]
    return [
        *_stacks(rows, radius_mm),
        *turned,
        *_rectangles(lines_mm[~level & ~upright], radius_mm),
    ]


def _rectangles(lines: FloatArray, radius: float) -> FloatArray:
    a, b = lines[:, :2], lines[:, 2:]
    step = b - a
    scale = radius / np.hypot(step[:, 0], step[:, 1])
    side = scale[:, None] * np.column_stack([step[:, 1], -step[:, 0]])
    return np.stack([a + side, b + side, b - side, a - side], axis=1)


def _stacks(rows: FloatArray, radius: float) -> list[FloatArray]:
    """Stack level rows (left, right, height), (n, 3), into polygons with steps at their sides."""
    if not len(rows):
        return []
    stack = _stack_of_each(rows, radius)
    order = np.lexsort([rows[:, 2], stack])
    rows, stack = rows[order], stack[order]
    joined = stack[1:] == stack[:-1]
    # The wider of two rows keeps its own edge over the whole of their overlap.
    right = _side(rows[:, 1], rows[:, 2], joined, rows[1:, 1] > rows[:-1, 1], radius)
    left = _side(rows[:, 0], rows[:, 2], joined, rows[1:, 0] < rows[:-1, 0], radius)
    cuts = [0, *(np.flatnonzero(~joined) + 1).tolist(), len(rows)]
    return [
        np.vstack([right[i:j].reshape(-1, 2), left[i:j].reshape(-1, 2)[::-1]])
        for i, j in pairwise(cuts)
    ]


def _side(
    edge: FloatArray,
    height: FloatArray,
    joined: NDArray[np.bool_],
    upper_is_wider: NDArray[np.bool_],
    radius: float,
) -> FloatArray:
    """Lower and upper end of each row's part of a stack's side, (n, 2, 2)."""
    low, high = height - radius, height + radius
    step = np.where(upper_is_wider, low[1:], high[:-1])
    high[:-1] = np.where(joined, step, high[:-1])
    low[1:] = np.where(joined, step, low[1:])
    return np.stack([np.column_stack([edge, low]), np.column_stack([edge, high])], axis=1)


def _stack_of_each(rows: FloatArray, radius: float) -> NDArray[np.intp]:
    """Number the stacks: rows go on one another where each has only the other to meet."""
    left, right, height = rows.T
    ends = np.stack([rows[:, [0, 2]], rows[:, [1, 2]]], axis=1)
    above = shapely.box(left, height + _NEAREST * radius, right, height + _FARTHEST * radius)
    lower, upper = shapely.STRtree(shapely.linestrings(ends)).query(above)
    # A touch at a single point makes no polygon.
    overlap = np.minimum(right[lower], right[upper]) - np.maximum(left[lower], left[upper])
    lower, upper = lower[overlap > 1e-6], upper[overlap > 1e-6]
    only = (np.bincount(lower, minlength=len(rows))[lower] == 1) & (
        np.bincount(upper, minlength=len(rows))[upper] == 1
    )
    stack = list(range(len(rows)))
    climb = np.argsort(height[upper[only]], kind="stable")
    for below, on_top in zip(lower[only][climb], upper[only][climb], strict=True):
        stack[on_top] = stack[below]
    return np.asarray(stack)
