"""The narrowest place of a region: of openings in the resist, of lands between them."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.mask.discs import (
    CHORD_MM,
    LARGE,
    NO_POINTS,
    RESOLUTION_MM,
    strokes_of,
    what_fails,
)
from stopout.mask.offset import thinned
from stopout.mask.regions import PolygonArray, parts_of, parts_of_each
from stopout.mask.rings import Rings, groups_of, parted_at_contacts, rings_of, together
from stopout.mask.surroundings import Surroundings
from stopout.values import FloatArray

_MOST_STEPS = 10**9
# What is narrow even at this width runs out in a point.
_POINT_STEPS = 13
# What is narrow at less than a seventh of the disc tried first is roughness.
_ROUGH = 7
# What is no wider than so many starts is tried at once: square corners reach no farther for it than
# what is narrow at a seventh of the start.
_HARDLY_MORE = 1.03
# So many regions are searched before the others.
_FIRST = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrowest:
    """The narrowest width of a region in mm and a place where it occurs."""

    width_mm: float
    at_mm: tuple[float, float] | None


# Makes what is asked of regions, or remembers it: of each the region's number and all else that
# the result hangs on; what makes those in some places of the list.
Recall = Callable[
    [Sequence[tuple[int, Hashable]], Callable[[Sequence[int]], Sequence[Any]]], Sequence[Any]
]


def narrowest(
    region: BaseGeometry, *, start_mm: float = 0.05, leave_out_points: bool = False
) -> Narrowest:
    """Measure the narrowest width of a region.

    It is the largest w up to which an opening by a disc of diameter w changes neither the number
    of parts nor of holes and leaves no residue deeper than 3 w / 2 (so that corners of 29 degrees
    and more do not count as narrow). Where a region only touches itself or another in a point
    nothing is narrow: parts are taken as parted there.

    Widths are tried that are up to half as large again as the one before. What is lost at none of
    them is not found, though it is lost between two: a blunt stub two and a half times as long as
    wide always is, a shorter one where its width lies close enough below one that is tried.

    Parameters
    ----------
    region : BaseGeometry
        Polygons in mm.
    start_mm : float
        A width to begin with, ideally a little over the expected result, which does not hang on
        it; but stubs and points narrower than a seventh of it are roughness.
    leave_out_points : bool
        Whether ends that run out in a point (still narrow at 4 um) are left out, so that only
        necks, whole parts and blunt ends count: a taper is narrow by intent.

    Returns
    -------
    Narrowest
        Width 0 for an empty region; within 1 um otherwise.
    """
    found = narrowest_of([region], start_mm=start_mm, leave_out_points=leave_out_points)
    return Narrowest(width_mm=0.0, at_mm=None) if found is None else found


def narrowest_of(
    regions: Sequence[BaseGeometry],
    *,
    start_mm: float,
    most_mm: float = math.inf,
    leave_out_points: bool = False,
    recall: Recall = lambda asked, make: make(range(len(asked))),
    corners_mm: FloatArray | None = None,
) -> Narrowest | None:
    """Measure the narrowest width among regions that have nothing to do with each other.

    Widths of a fixed ladder are tried upwards from the start until one loses something, then
    downwards as far as any part may still lose something, then the step of the ladder is halved.
    Where nothing is lost at the start the thinnest regions go up first, for all the others need
    not be tried at what is wider.

    Parameters
    ----------
    regions : sequence of BaseGeometry
        Polygons in mm; some may be empty.
    start_mm : float
        See `narrowest`.
    most_mm : float
        Wider places are not looked for.
    leave_out_points : bool
        See `narrowest`.
    recall : callable
        May return what was made of the same region before.
    corners_mm : (n, 2) ndarray, optional
        Where the origin of each region lies, if not at 0.

    Returns
    -------
    Narrowest or None
        Within 1 um; None where nothing is narrower than `most_mm`.
    """
    most = _steps(most_mm)
    start = min(_rung_up(_steps(start_mm)), most)
    search = _Search(regions, leave_out_points, recall, least=(start - 1) / _ROUGH)
    everywhere = np.arange(len(search.region))
    low = most if most <= _HARDLY_MORE * start else start
    lost = search.climbed(everywhere, 0, low, low)
    if lost is None and low < most <= _ROUGH * low:
        # Square corners need not be tried again at what is narrower.
        lost = search.climbed(everywhere, low, most, most)
    elif lost is None and low < most:
        first = search.climbed(search.thinnest(), low, 2 * low, most)
        rung = 2 * low if first is None else first[0]
        lost = search.climbed(everywhere, low, rung, most)
    if lost is None:
        return None
    found, k = search.halved(*lost)
    if corners_mm is None:
        return found
    x, y = (corners_mm[k] + np.array(found.at_mm)).tolist()
    return Narrowest(width_mm=found.width_mm, at_mm=(x, y))


def _steps(width_mm: float) -> int:
    """A width in whole steps of the resolution."""
    return _MOST_STEPS if math.isinf(width_mm) else max(1, math.ceil(width_mm / RESOLUTION_MM))


def _rung_down(steps: int) -> int:
    """Return the next width of the ladder 1, 2, 3, 4, 6, 8, 12, 16 ... below one; 0 under 1."""
    power = 1 << (steps.bit_length() - 1)
    return max(rung for rung in (3 * power // 4, power, 3 * power // 2) if rung < steps)


def _rung_up(steps: int) -> int:
    """Return the least width of the ladder that is no less than one."""
    power = 1 << (steps.bit_length() - 1)
    return min(rung for rung in (power, 3 * power // 2, 2 * power) if rung >= steps)


class _Search:
    """The rings of all regions' parts, and what was lost at each by the disc tried with last.

    `region` and `number` tell whose ring it is and which, `tried` the disc's diameter in steps,
    `fails` that something is lost, `far_mm` how far the part reaches there from where the disc's
    centre may be; or no less than that, where it is no farther than a blunt corner is.
    """

    def __init__(
        self,
        regions: Sequence[BaseGeometry],
        leaves_out_points: bool,
        recall: Recall,
        *,
        least: float,
    ) -> None:
        self._regions, self._recall, self._leaves_out_points = regions, recall, leaves_out_points
        # What is narrow at no more than so many steps is not looked for without a hint.
        self._least_steps = least
        self._rings: dict[int, Rings] = {}
        self._points: dict[int, tuple[set[int], PolygonArray]] = {}
        asked = [k for k, region in enumerate(regions) if not region.is_empty]
        counts = self._asked([(k, "rings") for k in asked], self._counted)
        self.region = np.repeat(np.array(asked, dtype=np.intp), counts)
        self.number = np.concatenate([np.zeros(0, np.intp), *map(np.arange, counts)])
        self.tried = np.zeros(len(self.region), dtype=np.intp)
        self.fails = np.zeros(len(self.region), dtype=bool)
        self.far_mm = np.zeros(len(self.region))

    def thinnest(self) -> NDArray[np.intp]:
        """Return the rings of the regions that are thinnest for the length of their edges."""
        there = np.unique(self.region)
        if len(there) <= _FIRST:
            return np.zeros(0, dtype=np.intp)
        regions = np.array([self._regions[k] for k in there])
        thin = there[np.argsort(shapely.area(regions) / shapely.length(regions))[:_FIRST]]
        return np.flatnonzero(np.isin(self.region, thin))

    def climbed(
        self, which: NDArray[np.intp], below: int, rung: int, most: int
    ) -> tuple[int, NDArray[np.intp]] | None:
        """Return the lowest width of the ladder at which some rings lose something, and those.

        It is above `below`, where nothing is lost.
        """
        while len(which):
            rung = min(rung, most)
            self.fails[:] = False
            self._try(rung, which)
            lost = self._lowest(which, rung, below)
            if lost is not None or rung == most:
                return lost
            below, rung = rung, 2 * rung
        return None

    def _lowest(
        self, rings: NDArray[np.intp], rung: int, below: int
    ) -> tuple[int, NDArray[np.intp]] | None:
        """Return the lowest width of the ladder at which rings lose something, and those rings.

        They have been tried at a rung; nothing is lost at `below`, and no more than the least is
        tried only where more has failed. At a radius s under r a part loses nothing deep that
        reaches no farther than r + 3 s from the disc's centre at r.
        """
        found, steps = None, rung
        while True:
            failed = self.fails[rings]
            if failed.any():
                found = steps, rings[failed]
            steps = _rung_down(steps)
            if steps <= below or not (failed.any() or steps > self._least_steps):
                return found
            reach_mm = (self.tried[rings] + 3 * steps) * RESOLUTION_MM / 2
            which = rings[failed | (self.far_mm[rings] > reach_mm)]
            self._try(steps, which)

    def halved(self, high: int, which: NDArray[np.intp]) -> tuple[Narrowest, int]:
        """Return the least width that is lost, at rings that lose something at a rung; and whose.

        Many places of a pattern are alike: each is first asked for less than the least so far.
        """
        low, found, k = _rung_down(high), None, 0
        while len(which):
            k = int(self.region[which[0]])
            own = self.region[which] == k
            here = tuple(self.number[which[own]].tolist())
            ((one, high, found),) = self._asked([(k, "least", low, high, here)], self._least)
            own[own] = np.isin(here, one)
            which = which[~own] if high - 1 > low else which[:0]
            self._try(high - 1, which)
            which = which[self.fails[which]]
            high -= 1
        assert found is not None
        return found, k

    def _least(
        self, asked: list[tuple[int, str, int, int, tuple[int, ...]]]
    ) -> list[tuple[NDArray[np.intp], int, Narrowest]]:
        """Return the least width that the first group of some rings of a region loses.

        These lose something at the upper of two widths; with it the numbers of the group's rings.
        """
        ((k, _, low, high, number),) = asked
        here = np.searchsorted(self.region, k) + np.array(number)
        groups, group = groups_of(
            self._rings_of([k])[0].taken(self.number[here]), high * RESOLUTION_MM
        )
        one, own = here[group == group[0]], groups[[group[0]]]
        self._learn_points({k: self.number[one].tolist()})
        steps, found = _halved_at(own, self._points_of(k), low, high)
        return [(self.number[one], steps, found)]

    def _try(self, steps: int, which: NDArray[np.intp]) -> None:
        """Try a disc at some rings, region by region; these are in order."""
        if not len(which):
            return
        own = np.split(which, np.flatnonzero(np.diff(self.region[which])) + 1)
        asked = [(int(self.region[one[0]]), steps, tuple(self.number[one].tolist())) for one in own]
        for one, found in zip(own, self._asked(asked, self._tried), strict=True):
            (self.fails[one], self.far_mm[one]), self.tried[one] = found, steps

    def _asked(self, asked: list[Any], make: Callable[[list[Any]], list[Any]]) -> Sequence[Any]:
        if not asked:
            return []
        return self._recall(asked, lambda missing: make([asked[i] for i in missing]))

    def _counted(self, asked: list[tuple[int, str]]) -> list[int]:
        """Return how many rings regions have."""
        return [len(rings.ring) for rings in self._rings_of([k for k, _ in asked])]

    def _tried(self, asked: list[tuple[int, int, tuple[int, ...]]]) -> list[Any]:
        """Return what a disc loses at some rings of regions, at all of them at once."""
        whole = self._rings_of([k for k, _, _ in asked])
        own = [one.taken(list(what[2])) for one, what in zip(whole, asked, strict=True)]
        steps, rings = asked[0][1], together(own)
        groups, group = groups_of(rings, steps * RESOLUTION_MM)
        lost, far = what_fails(groups, steps)
        # Beside a hole that is round enough a disc rolls.
        fails, far_mm = np.zeros(len(group), dtype=bool), rings.hollow_mm.copy()
        far_mm += steps * RESOLUTION_MM / 2
        tried = np.flatnonzero(group >= 0)
        if self._leaves_out_points and lost.any():
            region = np.repeat([k for k, _, _ in asked], [len(one.ring) for one in own])
            number = np.concatenate([what[2] for what in asked])
            failed = tried[lost[group[tried]]]
            self._forgive(groups, lost, far, steps, (group[failed], region[failed], number[failed]))
        fails[tried], far_mm[tried] = lost[group[tried]], far[group[tried]]
        cuts = np.cumsum([len(one.ring) for one in own])[:-1]
        return list(zip(np.split(fails, cuts), np.split(far_mm, cuts), strict=True))

    def _forgive(
        self,
        groups: PolygonArray,
        lost: NDArray[np.bool_],
        far: FloatArray,
        steps: int,
        whose: tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]],
    ) -> None:
        """Take back that groups lose something where that is nothing but points.

        `whose` tells the group, region and number of each ring of those that lose something.
        """
        group, region, number = whose
        self._learn_points({int(k): number[region == k].tolist() for k in np.unique(region)})
        which, first = np.unique(group, return_index=True)
        for j, k in zip(which, region[first].tolist(), strict=True):
            points = self._points_of(k)
            # Points are told from other losses one by one; they may hide what is narrow.
            if shapely.intersects(groups[j], points).any():
                lost[j], far[j] = len(strokes_of(groups[[j]], steps, points)) > 0, np.inf

    def _points_of(self, k: int) -> PolygonArray:
        """Return the ends in points, of those parts of a region that were asked about."""
        return self._points.get(k, (set(), NO_POINTS))[1]

    def _learn_points(self, asked: dict[int, list[int]]) -> None:
        """Find the ends in points of the parts that some rings of regions belong to."""
        if not self._leaves_out_points:
            return
        new, numbers = [], []
        for k, rings in zip(asked, self._rings_of(list(asked)), strict=True):
            known = self._points.get(k, (set(), ()))[0]
            left = [number for number in asked[k] if number not in known]
            if left:
                new.append(k)
                numbers.append(np.flatnonzero(np.isin(rings.part, rings.part[left])))
        if not new:
            return
        own = [self._rings[k].taken(some) for k, some in zip(new, numbers, strict=True)]
        groups, group = groups_of(together(own), _POINT_STEPS * RESOLUTION_MM)
        fails, _ = what_fails(groups, _POINT_STEPS)
        each = np.split(group, np.cumsum([len(some) for some in numbers])[:-1])
        for k, some, one in zip(new, numbers, each, strict=True):
            thin = np.unique(one[(one >= 0) & fails[one]])
            before, points = self._points.get(k, (set(), NO_POINTS))
            found = np.concatenate([points, strokes_of(groups[thin], _POINT_STEPS)])
            self._points[k] = (before | set(some.tolist()), found)

    def _rings_of(self, asked: Sequence[int]) -> list[Rings]:
        """Return the rings of some regions' parts, thinned; only of those that are asked about."""
        new = [k for k in asked if k not in self._rings]
        if new:
            regions = np.array([self._regions[k] for k in new])
            parts, home = parts_of_each(regions)
            parts, among = parts_of_each(thinned(parted_at_contacts(parts), CHORD_MM / 2))
            rings = rings_of(parts)
            cuts = np.searchsorted(home[among][rings.part], np.arange(len(new) + 1))
            for k, (first, after) in zip(new, pairwise(cuts), strict=True):
                self._rings[k] = rings.taken(slice(first, after))
        return [self._rings[k] for k in asked]


