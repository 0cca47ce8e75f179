"""Pieces of SVG for the pictures: frames that lay mm on pixels, paths, text, scale bars."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.pictures.means.fonts import FAMILY, wrapped
from stopout.typefaces import missing_letters
from stopout.values import FloatArray
from stopout.wording import measurable

INK = "#1c1f22"
GREY = "#6b7075"
PALE = "#c9cdd0"


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Where a window of the piece, in mm, comes to lie on the picture, in px.

    `left_px`, `top_px` is the window's upper left corner on the picture; `x_mm`, `y_mm` the
    window's lower left corner on the piece. `is_mirrored` turns the window over from side to side.
    """

    left_px: float
    top_px: float
    px_per_mm: float
    width_mm: float
    height_mm: float
    x_mm: float = 0.0
    y_mm: float = 0.0
    is_mirrored: bool = False

    @property
    def width_px(self) -> float:
        return self.width_mm * self.px_per_mm

    @property
    def height_px(self) -> float:
        return self.height_mm * self.px_per_mm

    def to_px(self, points_mm: FloatArray) -> FloatArray:
        """(n, 2) points of the piece to (n, 2) points of the picture, y down."""
        across = points_mm[:, 0] - self.x_mm
        if self.is_mirrored:
            across = self.width_mm - across
        down = self.height_mm - (points_mm[:, 1] - self.y_mm)
        return np.column_stack(
            [self.left_px + across * self.px_per_mm, self.top_px + down * self.px_per_mm]
        )

    def to_mm(self, points_px: FloatArray) -> FloatArray:
        """(n, 2) points of the picture to (n, 2) points of the piece."""
        across = (points_px[:, 0] - self.left_px) / self.px_per_mm
        if self.is_mirrored:
            across = self.width_mm - across
        up = self.height_mm - (points_px[:, 1] - self.top_px) / self.px_per_mm
        return np.column_stack([self.x_mm + across, self.y_mm + up])

    def place(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """One point of the piece, in px."""
        x, y = self.to_px(np.array([[x_mm, y_mm]]))[0]
        return float(x), float(y)


def region(shape: BaseGeometry, frame: Frame, **style: str | float) -> str:
    """A region as one even-odd path, simplified to a third of a pixel."""
    lean = shapely.simplify(shape, 0.3 / frame.px_per_mm, preserve_topology=False)
    rings = shapely.get_rings(shapely.get_parts(lean))
    points, ring = shapely.get_coordinates(rings, return_index=True)
    words = [f"{x:g},{y:g}" for x, y in np.round(frame.to_px(points), 1).tolist()]
    ends = np.searchsorted(ring, np.arange(len(rings) + 1)).tolist()
    subpaths = ["M" + "L".join(words[a : b - 1]) + "Z" for a, b in pairwise(ends)]
    if not subpaths:
        return ""
    return f'<path fill-rule="evenodd" d="{"".join(subpaths)}"{_attributes(style)}/>'


def line(*points: tuple[float, float], **style: str | float) -> str:
    """A stroked line through points in px."""
    chosen: dict[str, str | float] = {"fill": "none", "stroke": INK, "stroke_width": 2, **style}
    data = "M" + "L".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<path d="{data}"{_attributes(chosen)}/>'


def text(
    content: str,
    x: float,
    y: float,
    *,
    size: float = 26,
    weight: int = 400,
    fill: str = INK,
    anchor: str = "start",
    halo: bool = False,
) -> str:
    """A line of text with its baseline at y; `halo` lays white around it over a busy ground."""
    body = f'<text x="{x:.1f}" y="{y:.1f}"'
    style = (
        f' font-family="{FAMILY}" font-size="{size:g}" font-weight="{weight}"'
        f' text-anchor="{anchor}"'
    )
    content = escaped(typeset(measurable(content)))
    around = ""
    if halo:
        around = (
            f'{body}{style} fill="#fff" stroke="#fff" stroke-width="{size / 4:g}" '
            f'stroke-linejoin="round">{content}</text>'
        )
    return f'{around}{body}{style} fill="{fill}">{content}</text>'


def scale_bar(right: float, y: float, px_per_mm: float, room_px: float) -> str:
    """A bar of a round length that ends at `right`, with its length written before it."""
    lengths = [step * 10.0**power for power in (-3, -2, -1, 0, 1, 2) for step in (1, 2, 5)]
    length = max((x for x in lengths if x * px_per_mm <= room_px), default=lengths[0])
    name = f"{length:g} mm" if length >= 1 else f"{length * 1000:g} µm"
    left = right - length * px_per_mm
    return (
        line((left, y), (right, y), stroke_width=3)
        + line((left, y - 9), (left, y + 9), stroke_width=3)
        + line((right, y - 9), (right, y + 9), stroke_width=3)
        + text(name, left - 14, y + 8, size=24, anchor="end", halo=True)
    )


def picture(width: float, height: float, pieces: Iterable[str]) -> str:
    """A picture of so many px of these pieces."""
    size = f'width="{width:.0f}" height="{height:.0f}" viewBox="0 0 {width:.0f} {height:.0f}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{"".join(pieces)}</svg>'


def paragraph(
    words: str,
    x: float,
    y: float,
    *,
    width: float,
    apart: float,
    size: float = 25,
    fill: str = GREY,
) -> list[str]:
    """A text in as many rows as it takes, the first with its baseline at y."""
    rows = enumerate(wrapped(words, width=width, size=size))
    return [text(row, x, y + apart * k, size=size, fill=fill) for k, row in rows]


def round_step(least: float) -> float:
    """The next of 1, 2, 5 times a power of ten."""
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * step for step in (1, 2, 5, 10) if power * step >= least * 0.999)


def typeset(content: str) -> str:
    """Units as they are printed rather than typed: 5 µm, 40 °C, 3 mm², 100 × 60."""
    for typed, printed in _PRINTED:
        content = typed.sub(printed, content)
    return content


_PRINTED = (
    (re.compile(r"(?<=\d)( ?)um\b"), r"\1µm"),
    (re.compile(r"\bum/"), "µm/"),
    (re.compile(r"\bdegC\b"), "°C"),
    (re.compile(r"\bmm\^2"), "mm²"),
    (re.compile(r"(?<=\d) x (?=\d)"), " × "),
)


def escaped(content: str) -> str:
    """Text as XML takes it; control characters, which it does not take at all, become blanks."""
    plain = "".join(letter if letter.isprintable() else " " for letter in content)
    if not plain.isascii():
        # A letter without a shape would keep the renderer from finding those of its neighbours.
        plain = plain.translate({ord(letter): "\u25a1" for letter in missing_letters(plain)})
    return plain.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _attributes(style: dict[str, str | float]) -> str:
    return "".join(f' {name.replace("_", "-")}="{value}"' for name, value in style.items())
