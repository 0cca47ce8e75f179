"""Regions laid by whole steps, so that what only lies elsewhere keeps its points to the last.

Outlines go onto a grid of 1 nm. Were each point rounded by itself, a word that is moved, or a
letter that comes again, would differ by a step here and there. So outlines that lie near each
other, which are planned together, are rounded from a corner of their own, and the corner goes to
the last decimal of a program by itself. What coincides still does.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.artwork.regions.rings import GRID_MM, noded
from stopout.links import linked
from stopout.mask import meeting
from stopout.values import COORDINATE_DECIMALS, FloatArray

# Outlines that lie nearer than this go together: what is planned together lies that near.
_NEAR_MM = 0.5
# The holes of a part go with it where it has no more than these, as a letter; a ground has more.
_FEW_HOLES = 3
# Decimals in mm that sums of coordinates leave as they are; halves of a step are told by them.
_SURE_DECIMALS = 10
# Steps of the grid in the last decimal of a program.
_CORNER_STEPS = round(10**-COORDINATE_DECIMALS / GRID_MM)
# A picture of dots has more outlines; it is rounded point by point.
_MOST_RINGS = 5_000


def laid_by_steps(regions: Sequence[BaseGeometry]) -> list[BaseGeometry]:
    """Put regions on the grid of 1 nm together, with a vertex wherever their rings touch.

    Parameters
    ----------
    regions : sequence of BaseGeometry
        Valid areas in mm, which may share edges.

    Returns
    -------
    list of BaseGeometry
        No point has moved by more than 0.08 um; none against another of an outline, or of two that
        lie near each other, by more than 1.5 nm.
    """
    whole = np.array(regions, dtype=object)
    parts = shapely.get_parts(whole)
    rings, part = shapely.get_rings(parts, return_index=True)
    if not 0 < len(rings) <= _MOST_RINGS:
        return [noded(region) for region in regions]
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    near = np.array(meeting(rings, _NEAR_MM))
    group = linked(len(rings), *np.concatenate([near, _with_holes(parts, part)], axis=1))[ring]
    corner = np.full((group.max() + 1, 2), np.inf)
    np.minimum.at(corner, group, xy)
    steps = _steps(xy - corner[group]) + _corner_steps(corner)[group]
    laid = shapely.set_coordinates(parts, steps * GRID_MM)
    home = np.repeat(np.arange(len(whole)), shapely.get_num_geometries(whole))
    touches = _touching(laid, part, home[part], near)
    again = (steps[1:] == steps[:-1]).all(axis=1) & (ring[1:] == ring[:-1])
    touches[part[ring[1:][again]]] = True
    return [_sound(laid[home == k], touches[home == k]) for k in range(len(whole))]


def _touching(
    laid: NDArray[np.object_],
    part: NDArray[np.intp],
    home: NDArray[np.intp],
    near: NDArray[np.intp],
) -> NDArray[np.bool_]:
    """Tell which parts have rings that touch, or are not sound: the others need no vertex more.

    `part` and `home` are the part and region of each ring, `near` are pairs of rings.
    """
    rings = shapely.get_rings(laid)
    one, other = near[:, home[near[0]] == home[near[1]]]
    touches = np.asarray(~shapely.is_valid(laid))
    meet = shapely.intersects(rings[one], rings[other])
    touches[part[one[meet]]] = touches[part[other[meet]]] = True
    return touches


def _sound(parts: NDArray[np.object_], touches: NDArray[np.bool_]) -> BaseGeometry:
    """Return a region's parts as one, those that touch with vertices there."""
    whole = parts
    if touches.any():
        whole = np.concatenate([parts[~touches], shapely.get_parts(_noded(parts[touches]))])
    found: BaseGeometry = whole[0] if len(whole) == 1 else shapely.multipolygons(whole)
    return found


def _noded(parts: NDArray[np.object_]) -> BaseGeometry:
    sound = shapely.is_valid(parts)
    if not sound.all():
        # Only what crosses itself is mended.
        parts[~sound] = shapely.make_valid(parts[~sound])
    elif (region := shapely.multipolygons(parts)).is_valid:
        return noded(region)
    return noded(shapely.union_all(parts))


def laid_at(region: BaseGeometry, at_mm: complex) -> BaseGeometry:
    """Put a region on the grid from a point of its own, which goes to the last decimal by itself.

    Parameters
    ----------
    region : BaseGeometry
        From that point, in mm.
    at_mm : complex
        Where the point lies.
    """
    at = _corner_steps(np.array([at_mm.real, at_mm.imag]))
    laid: BaseGeometry = shapely.transform(region, lambda xy: (_steps(xy) + at) * GRID_MM)
    return laid


def _steps(xy: FloatArray) -> FloatArray:
    """Return whole steps of the grid."""
    return np.asarray(np.rint(np.round(xy, _SURE_DECIMALS) / GRID_MM))


def _corner_steps(corner: FloatArray) -> FloatArray:
    """Return whole steps of the grid in the last decimal of a program; halves go up, anywhere."""
    decimals = np.round(corner * 10**COORDINATE_DECIMALS, _SURE_DECIMALS - COORDINATE_DECIMALS)
    return np.asarray(np.floor(decimals + 0.5) * _CORNER_STEPS)


def _with_holes(parts: NDArray[np.object_], part: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return pairs of rings that are one part's outline and hole, where it has few."""
    outline = np.searchsorted(part, part)
    few = shapely.get_num_interior_rings(parts)[part] <= _FEW_HOLES
    own = np.flatnonzero(few & (outline != np.arange(len(part))))
    return np.array([outline[own], own])
