"""What lies round a place of a region, so that looking at one place costs only its surroundings."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.mask.regions import PolygonArray, clip_each, gathered, parts_of, parts_of_each


class Surroundings:
    """Looks up parts of a region near a place, or near each of many."""

    def __init__(self, region: BaseGeometry | PolygonArray) -> None:
        self.parts = parts_of(region)
        self.tree = shapely.STRtree(self.parts)

    def touching(self, place: BaseGeometry) -> PolygonArray:
        """Return the parts that a place touches."""
        found: PolygonArray = self.parts[self.tree.query(place, predicate="intersects")]
        return found

    def own(self, place: BaseGeometry, margin_mm: float) -> BaseGeometry:
        """Return the parts that a place touches, cut off `margin_mm` beyond it."""
        # Parts may overlap, as what lines finish does.
        return shapely.union_all(parts_of(self.own_of_each(np.array([place]), margin_mm)))

    def near(self, place: BaseGeometry, margin_mm: float) -> PolygonArray:
        """Return all parts within a frame `margin_mm` round a place, cut off there."""
        return parts_of(self.near_each(np.array([place]), margin_mm))

    def touched_by(self, places: PolygonArray) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Return pairs of places and the parts that they touch, as indices, place by place."""
        place, part = self.tree.query(places, predicate="intersects")
        order = np.lexsort([part, place])
        return place[order], part[order]

    def own_of_each(self, places: PolygonArray, margin_mm: float) -> PolygonArray:
        """Return what `own` does for each place."""
        return self.cut_round(places, margin_mm, *self.touched_by(places))

    def near_each(self, places: PolygonArray, margin_mm: float) -> PolygonArray:
        """Return what `near` does for each place, each as one geometry."""
        return self.cut_round(places, margin_mm, *self.touched_by(frames_round(places, margin_mm)))

    def cut_round(
        self,
        places: PolygonArray,
        margin_mm: float,
        place: NDArray[np.intp],
        part: NDArray[np.intp],
    ) -> PolygonArray:
        """Return for each place the parts paired with it, cut off beyond it, as one geometry.

        Pairs are in the order of the places.
        """
        bounds = shapely.bounds(frames_round(places, margin_mm))
        cut = clip_each(self.parts[part], bounds[place])
        parts, pair = parts_of_each(cut)
        return gathered(parts, place[pair], len(places))


def near_in_own(
    inner: Surroundings, outer: Surroundings, places: PolygonArray, margin_mm: float
) -> PolygonArray:
    """Return what lies near each place of a region within those parts of another that it touches.

    Each part of the inner region lies within one part of the outer. What lies within other parts,
    however near, is left out.
    """
    home = np.full(len(inner.parts), len(outer.parts))
    piece, part = outer.tree.query(shapely.point_on_surface(inner.parts), predicate="intersects")
    home[piece] = part
    place, piece = inner.touched_by(frames_round(places, margin_mm))
    touched, part = outer.touched_by(places)
    count = len(outer.parts) + 1
    own = np.isin(place * count + home[piece], touched * count + part)
    return inner.cut_round(places, margin_mm, place[own], piece[own])


def frames_round(places: PolygonArray, margin_mm: float) -> PolygonArray:
    """Return the rectangle round each place, larger by a margin on each side."""
    x0, y0, x1, y1 = shapely.bounds(places).T
    frames: PolygonArray = shapely.box(
        x0 - margin_mm, y0 - margin_mm, x1 + margin_mm, y1 + margin_mm
    )
    return frames
