"""Two timed runs of bare traverses, and the top speed and acceleration that their times tell.

A traverse between rests takes L / v + v / a where it is long enough to reach the speed v, which is
from L = v^2 / a on, and 2 sqrt(L / a) where it is not (the trapezoidal profile of kinematics). Many
short traverses tell a alone, long ones then v. Times by hand err alike however long the run: the
longer, the better.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from stopout.errors import PlanError
from stopout.values import Measured, Moves

# A clock started and stopped by hand (common practice, no source: each press errs by about 0.2 s).
HAND_SD_S = 0.3
# How long the runs are to take, about, and how many traverses there are at least.
_RUN_S, _LEAST = 60.0, 20
# Short traverses stay this share of the length at which the fastest machine reaches its speed.
_SHORT_SHARE, _SHORTEST_MM = 0.6, 1.0
_SURE_SDS = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Traverses:
    """A run to and fro: `count` traverses of `length_mm`, each from rest to rest."""

    length_mm: float
    count: int

    def time_s(self, speed_mm_s: float, acceleration_mm_s2: float) -> float:
        """Return what the run takes."""
        length, v, a = self.length_mm, speed_mm_s, acceleration_mm_s2
        one = length / v + v / a if length >= v * v / a else 2 * math.sqrt(length / a)
        return self.count * one

    def moves(self, axis: str, top_speed_mm_s: float) -> Moves:
        """Return the travels, beam off, along an axis from (0, 0) and back to it."""
        ends = np.where(np.arange(self.count) % 2 == 0, self.length_mm, 0.0)
        none = np.zeros(self.count)
        x, y = (ends, none) if axis == "x" else (none, ends)
        return Moves(
            x_mm=x,
            y_mm=y,
            rapid=np.ones(self.count, dtype=bool),
            speed_mm_s=np.full(self.count, top_speed_mm_s),
            power=none,
        )


def lay_traverses(
    room_mm: float,
    *,
    top_speed_mm_s: float,
    acceleration_mm_s2: tuple[float, float, float],
) -> tuple[Traverses, Traverses]:
    """Lay a long run and a short one.

    Parameters
    ----------
    room_mm : float
        How far the head may go.
    top_speed_mm_s : float
        As it is thought to be.
    acceleration_mm_s2 : (float, float, float)
        Its lowest, likely and highest value.

    Returns
    -------
    (Traverses, Traverses)
        The long run's reach the speed where the room allows it, the short one's do not.
    """
    _, likely, highest = acceleration_mm_s2
    short = _SHORT_SHARE * top_speed_mm_s**2 / highest
    short = round(min(max(short, _SHORTEST_MM), room_mm / 4), 2)

    def run(length: float) -> Traverses:
        one = Traverses(length_mm=length, count=1).time_s(top_speed_mm_s, likely)
        # An even count ends where it began.
        return Traverses(length_mm=length, count=2 * math.ceil(max(_RUN_S / one, _LEAST) / 2))

    return run(round(room_mm, 2)), run(short)


def motion_of(
    long: Traverses, short: Traverses, *, long_s: float, short_s: float, sd_s: float = HAND_SD_S
) -> tuple[Measured | None, Measured]:
    """Return top speed and acceleration from the times of the two runs.

    Parameters
    ----------
    long, short : Traverses
        As they ran.
    long_s, short_s : float
        By the clock.
    sd_s : float
        Standard deviation of either time.

    Returns
    -------
    (Measured or None, Measured)
        Top speed in mm/s, None where the long run does not reach it, and acceleration in mm/s^2.

    Raises
    ------
    PlanError
        If no speed and acceleration give these times.
    """
    speed, acceleration = _solved(long, short, long_s, short_s, sd_s)
    if speed is None:
        known = 2 * sd_s / short_s * acceleration
        return None, Measured(value=acceleration, sd=known)
    # Towards longer long runs and shorter short ones the speed is always told.
    by_long = _solved(long, short, long_s + sd_s, short_s, 0.0)
    by_short = _solved(long, short, long_s, short_s - sd_s, 0.0)
    sds = [
        math.hypot((one or middle) - middle, (other or middle) - middle)
        for middle, one, other in zip((speed, acceleration), by_long, by_short, strict=True)
    ]
    return Measured(value=speed, sd=sds[0]), Measured(value=acceleration, sd=sds[1])


def _solved(
    long: Traverses, short: Traverses, long_s: float, short_s: float, sd_s: float
) -> tuple[float | None, float]:
    t_long, t_short = long_s / long.count, short_s / short.count
    if t_long <= t_short:
        raise PlanError(
            f"a long traverse of {t_long:.3g} s and a short one of {t_short:.3g} s do not go "
            "together; check which time is of which program"
        )
    acceleration = 4 * short.length_mm / t_short**2
    # L / v + v / a = t: the smaller root is the speed.
    rest = t_long**2 - 4 * long.length_mm / acceleration
    # What the clock cannot tell from a traverse that never reaches the speed.
    unsure = 2 * t_long**2 * _SURE_SDS * (sd_s / long_s + sd_s / short_s)
    if rest < -unsure:
        raise PlanError(
            "the long traverses took less time than the acceleration of the short ones allows, "
            "whatever the top speed; check which time is of which program, or time both again"
        )
    if rest <= unsure:
        return None, acceleration
    speed = acceleration * (t_long - math.sqrt(rest)) / 2
    if short.length_mm > speed**2 / acceleration:
        # The short ones reached the speed as well: both times are of L / v + v / a.
        speed = (long.length_mm - short.length_mm) / (t_long - t_short)
        room = t_short - short.length_mm / speed
        if room <= 0:
            raise PlanError("the short traverses leave no time to speed up in; time both again")
        acceleration = speed / room
    return speed, acceleration
