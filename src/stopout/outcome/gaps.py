"""What an eye takes for one area: marked lines with the narrow gaps between them closed."""

from __future__ import annotations

import shapely
from shapely import MultiPolygon, Polygon

from stopout.outcome.fill import as_region

_TOLERANCE_MM = 0.002


def closed_gaps(region: MultiPolygon, widest_mm: float) -> MultiPolygon:
    """Return a region without its holes that no disc of a given width fits into.

    Parameters
    ----------
    region : MultiPolygon
        What a program marks.
    widest_mm : float
        Width of the disc: the widest spacing of the lines. A counter of the artwork that is no
        wider is closed too, and is then told as merged.
    """
    parts = []
    for part in shapely.get_parts(region):
        kept = [ring for ring in part.interiors if _width_mm(Polygon(ring)) > widest_mm]
        parts.append(Polygon(part.exterior, kept))
    return as_region(shapely.union_all(parts))


def _width_mm(hole: Polygon) -> float:
    """Diameter of the largest disc in a hole."""
    x0, y0, x1, y1 = hole.bounds
    if min(x1 - x0, y1 - y0) < _TOLERANCE_MM:
        return 0.0
    return 2 * float(shapely.maximum_inscribed_circle(hole, tolerance=_TOLERANCE_MM).length)
