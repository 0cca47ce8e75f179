"""The fits of a coupon: D^2 over line dose for each axis, or the slots' undercuts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stopout.pictures.means.drawing import GREY, INK, PALE, line, paragraph, picture, text
from stopout.pictures.means.render import drawn_png
from stopout.scans.fitting.clearing import AxisFit, Refused
from stopout.scans.fitting.etch import EtchFit
from stopout.scans.measuring.features import LineReading
from stopout.scans.reading.whole import Reading
from stopout.scans.regress import t_width
from stopout.values import FloatArray

_WIDTH, _HEIGHT = 1800, 1080
_TOP, _BOTTOM = 250.0, 860.0
_FIT = "#2a6a9a"
_OUT = "#b3261e"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Panel:
    """Where values come to lie: x from `low_x` to `high_x`, y from `low_y` to `high_y`."""

    left: float
    right: float
    low_x: float
    high_x: float
    low_y: float
    high_y: float

    def x(self, value: float) -> float:
        share = (value - self.low_x) / (self.high_x - self.low_x)
        return self.left + share * (self.right - self.left)

    def y(self, value: float) -> float:
        return _BOTTOM - (value - self.low_y) / (self.high_y - self.low_y) * (_BOTTOM - _TOP)


def fits_png(reading: Reading, *, title: str) -> bytes:
    """Render the fits as a PNG.

    Parameters
    ----------
    reading : Reading
    title : str
        Headline.

    Returns
    -------
    bytes
        1800 x 1080 pixels; the same reading gives the same bytes.
    """
    return drawn_png(fits_svg(reading, title=title))


def fits_svg(reading: Reading, *, title: str) -> str:
    """The same as SVG text, whose fonts and pixel size `fits_png` supplies."""
    pieces = [text(title, 90, 84, size=44, weight=600)]
    if reading.etch is not None:
        pieces += _etch_panel(reading.etch)
    else:
        pieces.append(
            text(
                "A straight line is what a Gaussian spot gives: its slope tells the spot, its foot "
                "the threshold.",
                90,
                128,
                size=25,
                fill=GREY,
            )
        )
        for k, one in enumerate(reading.axes):
            left = 190.0 + 860 * k
            pieces += _axis_panel(one, reading, left, left + 680)
    return picture(_WIDTH, _HEIGHT, pieces)


# --- clearing ---------------------------------------------------------------------------------


def _axis_panel(one: AxisFit | Refused, reading: Reading, left: float, right: float) -> list[str]:
    pieces = [text(f"Across {one.axis}", left, 190, size=32, weight=600)]
    mine = [reader for reader in reading.measured.lines if reader.axis == one.axis]
    if isinstance(one, Refused):
        said = f"Refused: {one.reason}."
        pieces += paragraph(said, left, 226, width=right - left, apart=30, fill=_OUT)
    if not mine:
        return pieces
    dose = _as_one_pass(one, mine)
    square = [reader.width_mm**2 if reader.is_cleared else 0.0 for reader in mine]
    margin = 0.06 * max(float(np.ptp(dose)), 0.1)
    low = float(dose.min()) - margin
    if isinstance(one, AxisFit):
        # Room for the foot of the line and its name.
        foot = -one.intercept_mm2 / one.slope_mm2
        low = min(low, foot - 0.16 * (float(dose.max()) - foot))
    panel = _Panel(
        left=left,
        right=right,
        low_x=low,
        high_x=float(dose.max()) + margin,
        low_y=0.0,
        high_y=1.1 * max(*square, 1e-6),
    )
    speed = one.speed_mm_s if isinstance(one, AxisFit) else mine[0].speed_mm_s
    pieces += _dose_axes(panel, speed)
    if isinstance(one, AxisFit):
        pieces += _fitted_line(one, panel)
    used = {reader.id for reader in one.used} if isinstance(one, AxisFit) else set()
    for reader, x, y in zip(mine, dose.tolist(), square, strict=True):
        pieces.append(_dot(panel.x(x), panel.y(y), is_used=reader.id in used))
    if isinstance(one, AxisFit):
        pieces += _words(one, left, right)
    return pieces


def _as_one_pass(one: AxisFit | Refused, lines: Sequence[LineReading]) -> FloatArray:
    """Logarithm of the dose of one pass at the fit's speed that would clear as much, each line."""
    if not isinstance(one, AxisFit):
        return np.log([line.line_dose_j_per_mm / line.passes for line in lines])
    own_passes = one.incubation is not None
    share = 1.0 - one.incubation.value if one.incubation else 0.0
    a = one.power_slope_j_per_mm.value if one.power_slope_j_per_mm else 1.0
    b = one.conduction_w.value if one.conduction_w else 0.0
    logs = []
    for one_line in lines:
        dose = one_line.line_dose_j_per_mm / (one_line.passes if own_passes else 1)
        at_speed = (a + b / one.speed_mm_s) / (a + b / one_line.speed_mm_s)
        logs.append(np.log(dose * at_speed) + share * np.log(one_line.passes))
    return np.array(logs)


