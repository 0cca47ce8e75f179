"""The width of one straight feature, from the pixels of a strip along it.

The model of what is seen across a line of width D that is cleared between straight edges:

    I(x) = ground + contrast [E(x - c + D/2) - E(x - c - D/2)]

with `E` the edge as the registration discs show it: a Gaussian's integral, averaged over a pixel.
A half-level threshold would read a line that is narrower than the blur too wide and soon not at
all; the model keeps what is conserved under any blur, contrast x width. The price is that the
contrast of a narrow line cannot be told from itself: it comes from what is resolved nearby (see
`measure_levels`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stopout.coupons.layout import Point
from stopout.scans.registering.coupon import CouponPose
from stopout.scans.registering.discs import edge_spread
from stopout.values import FloatArray, Grey

_BINS_PER_PX = 3.0
MOST_ROUNDS = 25
OUTLIER = 3.0
# A share of the contrast by which the model may be wrong before a cell counts as spoilt: the
# noise of a mean over a hundred pixels is far smaller than that.
EXCUSED = 0.02
# Rounding and texture make a cell's mean less certain than its count alone would say [levels].
TEXTURE = 0.15


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strip:
    """Mean grey levels in cells of a strip: sections along it, narrow bins across it.

    Attributes
    ----------
    section : (n,) ndarray of int
        Which section a cell belongs to.
    along_mm, across_mm : (n,) ndarray
        Mean place of the cell's pixels: along from the strip's middle, across from its centre
        line, to the left of the way from its first end to its last.
    level : (n,) ndarray
        Mean grey level.
    count : (n,) ndarray
        How many pixels.
    pixel_sd : float
        Noise of a single pixel, from differences within the cells.
    sections : int
    length_mm : float
        What is left between the trimmed ends.
    """

    section: NDArray[np.intp]
    along_mm: FloatArray
    across_mm: FloatArray
    level: FloatArray
    count: FloatArray
    pixel_sd: float
    sections: int
    length_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeProfile:
    """What is known beforehand: the blur, and contrast and centre line with standard deviations.

    `blur_mm` is the standard deviation of the edge's spread, `pixel_mm` the share of it that is the
    pixels' own width.
    """

    blur_mm: float
    pixel_mm: float
    contrast: float
    contrast_sd: float
    centre_mm: float = 0.0
    centre_sd_mm: float = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class StripFit:
    """One fit of the model. Standard errors are those of the noise alone.

    `misfit` is in units of the noise, `off_share` the root mean square misfit over the contrast.
    """

    width_mm: float
    width_sd_mm: float
    centre_mm: float
    tilt: float
    ground: float
    contrast: float
    contrast_sd: float
    misfit: float
    off_share: float


def take_strip(
    grey: Grey,
    place: CouponPose,
    ends: tuple[Point, Point],
    *,
    half_mm: float,
    trim_mm: float,
    sections: int,
) -> Strip | None:
    """Gather the pixels of a strip as they are, without resampling.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
        The scan.
    place : CouponPose
        Where the coupon lies in it.
    ends : pair of points
        Of the centre line, in mm.
    half_mm : float
        Half the strip's width.
    trim_mm : float
        What is left out at each end.
    sections : int
        How many pieces along it.

    Returns
    -------
    Strip or None
        None where the strip lies beyond the scan.
    """
    a, b = np.array(ends[0], float), np.array(ends[1], float)
    length = float(np.hypot(*(b - a)))
    along = (b - a) / length
    across = np.array([-along[1], along[0]])
    s0, s1 = trim_mm, length - trim_mm
    if s1 <= s0:
        return None
    corners = np.array([a + along * s + across * t for s in (s0, s1) for t in (-half_mm, half_mm)])
    px = place.to_px(corners)
    left, top = np.floor(px.min(axis=0)).astype(int)
    right, bottom = np.ceil(px.max(axis=0)).astype(int) + 1
    if left < 0 or top < 0 or right > grey.shape[1] or bottom > grey.shape[0]:
        return None
    values, points = [], []
    for start in range(top, bottom, 256):
        stop = min(start + 256, bottom)
        y, x = np.mgrid[start:stop, left:right]
        mm = place.to_mm(np.column_stack([x.ravel(), y.ravel()]).astype(float)) - a
        s, t = mm @ along, mm @ across
        inside = (s >= s0) & (s < s1) & (np.abs(t) < half_mm)
        values.append(grey[start:stop, left:right].ravel()[inside].astype(float))
        points.append(np.column_stack([s[inside], t[inside]]))
    value, st = np.concatenate(values), np.concatenate(points)
    if len(value) < 20 * sections:
        return None
    return _cells(value, st, (s0, s1), half_mm, sections, 1 / (_BINS_PER_PX * place.px_per_mm))


def _cells(
    value: FloatArray,
    st: FloatArray,
    span: tuple[float, float],
    half_mm: float,
    sections: int,
    bin_mm: float,
) -> Strip:
    s, t = st.T
    length = span[1] - span[0]
    section = np.minimum(((s - span[0]) / length * sections).astype(int), sections - 1)
    bins = int(np.ceil(2 * half_mm / bin_mm))
    cell = section * bins + np.clip(((t + half_mm) / bin_mm).astype(int), 0, bins - 1)
    count = np.bincount(cell, minlength=sections * bins).astype(float)
    used = count > 0

    def mean(what: FloatArray) -> FloatArray:
        summed = np.bincount(cell, weights=what, minlength=sections * bins)
        result: FloatArray = summed[used] / count[used]
        return result

    level = mean(value)
    squares = mean(value**2) - level**2
    many = count[used] >= 4
    inner = squares[many] * count[used][many] / (count[used][many] - 1)
    noise = float(np.sqrt(np.median(inner))) if many.any() else 1.0
    return Strip(
        section=np.nonzero(used)[0] // bins,
        along_mm=mean(s) - (span[0] + span[1]) / 2,
        across_mm=mean(t),
        level=level,
        count=count[used],
        # A scan is rounded to whole levels: no noise below that is believed.
        pixel_sd=max(noise, 0.3),
        sections=sections,
        length_mm=length,
    )


def fit_strip(strip: Strip, known: EdgeProfile) -> StripFit | None:
    """Fit one width to a whole strip.

    Parameters
    ----------
    strip : Strip
        The cells.
    known : EdgeProfile
        Blur, and what is known of contrast and centre.

    Returns
    -------
    StripFit or None
        None where the fit does not settle.
    """
    half = float(np.abs(strip.across_mm).max())
    edge = np.abs(strip.across_mm) > 0.75 * half
    ground = float(np.median(strip.level[edge]))
    cleared = np.average(strip.level - ground, weights=strip.count) / known.contrast
    start = np.array(
        [max(2 * half * float(cleared), 0.01), known.centre_mm, 0.0, ground, 0.0, 0.0,
         known.contrast]
    )  # fmt: skip
    # Pulls: width and grounds free; the centre line as the layout has it, within its deviation.
    length = max(strip.length_mm / 2, 0.1)
    prior_sd = np.array(
        [np.inf, known.centre_sd_mm, known.centre_sd_mm / length, np.inf, np.inf, np.inf,
         max(known.contrast_sd, 1e-9)]
    )  # fmt: skip
    data = np.column_stack([strip.across_mm, strip.along_mm])
    solved = _solve(data, strip.level, strip.count, strip.pixel_sd, known, start, prior_sd)
    if solved is None:
        return None
    value, covariance, misfit = solved
    # A fit of what is no line may end where its own curvature has no sign.
    sd = np.sqrt(np.maximum(np.diag(covariance), 0))
    return StripFit(
        width_mm=float(value[0]),
        width_sd_mm=float(sd[0]),
        centre_mm=float(value[1]),
        tilt=float(value[2]),
        ground=float(value[3]),
        contrast=float(value[6]),
        contrast_sd=float(sd[6]),
        misfit=misfit,
        off_share=_off_share(data, strip, known, value),
    )


def _off_share(data: FloatArray, strip: Strip, known: EdgeProfile, value: FloatArray) -> float:
    """Root mean square of the misfit's mean along the strip: what is not noise or roughness."""
    off = strip.level - _model(data, known, value)[0]
    from_centre = strip.across_mm - value[1] - value[2] * strip.along_mm
    near = np.abs(from_centre) < abs(value[0]) / 2 + 3 * known.blur_mm
    which = np.floor(from_centre[near] / (0.4 * known.pixel_mm)).astype(int)
    which -= which.min(initial=0)
    count = np.bincount(which, weights=strip.count[near])
    mean = np.bincount(which, weights=(off * strip.count)[near])[count > 0] / count[count > 0]
    if not len(mean):
        return 0.0
    return float(np.sqrt(np.average(mean**2, weights=count[count > 0])) / abs(value[6]))


