"""The point of one region that lies farthest from another, by branch and bound."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.outcome.advance import advance
from stopout.outcome.fill import as_region
from stopout.values import FloatArray

__all__ = ["Farthest", "Outline", "farthest", "parts_near"]

# The search ends when nothing can be farther by more than this.
_EXACT_MM = 5e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Farthest:
    """A largest distance and where it is; zero and None where there is nothing to measure."""

    distance_mm: float = 0.0
    at_mm: tuple[float, float] | None = None


class Outline:
    """The straight edges of a region's boundary, to be asked for the nearest."""

    def __init__(self, region: BaseGeometry) -> None:
        self.region = region
        a, b, _ = ring_edges(region)
        self.edges = np.hstack([a, b])
        self._tree = shapely.STRtree(shapely.linestrings(np.stack([a, b], axis=1)))

    def nearest(self, points_mm: FloatArray) -> NDArray[np.intp]:
        """Index of the edge nearest to each point of an (..., 2) array."""
        flat = shapely.points(points_mm.reshape(-1, 2))
        found: NDArray[np.intp] = self._tree.query_nearest(flat, all_matches=False)[1]
        return found.reshape(points_mm.shape[:-1])

    def distance(self, points_mm: FloatArray, edge: NDArray[np.intp]) -> FloatArray:
        """Distance of points to given edges, in mm; the two broadcast against each other."""
        edges = self.edges[edge]
        ax, ay, bx, by = (edges[..., i] for i in range(4))
        dx, dy = bx - ax, by - ay
        px, py = points_mm[..., 0] - ax, points_mm[..., 1] - ay
        along = np.clip((px * dx + py * dy) / (dx * dx + dy * dy), 0.0, 1.0)
        out: FloatArray = np.hypot(px - along * dx, py - along * dy)
        return out


