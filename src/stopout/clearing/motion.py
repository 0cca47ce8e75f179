"""How fast the machine can follow a path, and how long it takes.

Every move between rests follows a trapezoidal profile: constant acceleration along the path, a
top speed, constant deceleration. At a vertex between chords l1 and l2 with turn angle t the speed
is limited to the smaller of

    sqrt(a c s / (1 - s)),   s = sin((pi - t) / 2)      a corner rounded within c
    sqrt(a (l1 + l2) / (2 t))                            an arc of radius (l1 + l2) / (2 t)

with a the acceleration and c the cornering distance; it is zero at a reversal.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stopout.values import FloatArray, Machine, Moves

# Outlines are entered and left at no more than this share of the speed that they reach.
ENTRY = 0.3
_NO_MOVE_MM = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Profile:
    """Planned speeds of a sequence of n moves.

    Attributes
    ----------
    vertex_mm_s : (n + 1,) ndarray
        Speed at the start of the first move, between moves, and at the end of the last.
    peak_mm_s : (n,) ndarray
        Highest speed within each move.
    time_s : (n,) ndarray
        Time each move takes.
    """

    vertex_mm_s: FloatArray
    peak_mm_s: FloatArray
    time_s: FloatArray


def corner_speeds(
    points_mm: FloatArray, *, acceleration_mm_s2: float, cornering_mm: float
) -> FloatArray:
    """Return the speed limit at each inner vertex of a polyline.

    Parameters
    ----------
    points_mm : (n + 1, 2) ndarray
        Vertices; consecutive ones must differ.
    acceleration_mm_s2, cornering_mm : float
        Machine limits.

    Returns
    -------
    (n - 1,) ndarray
        Limits in mm/s, infinite where the path runs straight on, 0 at a reversal.
    """
    length = np.hypot(*np.diff(points_mm, axis=0).T)
    turn = turn_angles(points_mm)
    half = np.sin((np.pi - turn) / 2)
    # 1 - cos(t/2) = 2 sin^2(t/4) keeps its digits for small turns.
    room = 2 * np.sin(turn / 4) ** 2
    with np.errstate(divide="ignore", invalid="ignore"):
        corner = np.sqrt(acceleration_mm_s2 * cornering_mm * half / room)
        arc = np.sqrt(acceleration_mm_s2 * (length[1:] + length[:-1]) / (2 * turn))
    limit = np.minimum(corner, arc)
    limit[turn == 0] = np.inf
    limit[turn >= np.pi * (1 - 1e-12)] = 0.0
    return np.asarray(limit, dtype=np.float64)


def turn_angles(points_mm: FloatArray) -> FloatArray:
    """Return the turn at each inner vertex of a polyline in radians, 0 straight on, pi back."""
    step = np.diff(points_mm, axis=0)
    ahead, behind = step[1:], step[:-1]
    cross = behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]
    return np.asarray(np.abs(np.arctan2(cross, np.einsum("ij,ij->i", behind, ahead))))


def plan_speeds(moves: Moves, *, acceleration_mm_s2: float, cornering_mm: float) -> Profile:
    """Plan the speeds of a program from rest to rest, forwards and backwards.

    Moves shorter than a nanometre take no time and do not disturb their neighbours.
    """
    course = Course(moves, acceleration_mm_s2=acceleration_mm_s2, cornering_mm=cornering_mm)
    return course.profile(moves.speed_mm_s)


class Course:
    """The way of a program, for planning it at several sets of commanded speeds."""

    def __init__(self, moves: Moves, *, acceleration_mm_s2: float, cornering_mm: float) -> None:
        self._acceleration = acceleration_mm_s2
        self._n = len(moves)
        self._length = moves.length_mm
        is_real = self._length > _NO_MOVE_MM
        self._real, self._still = np.flatnonzero(is_real), np.flatnonzero(~is_real)
        self._passed = np.cumsum(is_real)
        self._run = self._length[self._real]
        self._gained = np.append(0.0, np.cumsum(2 * acceleration_mm_s2 * self._run))
        points = np.vstack([moves.start_mm[self._real[:1]], moves.end_mm[self._real]])
        self._corner = corner_speeds(
            points, acceleration_mm_s2=acceleration_mm_s2, cornering_mm=cornering_mm
        )

    def profile(self, speed_mm_s: FloatArray) -> Profile:
        """Plan the speeds from rest to rest, forwards and backwards.

        Parameters
        ----------
        speed_mm_s : (n,) ndarray
            Commanded speed of each move.
        """
        vertex, peak = self.speeds(speed_mm_s)
        begin, end, top = vertex[:-1], vertex[1:], np.where(peak > 0, peak, 1.0)
        acceleration = self._acceleration
        ramps = (2 * top - begin - end) / acceleration
        ramped_mm = (2 * top**2 - begin**2 - end**2) / (2 * acceleration)
        time = ramps + np.maximum(self._length - ramped_mm, 0.0) / top
        time[self._still] = 0.0
        return Profile(vertex_mm_s=vertex, peak_mm_s=peak, time_s=time)

    def speeds(self, speed_mm_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the speeds at vertices and the highest within moves, as `profile` does."""
        real, run, acceleration = self._real, self._run, self._acceleration
        peak, vertex = np.zeros(self._n), np.zeros(self._n + 1)
        speed = speed_mm_s[real]
        limit = np.zeros(len(real) + 1)
        limit[1:-1] = np.minimum(self._corner, np.minimum(speed[:-1], speed[1:]))
        energy = _reachable(limit, self._gained)
        reached = np.sqrt(energy)
        top = np.sqrt(np.minimum(speed**2, acceleration * run + (energy[:-1] + energy[1:]) / 2))
        # At constant speed rounding may leave the peak a hair under its ends.
        peak[real] = np.maximum(top, np.maximum(reached[:-1], reached[1:]))
        # A move of no length begins and ends at the speed of the vertex it stands on.
        vertex[1:] = reached[self._passed]
        return vertex, peak


def _reachable(limit: FloatArray, gained: FloatArray) -> FloatArray:
    """Lower the squares of vertex limits to what acceleration allows, forwards then backwards.

    With e = v^2 the forward rule e[k+1] = min(limit[k+1], e[k] + 2 a l[k]) is a running minimum of
    limit - S, where S is the running sum of 2 a l, `gained`: exact, and done by array operations.
    """
    energy = np.minimum(limit, 1e9) ** 2
    forward = np.minimum.accumulate(energy - gained) + gained
    left = gained[-1] - gained[::-1]
    backward = np.minimum.accumulate(forward[::-1] - left) + left
    return np.asarray(np.maximum(backward[::-1], 0.0))


def travel_s(length_mm: FloatArray, machine: Machine) -> FloatArray:
    """Return what travels take from rest to rest: the top speed reached on the way, or not."""
    v, a = machine.top_speed_mm_s, machine.acceleration_mm_s2
    is_short = length_mm * a <= v**2
    return np.where(is_short, 2 * np.sqrt(length_mm / a), length_mm / v + v / a)
