"""Counters held, one by one, against all that is made of their part: slow, and plain to read."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

# A counter counts as closed where less than this of it is free.
FREE = 0.2 * 0.25


def changed_counters(parts, pieces):
    """The kind and the part of each counter that closes or opens."""
    found = []
    for k in np.flatnonzero(shapely.get_num_interior_rings(parts)):
        own = pieces[shapely.intersects(pieces, parts[k])]
        filled = shapely.polygons(shapely.get_exterior_ring(own))
        for ring in parts[k].interiors if len(own) else ():
            hole = Polygon(ring)
            land = shapely.difference(hole, shapely.union_all(parts[shapely.within(parts, hole)]))
            near = own[shapely.intersects(own, hole)]
            free = shapely.difference(land, shapely.union_all(near))
            if free.area < FREE * land.area:
                found.append(("counter closed", int(k)))
            elif len(near):
                largest = max(shapely.get_parts(free), key=lambda part: part.area)
                if not shapely.contains(filled, largest.representative_point()).any():
                    found.append(("counter opened", int(k)))
    return found
