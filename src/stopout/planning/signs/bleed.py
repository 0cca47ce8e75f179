"""Clearing past the sheet's edge, so that a sheet that lies a little off keeps no line of paint."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stopout.planning.signs.grid import GRID_MM, difference, intersection, on_grid, union

_DIRECTIONS = 8
# What is thinner than this is left by the arithmetic.
_DUST_MM = 0.004
_QUARTER_CHORDS = 8
# As near to paint that stays as this, an edge is one between colours.
_BESIDE_MM = 0.1


def overrun(cleared: BaseGeometry, face: BaseGeometry, bleed_mm: float) -> BaseGeometry:
    """Return what is cleared besides, outside the sheet: straight out from the edges it reaches.

    Parameters
    ----------
    cleared : BaseGeometry
        What is to be cleared, inside the face.
    face : BaseGeometry
        The blank's face, in the same frame; holes are edges too.
    bleed_mm : float
        How far past the edge.
    """
    if bleed_mm <= 0 or cleared.is_empty:
        return Polygon()
    edges = shapely.intersection(face.boundary, _beside(cleared, face).buffer(2 * GRID_MM))
    lines = [line for line in shapely.get_parts(edges) if line.geom_type == "LineString"]
    merged = shapely.line_merge(shapely.multilinestrings(lines)) if lines else None
    if merged is None or merged.length < bleed_mm / 10:
        return Polygon()
    bands = [
        line.buffer(bleed_mm, cap_style="flat", quad_segs=_QUARTER_CHORDS)
        for line in shapely.get_parts(merged)
    ]
    return difference(union([on_grid(band) for band in bands]), face)


def without_slivers(region: BaseGeometry) -> MultiPolygon:
    """Close the holes that the arithmetic leaves where a region goes on past the sheet's edge."""
    rings, owner = shapely.get_rings(shapely.get_parts(region), return_index=True)
    is_outer = np.diff(owner, prepend=-1) > 0
    is_wide = 2 * shapely.area(shapely.polygons(rings)) > _DUST_MM * shapely.length(rings)
    kept = is_outer | is_wide
    return MultiPolygon(shapely.polygons(rings[kept], indices=owner[kept]).tolist())


def _beside(region: BaseGeometry, face: BaseGeometry) -> MultiPolygon:
    """Return the parts of a region beside a face's edge, without holes that have none beside."""
    edge, parts = face.boundary, shapely.get_parts(region)
    shapely.prepare(edge)
    found = []
    for part in parts[shapely.dwithin(edge, parts, _BESIDE_MM)]:
        shell, *holes = shapely.get_rings(part)
        near = [hole for hole in holes if shapely.dwithin(edge, Polygon(hole), _BESIDE_MM)]
        found.append(Polygon(shell, near))
    return MultiPolygon(found)


def edge_sliver_mm(
    wanted: BaseGeometry, opening: BaseGeometry, face: BaseGeometry, *, placing_mm: float
) -> tuple[float, tuple[float, float] | None]:
    """Return the widest line of paint that stays along the sheet's edge when the sheet lies off.

    Parameters
    ----------
    wanted : BaseGeometry
        What is to be cleared, inside the face.
    opening : BaseGeometry
        What is cleared, overrun included.
    face : BaseGeometry
        The blank's face.
    placing_mm : float
        How far the sheet may lie off its place.

    Returns
    -------
    width_mm : float
        0 where none stays.
    at_mm : (x, y) or None
        Its widest place.
    """
    if placing_mm <= 0:
        return 0.0, None
    reach = placing_mm + _BESIDE_MM
    rim, wide = (_rim(face, by) for by in (placing_mm, placing_mm + reach + _DUST_MM))
    # What lies farther in has no say in what is seen along the edge.
    along = intersection(wanted, wide)
    stays = difference(wide, along)
    # Edges between colours move with the sheet too; here only its own edge counts.
    near = stays.buffer(reach, quad_segs=_QUARTER_CHORDS)
    zone = difference(intersection(along, rim), near)
    if zone.is_empty:
        return 0.0, None
    slivers = [difference(zone, _moved(opening, turn, placing_mm)) for turn in range(_DIRECTIONS)]
    return _widest(slivers)


def _rim(face: BaseGeometry, width_mm: float) -> BaseGeometry:
    return difference(face, face.buffer(-width_mm, quad_segs=_QUARTER_CHORDS))


def _moved(opening: BaseGeometry, turn: int, by_mm: float) -> BaseGeometry:
    angle = 2 * math.pi * turn / _DIRECTIONS
    return affinity.translate(opening, by_mm * math.cos(angle), by_mm * math.sin(angle))


def _widest(regions: Sequence[BaseGeometry]) -> tuple[float, tuple[float, float] | None]:
    best, at = 0.0, None
    for region in regions:
        for part in shapely.get_parts(region):
            if part.geom_type != "Polygon" or part.buffer(-max(_DUST_MM, best) / 2).is_empty:
                continue
            disc = shapely.maximum_inscribed_circle(part, tolerance=0.002)
            if 2 * disc.length > max(best, _DUST_MM):
                best, at = 2 * float(disc.length), disc.coords[0]
    return best, None if at is None else (float(at[0]), float(at[1]))
