"""What rings take at least, while they are being laid: parts that lines clear sooner end early.

A path of the spirals goes outwards, through one ring of a level at most, and none leads on to an
open line: each open line of a sliver begins a path of its own, with a way to it. What is not laid
yet takes its least length (see `least_within_mm`).
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from stopout.clearing.motion import ENTRY, travel_s
from stopout.clearing.plane import Polygons
from stopout.values import FloatArray, Machine

__all__ = ["LeastTime", "least_within_mm"]

# What cleaning a path may take of its length, and rounding of a way, with much to spare.
_SURE = 0.98


def least_within_mm(areas: Polygons, *, apart_mm: float, mark_mm: float) -> FloatArray:
    """Return how long rings and slivers' lines within the edges of areas are at least.

    Rings at spacing p within an edge of length L round an area A take A / p - L / 2: their sum is
    the integral over depth by the trapezoidal rule (co-area formula, H. Federer, Geometric Measure
    Theory, 1969, 3.2.12). But the last of them may clear up to half a mark m within it, and leave
    nothing: (A - L m / 2) / p.
    """
    inner = shapely.area(areas) - shapely.length(areas) * mark_mm / 2
    return np.asarray(np.maximum(inner, 0.0) / apart_mm)


class LeastTime:
    """Of each part the time that its rings take at least, and how much that may be.

    Parameters
    ----------
    most_s : (n,) ndarray
        Parts whose rings and ways between them take more need none.
    apart_mm : float
        The larger of the two spacings.
    mark_mm : float
        The longer axis of the mark.
    machine : Machine
        Limits.
    speed_mm_s : float
        Clearing speed.
    """

    def __init__(
        self,
        most_s: FloatArray,
        *,
        apart_mm: float,
        mark_mm: float,
        machine: Machine,
        speed_mm_s: float,
    ) -> None:
        self._most_s, self._apart_mm, self._mark_mm = most_s, apart_mm, mark_mm
        self._machine, self._speed_mm_s = machine, speed_mm_s
        n = len(most_s)
        self._length_mm, self._slow_s, self._n_lines = np.zeros(n), np.zeros(n), np.zeros(n)
        self._low, self._high = np.full((n, 2), np.inf), np.full((n, 2), -np.inf)

    def add(self, part: int, points_mm: FloatArray) -> None:
        """Take up a ring, or a line of a sliver."""
        length = float(np.hypot(*np.diff(points_mm, axis=0).T).sum())
        self._length_mm[part] += length
        if (points_mm[0] == points_mm[-1]).all():
            return
        self._n_lines[part] += 1
        self._slow_s[part] += self._slower_s(_SURE * length)
        self._low[part] = np.minimum(self._low[part], points_mm[0])
        self._high[part] = np.maximum(self._high[part], points_mm[0])

    def is_over(self, areas: Polygons, part: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Tell which parts take too long; areas are what is not laid but for their edges."""
        return np.asarray(self.least_s(areas, part) > self._most_s)

    def least_s(self, areas: Polygons, part: NDArray[np.int64]) -> FloatArray:
        """Return what each part takes at least; for areas see `is_over`."""
        inner = least_within_mm(areas, apart_mm=self._apart_mm, mark_mm=self._mark_mm)
        n = len(self._most_s)
        length = self._length_mm + np.bincount(part, inner, minlength=n)
        many = self._n_lines > 1
        way_s = np.zeros(n)
        box = self._high[many] - self._low[many]
        apart = np.sqrt(box.prod(axis=1) / self._n_lines[many])
        way_s[many] = (self._n_lines[many] - 1) * travel_s(apart, self._machine)
        return np.asarray(_SURE * (length / self._speed_mm_s + way_s) + self._slow_s)

    def _slower_s(self, length_mm: float) -> float:
        """Return what a path of a length takes more for beginning and ending slowly.

        A longer one takes no less. Where the power does not follow the speed it need not be slow.
        """
        if not self._machine.power_follows_speed:
            return 0.0
        a, v = self._machine.acceleration_mm_s2, self._speed_mm_s
        u = ENTRY * v
        if length_mm * a >= v**2 - u**2:
            return (v - u) ** 2 / (a * v)
        return float(2 * (np.sqrt(u**2 + a * length_mm) - u) / a - length_mm / v)
