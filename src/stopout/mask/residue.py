"""What an opening by a disc loses, and which of it is more than corners."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from stopout.mask.regions import PolygonArray, chords_of, parts_of

__all__ = ["is_more_than_corner", "strokes_lost"]


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
    edges: shapely.STRtree | None = None
    contacts = np.zeros(len(lost), dtype=np.int64)
    deep = np.zeros(len(lost), dtype=bool)
    for k, part in enumerate(lost):
        x0, y0, x1, y1 = part.bounds
        margin = 4 * slack_mm
        frame = box(x0 - margin, y0 - margin, x1 + margin, y1 + margin)
        around = shapely.union_all(
            shapely.intersection(near.geometries[near.query(frame, predicate="intersects")], frame)
        )
        contacts[k] = _n_contacts(part, around, slack_mm)
        if contacts[k] == 1 and _may_be_deep(part, depth_mm):
            edges = edges or shapely.STRtree(chords_of(near.geometries))
            deep[k] = _is_deep(part, edges, depth_mm)
    # One contact is a corner or a stub; none is a whole part; several are a neck.
    found: NDArray[np.bool_] = deep | (contacts != 1)
    return found


def _n_contacts(part: BaseGeometry, kept: BaseGeometry, slack_mm: float) -> int:
    """Count the separate stretches along which a loss touches what is kept.

    Stretches closer than 2 slack count as one: the arithmetic parts them where the boundary
    begins and where a sliver runs out.
    """
    contact = part.boundary.intersection(kept.buffer(slack_mm))
    if contact.is_empty:
        return 0
    return int(shapely.get_num_geometries(contact.buffer(slack_mm)))


def _may_be_deep(part: BaseGeometry, depth_mm: float) -> bool:
    """Tell whether a loss is large enough to reach this far; it touches what is kept."""
    x0, y0, x1, y1 = part.bounds
    return bool(np.hypot(x1 - x0, y1 - y0) > depth_mm)


def _is_deep(part: BaseGeometry, edges: shapely.STRtree, depth_mm: float) -> bool:
    """Tell whether a loss has a point farther than this from the edges of what is kept."""
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(part, depth_mm / 6)))
    distance = edges.query_nearest(points, return_distance=True, all_matches=False)[1]
    return bool(distance.max() > depth_mm)
