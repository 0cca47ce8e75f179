"""Parts taken apart by their rings: what a disc loses lies between rings that are near, or at one.

Where two rings of a part lie farther apart than the disc is wide, the discs that they keep out do
not meet: whether the disc's centre can go round each, and how far a corner of one is from where it
can, hangs on that ring alone. So a land round ten thousand dots is looked at dot by dot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from stopout.links import linked
from stopout.mask.regions import PolygonArray, meeting, ring_points, united
from stopout.values import FloatArray

# Rings are framed this many widths farther out: the frame keeps clear of what they keep out.
_FRAME = 4
# Of holes that fill less of their hulls it is not asked how hollow they are.
_FULL = 1.1
# Edges nearer to each other than this many decimals of a millimetre meet, and are cut this far
# apart: more than an opening may leave out.
_CONTACT_DECIMALS = 6
_APART_MM = 0.004
# Turns by less than this (mm2, of the two edges) are of points on a straight line.
_STRAIGHT_MM2 = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rings:
    """The rings of parts.

    Attributes
    ----------
    ring, part : (n,) ndarray
        Each ring, and whose it is.
    is_outline : (n,) ndarray of bool
        False for holes.
    hollow_mm : (n,) ndarray
        How deep a hole's rim lies within its convex hull at most; inf if that was not looked at.
    """

    ring: PolygonArray
    part: NDArray[np.intp]
    is_outline: NDArray[np.bool_]
    hollow_mm: FloatArray

    def taken(self, which: slice | Sequence[int] | NDArray[np.intp]) -> Rings:
        """Return some of the rings."""
        return Rings(
            ring=self.ring[which],
            part=self.part[which],
            is_outline=self.is_outline[which],
            hollow_mm=self.hollow_mm[which],
        )


def rings_of(parts: PolygonArray) -> Rings:
    """Return the rings of parts, each part's outline first."""
    ring, part = shapely.get_rings(parts, return_index=True)
    is_outline = np.diff(part, prepend=-1) != 0
    hollow = np.zeros(len(ring))
    holes = np.flatnonzero(~is_outline)
    holes = holes[~_are_convex(ring[holes])]
    hulls = shapely.convex_hull(ring[holes])
    hollow[holes] = np.inf
    is_full = shapely.area(hulls) < _FULL * shapely.area(shapely.polygons(ring[holes]))
    holes, hulls = holes[is_full], shapely.boundary(hulls[is_full])
    hollow[holes] = shapely.hausdorff_distance(ring[holes], hulls)
    return Rings(ring=ring, part=part, is_outline=is_outline, hollow_mm=hollow)


def parted_at_contacts(parts: PolygonArray) -> PolygonArray:
    """Cut parts a hair apart where they only touch themselves, as where holes meet in a corner."""
    at, part = _contacts(parts)
    half = _APART_MM / 2
    gaps = shapely.box(*(at - half).T, *(at + half).T)
    which, home = np.unique(part, return_inverse=True)
    cut = parts.copy()
    cut[which] = shapely.difference(cut[which], united(gaps, home, len(which)))
    return cut


def together(rings: Sequence[Rings]) -> Rings:
    """Return the rings of several regions as one; their parts, in order, are numbered anew."""
    begins = [np.diff(one.part, prepend=-1) != 0 for one in rings]
    return Rings(
        ring=np.concatenate([one.ring for one in rings]),
        part=np.cumsum(np.concatenate(begins)),
        is_outline=np.concatenate([one.is_outline for one in rings]),
        hollow_mm=np.concatenate([one.hollow_mm for one in rings]),
    )


