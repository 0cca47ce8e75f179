"""How many lines of a program a control has to carry out in a second, and slowing to its limit."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from stopout.clearing.motion import Course, Profile
from stopout.values import FloatArray, Machine, Moves

_MOST_ROUNDS = 40
# Commanded a little slower than would just do, so that rounds come to an end.
_MARGIN = 0.98


def busiest_second(profile: Profile) -> tuple[int, int]:
    """Return the most lines that begin within one second, and the index of the first of them."""
    begun = np.concatenate([[0.0], np.cumsum(profile.time_s)])[:-1]
    if not len(begun):
        return 0, 0
    count = np.searchsorted(begun, begun + 1.0 - 1e-9) - np.arange(len(begun))
    first = int(np.argmax(count))
    return int(count[first]), first


def within_line_rate(moves: Moves, machine: Machine) -> Moves:
    """Lower commanded speeds where more lines fall into a second than the control carries out.

    Parameters
    ----------
    moves : Moves
        With their powers.
    machine : Machine
        Supplies `most_lines_per_s`; None leaves all as it is.

    Returns
    -------
    Moves
        Slower cuts with as much less power: each line's dose stays as it was commanded. Travels
        keep their speed.
    """
    if machine.most_lines_per_s is None or len(moves) < 2:
        return moves
    most = max(1, math.floor(machine.most_lines_per_s))
    course = Course(
        moves, acceleration_mm_s2=machine.acceleration_mm_s2, cornering_mm=machine.cornering_mm
    )
    speed = moves.speed_mm_s
    for _ in range(_MOST_ROUNDS):
        profile = course.profile(speed)
        share = _share_of_a_second(profile.time_s, most)
        slow = (share < 1) & ~moves.rapid
        if not slow.any():
            break
        # What was never reached does not bind.
        reached = np.minimum(speed, profile.peak_mm_s)
        speed = np.where(slow, _MARGIN * share * reached, speed)
    speed = np.where(moves.rapid, moves.speed_mm_s, speed)
    return replace(moves, speed_mm_s=speed, power=moves.power * speed / moves.speed_mm_s)


def _share_of_a_second(time_s: FloatArray, most: int) -> FloatArray:
    """Return, of each line, the shortest time that any `most` lines together with it take."""
    from scipy.ndimage import minimum_filter1d

    begun = np.concatenate([[0.0], np.cumsum(time_s)])
    if len(time_s) <= most:
        return np.ones(len(time_s))
    span = np.minimum(begun[most:] - begun[:-most], 1.0)
    # span[k] holds lines k to k + most - 1: line j is in spans j - most + 1 to j.
    padded = np.concatenate([span, np.ones(most - 1)])
    return np.asarray(
        minimum_filter1d(padded, most, origin=(most - 1) // 2, mode="constant", cval=1.0)
    )
