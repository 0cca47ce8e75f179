"""Thin places followed: the centre line of each, what it finishes, and whether that pays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.mask.centreline import CentreLine, centre_lines
from stopout.mask.offset import swept, thinned
from stopout.mask.regions import PolygonArray, gathered, parts_of_each
from stopout.mask.surroundings import Surroundings, near_in_own

# The target is looked at within this many reaches of a place.
_AROUND = 4
# A stub ends bluntly: where it is farthest from what is made, its outline turns by no more than
# this, a right angle and a little. Sharper ones are corners.
_BLUNT = np.radians(95)
# Some of what a stub recovers its corners would have had anyway.
_MUST_GAIN = 2.0
# An arm this many times as long as it is wide is a stroke, whatever area it adds.
_ARM = 2.0
# Exactly attainable widths survive although erosion leaves nothing of them.
_EXACT_MM = 0.0005
# What is held against slacks of a micrometre is thinned by this: arcs of arcs are dense.
_THINNED_MM = 0.0001
# How far outside a widened stroke goes is asked at points this far apart.
_SAMPLE_MM = 0.02


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FollowedPlace:
    """A loss, its centre line and what that finishes.

    `joins` tells that a part of the target is met that it does not belong to, `is_within` that it
    errs within the tolerance; `is_stub` that it is short and errs more, but less than what is lost
    without it.
    """

    loss: BaseGeometry
    line: CentreLine
    made: MultiPolygon
    joins: bool
    is_within: bool
    is_stroke: bool
    is_stub: bool

    @property
    def width_mm(self) -> float:
        """The typical drawn width."""
        return 2 * float(np.median(self.line.half_width_mm))


class Following:
    """Follows thin places of a target; looks only at what lies round each.

    Parameters
    ----------
    target, centres : BaseGeometry
        What is to be finished, and the beam centres of its plain opening, in mm.
    bumps : array of Polygon
        What the corners' lines finish.
    undercut_mm, mark_mm, edge_tolerance_mm
        As of `make_mask`.
    """

    def __init__(
        self,
        target: BaseGeometry,
        centres: BaseGeometry,
        bumps: PolygonArray,
        undercut_mm: float,
        mark_mm: tuple[float, float],
        edge_tolerance_mm: float,
    ) -> None:
        self.target, self.centres = Surroundings(target), Surroundings(centres)
        self.bumps = Surroundings(bumps)
        self.undercut_mm, self.mark_mm = undercut_mm, mark_mm
        self.edge_tolerance_mm = edge_tolerance_mm
        self.reach = undercut_mm + max(mark_mm) / 2

    def courses(
        self, losses: PolygonArray, is_stroke: NDArray[np.bool_], must_pay: NDArray[np.bool_]
    ) -> list[FollowedPlace]:
        """Return the courses along losses that have one.

        One that must pay has none where it adds more area than it recovers.
        """
        margin = _AROUND * self.reach
        around = self.target.own_of_each(losses, margin)
        found = centre_lines(
            losses,
            around,
            near_in_own(self.centres, self.target, losses, margin),
            reach_mm=self.reach,
            edge_tolerance_mm=self.edge_tolerance_mm,
        )
        made = self._made(found)
        beyond = shapely.difference(made, around)
        has = np.array([line is not None for line in found], dtype=bool)
        has[must_pay] &= _recovers(losses[must_pay], made[must_pay], beyond[must_pay])
        joins = self._n_touched(made) > self._n_touched(losses)
        is_within = ~joins & ~_go_beyond(beyond, around, self.edge_tolerance_mm + _EXACT_MM)
        return [
            FollowedPlace(
                loss=losses[k],
                line=line,
                made=made[k],
                joins=bool(joins[k]),
                is_within=bool(is_within[k]),
                is_stroke=bool(is_stroke[k]),
                is_stub=not (joins[k] or is_within[k] or is_stroke[k])
                and self._pays(losses[k], line, made[k], _farthest(beyond[k], around[k])),
            )
            for k, line in enumerate(found)
            if line is not None and has[k]
        ]

    def _made(self, lines: list[CentreLine | None]) -> PolygonArray:
        """Return what is finished along each line; nothing where there is none."""
        alone = np.array([MultiPolygon() if line is None else line.lines for line in lines])
        made = thinned(swept(alone, self.mark_mm, self.undercut_mm), _THINNED_MM)
        return gathered(*parts_of_each(made), len(lines))

    def _n_touched(self, places: PolygonArray) -> NDArray[np.intp]:
        """Return how many parts of the target each place meets."""
        return np.bincount(self.target.touched_by(places)[0], minlength=len(places))

    def _pays(
        self, loss: BaseGeometry, line: CentreLine, made: BaseGeometry, excess_mm: float
    ) -> bool:
        """Tell whether a short blunt arm is better widened than lost.

        One that is longer than twice its width is a stroke to the eye: its worst error must be
        halved by it. A shorter one must err less, and gain area.
        """
        centres = shapely.multipolygons(self.centres.near(loss, _AROUND * self.reach))
        if not ends_bluntly(loss, centres, self.reach):
            return False
        corners = shapely.points(shapely.get_coordinates(loss))
        short_mm = float(shapely.distance(corners, centres).max()) - self.reach
        width_mm = 2 * float(np.median(line.half_width_mm))
        if short_mm >= _ARM * width_mm and excess_mm <= short_mm / 2:
            return True
        return excess_mm < short_mm and self._gains_area(loss, made)

    def _gains_area(self, loss: BaseGeometry, made: BaseGeometry) -> bool:
        """Tell whether more area is recovered than is added, beyond what the corners do."""
        more = shapely.difference(made, self.bumps.own(made, 0.0))
        recovered = shapely.intersection(more, loss).area
        own = self.target.own(loss, _AROUND * self.reach)
        return bool(recovered > shapely.difference(more, own).area)


def ends_bluntly(loss: BaseGeometry, centres: BaseGeometry, reach_mm: float) -> bool:
    """Tell whether a loss, where it is farthest from the beam centres, turns gently enough."""
    ring = shapely.get_coordinates(shapely.simplify(loss.exterior, reach_mm / 50))[:-1]
    tip = int(np.argmax(shapely.distance(shapely.points(ring), centres)))
    back, on = ring[tip] - ring[tip - 1], ring[(tip + 1) % len(ring)] - ring[tip]
    turn = np.arctan2(back[0] * on[1] - back[1] * on[0], back @ on)
    return bool(abs(turn) <= _BLUNT)


def _recovers(losses: PolygonArray, made: PolygonArray, beyond: PolygonArray) -> NDArray[np.bool_]:
    """Tell which losses are recovered by clearly more area than is added beyond the target."""
    recovered = shapely.area(shapely.intersection(made, losses))
    return np.asarray(_MUST_GAIN * shapely.area(beyond) < recovered)


def _go_beyond(beyond: PolygonArray, target: PolygonArray, distance_mm: float) -> NDArray[np.bool_]:
    """Tell which widened strokes go farther beyond the target than a distance."""
    xy, owner = shapely.get_coordinates(shapely.segmentize(beyond, _SAMPLE_MM), return_index=True)
    shapely.prepare(target)
    far = ~shapely.dwithin(target[owner], shapely.points(xy), distance_mm)
    return np.isin(np.arange(len(beyond)), owner[far])


def _farthest(beyond: BaseGeometry, target: BaseGeometry) -> float:
    """Return how far a widened stroke goes beyond the target at the worst place, in mm."""
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(beyond, _SAMPLE_MM)))
    return float(shapely.distance(points, target).max(initial=0.0))
