"""Corners within a tolerance: short lines beyond the plain opening's own corners.

At a convex corner of angle 2a the plain opening stops r (1/sin a - 1) short of the tip. A line
from the corner of the beam centres towards the tip takes the finished edge farther: at a length s
it is s sin a outside along the sides and still t - s - r short of a tip t away. Both are equal at
s = (t - r) / (1 + sin a), where the worst error is e* = r (1 - sin a) / (1 + sin a) for a sharp
tip; a tolerance e under e* ends the line at s = e / sin a. Beyond the disc's own bump the edge
does not move, because a line is added, not an area.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.mask.offset import erode
from stopout.mask.regions import PolygonArray, chords_of, parts_of, ring_points, scale_y
from stopout.values import FloatArray

# Vertices that turn less than this are curves, not corners.
_LEAST_TURN = np.radians(8)
# Corners of the beam centres are read from their outline thinned by this.
_CHORD_MM = 0.0005
# A ray starts and a land is probed this far off an edge, clear of rounding.
_OFF_MM = 0.0005
# What the element touches is no farther than its radius and this share of it.
_TOUCHES = 0.01
# A side's normal is turned by no more than 15 degrees from that of the chord beside it.
_NEARLY = 0.966
# Sides are straight where the closed form gives what is outside to within this.
_STRAIGHT_MM = 0.0002
# Halvings of a line's length: 0.1 mm to 0.1 um.
_HALVINGS = 10


def corner_lines(
    centres: BaseGeometry,
    target: BaseGeometry,
    kept: BaseGeometry,
    *,
    slack_mm: float,
    undercut_mm: float,
    mark_mm: tuple[float, float],
    edge_tolerance_mm: float,
    shortest_mm: float,
    narrowest_land_mm: float,
) -> PolygonArray:
    """Return the lines that take the finished edge farther into convex corners.

    Parameters
    ----------
    centres : BaseGeometry
        Beam centres of the plain opening, in mm.
    target : BaseGeometry
        What is to be finished.
    kept : BaseGeometry
        What the plain opening finishes, grown by `slack_mm`.
    slack_mm : float
        That growth.
    undercut_mm, mark_mm : float, (float, float)
        Sideways advance of the etch; full axes of the mark along x and y.
    edge_tolerance_mm : float
        How far the finished edge may lie outside the target.
    shortest_mm : float
        Shorter lines are left out.
    narrowest_land_mm : float
        A line that would leave less land beyond it is left out.

    Returns
    -------
    array of LineString
        Each from a corner of `centres` outwards.
    """
    if edge_tolerance_mm <= 0:
        return np.empty(0, dtype=object)
    corners = _corners(centres)
    shape = _Element(undercut_mm, mark_mm)
    edge = _Edge(target)
    sides = _touched(corners, edge, undercut_mm, mark_mm)
    # Where both touch one place the outline is a curve after all.
    turned = np.einsum("ij,ij->i", *sides) < np.cos(_LEAST_TURN)
    corners, sides = corners.only(turned), (sides[0][turned], sides[1][turned])
    tips = _wedges(sides, shape)
    # Sides that run back beside each other meet nowhere: a stroke's end, which has no tip.
    meet = np.asarray(np.isfinite(tips).all(axis=1))
    corners, sides, tips = corners.only(meet), (sides[0][meet], sides[1][meet]), tips[meet]
    towards = _unit(tips)
    tip = edge.distance_along(corners.at, tips)
    room = np.maximum(tip - shape.extent(towards), 0.0)
    # Where a stroke has a neck, its tip may be made from the other side: nothing is short there.
    shapely.prepare(kept)
    short = shapely.distance(kept, shapely.points(corners.at + tip[:, None] * towards)) + slack_mm
    room = np.where(short < room - slack_mm, short - slack_mm, room)
    length = _balanced(corners.at, towards, sides, room, shape, edge, edge_tolerance_mm)
    kept = length > shortest_mm
    ends = corners.at + length[:, None] * towards
    # A corner of another part across the land may come out as far as this one.
    probes = [
        (ends + shape.contact(side), side, length * np.einsum("ij,ij->i", towards, side))
        for side in sides
    ]
    probes.append((corners.at + tip[:, None] * towards, towards, np.zeros(len(length))))
    kept &= edge.leaves_land(probes, narrowest_land_mm)
    return np.asarray(shapely.linestrings(np.stack([corners.at[kept], ends[kept]], axis=1)))


def _balanced(
    at: FloatArray,
    towards: FloatArray,
    sides: tuple[FloatArray, FloatArray],
    room: FloatArray,
    shape: _Element,
    edge: _Edge,
    edge_tolerance_mm: float,
) -> FloatArray:
    """Return how long each line may be: until it errs as much outside as it still falls short.

    What it goes outside is measured on the target itself, at the two sides' points of contact, so
    that curved sides count as they are. Never more than the tolerance.
    """

    def outside(which: NDArray[np.bool_], length: FloatArray) -> FloatArray:
        centre = at[which] + length[:, None] * towards[which]
        both = np.concatenate([centre + shape.contact(side[which]) for side in sides])
        return np.asarray(edge.outside(both).reshape(2, -1).max(axis=0))

    # Straight sides have a closed form; only where that does not hold the length is halved in.
    slope = np.maximum(*(np.einsum("ij,ij->i", towards, side) for side in sides))
    length = np.minimum(room / (1 + slope), edge_tolerance_mm / np.maximum(slope, 1e-9))
    every = np.ones(len(room), dtype=bool)
    curved = np.abs(outside(every, length) - slope * length) > _STRAIGHT_MM
    low, high = np.zeros(int(curved.sum())), room[curved]
    for _ in range(_HALVINGS if curved.any() else 0):
        middle = (low + high) / 2
        too_far = outside(curved, middle) > np.minimum(room[curved] - middle, edge_tolerance_mm)
        low, high = np.where(too_far, low, middle), np.where(too_far, middle, high)
    length[curved] = low
    return np.asarray(length)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Corners:
    """Convex corners of an area: places, and unit directions of the edges before and after."""

    at: FloatArray
    before: FloatArray
    after: FloatArray

    def only(self, which: NDArray[np.bool_]) -> _Corners:
        """Return some of the corners."""
        return _Corners(at=self.at[which], before=self.before[which], after=self.after[which])


class _Element:
    """What one beam position finishes: the mark's ellipse grown by the undercut."""

    def __init__(self, undercut_mm: float, mark_mm: tuple[float, float]) -> None:
        self.undercut = undercut_mm
        self.half = np.array(mark_mm) / 2

    def support(self, normals: FloatArray) -> FloatArray:
        """How far the element reaches in the direction of a normal, to its tangent."""
        return np.asarray(self.undercut + np.hypot(*(normals * self.half).T))

    def contact(self, normals: FloatArray) -> FloatArray:
        """The element's boundary point whose normal this is."""
        ellipse = normals * self.half**2 / np.hypot(*(normals * self.half).T)[:, None]
        return np.asarray(ellipse + self.undercut * normals)

    def extent(self, directions: FloatArray) -> FloatArray:
        """How far the element reaches along a direction, from its centre to its edge."""
        angle = np.linspace(-1.2, 1.2, 121)
        turn = np.arctan2(directions[:, 1], directions[:, 0])[:, None] + angle
        normals = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
        support = self.undercut + np.hypot(
            normals[..., 0] * self.half[0], normals[..., 1] * self.half[1]
        )
        return np.asarray((support / np.cos(angle)).min(axis=1))


