"""What widening within the tolerance may not do to the land beside: join, close, or narrow it."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.mask.offset import dilate, erode
from stopout.mask.regions import PolygonArray, parts_of_each, united
from stopout.mask.residue import links_or_stands_alone, strokes_lost
from stopout.mask.surroundings import Surroundings, frames_round

_SLACK_MM = 0.001
# Chords a quarter circle: 0.3 um off an arc of 0.15 mm, well within the slack.
_CHORDS = 12
# Land narrower than this counts as none.
_LEAST_MM = 0.004
_HARDLY_MM = 0.0002
# Points along a widened edge, from which the land beside is probed, stand this far apart.
_PROBE_MM = 0.05
# A probe begins this far off the edge, clear of rounding.
_OFF_MM = 0.002


def spoils_land(
    target: BaseGeometry,
    made: PolygonArray,
    asked: NDArray[np.bool_],
    *,
    edge_tolerance_mm: float,
    narrowest_land_mm: float,
) -> NDArray[np.bool_]:
    """Tell which widened strokes take land that they may not take.

    That is where the land beside would be joined across, closed, or left narrower than the limit,
    whether by one stroke alone or together with others beside it.

    Parameters
    ----------
    target : BaseGeometry
        What is to be finished, in mm.
    made : array of geometries
        What each stroke is finished as.
    asked : (n,) ndarray of bool
        The strokes to be judged; the others only stand beside them.
    edge_tolerance_mm, narrowest_land_mm : float
        How far edges may err; the narrowest land that must stay.

    Returns
    -------
    (n,) ndarray of bool
        False where not asked.
    """
    spoils = np.zeros(len(made), dtype=bool)
    if not asked.any():
        return spoils
    # Of each stroke asked: what it is finished as, the drawing near it, what it takes of the land.
    one = np.flatnonzero(asked)
    beside = _Beside(
        max(narrowest_land_mm, _LEAST_MM),
        edge_tolerance_mm,
        one,
        made,
        Surroundings(target),
    )
    which = np.flatnonzero(beside.faces())
    spoils[one[which]] = beside.take_land(which)
    return spoils


class _Beside:
    """Some strokes widened, each beside the others and the drawing round it.

    `excess` is what each takes of the land, `near` the drawing within a margin of it.
    """

    def __init__(
        self,
        least_mm: float,
        edge_tolerance_mm: float,
        one: NDArray[np.intp],
        made: PolygonArray,
        target: Surroundings,
    ) -> None:
        self.least_mm, self.tolerance_mm = least_mm, edge_tolerance_mm
        self.one, self.made, self.tree = one, made, shapely.STRtree(made)
        self.margin_mm = 3 * least_mm + 4 * edge_tolerance_mm
        self.near = target.near_each(made[one], self.margin_mm)
        self.excess = shapely.difference(made[one], self.near)
        shapely.prepare(self.near)

    def faces(self) -> NDArray[np.bool_]:
        """Tell quickly which have anything else across less land than the limit."""
        parts, owner = parts_of_each(self.excess)
        rings, part = shapely.get_rings(shapely.orient_polygons(parts), return_index=True)
        xy, ring = shapely.get_coordinates(shapely.segmentize(rings, _PROBE_MM), return_index=True)
        same = ring[1:] == ring[:-1]
        step, middle = np.diff(xy, axis=0)[same], ((xy[1:] + xy[:-1]) / 2)[same]
        ring = ring[1:][same]
        own = owner[part[ring]]
        on_edge = shapely.dwithin(self.near[own], shapely.points(middle), _OFF_MM / 2)
        found = np.zeros(len(self.one), dtype=bool)
        # All round it lies on drawn edges: a gap or a counter is filled altogether.
        all_round = np.bincount(ring[~on_edge], minlength=len(rings)) == 0
        found[owner[part[all_round]]] = True
        # The area lies on the left of its rings.
        length = np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-12)[:, None]
        normal = np.column_stack([step[:, 1], -step[:, 0]]) / length
        # Where a stroke's own arms come towards each other, both drawn edges give way.
        reach = np.where(on_edge, -self.least_mm - 2 * self.tolerance_mm, self.least_mm)[:, None]
        off = np.where(on_edge, -_OFF_MM, _OFF_MM)[:, None]
        probes = shapely.linestrings(
            np.stack([middle + off * normal, middle + reach * normal], axis=1)
        )
        found[own[shapely.intersects(self.near[own], probes)]] = True
        probes, own = probes[~on_edge], own[~on_edge]
        probe, other = self.tree.query(probes, predicate="intersects")
        found[own[probe[other != self.one[own[probe]]]]] = True
        return found

    def take_land(self, which: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Tell which lose land beside, other than the strip that the tolerance allows.

        Land is lost where a neck or a whole part of it goes, or where it gets narrow, or narrower
        still, for longer than a corner and does not run out in a point as drawn.
        """
        excess, found = self.excess[which], np.zeros(len(which), dtype=bool)
        frames = frames_round(excess, self.margin_mm)
        before, owner = parts_of_each(shapely.difference(frames, self.near[which]))
        after = shapely.difference(before, self._finished(which)[owner])
        kept = _wide_enough(after, owner, len(which), self.least_mm)
        lost, part = parts_of_each(shapely.difference(before, kept[owner]))
        owner_of = owner[part]
        beside = shapely.dwithin(lost, excess[owner_of], _SLACK_MM)
        lost, owner_of = lost[beside], owner_of[beside]
        is_neck = links_or_stands_alone(lost, kept[owner_of], slack_mm=_SLACK_MM)
        found[owner_of[is_neck]] = True
        depth = max(1.5 * self.least_mm, self.tolerance_mm + 4 * _SLACK_MM)
        unsure = ~found[owner_of]
        lost, owner_of = lost[unsure], owner_of[unsure]
        deep = _run_in(lost, kept[owner_of], depth)
        for k in np.unique(owner_of[deep]):
            lands = before[owner == k]
            found[k] = not _are_pointed(lost[deep & (owner_of == k)], lands, self.least_mm, depth)
        return found

    def _finished(self, which: NDArray[np.intp]) -> PolygonArray:
        """Return what the strokes are finished as, and others where they lie across.

        Farther on, the frame would cut them off.
        """
        found = self.made[self.one[which]].copy()
        excess = self.excess[which]
        own, other = self.tree.query(excess, predicate="dwithin", distance=self.least_mm)
        across = other != self.one[which[own]]
        own, other = own[across], other[across]
        some, place = np.unique(own, return_inverse=True)
        zones = shapely.buffer(excess[some], self.least_mm + 2 * self.tolerance_mm, quad_segs=4)
        parts = np.concatenate([found[some], shapely.intersection(self.made[other], zones[place])])
        homes = np.concatenate([np.arange(len(some)), place])
        order = np.argsort(homes, kind="stable")
        found[some] = united(parts[order], homes[order], len(some))
        return found


