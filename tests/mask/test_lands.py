"""Lands: what is widened, what is reported, against the plane geometry of two fields and a gap."""

import pytest
from shapely import MultiPolygon, box, union_all

from stopout.mask import as_multipolygon, parts_of, widen_lands
from stopout.mask.lands import _thins
from stopout.mask.surroundings import Surroundings

FACE = box(0, 0, 8, 6)


def fields(gap, *, split=False):
    """Two fields with a land of one width between them, perhaps wide in its middle."""
    left, right = box(1, 1, 3, 5), box(3 + gap, 1, 6, 5)
    if split:
        notch = box(2.5, 2.8, 3.5, 3.15)
        return as_multipolygon(union_all([left, right]).difference(notch))
    return as_multipolygon(union_all([left, right]))


def widened(target, *, needed=0.20, tolerance=0.05):
    return widen_lands(target, FACE, needed_mm=needed, edge_tolerance_mm=tolerance, reach_mm=0.1)


def test_a_land_wide_enough_stays_as_drawn():
    target, found = widened(fields(0.21))
    assert not found
    assert target.equals(fields(0.21))


def test_a_land_short_by_less_than_both_tolerances_is_widened_to_what_it_needs():
    target, (land,) = widened(fields(0.12))
    assert land.is_widened
    assert land.width_mm == pytest.approx(0.12, abs=0.002)
    left, right = sorted(parts_of(target), key=lambda part: part.bounds[0])
    assert left.intersection(box(0, 2, 8, 4)).distance(right) == pytest.approx(0.20, abs=0.002)


def test_a_land_short_by_more_is_reported_and_left():
    target, (land,) = widened(fields(0.06))
    assert not land.is_widened
    assert land.needed_mm == pytest.approx(0.20)
    assert land.length_mm == pytest.approx(4.0, abs=0.3)
    assert target.equals(fields(0.06))


def test_neighbouring_narrow_places_of_one_land_are_one():
    """A notch 0.35 mm long parts the land into two narrow places, next to each other."""
    _, found = widened(fields(0.06, split=True))
    assert len(found) == 1
    assert found[0].length_mm == pytest.approx(3.8, abs=0.5)


def test_lands_on_two_sides_of_a_field_are_two():
    three = as_multipolygon(union_all([box(1, 1, 2, 5), box(2.1, 1, 4, 5), box(4.1, 1, 6, 5)]))
    _, found = widened(three, tolerance=0.0)
    assert len(found) == 2


def test_a_small_land_alone_beside_a_wide_one_is_reported():
    """A frame of 0.04 mm parts 0.06 mm square of land from the wide land round it.

    It has no centre line of its own, but is no corner of a land that it does not belong to.
    """
    frame = as_multipolygon(box(3.9, 2.9, 4.04, 3.04).difference(box(3.94, 2.94, 4.0, 3.0)))
    _, found = widened(frame, tolerance=0.0)
    (small,) = [land for land in found if box(3.94, 2.94, 4.0, 3.0).contains(land.region.centroid)]
    assert 0.0399 < small.width_mm < 0.0601
    assert small.at_mm == pytest.approx((3.97, 2.97), abs=0.012)


@pytest.mark.parametrize(("taken", "is_thinned"), [(0.02, False), (0.08, True)])
@pytest.mark.parametrize("long", [0.3, 3.0])
def test_a_land_may_take_of_a_stroke_what_leaves_it_two_reaches(taken, is_thinned, long):
    """0.25 mm wide, of which 0.2 mm must stay to be made with a reach of 0.1 mm."""
    stroke = Surroundings(MultiPolygon([box(0, 0, long, 0.25)]))
    assert _thins(stroke, box(-0.1, 0.25 - taken, long + 0.1, 0.4), 0.1) == is_thinned
