"""The opening as drawn on a film or cut with a knife: no beam rounds its corners."""

from __future__ import annotations

import math

import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.mask.offset import dilate, erode
from stopout.mask.openings import Mask
from stopout.mask.regions import as_multipolygon

# A disc of radius r in a right angle stops short of its tip by this share of r.
_TO_TIP = math.sqrt(2) - 1


def draw_opening(
    target: BaseGeometry, mask: Mask, *, edge_mm: float, smallest_mm: float
) -> MultiPolygon:
    """Return what is drawn: the target less its edges, where it is wide enough, corners kept.

    Parameters
    ----------
    target : BaseGeometry
        Region to be finished, as worked, in mm.
    mask : Mask
        Its mask for a round mark of `smallest_mm` and an undercut of `edge_mm`: what is wide
        enough, and the lines that follow thin strokes.
    edge_mm : float
        What each edge moves outwards afterwards: undercut and growth.
    smallest_mm : float
        The narrowest stroke drawn.

    Notes
    -----
    A disc swept along the mask makes its corners round; up to a right angle they are drawn sharp
    again, for a printer and a knife can.
    """
    swept = shapely.union_all(
        [
            dilate(mask.centres, smallest_mm / 2),
            shapely.buffer(mask.lines, smallest_mm / 2, quad_segs=32),
        ]
    )
    near = dilate(as_multipolygon(swept), 1.001 * _TO_TIP * smallest_mm / 2)
    corners = erode(target, edge_mm).intersection(near)
    return as_multipolygon(swept.union(corners))