def _corners(centres: BaseGeometry) -> _Corners:
    """Find the convex corners of an area."""
    # Ring by ring: to hold thousands of one part apart takes the square of their number.
    rings = shapely.get_rings(shapely.orient_polygons(parts_of(centres)))
    xy, _, behind, ahead = ring_points(shapely.simplify(rings, _CHORD_MM))
    before, after = _unit(xy - behind), _unit(ahead - xy)
    # The area lies on the left of its rings, so a left turn is a convex corner.
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.arctan2(cross, np.einsum("ij,ij->i", before, after))
    sharp = turn > _LEAST_TURN
    return _Corners(at=xy[sharp], before=before[sharp], after=after[sharp])


def _unit(vectors: FloatArray) -> FloatArray:
    length = np.hypot(vectors[:, 0], vectors[:, 1])
    return np.asarray(vectors / np.maximum(length, 1e-12)[:, None])


def _touched(
    corners: _Corners, edge: _Edge, undercut_mm: float, mark_mm: tuple[float, float]
) -> tuple[FloatArray, FloatArray]:
    """Return the normals of the two sides that the element touches from each corner.

    The chords next to a corner lag behind the tangent by as much as they happen to be long. The
    places where the element touches the sides do not: they are as far from the corner as it is
    wide. An elliptical mark is a disc where the plane is stretched, inside what is opened.
    """
    along = (corners.before, corners.after)
    sides = tuple(np.column_stack([way[:, 1], -way[:, 0]]) for way in along)
    stretch = np.array([1.0, mark_mm[0] / mark_mm[1]])
    if mark_mm[0] == mark_mm[1]:
        chords, tree, radius = edge.chords, edge.tree, undercut_mm + mark_mm[0] / 2
    else:
        chords = chords_of(scale_y(parts_of(erode(edge.target, undercut_mm)), stretch[1]))
        tree, radius = shapely.STRtree(chords), mark_mm[0] / 2
    at = corners.at * stretch
    corner, chord = tree.query(
        shapely.points(at), predicate="dwithin", distance=radius + _TOUCHES * radius
    )
    a, b = np.moveaxis(shapely.get_coordinates(chords[chord]).reshape(-1, 2, 2), 1, 0)
    way, off = b - a, at[corner] - a
    share = np.clip((off * way).sum(axis=1) / np.maximum((way**2).sum(axis=1), 1e-18), 0.0, 1.0)
    # Back in the plane as it is, a normal shrinks where lengths were stretched.
    towards = a + share[:, None] * way - at[corner]
    away = np.hypot(towards[:, 0], towards[:, 1])
    normal = _unit(towards * stretch)
    first, second = (_nearest(side, normal, away, corner) for side in sides)
    return first, second


