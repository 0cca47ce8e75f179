"""What is lost of parts when they are opened by a disc, beyond their corners."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from stopout.mask.offset import thinned
from stopout.mask.regions import PolygonArray, parts_of
from stopout.mask.residue import is_more_than_corner
from stopout.mask.rings import turns_of
from stopout.values import FloatArray

# Discs' diameters are whole steps of this.
RESOLUTION_MM = 0.0003
# Arcs stand off their chords by no more than this.
CHORD_MM = 0.0003
# What has more vertices than this is large.
LARGE = 1000
# Where a disc's centre may be is thinned by this: more than arcs stand off their chords, or none of
# their vertices would go; less than the slack.
_THINNED_MM = 0.0004
# What opening leaves out counts only beyond this.
_SLACK_MM = 0.001
_DEPTH = 1.5
# What reaches no farther than so many radii could be narrow at less than a thirtieth, or a seventh,
# of the disc only: see `stopout.mask.widths`. Corners of 90 degrees reach 1.41.
_NEAR = (1.1, 1 + 3 / 7)
NO_POINTS: PolygonArray = np.empty(0, dtype=object)


def what_fails(parts: PolygonArray, steps: int) -> tuple[NDArray[np.bool_], FloatArray]:
    """Tell which parts lose something to an opening by a disc, and how far each reaches.

    Lost is a part that is opened to another number of parts or holes, or that reaches deeper than
    3 w / 2 beyond what is opened, which is two diameters from where the disc's centre may be.
    """
    radius = steps * RESOLUTION_MM / 2
    chords = _chords(radius)
    cores = _cores(parts, radius, chords)
    fails = _parted(cores, parts)
    # Discs on both sides of a waist may still cover it between them.
    opened = shapely.buffer(cores[fails], radius + _SLACK_MM, quad_segs=chords)
    fails[fails] = _parted(opened, parts[fails])
    far_mm = np.full(len(parts), np.inf)
    rest = np.flatnonzero(~fails)
    # No vertex lies within a core: asked of its edges alone, an eighth of all this is spared.
    cores[rest] = shapely.boundary(cores[rest])
    shapely.prepare(cores[rest])
    points, part = _tips(parts[rest])
    part = rest[part]
    # What is within the least of these is not asked more closely.
    for near in _NEAR:
        far_mm[part] = near * radius
        beyond = ~shapely.dwithin(cores[part], points, near * radius)
        points, part = points[beyond], part[beyond]
    np.maximum.at(far_mm, part, shapely.distance(cores[part], points))
    return fails | (far_mm > _deep_mm(radius)), far_mm


def strokes_of(parts: PolygonArray, steps: int, points: PolygonArray = NO_POINTS) -> PolygonArray:
    """Return the strokes that an opening by a disc loses, but for points.

    Left out are losses that hang on what is kept by one end and run out in a point.
    """
    radius = steps * RESOLUTION_MM / 2
    chords = _chords(radius)
    found: list[PolygonArray] = [parts[:0]]
    for part, core in zip(parts, _cores(parts, radius, chords), strict=True):
        kept = shapely.buffer(core, radius + _SLACK_MM, quad_segs=chords)
        lost = parts_of(shapely.difference(part, kept))
        links = is_more_than_corner(lost, kept, depth_mm=np.inf, slack_mm=_SLACK_MM)
        xy, owner = shapely.get_coordinates(lost, return_index=True)
        shapely.prepare(core)
        deep = np.zeros(len(lost), dtype=bool)
        deep[owner[~shapely.dwithin(core, shapely.points(xy), _deep_mm(radius))]] = True
        deep[shapely.STRtree(points).query(lost, predicate="intersects")[0]] = False
        found.append(lost[links | deep])
    return np.concatenate(found)


def _parted(made: PolygonArray, parts: PolygonArray) -> NDArray[np.bool_]:
    """Tell which parts are no longer one, or have other holes."""
    pieces, part = shapely.get_parts(made, return_index=True)
    full = ~shapely.is_empty(pieces)
    pieces, part = pieces[full], part[full]
    holes = np.bincount(part, weights=shapely.get_num_interior_rings(pieces), minlength=len(parts))
    return np.asarray(
        (np.bincount(part, minlength=len(parts)) != 1)
        | (holes != shapely.get_num_interior_rings(parts))
    )


def _tips(parts: PolygonArray) -> tuple[PolygonArray, NDArray[np.intp]]:
    """Return the vertices of parts but for inward corners, than which others reach farther.

    Also whose they are.
    """
    rings, part = shapely.get_rings(shapely.orient_polygons(parts), return_index=True)
    xy, ring, turn = turns_of(rings)
    return shapely.points(xy[turn >= 0]), part[ring[turn >= 0]]


def _cores(parts: PolygonArray, radius: float, chords: int) -> PolygonArray:
    """Return where a disc's centre may be; of large parts thinned.

    Arcs of arcs take twenty times as long to be grown again.
    """
    cores: PolygonArray = shapely.buffer(parts, -radius, quad_segs=chords)
    large = shapely.get_num_coordinates(cores) > LARGE
    cores[large] = thinned(cores[large], _THINNED_MM)
    return cores


def _chords(radius: float) -> int:
    return max(4, math.ceil(math.pi / 4 / math.sqrt(2 * CHORD_MM / radius)))


def _deep_mm(radius: float) -> float:
    """How far from where a disc's centre may be a residue of 3 w / 2 reaches, and the slack."""
    return (1 + 2 * _DEPTH) * radius + _SLACK_MM
