"""Medial axes and the courses along them, where both are known by plane geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon, box, union_all

from stopout.mask.centreline import _Gauge, _Lines, _without_fragments, _without_spurs
from stopout.mask.courses import Following, ends_bluntly
from stopout.mask.medial import edges_round, medial_axes

REACH = 0.1


def axis_of(place, around=None):
    places = np.array([place], dtype=object)
    around = np.array([place if around is None else around], dtype=object)
    edges = edges_round(places, around, reach_mm=REACH)
    return medial_axes(places, around, edges, reach_mm=REACH)[0]


@pytest.mark.parametrize("width", [0.01, 0.03, 0.06, 0.15, 0.19])
def test_the_axis_of_a_bar_is_its_middle_line_without_branches_into_corners(width):
    """A hairline is read as a thicker one; the ends stay about half a width short."""
    axis = axis_of(box(0, 0, 2, width))
    assert axis.geom_type == "LineString"
    x, y = shapely.get_coordinates(axis).T
    np.testing.assert_allclose(y, width / 2, atol=1e-4)
    assert x.min() == pytest.approx(width / 2, abs=0.03)
    assert x.max() == pytest.approx(2 - width / 2, abs=0.03)


@pytest.mark.parametrize("degrees", [15, 30, 55])
def test_a_taper_is_followed_towards_its_point_but_a_blunt_corner_is_not(degrees):
    """Facing points are a chord of cos(a / 2) diameters apart: 0.85 at 64 degrees."""
    half = math.radians(degrees / 2)
    length = 0.09 / math.tan(half)
    taper = Polygon([(0, 0), (length, 0.09), (2, 0.09), (2, -0.09), (length, -0.09)])
    x, y = shapely.get_coordinates(axis_of(taper)).T
    np.testing.assert_allclose(y, 0, atol=1e-4)
    assert x.min() < 0.3 * length
    half = math.radians(36)
    length = 0.09 / math.tan(half)
    blunt = Polygon([(0, 0), (length, 0.09), (2, 0.09), (2, -0.09), (length, -0.09)])
    assert shapely.get_coordinates(axis_of(blunt))[:, 0].min() > 0.8 * length


def test_three_arms_meet_in_one_place():
    """A T of bars 0.16 mm wide: the middle lines meet where the arms do."""
    tee = union_all([box(-1, -0.08, 1, 0.08), box(-0.08, -1, 0.08, 0)])
    axis = axis_of(tee)
    arms = shapely.get_parts(axis)
    assert len(arms) == 3
    assert shapely.hausdorff_distance(
        axis, shapely.MultiLineString([[(-0.92, 0), (0.92, 0)], [(0, 0), (0, -0.92)]])
    ) == pytest.approx(0, abs=0.04)


def test_what_is_wider_than_is_made_has_no_line():
    """Only ridges nearer to the edge than 1.02 reach: half of a bar that gets wider steadily."""
    wedge = Polygon([(0, 0.05), (2, 0.15), (2, -0.15), (0, -0.05)])
    x = shapely.get_coordinates(axis_of(wedge))[:, 0]
    # The radius at x is (0.05 + 0.05 x) cos(atan 0.05).
    assert x.max() == pytest.approx((0.102 * math.hypot(1, 0.05) - 0.05) / 0.05, abs=0.03)


def test_edges_are_looked_at_within_2_6_reaches():
    (edges,) = edges_round(
        np.array([box(0, 0, 0.1, 0.1)], dtype=object),
        np.array([box(0, 0, 9, 0.1)], dtype=object),
        reach_mm=REACH,
    )
    assert edges.bounds == pytest.approx((0, 0, 0.1 + 0.26, 0.1), abs=0.006)


def course_of(target, loss, *, is_stroke=False, must_pay=False, tolerance=0.0, centres=None):
    following = Following(
        target,
        MultiPolygon() if centres is None else centres,
        np.empty(0, dtype=object),
        0.05,
        (0.1, 0.1),
        tolerance,
    )
    found = following.courses(
        np.array([loss], dtype=object), np.array([is_stroke]), np.array([must_pay])
    )
    return found[0] if found else None


@pytest.mark.parametrize("tolerance", [0.029, 0.031])
def test_a_bar_is_finished_one_reach_round_its_line_and_told_where_it_errs(tolerance):
    """0.14 mm wide it goes 0.1 - 0.07 mm beyond on each side."""
    bar = box(0, 0, 2, 0.14)
    course = course_of(bar, bar, is_stroke=True, tolerance=tolerance)
    line = LineString([(0.1, 0.07), (1.9, 0.07)])
    assert shapely.hausdorff_distance(course.line.lines, line) < 0.002
    assert course.made.symmetric_difference(line.buffer(0.1, 64)).area < 0.002
    assert course.width_mm == pytest.approx(0.14, abs=1e-4)
    assert course.is_within is (tolerance > 0.03)
    assert not course.joins


@pytest.mark.parametrize(("gap", "joins"), [(0.028, True), (0.032, False)])
def test_a_course_joins_the_part_that_it_reaches(gap, joins):
    bar = box(0, 0, 2, 0.14)
    course = course_of(union_all([bar, box(0, 0.14 + gap, 2, 1)]), bar, is_stroke=True)
    assert course.joins is joins


def test_a_corner_has_no_course_wherever_it_stands_among_others():
    bar, block = box(0, 0, 2, 0.14), box(3, 0, 5, 2)
    corner = Polygon([(3, 0), (3.03, 0), (3, 0.03)])
    following = Following(
        union_all([bar, block]),
        box(3.1, 0.1, 4.9, 1.9),
        np.empty(0, dtype=object),
        0.05,
        (0.1, 0.1),
        0.0,
    )
    for losses in ([bar, corner], [corner, bar], [bar, corner, bar]):
        told = np.array(losses), np.ones(len(losses), dtype=bool), np.zeros(len(losses), dtype=bool)
        assert [course.loss for course in following.courses(*told)] == [
            one for one in losses if one is bar
        ]


@pytest.mark.parametrize(("width", "pays"), [(0.135, True), (0.125, False)])
def test_a_course_that_must_pay_recovers_twice_what_it_adds(width, pays):
    """Per length it adds 0.2 - w and recovers w: twice as much where w is over 0.133 mm."""
    bar = box(0, 0, 8, width)
    assert (course_of(bar, bar, must_pay=True) is not None) is pays
    assert course_of(bar, bar) is not None


@pytest.mark.parametrize(("degrees", "is_blunt"), [(100, True), (85.5, True), (84.5, False)])
def test_an_end_is_blunt_where_it_turns_by_no_more_than_95_degrees(degrees, is_blunt):
    """The tip of a kite with this angle turns by the rest of 180 degrees."""
    half = math.radians(degrees / 2)
    kite = Polygon(
        [(1, 0), (1 - 0.1 / math.tan(half), 0.1), (0, 0), (1 - 0.1 / math.tan(half), -0.1)]
    )
    assert ends_bluntly(kite, Point(-0.05, 0), REACH) is is_blunt


def test_short_bits_stay_only_where_they_lead_on_or_are_all_there_is():
    """Of a reach long or more, or within 0.35 of one of the centres, or the longest of a place."""
    ways = [[(0, 0), (3, 0)], [(5, 1.3), (5.3, 1.3)], [(5, 0), (5.3, 0)], [(9, 0), (9.2, 0)],
            [(9, 1), (9.3, 1)]]  # fmt: skip
    lines = _Lines(shapely.linestrings(ways[:1] + ways[1:3]), np.zeros(3, dtype=np.intp))
    alone = _Lines(shapely.linestrings(ways[3:]), np.ones(2, dtype=np.intp))
    stop_at = np.array([box(5.5, -1, 6, 1), Polygon()], dtype=object)
    kept = _without_fragments(lines.and_of(alone), 0.8, stop_at)
    assert sorted(shapely.bounds(kept.line)[:, 0].tolist()) == [0, 5, 9]
    assert shapely.length(kept.line[kept.home == 1]).tolist() == pytest.approx([0.3])


@pytest.mark.parametrize(
    ("length", "half", "centres_mm", "stays"),
    [
        (0.10, 0.020, 1.0, False),
        (0.10, 0.027, 1.0, True),
        (0.127, 0.001, 1.0, True),
        (0.10, 0.020, 0.019, True),
        (0.10, 0.020, 0.021, False),
    ],
)
@pytest.mark.parametrize("outwards", [True, False])
def test_a_twig_stays_that_reaches_past_its_junction_or_leads_to_the_centres(
    length, half, centres_mm, stays, outwards
):
    """Its length and half its width against 1.25 reaches; its free end within a fifth of one."""
    twig = [(0, 0), (0, length)] if outwards else [(0, length), (0, 0)]
    lines = _Lines(
        shapely.linestrings([[(-1, 0), (0, 0)], twig, [(0, 0), (1, 0)]]), np.zeros(3, np.intp)
    )
    edge = shapely.LineString([(-1, length + half), (1, length + half)])
    gauge = _Gauge(np.array([Polygon()]), np.array([edge]), REACH, 0.0)
    stop_at = np.array([box(-1, length + centres_mm, 1, length + 2)])
    found = _without_spurs(lines, gauge, stop_at)
    due = [2.0] if not stays else [length, 1, 1]
    assert sorted(shapely.length(found.line)) == pytest.approx(due)


@pytest.mark.parametrize("at_start", [True, False])
@pytest.mark.parametrize(
    ("bend", "tip", "is_met"),
    [
        (0.06, (0.5, 0.4), True),
        (0.06, (0.36, 0.3), True),
        (0.04, (0.5, 0.4), True),
        (0.04, (0.36, 0.28), False),
    ],
)
def test_an_end_runs_on_to_the_tip_that_lies_straight_on_from_its_last_half_reach(
    bend, tip, is_met, at_start
):
    """A line that bends up 0.06 mm from its end goes up there; the second tip is 30 degrees off.

    One that bends 0.04 mm from its end goes (0.01, 0.04), 14 degrees right: 44 degrees off.
    """
    ways = [(0.0, 0.0), (0.5, 0.0), (0.5, bend)]
    line = _Lines(shapely.linestrings([ways[::-1] if at_start else ways]), np.zeros(1, np.intp))
    place = Polygon([(0.47, 0.02), tip, (0.53, 0.02)]).union(box(0, -0.02, 0.53, 0.02))
    gauge = _Gauge(np.array([place]), np.array([place.boundary]), REACH, 0.0)
    which, tips = gauge.tips(line, np.zeros(1, np.intp), at_start=at_start)
    assert which.tolist() == ([0] if is_met else [])
    assert tips.tolist() == ([list(tip)] if is_met else [])


@pytest.mark.parametrize(
    ("half", "cut"),
    [
        # One reach from the end, and no farther where the end is as good as the rest.
        ([0.06, 0.07, 0.08, 0.08, 0.08, 0.08, 0.08], 0.04),
        # Thinner than half of what the rest needs: to where it is 0.95 of the median.
        ([0.03, 0.05, 0.07, 0.08, 0.08, 0.08, 0.08], 0.15),
        # Where it never is, one reach less what is there.
        ([0.01, 0.01, 0.01, 0.01, 0.01, 0.01, 0.01], 0.09),
        # A long point, 0.4 mm, is followed until 2.9 reaches are left.
        ([0.01] * 8 + [0.08] * 12, 0.29),
    ],
)
def test_an_end_is_cut_by_a_reach_or_by_its_taper(half, cut):
    gauge = object.__new__(_Gauge)
    gauge.reach_mm, gauge.edge_tolerance_mm = 0.1, 0.02
    assert gauge._cut_mm(np.array(half), np.full(len(half) - 1, 0.05)) == pytest.approx(cut)
