"""Words laid out by their font's own tables, measured by the height of capitals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from math import cos, degrees, radians, sin

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.artwork.fonts.book import Face, FontBook, wide_faces
from stopout.artwork.fonts.shaping import (
    Glyph,
    cap_height,
    has_letter,
    metrics,
    outline,
    shape,
    subpaths,
)
from stopout.artwork.regions.curves import Affine, flatten
from stopout.artwork.regions.rigid import laid_at
from stopout.artwork.regions.rings import EMPTY, fill
from stopout.artwork.setting.fault import SettingError
from stopout.artwork.svg.lettering.features import is_mixed
from stopout.job.setting import Arc, SetText
from stopout.values import COORDINATE_DECIMALS

_TOLERANCE_MM = 4e-4
_WEIGHTS = {"thin": 100.0, "extralight": 200.0, "light": 300.0, "regular": 400.0, "medium": 500.0,
            "semibold": 600.0, "bold": 700.0, "extrabold": 800.0, "black": 900.0}  # fmt: skip
# Of a text's width, what lies left of the place that it is set by.
_SHARES = {"left": 0.0, "centre": 0.5, "right": 1.0}
# Letters drawn out or pressed further than this no longer look like their font: own rule.
_STRETCH = (0.6, 1.6)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedGlyph:
    """A glyph on the blank: `at_mm` of its origin, turned, its em `size_mm` high and wider.

    `text` are the characters that it stands for; empty for a further glyph of the same ones.
    """

    face: Face
    weight: float
    number: int
    text: str
    line: int
    at_mm: complex
    turn_deg: float
    size_mm: float
    stretch: float

    @property
    def place(self) -> Affine:
        """From em to mm as seen, y up."""
        c, s = cos(radians(self.turn_deg)), sin(radians(self.turn_deg))
        wide = self.size_mm * self.stretch
        return Affine(c * wide, s * wide, -s * self.size_mm, c * self.size_mm,
                      self.at_mm.real, self.at_mm.imag)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class TextBlock:
    """Words as laid out, with the cap height that they came out at."""

    lines: tuple[str, ...]
    glyphs: tuple[PlacedGlyph, ...]
    cap_height_mm: float
    line_mm: float
    stretch: float = 1.0

    def letter(self, sign: str) -> BaseGeometry:
        """A letter of the same font at the same size, at the origin."""
        first = self.glyphs[0]
        shaped = shape(sign, first.face, first.weight, with_ligatures=False)
        return _glyph_mm(first.face, first.weight, shaped[0].number, first.size_mm, first.stretch)

    def regions(self) -> list[BaseGeometry]:
        """The area of every glyph on the blank, as seen."""
        return [_region(glyph) for glyph in self.glyphs]

    def path_data(self, height_mm: float) -> str:
        """The glyphs' own curves as SVG path data on a page of this height, y down."""
        flip = Affine(d=-1.0, f=height_mm)
        return "".join(outline(g.face, g.weight, g.number, flip @ g.place) for g in self.glyphs)


def lay_out(text: SetText, fonts: FontBook, middle_mm: tuple[float, float]) -> TextBlock:
    """Shape words and lay them out.

    Parameters
    ----------
    text : SetText
        Without fields left in it.
    fonts : FontBook
        The fonts shipped and those of the job.
    middle_mm : (x, y)
        Where a text without a place of its own is centred.

    Raises
    ------
    SettingError
        Naming the key: a font that is not at hand, characters that it lacks, words of both
        writing directions in a line, or a width that they cannot keep to.
    """
    lines = tuple(line.strip() for line in text.words.strip("\n").split("\n"))
    if not any(lines):
        raise SettingError("words", "are empty; write what the piece is to say")
    face, weight = _face(text.font, fonts)
    _check(lines, face, text.font)
    size = text.cap_height_mm / cap_height(face, weight)
    rows = [_Row.shaped(line, face, weight, text.letter_space_mm, size) for line in lines]
    scale, space, stretch = _fitted(text, rows)
    size *= scale
    found = metrics(face, weight)
    step = (found.ascent - found.descent + found.line_gap) * size
    if text.line_space_mm is not None:
        step = text.line_space_mm * scale
    cap = text.cap_height_mm * scale
    if space is None:
        space = text.letter_space_mm * cap / text.cap_height_mm
    layout = _Layout(text, face, weight, size, stretch, space, step, cap)
    at = complex(*(middle_mm if text.at_mm is None else text.at_mm))
    glyphs = layout.along(rows, text.arc, at) if text.arc else layout.straight(rows, at)
    return TextBlock(
        lines=lines,
        glyphs=tuple(glyphs),
        cap_height_mm=cap,
        stretch=stretch,
        line_mm=step if len(lines) > 1 else 0.0,
    )


