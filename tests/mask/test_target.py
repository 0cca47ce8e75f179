"""Polarity, field, holes and mirror."""

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, box

from shapes import glyph_f
from stopout.mask import as_worked, blank_region, make_target


def test_the_blank_has_its_corners_and_holes():
    blank = blank_region(
        width_mm=100, height_mm=60, corner_radius_mm=3, holes=[((8, 30), 3.4), ((92, 30), 3.4)]
    )
    expected = 100 * 60 - (4 - np.pi) * 9 - 2 * np.pi * 1.7**2
    assert blank.area == pytest.approx(expected, abs=0.01)
    assert not blank.contains(Point(8, 30))
    assert not blank.contains(Point(0.1, 0.1))


@pytest.mark.parametrize("radius", [0.5, 4.0, 5.0, 7.0])
def test_a_corner_is_as_round_as_half_the_smaller_side_allows(radius):
    blank = blank_region(width_mm=10, height_mm=10, corner_radius_mm=radius)
    assert blank.area == pytest.approx(100 - (4 - np.pi) * min(radius, 5.0) ** 2, abs=0.01)


def test_a_blank_of_which_no_more_is_said_is_a_rectangle():
    assert blank_region(width_mm=10, height_mm=8).equals(box(0, 0, 10, 8))


def test_recessed_artwork_is_the_target_itself_less_the_holes():
    blank = blank_region(width_mm=20, height_mm=10, holes=[((5, 5), 2)])
    target = make_target(box(2, 2, 8, 8), blank)
    assert target.area == pytest.approx(36 - np.pi, rel=1e-3)


def test_raised_artwork_recesses_the_field_round_it():
    """The complement within the field, holes respected: areas by hand."""
    blank = blank_region(width_mm=20, height_mm=10, holes=[((15, 5), 2)])
    art = box(4, 4, 8, 6)
    target = make_target(art, blank, is_raised=True, field_mm=1.0)
    # Field: 18 x 8 mm less a disc of radius 1 + 1 mm round the hole.
    assert target.area == pytest.approx(18 * 8 - np.pi * 4 - 8, rel=1e-3)
    field = make_target(box(0, 0, 0.001, 0.001), blank, is_raised=True, field_mm=1.0)
    assert target.union(art).symmetric_difference(field).area < 1e-6
    assert target.intersection(art).area == 0


def test_a_back_worked_piece_is_mirrored_about_its_vertical_centre_line():
    glyph = glyph_f(x=2, y=1)
    worked = as_worked(glyph, width_mm=20, is_back_worked=True)
    by_hand = shapely.transform(glyph, lambda xy: np.column_stack([20 - xy[:, 0], xy[:, 1]]))
    assert worked.symmetric_difference(by_hand).area < 1e-12
    # An F is not its own mirror image wherever it is laid.
    shifted = shapely.transform(worked, lambda xy: xy - [worked.bounds[0] - 2, 0])
    assert shifted.symmetric_difference(glyph).area > 1.0


def test_a_front_worked_piece_is_not_mirrored():
    glyph = glyph_f()
    assert as_worked(glyph, width_mm=20, is_back_worked=False) is glyph
