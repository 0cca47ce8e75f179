"""The curve that the rim of a rolling disc draws, for many closed walks at once.

A disc of radius r rolls with its centre along a closed walk of straight steps. The points of its
rim that lie farthest to the right of each step, and on the way round each corner, make a closed
curve (the convolution of walk and disc). Every point that the disc covers has a positive winding
number with respect to that curve: the number of separate pieces of the walk within r of it, for
there-and-back walks and for pairs of a ring and its reverse. So the swept region is what a
positive fill of the curve fills; nothing has to be decided about crossings here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stopout.values import FloatArray

# A corner of a rim curve may stand out beyond the true arc by this much at most.
_ARC_ERROR_MM = 1e-4
_REVERSAL_RAD = np.pi - 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Walks:
    """Closed walks one after another; each returns from its last point to its first.

    Attributes
    ----------
    points_mm : (n, 2) ndarray
        Corners of all walks; neighbours differ, round the end too.
    start : (k,) ndarray of int
        Index of the first corner of each walk.
    """

    points_mm: FloatArray
    start: NDArray[np.intp]


def walks_from_rings(points_mm: FloatArray, ring: NDArray[np.intp]) -> Walks:
    """Make walks of rings, leaving out steps of no length and rings of fewer than two corners.

    Parameters
    ----------
    points_mm : (n, 2) ndarray
        Corners of all rings; a ring's last corner may repeat its first.
    ring : (n,) ndarray of int
        Which ring each corner belongs to, ascending.
    """
    if len(points_mm) == 0:
        return Walks(points_mm=points_mm.reshape(0, 2), start=np.zeros(0, dtype=np.intp))
    first = np.flatnonzero(np.diff(ring, prepend=ring[0] - 1))
    before = np.arange(len(ring)) - 1
    before[first] = np.append(first[1:], len(ring)) - 1
    moved = (points_mm != points_mm[before]).any(axis=1)
    points, ring = points_mm[moved], ring[moved]
    start = np.flatnonzero(np.diff(ring, prepend=-1)) if len(ring) else np.zeros(0, dtype=np.intp)
    return Walks(points_mm=points, start=start)


def rim_curves(walks: Walks, radius_mm: float) -> list[FloatArray]:
    """Return the rim curve of each walk, on its right-hand side.

    Parameters
    ----------
    walks : Walks
        The walks.
    radius_mm : float
        Radius of the disc, above zero.

    Returns
    -------
    list of (m, 2) ndarray
        Closed curves, one a walk. Straight parts are exact; arcs are drawn by corners on their
        outside, at most 0.1 um from them. Inner corners are cut where the two straight parts
        next to them meet, where they do, else left to cross.
    """
    if len(walks.start) == 0:
        return []
    joints = _Joints(walks, radius_mm)
    counts = joints.counts()
    points = joints.points(counts)
    ends = np.cumsum(np.add.reduceat(counts, walks.start))
    return np.split(points, ends[:-1])


class _Joints:
    """Corner k of a walk, between the step that ends there and the step that leaves it."""

    def __init__(self, walks: Walks, radius_mm: float) -> None:
        self.at, self.radius = walks.points_mm, radius_mm
        count = len(self.at)
        after = np.arange(1, count + 1)
        after[np.append(walks.start[1:], count) - 1] = walks.start
        self.before = np.empty(count, dtype=np.intp)
        self.before[after] = np.arange(count)
        step = self.at[after] - self.at
        length = np.hypot(step[:, 0], step[:, 1])
        heading = step / length[:, None]
        arriving = heading[self.before]
        cross = arriving[:, 0] * heading[:, 1] - arriving[:, 1] * heading[:, 0]
        turn = np.arctan2(cross, (arriving * heading).sum(axis=1))
        # Turning back runs round the end of the walk, whichever sign rounding gives the angle.
        self.turn = np.where(np.abs(turn) >= _REVERSAL_RAD, np.pi, turn)
        self.normal = np.column_stack([arriving[:, 1], -arriving[:, 0]])
        self.pieces = self._pieces()
        self.meets = self._meets(length, after)

    def _pieces(self) -> NDArray[np.intp]:
        """How many corners draw each left turn's arc."""
        widest = np.sqrt(8 * _ARC_ERROR_MM / (self.radius + 8 * _ARC_ERROR_MM))
        pieces: NDArray[np.intp] = np.maximum(1, np.ceil(self.turn / widest)).astype(np.intp)
        return pieces

    def _meets(self, length: FloatArray, after: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Right turns at which the offset lines of the two steps meet within both steps."""
        right = self.turn < 0
        setback = np.where(right, self.radius * np.tan(np.abs(self.turn) / 2), 0.0)
        fits = setback + setback[after] <= length
        meets: NDArray[np.bool_] = right & fits & fits[self.before]
        return meets

    def counts(self) -> NDArray[np.intp]:
        """Number of curve points at each corner."""
        counts: NDArray[np.intp] = np.where(self.turn < 0, 2 - self.meets, self.pieces)
        return counts

    def points(self, counts: NDArray[np.intp]) -> FloatArray:
        """All curve points, walk by walk."""
        owner = np.repeat(np.arange(len(counts)), counts)
        rank = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
        crossing = (self.turn < 0) & ~self.meets
        share = np.where(crossing, self.turn, self.turn / counts)
        angle = np.where(crossing[owner], rank, rank + 0.5) * share[owner]
        reach = self.radius / np.cos(np.where(crossing, 0.0, share / 2))
        nx, ny = self.normal[owner, 0], self.normal[owner, 1]
        cos, sin, reach = np.cos(angle), np.sin(angle), reach[owner]
        rolled = np.column_stack([nx * cos - ny * sin, nx * sin + ny * cos])
        out: FloatArray = self.at[owner] + reach[:, None] * rolled
        return out
