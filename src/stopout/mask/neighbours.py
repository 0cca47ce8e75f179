"""Which places of a region belong together: neighbours along one stroke, or along one land."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.mask.regions import PolygonArray, parts_of

# The arithmetic may take a straight way this far out of the region that it runs in.
_SLACK_MM = 0.001


def neighbours(places: PolygonArray, region: BaseGeometry, *, within_mm: float) -> list[list[int]]:
    """Group places of a region that lie next to one another in it.

    Two places are neighbours where the straight way from one to the other is no longer than
    `within_mm` and stays inside the region: not where a gap parts them.

    Parameters
    ----------
    places : array of geometries
        Places of the region, such as what an opening loses of it, in mm.
    region : BaseGeometry
        The region they are places of.
    within_mm : float
        How far apart neighbours may be.

    Returns
    -------
    list of list of int
        Indices of the places, each group ascending, groups by their first place.
    """
    home = np.arange(len(places))
    if len(home) < 2:
        return [[k] for k in home.tolist()]
    first, second = shapely.STRtree(places).query(places, predicate="dwithin", distance=within_mm)
    once = first < second
    first, second = first[once], second[once]
    inside = _stay_inside(shapely.shortest_line(places[first], places[second]), region)
    for a, b in zip(first[inside], second[inside], strict=True):
        low, high = sorted((home[a], home[b]))
        home[home == high] = low
    return [np.flatnonzero(home == group).tolist() for group in np.unique(home)]


def _stay_inside(ways: PolygonArray, region: BaseGeometry) -> NDArray[np.bool_]:
    """Tell which straight ways stay inside a region."""
    parts = parts_of(region)
    length = shapely.length(ways)
    covered = np.zeros(len(ways))
    way, part = shapely.STRtree(parts).query(ways, predicate="intersects")
    np.add.at(covered, way, shapely.length(shapely.intersection(ways[way], parts[part])))
    return np.asarray(length - covered <= _SLACK_MM)
