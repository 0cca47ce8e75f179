"""Local widths of the target and of the land, along their medial axes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.mask.regions import parts_of, ring_points
from stopout.mask.triangles import circles, delaunay
from stopout.values import FloatArray

# Boundary points nearer to each other than this share of their disc's diameter do not face.
_FACING = 0.85
# Points of long straight edges lie on one line, on which a triangulation takes a time that goes
# with their square; moved by this little it goes with their number.
_SHAKEN_MM = 1e-5
# Multiples of these fall evenly and never in step: 1 / g and 1 / g^2 of g^3 = g + 1.
_UNEVEN = np.array([0.7548776662, 0.5698402910])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LocalWidths:
    """Widths met along a medial axis.

    Attributes
    ----------
    at_mm : (n, 2) ndarray
        Places on the axis.
    width_mm : (n,) ndarray
        Diameter of the largest disc inside the region there.
    length_mm : (n,) ndarray
        Length of axis that each place stands for.
    """

    at_mm: FloatArray
    width_mm: FloatArray
    length_mm: FloatArray

    def quantiles(self, shares: tuple[float, ...]) -> tuple[float, ...]:
        """Return the widths under which these shares of the axis' length lie."""
        if not len(self.width_mm):
            return ()
        order = np.argsort(self.width_mm)
        # A square's axis is a point: places without a length weigh alike.
        length = self.length_mm if self.length_mm.sum() > 0 else np.ones_like(self.length_mm)
        share = np.cumsum(length[order]) / length.sum()
        index = np.minimum(np.searchsorted(share, shares), len(order) - 1)
        return tuple(float(width) for width in self.width_mm[order][index])


NO_WIDTHS = LocalWidths(at_mm=np.empty((0, 2)), width_mm=np.empty(0), length_mm=np.empty(0))


def local_widths(
    target: BaseGeometry, face: BaseGeometry, *, spacing_mm: float = 0.1
) -> tuple[LocalWidths, LocalWidths]:
    """Measure local widths of a target and of the land that is left of the face.

    Both come from one Voronoi diagram of points along all edges. Across each of its ridges the
    distances to the edges on both sides are added, not those to the points: the width of a bar or
    a wedge is exact wherever the points lie.

    Parameters
    ----------
    target, face : BaseGeometry
        Regions in mm.
    spacing_mm : float
        Greatest distance of boundary points.

    Returns
    -------
    target, land : LocalWidths
    """
    # Curves need no finer chords than a tenth of what the widths are good for.
    edges = [*shapely.simplify(parts_of(target), spacing_mm / 20), *parts_of(face)]
    rings = shapely.segmentize(shapely.get_rings(np.array(edges)), spacing_mm)
    points, beside = _with_neighbours(rings)
    points += _SHAKEN_MM * (2 * (np.arange(len(points))[:, None] * _UNEVEN % 1) - 1)
    ends, sites = voronoi_ridges(points, np.zeros(len(points)))
    middle = ends.mean(axis=1)
    radius = np.hypot(*(middle - points[sites[:, 0]]).T)
    chord = np.hypot(*(points[sites[:, 0]] - points[sites[:, 1]]).T)
    faces = chord > 2 * _FACING * radius
    faces &= chord > 1.05 * spacing_mm * (radius < spacing_mm)
    middle, sites, ends = middle[faces], sites[faces], ends[faces]
    one, other = (_distance_to_edges(middle, points[k], beside[k]) for k in sites.T)
    across = one + other
    length = np.hypot(*(ends[:, 0] - ends[:, 1]).T)
    # Copies are prepared: another thread may be asking the regions themselves.
    own, around = (shapely.multipolygons(parts_of(region)) for region in (target, face))
    shapely.prepare([own, around])
    in_target = shapely.contains_xy(own, *middle.T)
    in_land = ~in_target & shapely.contains_xy(around, *middle.T)
    first, second = (
        LocalWidths(at_mm=middle[here], width_mm=across[here], length_mm=length[here])
        for here in (in_target, in_land)
    )
    return first, second


def _with_neighbours(rings: NDArray[np.object_]) -> tuple[FloatArray, FloatArray]:
    """Return the rings' points, each once, and the points before and after each: (n, 2, 2)."""
    xy, _, before, after = ring_points(rings)
    points, at = np.unique(np.round(xy, 6), axis=0, return_index=True)
    return points, np.stack([before[at], after[at]], axis=1)


def _distance_to_edges(from_mm: FloatArray, points: FloatArray, beside: FloatArray) -> FloatArray:
    """Return how far places are from the nearer of the two edges that meet in a point each."""
    along = beside - points[:, None]
    off = (from_mm - points)[:, None]
    length2 = np.maximum((along**2).sum(axis=2), 1e-18)
    share = np.clip((along * off).sum(axis=2) / length2, 0, 1)
    foot = off - share[..., None] * along
    nearer: FloatArray = np.sqrt((foot**2).sum(axis=2).min(axis=1))
    return nearer


def voronoi_ridges(points: FloatArray, owner: NDArray[Any]) -> tuple[FloatArray, NDArray[np.intp]]:
    """Return the bounded ridges of points' Voronoi diagrams and the two points each parts.

    Read from the Delaunay triangulation, whose arrays come without the diagram's lists of regions:
    a ridge joins the circumcentres of two triangles and parts the ends of their common side.

    Parameters
    ----------
    points : (n, 2) ndarray
        In mm.
    owner : (n,) ndarray
        Whose each is, owner by owner: each owner's points have a diagram of their own.

    Returns
    -------
    ends : (m, 2, 2) ndarray
        Both ends of each ridge; none of fewer than four points, or of such that lie on one line.
    sites : (m, 2) ndarray of int
        The points on its two sides.
    """
    triangles, neighbours = _triangles(points, owner)
    centres, _ = circles(points, triangles)
    here = np.arange(len(centres))
    is_real = np.asarray(np.isfinite(centres).all(axis=1))
    found_ends, found_sites = [], []
    for k in range(3):
        # Each side is met from both its triangles: once is enough.
        other = neighbours[:, k]
        once = (other > here) & is_real
        once[once] = is_real[other[once]]
        found_ends.append(np.stack([centres[once], centres[other[once]]], axis=1))
        found_sites.append(triangles[once][:, [(k + 1) % 3, (k + 2) % 3]])
    return np.concatenate(found_ends), np.concatenate(found_sites)


def _triangles(
    points: FloatArray, owner: NDArray[Any]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the Delaunay triangles of each owner's points, and their neighbours; -1 for none."""
    triangles, neighbours, count = [], [], 0
    for own in np.split(np.arange(len(points)), np.flatnonzero(np.diff(owner)) + 1):
        found, near = delaunay(points[own])
        triangles.append(own[found])
        neighbours.append(np.where(near < 0, -1, near + count))
        count += len(found)
    return np.concatenate(triangles), np.concatenate(neighbours)
