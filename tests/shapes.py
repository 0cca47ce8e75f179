"""Named shapes for the tests of the mask, in mm."""

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Point, Polygon, box

DISC = Point(5, 5).buffer(2, quad_segs=96)
RING = DISC.difference(Point(5, 5).buffer(1.2, quad_segs=96))
RECTANGLE = box(1, 1, 7, 4)
SLOT = box(0, 0, 6, 0.5)
THIN_SLOT = box(1, 1, 5, 1.12)
NECK = shapely.union_all([box(0, 0, 1, 1), box(0.9, 0.45, 2.1, 0.57), box(2, 0, 3, 1)])
STUB = shapely.union_all([box(0, 0, 1, 1), box(0.9, 0.45, 2.1, 0.57)])
NEEDLE = Polygon([(0, 0), (3, 0.15), (0, 0.3)])
ISLAND_IN_HOLE = shapely.union_all([RING, Point(5, 5).buffer(0.5, quad_segs=64)])
TOUCHING_CORNERS = MultiPolygon([box(0, 0, 1, 1), box(1, 1, 2, 2)])
EMPTY = Polygon()
HAIRLINE = box(0, 0, 4, 0.004)


def glyph_f(x=1.0, y=1.0, height=6.0, stroke=0.9):
    """Return an F: an asymmetric glyph with neither mirror nor turn symmetry."""
    return shapely.union_all(
        [
            box(x, y, x + stroke, y + height),
            box(x, y + height - stroke, x + 0.6 * height, y + height),
            box(x, y + 0.5 * height, x + 0.45 * height, y + 0.5 * height + stroke),
        ]
    )


def random_polygon(rng, *, size=4.0, hole=True):
    """Return a star-shaped polygon with random radii, perhaps with a hole."""
    n = int(rng.integers(5, 14))
    angle = np.sort(rng.uniform(0, 2 * np.pi, n))
    radius = rng.uniform(0.35, 1.0, n) * size / 2
    shape = Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])).buffer(0)
    if hole:
        shape = shape.difference(Point(0, 0).buffer(0.15 * size, quad_segs=8))
    return shapely.transform(shape, lambda xy: xy + size)


ALL = {
    "disc": DISC,
    "ring": RING,
    "rectangle": RECTANGLE,
    "slot": SLOT,
    "thin slot": THIN_SLOT,
    "neck": NECK,
    "stub": STUB,
    "needle": NEEDLE,
    "island in hole": ISLAND_IN_HOLE,
    "touching corners": TOUCHING_CORNERS,
    "empty": EMPTY,
    "hairline": HAIRLINE,
    "glyph": glyph_f(),
}
