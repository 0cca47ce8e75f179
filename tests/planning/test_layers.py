"""Clearing coats in register, by both methods: what is seen, and what a miss shows.

The law of coats (the reader sees the first paint left on the back) is common practice; it is
spelled out here point by point, spraying and clearing in the order of the work.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from effort import tries
from planning import plain_register
from stopout.planning.signs.grid import GRID_MM, difference, intersection, union
from stopout.planning.signs.layers import clearings, plan_layers
from stopout.planning.signs.register import agreement, moved_view, moves, worst_slip
from stopout.planning.signs.shows import effective, front_view

FACE = box(0, 0, 6, 4)
METHODS = ("one-by-one", "through")


def sprayed_and_cleared(x, y, cleared, method):
    """The coat seen at a point, by doing the work there: spray, clear, spray, clear."""
    there: list[int] = []
    for number, region in enumerate(cleared):
        there.append(number)
        if region is not None and region.contains(Point(x, y)):
            there = there[:-1] if method == "one-by-one" else []
    return there[0] if there else None


maps = st.lists(st.lists(st.integers(0, 3), min_size=6, max_size=6), min_size=4, max_size=4)


def regions_of(grid, n_coats=4):
    return [
        shapely.union_all(
            [
                box(x, y, x + 1, y + 1)
                for y, row in enumerate(grid)
                for x, cell in enumerate(row)
                if cell == number
            ]
        )
        for number in range(n_coats)
    ]


@given(grid=maps, method=st.sampled_from(METHODS), error=st.sampled_from([0.0, 0.1, 0.3]))
@settings(max_examples=tries(60))
def test_any_map_of_colours_is_seen_as_drawn_by_either_method(grid, method, error):
    shown = regions_of(grid)
    cleared = clearings(shown, method=method, error_mm=error)
    views = front_view(FACE, effective(cleared, method))
    for y in range(4):
        for x in range(6):
            for fx, fy in ((0.5, 0.5), (0.05, 0.5), (0.9, 0.93)):
                at = (x + fx, y + fy)
                assert sprayed_and_cleared(*at, cleared, method) == grid[y][x]
                assert [k for k, view in enumerate(views) if view.contains(Point(at))] == [
                    grid[y][x]
                ]
    assert agreement(shown, views, FACE).share == pytest.approx(1.0, abs=1e-9)


@given(seed=st.integers(0, 10_000), method=st.sampled_from(METHODS), n_coats=st.integers(2, 5))
@example(seed=517, method="one-by-one", n_coats=5)
@settings(max_examples=tries(40))
def test_whatever_was_cleared_the_front_view_is_what_spraying_and_clearing_leave(
    seed, method, n_coats
):
    rng = np.random.default_rng(seed)
    cleared = [
        shapely.union_all(
            [Point(*rng.uniform(0, (6, 4))).buffer(rng.uniform(0.3, 1.5)) for _ in range(3)]
        )
        for _ in range(n_coats - 1)
    ] + [None]
    views = front_view(FACE, effective(cleared, method))
    edges = shapely.union_all([one.boundary for one in cleared if one is not None])
    for x, y in rng.uniform(0.01, (5.99, 3.99), (40, 2)):
        # Views lie on a grid: half a micrometre from an edge may be of either side.
        if edges.distance(Point(x, y)) > 5e-4:
            inside = [k for k, view in enumerate(views) if view.contains(Point(x, y))]
            assert inside == [sprayed_and_cleared(x, y, cleared, method)]


# A ground with a bar of the last colour in it, and the middle colour far from the bar.
APART = [
    FACE.difference(box(1, 1, 2, 3)).difference(box(4, 1, 5, 3)),
    box(4, 1, 5, 3),
    box(1, 1, 2, 3),
]


def test_without_a_spread_a_miss_shows_a_sliver_as_wide_as_the_miss():
    cleared = clearings(APART, method="one-by-one", error_mm=0)
    slip = worst_slip(APART, cleared, face=FACE, method="one-by-one", error_mm=0.1)
    assert slip.width_mm == pytest.approx(0.1, abs=0.004)
    assert slip.coat == 2
    assert slip.at_mm is not None
    assert 1 - 1e-6 <= slip.at_mm[0] <= 2 + 1e-6


@pytest.mark.parametrize("method", METHODS)
def test_spread_where_hidden_no_wrong_colour_shows_up_to_the_given_error(method):
    cleared = clearings(APART, method=method, error_mm=0.1)
    slip = worst_slip(APART, cleared, face=FACE, method=method, error_mm=0.1)
    assert slip.width_mm == 0


@pytest.mark.parametrize("turn", range(16))
def test_the_spread_holds_in_every_direction_of_the_miss(turn):
    """Not only in the eight directions that the planner tries."""
    angle = 2 * math.pi * turn / 16 + 0.1
    cleared = clearings(APART, method="one-by-one", error_mm=0.1)
    moved = [*cleared]
    moved[1] = affinity.translate(cleared[1], 0.1 * math.cos(angle), 0.1 * math.sin(angle))
    views = front_view(FACE, effective(moved, "one-by-one"))
    stray = views[1].difference(APART[1].buffer(0.1))
    assert stray.buffer(-0.002).is_empty


# The plain look lays every overlay anew for each move: as many neighbours, on less of a face.
SMALL = box(0, 0, 4, 3)
small_maps = st.lists(st.lists(st.integers(0, 3), min_size=4, max_size=4), min_size=3, max_size=3)


def rounded(grid, face=FACE):
    """Regions with round corners, which have many vertices; the first coat has what is left."""
    shown = [region.buffer(-0.1).buffer(0.1, quad_segs=24) for region in regions_of(grid)]
    return [shown[0].union(face.difference(shapely.union_all(shown))), *shown[1:]]


@given(grid=small_maps, method=st.sampled_from(METHODS))
@settings(max_examples=tries(24))
def test_moved_views_are_those_of_a_plain_look_at_each_move_within_half_a_micrometre(grid, method):
    cleared = clearings(rounded(grid, SMALL), method=method, error_mm=0.1)
    for move in moves(cleared, 0.1):
        views = moved_view(cleared, face=SMALL, method=method, move=move)
        plain = plain_register.moved_view(cleared, SMALL, method, move)
        for view, other in zip(views, plain, strict=True):
            assert view.symmetric_difference(other).buffer(-0.00025).is_empty


@given(
    grid=small_maps, method=st.sampled_from(METHODS), off=st.sampled_from([0.0, 0.06, 0.1, 0.25])
)
@settings(max_examples=tries(24))
def test_the_widest_sliver_is_that_of_a_plain_look_at_each_move_within_half_a_micrometre(
    grid, method, off
):
    """Also where the clearings are spread too little, and where they are not those planned."""
    shown = rounded(grid, SMALL)
    cleared = clearings(shown, method=method, error_mm=off)
    cleared = [None if region is None else region.buffer(0.03 - off / 5) for region in cleared]
    slip = worst_slip(shown, cleared, face=SMALL, method=method, error_mm=0.1)
    wrong = plain_register.wrong_by_move(shown, cleared, SMALL, method, 0.1)

    def holds_a_disc(width):
        return {key for key, region in wrong.items() if not region.buffer(-width / 2).is_empty}

    assert not holds_a_disc(max(slip.width_mm, 0.004) + 0.0005)
    if slip.width_mm > 0:
        assert (slip.moved, slip.coat) in holds_a_disc(slip.width_mm - 0.0005)
        middle = Point(slip.at_mm).buffer(slip.width_mm / 2 - 0.0005)
        assert middle.difference(wrong[slip.moved, slip.coat]).area < 1e-6


@given(one=maps, other=maps, shift=st.sampled_from([(0.0, 0.0), (0.5, 0.0), (0.00004, 0.3)]))
@settings(max_examples=tries(40))
def test_overlays_part_by_part_are_those_of_the_whole_on_the_grid(one, other, shift):
    a = shapely.union_all(regions_of(one)[:2])
    b = affinity.translate(rounded(other)[2], *shift)
    for ours, theirs in (
        (difference, shapely.difference),
        (intersection, shapely.intersection),
        (lambda a, b: union([a, b]), shapely.union),
    ):
        for first, second in ((a, b), (b, a)):
            found = ours(first, second)
            assert found.is_valid
            plain = plain_register.overlaid(theirs, first, second)
            assert found.symmetric_difference(plain).buffer(-0.0001).is_empty
            xy = shapely.get_coordinates(found) / GRID_MM
            assert np.allclose(xy, np.round(xy), atol=1e-6)


def test_neighbours_that_are_cut_by_two_clearings_pull_apart_unless_one_runs_under_the_other():
    """Through all coats, a ground sliver shows between two colours that touch, if nothing grows."""
    shown = [
        FACE.difference(box(1, 1, 3, 3)),
        box(1, 1, 2, 3),
        box(2, 1, 3, 3),
    ]
    bare = clearings(shown, method="through", error_mm=0)
    grown = clearings(shown, method="through", error_mm=0.1)
    assert worst_slip(
        shown, bare, face=FACE, method="through", error_mm=0.1
    ).width_mm == pytest.approx(0.1, abs=0.004)
    slip = worst_slip(shown, grown, face=FACE, method="through", error_mm=0.1)
    assert slip.width_mm == 0


def test_nothing_is_cleared_of_what_must_stay():
    for method in METHODS:
        cleared = clearings(APART, method=method, error_mm=0.1)
        views = front_view(FACE, effective(cleared, method))
        for wanted, view in zip(APART, views, strict=True):
            assert view.symmetric_difference(wanted).area < 1e-9


def test_one_clearing_has_nothing_to_miss():
    layers = plan_layers([FACE.difference(box(1, 1, 2, 2)), box(1, 1, 2, 2)], face=FACE)
    assert layers.method == "one-by-one"
    assert "one clearing only" in layers.reason
    assert layers.cleared[1] is None


def test_the_method_can_be_asked_for_and_the_reason_says_so():
    layers = plan_layers(APART, face=FACE, method="through", error_mm=0.1)
    assert layers.method == "through"
    assert "job file" in layers.reason
    assert layers.cleared[0].area == pytest.approx(APART[1].area, rel=1e-6)


def test_one_by_one_the_first_clearing_is_every_later_colour():
    layers = plan_layers(APART, face=FACE)
    assert layers.cleared[0].equals(shapely.union_all(APART[1:]))
    assert layers.cleared[1].equals(APART[2])


def test_a_window_thinner_than_the_error_is_still_opened():
    shown = [FACE.difference(box(1, 1, 1.05, 3)), Polygon(), box(1, 1, 1.05, 3)]
    cleared = clearings(shown, method="one-by-one", error_mm=0.1)
    assert cleared[0].equals(shown[2])
    assert cleared[1].contains(shown[2])
