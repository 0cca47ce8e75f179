"""Which region curves wind round, and what of shapes is a region, on squares."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import GeometryCollection, LineString, MultiPolygon, Point, Polygon, box

from stopout.outcome.fill import as_region, clusters, positive_fill


def curve(x0, y0, x1, y1, *, clockwise=False):
    """A square's corners, counterclockwise unless said."""
    ring = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], dtype=float)
    return ring[::-1] if clockwise else ring


NESTED = [
    curve(0, 0, 8, 8),
    curve(1, 1, 7, 7, clockwise=True),
    curve(2, 2, 6, 6),
    curve(3, 3, 5, 5, clockwise=True),
]


def test_what_is_wound_round_once_or_more_is_filled_and_nothing_else():
    """Holes clockwise, islands within them; twice is as good as once, backwards is nothing."""
    filled = positive_fill([*NESTED, curve(0, 0, 8, 8), curve(10, 0, 12, 2, clockwise=True)])
    assert filled.equals(box(0, 0, 8, 8))
    filled = positive_fill(NESTED)
    assert sorted(part.area for part in filled.geoms) == pytest.approx([12, 28])
    assert filled.is_valid
    assert not filled.contains(Point(4, 4))


@pytest.mark.parametrize("more", [[], [curve(20, 0, 21, 1)]])
def test_a_curve_there_and_back_winds_round_nothing(more):
    back = np.array([(0.0, 0.0), (3.0, 1.0)])
    assert positive_fill([back, *more]).area == pytest.approx(len(more))
    assert positive_fill([back], np.array([1])).is_empty


def test_clusters_are_filled_one_by_one_as_all_would_be_together():
    squares = [curve(k, 0, k + 0.6, 1) for k in range(0, 8, 2)]
    own = clusters(shapely.polygons(squares), 1.0)
    assert len(np.unique(own)) == 4
    assert positive_fill(squares, own).equals(positive_fill(squares))


@pytest.mark.parametrize(("reach", "count"), [(0.9, 4), (1.1, 2), (4.1, 1)])
def test_shapes_within_a_reach_belong_together_on_every_side(reach, count):
    """Gaps of 1 mm beside and above, of 4 mm to the other pair."""
    shapes = [box(5, 0, 6, 1), box(0, 0, 1, 1), box(5, 2, 6, 3), box(-2, 0, -1, 1)]
    for order in ([0, 1, 2, 3], [3, 2, 1, 0], [1, 2, 0, 3]):
        found = clusters(np.array(shapes, dtype=object)[order], reach)
        assert len(np.unique(found)) == count
        together = found[order.index(1)] == found[order.index(3)]
        assert together == (count < 4)


def test_a_region_has_no_crumbs_pinholes_nor_lines():
    crumb, pinhole = box(3, 3, 3.00009, 3.00009), box(0.5, 0.5, 0.50009, 0.50009)
    plate = box(0, 0, 2, 2).difference(pinhole).difference(box(1, 1, 1.5, 1.5))
    found = as_region([GeometryCollection([plate, LineString([(0, 0), (5, 5)])]), crumb])
    assert isinstance(found, MultiPolygon)
    (part,) = found.geoms
    assert len(part.interiors) == 1
    assert part.area == pytest.approx(4 - 0.25)
    # Whichever parts stand before it.
    first, second = as_region([box(5, 0, 6, 1), plate]).geoms
    assert first.equals(box(5, 0, 6, 1))
    assert second.equals(part)
    # A ten-thousandth of a millimetre square counts.
    assert len(as_region(box(3, 3, 3.00011, 3.00011)).geoms) == 1
    nested = GeometryCollection([GeometryCollection([MultiPolygon([box(0, 0, 1, 1)])])])
    assert as_region(nested).equals(box(0, 0, 1, 1))
    assert as_region(Polygon()).is_empty
