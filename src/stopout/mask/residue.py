"""What an opening by a disc loses, and which of it is more than corners."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.mask.regions import PolygonArray, chords_of, clip_each, parts_of

__all__ = ["is_more_than_corner", "n_contacts", "reaches_beyond", "strokes_lost"]


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
    if not len(lost):
        return lost
    return np.asarray(
        lost[is_more_than_corner(lost, kept, depth_mm=depth_mm, slack_mm=slack_mm)], dtype=object
    )


def is_more_than_corner(
    lost: PolygonArray, kept: BaseGeometry, *, depth_mm: float, slack_mm: float
) -> NDArray[np.bool_]:
    """Tell which losses are strokes.

    A loss is a stroke where it reaches farther than `depth_mm` from what is kept, where it is a
    whole part of the region, or where it links kept regions (or two places of one), so that
    losing it changes the number of parts or holes.
    """
    if kept.is_empty:
        return np.ones(len(lost), dtype=bool)
    near = shapely.STRtree(parts_of(kept))
    contacts = n_contacts(lost, near, slack_mm)
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
        What is made; the pieces may overlap one another.
    depth_mm : float
        The distance.
    """
    x0, y0, x1, y1 = shapely.bounds(lost).T
    may_be = np.hypot(x1 - x0, y1 - y0) > depth_mm
    found = np.zeros(len(lost), dtype=bool)
    if not may_be.any():
        return found
    # Only what is kept near a loss can count for it.
    outlines = shapely.simplify(shapely.boundary(lost[may_be]), depth_mm / 30)
    lines = shapely.segmentize(outlines, depth_mm / 4)
    xy, line = shapely.get_coordinates(lines, return_index=True)
    points, owner = shapely.points(xy), np.flatnonzero(may_be)[line]
    for number, pieces in enumerate(kept):
        parts = parts_of(pieces)
        # Edges of the large pieces; whole areas of the small ones, in which a distance is zero.
        tree = shapely.STRtree(chords_of(parts) if number == 0 else parts)
        far = np.ones(len(points), dtype=bool)
        if len(tree) and len(points):
            far[tree.query_nearest(points, max_distance=depth_mm, all_matches=False)[0]] = False
        points, owner = points[far], owner[far]
    found[owner] = True
    return found


def n_contacts(lost: PolygonArray, kept: shapely.STRtree, slack_mm: float) -> NDArray[np.int64]:
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
    contacts = np.zeros(len(lost), dtype=np.int64)
    for k, shapes in _grouped(part, grown):
        joined = shapes[0] if len(shapes) == 1 else shapely.union_all(shapes)
        contacts[k] = shapely.get_num_geometries(joined)
    return contacts


def _grouped(owner: NDArray[np.int64], shapes: PolygonArray) -> Iterator[tuple[int, PolygonArray]]:
    """Gather the shapes of each owner, leaving out empty ones."""
    kept = ~shapely.is_empty(shapes)
    owner, shapes = owner[kept], shapes[kept]
    order = np.argsort(owner, kind="stable")
    owner, shapes = owner[order], shapes[order]
    bounds = np.concatenate([[0], np.flatnonzero(np.diff(owner)) + 1, [len(owner)]])
    for a, b in pairwise(bounds):
        if b > a:
            yield int(owner[a]), shapes[a:b]
