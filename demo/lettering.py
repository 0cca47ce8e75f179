"""Lettering as outlines: a line of text shaped with the font's kerning, written as path data."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import fontpkg_barlow
import uharfbuzz as hb

FONT_FOLDER = Path(fontpkg_barlow.__file__).parent / "files"
CAPITAL = 0.7  # height of Barlow's capitals over its em


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line of lettering: SVG path data in mm (y down, baseline at y) and its advance."""

    path: str
    width: float


def line(
    text: str,
    *,
    x: float,
    y: float,
    capital: float,
    weight: str = "SemiBold",
    anchor: str = "start",
    tracking: float = 0.0,
    fit: float | None = None,
) -> Line:
    """Set a line of text; `capital` is the height of its capitals in mm.

    `tracking` is extra space between letters in em. `fit` instead finds the tracking that makes
    the line exactly that many mm wide. `anchor` is start, middle or end, as in SVG text.
    """
    scale = capital / CAPITAL
    glyphs = _shaped(text, weight)
    natural = sum(advance for _, advance in glyphs) * scale
    if fit is not None:
        tracking = (fit - natural) / scale / (len(glyphs) - 1)
    width = natural + tracking * scale * (len(glyphs) - 1)
    pen = x - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
    pieces = []
    for glyph, advance in glyphs:
        pieces += _outline(glyph, weight, pen, y, scale)
        pen += (advance + tracking) * scale
    return Line(path="".join(pieces), width=width)


@cache
def _font(weight: str) -> hb.Font:
    data = (FONT_FOLDER / f"Barlow-{weight}.ttf").read_bytes()
    return hb.Font(hb.Face(data))


@cache
def _shaped(text: str, weight: str) -> list[tuple[int, float]]:
    """Glyph numbers and their advances in em."""
    font = _font(weight)
    buffer = hb.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    hb.shape(font, buffer, {"kern": True})
    em = font.face.upem
    return [
        (info.codepoint, place.x_advance / em)
        for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True)
    ]


def _outline(glyph: int, weight: str, x: float, y: float, scale: float) -> list[str]:
    """Path data of one glyph, quadratic curves kept as they are in the font."""
    font = _font(weight)
    unit = scale / font.face.upem
    data: list[str] = []

    def put(letter: str, *points: float) -> None:
        across, down = points[0::2], points[1::2]
        numbers = (
            f"{_short(x + px * unit)} {_short(y - py * unit)}"
            for px, py in zip(across, down, strict=True)
        )
        data.append(letter + " ".join(numbers))

    pen = hb.DrawFuncs()
    pen.set_move_to_func(lambda px, py, _: put("M", px, py))
    pen.set_line_to_func(lambda px, py, _: put("L", px, py))
    pen.set_quadratic_to_func(lambda *p: put("Q", *p[:-1]))
    pen.set_cubic_to_func(lambda *p: put("C", *p[:-1]))
    pen.set_close_path_func(lambda _: data.append("Z"))
    font.draw_glyph(glyph, pen, None)
    return data


def _short(number: float) -> str:
    return f"{number:.4f}".rstrip("0").rstrip(".")
