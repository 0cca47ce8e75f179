"""Spot and threshold from the widths of single lines: D^2 = 2 w^2 ln(q / q_threshold).

A straight line in D^2 over ln q: slope B = 2 w^2, intercept A, q_threshold = exp(-A / B). With
N passes ln N enters as a further column, D^2 = B [ln q + (1 - S) ln N] + A with q the dose of one
pass; with lines at several speeds each speed has its own intercept, and P_th = q_th v is a line
a v + b. All of that is one regression.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stopout.scans.fitting.common import CommonError, effective_dof, shifts_of
from stopout.scans.fitting.levels import LARGE_SHARE, DoseLevel, chosen_levels, gather_levels
from stopout.scans.measuring.features import LineReading
from stopout.scans.regress import (
    READING_FLOOR_MM,
    Regression,
    Weighting,
    f_tail,
    t_tail,
    t_width,
    weighted_fit,
)
from stopout.values import AXES, Axis, FloatArray, Measured

_LEAST_LEVELS = 4
_MOST_RELATIVE_SE = 0.10
_BENT = 0.001
_POOR = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A number that the data do not carry, and why."""

    axis: Axis
    reason: str
    left_out: tuple[tuple[str, str], ...] = ()
    has_lines: bool = True


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AxisFit:
    """What the lines measured across one axis tell.

    Attributes
    ----------
    axis : str
        The axis across which the widths were measured.
    spot_mm : Measured
        1/e^2 full width 2 w.
    threshold_j_per_mm : Measured
        Line dose of one pass at `speed_mm_s` that just clears.
    correlation : float
        Between the errors of the spot and of the threshold's logarithm.
    dof : int
        Degrees of freedom of the standard errors, the common errors' counted in: take Student's t.
    speed_mm_s : float
        The speed that the threshold holds for.
    power_slope_j_per_mm, conduction_w : Measured or None
        a and b of P_th = a v + b, from lines at two speeds or more.
    incubation : Measured or None
        S of q_th(N) = q_th(1) N^(S - 1), from lines with several passes.
    passes_tested : int
    line_dose_range_j_per_mm : (float, float)
        Of one pass, of the lines that entered.
    width_sd_mm : float
        Scatter of a single line's width about the fit.
    fit_p, bend_p : float or None
        Probabilities by chance of a misfit and of a bend as large; None where not testable.
    bend : float
        Second derivative of D^2 with ln q over the slope: below zero, the curve bends down.
    used : tuple of LineReading
    left_out : tuple of (str, str)
        Lines that did not enter, and why.
    cautions : tuple of str
    slope_mm2, intercept_mm2 : float
        B and A at `speed_mm_s`, one pass.
    """

    axis: Axis
    spot_mm: Measured
    threshold_j_per_mm: Measured
    correlation: float
    dof: int
    speed_mm_s: float
    power_slope_j_per_mm: Measured | None
    conduction_w: Measured | None
    incubation: Measured | None
    passes_tested: int
    line_dose_range_j_per_mm: tuple[float, float]
    width_sd_mm: float
    fit_p: float | None
    bend_p: float | None
    bend: float
    used: tuple[LineReading, ...]
    left_out: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    slope_mm2: float
    intercept_mm2: float

    def interval(self, of: Measured) -> tuple[float, float]:
        """The 95 % interval of one of the values, by Student's t."""
        half = t_width(self.dof) * of.sd
        return of.value - half, of.value + half