def _face(asked: str, fonts: FontBook) -> tuple[Face, float]:
    """Find "Family", "Family Bold Italic" or a file of the job's by its name."""
    for face in fonts.faces:
        if face.path in fonts.given and face.path.name.casefold() == asked.casefold():
            return face, max(face.weight[0], min(400.0, face.weight[1]))
    words = asked.split()
    known = {name.casefold() for name in (*fonts.families, *(f.family for f in wide_faces()))}
    for count in range(len(words), 0, -1):
        family, rest = " ".join(words[:count]), [word.casefold() for word in words[count:]]
        styles = [word for word in rest if word not in ("italic", *_WEIGHTS)]
        if styles or family.casefold() not in known:
            continue
        weight = next((_WEIGHTS[word] for word in rest if word in _WEIGHTS), 400.0)
        found, _ = fonts.find(family, weight, is_italic="italic" in rest)
        if found is not None:
            return found, weight
    raise SettingError(
        "font",
        f"'{asked}' is not at hand (at hand: {', '.join(fonts.families)}); name one of these, with "
        "a weight such as Medium or Bold, or a font file beside the job",
    )


def _check(lines: Sequence[str], face: Face, font: str) -> None:
    if mixed := [line for line in lines if is_mixed(line)]:
        raise SettingError(
            "words",
            f"'{mixed[0][:30]}' runs in both writing directions; give each direction a line",
        )
    every = dict.fromkeys("".join(lines))
    lost = "".join(s for s in every if not s.isspace() and not has_letter(face, s))
    if lost:
        raise SettingError(
            "words", f"hold characters that '{font}' lacks ({lost}); name a font that has them"
        )


@dataclass(frozen=True, slots=True)
class _Row:
    """One line: glyphs in visual order with what characters they are, and how wide it runs.

    Widths are in mm at the size as asked for: `letters_mm` of the letters alone, `gaps` the number
    of spaces between letters, `space_mm` what each of them adds.
    """

    groups: tuple[tuple[str, tuple[Glyph, ...]], ...]
    letters_mm: float
    space_mm: float

    @classmethod
    def shaped(cls, line: str, face: Face, weight: float, space_mm: float, size: float) -> _Row:
        glyphs = shape(line, face, weight, with_ligatures=space_mm == 0.0)
        groups = []
        # What belongs to one character stands together: an accent over its letter.
        runs = [tuple(run) for _, run in groupby(glyphs, key=lambda glyph: glyph.cluster)]
        starts = sorted({run[0].cluster for run in runs})
        ends = dict(zip(starts, [*starts[1:], len(line)], strict=True))
        for run in runs:
            groups.append((line[run[0].cluster : ends[run[0].cluster]], run))
        wide = sum(glyph.advance for glyph in glyphs) * size
        return cls(tuple(groups), wide, space_mm)

    @property
    def gaps(self) -> int:
        return max(0, len(self.groups) - 1)

    @property
    def width_mm(self) -> float:
        return self.letters_mm + self.gaps * self.space_mm


