"""Corners within a tolerance reach the optimum of plane geometry."""

import math

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from stopout.mask import dilate, dilate_by_mark, draw_opening, make_mask, reach_mm
from stopout.mask.corners import corner_lines
from stopout.mask.mouths import still_needed

UNDERCUT, MARK = 0.06, (0.10, 0.10)
R = reach_mm(UNDERCUT, MARK)


def wedge(degrees, size=4.0):
    a = math.radians(degrees / 2)
    x, y = size * math.cos(a), size * math.sin(a)
    return Polygon([(0, 0), (x, y), (x, -y)])


def finished(mask):
    lines = [line.buffer(R, 64) for line in shapely.get_parts(mask.lines)]
    return shapely.union_all([dilate(dilate_by_mark(mask.centres, MARK), UNDERCUT), *lines])


def best(degrees, tolerance):
    """The worst errors outside and inside that a disc on the bisector can bring about.

    Plane geometry: equal at e* = r (1 - sin a) / (1 + sin a); with less tolerance the tip is
    (r - e) / sin a - r away.
    """
    s = math.sin(math.radians(degrees / 2))
    even = R * (1 - s) / (1 + s)
    return (even, even) if tolerance >= even else (tolerance, (R - tolerance) / s - R)


@pytest.mark.parametrize("degrees", [30, 45, 60, 90, 120])
@pytest.mark.parametrize("share", [1.5, 0.5])
def test_a_corner_reaches_the_optimum_above_and_below_it(degrees, share):
    tolerance = share * best(degrees, 1.0)[0]
    made = finished(
        make_mask(wedge(degrees), undercut_mm=UNDERCUT, mark_mm=MARK, edge_tolerance_mm=tolerance)
    )
    outside, inside = best(degrees, tolerance)
    # The wedge's other two corners are not looked at.
    points = shapely.points(shapely.get_coordinates(made.intersection(box(-1, -1, 1, 1))))
    assert made.distance(Point(0, 0)) == pytest.approx(inside, rel=0.03, abs=2e-4)
    assert shapely.distance(points, wedge(degrees)).max() == pytest.approx(
        outside, rel=0.03, abs=2e-4
    )


def test_beyond_the_bump_of_the_disc_the_edge_does_not_move():
    e, a = 0.018, math.radians(45)
    made = finished(make_mask(wedge(90), undercut_mm=UNDERCUT, mark_mm=MARK, edge_tolerance_mm=e))
    reach = (R - e) / math.tan(a) + math.sqrt(2 * R * e - e * e)
    near = made.intersection(box(-1, -1, 1, 1))
    far = near.difference(Point(0, 0).buffer(reach + 0.002, 64))
    beyond = far.difference(wedge(90).buffer(0.001))
    assert shapely.area(beyond) < 1e-9


def test_without_tolerance_a_corner_is_the_plain_opening():
    mask = make_mask(wedge(60), undercut_mm=UNDERCUT, mark_mm=MARK, edge_tolerance_mm=0.0)
    assert mask.lines.is_empty


def test_corner_work_shorter_than_two_motor_steps_is_left_out():
    square = box(0, 0, 3, 3)
    # At a right angle the line is r (sqrt 2 - 1) / (1 + sin 45) = 0.0267 mm long.
    long = make_mask(
        square, undercut_mm=UNDERCUT, mark_mm=MARK, edge_tolerance_mm=0.05, step_mm=0.0125
    )
    short = make_mask(
        square, undercut_mm=UNDERCUT, mark_mm=MARK, edge_tolerance_mm=0.05, step_mm=0.0140
    )
    assert len(shapely.get_parts(long.lines)) == 4
    assert short.lines.is_empty


