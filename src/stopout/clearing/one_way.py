"""What the plain way to clear would take, by closed form: it is told, never laid.

Each line runs once from its first to its last mark, all the same way, from the bottom up; blanks
within it are passed at the clearing speed. A line of length L takes L / v + 2 v / a with its runs
up from rest and out to it, a way back D / w + w / a, or 2 sqrt(D / a) where the top speed w is not
reached (the trapezoidal profile of kinematics).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stopout.clearing.filling.fill import FillRow
from stopout.clearing.motion import travel_s
from stopout.clearing.work import Work

__all__ = ["one_way_s"]


def one_way_s(rows: Sequence[FillRow], work: Work, start_mm: float) -> float:
    """Return what lines take one way, begun from the start's place along them."""
    if not rows:
        return 0.0
    v, a = work.speed_mm_s, work.machine.acceleration_mm_s2
    index = np.array([row.index for row in rows])
    line, which = np.unique(index, return_inverse=True)
    low, high = np.full(len(line), np.inf), np.full(len(line), -np.inf)
    np.minimum.at(low, which, [row.spans_mm[0, 0] for row in rows])
    np.maximum.at(high, which, [row.spans_mm[-1, 1] for row in rows])
    height = np.empty(len(line))
    height[which] = [row.height_mm for row in rows]
    run_mm = v**2 / (2 * a)
    from_mm = np.append(start_mm, high[:-1] + run_mm)
    back_mm = np.hypot(from_mm - low + run_mm, np.diff(height, prepend=0.0))
    cut_s = (high - low) / v + 2 * v / a
    return float(cut_s.sum() + travel_s(back_mm, work.machine).sum())