def groups_of(rings: Rings, width_mm: float) -> tuple[PolygonArray, NDArray[np.intp]]:
    """Group the rings of each part that lie no farther apart than a width.

    Parameters
    ----------
    rings : Rings
        Of a group all or none.
    width_mm : float
        The diameter of the largest disc that will be tried.

    Returns
    -------
    groups : array of Polygon
        What lies within the outline of each group, or round its holes, as far as a disc of that
        width may tell.
    group : (n,) ndarray of int
        The group of each ring; -1 where it is a hole too round for a disc of that width to lose
        anything beside it.
    """
    group = _linked(rings, width_mm)
    size = np.bincount(group)
    has_outline, hollow = np.zeros(size.shape, dtype=bool), np.zeros(size.shape)
    has_outline[group[rings.is_outline]] = True
    # A disc as wide as twice a hollow's depth rolls over it, and is no farther than that.
    hollow[group] = rings.hollow_mm
    is_round = (size == 1) & ~has_outline & (hollow <= width_mm / 2)
    number = np.where(is_round, -1, np.cumsum(~is_round) - 1)
    group, has_outline = number[group], has_outline[~is_round]
    kept = np.flatnonzero(group >= 0)
    return _framed(rings.taken(kept), group[kept], has_outline, _FRAME * width_mm), group


def _linked(rings: Rings, width_mm: float) -> NDArray[np.intp]:
    """Number rings by groups; parts of one ring are groups by themselves."""
    several = np.flatnonzero(np.bincount(rings.part)[rings.part] > 1)
    pairs = meeting(rings.ring[several], width_mm, owner=rings.part[several])
    one, other = (several[k] for k in pairs)
    return linked(len(rings.ring), one, other)


def _framed(
    rings: Rings, group: NDArray[np.intp], has_outline: NDArray[np.bool_], margin_mm: float
) -> PolygonArray:
    """Make a polygon of each group: holes without an outline in a frame."""
    bare = np.flatnonzero(~has_outline)
    box = shapely.bounds(rings.ring)
    low, high = np.full((len(has_outline), 2), np.inf), np.full((len(has_outline), 2), -np.inf)
    np.minimum.at(low, group, box[:, :2] - margin_mm)
    np.maximum.at(high, group, box[:, 2:] + margin_mm)
    frames = shapely.get_exterior_ring(shapely.box(*low[bare].T, *high[bare].T))
    # Outlines come before holes: those of parts do anyway.
    ring, group = np.concatenate([frames, rings.ring]), np.concatenate([bare, group])
    order = np.argsort(group, kind="stable")
    return np.asarray(shapely.polygons(ring[order], indices=group[order]))


def turns_of(rings: PolygonArray) -> tuple[FloatArray, NDArray[np.intp], FloatArray]:
    """Return the points of rings, each once; whose they are; and how far each turns left, in mm2.

    That is the cross product of the edges that meet in it.
    """
    xy, ring, before, after = ring_points(rings)
    into, out = xy - before, after - xy
    return xy, ring, into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]


def _are_convex(rings: PolygonArray) -> NDArray[np.bool_]:
    """Tell which rings turn one way only."""
    _, ring, turn = turns_of(rings)
    first = np.flatnonzero(np.diff(ring, prepend=-1))
    low, high = np.minimum.reduceat(turn, first), np.maximum.reduceat(turn, first)
    # A ring that does not cross itself goes once round.
    return np.asarray((low >= -_STRAIGHT_MM2) | (high <= _STRAIGHT_MM2))


def _contacts(parts: PolygonArray) -> tuple[FloatArray, NDArray[np.intp]]:
    """Return where edges of one part meet in a point, to a nanometre; and whose it is, sorted."""
    rings, part = shapely.get_rings(parts, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    near = np.round(xy, _CONTACT_DECIMALS)
    # A ring's last point is its first; what follows on a point in the same place is that point.
    goes_on = np.zeros(len(xy), dtype=bool)
    goes_on[:-1] = (ring[1:] == ring[:-1]) & (near[1:] != near[:-1]).any(axis=1)
    xy, near, part = xy[goes_on], near[goes_on], part[ring[goes_on]]
    order = np.lexsort([near[:, 1], near[:, 0], part])
    near, part = near[order], part[order]
    again = np.flatnonzero((part[1:] == part[:-1]) & (near[1:] == near[:-1]).all(axis=1))
    return xy[order[again]], part[again]
