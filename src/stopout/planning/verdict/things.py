"""What a reader sees in the artwork: lines of lettering, rules, pictures; and which is where."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.mask import parts_of
from stopout.planning.measures.lettering import LetteringLine, lettering_lines, stroke_width_mm
from stopout.values import Box, DrawnGlyph, FloatArray

# A straight bar this many times as long as it is wide is a rule, not a picture.
_RULE = 8.0
# The longest text that is named in a sentence.
_LONGEST = 28


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """One thing that a reader sees, with the boxes of its parts, in mm.

    `name` stands in a sentence: "the bottom line of lettering, 1.5 mm high". `height_mm` is that
    of a line's capitals, 0 of anything else, and `cap_mm` the cap height that the job sets it in;
    `letters` says which character each box is, where the artwork's live text tells.
    """

    kind: str
    name: str
    boxes_mm: tuple[Box, ...]
    height_mm: float = 0.0
    letters: tuple[tuple[Box, str], ...] = ()
    cap_mm: float = 0.0

    @property
    def is_lettering(self) -> bool:
        """True for a line of lettering."""
        return self.kind == "lettering"

    @property
    def box_mm(self) -> Box:
        """The box round all of it."""
        boxes = np.array(self.boxes_mm)
        low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))


@dataclass(frozen=True)
class Things:
    """All things of a drawing; asked for the one at a place."""

    things: tuple[Thing, ...]

    @cached_property
    def _tree(self) -> tuple[shapely.STRtree, list[int]]:
        boxes, owner = [], []
        for k, thing in enumerate(self.things):
            boxes += [shapely.box(*box) for box in thing.boxes_mm]
            owner += [k] * len(thing.boxes_mm)
        return shapely.STRtree(boxes), owner

    def at(self, place: BaseGeometry | tuple[float, float], *, within_mm: float) -> Thing | None:
        """Return the thing whose part lies nearest; lettering first where several hold the place.

        Parameters
        ----------
        place : (x, y) or geometry
            Where.
        within_mm : float
            How far from a part's box the place may lie.
        """
        spot = shapely.Point(place) if isinstance(place, tuple) else place
        tree, owner = self._tree
        near = tree.query(spot, predicate="dwithin", distance=within_mm)
        if not len(near):
            return None
        boxes = tree.geometries[near]
        away = shapely.distance(boxes, spot)
        order = sorted(
            range(len(near)),
            key=lambda k: (
                round(float(away[k]), 3),
                not self.things[owner[int(near[k])]].is_lettering,
                float(boxes[k].area),
            ),
        )
        return self.things[owner[int(near[order[0]])]]

    def letter_at(self, place: tuple[float, float], thing: Thing) -> str:
        """Return the character whose box holds the place, or nothing."""
        x, y = place
        slack = 0.05 * thing.height_mm
        for (x0, y0, x1, y1), letter in thing.letters:
            if x0 - slack <= x <= x1 + slack and y0 - slack <= y <= y1 + slack:
                return letter.strip()
        return ""


def things_in(region: BaseGeometry, glyphs: Iterable[DrawnGlyph] = ()) -> Things:
    """Find lines of lettering, rules and pictures among the parts of a drawing.

    Parameters
    ----------
    region : BaseGeometry
        The drawing; each part is a letter, a rule or (a part of) a picture.
    glyphs : iterable of DrawnGlyph
        Letters of live text with their boxes in the same frame, where the file knows them.
    """
    parts = parts_of(region)
    lines = lettering_lines(region)
    spelt = list(glyphs)
    found = [_line(line, lines, spelt) for line in lines]
    taken = {box for line in lines for box in line.boxes_mm}
    frames = np.array([_frame(line) for line in lines]).reshape(-1, 5)
    for part, bounds in zip(parts, shapely.bounds(parts), strict=True):
        x0, y0, x1, y1 = (float(value) for value in bounds)
        if (x0, y0, x1, y1) in taken:
            continue
        homes = np.flatnonzero(_are_dot_of((x0, y0, x1, y1), frames))
        if not len(homes):
            found.append(_other(part, (x0, y0, x1, y1)))
        else:
            home = int(homes[0])
            boxes = (*found[home].boxes_mm, (x0, y0, x1, y1))
            found[home] = replace(found[home], boxes_mm=boxes)
    return Things(tuple(found))


def _frame(line: LetteringLine) -> tuple[float, ...]:
    """Return the box round a line of lettering, and its height."""
    boxes = np.array(line.boxes_mm)
    return (*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0), line.height_mm)


def _are_dot_of(box: Box, frames: FloatArray) -> NDArray[np.bool_]:
    """Tell of which lines of lettering a shape is a dot, an accent or a stop."""
    x0, y0, x1, y1, high = frames.T
    across, along = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    is_small = max(box[2] - box[0], box[3] - box[1]) < 0.6 * high
    beside = (x0 - 0.5 * high <= across) & (across <= x1 + 0.5 * high)
    near = (y0 - 0.3 * high <= along) & (along <= y1 + 0.5 * high)
    return np.asarray(is_small & beside & near)


def _line(
    line: LetteringLine, lines: Sequence[LetteringLine], glyphs: Sequence[DrawnGlyph]
) -> Thing:
    boxes = np.array(line.boxes_mm)
    (x0, y0), (x1, y1) = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    own = [
        glyph
        for glyph in glyphs
        if x0 <= (glyph.box_mm[0] + glyph.box_mm[2]) / 2 <= x1
        and y0 <= (glyph.box_mm[1] + glyph.box_mm[3]) / 2 <= y1
    ]
    letters = tuple((glyph.box_mm, glyph.text) for glyph in own)
    words = "".join(letter for _, letter in letters)
    return Thing(
        kind="lettering",
        name=f"{_which(line, lines, words)}, {line.height_mm:.1f} mm high",
        boxes_mm=line.boxes_mm,
        height_mm=line.height_mm,
        letters=letters,
        cap_mm=min((glyph.cap_mm for glyph in own), default=0.0),
    )


def _which(line: LetteringLine, lines: Sequence[LetteringLine], words: str) -> str:
    """Name a line of lettering: by its words, else by where it stands."""
    if words.strip():
        text = " ".join(words.split())
        return f'"{text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."}"'
    if len(lines) == 1:
        return "the line of lettering"
    heights = sorted((other.at_mm[1] for other in lines), reverse=True)
    place = heights.index(line.at_mm[1])
    beside = sum(abs(other.at_mm[1] - line.at_mm[1]) < line.height_mm / 2 for other in lines)
    if beside == 1 and place == 0:
        return "the top line of lettering"
    if beside == 1 and place == len(lines) - 1:
        return "the bottom line of lettering"
    return f"the lettering at ({line.at_mm[0]:.0f}, {line.at_mm[1]:.0f}) mm"


def _other(part: shapely.Polygon, box: Box) -> Thing:
    width = stroke_width_mm(float(part.area), float(part.length))
    if not len(part.interiors) and part.length / 2 - width > _RULE * width and _is_bar(part):
        return Thing(kind="rule", name=f"a rule {width:.2f} mm wide", boxes_mm=(box,))
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    size = max(box[2] - box[0], box[3] - box[1])
    what = "the shape" if size < 20 else "the large shape"
    return Thing(kind="picture", name=f"{what} at ({x:.1f}, {y:.1f}) mm", boxes_mm=(box,))


def _is_bar(part: shapely.Polygon) -> bool:
    """Tell whether a part fills the narrowest rectangle round it."""
    around = shapely.oriented_envelope(part)
    return bool(part.area > 0.8 * around.area)
