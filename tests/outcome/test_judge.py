"""The verdict on cases drawn by hand, whose numbers can be said beforehand."""

from __future__ import annotations

import math

import pytest
import shapely
from shapely import MultiPolygon, Point, Polygon, box

from stopout.errors import PlanError
from stopout.outcome import judge

REACH = 0.1
EXACT_MM = 1e-3


def verdict(target, finished, *, reach=REACH, tolerance=0.05):
    return judge(
        target=target,
        finished=finished,
        reach_mm=reach,
        edge_tolerance_mm=tolerance,
    )


def rounded_square(side, radius):
    """A square less what a disc of the radius cannot reach in its corners."""
    inner = box(radius, radius, side - radius, side - radius)
    return inner.buffer(radius, quad_segs=256)


def test_a_piece_that_matches_has_nothing_to_report():
    found = verdict(box(0, 0, 4, 3), box(0, 0, 4, 3))
    assert found.area_mm2 == 12.0
    assert (found.worst_outside_mm, found.worst_inside_mm) == (0.0, 0.0)
    assert (found.lost, found.merged, found.widened) == (0, 0, 0)
    assert found.worst_outside_at is None
    assert found.too_much.is_empty
    assert found.too_little.is_empty


def test_a_square_corner_stops_short_by_0_414_of_the_reach():
    # Design 3.2: r (1/sin a - 1) with 2a the corner's angle; at a right angle r (sqrt 2 - 1).
    found = verdict(box(0, 0, 4, 4), rounded_square(4, REACH))
    assert found.worst_inside_mm == pytest.approx(REACH * (math.sqrt(2) - 1), abs=EXACT_MM)
    assert found.worst_outside_mm < 1e-6
    assert found.lost == 0
    assert found.too_little.area == pytest.approx((4 - math.pi) * REACH**2, rel=1e-3)


def test_an_excess_is_measured_where_it_is_widest():
    found = verdict(box(0, 0, 4, 4), box(0, 0, 4.03, 4))
    assert found.worst_outside_mm == pytest.approx(0.03, abs=EXACT_MM)
    assert found.worst_outside_at[0] == pytest.approx(4.03)
    assert found.widened == 0


def test_a_part_that_is_not_touched_is_lost_and_left_out_of_the_worst_error():
    target = MultiPolygon([box(0, 0, 4, 4), box(10, 0, 10.05, 4)])
    found = verdict(target, box(0, 0, 4, 3.98))
    assert found.lost == 1
    assert found.worst_inside_mm == pytest.approx(0.02, abs=EXACT_MM)
    assert found.lost_parts.equals(MultiPolygon([box(10, 0, 10.05, 4)]))
    assert found.too_little.area == pytest.approx(0.05 * 4 + 4 * 0.02)


def test_a_stroke_missing_from_a_part_is_lost_where_it_reaches_beyond_3_reach():
    target = box(0, 0, 4, 4).union(box(4, 1, 6, 1.1))
    found = verdict(target, box(0, 0, 4, 4))
    assert found.lost == 1
    # Of the stroke only the first 5 um next to the finished region are not lost.
    assert found.worst_inside_mm == pytest.approx(0.005, abs=EXACT_MM)
    assert found.lost_parts.area == pytest.approx((2 - 0.005) * 0.1, abs=1e-5)


def test_a_stub_within_3_reach_is_an_edge_error_and_not_lost():
    target = box(0, 0, 4, 4).union(box(4, 1, 4.29, 1.1))
    found = verdict(target, box(0, 0, 4, 4))
    assert found.lost == 0
    assert found.worst_inside_mm == pytest.approx(0.29, abs=EXACT_MM)


def test_a_lost_part_is_not_counted_again_as_a_component():
    target = MultiPolygon([box(0, 0, 4, 4), box(10, 0, 14, 4)])
    assert verdict(target, box(0, 0, 4, 4)).lost == 1


def test_everything_is_lost_where_nothing_is_finished():
    found = verdict(MultiPolygon([box(0, 0, 1, 1), box(2, 0, 3, 1)]), MultiPolygon())
    assert (found.lost, found.merged, found.widened) == (2, 0, 0)
    assert (found.worst_inside_mm, found.area_mm2) == (0.0, 0.0)
    assert found.too_little.area == 2.0


def test_a_hole_of_the_finished_region_counts_with_its_middle():
    # A stop of paint left in the middle of a recess: its centre is the point farthest inside.
    left = Point(2, 2).buffer(0.25, 256)
    found = verdict(box(0, 0, 4, 4), box(0, 0, 4, 4).difference(left))
    assert found.lost == 0
    assert found.worst_inside_mm == pytest.approx(0.25, abs=EXACT_MM)
    assert found.worst_inside_at == pytest.approx((2, 2), abs=2 * EXACT_MM)


