"""Fill lines: where parallel lines of the beam must run so that nothing is left uncleared.

The outline pass already clears half a mark on either side of the edge of the beam centres C. What
is left is C eroded by the mark, C1. Lines at spacing p clear C1 where each covers what lies within
p/2 of it; they run on C1 dilated by p/2, which stays inside C, so that a fill never reaches beyond
the outline. A thin area, for which the outline is enough, gets no fill lines at all.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.mask import dilate_by_mark, erode_by_mark
from stopout.values import FloatArray

# Keeps lines that only touch a corner of the area out of the program.
_SHORTEST_MM = 1e-6
# A line switched on or off at speed clears its full width only this far within its end, in marks:
# at a dose ratio of 2 its end lies at the switching point, where a dwelt one has half a mark more.
_LEAD_MARKS = 0.7
# The outline's own coverage is counted on less this, so that chords leave no threads.
_SLACK_MM = 0.001


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FillRow:
    """One pass of the beam along a fill line: stretches with the beam on, at one height.

    `height_mm` is y for lines along x, x for lines along y; `spans_mm` is (k, 2), rising.
    `index` numbers the line from the bottom (or the left).
    """

    index: int
    height_mm: float
    spans_mm: FloatArray


def rows_on(
    area: BaseGeometry,
    centres: BaseGeometry,
    *,
    mark_mm: tuple[float, float],
    spacing_mm: float,
    along: str,
    bridge_mm: float,
) -> list[FillRow]:
    """Return fill lines as `fill_rows` does, of an area that `area_to_fill` has found."""
    if area.is_empty:
        return []
    area, beam = _turned(area, along), _turned(centres, along)
    low, high = area.bounds[1] + spacing_mm / 2, area.bounds[3] - spacing_mm / 2
    n_rows = max(1, int(np.ceil((high - low) / spacing_mm - 1e-9)))
    first = (low + high) / 2 - (n_rows - 1) / 2 * spacing_mm
    lead = _LEAD_MARKS * (mark_mm[0] if along == "x" else mark_mm[1])
    return _rows(area, beam, (first, spacing_mm, n_rows), lead, bridge_mm)


def rows_at(
    area: BaseGeometry,
    centres: BaseGeometry,
    *,
    lines: tuple[float, float, int],
    mark_mm: tuple[float, float],
    along: str,
    bridge_mm: float,
) -> list[FillRow]:
    """Return fill lines as `rows_on` does, at heights that are given.

    Parameters
    ----------
    area, centres, mark_mm, along, bridge_mm
        As for `rows_on`.
    lines : (float, float, int)
        Height of the first line, spacing, and their number.
    """
    if area.is_empty or lines[2] < 1:
        return []
    lead = _LEAD_MARKS * (mark_mm[0] if along == "x" else mark_mm[1])
    return _rows(_turned(area, along), _turned(centres, along), lines, lead, bridge_mm)


def _turned(area: BaseGeometry, along: str) -> BaseGeometry:
    """Swap x and y for lines along y, so that lines always run along x."""
    return area if along == "x" else shapely.transform(area, lambda xy: xy[:, ::-1])


def _rows(
    area: BaseGeometry,
    beam: BaseGeometry,
    lines: tuple[float, float, int],
    lead: float,
    bridge_mm: float,
) -> list[FillRow]:
    first, spacing_mm, n_rows = lines
    index, start, end = scan_rows(area, first_mm=first, spacing_mm=spacing_mm, n_rows=n_rows)
    within = scan_rows(beam, first_mm=first, spacing_mm=spacing_mm, n_rows=n_rows)
    index, start, end = _led((index, start, end), within, lead)
    return _bridge(index, start, end, first, spacing_mm, bridge_mm)


def _led(
    spans: tuple[np.ndarray, FloatArray, FloatArray],
    within: tuple[np.ndarray, FloatArray, FloatArray],
    lead_mm: float,
) -> tuple[np.ndarray, FloatArray, FloatArray]:
    """Switch the beam on sooner and off later by a lead, as far as the beam may go there.

    Stretches that a lead makes overlap become one.
    """
    index, start, end = spans
    line, low, high = within
    if not len(index) or not len(line):
        return spans
    # One axis for all lines: each gets its own stretch of it, longer than any line.
    width = float(max(high.max(), end.max()) - min(low.min(), start.min())) + 1.0
    base = min(low.min(), start.min())
    middle = index * width + (start + end) / 2 - base
    k = np.searchsorted(line * width + low - base, middle, side="right") - 1
    k = k.clip(0)
    holds = (line[k] == index) & (low[k] <= start) & (end <= high[k])
    start = np.where(holds, np.maximum(start - lead_mm, low[k]), start)
    end = np.where(holds, np.minimum(end + lead_mm, high[k]), end)
    meets = (np.diff(index) == 0) & (start[1:] <= end[:-1])
    return (
        index[np.append(True, ~meets)],
        start[np.append(True, ~meets)],
        end[np.append(~meets, True)],
    )


def needs_fill(centres: BaseGeometry, *, mark_mm: tuple[float, float]) -> bool:
    """Tell whether an outline alone would leave paint within it."""
    return not _left_by_outline(centres, mark_mm).is_empty


def _left_by_outline(centres: BaseGeometry, mark_mm: tuple[float, float]) -> MultiPolygon:
    cleared = (mark_mm[0] - 2 * _SLACK_MM, mark_mm[1] - 2 * _SLACK_MM)
    return erode_by_mark(centres, cleared)


def area_to_fill(
    centres: BaseGeometry, *, mark_mm: tuple[float, float], spacing_mm: float, along: str
) -> MultiPolygon:
    """Return the area on which fill lines run."""
    across = mark_mm[1] if along == "x" else mark_mm[0]
    left = _left_by_outline(centres, mark_mm)
    share = min(spacing_mm / across, 1.0)
    return dilate_by_mark(left, (mark_mm[0] * share, mark_mm[1] * share))


def scan_rows(
    area: BaseGeometry, *, first_mm: float, spacing_mm: float, n_rows: int
) -> tuple[np.ndarray, FloatArray, FloatArray]:
    """Cut an area by horizontal lines (even-odd rule).

    Returns
    -------
    index, start, end : (k,) ndarrays
        Line number and x range of each stretch inside, sorted by line, then x.
    """
    starts, ends = _edges(area)
    rising = starts[:, 1] <= ends[:, 1]
    low = np.where(rising[:, None], starts, ends)
    high = np.where(rising[:, None], ends, starts)
    # Half-open edges [low, high) cross every line an even number of times.
    from_row = np.ceil((low[:, 1] - first_mm) / spacing_mm).astype(np.int64)
    to_row = np.ceil((high[:, 1] - first_mm) / spacing_mm).astype(np.int64)
    from_row, to_row = np.clip(from_row, 0, n_rows), np.clip(to_row, 0, n_rows)
    count = to_row - from_row
    edge = np.repeat(np.arange(len(low)), count)
    offset = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    row = from_row[edge] + offset
    y = first_mm + row * spacing_mm
    share = (y - low[edge, 1]) / (high[edge, 1] - low[edge, 1])
    x = low[edge, 0] + share * (high[edge, 0] - low[edge, 0])
    order = np.lexsort((x, row))
    row, x = row[order], x[order]
    return row[::2], x[::2], x[1::2]


def _edges(area: BaseGeometry) -> tuple[FloatArray, FloatArray]:
    """Return the start and end points of all edges of all rings."""
    rings = shapely.get_rings(shapely.get_parts(area))
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    return xy[:-1][same], xy[1:][same]


def _bridge(
    index: np.ndarray,
    start: FloatArray,
    end: FloatArray,
    first_mm: float,
    spacing_mm: float,
    bridge_mm: float,
) -> list[FillRow]:
    """Join stretches of one line across short gaps, and make rows of them."""
    kept = end - start > _SHORTEST_MM
    index, start, end = index[kept], start[kept], end[kept]
    if not len(index):
        return []
    apart = (np.diff(index) != 0) | (start[1:] - end[:-1] > bridge_mm)
    bounds = np.concatenate([[0], np.flatnonzero(apart) + 1, [len(index)]])
    spans = np.column_stack([start, end])
    return [
        FillRow(
            index=int(index[a]),
            height_mm=float(first_mm + index[a] * spacing_mm),
            spans_mm=spans[a:b],
        )
        for a, b in pairwise(bounds)
    ]
