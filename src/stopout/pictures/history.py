"""The history of a shop's numbers: dated points with their spread, and the mean that plans use."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

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
from stopout.pictures.means.fonts import text_width
from stopout.pictures.means.render import drawn_png
from stopout.values import Measured

_WIDTH_PX, _HEAD_PX, _PANEL_PX, _FOOT_PX = 1800, 190.0, 430.0, 150.0
_LEFT, _RIGHT = 190.0, 1700.0
_TITLE_PX = 60.0
_BAND = "#dfe7ee"
_MEAN = "#2a6a9a"
_DASHED: dict[str, str | float] = {"stroke": _MEAN, "stroke_width": 4, "stroke_dasharray": "14 8"}
_MARK_PX = 11.0
_APART_PX = 22.0
_MOST_TICKS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryPoint:
    """One dated value.

    `series` 0 is drawn as a disc, 1 as a square. `is_chosen` marks the entry that was asked for.
    """

    date: str
    value: float
    sd: float = 0.0
    series: int = 0
    is_chosen: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryPanel:
    """One quantity over time. `mean` is what plans use, None where they use the newest.

    `is_paired` sets the two series of one date side by side; `is_stepped` joins values that hold
    until the next one.
    """

    title: str
    points: tuple[HistoryPoint, ...]
    names: tuple[str, ...] = ()
    mean: Measured | None = None
    is_paired: bool = False
    is_stepped: bool = False


def history_png(title: str, note: str, panels: tuple[HistoryPanel, ...]) -> bytes:
    """Render a history as a PNG.

    Parameters
    ----------
    title, note : str
        What it is about, and what is drawn.
    panels : tuple of HistoryPanel
        From top to bottom; each with one point at least.

    Returns
    -------
    bytes
        A PNG 1800 pixels wide; the same history gives the same bytes.
    """
    return drawn_png(history_svg(title, note, panels))


def history_svg(title: str, note: str, panels: tuple[HistoryPanel, ...]) -> str:
    """The same as SVG text, whose fonts and pixel size `history_png` supplies."""
    height = _HEAD_PX + _PANEL_PX * len(panels) + _FOOT_PX
    pieces = [
        text(title, _LEFT, 80, size=44, weight=600),
        *paragraph(note, _LEFT, 124, width=_RIGHT - _LEFT, apart=32),
    ]
    days = _span(panels)
    for k, panel in enumerate(panels):
        pieces += _drawn(panel, days, _HEAD_PX + k * _PANEL_PX)
    pieces += _dates(days, _HEAD_PX + _PANEL_PX * len(panels))
    return picture(_WIDTH_PX, height, pieces)


def _day(date: str) -> int:
    """Days since 1970-01-01."""
    return int(np.datetime64(date[:10], "D").astype(np.int64))


def _span(panels: tuple[HistoryPanel, ...]) -> tuple[float, float]:
    """First and last day over all panels, with room at the ends."""
    days = [_day(point.date) for panel in panels for point in panel.points]
    room = max(0.04 * (max(days) - min(days)), 1.5)
    return min(days) - room, max(days) + room


def _x(day: float, days: tuple[float, float]) -> float:
    return _LEFT + (day - days[0]) / (days[1] - days[0]) * (_RIGHT - _LEFT)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    """Values laid on pixels."""

    low: float
    high: float
    top: float
    bottom: float

    def y(self, value: float) -> float:
        return self.bottom - (value - self.low) / (self.high - self.low) * (self.bottom - self.top)


def _scale(panel: HistoryPanel, top: float) -> _Scale:
    ends = [end for p in panel.points for end in (p.value - p.sd, p.value + p.sd)]
    if panel.mean is not None:
        ends += [panel.mean.value - panel.mean.sd, panel.mean.value + panel.mean.sd]
    low, high = min(ends), max(ends)
    room = max(0.12 * (high - low), 0.02 * abs(high), 1e-9)
    floor = 0.0 if low >= 0 else low - room
    return _Scale(
        low=max(low - room, floor),
        high=high + room,
        top=top + _TITLE_PX,
        bottom=top + _PANEL_PX - 34,
    )


def _drawn(panel: HistoryPanel, days: tuple[float, float], top: float) -> list[str]:
    scale = _scale(panel, top)
    pieces = [text(panel.title, _LEFT, top + 36, size=30, weight=600), *_names(panel, top + 36)]
    if panel.mean is not None:
        pieces += _band(panel.mean, scale)
    pieces += _grid(scale)
    if panel.is_stepped:
        pieces.append(_steps(panel, days, scale))
    for point in panel.points:
        aside = (2 * point.series - 1) * _APART_PX if panel.is_paired else 0.0
        pieces += _point(point, _x(_day(point.date), days) + aside, scale)
    return pieces


def _band(mean: Measured, scale: _Scale) -> list[str]:
    top, bottom = scale.y(mean.value + mean.sd), scale.y(mean.value - mean.sd)
    y = scale.y(mean.value)
    return [
        f'<rect x="{_LEFT:.1f}" y="{top:.1f}" width="{_RIGHT - _LEFT:.1f}" '
        f'height="{bottom - top:.1f}" fill="{_BAND}"/>',
        line((_LEFT, y), (_RIGHT, y), **_DASHED),
    ]


def _grid(scale: _Scale) -> list[str]:
    step = round_step((scale.high - scale.low) / 4)
    pieces = []
    for k in range(math.ceil(scale.low / step), math.floor(scale.high / step) + 1):
        y = scale.y(k * step)
        pieces.append(line((_LEFT, y), (_RIGHT, y), stroke=PALE, stroke_width=1))
        pieces.append(text(f"{k * step:.6g}", _LEFT - 16, y + 8, size=24, anchor="end"))
    pieces.append(line((_LEFT, scale.bottom), (_RIGHT, scale.bottom), stroke_width=2))
    return pieces


def _point(point: HistoryPoint, x: float, scale: _Scale) -> list[str]:
    y = scale.y(point.value)
    pieces = []
    if point.sd > 0:
        ends = scale.y(point.value + point.sd), scale.y(point.value - point.sd)
        pieces.append(line((x, ends[0]), (x, ends[1]), stroke_width=3))
        pieces += [line((x - 9, end), (x + 9, end), stroke_width=3) for end in ends]
    pieces.append(_mark(x, y, point.series))
    if point.is_chosen:
        pieces.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{2.1 * _MARK_PX:.1f}" fill="none" '
            f'stroke="{INK}" stroke-width="3"/>'
        )
    return pieces


def _mark(x: float, y: float, series: int) -> str:
    """A filled disc, or a hollow square."""
    if series == 0:
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{_MARK_PX:g}" fill="{INK}"/>'
    side = 2 * _MARK_PX - 2
    return (
        f'<rect x="{x - side / 2:.1f}" y="{y - side / 2:.1f}" width="{side:g}" height="{side:g}" '
        f'fill="#fff" stroke="{INK}" stroke-width="3"/>'
    )


def _names(panel: HistoryPanel, y: float) -> list[str]:
    """The key of the marks, to the right of the panel's title."""
    pieces, x = [], _RIGHT
    for series in reversed(range(len(panel.names))):
        name = panel.names[series]
        pieces.append(text(name, x, y, size=24, anchor="end"))
        x -= text_width(name, size=24) + 28
        pieces.append(_mark(x, y - 8, series))
        x -= 46
    if panel.mean is not None:
        name = f"plans use {panel.mean.value:.3g} (sd {panel.mean.sd:.2g})"
        pieces.append(text(name, x, y, size=24, fill=_MEAN, anchor="end"))
        x -= text_width(name, size=24) + 14
        pieces.append(line((x - 58, y - 8), (x, y - 8), **_DASHED))
    return pieces


def _steps(panel: HistoryPanel, days: tuple[float, float], scale: _Scale) -> str:
    """Values that hold until the next one."""
    corners: list[tuple[float, float]] = []
    for point in panel.points:
        x, y = _x(_day(point.date), days), scale.y(point.value)
        if corners:
            corners.append((x, corners[-1][1]))
        corners.append((x, y))
    return line(*corners, stroke=GREY, stroke_width=3)


def _dates(days: tuple[float, float], y: float) -> list[str]:
    """Dates under the last panel."""
    step = max(1, math.ceil((days[1] - days[0]) / _MOST_TICKS))
    pieces = []
    for day in range(math.ceil(days[0]), math.floor(days[1]) + 1, step):
        x = _x(day, days)
        pieces.append(line((x, y - 34), (x, y - 22), stroke_width=2))
        date = str(np.datetime64(day, "D"))
        pieces.append(text(date, x, y + 6, size=24, anchor="middle"))
    return pieces
