"""Lands too narrow to stand: widened at the target's expense where the tolerance allows it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.mask.centreline import centre_lines
from stopout.mask.neighbours import neighbours
from stopout.mask.offset import dilate, erode, open_by_disc
from stopout.mask.regions import as_multipolygon
from stopout.mask.residue import strokes_lost
from stopout.mask.surroundings import Surroundings, near_in_own

_SLACK_MM = 0.001


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NarrowLand:
    """A land that may come out narrower than the shop accepts.

    `width_mm` is its typical drawn width, `needed_mm` what it would have to be drawn, `length_mm`
    the length concerned. `is_widened` tells whether the target gives way to it. Neighbouring
    narrow places of one land are one: the numbers are then those of the narrowest, the length
    that of all. `at_edge` tells that the face's edge is on its other side.
    """

    at_mm: tuple[float, float]
    width_mm: float
    needed_mm: float
    length_mm: float
    is_widened: bool
    region: BaseGeometry
    at_edge: bool = False


def widen_lands(
    target: MultiPolygon,
    face: BaseGeometry,
    *,
    needed_mm: float,
    edge_tolerance_mm: float,
    reach_mm: float,
) -> tuple[MultiPolygon, tuple[NarrowLand, ...]]:
    """Widen the lands of a target that are drawn narrower than they need to be.

    Parameters
    ----------
    target, face : BaseGeometry
        What is to be finished, and the blank's face, as worked, in mm.
    needed_mm : float
        Drawn width at which a land is as wide as the shop wants at the worst undercut.
    edge_tolerance_mm : float
        How far each of the target's edges may give way.
    reach_mm : float
        The smallest radius that is made: a stroke that giving way would make thinner than twice
        this keeps its width.

    Returns
    -------
    target : MultiPolygon
        The target less what the lands take.
    lands : tuple of NarrowLand
        Every land concerned; those that could not be widened are to be reported.
    """
    land = as_multipolygon(face.difference(target))
    cores = erode(land, needed_mm / 2)
    kept = dilate(cores, needed_mm / 2 + _SLACK_MM)
    thin = strokes_lost(land, kept, depth_mm=1.5 * needed_mm, slack_mm=_SLACK_MM)
    around, beside = Surroundings(land), Surroundings(target)
    courses = centre_lines(
        thin,
        around.own_of_each(thin, 2 * needed_mm),
        near_in_own(Surroundings(cores), around, thin, 2 * needed_mm),
        reach_mm=needed_mm / 2,
        edge_tolerance_mm=edge_tolerance_mm,
    )
    found: list[NarrowLand] = []
    taken: list[BaseGeometry] = []
    for place, course in zip(thin, courses, strict=True):
        if course is None:
            continue
        grown = course.lines.buffer(needed_mm / 2)
        lacks = needed_mm - 2 * float(course.half_width_mm.min())
        is_widened = lacks <= 2 * edge_tolerance_mm + _SLACK_MM and not _thins(
            beside, grown, reach_mm
        )
        if is_widened:
            taken.append(grown)
        found.append(
            NarrowLand(
                at_mm=course.at_mm,
                width_mm=2 * float(np.median(course.half_width_mm)),
                needed_mm=needed_mm,
                length_mm=float(course.lines.length),
                is_widened=is_widened,
                region=place,
                at_edge=bool(shapely.dwithin(place, face.boundary, _SLACK_MM)),
            )
        )
    given = as_multipolygon(target.difference(shapely.union_all(taken)))
    return given, _gathered(found, land, within_mm=2 * needed_mm)


def _gathered(
    lands: list[NarrowLand], region: BaseGeometry, *, within_mm: float
) -> tuple[NarrowLand, ...]:
    """Gather neighbouring narrow places of one land that are treated alike."""
    found: list[NarrowLand] = []
    for is_widened in (False, True):
        alike = [land for land in lands if land.is_widened is is_widened]
        places = np.array([land.region for land in alike])
        for group in neighbours(places, region, within_mm=within_mm):
            members = [alike[k] for k in group]
            found.append(
                replace(
                    min(members, key=lambda land: land.width_mm),
                    length_mm=sum(land.length_mm for land in members),
                    region=shapely.union_all([land.region for land in members]),
                )
            )
    return tuple(found)


def _thins(target: Surroundings, grown: BaseGeometry, reach_mm: float) -> bool:
    """Tell whether a land grown so would make a stroke beside it too thin to be made."""
    before = as_multipolygon(target.near(grown, 3 * reach_mm))
    after = as_multipolygon(before.difference(grown))
    lost_more = _lost_by_opening(after, reach_mm) - _lost_by_opening(before, reach_mm)
    # What the land itself takes off a round corner is not counted.
    return lost_more > 0.05 * float(grown.area)


def _lost_by_opening(region: BaseGeometry, reach_mm: float) -> float:
    return float(region.area - open_by_disc(region, reach_mm).area)
