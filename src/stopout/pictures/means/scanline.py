"""Regions to one-bit pixels by even-odd scan lines, exact at pixel centres.

Polygon fillers of image libraries also set the pixels that the outline merely touches, which
widens everything by up to half a pixel. Here a pixel is set exactly when its centre lies inside.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.values import FloatArray

_STRIP_BYTES = 8_000_000
_STRIP_CROSSINGS = 3_000_000


def packed_strips(
    region: BaseGeometry, *, n_columns: int, n_rows: int, pixel_mm: float
) -> Iterator[NDArray[np.uint8]]:
    """Rasterise a region, a strip of rows at a time, from the top row down.

    Parameters
    ----------
    region : BaseGeometry
        Polygon or MultiPolygon in mm, y up; pixel column 0 begins at x = 0, the bottom row at
        y = 0. What lies outside the image is cut off.
    n_columns, n_rows : int
        Size of the whole image.
    pixel_mm : float
        Side of the square pixel [mm].

    Yields
    ------
    (m, ceil(n_columns / 8)) ndarray of uint8
        Rows of packed bits, most significant bit first, as PNG stores them; 1 = inside. The
        spare bits at the end of a row are 0.
    """
    edges = ring_edges(region) / pixel_mm
    # The first row whose centre is not below a vertex depends on the vertex alone, so edges that
    # meet at it agree and every row is crossed an even number of times.
    first = np.clip(np.ceil(edges[:, [1, 3]] - 0.5), 0, n_rows).astype(np.int64)
    low, high = first.min(axis=1), first.max(axis=1)
    crossed = low < high
    edges, low, high = edges[crossed], low[crossed], high[crossed]
    for bottom, top in _row_bands(low, high, n_columns=n_columns, n_rows=n_rows):
        yield _fill_band(edges, low, high, bottom=bottom, top=top, n_columns=n_columns)


def ring_edges(region: BaseGeometry) -> FloatArray:
    """Edges (x0, y0, x1, y1) of all rings of a region, shells and holes alike.

    Parameters
    ----------
    region : BaseGeometry
        Polygon, MultiPolygon or collection of them; maybe empty.

    Returns
    -------
    (n, 4) ndarray of float
        One row an edge, in the region's units.
    """
    rings = shapely.get_rings(shapely.get_parts(np.atleast_1d(np.asarray(region, dtype=object))))
    points, ring_of_point = shapely.get_coordinates(rings, return_index=True)
    joined = ring_of_point[1:] == ring_of_point[:-1]
    edges: FloatArray = np.hstack([points[:-1], points[1:]])[joined]
    return edges


def _row_bands(
    low: NDArray[np.int64], high: NDArray[np.int64], *, n_columns: int, n_rows: int
) -> Iterator[tuple[int, int]]:
    """Bands [bottom, top) of rows from the top down that keep memory within bounds."""
    crossings_above = np.zeros(n_rows + 1, dtype=np.int64)
    np.add.at(crossings_above, low, 1)
    np.subtract.at(crossings_above, high, 1)
    crossings = np.cumsum(crossings_above)[:n_rows][::-1]
    rows_by_size = max(1, _STRIP_BYTES // (n_columns // 8 + 1))
    total = np.cumsum(crossings)
    top = 0
    while top < n_rows:
        done = total[top - 1] if top else 0
        rows = int(np.searchsorted(total, done + _STRIP_CROSSINGS)) - top
        bottom = min(n_rows, top + max(1, min(rows, rows_by_size)))
        yield n_rows - bottom, n_rows - top
        top = bottom


def _fill_band(
    edges: FloatArray,
    low: NDArray[np.int64],
    high: NDArray[np.int64],
    *,
    bottom: int,
    top: int,
    n_columns: int,
) -> NDArray[np.uint8]:
    """Bits of the rows [bottom, top), counted from the image's bottom, topmost row first."""
    begin, end = np.maximum(low, bottom), np.minimum(high, top)
    here = begin < end
    x0, y0, x1, y1 = edges[here].T
    begin, counts = begin[here], (end - begin)[here]
    edge = np.repeat(np.arange(len(counts)), counts)
    row = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts) + begin[edge]
    slope = (x1 - x0) / (y1 - y0)
    x = x0[edge] + (row + 0.5 - y0[edge]) * slope[edge]
    column = np.clip(np.ceil(x - 0.5), 0, n_columns).astype(np.int64)
    n_bytes = n_columns // 8 + 1
    bits = np.zeros((top - bottom) * n_bytes, dtype=np.uint8)
    place = (top - 1 - row) * n_bytes + (column >> 3)
    np.bitwise_xor.at(bits, place, (128 >> (column & 7)).astype(np.uint8))
    filled = _running_parity(bits.reshape(top - bottom, n_bytes))[:, : (n_columns + 7) // 8]
    if n_columns & 7:
        filled[:, -1] &= (0xFF00 >> (n_columns & 7)) & 0xFF
    return filled


def _running_parity(bits: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Turn crossings into insides: each bit becomes the parity of itself and all before it."""
    bits ^= bits >> 1
    bits ^= bits >> 2
    bits ^= bits >> 4
    carry = np.bitwise_xor.accumulate(bits & 1, axis=1)
    bits[:, 1:] ^= carry[:, :-1] * np.uint8(255)
    return bits
