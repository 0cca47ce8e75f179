"""Lines for what two rings leave between them: slivers narrower than a mark.

A sliver gets a line along its middle, or round its edge where it forks: the first that the mark's
shape clears it from, that stays inside, and that with the rings brings enough dose all over it. All
slivers between two levels are looked at together, one way of theirs after another.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString

from stopout.clearing.plane import QUAD_SEGS, Plane, Polygons, thinned_lines
from stopout.clearing.ringed.middles import PER_MARK, middles, shortened
from stopout.clearing.ringed.ring_dose import Index, Tracks
from stopout.values import FloatArray

__all__ = ["SLIVER_MM", "Slivers"]

# Slivers thinner than this come of the slack, and are cleared.
SLIVER_MM = 0.0008
# The dose at a place may fall short by as much as the power lags behind the speed.
_LEAST_DOSE = 0.88
_LEAST_WITH_PATH = 0.97
# The dose is asked for every so many marks along the edge of a sliver.
_ASKED = 0.16
# How much a middle line may be straightened, and its ends held back, in marks.
_STRAIGHTER, _HELD_BACK = 0.03, 0.2
# How far a line is switched on before what it has to clear, and off after it, in marks.
_LEAD_MARKS = 0.7


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slivers:
    """Places between rings, those of all parts together.

    Attributes
    ----------
    places : (n,) ndarray of Polygon
        The places, in mm.
    level : (n,) ndarray of int
        Within which level each lies.
    part : (n,) ndarray of int
        Of which part each is.
    levels, parts : (m,) ndarrays of Polygon
        The outlines that a line's mark must stay within, and those that its lead must.
    mark : Plane
        The mark's plane.
    cleared : float
        How far from a line the mark's shape clears, in marks.
    """

    places: Polygons
    level: Index
    part: Index
    levels: Polygons
    parts: Polygons
    mark: Plane
    cleared: float

    def lines(self, tracks: Tracks, is_bare: NDArray[np.bool_]) -> dict[int, FloatArray | None]:
        """Return a line for each place that needs one; None where none clears it.

        Parameters
        ----------
        tracks : Tracks
            The rings, each its part's.
        is_bare : (n,) ndarray of bool
            Which places the mark's shape leaves, whatever the dose.
        """
        at, place = self._asked()
        doubted = np.flatnonzero(~is_bare[place])
        dose = tracks.dose(at[doubted], self.part[place[doubted]])
        needy = is_bare.copy()
        needy[place[doubted[2 * _LEAST_DOSE * dose < 1]]] = True
        todo = np.flatnonzero(needy)
        found: dict[int, FloatArray | None] = dict.fromkeys(todo.tolist())
        plain = self.mark.into(self.places[todo])
        left = np.arange(len(todo))
        for paths in _ways(plain):
            fitting, laid = self._fitting(todo, plain, paths, left)
            led = self._led_on(dict(zip(todo[fitting].tolist(), laid, strict=True)))
            for k, points in led.items():
                if found[k] is None:
                    found[k] = points
            dosed = self._dosed_by(led, tracks, at, place)
            for k in dosed:
                found[k] = led[k]
            left = left[[k not in dosed for k in todo[left].tolist()]]
            if not len(left):
                break
        return found

    def _asked(self) -> tuple[FloatArray, Index]:
        """Return points on the edge of all places and within, and whose each is."""
        edges = shapely.segmentize(shapely.get_exterior_ring(self.mark.into(self.places)), _ASKED)
        on, place = shapely.get_coordinates(edges, return_index=True)
        within = shapely.get_coordinates(self.mark.into(shapely.point_on_surface(self.places)))
        place = np.concatenate([place, np.arange(len(self.places))])
        order = np.argsort(place, kind="stable")
        return np.concatenate([on, within])[order], place[order]

    def _dosed_by(
        self, led: dict[int, FloatArray], tracks: Tracks, at: FloatArray, place: Index
    ) -> set[int]:
        """Return those places that a path of their own, or a ring, doses all over."""
        if not led:
            return set()
        own = Tracks([path / self.mark.axes for path in led.values()], np.array(list(led)))
        mine = np.flatnonzero(np.isin(place, own.owner))
        short = mine[2 * _LEAST_WITH_PATH * own.dose(at[mine], place[mine]) < 1]
        dose = tracks.dose(at[short], self.part[place[short]])
        return set(led) - set(place[short[2 * _LEAST_WITH_PATH * dose < 1]].tolist())

    def _fitting(
        self, whose: Index, plain: Polygons, paths: Polygons, asked: Index
    ) -> tuple[Index, list[FloatArray]]:
        """Return which paths' marks clear their slivers and stay inside; and those paths in mm."""
        real = asked[shapely.length(paths[asked]) >= 1e-4]
        cleared = shapely.buffer(paths[real], self.cleared, quad_segs=QUAD_SEGS)
        missed = shapely.difference(plain[real], cleared)
        fits = real[shapely.is_empty(shapely.buffer(missed, -1e-3))]
        laid = self.mark.back(paths[fits])
        stays = self._stay_inside(laid, self.level[whose[fits]])
        return fits[stays], [shapely.get_coordinates(line) for line in laid[stays]]

    def _stay_inside(self, laid: Polygons, level: Index) -> NDArray[np.bool_]:
        """Tell which paths stay within their levels, give or take a nanometre."""
        shapely.prepare(self.levels[np.unique(level)])
        stays = np.asarray(shapely.covers(self.levels[level], laid))
        left = np.flatnonzero(~stays)
        home, at = np.unique(level[left], return_inverse=True)
        stays[left] = shapely.covers(shapely.buffer(self.levels[home], 1e-6)[at], laid[left])
        return stays

    def _led_on(self, paths: dict[int, FloatArray]) -> dict[int, FloatArray]:
        """Return open paths led on straight at both ends, as far as they stay inside.

        A line switched on or off at speed clears its full width only within its end.
        """
        is_open = [k for k, path in paths.items() if not np.array_equal(path[0], path[-1])]
        if not is_open:
            return paths
        inside = self.parts[self.part[is_open]]
        shapely.prepare(inside)
        laid = dict(paths)
        for _ in range(2):
            ends = np.array([laid[k][:2] for k in is_open])
            on = _led_ends(ends, self.mark, inside)
            for k, point, has in zip(is_open, on, np.isfinite(on[:, 0]), strict=True):
                laid[k] = (np.vstack([point, laid[k][1:]]) if has else laid[k])[::-1]
        return laid


