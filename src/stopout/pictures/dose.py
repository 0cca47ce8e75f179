"""The dose across parallel fill lines against the threshold, and what it leaves of the paint."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from stopout.clearing.beam.spacing_table import SpacingTable
from stopout.clearing.beam.spot import GaussianSpot
from stopout.pictures.means.colours import material_tint, paint_tint
from stopout.pictures.means.drawing import (
    GREY,
    INK,
    PALE,
    line,
    paragraph,
    picture,
    round_step,
    text,
)
from stopout.pictures.means.render import drawn_png
from stopout.values import FloatArray

WIDTH_PX, _HEIGHT_PX = 1800, 1140
_LEFT, _RIGHT, _TOP, _BOTTOM = 170.0, 1720.0, 290.0, 840.0
_STRIP_PX = 70.0
_LINES = 5
_POINTS = 1201
_THRESHOLD = "#b3261e"
_SUM = "#2a6a9a"


def dose_png(table: SpacingTable) -> bytes:
    """Render the dose across lines at the chosen spacing as a PNG.

    Parameters
    ----------
    table : SpacingTable
        From `stopout.clearing.beam.spacing_table`.

    Returns
    -------
    bytes
        A PNG 1800 pixels wide; the same table gives the same bytes.
    """
    return drawn_png(dose_svg(table))


def dose_svg(table: SpacingTable) -> str:
    """The same as SVG text, whose fonts and pixel size `dose_png` supplies."""
    scale = _scale(table)
    pieces = [*_head(table), *_axes(scale), *_curves(table, scale)]
    pieces += [*_strip(table, scale), *_dimensions(table, scale), *_key(table)]
    return picture(WIDTH_PX, _HEIGHT_PX, pieces)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    """Millimetres across the lines and dose ratios, laid on pixels."""

    half_mm: float
    most: float

    def x(self, mm: float) -> float:
        return _LEFT + (mm + self.half_mm) / (2 * self.half_mm) * (_RIGHT - _LEFT)

    def y(self, ratio: float) -> float:
        return _BOTTOM - ratio / self.most * (_BOTTOM - _TOP)


def _scale(table: SpacingTable) -> _Scale:
    reach = table.radius_across_mm * 1.5 if table.radius_across_mm else table.mark_across_mm / 2
    half = (_LINES - 1) / 2 * table.spacing_mm + max(reach, table.mark_across_mm * 0.75)
    most = max(float(_summed(table, _offsets(half), 0.0).max()), 1.2)
    return _Scale(half_mm=half, most=1.12 * most)


def _offsets(half_mm: float) -> FloatArray:
    return np.linspace(-half_mm, half_mm, _POINTS, dtype=np.float64)


def _centres(table: SpacingTable) -> FloatArray:
    return np.asarray((np.arange(_LINES) - (_LINES - 1) / 2) * table.spacing_mm, dtype=np.float64)


def _single(table: SpacingTable, offset: FloatArray) -> FloatArray:
    """Dose ratios of one line."""
    if table.radius_across_mm is None:
        return np.where(np.abs(offset) <= table.mark_across_mm / 2, table.dose_ratio, 0.0)
    return np.asarray(table.dose_ratio * np.exp(-2 * (offset / table.radius_across_mm) ** 2))


def _summed(table: SpacingTable, offset: FloatArray, exponent: float) -> FloatArray:
    """Dose ratios that the drawn lines amount to under an accumulation exponent."""
    each = _single(table, offset[:, None] - _centres(table))
    if exponent >= 1:
        return np.asarray(each.max(axis=1))
    m = 1 / (1 - exponent)
    most = np.maximum(each.max(axis=1), 1e-12)
    return np.asarray(most * ((each / most[:, None]) ** m).sum(axis=1) ** (1 / m))


def _head(table: SpacingTable) -> list[str]:
    case = table.case
    kind = "Gaussian" if isinstance(case.spot, GaussianSpot) else "Uniform"
    note = (
        f"{kind} spot, lines along {case.line_direction}; one line clears "
        f"{table.mark_across_mm:.4g} mm at {table.dose_ratio:.3g} times its threshold dose. "
        f"{table.reason}"
    )
    return [
        text(f"Dose across lines {table.spacing_mm:.4g} mm apart", _LEFT, 84, size=44, weight=600),
        *paragraph(note, _LEFT, 126, width=_RIGHT - _LEFT, apart=32),
    ]


def _axes(scale: _Scale) -> list[str]:
    pieces = []
    step = round_step(scale.most / 5)
    for k in range(math.floor(scale.most / step) + 1):
        y = scale.y(k * step)
        pieces.append(line((_LEFT, y), (_RIGHT, y), stroke=PALE, stroke_width=1))
        pieces.append(text(f"{k * step:g}", _LEFT - 16, y + 8, size=24, anchor="end"))
    middle = (_TOP + _BOTTOM) / 2
    label = text("dose / threshold", 0, 0, size=26, anchor="middle")
    pieces.append(f'<g transform="translate(70 {middle:.0f}) rotate(-90)">{label}</g>')
    step = round_step(scale.half_mm / 4)
    n = math.floor(scale.half_mm / step)
    y = _BOTTOM + _STRIP_PX + 24
    for k in range(-n, n + 1):
        x = scale.x(k * step)
        pieces.append(line((x, y), (x, y + 10), stroke_width=2))
        pieces.append(text(f"{k * step:.4g}", x, y + 38, size=24, anchor="middle"))
    pieces.append(line((_LEFT, y), (_RIGHT, y), stroke_width=2))
    pieces.append(
        text("mm across the lines", (_LEFT + _RIGHT) / 2, y + 74, size=26, anchor="middle")
    )
    return pieces


def _curves(table: SpacingTable, scale: _Scale) -> list[str]:
    at = _offsets(scale.half_mm)
    pieces = []
    for centre in _centres(table):
        pieces.append(_curve(at, _single(table, at - centre), scale, stroke=GREY, stroke_width=2))
    added = _summed(table, at, 0.0)
    pieces.append(_curve(at, added, scale, stroke=_SUM, stroke_width=3, stroke_dasharray="10 7"))
    counts = _summed(table, at, table.case.exponent)
    pieces.append(_curve(at, counts, scale, stroke=INK, stroke_width=5))
    y = scale.y(1.0)
    pieces.append(line((_LEFT, y), (_RIGHT, y), stroke=_THRESHOLD, stroke_width=4))
    pieces.append(text("threshold", _RIGHT, y - 12, fill=_THRESHOLD, anchor="end", halo=True))
    return pieces


def _curve(at: FloatArray, ratio: FloatArray, scale: _Scale, **style: str | float) -> str:
    points = [(scale.x(x), scale.y(y)) for x, y in zip(at.tolist(), ratio.tolist(), strict=True)]
    return line(*points, **style)


def _strip(table: SpacingTable, scale: _Scale) -> list[str]:
    """The paint seen from its edge: dark where it stays."""
    at = _offsets(scale.half_mm)
    is_clear = _summed(table, at, table.case.exponent) >= 1
    top = _BOTTOM + 14
    pieces = [_box(_LEFT, top, _RIGHT - _LEFT, _STRIP_PX, paint_tint("black"))]
    edges = np.flatnonzero(np.diff(np.concatenate([[0], is_clear.astype(np.int8), [0]])))
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        x0, x1 = scale.x(float(at[first])), scale.x(float(at[last - 1]))
        pieces.append(_box(x0, top, x1 - x0, _STRIP_PX, material_tint("aluminium")))
    return pieces


def _box(x: float, y: float, width: float, height: float, fill: str) -> str:
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{fill}"/>'
    )


def _dimensions(table: SpacingTable, scale: _Scale) -> list[str]:
    """The mark of one line and the spacing, as measures under and over the curves."""
    centres = _centres(table)
    y = _BOTTOM + 14 + _STRIP_PX / 2
    x0, x1 = scale.x(float(centres[2])), scale.x(float(centres[3]))
    pieces = [_measure(x0, x1, _TOP - 14, f"{table.spacing_mm:.4g} mm apart")]
    half = table.mark_across_mm / 2
    x0, x1 = scale.x(float(centres[0]) - half), scale.x(float(centres[0]) + half)
    pieces.append(_measure(x0, x1, y, f"mark {table.mark_across_mm:.4g} mm"))
    return pieces


def _measure(x0: float, x1: float, y: float, label: str) -> str:
    return (
        line((x0, y), (x1, y), stroke_width=3)
        + line((x0, y - 10), (x0, y + 10), stroke_width=3)
        + line((x1, y - 10), (x1, y + 10), stroke_width=3)
        + text(label, (x0 + x1) / 2, y - 14, size=24, anchor="middle", halo=True)
    )


def _key(table: SpacingTable) -> list[str]:
    exponent = table.case.exponent
    counts = (
        "what counts: the largest dose, no addition trusted"
        if exponent >= 1
        else f"what counts at S = {exponent:g}"
    )
    entries: list[tuple[str, dict[str, str | float]]] = [
        (counts, {"stroke": INK, "stroke_width": 5}),
        ("each line alone", {"stroke": GREY, "stroke_width": 2}),
        ("doses added in full", {"stroke": _SUM, "stroke_width": 3, "stroke_dasharray": "10 7"}),
    ]
    pieces = []
    x, y = _LEFT, _HEIGHT_PX - 60.0
    for label, style in entries:
        pieces.append(line((x, y - 8), (x + 60, y - 8), **style))
        pieces.append(text(label, x + 74, y, size=24))
        x += 130 + 12.2 * len(label)
    pieces.append(
        text("Strip: dark, paint stays; light, cleared.", _LEFT, y + 36, size=24, fill=GREY)
    )
    return pieces
