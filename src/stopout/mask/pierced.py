"""Offsets of parts with very many holes, hole by hole.

The geometry library takes a time that goes with the square of the holes of one part. Outwards the
outline and each hole go by themselves; inwards too, but for holes that run together.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from stopout.mask.regions import PolygonArray, near_pairs

# Parts with fewer holes are offset whole.
_MANY = 64
# Holes that are this much farther apart than they grow do not meet.
_SPARE_MM = 1e-6


def offset(parts: PolygonArray, by_mm: float, *, chords: int) -> PolygonArray:
    """Offset polygons outwards, or inwards by less than nothing; as `shapely.buffer` does.

    Parameters
    ----------
    parts : array of Polygon
    by_mm : float
    chords : int
        A quarter circle.
    """
    made = np.array(parts, dtype=object)
    many = shapely.get_num_interior_rings(made) >= _MANY
    made[~many] = shapely.buffer(made[~many], by_mm, quad_segs=chords)
    one_by_one = _inwards if by_mm < 0 else _outwards
    for k in np.flatnonzero(many):
        made[k] = one_by_one(made[k], by_mm, chords)
    return made


def _outwards(part: shapely.Polygon, by_mm: float, chords: int) -> shapely.Geometry:
    outline = shapely.buffer(shapely.Polygon(part.exterior), by_mm, quad_segs=chords)
    holes = shapely.polygons(shapely.get_rings(part)[1:])
    return _pierced(outline, shapely.buffer(holes, -by_mm, quad_segs=chords))


def _inwards(part: shapely.Polygon, by_mm: float, chords: int) -> shapely.Geometry:
    rings = shapely.get_rings(part)
    meets = np.zeros(len(rings), dtype=bool)
    meets[np.concatenate(near_pairs(rings, -2 * by_mm + _SPARE_MM))] = True
    holes = shapely.polygons(rings[1:])
    grown = shapely.buffer(holes, -by_mm, quad_segs=chords)
    # One that closes round land of its own goes with those that run together.
    alone = ~meets[1:] & (shapely.get_num_interior_rings(grown) == 0)
    left = _of_rings(rings[np.concatenate([[True], ~alone])])
    return _pierced(shapely.buffer(left, by_mm, quad_segs=chords), grown[alone])


def _pierced(whole: shapely.Geometry, holes: PolygonArray) -> shapely.Geometry:
    """Pierce a region by holes that lie within it, apart from each other and from its edges."""
    pieces, holes = shapely.get_parts(whole), shapely.get_parts(holes)
    holes = holes[~shapely.is_empty(holes)]
    tree = shapely.STRtree(shapely.point_on_surface(holes))
    made: list[shapely.Geometry] = []
    for piece in pieces[~shapely.is_empty(pieces)]:
        own: NDArray[np.intp] = np.sort(tree.query(piece, predicate="contains"))
        made.append(
            _of_rings(
                np.concatenate([shapely.get_rings(piece), shapely.get_exterior_ring(holes[own])])
            )
        )
    return made[0] if len(made) == 1 else shapely.multipolygons(made)


def _of_rings(rings: PolygonArray) -> shapely.Geometry:
    """Make a polygon of an outline and holes."""
    return shapely.polygons(rings, indices=np.zeros(len(rings), dtype=np.intp))[0]