def test_a_corner_is_not_sharpened_into_a_narrow_land():
    pair = shapely.union_all([box(0, 0, 2, 2), box(2.16, -1, 4, 3)])
    mask = make_mask(
        pair,
        undercut_mm=UNDERCUT,
        mark_mm=MARK,
        edge_tolerance_mm=0.05,
        narrowest_land_mm=0.15,
    )
    ends = np.array([line.coords[-1] for line in shapely.get_parts(mask.lines)])
    # The bumps of the two corners at the gap would leave 0.141 mm of land.
    assert not ((ends[:, 0] > 1.5) & (ends[:, 0] < 2.1)).any()
    assert (ends[:, 0] < 0.5).sum() == 2


@pytest.mark.parametrize("mark", [(0.10, 0.06), (0.05, 0.12)])
def test_an_elliptical_mark_sharpens_corners_within_the_tolerance(mark):
    square, e = box(0, 0, 3, 3), 0.02
    mask = make_mask(square, undercut_mm=UNDERCUT, mark_mm=mark, edge_tolerance_mm=e)
    plain = make_mask(square, undercut_mm=UNDERCUT, mark_mm=mark)
    factor = mark[0] / mark[1]
    made = [dilate(dilate_by_mark(mask.centres, mark), UNDERCUT)]
    for line in shapely.get_parts(mask.lines):
        swept = shapely.transform(line, lambda xy: xy * [1, factor]).buffer(mark[0] / 2, 64)
        made.append(shapely.transform(swept, lambda xy: xy / [1, factor]).buffer(UNDERCUT, 64))
    made = shapely.union_all(made)
    before = dilate(dilate_by_mark(plain.centres, mark), UNDERCUT)
    assert len(shapely.get_parts(mask.lines)) == 4
    assert made.distance(Point(0, 0)) < 0.8 * before.distance(Point(0, 0))
    assert shapely.distance(shapely.points(shapely.get_coordinates(made)), square).max() <= e + 5e-4


@pytest.mark.parametrize("degrees", [45, 60, 90, 120])
def test_a_drawn_corner_is_sharp_up_to_a_right_angle(degrees):
    """A disc stops r (1 / sin a - 1) short of a tip; what it stops short of a right angle is drawn.

    So a printed or cut corner of a right angle is whole, a sharper one as much less rounded.
    """
    r = 0.2
    mask = make_mask(wedge(degrees), undercut_mm=0.0, mark_mm=(2 * r, 2 * r))
    drawn = draw_opening(wedge(degrees), mask, edge_mm=0.0, smallest_mm=2 * r)
    short = r * (1 / math.sin(math.radians(degrees / 2)) - 1) - r * (math.sqrt(2) - 1)
    assert drawn.distance(Point(0, 0)) == pytest.approx(max(short, 0.0), rel=0.01, abs=1e-9)
    assert drawn.difference(wedge(degrees)).area < 1e-6
    # Drawn smaller all round by what the edges move outwards afterwards.
    inner = make_mask(box(0, 0, 3, 2), undercut_mm=0.1, mark_mm=(2 * r, 2 * r))
    made = draw_opening(box(0, 0, 3, 2), inner, edge_mm=0.1, smallest_mm=2 * r)
    assert made.symmetric_difference(box(0.1, 0.1, 2.9, 1.9)).area < 1e-4


@pytest.mark.parametrize("mark", [(0.10, 0.06), (0.05, 0.12), (0.10, 0.10)])
def test_a_right_angle_s_line_leads_to_the_corner_of_the_element_s_box(mark):
    """Sides touch u + a and u + b away, so the tip lies (u + a, u + b) from the corner of the
    centres; a length s is s cos outside the side that it leads to most, the tolerance at most."""
    e = 0.008
    mask = make_mask(box(0, 0, 3, 2), undercut_mm=UNDERCUT, mark_mm=mark, edge_tolerance_mm=e)
    tip = UNDERCUT + np.array(mark) / 2
    found = sorted(shapely.get_coordinates(mask.lines).reshape(-1, 2, 2).tolist())
    assert len(found) == 4
    begin, end = np.array(found[0])
    way = tip / np.hypot(*tip)
    np.testing.assert_allclose(begin, tip, atol=1e-4)
    np.testing.assert_allclose(begin - end, way * e / way.max(), atol=2e-4)


