"""Lines of lettering in artwork, told by their shapes alone: height and stroke of the letters."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.links import linked
from stopout.mask import parts_of
from stopout.values import Drawing, FloatArray

# Letters of one line are no more unlike in height than a capital and an x-height with a descender.
_UNLIKE = 1.9
# The gap to the next letter, in heights: a word gap is 0.6 of the height (ISO 3098 type B).
_GAP = 1.2
_FEWEST = 3
# A word of two letters, by itself, is told only from capitals or digits that stand on one line and
# are of one height; rounds overshoot both by a few per cent (our own rules, no source).
_PAIR_UNLIKE = 0.06
# Strokes of letters take 5 to 30 % of their height; a pair of blocks or rules has others.
_PAIR_STROKE = (0.05, 0.30)
# Of more shapes than this nobody reads a text: the search is left out.
_MOST = 4000
# The heaviest letters have strokes of a third of their height; a block has more (our own).
_MOST_STROKE = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class LetteringLine:
    """A line of lettering: its tallest letters' height, their stroke, the middle, their boxes."""

    height_mm: float
    stroke_mm: float
    letters: int
    at_mm: tuple[float, float]
    boxes_mm: tuple[tuple[float, float, float, float], ...] = ()

    @property
    def is_likely(self) -> bool:
        """False where the strokes are those of blocks or pieces, not of letters."""
        return self.stroke_mm <= _MOST_STROKE * self.height_mm


def lettering_lines(regions: BaseGeometry | Iterable[BaseGeometry]) -> list[LetteringLine]:
    """Find lines of lettering: shapes of like height, side by side.

    Three of them make a line, two only where height and base are the same, their strokes could be
    those of letters, and the two are not one shape twice.

    Parameters
    ----------
    regions : BaseGeometry or iterable of BaseGeometry
        Artwork as seen, in mm; each part is taken for a letter.

    Returns
    -------
    list of LetteringLine
        From the smallest letters up. Dots of letters and rows of ornaments may be taken for
        letters; script whose letters join is not found.
    """
    parts = parts_of(regions)
    if not 2 <= len(parts) <= _MOST:
        return []
    boxes = shapely.bounds(parts)
    lines = []
    for members in _groups(boxes):
        is_pair = len(members) == 2 and _is_word_of_two(parts[members], boxes[members])
        if len(members) >= _FEWEST or is_pair:
            lines.append(_line(parts[members], boxes[members]))
    return sorted(lines, key=lambda line: line.height_mm)


def beside_codes(regions: Iterable[BaseGeometry], drawing: Drawing) -> list[BaseGeometry]:
    """Return what of shapes, as seen, lies beside a drawing's codes: squares are no letters."""
    if not drawing.codes:
        return list(regions)
    codes = shapely.union_all([shapely.box(*code.box_mm) for code in drawing.codes])
    return [shapely.difference(region, codes) for region in regions]


def stroke_width_mm(area_mm2: float, edge_mm: float) -> float:
    """Return the width of a stroke of even width from its area and the length of its edge.

    Notes
    -----
    A bar of width w and length L has area w L and edge 2 (L + w): w is the smaller root of
    w (edge / 2 - w) = area. A compact shape, which has no such root, gets edge / 4.
    """
    half = edge_mm / 2
    rest = half**2 - 4 * area_mm2
    return float((half - np.sqrt(rest)) / 2) if rest > 0 else half / 2


def _groups(boxes: FloatArray) -> list[list[int]]:
    """Group boxes that stand side by side: indices, each group's from left to right."""
    order = np.argsort(boxes[:, 0])
    x0, y0, x1, y1 = boxes[order].T
    # No gap to a letter is wider than to the tallest that could follow.
    reach = shapely.box(x0, y0, x1 + _GAP * _UNLIKE * (y1 - y0), y1)
    one, other = shapely.STRtree(shapely.box(x0, y0, x1, y1)).query(reach)
    one, other = one[one < other], other[one < other]
    beside = _beside(boxes[order[one]], boxes[order[other]])
    group = linked(len(boxes), one[beside], other[beside])
    homes = np.split(order[np.argsort(group, kind="stable")], np.cumsum(np.bincount(group))[:-1])
    return [home.tolist() for home in homes]


def _beside(a: FloatArray, b: FloatArray) -> NDArray[np.bool_]:
    """Tell which of two boxes, the second no farther left, could be letters of one line."""
    heights = np.stack([box[:, 3] - box[:, 1] for box in (a, b)])
    tall, short = heights.max(axis=0), heights.min(axis=0)
    shared = np.minimum(a[:, 3], b[:, 3]) - np.maximum(a[:, 1], b[:, 1])
    inside = np.minimum(a[:, 2], b[:, 2]) - np.maximum(a[:, 0], b[:, 0])
    narrow = np.minimum(a[:, 2] - a[:, 0], b[:, 2] - b[:, 0])
    is_like = (short > 0) & (tall <= _UNLIKE * short) & (b[:, 0] - a[:, 2] <= _GAP * tall)
    return np.asarray(is_like & (shared > 0.5 * short) & (inside < 0.5 * narrow))


def _is_word_of_two(parts: np.ndarray, boxes: FloatArray) -> bool:
    """Tell whether two shapes that stand alone side by side are letters, not ornaments."""
    heights = boxes[:, 3] - boxes[:, 1]
    slack = _PAIR_UNLIKE * float(heights.max())
    if float(np.ptp(heights)) > slack or float(np.ptp(boxes[:, 1])) > slack:
        return False
    low, high = _PAIR_STROKE
    area, edge = shapely.area(parts), shapely.length(parts)
    strokes = [stroke_width_mm(float(a), float(e)) for a, e in zip(area, edge, strict=True)]
    if not all(low * h <= s <= high * h for s, h in zip(strokes, heights, strict=True)):
        return False
    # Two of a kind, turned or mirrored or not, are screws' rings, arrows or a pair of bars.
    return bool(np.ptp(area) > 0.02 * area.max() or np.ptp(edge) > 0.02 * edge.max())


def _line(parts: np.ndarray, boxes: FloatArray) -> LetteringLine:
    base = float(np.median(boxes[:, 1]))
    heights = boxes[:, 3] - base
    strokes = [
        stroke_width_mm(float(area), float(edge))
        for area, edge in zip(shapely.area(parts), shapely.length(parts), strict=True)
    ]
    x = (boxes[:, 0].min() + boxes[:, 2].max()) / 2
    height = float(np.percentile(heights, 90))
    return LetteringLine(
        height_mm=height,
        stroke_mm=float(np.median(strokes)),
        letters=len(parts),
        at_mm=(float(x), base + height / 2),
        boxes_mm=tuple((float(a), float(b), float(c), float(d)) for a, b, c, d in boxes),
    )