def _fitted(text: SetText, rows: Sequence[_Row]) -> tuple[float, float | None, float]:
    """How a text meets its width: scale of everything, space between letters, stretch."""
    fit, widest = text.fit, max(row.width_mm for row in rows)
    if fit is None or widest <= 0.0:
        return 1.0, None, 1.0
    if fit.way == "shrink":
        scale = min(1.0, fit.width_mm / widest)
        least = text.cap_height_mm / 2 if fit.least_mm is None else fit.least_mm
        if text.cap_height_mm * scale < least - 1e-9:
            raise SettingError(
                "fit",
                f"'{_longest(text, rows)}' keeps to {fit.width_mm:.2f} mm only with capitals "
                f"{text.cap_height_mm * scale:.2f} mm high, below the least of {least:.2f} mm; "
                "shorten the words, or give a narrower font or more width",
            )
        return scale, None, 1.0
    if fit.way == "stretch":
        stretch = (fit.width_mm - max(r.gaps * r.space_mm for r in rows)) / max(
            row.letters_mm for row in rows
        )
        if not _STRETCH[0] <= stretch <= _STRETCH[1]:
            raise SettingError(
                "fit",
                f"would make letters {stretch:.2f} times as wide as drawn; {_STRETCH[0]:g} to "
                f"{_STRETCH[1]:g} is what lettering bears: change cap_height or width",
            )
        return 1.0, None, stretch
    longest = max(rows, key=lambda row: row.letters_mm)
    space = (fit.width_mm - longest.letters_mm) / max(1, longest.gaps)
    if space < -0.1 * text.cap_height_mm:
        raise SettingError(
            "fit",
            f"would press letters {-space:.2f} mm into each other; lower cap_height, or give more "
            "width",
        )
    return 1.0, space, 1.0


def _longest(text: SetText, rows: Sequence[_Row]) -> str:
    lines = text.words.strip("\n").split("\n")
    widths = [row.width_mm for row in rows]
    return lines[widths.index(max(widths))].strip()[:40]


