"""Bridges of a loose stencil, on islands for which they are plain."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import box

from stopout.mask.stencil import bridge_islands, islands_of, peel_lines, sharp_corners

FACE = box(0, 0, 40, 30)


def test_an_island_is_held_across_its_narrowest_gap_and_on_the_other_side():
    """2 mm of gap on the left, 3 mm on the right, 4 mm above and below; 0.8 mm wide bridges."""
    opening = box(5, 5, 20, 18).difference(box(7, 9, 17, 14))
    left, ties = bridge_islands(opening, FACE, width_mm=0.8)
    assert sorted(tie.length_mm for tie in ties) == pytest.approx([2, 3])
    assert [tie.at_mm[0] for tie in ties] == pytest.approx([6, 18.5])
    # At a corner of the island its end goes past that.
    assert 5 * 0.8 <= opening.area - left.area < 5 * 0.8 + 0.4 * 0.2 * 4
    # Ends lie within the film, by a quarter of the bridge's own width on either side.
    for tie in ties:
        assert tie.region.area == pytest.approx((tie.length_mm + 2 * 0.25 * 0.8) * 0.8)
    # The film is one piece now.
    assert len(shapely.get_parts(FACE.difference(left))) == 1


def test_an_island_is_told_by_the_widest_disc_that_it_contains():
    opening = box(5, 5, 35, 28).difference(
        shapely.union_all([box(7, 9, 9, 20), box(15, 9, 18, 12)])
    )
    small, large = islands_of(opening, FACE)
    assert (small.across_mm, large.across_mm) == pytest.approx((2, 3), abs=0.005)
    assert small.at_mm[0] == pytest.approx(8, abs=0.01)
    assert 10 <= small.at_mm[1] <= 19
    assert large.at_mm == pytest.approx((16.5, 10.5), abs=0.01)


def test_islands_one_within_the_other_are_held_from_the_outside_inwards():
    """The outer one by 2 mm twice; the inner by 1 mm from that, and across from there."""
    opening = box(5, 5, 25, 25).difference(box(7, 7, 23, 23))
    opening = opening.union(box(10, 10, 20, 20).difference(box(11, 11, 19, 19)))
    left, ties = bridge_islands(opening, FACE, width_mm=0.5)
    assert sorted(tie.length_mm for tie in ties) == pytest.approx([1, 1, 2, 2])
    assert len(shapely.get_parts(FACE.difference(left))) == 1


def test_only_corners_of_the_film_on_the_plate_are_sharp():
    """Four of the island; a window's own corners are round films' outer ones: none."""
    opening = box(5, 5, 20, 18).difference(box(7, 9, 17, 14))
    found = sharp_corners(opening, FACE, radius_mm=0.5)
    corners = np.array([(7, 9), (7, 14), (17, 9), (17, 14)])
    assert len(found) == 4
    for x, y in found:
        assert np.hypot(*(corners - (x, y)).T).min() < 0.5


@pytest.mark.parametrize(
    ("degrees", "sharp"), [(60, 4), (119, 4), (120, 4), (123, 2), (124, 2), (135, 2)]
)
def test_a_corner_is_sharp_that_loses_a_twentieth_of_the_radius_squared(degrees, sharp):
    """cot a - (pi / 2 - a), 2 a being its angle: 0.0538 at 120 and 0.0455 at 123 degrees.

    A rhombus has two such corners and two of what is left to 180, each told by itself.
    """
    high = 4 * np.array([np.tan(np.radians(degrees / 2)), 1])
    island = shapely.Polygon(np.array([(-1, 0), (0, -1), (1, 0), (0, 1)]) * high + (20, 15))
    found = sharp_corners(box(1, 1, 39, 29).difference(island), FACE, radius_mm=0.3)
    assert len(found) == sharp
    corners = shapely.points(shapely.get_coordinates(island)[:-1])
    assert (shapely.distance(corners[:, None], shapely.points(found)).min(axis=0) < 0.3).all()


def test_waste_is_cut_into_equal_pieces_no_longer_than_asked():
    """25 mm into three, 9 mm not at all; a ring's cut goes across both its sides."""
    (one, other) = peel_lines(box(5, 5, 30, 14), longest_mm=10)
    assert sorted(line.coords[0][0] for line in (one, other)) == pytest.approx(
        [5 + 25 / 3, 5 + 50 / 3]
    )
    assert {line.length for line in (one, other)} == {9.0}
    ring = box(0, 0, 12, 12).difference(box(2, 2, 10, 10))
    cuts = peel_lines(ring, longest_mm=6)
    assert [line.length for line in cuts] == pytest.approx([2] * 4)
    assert peel_lines(ring, longest_mm=12) == ()


def test_a_hair_s_gap_on_one_side_does_not_hide_the_other_side():
    opening = box(5, 5, 20, 18).difference(box(5.02, 9, 17, 14))
    _, ties = bridge_islands(opening, FACE, width_mm=0.5)
    assert sorted(tie.length_mm for tie in ties) == pytest.approx([0.02, 3])


def test_an_island_is_held_once_where_no_straight_way_goes_on_through_it():
    """A needle whose tip is nearest to the film on its left, and leans 45 degrees away from it."""
    needle = shapely.Polygon([(7, 7), (16, 15), (15, 16)])
    _, (tie,) = bridge_islands(box(5, 4, 25, 25).difference(needle), FACE, width_mm=0.5)
    assert (tie.length_mm, *tie.at_mm) == pytest.approx((2, 6, 7))


def test_an_island_that_touches_the_film_in_a_point_needs_no_bridge_there():
    diamond = shapely.Polygon([(5, 12), (10, 17), (15, 12), (10, 7)])
    opening = box(5, 5, 20, 20).difference(diamond)
    left, ties = bridge_islands(opening, FACE, width_mm=1.0)
    assert ties == ()
    assert left.equals(opening)
