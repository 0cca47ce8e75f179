"""The etch advances under the resist's edge, equally far in every direction."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stopout.outcome.fill import APART_MM, as_region, clusters, positive_fill
from stopout.outcome.walks import rim_curves, walks_from_rings


def advance(opening: BaseGeometry, undercut_mm: float) -> MultiPolygon:
    """Return the region that the etch reaches from an opening: opening (+) disc.

    Parameters
    ----------
    opening : Polygon or MultiPolygon
        What is open to the etch, in mm.
    undercut_mm : float
        How far the etch advances sideways, zero or more.

    Returns
    -------
    MultiPolygon
        The finished region. Straight edges are exact; arcs lie at most 0.1 um outside the true
        ones; corners are rounded to 1 nm.

    Raises
    ------
    ValueError
        If the undercut is negative or not a number.

    Notes
    -----
    A hole narrower than twice the undercut closes altogether and is left out beforehand. In what
    remains, no disc of that radius holds a whole hole, so that the rim curve's winding number,
    the Euler characteristic of (opening within the disc), is at least one wherever the disc
    reaches the opening.

    Examples
    --------
    >>> round(advance(shapely.box(0, 0, 1, 1), 0.1).area, 3)
    1.431
    """
    if not undercut_mm >= 0:
        raise ValueError(f"undercut is {undercut_mm} mm; zero or more is right")
    parts = as_region(opening)
    if undercut_mm == 0 or parts.is_empty:
        return parts
    lasting = [_without_closing_holes(part, undercut_mm) for part in parts.geoms]
    turned = shapely.orient_polygons(np.array(lasting, dtype=object))
    rings, part = shapely.get_rings(turned, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    home = clusters(turned, 2 * undercut_mm + APART_MM)[part]
    return positive_fill(rim_curves(walks_from_rings(points, ring), undercut_mm), home)


def _without_closing_holes(part: Polygon, undercut_mm: float) -> Polygon:
    if not len(part.interiors):
        return part
    bounds = shapely.bounds(np.array(part.interiors, dtype=object))
    lasts = (bounds[:, 2:] - bounds[:, :2]).min(axis=1) > 2 * undercut_mm
    return Polygon(part.exterior, [part.interiors[int(i)] for i in np.flatnonzero(lasts)])
