"""Two-direction timing combs: how far a late beam shifts the teeth along their travel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stopout.coupons.layout import Comb, Tooth
from stopout.scans.registering.coupon import CouponPose
from stopout.scans.registering.pose import sampled
from stopout.scans.regress import regress
from stopout.values import AXES, Axis, FloatArray, Grey, Measured

_BEYOND_MM = 0.8
_STEP_MM = 0.005
_HALF_MM = 0.02
_LEAST_TEETH = 4
_LEAST_SHIFT_SD_MM = 0.001


@dataclass(frozen=True, slots=True, kw_only=True)
class CombReading:
    """How far the teeth of a comb lie beyond their places in the direction of travel.

    A beam that comes on and goes off late shifts them forwards; to and fro teeth then stand apart
    by twice the shift. `axis` is the direction of travel.
    """

    id: str
    axis: Axis
    speed_mm_s: float
    shift_mm: float
    shift_sd_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TimingFit:
    """Delay of the beam along one axis, and play between the directions (None from one speed)."""

    axis: Axis
    delay_ms: Measured
    play_mm: Measured | None


def measure_comb(grey: Grey, place: CouponPose, comb: Comb) -> CombReading | None:
    """Measure a comb; None where too few of its teeth stand out.

    Notes
    -----
    The middle between a tooth's two ends is what counts: the overhang of both ends by the spot, and
    any blur, cancel. The two directions are averaged, so that a shift of the whole comb does too.
    """
    forth: list[float] = []
    back: list[float] = []
    reference = np.array(comb.teeth[0].to_mm) - np.array(comb.teeth[0].from_mm)
    for tooth in comb.teeth:
        shift = _shift_mm(grey, place, tooth)
        if shift is None:
            continue
        run = np.array(tooth.to_mm) - np.array(tooth.from_mm)
        (forth if float(run @ reference) > 0 else back).append(shift)
    if len(forth) + len(back) < _LEAST_TEETH or min(len(forth), len(back)) < 2:
        return None
    means = [float(np.median(side)) for side in (forth, back)]
    sds = [float(np.std(side, ddof=1)) / np.sqrt(len(side)) for side in (forth, back)]
    return CombReading(
        id=comb.id,
        axis=comb.axis,
        speed_mm_s=comb.speed_mm_s,
        shift_mm=sum(means) / 2,
        shift_sd_mm=max(float(np.hypot(*sds)) / 2, _LEAST_SHIFT_SD_MM),
    )


def _shift_mm(grey: Grey, place: CouponPose, tooth: Tooth) -> float | None:
    """How far the tooth's middle lies beyond its place, in the direction of travel."""
    a, b = np.array(tooth.from_mm), np.array(tooth.to_mm)
    length = float(np.hypot(*(b - a)))
    along = (b - a) / length
    across = np.array([-along[1], along[0]])
    s = np.arange(-_BEYOND_MM, length + _BEYOND_MM, _STEP_MM)
    t = np.linspace(-_HALF_MM, _HALF_MM, 5)
    points = a + s[:, None, None] * along + t[None, :, None] * across
    px = place.to_px(points.reshape(-1, 2)).reshape(*points.shape).astype(np.float32)
    if px.min() < 0 or (px[..., 0] > grey.shape[1] - 1).any() or (px[..., 1] > len(grey) - 1).any():
        return None
    profile = sampled(grey, px).mean(axis=1)
    middle = float(np.median(profile[(s > 0.3 * length) & (s < 0.7 * length)]))
    ends = np.concatenate([profile[:30], profile[-30:]])
    ground = float(np.median(ends))
    sign = 1.0 if place.is_bright else -1.0
    if sign * (middle - ground) < 8:
        return None
    above = (profile - ground) / (middle - ground) - 0.5
    first = _crossing(s, above, length / 2, -1)
    last = _crossing(s, above, length / 2, +1)
    if first is None or last is None:
        return None
    return (first + last - length) / 2


def _crossing(s: FloatArray, above: FloatArray, start: float, way: int) -> float | None:
    """Where the profile falls through zero, going from the start one way."""
    k = int(np.searchsorted(s, start))
    while 0 < k < len(s) - 1:
        if above[k] >= 0 > above[k + way]:
            share = above[k] / (above[k] - above[k + way])
            return float(s[k] + way * share * _STEP_MM)
        k += way
    return None


def fit_timing(readings: Sequence[CombReading]) -> tuple[TimingFit, ...]:
    """Delay and play along each axis that has a comb.

    Returns
    -------
    tuple of TimingFit
        With combs at one speed play is taken for delay; two speeds part them.

    Notes
    -----
    shift = speed x delay - play / 2: a late beam marks beyond its place along the travel, and a
    head that its drive's play holds back marks before it.
    """
    fits = []
    for axis in AXES:
        mine = [one for one in readings if one.axis == axis]
        if not mine:
            continue
        speed = np.array([one.speed_mm_s for one in mine])
        shift = np.array([one.shift_mm for one in mine])
        sd = np.array([one.shift_sd_mm for one in mine])
        if float(np.ptp(speed)) < 0.05 * float(speed.max()):
            delay = Measured(
                value=1000 * float((shift / speed).mean()),
                sd=1000 * float(np.hypot.reduce(sd / speed)) / len(mine),
            )
            fits.append(TimingFit(axis=axis, delay_ms=delay, play_mm=None))
            continue
        columns = np.column_stack([speed, np.ones(len(speed))])
        value = regress(columns, shift, 1 / sd**2).value
        # The readings' own errors: two combs leave no scatter to take them from.
        known = np.linalg.inv(columns.T @ (columns / (sd**2)[:, None]))
        fits.append(
            TimingFit(
                axis=axis,
                delay_ms=Measured(
                    value=1000 * float(value[0]), sd=1000 * float(np.sqrt(known[0, 0]))
                ),
                play_mm=Measured(value=-2 * float(value[1]), sd=2 * float(np.sqrt(known[1, 1]))),
            )
        )
    return tuple(fits)


def against_sense(timing: TimingFit) -> str:
    """Words for a delay or a play below zero, which no machine has; empty where there is none."""
    play, delay = timing.play_mm, timing.delay_ms
    if delay.value < -2 * delay.sd:
        return (
            f"along {timing.axis} the beam seems early by {-delay.value:.2f} ms: the control "
            "already corrects for a delay, or by too much; check its setting"
        )
    if play is not None and play.value < -2 * play.sd:
        return (
            f"along {timing.axis} the play comes out below zero, {1000 * play.value:.0f} um, which "
            "no axis has: the head runs ahead where play would hold it back, so the control "
            "corrects for more play than there is, or the two speeds' delays differ; do not "
            "enter it"
        )
    return ""