def _fitted_line(one: AxisFit, panel: _Panel) -> list[str]:
    """The line, its 95 % interval as the spot's and the threshold's errors have it, the foot."""
    foot = -one.intercept_mm2 / one.slope_mm2
    at = np.linspace(foot, panel.high_x, 60)
    half = t_width(one.dof) * _line_sd(one, at)
    middle = one.slope_mm2 * (at - foot)
    upper, lower = middle + half, np.maximum(middle - half, 0)
    edge = [(panel.x(x), panel.y(min(y, panel.high_y))) for x, y in zip(at, upper, strict=True)]
    back = [(panel.x(x), panel.y(min(y, panel.high_y))) for x, y in zip(at, lower, strict=True)]
    data = "M" + "L".join(f"{x:.1f},{y:.1f}" for x, y in [*edge, *back[::-1]]) + "Z"
    high = min(panel.high_x, foot + panel.high_y / one.slope_mm2)
    x = panel.x(foot)
    return [
        f'<path d="{data}" fill="{_FIT}" fill-opacity="0.18"/>',
        line(
            (x, panel.y(0)),
            (panel.x(high), panel.y(one.slope_mm2 * (high - foot))),
            stroke=_FIT,
            stroke_width=4,
        ),
        line((x, _BOTTOM), (x, _BOTTOM - 44), stroke=_FIT, stroke_width=3, stroke_dasharray="6 5"),
        text("threshold", x - 8, _BOTTOM - 52, size=23, fill=_FIT, anchor="middle", halo=True),
    ]


def _line_sd(one: AxisFit, at: FloatArray) -> FloatArray:
    """Standard error of D^2 = 2 w^2 (x - x_th) from those of w and x_th and their correlation."""
    w, w_sd = one.spot_mm.value / 2, one.spot_mm.sd / 2
    foot = -one.intercept_mm2 / one.slope_mm2
    log_sd = one.threshold_j_per_mm.sd / one.threshold_j_per_mm.value
    by_w, by_foot = 4 * w * (at - foot), -2 * w**2
    variance = (
        (by_w * w_sd) ** 2
        + (by_foot * log_sd) ** 2
        + 2 * one.correlation * by_w * w_sd * by_foot * log_sd
    )
    return np.asarray(np.sqrt(np.maximum(variance, 0)), float)


def _dose_axes(panel: _Panel, speed_mm_s: float) -> list[str]:
    pieces = []
    for width_um in _round_widths(panel.high_y):
        y = panel.y((width_um / 1000) ** 2)
        pieces.append(line((panel.left, y), (panel.right, y), stroke=PALE, stroke_width=1))
        pieces.append(text(f"{width_um:g}", panel.left - 14, y + 8, size=24, anchor="end"))
    pieces.append(line((panel.left, _BOTTOM), (panel.right, _BOTTOM), stroke=INK, stroke_width=2))
    for dose in _round_doses(math.exp(panel.low_x), math.exp(panel.high_x)):
        x = panel.x(math.log(dose))
        pieces.append(line((x, _BOTTOM), (x, _BOTTOM + 10), stroke_width=2))
        pieces.append(text(f"{dose:g}", x, _BOTTOM + 38, size=24, anchor="middle"))
    middle = (panel.left + panel.right) / 2
    pieces.append(
        text(
            f"line dose as of one pass at {speed_mm_s:g} mm/s, J/mm (log)",
            middle,
            _BOTTOM + 76,
            size=25,
            anchor="middle",
        )
    )
    label = text("line width, µm (spaced as its square)", 0, 0, size=25, anchor="middle")
    at = f"translate({panel.left - 92:.0f} {(_TOP + _BOTTOM) / 2:.0f}) rotate(-90)"
    pieces.append(f'<g transform="{at}">{label}</g>')
    return pieces


def _round_widths(high: float) -> list[float]:
    """Widths in um whose squares lie far enough apart to be written."""
    most = math.sqrt(high) * 1000
    step = next(s * 10.0**p for p in range(5) for s in (1, 2, 5) if s * 10.0**p >= most / 10)
    chosen: list[float] = []
    for k in range(int(most / step), 0, -1):
        width = k * step
        if not chosen or (chosen[-1] ** 2 - width**2) / most**2 > 0.06:
            chosen.append(width)
    return [w for w in chosen if (w / most) ** 2 > 0.05]


def _round_doses(low: float, high: float) -> list[float]:
    steps = [m * 10.0**p for p in range(-5, 4) for m in (1, 2, 5)]
    inside = [step for step in steps if low <= step <= high]
    if len(inside) >= 3:
        return inside
    finer = [m * 10.0**p for p in range(-5, 4) for m in (1, 1.5, 2, 3, 4, 5, 6, 8)]
    return [step for step in finer if low <= step <= high]


def _dot(x: float, y: float, *, is_used: bool) -> str:
    if is_used:
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="7" fill="{INK}" fill-opacity="0.75"/>'
    arm = 7
    return line((x - arm, y - arm), (x + arm, y + arm), stroke=_OUT, stroke_width=3) + line(
        (x - arm, y + arm), (x + arm, y - arm), stroke=_OUT, stroke_width=3
    )


