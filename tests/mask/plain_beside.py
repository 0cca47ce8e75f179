"""The plain way to tell what widened strokes take of the land, one after another."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.mask.offset import dilate, erode
from stopout.mask.regions import PolygonArray, parts_of
from stopout.mask.residue import is_more_than_corner, strokes_lost
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
    least = max(narrowest_land_mm, _LEAST_MM)
    margin = _margin(least, edge_tolerance_mm)
    drawn, beside = Surroundings(target), shapely.STRtree(made)
    for k in np.flatnonzero(asked):
        near = parts_of(drawn.near(made[k], margin))
        excess = shapely.difference(made[k], shapely.union_all(near))
        if excess.is_empty:
            continue
        others = beside.query(excess, predicate="dwithin", distance=least)
        apart = [made[j] for j in others if j != k]
        if not _faces(excess, near, apart, least, least + 2 * edge_tolerance_mm):
            continue
        # Others count only where they lie across: farther on, the frame would cut them off.
        across = shapely.intersection(made[others], excess.buffer(least + 2 * edge_tolerance_mm, 4))
        finished = shapely.union_all([made[k], *across])
        spoils[k] = _takes_land(excess, near, finished, least, edge_tolerance_mm)
    return spoils


def _faces(
    excess: BaseGeometry,
    near: PolygonArray,
    others: list[BaseGeometry],
    least_mm: float,
    drawn_mm: float,
) -> bool:
    """Tell quickly whether anything lies across less land than the limit.

    Or a drawn edge across another that is widened, both giving way.
    """
    across = np.array([*near, *others], dtype=object)
    for ring in shapely.get_rings(shapely.orient_polygons(parts_of(excess))):
        xy = shapely.get_coordinates(shapely.segmentize(ring, _PROBE_MM))
        step = np.diff(xy, axis=0)
        length = np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-12)[:, None]
        # The area lies on the left of its rings.
        normal = np.column_stack([step[:, 1], -step[:, 0]]) / length
        middle = (xy[1:] + xy[:-1]) / 2
        probes = shapely.linestrings(
            np.stack([middle + _OFF_MM * normal, middle + least_mm * normal], axis=1)
        )
        on_edge = shapely.dwithin(shapely.points(middle)[:, None], near[None, :], _OFF_MM / 2).any(
            axis=1
        )
        # All round it lies on drawn edges: a gap or a counter is filled altogether.
        if on_edge.all():
            return True
        if shapely.intersects(probes[~on_edge][:, None], across[None, :]).any():
            return True
        inwards = shapely.linestrings(
            np.stack([middle - _OFF_MM * normal, middle - drawn_mm * normal], axis=1)[on_edge]
        )
        if shapely.intersects(inwards[:, None], near[None, :]).any():
            return True
    return False


def _takes_land(
    excess: BaseGeometry,
    near: PolygonArray,
    finished: BaseGeometry,
    least_mm: float,
    edge_tolerance_mm: float,
) -> bool:
    """Tell whether land beside is lost, other than the strip that the tolerance allows.

    Land is lost where a neck or a whole part of it goes, or where it gets narrow, or narrower
    still, for longer than a corner and does not run out in a point as drawn.
    """
    (frame,) = frames_round(np.array([excess]), _margin(least_mm, edge_tolerance_mm))
    before = parts_of(shapely.difference(frame, shapely.union_all(near)))
    kept = _wide_enough(shapely.difference(before, finished), least_mm)
    lost = parts_of(shapely.difference(shapely.union_all(before), kept))
    lost = lost[shapely.dwithin(lost, excess, _SLACK_MM)]
    if is_more_than_corner(lost, kept, depth_mm=np.inf, slack_mm=_SLACK_MM).any():
        return True
    depth = max(1.5 * least_mm, edge_tolerance_mm + 4 * _SLACK_MM)
    deep = lost[_runs_in(lost, kept, depth)]
    if not len(deep):
        return False
    # A land that runs out in a sharp point is narrow there as drawn; nothing is taken from it. One
    # that is narrow up to a blunt end, as a notch is, would close.
    whole = shapely.union_all(before)
    drawn = strokes_lost(whole, _wide_enough(before, least_mm), depth_mm=depth, slack_mm=_SLACK_MM)
    points = strokes_lost(
        whole,
        dilate(erode(before, _LEAST_MM / 2), _LEAST_MM / 2 + _HARDLY_MM),
        depth_mm=1.5 * _LEAST_MM,
        slack_mm=_HARDLY_MM,
    )
    pointed = drawn[shapely.intersects(drawn[:, None], points[None, :]).any(axis=1)]
    return not shapely.intersects(deep[:, None], pointed[None, :]).any(axis=1).all()


def _runs_in(lost: PolygonArray, kept: BaseGeometry, depth_mm: float) -> NDArray[np.bool_]:
    """Tell which lost lands reach farther than this from where they leave what is kept.

    Not merely from what is kept: that may lie near across a stroke.
    """
    x0, y0, x1, y1 = shapely.bounds(lost).T
    found: NDArray[np.bool_] = np.hypot(x1 - x0, y1 - y0) > depth_mm
    if not found.any():
        return found
    rings = shapely.segmentize(shapely.boundary(lost[found]), depth_mm / 4)
    rings, owner = shapely.get_parts(rings, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    edge = np.flatnonzero(ring[1:] == ring[:-1])
    shapely.prepare(kept)
    touches = edge[shapely.dwithin(kept, shapely.points((xy[edge] + xy[edge + 1]) / 2), _SLACK_MM)]
    contact = np.full(found.sum(), shapely.MultiLineString(), dtype=object)
    edges = shapely.linestrings(np.stack([xy[touches], xy[touches + 1]], axis=1))
    shapely.multilinestrings(edges, indices=owner[ring[touches]], out=contact)
    shapely.prepare(contact)
    # Nothing is within any distance of no contact.
    far = ~shapely.dwithin(contact[owner[ring]], shapely.points(xy), depth_mm)
    found[found] = np.bincount(owner[ring], weights=far, minlength=len(contact)) > 0
    return found


def _margin(least_mm: float, edge_tolerance_mm: float) -> float:
    """How far round a stroke the land is looked at."""
    return 3 * least_mm + 4 * edge_tolerance_mm


def _wide_enough(land: PolygonArray, least_mm: float) -> BaseGeometry:
    """Return what of a land is wide enough, grown by the slack."""
    cores = shapely.buffer(land, -least_mm / 2, quad_segs=_CHORDS)
    return shapely.union_all(shapely.buffer(cores, least_mm / 2 + _SLACK_MM, quad_segs=_CHORDS))
