"""A measured run time of a program, and the machine's limits that it tells."""

from __future__ import annotations

import math

from stopout.clearing.motion import Course
from stopout.errors import PlanError
from stopout.values import Machine, Moves

# Beyond this the given figure is no misjudgement but another number.
FARTHEST_FACTOR = 20.0
_BISECTIONS = 60


def whole_time_s(moves: Moves, machine: Machine, *, scale: float = 1.0) -> float:
    """Return what a program takes from its start to its standstill.

    Parameters
    ----------
    moves : Moves
        As read back.
    machine : Machine
        Its limits.
    scale : float
        What acceleration is multiplied with; corners go as its root with it.
    """
    course = Course(
        moves,
        acceleration_mm_s2=machine.acceleration_mm_s2 * scale,
        cornering_mm=machine.cornering_mm,
    )
    return float(course.profile(moves.speed_mm_s).time_s.sum())


def acceleration_from_time(moves: Moves, machine: Machine, *, took_s: float) -> float:
    """Return by what the acceleration is to be multiplied so that a program takes its time.

    Parameters
    ----------
    moves : Moves
        The program as read back.
    machine : Machine
        As it was planned with.
    took_s : float
        From start to standstill, as measured.

    Returns
    -------
    float
        The speed at a corner, sqrt(a c s / (1 - s)), goes with its root: both hang on one number,
        so one time tells it.

    Raises
    ------
    PlanError
        If no acceleration within a factor of 20 gives that time.
    """
    low, high = 1 / FARTHEST_FACTOR, FARTHEST_FACTOR
    longest, shortest = (whole_time_s(moves, machine, scale=f) for f in (low, high))
    if not shortest <= took_s <= longest:
        raise PlanError(
            f"{took_s:.0f} s is no time of this program on this machine: it would take "
            f"{shortest:.0f} to {longest:.0f} s; check the time, the top speed and whether the "
            "control ran at the program's own speed"
        )
    for _ in range(_BISECTIONS):
        middle = math.sqrt(low * high)
        if whole_time_s(moves, machine, scale=middle) > took_s:
            low = middle
        else:
            high = middle
    return math.sqrt(low * high)