def fit_axis(
    readings: Sequence[LineReading],
    axis: Axis,
    *,
    common: Sequence[CommonError] = (),
    weighting: Weighting = "reading",
    choose: bool = True,
    at_speed_mm_s: float | None = None,
) -> AxisFit | Refused:
    """Fit spot and threshold across one axis.

    Parameters
    ----------
    readings : sequence of LineReading
        All lines of the coupon; those of the other axis are passed over.
    axis : str
        "x" or "y": across which the widths were taken.
    common : sequence of CommonError
        What all widths have in common: each is carried through the fit and its square added.
    weighting : str
        "reading": all widths D have the same error, so D^2 is weighted by 1 / (4 D^2) with the
        fitted D; "none": all D^2 alike.
    choose : bool
        False takes every line that was cleared, without the rules on which may enter.
    at_speed_mm_s : float, optional
        Of the lines that enter: the speed that the threshold is told for; left out: the fastest at
        which about as many lines ran as at any.

    Returns
    -------
    AxisFit or Refused
        Refused where fewer than four levels are left, the slope is not positive, the spot's
        standard error passes 10 %, or lines that should have been cleared were not.

    Notes
    -----
    With y = D^2, x = ln q: SE(w) = SE(B) / (4 w), SE(ln q_th) = (s / B) sqrt(1/n +
    (ln q_th - xbar)^2 / Sxx) in the unweighted case [1]_. Which levels enter: the lowest four,
    then upwards while the next lies within 3 sigma of the line, up to D = 2 w; the method is
    biased for imperfect beams by the largest dose in the fit [2]_.

    References
    ----------
    .. [1] J. M. Liu, Simple technique for measurements of pulsed Gaussian-beam spot sizes,
       Opt. Lett. 7, 196 (1982), for pulses (from memory); its form for scanned lines and the
       errors are derived in docs/explanation/coupon-fits.md.
    .. [2] M. Garcia-Lechuga and D. Grojo, Open Research Europe 1:7 (2021).
    """
    mine = [one for one in readings if one.axis == axis]
    levels, left_out = gather_levels(mine)
    if choose:
        levels, more = chosen_levels(levels, weighting)
        left_out += more
    if len(levels) < _LEAST_LEVELS:
        return Refused(
            axis=axis,
            reason=f"{len(levels)} levels of dose were cleared and lie on a line; "
            f"{_LEAST_LEVELS} are needed: burn a coupon with more or other doses",
            left_out=tuple(left_out),
            has_lines=bool(mine),
        )
    return _fitted(axis, levels, left_out, mine, common, weighting, at_speed_mm_s)


def threshold_power(speeds_mm_s: Sequence[float], powers_w: Sequence[float]) -> tuple[float, float]:
    """a and b of the threshold power a v + b, from two speeds or more.

    Parameters
    ----------
    speeds_mm_s, powers_w : sequence of float
        Threshold powers at the speeds.

    Returns
    -------
    (float, float)
        a in J/mm, b in W (what the metal conducts away).
    """
    columns = np.column_stack([speeds_mm_s, np.ones(len(speeds_mm_s))])
    (a, b), *_ = np.linalg.lstsq(columns, np.asarray(powers_w, float), rcond=None)
    return float(a), float(b)


def fit_both(
    readings: Sequence[LineReading], *, common: Sequence[CommonError] = ()
) -> tuple[AxisFit | Refused, AxisFit | Refused]:
    """Fit both axes, their thresholds told for one speed where both ran lines at one.

    Parameters
    ----------
    readings : sequence of LineReading
        All lines of the coupon.
    common : sequence of CommonError
        As for `fit_axis`.
    """
    x, y = (fit_axis(readings, axis, common=common) for axis in AXES)
    if isinstance(x, Refused) or isinstance(y, Refused) or x.speed_mm_s == y.speed_mm_s:
        return x, y
    speeds = [line.speed_mm_s for line in (*x.used, *y.used)]
    shared = {line.speed_mm_s for line in x.used} & {line.speed_mm_s for line in y.used}
    if not shared:
        return x, y
    most = max(shared, key=lambda speed: (speeds.count(speed), speed))
    x, y = (fit_axis(readings, axis, common=common, at_speed_mm_s=most) for axis in AXES)
    return x, y


