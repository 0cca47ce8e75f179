"""The order of the work: fill lines back and forth in cells, then the outlines, nearest first."""

from __future__ import annotations

import numpy as np

from stopout.clearing.filling.fill import FillRow
from stopout.clearing.filling.tour import nearest_first, shortened, travel_mm
from stopout.values import FloatArray

# Where every program begins and ends.
HOME_MM = (0.0, 0.0)


def chain_rows(rows: list[FillRow]) -> list[list[FillRow]]:
    """Join rows that lie over one another into cells that are cleared back and forth.

    A row goes on with the row above where the two overlap and neither overlaps another one.
    """
    by_line: dict[int, list[int]] = {}
    for k, row in enumerate(rows):
        by_line.setdefault(row.index, []).append(k)
    above = [_overlapping(rows, k, by_line.get(row.index + 1, [])) for k, row in enumerate(rows)]
    n_below = np.zeros(len(rows), dtype=int)
    for over in above:
        for k in over:
            n_below[k] += 1
    follows = {
        k: over[0] for k, over in enumerate(above) if len(over) == 1 and n_below[over[0]] == 1
    }
    heads = set(range(len(rows))) - set(follows.values())
    cells = []
    for head in sorted(heads):
        cell, k = [rows[head]], head
        while k in follows:
            k = follows[k]
            cell.append(rows[k])
        cells.append(cell)
    return cells


def _overlapping(rows: list[FillRow], k: int, others: list[int]) -> list[int]:
    """Return those rows of the next line whose x range overlaps that of row k."""
    low, high = rows[k].spans_mm[0, 0], rows[k].spans_mm[-1, 1]
    return [j for j in others if rows[j].spans_mm[0, 0] < high and rows[j].spans_mm[-1, 1] > low]


def order_cells(
    cells: list[list[FillRow]], *, start_mm: tuple[float, float], along: str, is_draft: bool = False
) -> tuple[list[list[tuple[FillRow, bool]]], tuple[float, float]]:
    """Order cells by the nearest next end, from where the beam is.

    Returns
    -------
    ordered : list of cells
        Each a list of (row, forwards) in the order of clearing, directions alternating.
    end_mm : (float, float)
        Where the beam ends.
    """
    if not cells:
        return [], start_mm
    entries, exits = _entries(cells, along)
    chosen, end = quicker_order(entries, exits, start_mm=start_mm, is_draft=is_draft)
    ordered = []
    for cell, way in chosen:
        from_top, from_right = divmod(way, 2)
        rows = cells[cell][::-1] if from_top else cells[cell]
        ordered.append([(row, (k % 2 == 0) != bool(from_right)) for k, row in enumerate(rows)])
    return ordered, end


def _entries(cells: list[list[FillRow]], along: str) -> tuple[FloatArray, FloatArray]:
    """Return entry and exit points of each cell for its four ways: (cells, 4, 2) each."""
    entries = np.empty((len(cells), 4, 2))
    exits = np.empty((len(cells), 4, 2))
    for k, cell in enumerate(cells):
        flips = len(cell) % 2 == 0
        for way in range(4):
            from_top, from_right = divmod(way, 2)
            first, last = (cell[-1], cell[0]) if from_top else (cell[0], cell[-1])
            entries[k, way] = _end_of(first, at_right=bool(from_right))
            exits[k, way] = _end_of(last, at_right=bool(from_right) == flips)
    if along == "y":
        return entries[..., ::-1], exits[..., ::-1]
    return entries, exits


def _end_of(row: FillRow, *, at_right: bool) -> tuple[float, float]:
    x = row.spans_mm[-1, 1] if at_right else row.spans_mm[0, 0]
    return (float(x), row.height_mm)


def quicker_order(
    entries: FloatArray,
    exits: FloatArray,
    *,
    start_mm: tuple[float, float],
    is_draft: bool = False,
) -> tuple[list[tuple[int, int]], tuple[float, float]]:
    """Visit items by a short way: nearest first or as they come, the shorter made shorter still.

    Takes and returns what `nearest_first` does. As they come, each item begins at way 0. A draft
    is not made shorter.
    """
    chosen, _ = nearest_first(entries, exits, start_mm=start_mm)
    as_they_come = [(item, 0) for item in range(len(entries))]
    tries = (chosen, as_they_come)
    best = min(tries, key=lambda visits: travel_mm(visits, entries, exits, start_mm))
    if not is_draft:
        best = shortened(best, entries, exits, start_mm)
    x, y = exits[best[-1]]
    return best, (float(x), float(y))
