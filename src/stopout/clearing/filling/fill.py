"""Fill lines: where parallel lines of the beam must run so that nothing is left uncleared.

The outline pass already clears half a mark on either side of the edge of the beam centres C. What
is left is C eroded by the mark, C1. Lines at spacing p clear C1 where each covers what lies within
p/2 of it; they run on C1 dilated by p/2, which stays inside C, so that a fill never reaches beyond
the outline. A thin area, for which the outline is enough, gets no fill lines at all.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.clearing.plane import thinned
from stopout.mask import dilate_each_by_mark, erode_each_by_mark
from stopout.values import FloatArray

Areas = NDArray[np.object_]
Index = NDArray[np.int64]

# Keeps lines that only touch a corner of the area out of the program.
_SHORTEST_MM = 1e-6
# A line switched on or off at speed clears its full width only this far within its end, in marks:
# at a dose ratio of 2 its end lies at the switching point, where a dwelt one has half a mark more.
_LEAD_MARKS = 0.7
# The outline's own coverage is counted on less this, so that chords leave no threads.
_SLACK_MM = 0.001
# Where lines end, chords may stand off the curve by so much; so may they a quarter circle.
_CHORD_MM, _CHORDS = 0.0003, 12


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
    """Return fill lines of an area that `areas_to_fill` has found."""
    if area.is_empty:
        return []
    area, beam = _turned(area, along), _turned(centres, along)
    first, n_rows = _lines_in(area.bounds[1], area.bounds[3], spacing_mm)
    lead = _LEAD_MARKS * (mark_mm[0] if along == "x" else mark_mm[1])
    return _rows(area, beam, (float(first), spacing_mm, int(n_rows)), lead, bridge_mm)


def _lines_in(low: Any, high: Any, spacing_mm: float) -> tuple[Any, Any]:
    """Return where the first line runs of an area from one height to another, and how many do.

    Heights may be arrays.
    """
    low, high = low + spacing_mm / 2, high - spacing_mm / 2
    n_rows = np.maximum(1, np.ceil((high - low) / spacing_mm - 1e-9).astype(np.int64))
    return (low + high) / 2 - (n_rows - 1) / 2 * spacing_mm, n_rows


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
    index, start, end, bounds = _joined(*_spans(area, beam, lines, lead), bridge_mm)
    spans = np.column_stack([start, end])
    first, spacing_mm, _ = lines
    return [
        FillRow(
            index=int(index[a]),
            height_mm=float(first + index[a] * spacing_mm),
            spans_mm=spans[a:b],
        )
        for a, b in pairwise(bounds)
    ]


def _spans(
    area: Any, beam: Any, lines: tuple[float, float, int], lead: float
) -> tuple[Index, FloatArray, FloatArray]:
    """Cut an area, or several, by lines: each stretch's line, and from where to where it runs."""
    first, spacing_mm, n_rows = lines
    inside, within = (
        scan_rows(shape, first_mm=first, spacing_mm=spacing_mm, n_rows=n_rows)
        for shape in (area, beam)
    )
    return _led(inside, within, lead)


def _led(
    spans: tuple[Index, FloatArray, FloatArray],
    within: tuple[Index, FloatArray, FloatArray],
    lead_mm: float,
) -> tuple[Index, FloatArray, FloatArray]:
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


def left_by_outlines(parts: Areas, *, mark_mm: tuple[float, float]) -> Areas:
    """Return what an outline alone would leave of each of some areas of beam centres."""
    cleared = (mark_mm[0] - 2 * _SLACK_MM, mark_mm[1] - 2 * _SLACK_MM)
    return thinned(
        erode_each_by_mark(thinned(parts, _CHORD_MM), cleared, chords=_CHORDS), _CHORD_MM
    )


def areas_to_fill(
    left: Areas, *, mark_mm: tuple[float, float], spacing_mm: float, along: str
) -> Areas:
    """Return the areas on which fill lines run to clear what outlines have left."""
    across = mark_mm[1] if along == "x" else mark_mm[0]
    share = min(spacing_mm / across, 1.0)
    return dilate_each_by_mark(left, (mark_mm[0] * share, mark_mm[1] * share), chords=_CHORDS)


def row_lengths(
    areas: Areas,
    beams: Areas,
    *,
    mark_mm: tuple[float, float],
    spacing_mm: float,
    along: str,
    bridge_mm: float,
) -> tuple[FloatArray, Index]:
    """Return how long the fill lines of each area are, gaps and all, and how many there are.

    Each area gets the lines that `rows_on` would give it alone. All are cut at once: they are
    moved across the lines onto a strip, one above the other.
    """
    base, up_mm, n_rows = _strip(areas, beams, spacing_mm, along)
    lead = _LEAD_MARKS * (mark_mm[0] if along == "x" else mark_mm[1])
    moved = [_moved_up(shapes, up_mm, along) for shapes in (areas, beams)]
    spans = _spans(moved[0], moved[1], (0.0, spacing_mm, n_rows), lead)
    index, start, end, bounds = _joined(*spans, bridge_mm)
    whose = np.searchsorted(base, index[bounds[:-1]], side="right") - 1
    length = end[bounds[1:] - 1] - start[bounds[:-1]]
    count = np.bincount(whose, minlength=len(areas))
    return np.asarray(np.bincount(whose, length, minlength=len(areas))), np.asarray(count)


def _strip(
    areas: Areas, beams: Areas, spacing_mm: float, along: str
) -> tuple[Index, FloatArray, int]:
    """Return each area's first line on a strip, how far it moves up, and the number of lines."""
    across = [1, 3] if along == "x" else [0, 2]
    low, high = shapely.bounds(areas)[:, across].T
    beam_low, beam_high = shapely.bounds(beams)[:, across].T
    first, _ = _lines_in(low, high, spacing_mm)
    below = np.ceil((first - beam_low) / spacing_mm).astype(np.int64) + 1
    above = np.ceil((beam_high - first) / spacing_mm).astype(np.int64) + 1
    base = np.cumsum(below + above) - (below + above)
    return base, (base + below) * spacing_mm - first, int((below + above).sum())


def scan_rows(
    area: Any, *, first_mm: float, spacing_mm: float, n_rows: int
) -> tuple[Index, FloatArray, FloatArray]:
    """Cut an area, or an array of them, by horizontal lines (even-odd rule).

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


def _edges(area: Any) -> tuple[FloatArray, FloatArray]:
    """Return the start and end points of all edges of all rings."""
    rings = shapely.get_rings(shapely.get_parts(area))
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    return xy[:-1][same], xy[1:][same]


def _joined(
    index: Index, start: FloatArray, end: FloatArray, bridge_mm: float
) -> tuple[Index, FloatArray, FloatArray, Index]:
    """Return stretches that are no mere touch, and where those begin that follow no short gap."""
    kept = end - start > _SHORTEST_MM
    index, start, end = index[kept], start[kept], end[kept]
    apart = (np.diff(index) != 0) | (start[1:] - end[:-1] > bridge_mm)
    begins = np.flatnonzero(np.append(True, apart)[: len(index)])
    return index, start, end, np.append(begins, len(index))


def _moved_up(shapes: Areas, up_mm: FloatArray, along: str) -> Areas:
    """Return shapes turned so that lines run along x, each moved up by its own length."""
    xy, whose = shapely.get_coordinates(shapes, return_index=True)
    xy = xy if along == "x" else xy[:, ::-1]
    moved = xy + np.column_stack([np.zeros(len(xy)), up_mm[whose]])
    return np.asarray(shapely.set_coordinates(shapes.copy(), moved))