@pytest.mark.parametrize(("limit", "n"), [(0.118, 4), (0.126, 2)])
def test_a_corner_leaves_the_limit_beyond_itself(limit, n):
    """0.16 mm of land less what a right angle's line takes, r (1 - s) / (1 + s) = 0.0189 mm for
    s = sin 45 and r = 0.11, twice, for one across might come out as far: 0.1222 mm."""
    pair = shapely.union_all([box(0, 0, 2, 2), box(2.16, -1, 4, 3)])
    mask = make_mask(
        pair,
        undercut_mm=UNDERCUT,
        mark_mm=MARK,
        edge_tolerance_mm=0.05,
        narrowest_land_mm=limit,
    )
    begins = shapely.get_coordinates(mask.lines)[::2]
    assert (begins[:, 0] < 2).sum() == n


@pytest.mark.parametrize("mark", [(0.10, 0.06), (0.05, 0.12)])
def test_an_elliptical_mark_s_corner_beside_a_curve_is_a_disc_s_where_the_plane_is_stretched(mark):
    """No undercut: then all is stretched alike but for the tolerance, so the ways are the same."""
    segment = Point(0, 0).buffer(2, 256).intersection(box(-3, -3, 0.5, 3))
    stretch = np.array([1, mark[0] / mark[1]])
    plain = shapely.transform(segment, lambda xy: xy * stretch)
    laws = {"undercut_mm": 0.0, "edge_tolerance_mm": 0.004}
    found, due = (
        np.array(sorted(shapely.get_coordinates(made.lines).reshape(-1, 4).tolist()))
        for made in (
            make_mask(segment, mark_mm=mark, **laws),
            make_mask(plain, mark_mm=(mark[0], mark[0]), **laws),
        )
    )
    assert len(found) == len(due) == 2
    begin, ways = found[:, :2] * stretch, (found[:, 2:] - found[:, :2]) * stretch
    np.testing.assert_allclose(begin, due[:, :2], atol=1e-3)
    turns = [np.arctan2(way[:, 1], way[:, 0]) for way in (ways, due[:, 2:] - due[:, :2])]
    np.testing.assert_allclose(turns[0], turns[1], atol=0.01)


@pytest.mark.parametrize("degrees", [30, 45, 60])
@pytest.mark.parametrize("tolerance", [0.01, 0.03])
def test_a_corner_that_is_not_reached_is_no_stub(degrees, tolerance):
    """However far its tip lies from what is made: it turns too sharply to end bluntly."""
    mask = make_mask(
        wedge(degrees), undercut_mm=UNDERCUT, mark_mm=MARK, edge_tolerance_mm=tolerance
    )
    assert mask.thin_places == ()


def test_a_stroke_no_wider_than_what_one_place_finishes_has_no_tip():
    """Both sides of its end are touched, and run back beside each other: they meet nowhere."""
    bar = box(0, -R, 4, R)
    needle = Polygon([(3.2, 1e-5), (3.2, -1e-5), (1.5, 0)])
    lines = corner_lines(
        needle, bar, needle.buffer(R + 1e-3), slack_mm=1e-3, undercut_mm=UNDERCUT, mark_mm=MARK,
        edge_tolerance_mm=0.02, shortest_mm=0.001, narrowest_land_mm=0.1,
    )  # fmt: skip
    assert len(lines) == 0


def test_a_corner_s_line_that_no_followed_stroke_meets_is_still_needed():
    """Its box meets a stroke's, itself it does not; where one meets it, it is judged anew."""
    bump, stroke = LineString([(0, 0), (1, 1)]).buffer(0.05), box(0.8, 0, 1, 0.2)
    how = {"kept": box(5, 5, 6, 6), "target": box(5, 5, 6, 6) | stroke}
    bumps = np.array([bump])
    assert still_needed(bumps, np.array([stroke]), **how).tolist() == [True]
    assert still_needed(bumps, np.array([box(0.4, 0, 1, 0.5)]), **how).tolist() == [False]
