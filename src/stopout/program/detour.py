"""Travels that go round the keep-outs instead of through them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stopout.values import COORDINATE_DECIMALS, FloatArray, Machine, Moves

# How far from a keep-out a travel turns its corner; the second where there is no more room.
_DISTANCES_MM = (0.5, 0.05)
_TOUCH_MM = 1e-6


def round_keep_outs(moves: Moves, *, machine: Machine, blank_at_mm: tuple[float, float]) -> Moves:
    """Lead travels that would enter a keep-out round its corners, by the shortest such way.

    Parameters
    ----------
    moves : Moves
        From rest at (0, 0).
    machine : Machine
        Bed, keep-outs and top speed.
    blank_at_mm : (x, y)
        The blank's corner from the bed's corner.

    Returns
    -------
    Moves
        With a further travel for each corner. Travels that have no way round, and moves that are
        no travels, stay as they are: for the proof to refuse.
    """
    boxes = np.array(machine.keep_outs_mm, dtype=float).reshape(-1, 4)
    boxes = np.hstack(
        [np.minimum(boxes[:, :2], boxes[:, 2:]), np.maximum(boxes[:, :2], boxes[:, 2:])]
    )
    corner = np.asarray(blank_at_mm, dtype=float)
    start, end = moves.start_mm + corner, moves.end_mm + corner
    blocked = np.flatnonzero(moves.rapid & _enters(start, end, boxes))
    ways: dict[int, FloatArray] = {}
    for distance in _DISTANCES_MM:
        if not len(blocked):
            break
        net = _Net(boxes, np.asarray(machine.bed_mm, dtype=float), distance)
        ways |= net.ways(start[blocked], end[blocked], blocked)
        blocked = np.array([k for k in blocked if int(k) not in ways], dtype=np.int64)
    return _inserted(moves, {k: way - corner for k, way in ways.items()}, machine)


def _enters(start: FloatArray, end: FloatArray, boxes: FloatArray) -> NDArray[np.bool_]:
    """Tell which straight moves enter the inside of any box; shapes (..., 2) broadcast."""
    start, step = start[..., None, :], (end - start)[..., None, :]
    low, high = boxes[:, :2] + _TOUCH_MM, boxes[:, 2:] - _TOUCH_MM
    still = step == 0
    safe = np.where(still, 1.0, step)
    one, other = (low - start) / safe, (high - start) / safe
    within = (start > low) & (start < high)
    enter = np.where(still, np.where(within, -np.inf, np.inf), np.minimum(one, other))
    leave = np.where(still, np.where(within, np.inf, -np.inf), np.maximum(one, other))
    inside = np.maximum(enter.max(axis=-1), 0.0) < np.minimum(leave.min(axis=-1), 1.0)
    return np.asarray(inside.any(axis=-1))


class _Net:
    """The corners round which travels turn, and the shortest ways between them."""

    def __init__(self, boxes: FloatArray, bed: FloatArray, distance_mm: float) -> None:
        x0, y0, x1, y1 = (boxes + distance_mm * np.array([-1, -1, 1, 1])).T
        corners = np.concatenate(
            [np.column_stack(p) for p in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))]
        )
        on_bed = ((corners >= 0) & (corners <= bed)).all(axis=1)
        self.boxes = boxes
        self.corners = corners[on_bed]
        free = ~_enters(self.corners[:, None], self.corners[None, :], boxes)
        gap = self.corners[:, None] - self.corners[None, :]
        self.length = np.where(free, np.hypot(gap[..., 0], gap[..., 1]), np.inf)
        self.via = np.tile(np.arange(len(self.corners)), (len(self.corners), 1))
        # Floyd and Warshall: via[i, j] is the corner after i on the shortest way to j.
        for k in range(len(self.corners)):
            through = self.length[:, k, None] + self.length[None, k, :]
            shorter = through < self.length
            self.length = np.where(shorter, through, self.length)
            self.via = np.where(shorter, self.via[:, k, None], self.via)

    def ways(
        self, start: FloatArray, end: FloatArray, index: NDArray[np.int64]
    ) -> dict[int, FloatArray]:
        """Return the corners on the shortest way of each travel that has one, by its index."""
        if not len(self.corners):
            return {}
        there, back = self._reach(start), self._reach(end)
        found = {}
        for row, move in enumerate(index):
            total = there[row, :, None] + self.length + back[row, None, :]
            first, last = np.unravel_index(int(np.argmin(total)), total.shape)
            if np.isfinite(total[first, last]):
                found[int(move)] = self.corners[self._steps(int(first), int(last))]
        return found

    def _reach(self, points: FloatArray) -> FloatArray:
        gap = points[:, None] - self.corners[None, :]
        blocked = _enters(points[:, None], self.corners[None, :], self.boxes)
        return np.where(blocked, np.inf, np.hypot(gap[..., 0], gap[..., 1]))

    def _steps(self, first: int, last: int) -> list[int]:
        steps = [first]
        while steps[-1] != last:
            steps.append(int(self.via[steps[-1], last]))
        return steps


def _inserted(moves: Moves, ways: dict[int, FloatArray], machine: Machine) -> Moves:
    if not ways:
        return moves
    at = np.concatenate([np.full(len(way), k) for k, way in sorted(ways.items())])
    points = np.round(np.vstack([way for _, way in sorted(ways.items())]), COORDINATE_DECIMALS)
    return Moves(
        x_mm=np.insert(moves.x_mm, at, points[:, 0]),
        y_mm=np.insert(moves.y_mm, at, points[:, 1]),
        rapid=np.insert(moves.rapid, at, True),
        speed_mm_s=np.insert(moves.speed_mm_s, at, machine.top_speed_mm_s),
        power=np.insert(moves.power, at, 0.0),
    )
