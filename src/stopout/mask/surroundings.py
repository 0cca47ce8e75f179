"""What lies round a place of a region, so that looking at one place costs only its surroundings."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from stopout.mask.regions import PolygonArray, clip_each, parts_of


class Surroundings:
    """Looks up parts of a region near a place."""

    def __init__(self, region: BaseGeometry | PolygonArray) -> None:
        self.parts = parts_of(region)
        self.tree = shapely.STRtree(self.parts)

    def touching(self, place: BaseGeometry) -> PolygonArray:
        """Return the parts that a place touches."""
        found: PolygonArray = self.parts[self.tree.query(place, predicate="intersects")]
        return found

    def own(self, place: BaseGeometry, margin_mm: float) -> BaseGeometry:
        """Return the parts that a place touches, cut off `margin_mm` beyond it."""
        return shapely.union_all(_clipped(self.touching(place), place, margin_mm))

    def near(self, place: BaseGeometry, margin_mm: float) -> PolygonArray:
        """Return all parts within a frame `margin_mm` round a place, cut off there."""
        frame = frame_round(place, margin_mm)
        return _clipped(self.touching(frame), place, margin_mm)


def frame_round(place: BaseGeometry, margin_mm: float) -> BaseGeometry:
    """Return the rectangle round a place, larger by a margin on each side."""
    x0, y0, x1, y1 = place.bounds
    return box(x0 - margin_mm, y0 - margin_mm, x1 + margin_mm, y1 + margin_mm)


def _clipped(parts: PolygonArray, place: BaseGeometry, margin_mm: float) -> PolygonArray:
    """Cut parts off at the frame round a place."""
    bounds = np.tile(frame_round(place, margin_mm).bounds, (len(parts), 1))
    return parts_of(clip_each(parts, bounds))
