"""The plain way to join rings into spirals: one after another, each asked by itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from stopout.clearing.ringed.rings import Ring
from stopout.values import FloatArray, Machine

# A chord leads on by so many spacings along the next ring; which is quickest, its turns decide.
_AHEAD = np.array([0.0, 1.0, 2.0, 3.0, 4.5, 6.0])
_AHEAD_BOTH = np.unique(np.concatenate([-_AHEAD, _AHEAD]))
# Rings farther apart than this many spacings are not joined.
_NEAR = 1.75
# Of rings of more vertices than this the vertices are asked for what is nearest.
_MOST_VERTICES = 200
# Sharper turns than this are no way on.
_SHARPEST = np.radians(110)
# What starting a path anew costs, at this share of the clearing speed (see `assemble`).
_ENTRY = 0.3


def spirals(
    rings: list[Ring], area: BaseGeometry, *, apart_mm: float, machine: Machine, speed_mm_s: float
) -> list[FloatArray]:
    """Join rings that lie about one another into paths.

    Parameters
    ----------
    rings : list of Ring
        Of one connected area.
    area : BaseGeometry
        The area of beam centres, which no joining chord may leave.
    apart_mm : float
        The larger of the two spacings.
    machine : Machine
        Acceleration and cornering decide what a chord costs.
    speed_mm_s : float
        Clearing speed.

    Returns
    -------
    list of (n + 1, 2) ndarray
        Paths from the inside outwards, each ring whole; a single ring stays closed.
    """
    shapely.prepare(area)
    joint = _Joint(area=area, apart_mm=apart_mm, machine=machine, speed_mm_s=speed_mm_s)
    paths: list[list[FloatArray]] = []
    for ring in _outwards(rings):
        loop = joint.loop(paths[-1][-1][-2:], ring) if paths else None
        if loop is None:
            paths.append([_begun_smoothly(ring.points_mm)])
        else:
            paths[-1].append(loop)
    return [np.concatenate(path) for path in paths]


def _outwards(rings: list[Ring]) -> list[Ring]:
    """Return rings so that all within a ring come before it, each next to one it lies about."""
    depth = np.array([ring.depth for ring in rings])
    about = _about(rings, depth)
    within: dict[int, list[int]] = {}
    for k in np.argsort(depth, kind="stable").tolist():
        within.setdefault(about[k], []).append(k)
    order: list[int] = []
    todo = [(root, False) for root in reversed(within[-1])]
    while todo:
        k, is_open = todo.pop()
        if is_open or k not in within:
            order.append(k)
            continue
        todo.append((k, True))
        # The deepest nest last: its outermost ring is what the ring about it goes on from.
        todo += [(j, False) for j in reversed(within[k])]
    return [rings[k] for k in order]


def _about(rings: list[Ring], depth: FloatArray) -> list[int]:
    """Return for each ring the nearest of the level about it, the first of equals; -1 for none.

    A long ring is nearest where one of its vertices is: the way from all its chords to all of
    another's would take the square of their number.
    """
    points = np.concatenate([ring.points_mm for ring in rings])
    count = np.array([len(ring.points_mm) for ring in rings])
    whose = np.repeat(np.arange(len(rings)), count)
    within = np.flatnonzero(whose[1:] == whose[:-1])
    chords = shapely.linestrings(np.stack([points[within], points[within + 1]], axis=1))
    short = np.flatnonzero(count <= _MOST_VERTICES)
    single = np.flatnonzero(count[whose] > _MOST_VERTICES)
    lines = shapely.linestrings(points, indices=whose)[short]
    asking = np.concatenate([lines, shapely.points(points[single])])
    asker = np.concatenate([short, whose[single]])
    found = np.full(len(rings), -1)
    level = np.ceil(depth) - 1
    for above in np.unique(level):
        outer = depth[whose[within]] == above
        mine = np.flatnonzero(level[asker] == above)
        if not outer.any():
            continue
        (place, near), gap = shapely.STRtree(chords[outer]).query_nearest(
            asking[mine], return_distance=True
        )
        ring, about = asker[mine[place]], whose[within[outer][near]]
        order = np.lexsort((about, np.round(gap, 9), ring))
        first = order[np.flatnonzero(np.diff(ring[order], prepend=-1))]
        found[ring[first]] = about[first]
    return [int(k) for k in found]


def _begun_smoothly(points: FloatArray) -> FloatArray:
    """Return a closed path begun in the middle of its longest chord, an open one as it is."""
    if not np.array_equal(points[0], points[-1]):
        return points
    k = int(np.argmax(np.hypot(*np.diff(points, axis=0).T)))
    middle = (points[k] + points[k + 1]) / 2
    return np.vstack([middle, points[k + 1 : -1], points[: k + 1], middle])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Joint:
    """What is needed to lead a path on to a further ring."""

    area: BaseGeometry
    apart_mm: float
    machine: Machine
    speed_mm_s: float

    def loop(self, end: FloatArray, ring: Ring) -> FloatArray | None:
        """Return the way round a ring that a path is led on to; None where not.

        `end` holds the last two points of the path.
        """
        points, here = ring.points_mm, end[-1]
        if not np.array_equal(points[0], points[-1]):
            return None
        step = np.diff(points, axis=0)
        chord = np.hypot(*step.T)
        vertex_at = np.append(0.0, np.cumsum(chord))
        length = float(vertex_at[-1])
        along, gap = _foot(points[:-1], step, chord, vertex_at, here)
        if gap > _NEAR * self.apart_mm:
            return None
        ahead = _AHEAD_BOTH * self.apart_mm
        places = np.unique((along + ahead[np.abs(ahead) < length / 2]) % length)
        at = np.column_stack([np.interp(places, vertex_at, points[:, k]) for k in (0, 1)])
        # No ring can be run faster than one round of its length: beginning anew may be as quick.
        acceleration = self.machine.acceleration_mm_s2
        pace = min(self.speed_mm_s, float(np.sqrt(acceleration * length / (2 * np.pi))))
        # Forwards and backwards by turns, place by place.
        after = np.stack(
            [_after(points, vertex_at, places, is_forward=way) - at for way in (True, False)],
            axis=1,
        ).reshape(-1, 2)
        cost = self._cost_s(end[1] - end[0], np.repeat(at - here, 2, axis=0), after, pace)
        choice = self._first_inside(here, at, cost, self._anew_s(pace))
        if choice is None:
            return None
        place, entry = places[choice // 2], at[choice // 2]
        k = int(np.searchsorted(vertex_at, place + 1e-6))
        loop = np.vstack([entry, points[k:-1], points[:k], entry])
        return loop if choice % 2 == 0 else loop[::-1]

    def _first_inside(
        self, here: FloatArray, at: FloatArray, cost: FloatArray, most_s: float
    ) -> int | None:
        """Return the cheapest choice whose chord stays inside, None if it costs too much."""
        for choice in np.argsort(cost, kind="stable").tolist():
            if not cost[choice] < most_s:
                return None
            if self.area.covers(LineString([here, at[choice // 2]])):
                return int(choice)
        return None

    def _anew_s(self, v: float) -> float:
        """Return what ending a path and beginning another close by costs."""
        a = self.machine.acceleration_mm_s2
        slow = _ENTRY * v
        return float(2 * slow / a + (v - slow) ** 2 / (a * v) + 2 * np.sqrt(self.apart_mm / a))

    def _cost_s(
        self, heading: FloatArray, chords: FloatArray, after: FloatArray, v: float
    ) -> FloatArray:
        """Return what chords cost: their length, and slowing down for the turns at their ends."""
        length = np.hypot(*chords.T)
        a = self.machine.acceleration_mm_s2
        cost = length / v
        is_no_way = length < 1e-4
        for one, other in ((np.broadcast_to(heading, chords.shape), chords), (chords, after)):
            cross = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
            turn = np.abs(np.arctan2(cross, (one * other).sum(axis=1)))
            is_no_way |= turn > _SHARPEST
            half = np.cos(turn / 2)
            room = np.maximum(2 * np.sin(turn / 4) ** 2, 1e-12)
            corner = np.sqrt(a * self.machine.cornering_mm * np.maximum(half, 0.0) / room)
            arc = np.sqrt(a * length / np.maximum(turn, 1e-12))
            cost = cost + np.maximum(0.0, v - np.minimum(corner, arc)) ** 2 / (a * v)
        return np.where(is_no_way, np.inf, cost)


def _foot(
    begins: FloatArray, step: FloatArray, chord: FloatArray, at: FloatArray, here: FloatArray
) -> tuple[float, float]:
    """Return how far along a line of chords the place nearest to a point lies, and how far off."""
    off = here - begins
    share = np.einsum("ij,ij->i", off, step) / np.maximum(chord, 1e-12) ** 2
    share = share.clip(0.0, 1.0)
    gap = np.hypot(*(off - share[:, None] * step).T)
    k = int(np.argmin(gap))
    return float(at[k] + share[k] * chord[k]), float(gap[k])


def _after(
    points: FloatArray, vertex_at: FloatArray, places: FloatArray, *, is_forward: bool
) -> FloatArray:
    """Return the vertices that come after places of a closed ring, going round this way."""
    k = np.searchsorted(vertex_at, places + 1e-6)
    if is_forward:
        return np.asarray(points[np.where(k < len(points), k, 1)])
    is_on_it = np.abs(vertex_at[k - 1] - places) < 1e-6
    before = np.where(k >= 2, k - 2, len(points) - 2)
    return np.asarray(points[np.where(is_on_it, before, k - 1)])
