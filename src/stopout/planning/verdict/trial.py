"""A change to the job, tried near the place that it is to mend: the mask made again, the outcome.

What is tried is the planner's own road in small: lands widened, mask made, openings etched, held
against the drawing. Only shapes within a few reaches of the place take part.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.job.record import Job
from stopout.mask import as_multipolygon, cleared_by, make_mask, reach_mm, widen_lands
from stopout.mask.regions import PolygonArray
from stopout.outcome import advance, changed_parts
from stopout.planning.measures.bite import Bite
from stopout.planning.measures.margins import low_factor, needed_land_mm
from stopout.planning.measures.measuring import land_left
from stopout.planning.verdict.record import Way

# How far round a place shapes take part, and how near to it what happens counts.
_WINDOW, _CORE = 9.0, 4.0
# The arithmetic's own error.
_EXACT_MM = 0.0015


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """A coat, ready to be tried with a change: target and face as worked, mark, etch."""

    job: Job
    target: MultiPolygon
    face: BaseGeometry
    mark_mm: tuple[float, float]
    bite: Bite

    def holds(self, at_mm: Sequence[tuple[float, float]], way: Way) -> bool:
        """Tell whether nothing is left to find at some places once a change is made.

        Parameters
        ----------
        at_mm : sequence of (x, y)
            The places, in mm as worked; they are tried together.
        way : Way
            The change.
        """
        scale = way.value if way.change == "scale" else 1.0
        mark = self.mark_mm
        if way.change == "mark_mm":
            mark = (min(mark[0], way.value), min(mark[1], way.value))
        bite = replace(self.bite, depth_mm=way.value) if way.change == "depth_mm" else self.bite
        reach = reach_mm(self.bite.undercut.value, self.mark_mm)
        window = shapely.union_all(_squares(at_mm, _WINDOW * reach))
        target, face = (
            affinity.scale(region.intersection(window), scale, scale, origin=(0, 0))
            for region in (self.target, self.face)
        )
        places = [(scale * x, scale * y) for x, y in at_mm]
        shapes = as_multipolygon(target)
        if shapes.is_empty:
            return True
        return self._is_sound(shapes, face, _squares(places, scale * _CORE * reach), mark, bite)

    def _is_sound(
        self,
        target: MultiPolygon,
        face: BaseGeometry,
        cores: PolygonArray,
        mark: tuple[float, float],
        bite: Bite,
    ) -> bool:
        core = shapely.union_all(cores)
        limits, undercut = self.job.limits, bite.undercut.value
        reach = reach_mm(undercut, mark)
        needed = needed_land_mm(
            limits.narrowest_land_mm, depth_mm=bite.depth_mm, factor=bite.factor
        )
        wanted, lands = widen_lands(
            target,
            face,
            needed_mm=needed,
            edge_tolerance_mm=limits.edge_tolerance_mm,
            reach_mm=reach,
        )
        if any(not land.is_widened and core.covers(shapely.Point(land.at_mm)) for land in lands):
            return False
        mask = make_mask(
            wanted,
            undercut_mm=undercut,
            mark_mm=mark,
            too_thin=limits.too_thin,
            edge_tolerance_mm=limits.edge_tolerance_mm,
            narrowest_land_mm=limits.narrowest_land_mm,
        )
        decided = [place for place in mask.thin_places if place.treatment != "made"]
        if any(core.intersects(place.region) for place in decided):
            return False
        finished = advance(cleared_by(mask, mark), undercut)
        return all(
            not self._changes(target, finished, face, one, reach)
            and self._keeps_land(finished, face, one, mark, bite)
            for one in cores
        )

    def _changes(
        self,
        target: MultiPolygon,
        finished: BaseGeometry,
        face: BaseGeometry,
        core: BaseGeometry,
        reach: float,
    ) -> bool:
        """Tell whether a reader finds a part changed."""
        drawn, made = target.intersection(core), finished.intersection(core)
        if self.job.artwork.dark == "raised" and not self.job.route.is_sign:
            drawn, made = core.intersection(face).difference(target), core.difference(finished)
        changes = changed_parts(
            drawn, made, reach_mm=reach, edge_tolerance_mm=self.job.limits.edge_tolerance_mm
        )
        inner = _wider(shapely.box(*core.bounds), -reach)
        return any(change.kind == "merged" or inner.intersects(change.region) for change in changes)

    def _keeps_land(
        self,
        finished: BaseGeometry,
        face: BaseGeometry,
        core: BaseGeometry,
        mark: tuple[float, float],
        bite: Bite,
    ) -> bool:
        """Tell whether lands keep the shop's limit at the worst undercut."""
        limit = self.job.limits.narrowest_land_mm
        land = land_left(face.intersection(core), finished, 2 * min(mark))
        if land.at_mm is None:
            return True
        inner = _wider(shapely.box(*core.bounds), -2 * limit)
        worst = land.width_mm
        if bite.factor is not None:
            worst -= 2 * (bite.depth_mm / low_factor(bite.factor) - bite.undercut.value)
        return worst >= limit - _EXACT_MM or not inner.covers(shapely.Point(land.at_mm))


def _squares(at_mm: Sequence[tuple[float, float]], half_mm: float) -> PolygonArray:
    """Squares about places."""
    x, y = np.array(at_mm).T
    squares: PolygonArray = shapely.box(x - half_mm, y - half_mm, x + half_mm, y + half_mm)
    return squares


def _wider(box: BaseGeometry, by_mm: float) -> BaseGeometry:
    x0, y0, x1, y1 = box.bounds
    return shapely.box(x0 - by_mm, y0 - by_mm, max(x1 + by_mm, x0), max(y1 + by_mm, y0))
