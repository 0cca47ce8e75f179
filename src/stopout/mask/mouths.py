"""Corners at the mouth of a thin stroke: which of their lines are needed once it is followed.

Where a stroke too thin for the plain opening leaves a wide part, the beam centres end in a corner
that points into the stroke. Its line was balanced as if nothing else were made there; once the
stroke is followed, it may only take the edge farther outside.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.mask.regions import PolygonArray
from stopout.mask.surroundings import Surroundings

# Corners of what is compared are told apart to this.
_SAMPLE_MM = 0.01


def still_needed(
    bumps: PolygonArray, strokes: PolygonArray, kept: BaseGeometry, target: BaseGeometry
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Tell which corner lines still lessen the worst error beside the strokes that are followed.

    Parameters
    ----------
    bumps : array of Polygon
        What each corner line finishes, in mm.
    strokes : array of geometries
        What the followed strokes finish.
    kept : BaseGeometry
        What the plain opening finishes.
    target : BaseGeometry
        What is to be finished.

    Returns
    -------
    (n,) ndarray of bool
        False where the edge would go farther outside by the line than it stops short without it.
    """
    needed = np.ones(len(bumps), dtype=bool)
    tree = shapely.STRtree(strokes)
    corner, stroke = tree.query(bumps, predicate="intersects")
    if not len(corner):
        return needed
    drawn, opened = Surroundings(target), Surroundings(kept)
    for k in np.unique(corner):
        bump = bumps[k]
        own = shapely.union_all(drawn.near(bump, _SAMPLE_MM))
        others = [*opened.near(bump, _SAMPLE_MM), *strokes[stroke[corner == k]]]
        alone = shapely.difference(bump, shapely.union_all(others))
        gained = _farthest(shapely.intersection(alone, own), shapely.union_all(others))
        needed[k] = gained > _farthest(shapely.difference(alone, own), own)
    return needed


def _farthest(region: BaseGeometry, other: BaseGeometry) -> float:
    """Return the largest distance of a region's points from another region."""
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(region, _SAMPLE_MM)))
    return float(shapely.distance(points, other).max()) if len(points) else 0.0
