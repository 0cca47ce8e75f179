"""The widths of a strip's sections, all sections at once.

Each section is fitted by the very rounds by which `strip` fits a whole one (damped Gauss-Newton,
cells far off weighed down), with tilt, drift and contrast held: width, centre, ground and lean
are left. A section that has settled takes no part in the rounds that follow.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from stopout.scans.measuring.strip import (
    EXCUSED,
    MOST_ROUNDS,
    OUTLIER,
    TEXTURE,
    EdgeProfile,
    Strip,
    StripFit,
)
from stopout.scans.registering.discs import edge_spread
from stopout.values import FloatArray

_LEAST_CELLS = 12
# How far a section's centre may lie from that of the whole strip, as a standard deviation.
_CENTRE_SD_MM = 0.01


def fit_sections(strip: Strip, known: EdgeProfile, whole: StripFit) -> FloatArray:
    """Widths of the strip's sections, with contrast and blur held.

    Parameters
    ----------
    strip : Strip
        The cells.
    known : EdgeProfile
        The blur.
    whole : StripFit
        The fit of the whole strip: contrast, centre line and a first width.

    Returns
    -------
    (sections,) ndarray
        Widths in mm, nan where a section does not settle.
    """
    cells = _by_section(strip, whole)
    many = cells.is_there.sum(axis=1) >= _LEAST_CELLS
    widths = np.full(strip.sections, np.nan)
    if many.any():
        cells = cells.of(many)
        widths[many] = _settled(cells, known, whole.contrast, _starts(cells, whole))
    return widths


class _Cells(NamedTuple):
    """Cells of each section in a row of its own; `is_there` is false where a row has no more."""

    across_mm: FloatArray
    level: FloatArray
    sd: FloatArray
    is_there: NDArray[np.bool_]

    def of(self, rows: NDArray[np.bool_] | NDArray[np.intp]) -> _Cells:
        return _Cells(self.across_mm[rows], self.level[rows], self.sd[rows], self.is_there[rows])


def _by_section(strip: Strip, whole: StripFit) -> _Cells:
    count = np.bincount(strip.section, minlength=strip.sections)
    # Cells come section by section.
    first = np.cumsum(count) - count
    at = strip.section, np.arange(len(strip.section)) - first[strip.section]
    scale = max(strip.pixel_sd * max(whole.misfit, 1.0), 0.3)
    across, level, sd = np.zeros((3, strip.sections, int(count.max(initial=0))))
    across[at] = strip.across_mm - whole.tilt * strip.along_mm
    level[at] = strip.level
    sd[at] = np.sqrt(scale**2 / strip.count + TEXTURE**2)
    return _Cells(across, level, np.where(sd > 0, sd, 1.0), sd > 0)


def _starts(cells: _Cells, whole: StripFit) -> FloatArray:
    start = np.zeros((len(cells.level), 4))
    start[:, 0], start[:, 1], start[:, 2] = whole.width_mm, whole.centre_mm, whole.ground
    if abs(whole.width_mm) < 1e-3:
        start[:, 2] = _medians(cells.level, cells.is_there)
    return start


def _settled(cells: _Cells, known: EdgeProfile, contrast: float, start: FloatArray) -> FloatArray:
    """Width of each row; nan where no cell tells it."""
    pull = np.array([0.0, 1 / _CENTRE_SD_MM**2, 0.0, 0.0])
    excused = EXCUSED * abs(contrast)
    value, damping = start.copy(), np.full(len(start), 1e-3)
    off, slopes = _off(cells, known, contrast, value)
    weight = _weights(off, cells, excused)
    cost = _costs(off, weight, value - start, pull)
    left = np.arange(len(start))
    for _ in range(MOST_ROUNDS):
        step = _steps(slopes[left], weight[left], off[left], (start - value)[left], pull,
                      damping[left])  # fmt: skip
        tried, mine = value[left] + step, cells.of(left)
        new_off, new_slopes = _off(mine, known, contrast, tried)
        new_cost = _costs(new_off, weight[left], tried - start[left], pull)
        better = np.isfinite(new_cost) & (new_cost <= cost[left] * (1 + 1e-12))
        took, not_took = left[better], left[~better]
        damping[not_took] *= 10
        damping[took] = np.maximum(damping[took] / 10, 1e-9)
        value[took], off[took], slopes[took] = tried[better], new_off[better], new_slopes[better]
        weight[took] = _weights(off[took], cells.of(took), excused)
        cost[took] = _costs(off[took], weight[took], value[took] - start[took], pull)
        still = (np.abs(step[:, 0]) >= 1e-7) | (np.abs(step[:, 1]) >= 1e-6)
        left = left[np.where(better, still, damping[left] <= 1e8)]
        if not len(left):
            break
    is_told = (weight * slopes[:, :, 0] ** 2).sum(axis=1) > 0
    return np.where(is_told, value[:, 0], np.nan)


def _steps(
    slopes: FloatArray,
    weight: FloatArray,
    off: FloatArray,
    back: FloatArray,
    pull: FloatArray,
    damping: FloatArray,
) -> FloatArray:
    """Damped Gauss-Newton steps, (rows, 4); nan where the equations say nothing."""
    weighed = (slopes * weight[:, :, None]).transpose(0, 2, 1)
    normal = weighed @ slopes
    pushed = (weighed @ off[:, :, None])[:, :, 0] + pull * back
    own = normal.diagonal(axis1=1, axis2=2) + pull
    every = np.arange(4)
    normal[:, every, every] = own + damping[:, None] * np.maximum(own, 1e-12)
    try:
        step = np.linalg.solve(normal, pushed[:, :, None])
    except np.linalg.LinAlgError:
        normal[np.linalg.det(normal) == 0] = np.nan
        step = np.linalg.solve(normal, pushed[:, :, None])
    return np.asarray(step[:, :, 0], float)


def _off(
    cells: _Cells, known: EdgeProfile, contrast: float, value: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Levels less the model's, and its slopes in (width, centre, ground, lean)."""
    width, centre, ground, lean = value.T[:, :, None]
    x = cells.across_mm - centre
    sides = np.stack([x + width / 2, x - width / 2])
    (up, down), (at_up, at_down) = edge_spread(sides, known.blur_mm, known.pixel_mm)
    slopes = np.empty((*x.shape, 4))
    slopes[:, :, 0] = contrast * (at_up + at_down) / 2
    slopes[:, :, 1] = contrast * (at_down - at_up)
    slopes[:, :, 2] = 1.0
    slopes[:, :, 3] = cells.across_mm
    return cells.level - (ground + lean * cells.across_mm + contrast * (up - down)), slopes


def _weights(off: FloatArray, cells: _Cells, excused: float) -> FloatArray:
    """Inverse variances, those of cells far off weighed down; none where there is no cell."""
    beyond = np.abs(off)
    middle = np.maximum(_medians(beyond / cells.sd, cells.is_there) / 0.6745, 1.0)
    limit = np.maximum(OUTLIER * middle[:, None] * cells.sd, excused)
    weight: FloatArray = np.minimum(1.0, limit / np.maximum(beyond, 1e-9)) / cells.sd**2
    return weight * cells.is_there


def _medians(values: FloatArray, is_there: NDArray[np.bool_]) -> FloatArray:
    """Of each row's cells."""
    count, every = is_there.sum(axis=1), np.arange(len(values))
    ordered = np.sort(np.where(is_there, values, np.inf), axis=1)
    result: FloatArray = (ordered[every, (count - 1) // 2] + ordered[every, count // 2]) / 2
    return result


def _costs(off: FloatArray, weight: FloatArray, pulled: FloatArray, pull: FloatArray) -> FloatArray:
    result: FloatArray = (weight * off**2).sum(axis=1) + pulled**2 @ pull
    return result