def ring_edges(region: BaseGeometry) -> tuple[FloatArray, FloatArray, NDArray[np.intp]]:
    """Both ends, (n, 2) each, of all edges of a region, and which of its parts each belongs to."""
    parts = shapely.get_parts(region)
    rings, part = shapely.get_rings(parts, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    inner = (ring[1:] == ring[:-1]) & (points[1:] != points[:-1]).any(axis=1)
    return points[:-1][inner], points[1:][inner], part[ring[:-1][inner]]


def farthest(region: BaseGeometry, outline: Outline) -> Farthest:
    """Find the point of a region that lies farthest from another region.

    Parameters
    ----------
    region : Polygon or MultiPolygon
        Where to look; it must not overlap the inside of the other.
    outline : Outline
        Of the other region, which must not be empty.

    Returns
    -------
    Farthest
        The largest distance to the other region, at most 1 um too small, and a point that has it.

    Notes
    -----
    A point inside the region can be farther than any on its edge, as the middle of a closed hole
    is. So first the edges are searched; then whatever the other region, grown by the distance
    found, does not cover, is cut into triangles and searched in the same way. A piece is given up
    when its points cannot be farther: the distance to one fixed edge, and the mean of the
    distances to several, are convex, hence largest at the piece's corners, and the distance to
    the nearest edge exceeds neither.
    """
    if region.is_empty:
        return Farthest()
    a, b, part = ring_edges(region)
    best, bound = _search(np.stack([a, b], axis=1), outline, Farthest())
    limit = best.distance_mm + _EXACT_MM
    suspects = _roomy(region, part, bound, limit)
    if suspects.is_empty:
        return best
    grown = advance(parts_near(outline.region, suspects, limit), limit)
    beyond = as_region(shapely.difference(suspects, grown))
    return best if beyond.is_empty else _search(_triangles(beyond), outline, best)[0]


def _roomy(
    region: BaseGeometry, part: NDArray[np.intp], bound: FloatArray, limit_mm: float
) -> BaseGeometry:
    """Parts in which a point may be farther than the limit although no edge point is.

    Such a point keeps, from every edge point of its part, at least what it is farther than that;
    so the part must hold a disc of the difference.
    """
    parts = shapely.get_parts(region)
    highest = np.zeros(len(parts))
    np.maximum.at(highest, part, bound)
    spare = np.maximum(limit_mm - highest, 0.0)
    return shapely.multipolygons(parts[shapely.area(parts) > np.pi * spare**2])


def parts_near(region: BaseGeometry, places: BaseGeometry, reach_mm: float) -> BaseGeometry:
    """Return the parts of a region that may come within some reach of given places."""
    x0, y0, x1, y1 = shapely.bounds(places)
    box = shapely.box(x0 - reach_mm, y0 - reach_mm, x1 + reach_mm, y1 + reach_mm)
    parts = shapely.get_parts(region)
    return shapely.multipolygons(parts[shapely.intersects(parts, box)])


def _triangles(region: BaseGeometry) -> FloatArray:
    cut = shapely.get_parts(shapely.constrained_delaunay_triangles(region))
    corners: FloatArray = shapely.get_coordinates(cut).reshape(-1, 4, 2)[:, :3]
    return corners


def _search(pieces: FloatArray, outline: Outline, best: Farthest) -> tuple[Farthest, FloatArray]:
    """Search straight pieces or triangles, (n, 2 or 3, 2); also return the first bounds."""
    first_bound: FloatArray | None = None
    near, own = _measured(pieces, outline)
    while len(pieces):
        best = _better(best, pieces, own)
        bound = _bound(pieces, near, own, outline)
        first_bound = bound if first_bound is None else first_bound
        left = bound > best.distance_mm + _EXACT_MM
        pieces = _halves(pieces[left])
        near, own = _measured(pieces, outline)
    return best, np.zeros(0) if first_bound is None else first_bound


def _measured(pieces: FloatArray, outline: Outline) -> tuple[NDArray[np.intp], FloatArray]:
    """Nearest edge of every corner, and the distance to it."""
    if not len(pieces):
        return np.zeros(pieces.shape[:2], dtype=np.intp), np.zeros(pieces.shape[:2])
    # Neighbouring pieces share their corners; each is asked for once.
    points, which = np.unique(pieces.reshape(-1, 2), axis=0, return_inverse=True)
    near = outline.nearest(points)
    own = outline.distance(points, near)
    return near[which].reshape(pieces.shape[:2]), own[which].reshape(pieces.shape[:2])


def _better(best: Farthest, pieces: FloatArray, own: FloatArray) -> Farthest:
    place = np.unravel_index(int(np.argmax(own)), own.shape)
    if own[place] <= best.distance_mm:
        return best
    x, y = pieces[place]
    return Farthest(distance_mm=float(own[place]), at_mm=(float(x), float(y)))


def _bound(
    pieces: FloatArray, near: NDArray[np.intp], own: FloatArray, outline: Outline
) -> FloatArray:
    """No point of a piece is farther than this."""
    # [n, i, j]: corner i to the edge nearest to corner j.
    to_edge = outline.distance(pieces[:, :, None, :], near[:, None, :])
    corners = pieces.shape[1]
    bounds = [to_edge[:, :, j].max(axis=1) for j in range(corners)]
    bounds.append(to_edge.mean(axis=2).max(axis=1))
    if corners == 3:
        pairs = ((0, 1), (1, 2), (0, 2))
        bounds += [to_edge[:, :, pair].mean(axis=2).max(axis=1) for pair in pairs]
    side = pieces - np.roll(pieces, 1, axis=1)
    longest = np.hypot(side[..., 0], side[..., 1]).max(axis=1)
    # From the nearer of its corners no point of a piece is farther than the longest side.
    bounds.append(own.min(axis=1) + longest)
    out: FloatArray = np.min(bounds, axis=0)
    return out


def _halves(pieces: FloatArray) -> FloatArray:
    """Cut lines at their middles into two, triangles at their sides' middles into four."""
    if pieces.shape[1] == 2:
        a, b = pieces[:, 0], pieces[:, 1]
        mid = (a + b) / 2
        return np.concatenate([np.stack([a, mid], axis=1), np.stack([mid, b], axis=1)])
    a, b, c = pieces[:, 0], pieces[:, 1], pieces[:, 2]
    ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
    quarters = ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))
    return np.concatenate([np.stack(quarter, axis=1) for quarter in quarters])
