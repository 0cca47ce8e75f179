"""Marks outside the piece by which a film or a cut mask is laid: outline, corners, holes."""

from __future__ import annotations

import shapely
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from stopout.mask.regions import as_multipolygon, parts_of

# A line that a printer holds and an eye finds without a loupe.
LINE_MM = 0.2
_CORNER_FROM_MM, _CORNER_TO_MM = 1.0, 4.0


def register_marks(face: BaseGeometry) -> MultiPolygon:
    """Return thin lines about a piece, none of them on its face.

    Parameters
    ----------
    face : BaseGeometry
        The blank's face with its holes, in mm.

    Returns
    -------
    MultiPolygon
        The outline and the holes' edges, drawn just off the face; a bracket at each corner of the
        blank's box, and a cross in each hole that has room for one.
    """
    outer = shapely.union_all([Polygon(part.exterior) for part in parts_of(face)])
    marks = [outer.buffer(LINE_MM, join_style="mitre").difference(outer)]
    marks += [*_corners(outer.bounds)]
    for part in parts_of(face):
        for ring in part.interiors:
            hole = Polygon(ring)
            marks += [hole.difference(hole.buffer(-LINE_MM)), _cross(hole)]
    return as_multipolygon(shapely.union_all(marks).difference(face))


def _corners(bounds: tuple[float, float, float, float]) -> list[BaseGeometry]:
    """Two strokes at each corner, in line with the box's sides, outside of it."""
    x0, y0, x1, y1 = bounds
    near, far, half = _CORNER_FROM_MM, _CORNER_TO_MM, LINE_MM / 2
    strokes: list[BaseGeometry] = []
    for x, out in ((x0, -1), (x1, 1)):
        for y, up in ((y0, -1), (y1, 1)):
            across = sorted((x + out * near, x + out * far))
            along = sorted((y + up * near, y + up * far))
            strokes.append(box(across[0], y - half, across[1], y + half))
            strokes.append(box(x - half, along[0], x + half, along[1]))
    return strokes


def _cross(hole: Polygon) -> BaseGeometry:
    x, y, half = hole.centroid.x, hole.centroid.y, LINE_MM / 2
    arm = hole.exterior.distance(hole.centroid) / 2
    if arm < 3 * LINE_MM:
        return Polygon()
    return box(x - arm, y - half, x + arm, y + half).union(
        box(x - half, y - arm, x + half, y + arm)
    )