@dataclass(frozen=True, slots=True)
class _Layout:
    """Places the glyphs of rows, straight or along a circle."""

    text: SetText
    face: Face
    weight: float
    size: float
    stretch: float
    space: float
    step: float
    cap: float

    def width(self, row: _Row) -> float:
        letters = sum(glyph.advance for _, run in row.groups for glyph in run)
        return letters * self.size * self.stretch + row.gaps * self.space

    def straight(self, rows: Sequence[_Row], at: complex) -> list[PlacedGlyph]:
        anchor, turn = self.text.anchor, self.text.turn_deg
        widths = [self.width(row) for row in rows]
        wide, high = max(widths), self.cap + (len(rows) - 1) * self.step
        side = _side(anchor)
        left = -_SHARES[side] * wide
        down = 0.0 if "top" in anchor else (1.0 if "bottom" in anchor else 0.5)
        top = down * high
        share = _SHARES[self.text.align or side]
        way = complex(cos(radians(turn)), sin(radians(turn)))
        found: list[PlacedGlyph] = []
        for number, (row, width) in enumerate(zip(rows, widths, strict=True)):
            x = left + share * (wide - width)
            y = top - self.cap - number * self.step
            for words, run in row.groups:
                for k, glyph in enumerate(run):
                    spot = complex(x + glyph.x_offset * self.size * self.stretch,
                                   y + glyph.y_offset * self.size)  # fmt: skip
                    spot = _on_grid(at + way * spot)
                    found.append(self.glyph(glyph, "" if k else words, number, spot, turn))
                    x += glyph.advance * self.size * self.stretch
                x += self.space
        return found

    def along(self, rows: Sequence[_Row], arc: Arc, at: complex) -> list[PlacedGlyph]:
        """Stand each character at right angles to the circle, at the middle of its width.

        The middle of a character lies where its run reaches along the circle itself: at the angle
        (run to its middle - half of the whole run) / radius from the top, or from the bottom.
        """
        found: list[PlacedGlyph] = []
        share = _SHARES[self.text.align or "centre"]
        for number, row in enumerate(rows):
            # A further line lies nearer to the reader's feet.
            inwards = number * self.step * _up(arc)
            radius = arc.radius_mm - inwards
            base = radius if arc.line == "base" else radius - self.cap * _up(arc)
            if min(radius, base) <= 0.1 * self.cap or self.width(row) > 2 * np.pi * radius:
                raise SettingError(
                    "arc",
                    f"is too small: a line {self.width(row):.1f} mm long does not stand on a "
                    f"circle of {max(radius, 0.0):.1f} mm radius; give a larger radius",
                )
            run_mm = -share * self.width(row)
            for words, run in row.groups:
                advance = sum(glyph.advance for glyph in run) * self.size * self.stretch
                angle = (run_mm + advance / 2) / radius
                turn = radians(self.text.turn_deg) - _up(arc) * angle
                foot = at + complex(cos(turn), sin(turn)) * complex(0.0, _up(arc) * base)
                found += self.upright(words, run, number, foot, turn)
                run_mm += advance + self.space
        return found

    def upright(
        self, words: str, run: Sequence[Glyph], line: int, foot: complex, turn: float
    ) -> list[PlacedGlyph]:
        """A character's glyphs, its middle on a foot, turned by so much."""
        way = complex(cos(turn), sin(turn))
        advance = sum(glyph.advance for glyph in run) * self.size * self.stretch
        found, x = [], -advance / 2
        for k, glyph in enumerate(run):
            spot = complex(x + glyph.x_offset * self.size * self.stretch,
                           glyph.y_offset * self.size)  # fmt: skip
            found.append(
                self.glyph(glyph, "" if k else words, line, foot + way * spot, degrees(turn))
            )
            x += glyph.advance * self.size * self.stretch
        return found

    def glyph(
        self, glyph: Glyph, words: str, line: int, at: complex, turn_deg: float
    ) -> PlacedGlyph:
        return PlacedGlyph(
            face=self.face,
            weight=self.weight,
            number=glyph.number,
            text=words,
            line=line,
            at_mm=at,
            turn_deg=turn_deg,
            size_mm=self.size,
            stretch=self.stretch,
        )


def _on_grid(at: complex) -> complex:
    """Return a place by whole steps of a program's decimals: the same letters are then cleared
    alike.
    """
    return complex(round(at.real, COORDINATE_DECIMALS), round(at.imag, COORDINATE_DECIMALS))


def _side(anchor: str) -> str:
    return "left" if "left" in anchor else ("right" if "right" in anchor else "centre")


def _up(arc: Arc) -> int:
    """Whether the letters' heads point away from the centre (1) or to it (-1)."""
    return 1 if arc.reads_over else -1


def _region(glyph: PlacedGlyph) -> BaseGeometry:
    own = _glyph_mm(glyph.face, glyph.weight, glyph.number, glyph.size_mm, glyph.stretch)
    if own.is_empty:
        return own
    c, s = cos(radians(glyph.turn_deg)), sin(radians(glyph.turn_deg))
    turned = np.array([[c, s], [-s, c]])
    # A letter is the same to the last wherever it stands.
    return laid_at(shapely.transform(own, lambda xy: xy @ turned), glyph.at_mm)


@lru_cache(maxsize=4096)
def _glyph_mm(
    face: Face, weight: float, number: int, size_mm: float, stretch: float
) -> BaseGeometry:
    """A glyph's area at a size; a series sets the same letters over and over."""
    place = Affine(a=size_mm * stretch, d=size_mm)
    rings = [
        flatten(run.through(place), tolerance=_TOLERANCE_MM)
        for run in subpaths(face, weight, number)
    ]
    return fill(rings, "nonzero") if rings else EMPTY