# --- one regression ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Set:
    """The lines that enter, as columns: ln q, one column for each speed, ln N where it varies."""

    lines: tuple[LineReading, ...]
    columns: FloatArray
    speeds: tuple[float, ...]
    has_passes: bool


def _as_set(levels: list[DoseLevel]) -> _Set:
    lines = tuple(line for level in levels for line in level.lines)
    speeds = sorted({line.speed_mm_s for line in lines})
    counts = {line.passes for line in lines}
    has_passes = len(counts) > 1
    # With one number of passes alone the dose is what they give together.
    dose = np.array(
        [line.line_dose_j_per_mm / (line.passes if has_passes else 1) for line in lines]
    )
    columns = [np.log(dose)]
    columns += [np.array([float(line.speed_mm_s == speed) for line in lines]) for speed in speeds]
    if has_passes:
        columns.append(np.log([float(line.passes) for line in lines]))
    return _Set(
        lines=lines, columns=np.column_stack(columns), speeds=tuple(speeds), has_passes=has_passes
    )


def _solved(data: _Set, weighting: Weighting) -> tuple[Regression, float]:
    """The regression and the scatter of a single width; weights go by the fitted widths."""
    return weighted_fit(data.columns, np.array([line.width_mm for line in data.lines]), weighting)


def _fitted(
    axis: Axis,
    levels: list[DoseLevel],
    left_out: list[tuple[str, str]],
    mine: list[LineReading],
    common: Sequence[CommonError],
    weighting: Weighting,
    at_speed_mm_s: float | None,
) -> AxisFit | Refused:
    data = _as_set(levels)
    fit, scatter = _solved(data, weighting)
    slope = float(fit.value[0])
    if slope <= 0:
        return _refused(axis, left_out, "the lines do not grow wider with the dose")
    fit_p, excess = _misfit(levels, data, fit, weighting, scatter)
    own = fit.covariance * excess
    covariance = own + _in_common(data, fit, weighting, common)
    spot = _spot(slope, float(covariance[0, 0]))
    if spot.sd > _MOST_RELATIVE_SE * spot.value:
        return _refused(
            axis,
            left_out,
            f"the spot would be uncertain by {100 * spot.sd / spot.value:.0f} % (standard error); "
            f"more than {100 * _MOST_RELATIVE_SE:.0f} % is not worth keeping: burn more levels or "
            "repeats",
        )
    speed = at_speed_mm_s if at_speed_mm_s in data.speeds else _main_speed(data)
    if blind := _should_have_cleared(mine, fit, data, speed, scatter):
        return _refused(axis, left_out, blind)
    threshold = _threshold(fit, 1 + data.speeds.index(speed), covariance, own)
    bend, bend_p = _bend(data, weighting)
    conduction = _conduction(data, fit, covariance)
    doses = np.exp(data.columns[:, 0])
    return AxisFit(
        axis=axis,
        spot_mm=spot,
        threshold_j_per_mm=threshold.value,
        correlation=threshold.with_spot,
        dof=threshold.dof,
        speed_mm_s=speed,
        power_slope_j_per_mm=conduction[0] if conduction else None,
        conduction_w=conduction[1] if conduction else None,
        incubation=_incubation(data, fit, covariance),
        passes_tested=max(line.passes for line in data.lines),
        line_dose_range_j_per_mm=(float(doses.min()), float(doses.max())),
        width_sd_mm=scatter,
        fit_p=fit_p,
        bend_p=bend_p,
        bend=bend,
        used=data.lines,
        left_out=tuple(left_out),
        cautions=_cautions(fit_p, bend, bend_p),
        slope_mm2=slope,
        intercept_mm2=threshold.intercept_mm2,
    )


