"""Lines or rings: which clears a part sooner, by a closed estimate, so that one of them is laid.

Lines take their length at the clearing speed, a turn each, and the outline's time; all of it is
known once they are cut, without laying them in order or planning a motion. Parts for which even the
least length of their rings takes too long get none.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from stopout.clearing.filling.fill import FillRow, row_lengths
from stopout.clearing.filling.strokes import row_stroke
from stopout.clearing.ringed.least_time import least_within_mm
from stopout.clearing.work import Part, Work
from stopout.values import FloatArray

__all__ = ["ALONG", "Along", "with_rings"]

Along = Literal["x", "y"]

# Rings are laid where they take no more than this share of what lines and an outline take.
_WORTH = 0.95
# Parts whose lines take together no more than this share of the whole are not worth a look.
_NOT_WORTH = 0.003
# So many parts at most get rings, those first whose lines take longest.
_MOST_RINGED = 20_000
ALONG: tuple[Along, ...] = ("x", "y")


def with_rings(parts: list[Part], work: Work) -> tuple[list[Part], dict[str, list[bool]]]:
    """Return parts with rings where they may pay, and by direction where they are quicker.

    Parameters
    ----------
    parts : list of Part
        All parts of the area.
    work : Work
        The settings.

    Returns
    -------
    parts : list of Part
        Those that get rings have them laid.
    ringed : dict of str to list of bool
        For lines along "x" and "y", which parts are cleared in rings instead.
    """
    filled = [k for k, part in enumerate(parts) if part.fills]
    found = [parts[k] for k in filled]
    outline_s = np.array([part.outlines_s for part in found])
    lined_s = {along: _rows_s(found, work, along) + outline_s for along in ALONG}
    longest_s = np.maximum(lined_s["x"], lined_s["y"])
    least_s = _least_lengths_mm(found, work) / work.speed_mm_s
    worth = _worth_a_look(longest_s - outline_s, longest_s.sum())
    tried = worth[least_s[worth] < _WORTH * longest_s[worth]]
    ringed_s = np.full(len(found), np.inf)
    parts = list(parts)
    laid = work.ringed([found[place] for place in tried], _WORTH * longest_s[tried])
    for place, part in zip(tried, laid, strict=True):
        parts[filled[place]] = part
        if part.spirals:
            ringed_s[place] = part.spirals_s
    ringed = {along: np.zeros(len(parts), dtype=bool) for along in ALONG}
    for along in ALONG:
        ringed[along][filled] = ringed_s < _WORTH * lined_s[along]
    return parts, {along: flags.tolist() for along, flags in ringed.items()}


def _worth_a_look(rows_s: FloatArray, whole_s: float) -> NDArray[np.int64]:
    """Return the parts that could gain anything, those first whose lines take longest."""
    order = np.argsort(-rows_s, kind="stable")
    left = np.cumsum(rows_s[order][::-1])[::-1]
    return np.asarray(order[left > _NOT_WORTH * whole_s][:_MOST_RINGED])


def _rows_s(parts: list[Part], work: Work, along: Along) -> FloatArray:
    """Return what the lines of each part take: their length, and a turn each."""
    length_mm, count = row_lengths(
        np.array([MultiPolygon(part.to_fill[along]) for part in parts], dtype=object),
        np.array([part.area for part in parts], dtype=object),
        mark_mm=work.mark_mm,
        spacing_mm=work.spacing_mm[along],
        along=along,
        bridge_mm=work.bridge_mm,
    )
    return np.asarray(length_mm / work.speed_mm_s + count * _turn_s(work, along))


def _turn_s(work: Work, along: Along) -> float:
    """Return what turning from a line into the next takes, runs and all: of four drafted ones."""
    v = work.speed_mm_s
    length = 2 * work.bridge_mm + max(work.mark_mm)
    rows = [
        FillRow(index=k, height_mm=k * work.spacing_mm[along], spans_mm=np.array([[0.0, length]]))
        for k in range(4)
    ]
    strokes = [row_stroke(row, is_forward=row.index % 2 == 0, along=along) for row in rows]
    time_s, travel_s = work.stroke_times_s(strokes)
    return float((time_s + travel_s)[2]) - length / v


def _least_lengths_mm(parts: list[Part], work: Work) -> FloatArray:
    """Return how long the rings of each area are at least, at the wider of both spacings."""
    areas = np.array([part.area for part in parts], dtype=object)
    within = least_within_mm(
        areas, apart_mm=max(work.spacing_mm.values()), mark_mm=max(work.mark_mm)
    )
    return np.asarray(shapely.length(areas) + within)
