"""From the target to the beam centres that make it: the plain opening and the thin places.

With a mark of ellipse E and an undercut u, beam centres C give the resist opening O = C (+) E and
the finished region P = O (+) B(u). The largest C whose P stays inside the target T is
C0 = T (-) B(u) (-) E; what it loses are convex corners and strokes narrower than the reach allows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiLineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.mask.beside import spoils_land
from stopout.mask.corners import corner_lines
from stopout.mask.courses import FollowedPlace, Following
from stopout.mask.mouths import still_needed
from stopout.mask.neighbours import neighbours
from stopout.mask.offset import dilate_by_both, dilate_by_mark, erode_by_both, swept, thinned
from stopout.mask.regions import PolygonArray, as_multipolygon, count_holes, parts_of
from stopout.mask.residue import is_more_than_corner, reaches_beyond

# What the plain opening loses counts only where it is more than this share of the reach: 2 um of
# 0.1 mm, well above the arithmetic's own error.
_RESIDUE_SLACK = 0.02
_HARDLY_ANY = 0.01
# What is compared with a slack is thinned by this share of it.
_THINNED = 0.1
# Contacts are told apart where they are this many slacks from each other.
_BRIDGES = 2.5
_FEW = 8
# A loss that still reaches farther than this share of the reach, corners made, may be a stub: a
# corner of 45 degrees at its best falls short by 0.447.
_STUB = 0.45
# One that reaches farther than this may be a point; a corner of 30 degrees falls short by 0.59.
_POINT = 0.6

Treatment = Literal["made", "widened", "left out", "stop"]
_POLICIES: dict[str, Treatment] = {"widen": "widened", "leave-out": "left out", "stop": "stop"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ThinPlace:
    """A stroke too thin for the plain opening, and what becomes of it.

    `width_mm` is its typical drawn width, `narrowest_mm` the least along its line, `expected_mm`
    the width it is finished at (0 where it is left out), `length_mm` the length concerned,
    `region` what of the target was concerned.
    `joins_parts` and `spoils_land` tell that it would meet another part, or take land that must
    stay, were it made. A stroke that is too thin in several neighbouring places is one: the
    numbers are then those of the thinnest, the length that of all.
    """

    at_mm: tuple[float, float]
    width_mm: float
    narrowest_mm: float
    expected_mm: float
    length_mm: float
    treatment: Treatment
    joins_parts: bool
    spoils_land: bool
    region: BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mask:
    """Where the beam's centre goes to open the resist.

    `centres` is an area to be filled and outlined, `lines` are single paths along thin strokes.
    """

    centres: MultiPolygon
    lines: MultiLineString
    thin_places: tuple[ThinPlace, ...]


def reach_mm(undercut_mm: float, mark_mm: tuple[float, float]) -> float:
    """Return the reach: undercut + half the larger mark axis, the smallest radius made."""
    return undercut_mm + max(mark_mm) / 2


def make_mask(
    target: BaseGeometry,
    *,
    undercut_mm: float,
    mark_mm: tuple[float, float],
    too_thin: Literal["widen", "leave-out", "stop"] = "widen",
    edge_tolerance_mm: float = 0.0,
    narrowest_land_mm: float = 0.0,
    step_mm: float = 0.0,
) -> Mask:
    """Plan the beam centres for a target.

    Parameters
    ----------
    target : BaseGeometry
        Region to be finished, as worked, in mm.
    undercut_mm : float
        Sideways advance of the etch per edge, zero or more.
    mark_mm : (float, float)
        Full axes of the mark along x and y.
    too_thin : {"widen", "leave-out", "stop"}
        What becomes of strokes that need more widening than the tolerance.
    edge_tolerance_mm : float
        How far edges may err. Corners are taken farther within it; strokes that need no more
        than this per edge are made whatever `too_thin` says, unless that would join two parts.
    narrowest_land_mm : float
        Land that corners must leave beyond themselves.
    step_mm : float
        One motor step; corner work shorter than two of them is left out.

    Returns
    -------
    Mask
        Beam centres, centre lines of thin strokes, and a record of every thin place.
    """
    centres = erode_by_both(target, undercut_mm, mark_mm)
    reach = reach_mm(undercut_mm, mark_mm)
    kept, slack = _kept(centres, undercut_mm, mark_mm)
    corners = corner_lines(
        centres,
        target,
        kept,
        slack_mm=2 * slack,
        undercut_mm=undercut_mm,
        mark_mm=mark_mm,
        edge_tolerance_mm=edge_tolerance_mm,
        shortest_mm=2 * step_mm,
        narrowest_land_mm=narrowest_land_mm,
    )
    bumps = swept(corners, mark_mm, undercut_mm)
    losses = _losses(target, kept, bumps, reach, slack, edge_tolerance_mm)
    followed = Following(target, centres, bumps, undercut_mm, mark_mm, edge_tolerance_mm)
    courses = followed.courses(*losses)
    spoils = _spoils(target, courses, edge_tolerance_mm, reach, narrowest_land_mm)
    treated = [
        _treated(course, bool(spoilt), _POLICIES[too_thin], undercut_mm, mark_mm)
        for course, spoilt in zip(courses, spoils, strict=True)
    ]
    strokes = [line for lines, _ in treated for line in lines]
    followed_as = np.array(
        [course.made for course, (lines, _) in zip(courses, treated, strict=True) if lines],
        dtype=object,
    )
    corners = corners[still_needed(bumps, followed_as, kept, target)]
    return Mask(
        centres=centres,
        lines=MultiLineString([*strokes, *corners]),
        thin_places=_gathered(
            [place for _, place in treated if place is not None], target, within_mm=4 * reach
        ),
    )


def _losses(
    target: BaseGeometry,
    kept: BaseGeometry,
    bumps: BaseGeometry,
    reach: float,
    slack: float,
    edge_tolerance_mm: float,
) -> tuple[PolygonArray, NDArray[np.bool_], NDArray[np.bool_]]:
    """What a plain opening loses that is followed; which are strokes; which must pay for it."""
    lost = parts_of(target.difference(kept))
    is_stroke = is_more_than_corner(lost, kept, depth_mm=3 * reach, slack_mm=slack)
    # Within a tolerance short stubs are followed too, where that costs nothing.
    followed, must_pay = is_stroke.copy(), np.zeros(len(lost), dtype=bool)
    if edge_tolerance_mm > 0:
        followed |= reaches_beyond(lost, [kept, bumps], _STUB * reach)
        # What reaches no farther than that is hardly more than a corner.
        short = followed & ~is_stroke
        is_far = reaches_beyond(lost[short], [kept, bumps], max(_POINT * reach, edge_tolerance_mm))
        must_pay[short] = ~is_far
    return lost[followed], is_stroke[followed], must_pay[followed]


def _spoils(
    target: BaseGeometry,
    courses: Sequence[FollowedPlace],
    edge_tolerance_mm: float,
    reach: float,
    narrowest_land_mm: float,
) -> NDArray[np.bool_]:
    """Which courses would take land that must stay."""
    made = np.array([course.made for course in courses], dtype=object)
    spoils = np.zeros(len(courses), dtype=bool)
    # A stub takes a wider strip than the tolerance by decision: no more than its reach.
    for asked, strip in (
        ([course.is_within for course in courses], edge_tolerance_mm),
        ([course.is_stub for course in courses], reach),
    ):
        spoils |= spoils_land(
            target,
            made,
            np.array(asked, dtype=bool),
            edge_tolerance_mm=strip,
            narrowest_land_mm=narrowest_land_mm,
        )
    return spoils


def cleared_by(mask: Mask, mark_mm: tuple[float, float]) -> MultiPolygon:
    """Return what a mark clears whose centre goes wherever a mask says.

    Parameters
    ----------
    mask : Mask
        The beam centres.
    mark_mm : (float, float)
        Full axes of the mark along x and y.
    """
    along = shapely.get_parts(swept(mask.lines, mark_mm, 0.0))
    return as_multipolygon(shapely.union_all([dilate_by_mark(mask.centres, mark_mm), *along]))


def _kept(
    centres: BaseGeometry, undercut_mm: float, mark_mm: tuple[float, float]
) -> tuple[MultiPolygon, float]:
    """Return what the plain opening finishes, grown by a slack, and half that slack.

    The slack must not bridge a gap: where it would, next to none is used.
    """
    slack = _RESIDUE_SLACK * reach_mm(undercut_mm, mark_mm)
    within = _THINNED * slack
    thin = thinned(parts_of(centres), within)
    coarse = thinned(thin, slack / 2)
    made, grown = (
        parts_of(
            dilate_by_both(coarse, undercut_mm + growth, mark_mm, chords=_FEW, within_mm=slack / 2)
        )
        for growth in (0.0, _BRIDGES * slack)
    )
    if len(made) == len(grown) and count_holes(made) == count_holes(grown):
        kept = dilate_by_both(thin, undercut_mm + slack, mark_mm, within_mm=within)
        return kept, slack / 2
    slack *= _HARDLY_ANY
    return dilate_by_both(centres, undercut_mm + slack, mark_mm), slack / 2


def _gathered(
    places: list[ThinPlace], target: BaseGeometry, *, within_mm: float
) -> tuple[ThinPlace, ...]:
    """Gather neighbouring places of one stroke that are treated alike."""
    found: list[tuple[int, ThinPlace]] = []
    for treatment in dict.fromkeys(place.treatment for place in places):
        alike = [k for k, place in enumerate(places) if place.treatment == treatment]
        regions = np.array([places[k].region for k in alike])
        for group in neighbours(regions, target, within_mm=within_mm):
            members = [places[alike[k]] for k in group]
            found.append((alike[group[0]], _as_one(members)))
    return tuple(place for _, place in sorted(found, key=lambda pair: pair[0]))


def _as_one(places: list[ThinPlace]) -> ThinPlace:
    """Make one stroke of neighbouring places: its thinnest place speaks for it."""
    return replace(
        min(places, key=lambda place: place.width_mm),
        narrowest_mm=min(place.narrowest_mm for place in places),
        length_mm=sum(place.length_mm for place in places),
        joins_parts=any(place.joins_parts for place in places),
        spoils_land=any(place.spoils_land for place in places),
        region=shapely.union_all([place.region for place in places]),
    )


def _treated(
    course: FollowedPlace,
    spoils_land: bool,
    policy: Treatment,
    undercut_mm: float,
    mark_mm: tuple[float, float],
) -> tuple[list[BaseGeometry], ThinPlace | None]:
    """Return the lines to clear along a loss, and what to report of it.

    A loss that is no stroke is followed only where that stays within the tolerance; it is not
    reported, unless it takes land beside and is a decision for that reason. A stub is widened
    and reported as a stroke is, but left out where it takes land.
    """
    is_free = course.is_within and not spoils_land
    lines = list(shapely.get_parts(course.line.lines))
    is_decision = course.is_stroke or course.is_stub
    if not is_decision and (is_free or not course.is_within or policy != "widened"):
        return (lines if is_free else []), None
    treatment: Treatment = "made" if is_free else policy
    if course.is_stub and spoils_land and treatment == "widened":
        treatment = "left out"
    is_made = treatment in ("made", "widened")
    width_mm = course.width_mm
    # The line itself ends one reach short of a free end.
    place = ThinPlace(
        at_mm=course.line.at_mm,
        width_mm=width_mm,
        narrowest_mm=2 * float(course.line.half_width_mm.min()),
        expected_mm=_finished_width(course.line.lines, undercut_mm, mark_mm) if is_made else 0.0,
        length_mm=max(
            float(course.line.lines.length), float(course.loss.area) / max(width_mm, 1e-6)
        ),
        treatment=treatment,
        joins_parts=course.joins,
        spoils_land=spoils_land,
        region=course.loss,
    )
    return (lines if is_made else []), place


def _finished_width(
    lines: MultiLineString, undercut_mm: float, mark_mm: tuple[float, float]
) -> float:
    """Return the finished width of a single line: the mark across its main direction, etched."""
    widths, lengths = [], []
    for line in shapely.get_parts(lines):
        xy = shapely.get_coordinates(line)
        step = np.diff(xy, axis=0)
        length = np.hypot(step[:, 0], step[:, 1])
        normal = np.column_stack([-step[:, 1], step[:, 0]]) / np.maximum(length, 1e-12)[:, None]
        widths.append(np.hypot(normal[:, 0] * mark_mm[0], normal[:, 1] * mark_mm[1]))
        lengths.append(length)
    width, weight = np.concatenate(widths), np.concatenate(lengths)
    return float(np.average(width, weights=np.maximum(weight, 1e-12))) + 2 * undercut_mm