def _words(one: AxisFit, left: float, right: float) -> list[str]:
    half_w = t_width(one.dof) * one.spot_mm.sd
    half_t = t_width(one.dof) * one.threshold_j_per_mm.sd
    rows = [
        f"spot {one.spot_mm.value:.4f} ± {half_w:.4f} mm (1/e² full width)",
        f"threshold {one.threshold_j_per_mm.value:.5f} ± {half_t:.5f} J/mm",
    ]
    pieces = [text(row, left + 130, 190 + 30 * k, size=25, fill=INK) for k, row in enumerate(rows)]
    pieces.append(
        text(
            "± 95 % by Student's t; dots: lines in the fit; crosses: left out, or not cleared",
            left - 60,
            _BOTTOM + 130,
            size=23,
            fill=GREY,
        )
    )
    if one.cautions:
        said, wide = one.cautions[0] + ".", right - left + 60
        pieces += paragraph(
            said, left - 60, _BOTTOM + 164, width=wide, apart=28, size=23, fill=_OUT
        )
    return pieces


# --- etching ----------------------------------------------------------------------------------


def _etch_panel(etch: EtchFit) -> list[str]:
    undercuts = [1000 * (slot.width_mm - slot.opening_mm) / 2 for slot in etch.used]
    openings = [slot.opening_mm for slot in etch.used]
    u0, u1 = (1000 * value for value in etch.interval(etch.undercut_mm))
    low, high = min(*undercuts, u0), max(*undercuts, u1)
    pad = max(0.35 * (high - low), 1.5)
    panel = _Panel(
        left=190,
        right=1700,
        low_x=0.0,
        high_x=1.06 * max(openings),
        low_y=low - pad,
        high_y=high + pad,
    )
    half = t_width(etch.dof) * etch.undercut_mm.sd
    head = f"undercut {1000 * etch.undercut_mm.value:.1f} ± {1000 * half:.1f} µm an edge"
    if etch.etch_factor is not None:
        wide = t_width(etch.dof) * etch.etch_factor.sd
        head += f"; etch factor {etch.etch_factor.value:.3f} ± {wide:.3f} = depth / undercut"
    pieces = [
        text(head, 90, 134, size=30),
        text(
            "Half of what each slot is wider than its opening. Band: 95 % of the mean. "
            "Filled: measured across x; rings: across y.",
            90,
            180,
            size=25,
            fill=GREY,
        ),
        *_etch_axes(panel),
    ]
    top, bottom = panel.y(u1), panel.y(u0)
    pieces.append(
        f'<rect x="{panel.left}" y="{top:.1f}" width="{panel.right - panel.left}" '
        f'height="{max(bottom - top, 1.5):.1f}" fill="{_FIT}" fill-opacity="0.22"/>'
    )
    y = panel.y(1000 * etch.undercut_mm.value)
    pieces.append(line((panel.left, y), (panel.right, y), stroke=_FIT, stroke_width=4))
    for slot, undercut in zip(etch.used, undercuts, strict=True):
        fill = INK if slot.axis == "x" else "#ffffff"
        pieces.append(
            f'<circle cx="{panel.x(slot.opening_mm):.1f}" cy="{panel.y(undercut):.1f}" r="9" '
            f'fill="{fill}" stroke="{INK}" stroke-width="3"/>'
        )
    for k, caution in enumerate(etch.cautions):
        pieces.append(text(caution + ".", 90, _BOTTOM + 130 + 32 * k, size=24, fill=_OUT))
    return pieces


def _etch_axes(panel: _Panel) -> list[str]:
    pieces = []
    for value in _ticks(panel.low_y, panel.high_y):
        y = panel.y(value)
        pieces.append(line((panel.left, y), (panel.right, y), stroke=PALE, stroke_width=1))
        pieces.append(text(f"{value:g}", panel.left - 14, y + 8, size=24, anchor="end"))
    pieces.append(line((panel.left, _BOTTOM), (panel.right, _BOTTOM), stroke_width=2))
    for value in _ticks(panel.low_x, panel.high_x):
        x = panel.x(value)
        pieces.append(line((x, _BOTTOM), (x, _BOTTOM + 10), stroke_width=2))
        pieces.append(text(f"{value:g}", x, _BOTTOM + 38, size=24, anchor="middle"))
    middle = (panel.left + panel.right) / 2
    pieces.append(text("opening in the resist, mm", middle, _BOTTOM + 76, size=25, anchor="middle"))
    label = text("undercut, µm an edge", 0, 0, size=25, anchor="middle")
    at = f"translate({panel.left - 92:.0f} {(_TOP + _BOTTOM) / 2:.0f}) rotate(-90)"
    pieces.append(f'<g transform="{at}">{label}</g>')
    return pieces


def _ticks(low: float, high: float) -> Sequence[float]:
    least = (high - low) / 7
    step = next(s * 10.0**p for p in range(-4, 6) for s in (1, 2, 5) if s * 10.0**p >= least)
    first = math.ceil(low / step)
    return [round(k * step, 6) for k in range(first, math.floor(high / step) + 1)]
