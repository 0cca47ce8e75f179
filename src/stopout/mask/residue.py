"""What an opening by a disc loses, and which of it is more than corners."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.mask.regions import PolygonArray, clip_each, parts_of, united


def strokes_lost(
    region: BaseGeometry, kept: BaseGeometry, *, depth_mm: float, slack_mm: float
) -> PolygonArray:
    """Return what a region loses of strokes when only `kept` of it is made.

    Parameters
    ----------
    region, kept : BaseGeometry
        The whole, and the part of it that is made, grown by `slack_mm` already.
    depth_mm : float
        A loss that reaches farther than this from what is kept is a stroke.
    slack_mm : float
        What the arithmetic may leave of a loss.

    Returns
    -------
    array of Polygon
        The losses that are strokes; mere corners are left out (see `is_more_than_corner`).
    """
    lost = parts_of(region.difference(kept))
    return lost[is_more_than_corner(lost, kept, depth_mm=depth_mm, slack_mm=slack_mm)]


def links_or_stands_alone(
    lost: PolygonArray, kept: PolygonArray, *, slack_mm: float
) -> NDArray[np.bool_]:
    """Tell which losses are whole parts, or link kept regions or two places of one.

    Parameters
    ----------
    lost, kept : (n,) array of geometries
        Losses, and what is kept round each, grown by the slack.
    slack_mm : float
        What the arithmetic may leave of a loss.
    """
    contacts = _n_runs(lost, kept, slack_mm)
    for k in np.flatnonzero(contacts > 1):
        around = shapely.STRtree(parts_of(kept[k]))
        contacts[k] = _n_contacts(lost[[k]], around, slack_mm)[0]
    return np.asarray(contacts != 1)


def is_more_than_corner(
    lost: PolygonArray, kept: BaseGeometry, *, depth_mm: float, slack_mm: float
) -> NDArray[np.bool_]:
    """Tell which losses are strokes.

    A loss is a stroke where it reaches farther than `depth_mm` from what is kept, where it is a
    whole part of the region, or where it links kept regions (or two places of one), so that
    losing it changes the number of parts or holes.
    """
    contacts = _n_runs(lost, np.full(len(lost), kept), slack_mm)
    several = contacts > 1
    if several.any():
        contacts[several] = _n_contacts(lost[several], shapely.STRtree(parts_of(kept)), slack_mm)
    # One contact is a corner or a stub; none is a whole part; several are a neck.
    found: NDArray[np.bool_] = contacts != 1
    rest = ~found
    found[rest] = reaches_beyond(lost[rest], [kept], depth_mm)
    return found


def reaches_beyond(lost: PolygonArray, kept: Sequence[Any], depth_mm: float) -> NDArray[np.bool_]:
    """Tell which losses have a point farther than this from all of what is kept.

    Parameters
    ----------
    lost : array of Polygon
        Losses that touch what is kept.
    kept : sequence of geometries or of arrays of polygons
        What is made; the pieces may overlap one another. The large one comes first.
    depth_mm : float
        The distance.
    """
    x0, y0, x1, y1 = shapely.bounds(lost).T
    may_be = np.hypot(x1 - x0, y1 - y0) > depth_mm
    found = np.zeros(len(lost), dtype=bool)
    # Only what is kept near a loss can count for it.
    rings, part = shapely.get_rings(lost[may_be], return_index=True)
    plain = shapely.simplify(rings, depth_mm / 30, preserve_topology=False)
    # Of a tiny hole nothing is left but a line of no length, which cannot be parted.
    lines = shapely.segmentize(np.where(shapely.length(plain) > 0, plain, rings), depth_mm / 4)
    xy, line = shapely.get_coordinates(lines, return_index=True)
    points, owner = shapely.points(xy), np.flatnonzero(may_be)[part[line]]
    for pieces in kept:
        if isinstance(pieces, BaseGeometry):
            # Prepared, one large region is asked several times faster than a tree of its edges.
            shapely.prepare(pieces)
            far = ~shapely.dwithin(pieces, points, depth_mm)
        else:
            far = np.ones(len(points), dtype=bool)
            tree = shapely.STRtree(parts_of(pieces))
            far[tree.query_nearest(points, max_distance=depth_mm, all_matches=False)[0]] = False
        points, owner = points[far], owner[far]
    found[owner] = True
    return found


def _n_runs(lost: PolygonArray, kept: PolygonArray, slack_mm: float) -> NDArray[np.int64]:
    """Count the runs of edges of each loss that lie on what is kept of it, round its rings.

    Never fewer than the contacts, and nearly always the same, without any set operation.
    """
    rings, part = shapely.get_rings(lost, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    edge = ring[1:] == ring[:-1]
    owner = ring[1:][edge]
    shapely.prepare(kept)
    middles = shapely.points((xy[1:] + xy[:-1])[edge] / 2)
    on = shapely.dwithin(kept[part[owner]], middles, slack_mm)
    first = np.flatnonzero(np.diff(owner, prepend=-1))
    last = np.flatnonzero(np.diff(owner, append=-1))
    after = np.roll(on, -1)
    after[last] = on[first]
    ends = np.bincount(owner[on & ~after], minlength=len(rings))
    ends += np.bincount(owner[on], minlength=len(rings)) == last - first + 1
    return np.bincount(part, weights=ends).astype(np.int64)


def _n_contacts(lost: PolygonArray, kept: shapely.STRtree, slack_mm: float) -> NDArray[np.int64]:
    """Count the separate stretches along which each loss touches what is kept.

    Stretches closer than 2 slack count as one: the arithmetic parts them where the boundary
    begins and where a sliver runs out.
    """
    margin = 4 * slack_mm
    x0, y0, x1, y1 = shapely.bounds(lost).T
    frames = shapely.box(x0 - margin, y0 - margin, x1 + margin, y1 + margin)
    part, piece = kept.query(frames, predicate="intersects")
    near = clip_each(kept.geometries[piece], shapely.bounds(frames[part]))
    around = shapely.buffer(near, slack_mm, quad_segs=2)
    touch = shapely.intersection(shapely.boundary(lost[part]), around)
    grown = shapely.buffer(touch, slack_mm, quad_segs=2)
    joined = united(grown, part, len(lost))
    return np.asarray(shapely.get_num_geometries(joined), dtype=np.int64)