def _solve(
    data: FloatArray,
    level: FloatArray,
    count: FloatArray,
    pixel_sd: float,
    known: EdgeProfile,
    start: FloatArray,
    prior_sd: FloatArray,
) -> tuple[FloatArray, FloatArray, float] | None:
    """Damped Gauss-Newton with cells far off weighed down: (values, covariance, misfit)."""
    value, prior = start.copy(), start.copy()
    pull = np.where(np.isfinite(prior_sd), 1 / prior_sd**2, 0.0)
    damping = 1e-3
    cell_sd = np.sqrt(pixel_sd**2 / count + TEXTURE**2)
    excused = EXCUSED * abs(start[6])
    shape, slopes = _model(data, known, value)
    weight = _weights(level - shape, cell_sd, excused)
    cost = _cost(level - shape, weight, value - prior, pull)
    for _ in range(MOST_ROUNDS):
        normal = slopes.T @ (slopes * weight[:, None])
        own = normal.diagonal() + pull
        pushed = slopes.T @ (weight * (level - shape)) - pull * (value - prior)
        np.fill_diagonal(normal, own + damping * np.maximum(own, 1e-12))
        try:
            step = np.linalg.solve(normal, pushed)
        except np.linalg.LinAlgError:
            return None
        tried = value + step
        new_shape, new_slopes = _model(data, known, tried)
        new_cost = _cost(level - new_shape, weight, tried - prior, pull)
        if not np.isfinite(new_cost) or new_cost > cost * (1 + 1e-12):
            damping *= 10
            if damping > 1e8:
                break
            continue
        damping = max(damping / 10, 1e-9)
        value, shape, slopes = tried, new_shape, new_slopes
        weight = _weights(level - shape, cell_sd, excused)
        cost = _cost(level - shape, weight, value - prior, pull)
        if abs(step[0]) < 1e-7 and abs(step[1]) < 1e-6:
            break
    normal = slopes.T @ (slopes * weight[:, None]) + np.diag(pull)
    try:
        covariance = np.linalg.inv(normal)
    except np.linalg.LinAlgError:
        return None
    misfit = float(np.sqrt(np.mean((level - shape) ** 2 * weight)))
    return value, covariance, misfit


