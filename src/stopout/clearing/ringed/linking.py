"""Rings joined into spirals: from the innermost out, the beam staying on from one to the next.

A ring ends where it began. From there a short slanting chord leads on to the ring about it, which
is begun a little farther on: two small turns instead of a stop, a travel and a start.

The rings of all parts are joined together: at once all that go on from where a path begins, then
all that go on from those, and so on outwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from stopout.clearing.motion import turn_angles
from stopout.clearing.ringed.rings import Ring
from stopout.values import FloatArray, Machine

__all__ = ["run_on", "spirals"]

Index = NDArray[np.int64]

# A chord leads on by so many spacings along the next ring; which is quickest, its turns decide.
_AHEAD = np.array([0.0, 1.0, 2.0, 3.0, 4.5, 6.0])
_AHEAD_BOTH = np.unique(np.concatenate([-_AHEAD, _AHEAD]))
# Rings farther apart than this many spacings are not joined.
_NEAR = 1.75
# So many of a ring's vertices are asked for what is nearest.
_ASKED = 24
_SIDES: tuple[Literal["left", "right"], ...] = ("left", "right")
# Sharper turns than this are no way on.
_SHARPEST = np.radians(110)
# What starting a path anew costs, at this share of the clearing speed (see `assemble`).
_ENTRY = 0.3
# A place this close to a vertex is on it.
_ON_IT_MM = 1e-6
# A joining chord begins and ends on edges: this share at either end is not held to stay inside.
_ENDS = 0.05
# So far apart rings lie when all are counted along one way.
_APART_MM = 10.0


def spirals(
    found: Sequence[Sequence[Ring]],
    areas: NDArray[np.object_],
    *,
    apart_mm: float,
    machine: Machine,
    speed_mm_s: float,
) -> list[list[FloatArray]]:
    """Join rings that lie about one another into paths.

    Parameters
    ----------
    found : sequence of sequences of Ring
        Those of each connected area.
    areas : (n,) ndarray of Polygon
        The areas of beam centres, which no joining chord may leave.
    apart_mm : float
        The larger of the two spacings.
    machine : Machine
        Acceleration and cornering decide what a chord costs.
    speed_mm_s : float
        Clearing speed.

    Returns
    -------
    list of lists of (n + 1, 2) ndarray
        Each area's paths from the inside outwards, each ring whole; a single ring stays closed.
    """
    paths: list[list[list[FloatArray]]] = [[] for _ in found]
    rings = _Rings([ring for some in found for ring in some], [len(some) for some in found])
    if len(rings.part):
        joint = _Joint(rings, areas, apart_mm=apart_mm, machine=machine, speed_mm_s=speed_mm_s)
        order = _outwards(rings)
        joint.join(_before(order, rings, _NEAR * apart_mm))
        for ring in order.tolist():
            mine = paths[rings.part[ring]]
            if joint.is_joined[ring]:
                mine[-1].append(joint.loop(ring))
            else:
                mine.append([joint.loop(ring)])
    return [[np.concatenate(path) for path in mine] for mine in paths]


def run_on(path: FloatArray, length_mm: float) -> FloatArray:
    """Return a path run on round its last ring, if it ends in one, by some length.

    A beam switched off at speed leaves the line narrow at its end.
    """
    others = np.flatnonzero((path != path[-1]).any(axis=1))
    # A last vertex that is repeated would be a ring of no length.
    path = path[: others[-1] + 2] if len(others) else path[:1]
    begun = np.flatnonzero((path[:-1] == path[-1]).all(axis=1))
    if not len(begun) or begun[-1] == 0:
        return path
    loop = path[begun[-1] :]
    if turn_angles(loop[[-2, 0, 1]])[0] > _SHARPEST:
        return path
    step = loop[1:] - loop[:-1]
    at = np.append(0.0, np.hypot(step[:, 0], step[:, 1]).cumsum())
    length = min(length_mm, float(at[-1]))
    k = min(int(at.searchsorted(length)), len(step)) - 1
    last = loop[k] + (length - at[k]) / (at[k + 1] - at[k]) * step[k]
    return np.concatenate([path, loop[1:][at[1:] < length - 1e-4], last[None]])


class _Rings:
    """The rings of all parts, vertex after vertex.

    Attributes
    ----------
    points : (n, 2) ndarray
        The vertices; `at` is how far along each lies, all rings one after another.
    first, last : (m,) ndarrays
        Index of each ring's first vertex, and of its last, which agree on a closed one.
    part, depth, area, within, length, is_closed : (m,) ndarrays
        For `area` and `within` see `Ring`.
    """

    def __init__(self, rings: Sequence[Ring], count: Sequence[int]) -> None:
        self.points = np.concatenate([*(ring.points_mm for ring in rings), np.empty((0, 2))])
        n = np.array([len(ring.points_mm) for ring in rings], dtype=np.int64)
        self.first = np.cumsum(n) - n
        self.last = self.first + n - 1
        self.part = np.repeat(np.arange(len(count)), count)
        self.depth = np.array([ring.depth for ring in rings])
        self.area = np.array([ring.area for ring in rings])
        self.within = np.array([ring.within for ring in rings])
        self.whose = np.repeat(np.arange(len(n)), n)
        self.is_closed = (self.points[self.first] == self.points[self.last]).all(axis=1)
        self.chord = np.hypot(*np.diff(self.points, axis=0).T)
        gap = np.where(self.whose[1:] == self.whose[:-1], self.chord, _APART_MM)
        self.at = np.append(0.0, np.cumsum(gap))
        self.length = self.at[self.last] - self.at[self.first]

    def longest_chords(self) -> Index:
        """Return the vertex at which each ring's longest chord begins, the first of equals."""
        whose = self.whose[:-1]
        within = np.flatnonzero(self.whose[1:] == whose)
        order = within[np.lexsort((within, -self.chord[within], whose[within]))]
        return np.asarray(order[np.searchsorted(whose[order], np.arange(len(self.first)))])

    def foot(self, ring: Index, here: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return how far along each of some rings its place nearest to a point lies; how far off.

        `here` is (k, 2), a point for each ring.
        """
        n = self.last[ring] - self.first[ring]
        begin = np.cumsum(n) - n
        which = np.repeat(np.arange(len(ring)), n)
        vertex = np.arange(len(which)) - begin[which] + self.first[ring][which]
        off = here[which] - self.points[vertex]
        step = self.points[vertex + 1] - self.points[vertex]
        share = np.einsum("ij,ij->i", off, step) / np.maximum(self.chord[vertex], 1e-12) ** 2
        share = share.clip(0.0, 1.0)
        gap = np.hypot(*(off - share[:, None] * step).T)
        least = np.minimum.reduceat(gap, begin)
        nearest = np.flatnonzero(gap == least[which])
        nearest = nearest[np.searchsorted(nearest, begin)]
        k = vertex[nearest]
        return self.at[k] + share[nearest] * self.chord[k] - self.at[self.first[ring]], least

    def after(self, ring: Index, along: FloatArray) -> tuple[Index, Index, FloatArray]:
        """Return the vertices after places on closed rings, forwards and back; and the places.

        `along` is (k, p), from 0 to the length of each ring; so are the vertices. The end of a ring
        is its beginning, and what lies beyond its end counts as that.
        """
        is_end = along > self.length[ring][:, None] - 2 * _ON_IT_MM
        at = self.at[self.first[ring]][:, None] + np.where(is_end, 0.0, along)
        following = np.searchsorted(self.at, at + _ON_IT_MM)
        back = following - 1
        share = (at - self.at[back]) / np.maximum(self.chord[back], 1e-12)
        step = self.points[following] - self.points[back]
        place = self.points[back] + share.clip(0.0, 1.0)[..., None] * step
        is_first = back == self.first[ring][:, None]
        before = np.where(is_first, self.last[ring][:, None] - 1, back - 1)
        return following, np.where(np.abs(self.at[back] - at) < _ON_IT_MM, before, back), place


def _outwards(rings: _Rings) -> Index:
    """Return rings so that all within a ring come before it, each next to one it lies about."""
    about = _about(rings).tolist()
    within: dict[int, list[int]] = {}
    for k in np.argsort(rings.depth, kind="stable").tolist():
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
    return np.array(order)


def _before(order: Index, rings: _Rings, near_mm: float) -> Index:
    """Return for each ring the one that a path could lead on from, -1 where none is near enough."""
    lines = shapely.linestrings(rings.points, indices=rings.whose)
    one, other = order[:-1], order[1:]
    mine = (rings.part[one] == rings.part[other]) & rings.is_closed[other]
    one, other = one[mine], other[mine]
    near = shapely.dwithin(lines[one], lines[other], near_mm)
    before = np.full(len(order), -1)
    before[other[near]] = one[near]
    return before


def _about(rings: _Rings) -> Index:
    """Return for each ring the edge about it of the area that it lies in, -1 for none.

    Where that area has holes it is the edge that lies nearest to some of its vertices.
    """
    edges = np.argsort(rings.area, kind="stable")
    first, last = (np.searchsorted(rings.area[edges], rings.within, side=s) for s in _SIDES)
    count = np.where(rings.within >= 0, last - first, 0)
    found = np.where(count > 0, edges[np.minimum(first, len(edges) - 1)], -1)
    choosing = np.flatnonzero(count > 1)
    level = np.ceil(rings.depth[choosing])
    for above in np.unique(level):
        mine = choosing[level == above]
        outer = np.flatnonzero(np.isin(rings.area, rings.within[mine]))
        found[mine] = _nearest(rings, mine, outer)
    return found


def _nearest(rings: _Rings, ring: Index, outer: Index) -> Index:
    """Return for each ring which of some edges is nearest to any of a few of its vertices.

    What lies between an area and the edge of another one is its own edge: none is mistaken.
    """
    whose = rings.whose[:-1]
    within = np.flatnonzero(np.isin(whose, outer) & (rings.whose[1:] == whose))
    chords = shapely.linestrings(np.stack([rings.points[within], rings.points[within + 1]], axis=1))
    share = np.linspace(0, 1, _ASKED)
    n = rings.last[ring] - rings.first[ring]
    asking = (rings.first[ring][:, None] + np.rint(share * n[:, None])).astype(np.int64)
    asker = np.repeat(np.arange(len(ring)), _ASKED)
    (place, near), gap = shapely.STRtree(chords).query_nearest(
        shapely.points(rings.points[asking.ravel()]), return_distance=True
    )
    asker, about = asker[place], whose[within[near]]
    order = np.lexsort((about, np.round(gap, 9), asker))
    return np.asarray(about[order[np.flatnonzero(np.diff(asker[order], prepend=-1))]])


class _Joint:
    """How each ring is run: from where, which way, and whether on from the one before it."""

    def __init__(
        self,
        rings: _Rings,
        areas: NDArray[np.object_],
        *,
        apart_mm: float,
        machine: Machine,
        speed_mm_s: float,
    ) -> None:
        shapely.prepare(areas)
        self.rings, self.areas, self.apart_mm = rings, areas, apart_mm
        self.machine, self.speed_mm_s = machine, speed_mm_s
        # Begun smoothly, in the middle of the longest chord, unless a path leads on to it.
        longest = rings.longest_chords()
        self.following = longest + 1
        self.entry = (rings.points[longest] + rings.points[longest + 1]) / 2
        self.is_forward = np.ones(len(longest), dtype=bool)
        self.is_joined = np.zeros(len(longest), dtype=bool)
        last = np.where(rings.is_closed, longest, rings.last - 1)
        end = np.where(rings.is_closed[:, None], self.entry, rings.points[rings.last])
        self.ends = np.stack([rings.points[last], end], axis=1)

    def join(self, before: Index) -> None:
        """Lead paths on from ring to ring, `before` being whence each comes, or -1."""
        after = np.full(len(before), -1)
        after[before[before >= 0]] = np.flatnonzero(before >= 0)
        at = after[(before < 0) & (after >= 0)]
        while len(at):
            self._go_on(before[at], at)
            at = after[at]
            at = at[at >= 0]

    def loop(self, ring: int) -> FloatArray:
        """Return the way round a ring; an open one as it is."""
        points, k, last = self.rings.points, self.following[ring], self.rings.last[ring]
        first, entry = self.rings.first[ring], self.entry[ring : ring + 1]
        if not self.rings.is_closed[ring]:
            return points[first : last + 1]
        loop = np.concatenate([entry, points[k:last], points[first:k], entry])
        return loop if self.is_forward[ring] else loop[::-1]

    def _go_on(self, before: Index, ring: Index) -> None:
        """Lead paths that end in rings on to the rings about these, where that is quicker."""
        rings = self.rings
        along, gap = rings.foot(ring, self.ends[before, 1])
        near = rings.is_closed[ring] & (gap <= _NEAR * self.apart_mm)
        before, ring, along = before[near], ring[near], along[near]
        if not len(ring):
            return
        end, here = self.ends[before].transpose(1, 0, 2)
        length = rings.length[ring][:, None]
        ahead = _AHEAD_BOTH * self.apart_mm
        places = np.where(np.abs(ahead) < length / 2, (along[:, None] + ahead) % length, np.inf)
        places.sort(axis=1)
        following, back, at = rings.after(ring, places)
        # No ring can be run faster than one round of its length: beginning anew may be as quick.
        acceleration = self.machine.acceleration_mm_s2
        pace = np.minimum(self.speed_mm_s, np.sqrt(acceleration * length / (2 * np.pi)))
        # Forwards and backwards by turns, place by place.
        after = rings.points[np.stack([following, back], axis=2)] - at[:, :, None]
        chords = np.broadcast_to((at - here[:, None])[:, :, None], after.shape)
        heading = np.broadcast_to((here - end)[:, None, None], after.shape)
        cost = self._cost_s(heading, chords, after, pace[:, :, None])
        cost[np.isinf(places)] = np.inf
        cost = cost.reshape(len(ring), -1)
        choice = self._first_inside(here, at, cost, self._anew_s(pace[:, 0]), rings.part[ring])
        on = np.flatnonzero(choice >= 0)
        place, way = np.divmod(choice[on], 2)
        ring, is_forward = ring[on], way == 0
        self.is_joined[ring], self.is_forward[ring] = True, is_forward
        self.following[ring], self.entry[ring] = following[on, place], at[on, place]
        came_by = np.where(is_forward, back[on, place], following[on, place])
        self.ends[ring] = np.stack([rings.points[came_by], at[on, place]], axis=1)

    def _first_inside(
        self, here: FloatArray, at: FloatArray, cost: FloatArray, most_s: FloatArray, part: Index
    ) -> Index:
        """Return each path's cheapest choice whose chord stays inside, -1 if it costs too much."""
        found = np.full(len(here), -1)
        order = np.argsort(cost, axis=1, kind="stable")
        left = np.arange(len(here))
        for choice in order.T:
            left = left[cost[left, choice[left]] < most_s[left]]
            if not len(left):
                break
            ends = np.stack([here[left], at[left, choice[left] // 2]], axis=1)
            chords = (1 - _ENDS) * ends + _ENDS * ends[:, ::-1]
            stays = shapely.covers(self.areas[part[left]], shapely.linestrings(chords))
            found[left[stays]] = choice[left[stays]]
            left = left[~stays]
        return found

    def _anew_s(self, v: FloatArray) -> FloatArray:
        """Return what ending a path and beginning another close by costs."""
        a = self.machine.acceleration_mm_s2
        slow = _ENTRY * v
        return np.asarray(2 * slow / a + (v - slow) ** 2 / (a * v) + 2 * np.sqrt(self.apart_mm / a))

    def _cost_s(
        self, heading: FloatArray, chords: FloatArray, after: FloatArray, v: FloatArray
    ) -> FloatArray:
        """Return what chords cost: their length, and slowing down for the turns at their ends."""
        length = np.hypot(chords[..., 0], chords[..., 1])
        a = self.machine.acceleration_mm_s2
        cost = length / v
        is_no_way = length < 1e-4
        for one, other in ((heading, chords), (chords, after)):
            cross = one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0]
            turn = np.abs(np.arctan2(cross, (one * other).sum(axis=-1)))
            is_no_way |= turn > _SHARPEST
            half = np.cos(turn / 2)
            room = np.maximum(2 * np.sin(turn / 4) ** 2, 1e-12)
            corner = np.sqrt(a * self.machine.cornering_mm * np.maximum(half, 0.0) / room)
            arc = np.sqrt(a * length / np.maximum(turn, 1e-12))
            cost = cost + np.maximum(0.0, v - np.minimum(corner, arc)) ** 2 / (a * v)
        return np.where(is_no_way, np.inf, cost)
