"""The point of one region that lies farthest from another, by branch and bound."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.outcome.advance import advance
from stopout.outcome.fill import as_region
from stopout.values import FloatArray

# The search ends when nothing can be farther by more than this.
_EXACT_MM = 5e-4
# A region of fewer edges than this is sooner grown than pieces are bounded.
_LARGE = 2_000
# Triangles are searched where there are fewer than one for so many edges.
_MANY = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Farthest:
    """A largest distance and where it is; zero and None where there is nothing to measure."""

    distance_mm: float = 0.0
    at_mm: tuple[float, float] | None = None


class Outline:
    """The straight edges of a region's boundary, to be asked for the nearest."""

    def __init__(self, region: BaseGeometry) -> None:
        self.region = region

    @cached_property
    def edges(self) -> FloatArray:
        """(n, 4): both ends of each edge."""
        rings = shapely.get_rings(shapely.get_parts(self.region))
        points, ring = shapely.get_coordinates(rings, return_index=True)
        inner = (ring[1:] == ring[:-1]) & (points[1:] != points[:-1]).any(axis=1)
        return np.hstack([points[:-1][inner], points[1:][inner]])

    @cached_property
    def _corners(self) -> tuple[NDArray[np.complex128], NDArray[np.intp]]:
        """The corners in order, and for each an edge that begins there."""
        return np.unique(_as_complex(self.edges[:, :2]), return_index=True)

    def measured(self, points_mm: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
        """Index of the edge nearest to each of some points, (n, 2), and the distance to it.

        Many points are corners of the outline itself, and need not be looked for.
        """
        points, which = np.unique(_as_complex(points_mm), return_inverse=True)
        corners, begins = self._corners
        at = np.minimum(np.searchsorted(corners, points), len(corners) - 1)
        near, own = begins[at], np.zeros(len(points))
        off = corners[at] != points
        places = np.column_stack([points[off].real, points[off].imag])
        near[off] = self.nearest(places)
        own[off] = self.distance(places, near[off])
        return near[which], own[which]

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(shapely.linestrings(self.edges.reshape(-1, 2, 2)))

    def nearest(self, points_mm: FloatArray) -> NDArray[np.intp]:
        """Index of the edge nearest to each of some points, (n, 2)."""
        points = shapely.points(points_mm)
        found: NDArray[np.intp] = self._tree.query_nearest(points, all_matches=False)[1]
        return found

    def distance(self, points_mm: FloatArray, edge: NDArray[np.intp]) -> FloatArray:
        """Distance of points to given edges, in mm; the two broadcast against each other."""
        edges = self.edges[edge]
        ax, ay, bx, by = (edges[..., i] for i in range(4))
        dx, dy = bx - ax, by - ay
        px, py = points_mm[..., 0] - ax, points_mm[..., 1] - ay
        along = np.clip((px * dx + py * dy) / (dx * dx + dy * dy), 0.0, 1.0)
        out: FloatArray = np.hypot(px - along * dx, py - along * dy)
        return out


def _as_complex(points_mm: FloatArray) -> NDArray[np.complex128]:
    """One number a point: they are sorted much faster than rows are."""
    return np.asarray(points_mm[:, 0] + 1j * points_mm[:, 1])


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
        The largest distance to the other region, at most 1 um too small, and a point that has
        it. Distances below 0.5 um count as none.

    Notes
    -----
    The farthest point need not be a corner: it may lie within an edge or, as in a hole that is
    covered, in the middle. So the corners give a distance, and what may hold a farther point is cut
    into triangles and searched by branch and bound. Where these are many, what the other region
    grown by the distance does not cover is searched instead; mostly that is nothing. A triangle is
    given up when no point of it can be farther: the distance to one fixed edge, and the mean of the
    distances to several, are convex, hence largest at the triangle's corners, and the distance to
    the nearest edge exceeds neither.
    """
    if region.is_empty:
        return Farthest()
    parts = shapely.get_parts(region)
    rings, owner = shapely.get_rings(parts, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    near, own = outline.measured(points)
    best = _better(Farthest(), points, own)
    if best.distance_mm <= _EXACT_MM:
        best = Farthest()
    limit = best.distance_mm + _EXACT_MM
    if len(outline.edges) < _LARGE:
        left = beyond(region, outline.region, limit)
        return _search(_triangles(shapely.get_parts(left))[0], outline, best)
    whose = owner[ring]
    kept = np.flatnonzero(_piece_bounds(parts, points, near, own, ring, whose, outline) > limit)
    pieces, piece = _triangles(parts[kept])
    at = _indices(pieces.reshape(-1, 2), points).reshape(pieces.shape[:2])
    left = _bound(pieces, near[at], own[at], outline) > limit
    if _MANY * np.count_nonzero(left) > len(outline.edges):
        around = shapely.multipolygons(parts[kept[np.unique(piece[left])]])
        rest = beyond(around, outline.region, limit)
        return _search(_triangles(shapely.get_parts(rest))[0], outline, best)
    return _search(pieces[left], outline, best)


def _piece_bounds(
    parts: NDArray[np.object_],
    points: FloatArray,
    near: NDArray[np.intp],
    own: FloatArray,
    ring: NDArray[np.intp],
    whose: NDArray[np.intp],
    outline: Outline,
) -> FloatArray:
    """No point of a part is farther than this.

    No point of an edge is farther from what lies nearest to one end of it than both ends are. From
    its edge none lies deeper than the radius of a disc of its area.
    """
    k = np.flatnonzero(ring[1:] == ring[:-1])
    one = np.maximum(own[k], outline.distance(points[k + 1], near[k]))
    other = np.maximum(own[k + 1], outline.distance(points[k], near[k + 1]))
    bound = np.zeros(len(parts))
    np.maximum.at(bound, whose[k], np.minimum(one, other))
    return np.asarray(bound + np.sqrt(shapely.area(parts) / np.pi))


def _indices(some_mm: FloatArray, points_mm: FloatArray) -> NDArray[np.intp]:
    """Return where some of some points stand among all of them."""
    found, first = np.unique(_as_complex(points_mm), return_index=True)
    return first[np.searchsorted(found, _as_complex(some_mm))]


def beyond(region: BaseGeometry, other: BaseGeometry, distance_mm: float) -> MultiPolygon:
    """Return what of a region lies farther than a distance from another region."""
    if region.is_empty:
        return MultiPolygon()
    near = advance(_parts_near(other, region, distance_mm), distance_mm)
    return as_region(shapely.difference(region, near))


def _parts_near(region: BaseGeometry, places: BaseGeometry, reach_mm: float) -> BaseGeometry:
    """Return the parts of a region that may come within some reach of given places."""
    x0, y0, x1, y1 = shapely.bounds(places)
    box = shapely.box(x0 - reach_mm, y0 - reach_mm, x1 + reach_mm, y1 + reach_mm)
    parts = shapely.get_parts(region)
    return shapely.multipolygons(parts[shapely.intersects(parts, box)])


def _triangles(parts: NDArray[np.object_]) -> tuple[FloatArray, NDArray[np.intp]]:
    """Cut parts into triangles, (n, 3, 2); also whose each is."""
    cut, whose = shapely.get_parts(shapely.constrained_delaunay_triangles(parts), return_index=True)
    return shapely.get_coordinates(cut).reshape(-1, 4, 2)[:, :3], whose


def _search(pieces: FloatArray, outline: Outline, best: Farthest) -> Farthest:
    """Search triangles, (n, 3, 2), for a point farther than the best."""
    while len(pieces):
        near, own = _measured(pieces, outline)
        best = _better(best, pieces, own)
        left = _bound(pieces, near, own, outline) > best.distance_mm + _EXACT_MM
        pieces = _quarters(pieces[left])
    return best


def _measured(pieces: FloatArray, outline: Outline) -> tuple[NDArray[np.intp], FloatArray]:
    """Nearest edge of every corner, and the distance to it."""
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
    some = ((0,), (1,), (2,), (0, 1), (1, 2), (0, 2), (0, 1, 2))
    bounds = [to_edge[:, :, edges].mean(axis=2).max(axis=1) for edges in some]
    side = pieces - np.roll(pieces, 1, axis=1)
    longest = np.hypot(side[..., 0], side[..., 1]).max(axis=1)
    # From the nearer of its corners no point of a piece is farther than the longest side.
    bounds.append(own.min(axis=1) + longest)
    out: FloatArray = np.min(bounds, axis=0)
    return out


def _quarters(pieces: FloatArray) -> FloatArray:
    """Cut triangles at the middles of their sides into four each."""
    a, b, c = pieces[:, 0], pieces[:, 1], pieces[:, 2]
    ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
    corners = ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))
    return np.concatenate([np.stack(quarter, axis=1) for quarter in corners])