def _nearest(
    side: FloatArray, normal: FloatArray, away: FloatArray, corner: NDArray[np.intp]
) -> FloatArray:
    """Replace each side's normal by that of the nearest place found about where it points."""
    about = np.flatnonzero(np.einsum("ij,ij->i", side[corner], normal) > _NEARLY)
    order = about[np.lexsort([away[about], corner[about]])]
    owners, first = np.unique(corner[order], return_index=True)
    found = side.copy()
    found[owners] = normal[order[first]]
    return found


def _wedges(sides: tuple[FloatArray, FloatArray], shape: _Element) -> FloatArray:
    """Return the vector from each corner to the tip of its wedge."""
    first, second = sides
    reach_first, reach_second = shape.support(first), shape.support(second)
    # The tip w from the corner satisfies w . n = support(n) on both sides.
    det = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        tip = (
            np.column_stack(
                [
                    reach_first * second[:, 1] - reach_second * first[:, 1],
                    reach_second * first[:, 0] - reach_first * second[:, 0],
                ]
            )
            / det[:, None]
        )
    return np.asarray(tip)


class _Edge:
    """The target's edge, to be asked for distances."""

    def __init__(self, target: BaseGeometry) -> None:
        self.target = target
        self.parts = parts_of(target)
        self.chords = chords_of(self.parts)
        self.tree = shapely.STRtree(self.chords)
        self.lines = shapely.boundary(self.target)
        shapely.prepare([self.target, self.lines])

    def outside(self, points: FloatArray) -> FloatArray:
        """Return how far each point lies outside the target, negative inside."""
        distance = shapely.distance(self.lines, shapely.points(points))
        inside = shapely.contains_xy(self.target, points[:, 0], points[:, 1])
        return np.asarray(np.where(inside, -distance, distance))

    def distance_along(self, at: FloatArray, tips: FloatArray) -> FloatArray:
        """Return how far the target reaches from each corner towards its wedge's tip.

        At most to that tip: a rounded or cut tip is nearer than that of the straight sides.
        """
        rays = shapely.linestrings(np.stack([at, at + tips], axis=1))
        ray, chord = self.tree.query(rays, predicate="intersects")
        a, b = np.moveaxis(shapely.get_coordinates(self.chords[chord]).reshape(-1, 2, 2), 1, 0)
        d, off, along = tips[ray], a - at[ray], b - a
        det = d[:, 0] * along[:, 1] - d[:, 1] * along[:, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (off[:, 0] * along[:, 1] - off[:, 1] * along[:, 0]) / det
        nearest = np.ones(len(at))
        crosses = np.isfinite(share) & (share > 0)
        np.minimum.at(nearest, ray[crosses], share[crosses])
        return np.asarray(nearest * np.hypot(tips[:, 0], tips[:, 1]))

    def leaves_land(
        self, probes: list[tuple[FloatArray, FloatArray, FloatArray]], narrowest_land_mm: float
    ) -> NDArray[np.bool_]:
        """Tell which corners have land enough beyond them.

        Probed from places along directions, each farther than the limit by a length of its own.
        """
        free = np.ones(len(probes[0][0]), dtype=bool)
        if narrowest_land_mm <= _OFF_MM:
            return free
        for start, direction, more in probes:
            far = (narrowest_land_mm + more)[:, None]
            ends = (start + _OFF_MM * direction, start + far * direction)
            segments = shapely.linestrings(np.stack(ends, axis=1))
            # The parts ask: who asks is prepared once, and one part may have nearly every vertex.
            free[shapely.STRtree(segments).query(self.parts, predicate="intersects")[1]] = False
        return free