def _model(
    data: FloatArray, known: EdgeProfile, value: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Levels of the model and their slopes in (width, centre, tilt, grounds, contrast)."""
    width, centre, tilt, ground, lean, drift, contrast = value
    across, along = data.T
    x = across - centre - tilt * along
    sides = np.stack([x + width / 2, x - width / 2])
    (up, down), (at_up, at_down) = edge_spread(sides, known.blur_mm, known.pixel_mm)
    share = up - down
    slopes = np.empty((len(x), 7))
    slopes[:, 0] = contrast * (at_up + at_down) / 2
    slopes[:, 1] = contrast * (at_down - at_up)
    slopes[:, 2] = slopes[:, 1] * along
    slopes[:, 3] = 1.0
    slopes[:, 4] = across
    slopes[:, 5] = along
    slopes[:, 6] = share
    return ground + lean * across + drift * along + contrast * share, slopes


def _weights(off: FloatArray, cell_sd: FloatArray, excused: float) -> FloatArray:
    """Inverse variances, those of cells far off (dust, scratches) weighed down."""
    beyond = np.abs(off) / cell_sd
    middle = max(_median(beyond) / 0.6745, 1.0)
    limit = np.maximum(OUTLIER * middle * cell_sd, excused)
    result: FloatArray = np.minimum(1.0, limit / np.maximum(np.abs(off), 1e-9)) / cell_sd**2
    return result


def _median(values: FloatArray) -> float:
    """As numpy's, without its care for axes and nan: this is asked a hundred thousand times."""
    half = len(values) // 2
    if len(values) % 2:
        return float(np.partition(values, half)[half])
    low, high = np.partition(values, (half - 1, half))[half - 1 : half + 1]
    return float((low + high) / 2)


def _cost(off: FloatArray, weight: FloatArray, pulled: FloatArray, pull: FloatArray) -> float:
    return float(weight @ off**2 + pull @ pulled**2)
