"""The medial axes of thin places, all at once: ridges between edges that face each other.

The medial axis is read from the Voronoi diagram of points along the target's boundary. A branch
is kept only where the two nearest boundary points face each other, so that the branches which run
into square corners and along noise of the boundary are left out.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from stopout.mask.regions import PolygonArray
from stopout.mask.widthmap import voronoi_ridges
from stopout.values import FloatArray

NO_LINE = shapely.MultiLineString()
# Two boundary points face each other where the chord between them is nearly a diameter:
# 0.85 leaves out the branches into corners of 64 degrees and more, and keeps sharper tapers.
_FACING = 0.85
# Where the centre line itself turns at an acute angle they face less than that.
_HARDLY_FACING = 0.5
# A stroke narrower than this share of the reach is a hairline, and grown by that share to be read.
_HAIRLINE = 0.25
_THICKER = 1 / 6
# Edges are looked at within this many reaches of a place, ridges within that many.
_EDGE_WITHIN = 2.6
_RIDGE_WITHIN = 1.3
# Samples and vertices of the diagram are told apart to this many decimals of a millimetre.
_SAMPLE_DECIMALS = 7
_VERTEX_DECIMALS = 5


def medial_axes(
    places: PolygonArray, around: PolygonArray, edges: PolygonArray, *, reach_mm: float
) -> PolygonArray:
    """Return the facing ridges of thin places; of hairlines, those of them drawn thicker.

    A hairline asks for samples as close as it is wide, tens of thousands of them; grown a little
    on both sides it has the same centre line and asks for few.

    Parameters
    ----------
    places : (n,) array of Polygon
        What a plain opening loses, in mm.
    around : (n,) array of geometries
        The target round each of them, at least 3 reach beyond it.
    edges : (n,) array of geometries
        What `edges_round` returns of them.
    reach_mm : float
        Radius of what is finished round one beam position, at its largest.

    Returns
    -------
    (n,) array of geometries
        Lines, perhaps empty ones.
    """
    found = np.full(len(places), NO_LINE)
    is_hairline = _width(places) <= _HAIRLINE * reach_mm
    if is_hairline.any():
        grow = _THICKER * reach_mm
        thick = shapely.buffer(places[is_hairline], grow)
        grown = shapely.buffer(around[is_hairline], grow)
        thick_edges = edges_round(thick, grown, reach_mm=reach_mm)
        found[is_hairline] = _facing_ridges(thick, grown, thick_edges, reach_mm)
    # What is lost of a neck hardly too thin is thin too, though the neck itself is not.
    rest = shapely.is_empty(found)
    if rest.any():
        found[rest] = _facing_ridges(places[rest], around[rest], edges[rest], reach_mm)
    return found


def edges_round(places: PolygonArray, around: PolygonArray, *, reach_mm: float) -> PolygonArray:
    """Return the edges of the target round each place, as far as its medial axis needs them."""
    frames = round_about(places, _EDGE_WITHIN * reach_mm)
    return np.asarray(shapely.intersection(shapely.boundary(around), frames))


def _width(places: PolygonArray) -> FloatArray:
    """About how wide thin places are."""
    return np.asarray(2 * shapely.area(places) / np.maximum(shapely.length(places), 1e-9))


def _facing_ridges(
    places: PolygonArray, around: PolygonArray, edges: PolygonArray, reach_mm: float
) -> PolygonArray:
    """Return Voronoi ridges between facing boundary points, in and round each thin place."""
    samples, owner = _samples(places, edges, reach_mm)
    # One diagram for each place: what one place's is does not hang on what else is looked at.
    ends, sites = voronoi_ridges(samples, owner)
    home = owner[sites[:, 0]]
    chord = np.hypot(*(samples[sites[:, 0]] - samples[sites[:, 1]]).T)
    radius = np.hypot(*(ends.mean(axis=1) - samples[sites[:, 0]]).T)
    facing = chord / (2 * np.maximum(radius, 1e-9))
    kept = facing > _HARDLY_FACING
    # Ridge by ridge: one that strays over the edge at a thin tip must not take others with it.
    shapely.prepare(around)
    for k in (0, 1):
        kept[kept] = shapely.contains_xy(around[home[kept]], *ends[kept, k].T)
    ends, home, facing, radius = ends[kept], home[kept], facing[kept], radius[kept]
    # Where four samples lie on one circle the diagram has its vertex twice, a hair apart.
    vertices, _, same = _each_once(
        np.round(ends.reshape(-1, 2), _VERTEX_DECIMALS), np.repeat(home, 2)
    )
    ridges = same.reshape(-1, 2)
    kept = ridges[:, 0] != ridges[:, 1]
    ends = vertices[ridges]
    ridges, ends, home = ridges[kept], ends[kept], home[kept]
    here = radius[kept] < 1.02 * reach_mm
    inside = round_about(places, _RIDGE_WITHIN * reach_mm)
    shapely.prepare(inside)
    here[here] = shapely.contains_properly(inside[home[here]], shapely.linestrings(ends[here]))
    stay = np.flatnonzero(_without_corners(ridges, here, is_weak=facing[kept] <= _FACING))
    # Two ridges between the same vertices are one.
    stay = stay[np.sort(np.unique(np.sort(ridges[stay], axis=1), axis=0, return_index=True)[1])]
    found = np.full(len(places), NO_LINE)
    order = np.argsort(home[stay], kind="stable")
    stay = stay[order]
    shapely.multilinestrings(shapely.linestrings(ends[stay]), indices=home[stay], out=found)
    return np.asarray(shapely.line_merge(found))


def round_about(places: PolygonArray, distance_mm: float) -> PolygonArray:
    """Return all within about a distance of places, to 2 % of it: its curves matter little."""
    thin = shapely.simplify(places, distance_mm / 100)
    return np.asarray(shapely.buffer(thin, distance_mm, quad_segs=8))


def _samples(
    places: PolygonArray, edges: PolygonArray, reach_mm: float
) -> tuple[FloatArray, NDArray[np.intp]]:
    """Return points along the edges round each place, sorted, and whose they are."""
    spacing = np.clip(0.25 * _width(places), reach_mm / 50, reach_mm / 6)
    xy, owner = shapely.get_coordinates(shapely.segmentize(edges, spacing), return_index=True)
    points, owner, _ = _each_once(np.round(xy, _SAMPLE_DECIMALS), owner)
    return points, owner


def _each_once(
    points: FloatArray, owner: NDArray[np.intp]
) -> tuple[FloatArray, NDArray[np.intp], NDArray[np.intp]]:
    """Return each owner's points sorted, each once; whose they are; and which each was."""
    order = np.lexsort([points[:, 1], points[:, 0], owner])
    points, owner = points[order], owner[order]
    is_new = np.ones(len(points), dtype=bool)
    is_new[1:] = (owner[1:] != owner[:-1]) | (points[1:] != points[:-1]).any(axis=1)
    which = np.empty(len(points), dtype=np.intp)
    which[order] = np.cumsum(is_new) - 1
    return points[is_new], owner[is_new], which


def _without_corners(
    ridges: NDArray[np.intp], here: NDArray[np.bool_], *, is_weak: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Drop the branches into corners: weak ridges that lead nowhere.

    Weak ridges between others stay, for there the centre line itself turns sharply. Ridges that
    are not `here` are not wanted, but what leads to them leads on.
    """
    kept = here.copy()
    degree = np.bincount(ridges.ravel())
    weak = np.flatnonzero(kept & is_weak)
    while True:
        leads_nowhere = (degree[ridges[weak]] == 1).any(axis=1)
        if not leads_nowhere.any():
            return kept
        gone = weak[leads_nowhere]
        kept[gone] = False
        np.subtract.at(degree, ridges[gone].ravel(), 1)
        weak = weak[~leads_nowhere]