def _are_pointed(
    deep: PolygonArray, before: PolygonArray, least_mm: float, depth_mm: float
) -> bool:
    """Tell whether lands lost deeply all run out in a sharp point as drawn.

    Such a land is narrow there as drawn; nothing is taken from it. One that is narrow up to a
    blunt end, as a notch is, would close.
    """
    whole, own = shapely.union_all(before), np.zeros(len(before), dtype=np.intp)
    wide = _wide_enough(before, own, 1, least_mm)[0]
    drawn = strokes_lost(whole, wide, depth_mm=depth_mm, slack_mm=_SLACK_MM)
    points = strokes_lost(
        whole,
        dilate(erode(before, _LEAST_MM / 2), _LEAST_MM / 2 + _HARDLY_MM),
        depth_mm=1.5 * _LEAST_MM,
        slack_mm=_HARDLY_MM,
    )
    pointed = drawn[shapely.intersects(drawn[:, None], points[None, :]).any(axis=1)]
    return bool(shapely.intersects(deep[:, None], pointed[None, :]).any(axis=1).all())


def _run_in(lost: PolygonArray, kept: PolygonArray, depth_mm: float) -> NDArray[np.bool_]:
    """Tell which lost lands reach farther than this from where they leave what is kept of each.

    Not merely from what is kept: that may lie near across a stroke.
    """
    x0, y0, x1, y1 = shapely.bounds(lost).T
    found: NDArray[np.bool_] = np.hypot(x1 - x0, y1 - y0) > depth_mm
    if not found.any():
        return found
    rings = shapely.segmentize(shapely.boundary(lost[found]), depth_mm / 4)
    rings, owner = shapely.get_parts(rings, return_index=True)
    kept = kept[found]
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    edge = np.flatnonzero(ring[1:] == ring[:-1])
    shapely.prepare(kept)
    middles = shapely.points((xy[edge] + xy[edge + 1]) / 2)
    touches = edge[shapely.dwithin(kept[owner[ring[edge]]], middles, _SLACK_MM)]
    contact = np.full(found.sum(), shapely.MultiLineString())
    edges = shapely.linestrings(np.stack([xy[touches], xy[touches + 1]], axis=1))
    shapely.multilinestrings(edges, indices=owner[ring[touches]], out=contact)
    shapely.prepare(contact)
    # Nothing is within any distance of no contact.
    far = ~shapely.dwithin(contact[owner[ring]], shapely.points(xy), depth_mm)
    found[found] = np.bincount(owner[ring], weights=far, minlength=len(contact)) > 0
    return found


def _wide_enough(
    land: PolygonArray, owner: NDArray[np.intp], count: int, least_mm: float
) -> PolygonArray:
    """Return what of each owner's land is wide enough, grown by the slack."""
    cores = shapely.buffer(land, -least_mm / 2, quad_segs=_CHORDS)
    grown = shapely.buffer(cores, least_mm / 2 + _SLACK_MM, quad_segs=_CHORDS)
    return united(grown, owner, count)