def _led_ends(ends: FloatArray, mark: Plane, inside: Polygons) -> FloatArray:
    """Return where paths begin that begin by these points (n, 2, 2) once they are led on there.

    Not a number where no way on stays inside.
    """
    step = (ends[:, 0] - ends[:, 1]) / mark.axes
    step = step / np.hypot(*step.T)[:, None] * mark.axes
    found = np.full((len(ends), 2), np.nan)
    for share in (1.0, 0.75, 0.5, 0.25):
        left = np.flatnonzero(np.isnan(found[:, 0]))
        on = ends[left, 0] + step[left] * _LEAD_MARKS * share
        leads = shapely.linestrings(np.stack([ends[left, 0], on], axis=1))
        stays = shapely.covers(inside[left], leads)
        found[left[stays]] = on[stays]
    return found


def _ways(slivers: Polygons) -> Iterator[Polygons]:
    """Yield one path along each sliver after another, in the mark's plane, the shortest first.

    None where there is no such path.
    """
    n_holes = shapely.get_num_interior_rings(slivers)
    edges = thinned_lines(shapely.get_exterior_ring(slivers), _STRAIGHTER / 4)
    simple, ringed = np.flatnonzero(n_holes == 0), np.flatnonzero(n_holes == 1)
    first, middle, straight, around = (np.full(len(slivers), None) for _ in range(4))
    middle[simple] = middles(edges[simple])
    straight[simple] = thinned_lines(middle[simple], _STRAIGHTER)
    long = simple[shapely.length(straight[simple]) > 3 * _HELD_BACK]
    first[long] = shortened(straight[long], _HELD_BACK)
    for k in ringed:
        halfway = _between(edges[k], slivers[k].interiors[0])
        first[k] = shapely.simplify(halfway, _STRAIGHTER)
    yield first
    yield straight
    yield middle
    around[simple] = thinned_lines(shapely.get_exterior_ring(slivers[simple]), _STRAIGHTER)
    yield around


def _between(outer: LineString, inner: LineString) -> LineString:
    """Return the closed line half way between the two edges of a ring-shaped sliver."""
    around = shapely.points(shapely.get_coordinates(shapely.segmentize(outer, PER_MARK)))
    facing = shapely.line_interpolate_point(inner, shapely.line_locate_point(inner, around))
    halfway = (shapely.get_coordinates(around) + shapely.get_coordinates(facing)) / 2
    return LineString(np.vstack([halfway[:-1], halfway[:1]]))
