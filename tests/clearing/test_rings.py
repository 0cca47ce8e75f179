"""Rings of fill lines: how far apart they lie, how many there may be, and that they clear all."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon, box

from stopout.clearing.plane import Plane, thinned_lines
from stopout.clearing.ringed.middles import _few
from stopout.clearing.ringed.rings import ring_fills
from stopout.clearing.ringed.slivers import Slivers, _between


def rings_of(part, *, mark=(0.1, 0.1), x=0.07, y=0.07):
    return ring_fills([part], mark_mm=mark, spacing_mm={"x": x, "y": y})[0]


def bounds_at(rings, depth):
    (ring,) = [ring for ring in rings if ring.depth == depth]
    return np.concatenate([ring.points_mm.min(axis=0), ring.points_mm.max(axis=0)])


@pytest.mark.parametrize(("mark", "x", "y"), [((0.12, 0.1), 0.05, 0.07), ((0.1, 0.14), 0.08, 0.06)])
def test_a_ring_lies_one_spacing_within_another_each_way_its_own(mark, x, y):
    """Where it runs along x it is one spacing of lines along x farther up, and so on.

    Chords and needles cost a ring 2 um, the next a little more.
    """
    rings = rings_of(box(0, 0, 2, 1.5), mark=mark, x=x, y=y)
    for depth in (0, 1, 2, 3):
        by = depth * np.array([y, x])
        expected = [*by, *(np.array([2, 1.5]) - by)]
        np.testing.assert_allclose(bounds_at(rings, depth), expected, atol=1e-4 + 0.0025 * depth)


@pytest.mark.parametrize("mark", [(0.1, 0.1), (0.2, 0.1)])
def test_wide_spacings_are_held_to_what_leaves_nothing_at_a_square_corner(mark):
    """At 90 degrees the middle of the gap p / (1 + sin 45) from both rings lies within half a mark
    for p = (1 + sin 45) / 2 marks: 0.8536, less a few micrometres of slack."""
    rings = rings_of(box(0, 0, 2, 1.5), mark=mark, x=mark[1], y=mark[0])
    apart = bounds_at(rings, 1)[:2] / mark
    most = (1 + math.sin(math.radians(45))) / 2
    assert (apart <= most).all()
    assert (apart >= most - 0.006 / np.array(mark)).all()
    corner = shapely.union_all([box(0, 0, 0.4, 0.4), box(1.6, 0, 2, 0.4)])
    slivers = [shapely.LineString(ring.points_mm) for ring in rings if ring.depth % 1]
    assert not shapely.intersects(slivers, corner).any()


@pytest.mark.parametrize(("rings_across", "is_narrow"), [(79, True), (81, False)])
def test_a_part_of_more_than_80_rings_is_no_narrow_part(rings_across, is_narrow):
    found = rings_of(box(0, 0, 2 * rings_across * 0.02, 4), x=0.02, y=0.02)
    assert (found is not None) is is_narrow


@pytest.mark.parametrize(("side", "is_narrow"), [(161.6, True), (163.4, False)])
def test_a_part_with_a_long_tail_is_lost_where_its_middle_takes_more_than_80_rings(side, is_narrow):
    """In spacings: the 80th within a square's outline lies 80.25 within, for needles cost a little.

    By the area over the edge it is narrow, for a tail of 2 by 400 is as long again as the square.
    """
    part = box(0, 0, side, side).union(box(side, 0, side + 400, 2))
    assert 8 * part.area / part.length < 160
    found = rings_of(shapely.transform(part, lambda xy: 0.8 * xy), mark=(1, 1), x=0.8, y=0.8)
    assert (found is not None) is is_narrow


def slivers(place, *, inside, mark=(1.0, 1.0), cleared=0.495):
    """A sliver within a level and a part that are one area."""
    areas, one = np.array([inside]), np.zeros(1, dtype=np.intp)
    return Slivers(
        places=np.array([place]),
        level=one,
        part=one,
        levels=areas,
        parts=areas,
        mark=Plane(mark),
        cleared=cleared,
    )


@pytest.mark.parametrize(("thread", "fits"), [(0.0, True), (0.0015, True), (0.0025, False)])
def test_a_line_clears_a_sliver_but_for_threads_of_two_thousandths_of_a_mark(thread, fits):
    half, one = 0.495 + thread, np.zeros(1, dtype=np.intp)
    place = np.array([box(0, -half, 3, half)])
    line = np.array([shapely.LineString([(-0.5, 0), (3.5, 0)])])
    found, laid = slivers(place[0], inside=box(-1, -1, 4, 1))._fitting(one, place, line, one)
    assert found.tolist() == ([0] if fits else [])
    assert [path.tolist() for path in laid] == ([[[-0.5, 0], [3.5, 0]]] if fits else [])


@pytest.mark.parametrize(
    ("room", "share"), [(0.8, 1), (0.6, 0.75), (0.4, 0.5), (0.2, 0.25), (0.1, 0)]
)
@pytest.mark.parametrize("turn", [0, 1])
def test_a_line_is_led_on_by_seven_tenths_of_a_mark_or_a_quarter_to_three_of_it(room, share, turn):
    """So many marks of room before its beginning, along x or y; twice as many beyond its end."""
    mark = (0.1, 0.2)
    line, inside = np.array([(0.0, 0.0), (9.0, 0.0)]), box(-room, -1, 9 + 2 * room, 1)
    line = line[:, ::-1] if turn else line
    inside = shapely.transform(inside, lambda xy: (xy[:, ::-1] if turn else xy) * mark)
    both = slivers(inside, inside=inside, mark=mark)._led_on({0: line * mark})[0] / mark
    led = (both - line)[:, turn]
    assert led == pytest.approx([-0.7 * share, 0.7 * min(1, max(2 * share, 0.25))])


@pytest.mark.parametrize(
    "part",
    [
        Polygon([(0, 0), (1.2, 0.35), (1.2, -0.35)]),
        box(0, 0, 0.5, 0.31).difference(box(0.2, 0.12, 0.3, 0.2)),
        Polygon([(0, 0), (1, 0), (1, 0.16), (0.16, 0.16), (0.16, 0.9), (0, 0.9)]),
    ],
)
def test_marks_along_the_rings_clear_the_part_whole_and_nothing_beyond(part):
    mark = (0.1, 0.08)
    rings = rings_of(part, mark=mark, x=0.065, y=0.08)
    lines = [shapely.LineString(ring.points_mm) for ring in rings]
    stretch = np.array([1.0, mark[0] / mark[1]])
    swept = shapely.union_all(
        [shapely.transform(line, lambda xy: xy * stretch).buffer(0.05, 32) for line in lines]
    )
    whole = shapely.transform(part, lambda xy: xy * stretch).buffer(0.05, 32)
    # Threads of a micrometre come of the slack.
    assert shapely.difference(whole, swept).buffer(-0.0006).is_empty
    assert shapely.difference(swept, whole.buffer(0.001)).area < 1e-6
    assert {0.0, 1.0} <= {ring.depth for ring in rings}


def test_a_sliver_that_runs_round_gets_one_closed_line_half_way_between_its_rings():
    """0.14 mm wide, of which the rings clear 0.05 mm on either side."""
    round_1_mm, round_114_mm = (shapely.Point(0, 0).buffer(r, 64) for r in (1.0, 1.14))
    (line,) = (ring for ring in rings_of(round_114_mm.difference(round_1_mm)) if ring.depth % 1)
    assert (line.points_mm[0] == line.points_mm[-1]).all()
    assert np.hypot(*line.points_mm.T) == pytest.approx(1.07, abs=0.003)
    assert shapely.LineString(line.points_mm).length == pytest.approx(2 * math.pi * 1.07, rel=0.002)


def test_a_ring_thinned_keeps_four_points_however_small_it_is():
    small, large = (Point(0, 0).buffer(r).exterior for r in (1e-4, 1.0))
    thin = thinned_lines(np.array([small, large]), 0.0003)
    assert shapely.get_num_coordinates(thin)[0] == 4
    assert shapely.is_closed(thin).all()
    assert shapely.hausdorff_distance(thin[1], large) < 0.0003


def test_of_an_edge_of_very_many_points_some_are_looked_at_and_both_its_ends():
    edges = [box(0, 0, 3, 0.1).segmentize(way).exterior for way in (0.003, 1.0)]
    points, bounds = _few(np.array(edges))
    assert np.diff(bounds).tolist() == [691, 9]
    assert (points[bounds[:-1]] == points[bounds[1:] - 1]).all()


def test_half_way_between_two_squares_lies_the_square_between_corners_and_all():
    """By the outer one's corners: from the inner one's no way leads into the corners."""
    outer, inner = (box(-r, -r, r, r).exterior for r in (2, 1))
    halfway = shapely.Polygon(_between(outer, inner))
    assert halfway.symmetric_difference(box(-1.5, -1.5, 1.5, 1.5)).area < 1e-9
