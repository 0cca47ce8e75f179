"""The mark that a calibration of the shop book promises at a job's power, speed and passes."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stopout.job.shop_numbers import ClearingCalibration
from stopout.values import Measured

# What is left of the threshold at any speed: a loss fitted too high would take all of it.
_LEAST_SHARE = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class BookMark:
    """A mark from the shop book.

    Attributes
    ----------
    mark_mm : (Measured, Measured)
        Full axes along x and y.
    dose_ratios : (float, float)
        Line dose / threshold line dose across x and across y.
    source : str
        Which entry of the book, with its date.
    """

    mark_mm: tuple[Measured, Measured]
    dose_ratios: tuple[float, float]
    source: str


def dose_ratios_from_book(
    calibration: ClearingCalibration, *, power_w: float, speed_mm_s: float, passes: int
) -> tuple[float, float]:
    """Return line dose / threshold line dose across x and across y, all passes together.

    Parameters
    ----------
    calibration : ClearingCalibration
        From the shop book.
    power_w, speed_mm_s : float
        Of the job, not as fractions.
    passes : int
        How often each line is run.

    Returns
    -------
    (float, float)
        At or under 1 nothing is cleared.

    Notes
    -----
    ln r = ln(q / q_th(v)) + (1 - S) ln N, q the line dose of one pass (incubation after Y. Jee,
    M. F. Becker and R. M. Walser, J. Opt. Soc. Am. B 5 (1988) 648). q_th(v) = q_th(v0) +
    b (1/v - 1/v0) where the conduction loss b of the threshold power P_th = a v + b is known.
    """
    x, y = (_log_ratio(calibration, axis, power_w, speed_mm_s, passes) for axis in range(2))
    return math.exp(x), math.exp(y)


def mark_from_book(
    calibration: ClearingCalibration, *, power_w: float, speed_mm_s: float, passes: int
) -> tuple[Measured, Measured]:
    """Return the mark at these settings along x and y, in mm, with its standard deviations.

    Parameters
    ----------
    calibration : ClearingCalibration
        From the shop book.
    power_w, speed_mm_s : float
        Of the job, not as fractions; the dose ratios must be above 1.
    passes : int
        How often each line is run.

    Raises
    ------
    ValueError
        If nothing is cleared across an axis.

    Notes
    -----
    D = w sqrt(2 ln r) (J. M. Liu, Opt. Lett. 7 (1982) 196, from memory, in its scanned form).
    Errors to first order: dD/dw = D/w, dD/d(ln q_th) = -w^2/D, dD/dS = -(w^2/D) ln N.
    """
    logs = [_log_ratio(calibration, axis, power_w, speed_mm_s, passes) for axis in range(2)]
    if min(logs) <= 0:
        raise ValueError("at or under the threshold nothing is cleared")
    return _width(calibration, 0, logs[0], passes), _width(calibration, 1, logs[1], passes)


def _log_ratio(
    calibration: ClearingCalibration, axis: int, power_w: float, speed_mm_s: float, passes: int
) -> float:
    threshold = calibration.threshold_j_per_mm[axis].value
    loss, burnt_at = calibration.conduction_w, calibration.speed_mm_s
    if loss is not None and burnt_at is not None:
        # Slower lines lose more to the metal; a loss fitted too high must not take all of it.
        moved = threshold + loss.value * (1 / speed_mm_s - 1 / burnt_at)
        threshold = max(moved, _LEAST_SHARE * threshold)
    ratio = math.log(power_w / speed_mm_s / threshold)
    if calibration.incubation is not None:
        ratio += (1 - calibration.incubation.value) * math.log(passes)
    return ratio


def _width(calibration: ClearingCalibration, axis: int, log_ratio: float, passes: int) -> Measured:
    spot, threshold = calibration.spot_mm[axis], calibration.threshold_j_per_mm[axis]
    w, w_sd, log_sd = spot.value / 2, spot.sd / 2, threshold.sd / threshold.value
    width = w * math.sqrt(2 * log_ratio)
    by_w, by_log = width / w, -(w**2) / width
    variance = (by_w * w_sd) ** 2 + (by_log * log_sd) ** 2
    variance += 2 * by_w * by_log * calibration.correlation[axis] * w_sd * log_sd
    if calibration.incubation is not None:
        variance += (by_log * math.log(passes) * calibration.incubation.sd) ** 2
    return Measured(value=width, sd=math.sqrt(max(variance, 0.0)))