def test_parts_run_together_are_merged_once_for_each_join():
    parts = MultiPolygon([box(0, 0, 1, 1), box(1.02, 0, 2, 1), box(2.02, 0, 3, 1)])
    found = verdict(parts, box(0, 0, 3, 1))
    assert found.merged == 2
    assert len(found.merged_parts.geoms) == 1
    assert found.worst_outside_mm == pytest.approx(0.01, abs=EXACT_MM)


def test_a_filled_counter_is_merged():
    ring = box(0, 0, 4, 4).difference(box(1, 1, 3, 3))
    found = verdict(ring, box(0, 0, 4, 4))
    assert found.merged == 1
    assert found.filled_holes.area == pytest.approx(4.0)
    assert found.worst_outside_mm == pytest.approx(1.0, abs=EXACT_MM)


@pytest.mark.parametrize("at", [1.9, 1.1])
def test_a_counter_with_anything_left_is_not_filled(at):
    """Whether its middle is open or a corner of it."""
    ring = box(0, 0, 4, 4).difference(box(1, 1, 3, 3))
    found = verdict(ring, box(0, 0, 4, 4).difference(box(at, at, at + 0.2, at + 0.2)))
    assert found.merged == 0


def test_a_filled_counter_with_an_island_counts_the_join_and_the_hole():
    target = box(0, 0, 4, 4).difference(box(1, 1, 3, 3)).union(box(1.5, 1.5, 2.5, 2.5))
    assert verdict(target, box(0, 0, 4, 4)).merged == 2


def test_a_finished_part_that_touches_no_target_does_not_lower_the_count():
    target = MultiPolygon([box(0, 0, 1, 1), box(1.02, 0, 2, 1)])
    found = verdict(target, MultiPolygon([box(0, 0, 2, 1), box(5, 5, 6, 6)]))
    assert found.merged == 1


def test_widened_strokes_are_counted_where_they_exceed_the_tolerance():
    # A stroke of 0.1 mm widened to 0.3 mm: 0.1 mm on each side, two strips beyond 0.05 mm.
    target = box(0, 0, 10, 0.1)
    found = verdict(target, box(0, -0.1, 10, 0.2))
    assert found.widened == 2
    assert found.worst_outside_mm == pytest.approx(0.1, abs=EXACT_MM)
    assert found.worst_outside_unwidened_mm == 0.0
    assert found.worst_outside_unwidened_at is None
    assert found.widened_parts.area == pytest.approx(2 * 10 * 0.05, rel=0.02)


def test_an_excess_at_the_tolerance_is_not_widened():
    assert verdict(box(0, 0, 10, 1), box(0, -0.05, 10, 1.05)).widened == 0


def test_the_worst_unwidened_error_is_that_beyond_3_reach_of_a_widened_place():
    target = MultiPolygon([box(0, 0, 4, 4), box(10, 0, 14, 4)])
    finished = MultiPolygon([box(0, 0, 4.2, 4), box(10, 0, 14.04, 4)])
    found = verdict(target, finished)
    assert found.widened == 1
    assert found.worst_outside_mm == pytest.approx(0.2, abs=EXACT_MM)
    assert found.worst_outside_unwidened_mm == pytest.approx(0.04, abs=EXACT_MM)
    assert found.worst_outside_unwidened_at[0] == pytest.approx(14.04)


def test_an_empty_target_is_refused_in_one_sentence():
    with pytest.raises(PlanError, match="target is empty"):
        verdict(Polygon(), box(0, 0, 1, 1))


def test_the_verdict_does_not_depend_on_the_order_of_the_parts():
    parts = [box(0, 0, 1, 1), box(3, 0, 4, 1), box(6, 0, 7, 1)]
    grown = [
        shapely.box(*(v + d for v, d in zip(p.bounds, (-0.01, 0, 0.02, 0), strict=True)))
        for p in parts
    ]
    one = verdict(MultiPolygon(parts), MultiPolygon(grown))
    two = verdict(MultiPolygon(parts[::-1]), MultiPolygon(grown[::-1]))
    assert one.worst_outside_mm == two.worst_outside_mm
    assert one.area_mm2 == pytest.approx(two.area_mm2, rel=1e-12)


def test_a_land_is_filled_though_the_island_in_it_is_lost():
    target = box(0, 0, 4, 4).difference(box(1, 1, 3, 3)).union(box(1.5, 1.5, 2.5, 2.5))
    found = verdict(target, box(0, 0, 4, 4).difference(box(1.5, 1.5, 2.5, 2.5)))
    assert found.filled_holes.area == pytest.approx(3.0)