def _halved_at(
    own: PolygonArray, points: PolygonArray, low: int, high: int
) -> tuple[int, Narrowest]:
    """Return the least width that one group of rings loses, in steps and as it is told."""
    if shapely.get_num_coordinates(own[0]) > LARGE:
        nearby = _halved_nearby(own, points, low, high)
        if nearby is not None:
            return nearby
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if _is_lost(own, points, middle) else (middle, high)
    return high, _found(high, _place(own, points, high))


def _is_lost(own: PolygonArray, points: PolygonArray, steps: int) -> bool:
    """Tell whether a disc loses something of a group of rings, but for points."""
    (fails,), _ = what_fails(own, steps)
    if fails and shapely.intersects(own[0], points).any():
        return len(strokes_of(own, steps, points)) > 0
    return bool(fails)


def _halved_nearby(
    part: PolygonArray, points: PolygonArray, low: int, high: int
) -> tuple[int, Narrowest] | None:
    """Return the least width that a large part loses, looking only round what it loses at `high`.

    None where that is nothing by itself.
    """
    lost = list(strokes_of(part, high, points))
    around = Surroundings(part)
    # Many places of a pattern are alike: each is first asked for less than the least so far.
    found, reach_mm = lost[:1], 3 * high * RESOLUTION_MM
    for was in lost:
        region, floor, steps = parts_of(around.own(was, reach_mm)), low, high - 1
        while steps > floor:
            less = strokes_of(region, steps, points)
            less = less[shapely.intersects(less, was)]
            if len(less):
                high, was, found = steps, less[0], less[:1]
            else:
                floor = steps
            steps = (floor + high) // 2
    return (high, _found(high, found[0])) if len(found) else None


def _found(steps: int, lost: BaseGeometry) -> Narrowest:
    """Return the width before one that loses something, and a point of that."""
    point = lost.representative_point()
    width_mm = max(steps - 1, 1) * RESOLUTION_MM
    return Narrowest(width_mm=width_mm, at_mm=(float(point.x), float(point.y)))


def _place(part: PolygonArray, points: PolygonArray, steps: int) -> BaseGeometry:
    """Return what a part loses at a width, or at one hardly larger."""
    for more in (0, 1, steps // 50 + 2, steps // 10 + 3):
        lost = strokes_of(part, steps + more, points)
        if len(lost):
            return lost[0]
    return part[0]