def _spot(slope: float, variance: float) -> Measured:
    """The spot's diameter 2 w, from the slope 2 w^2 of squared width over the dose's logarithm."""
    w = float(np.sqrt(slope / 2))
    return Measured(value=2 * w, sd=2 * float(np.sqrt(variance) / (4 * w)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Threshold:
    """The threshold, how far its error goes with the spot's, and how well both are known."""

    value: Measured
    with_spot: float
    dof: int
    intercept_mm2: float


def _threshold(fit: Regression, k: int, covariance: FloatArray, own: FloatArray) -> _Threshold:
    """Where the width becomes nought by the intercept in place k; errors to first order."""
    slope, intercept = float(fit.value[0]), float(fit.value[k])
    slopes = np.zeros(len(fit.value))
    slopes[0], slopes[k] = intercept / slope**2, -1 / slope
    log_sd = float(np.sqrt(slopes @ covariance @ slopes))
    w = float(np.sqrt(slope / 2))
    w_sd = float(np.sqrt(covariance[0, 0]) / (4 * w))
    together = float(slopes @ covariance[0]) / (4 * w)
    value = float(np.exp(-intercept / slope))
    return _Threshold(
        value=Measured(value=value, sd=value * log_sd),
        with_spot=float(np.clip(together / max(w_sd * log_sd, 1e-30), -1, 1)),
        dof=min(
            effective_dof(float(own[0, 0]), float(covariance[0, 0]), fit.dof),
            effective_dof(float(slopes @ own @ slopes), log_sd**2, fit.dof),
        ),
        intercept_mm2=intercept,
    )


def _in_common(
    data: _Set, fit: Regression, weighting: Weighting, common: Sequence[CommonError]
) -> FloatArray:
    """Covariance of the values from errors that all widths have in common."""
    names = [line.id for line in data.lines]
    width = np.array([line.width_mm for line in data.lines])
    summed = np.zeros_like(fit.covariance)
    for error in common:
        shifted, _ = weighted_fit(data.columns, width + shifts_of(error, names), weighting)
        change = shifted.value - fit.value
        summed += np.outer(change, change)
    return summed


def _refused(axis: Axis, left_out: list[tuple[str, str]], reason: str) -> Refused:
    return Refused(axis=axis, reason=reason, left_out=tuple(left_out))


def _main_speed(data: _Set) -> float:
    counts = {s: sum(line.speed_mm_s == s for line in data.lines) for s in data.speeds}
    return max(s for s, count in counts.items() if count >= LARGE_SHARE * max(counts.values()))


def _misfit(
    levels: list[DoseLevel], data: _Set, fit: Regression, weighting: Weighting, scatter: float
) -> tuple[float | None, float]:
    """Lack of fit against the scatter of repeats: (probability, growth of the variances)."""
    n, count, p = len(data.lines), len(levels), len(fit.value)
    if n - count < 2 or count - p < 1:
        return None, 1.0
    width = np.array([line.width_mm for line in data.lines])
    fitted = np.sqrt(np.maximum(data.columns @ fit.value, 0))
    # Around the fit a width's error is what is alike, or a square's.
    off = (width - fitted) if weighting == "reading" else width**2 - fitted**2
    pure, start = 0.0, 0
    for level in levels:
        part = off[start : start + len(level.lines)]
        pure += float(np.sum((part - part.mean()) ** 2))
        start += len(level.lines)
    lack = max(float(off @ off) - pure, 0.0)
    lack_mean, pure_mean = lack / (count - p), max(pure / (n - count), READING_FLOOR_MM**2 / 4)
    chance = f_tail(lack_mean / pure_mean, count - p, n - count)
    if chance >= 0.05:
        return chance, 1.0
    # Repeats that err alike count as one: the scatter of the levels is what tells.
    whole = max(float(off @ off) / max(fit.dof, 1), 1e-30)
    return chance, max(lack_mean / whole, 1.0)


def _should_have_cleared(
    mine: list[LineReading], fit: Regression, data: _Set, speed: float, scatter: float
) -> str:
    """A sentence where lines were not cleared that by the fit should be wide, else nothing."""
    k = 1 + data.speeds.index(speed)
    for line in mine:
        if line.is_cleared or line.speed_mm_s != speed or line.passes != data.lines[0].passes:
            continue
        row = np.zeros(len(fit.value))
        dose = line.line_dose_j_per_mm / (line.passes if data.has_passes else 1)
        row[0], row[k] = np.log(dose), 1.0
        if data.has_passes:
            row[-1] = np.log(line.passes)
        square = float(row @ fit.value) - 4 * float(np.sqrt(row @ fit.covariance @ row))
        if square > (line.bound_mm + 4 * max(scatter, 0.002)) ** 2:
            return (
                f"line {line.id} was not cleared, though by the others it would be "
                f"{1000 * float(np.sqrt(row @ fit.value)):.0f} um wide: the dose was not what the "
                "coupon says, or something else than dose decides; look at the coupon"
            )
    return ""


def _bend(data: _Set, weighting: Weighting) -> tuple[float, float | None]:
    """Second derivative over slope, and its probability by chance."""
    if len(data.lines) - data.columns.shape[1] < 3:
        return 0.0, None
    x = data.columns[:, 0] - data.columns[:, 0].mean()
    columns = np.column_stack([data.columns, x**2])
    width = np.array([line.width_mm for line in data.lines])
    fit, _ = weighted_fit(columns, width, weighting)
    sd = float(fit.sd[-1])
    bend = float(fit.value[-1])
    # Below what a scan can defend, a bend is the scan's.
    floor = 2 * np.median(width) * 2 * READING_FLOOR_MM / max(float(np.ptp(x)) ** 2 / 4, 1e-9)
    chance = t_tail(bend / max(float(np.hypot(sd, floor)), 1e-30), fit.dof)
    return 2 * bend / max(float(fit.value[0]), 1e-30), chance


def _conduction(
    data: _Set, fit: Regression, covariance: FloatArray
) -> tuple[Measured, Measured] | None:
    if len(data.speeds) < 2:
        return None
    speeds = np.array(data.speeds)

    def of(value: FloatArray) -> FloatArray:
        powers = speeds * np.exp(-value[1 : 1 + len(speeds)] / value[0])
        return np.array(threshold_power(speeds.tolist(), powers.tolist()))

    middle = of(fit.value)
    slopes = np.zeros((2, len(fit.value)))
    for k, size in enumerate(np.abs(fit.value)):
        step = np.zeros(len(fit.value))
        step[k] = 1e-6 * max(float(size), 1e-9)
        slopes[:, k] = (of(fit.value + step) - of(fit.value - step)) / (2 * step[k])
    sd = np.sqrt(np.diag(slopes @ covariance @ slopes.T))
    return (
        Measured(value=float(middle[0]), sd=float(sd[0])),
        Measured(value=float(middle[1]), sd=float(sd[1])),
    )


def _incubation(data: _Set, fit: Regression, covariance: FloatArray) -> Measured | None:
    if not data.has_passes:
        return None
    b, c = float(fit.value[0]), float(fit.value[-1])
    slopes = np.zeros(len(fit.value))
    slopes[0], slopes[-1] = c / b**2, -1 / b
    return Measured(value=1 - c / b, sd=float(np.sqrt(slopes @ covariance @ slopes)))


def _cautions(fit_p: float | None, bend: float, bend_p: float | None) -> tuple[str, ...]:
    said = []
    if bend_p is not None and bend_p < _BENT:
        if bend < 0:
            said.append(
                "the widths grow less with the dose than a Gaussian spot has them: the spot is "
                "flatter, and its width holds only within the doses of this coupon"
            )
        else:
            said.append(
                "the widths grow more with the dose than a Gaussian spot has them (heat, a halo, "
                "a second lobe): the spot's width is apparent, within these doses only"
            )
    elif fit_p is not None and fit_p < _POOR:
        said.append(
            "the levels scatter about the line more than repeats of one level do; the standard "
            "errors have been widened for it"
        )
    return tuple(said)
