"""The farthest point against closed forms and against distances on a grid."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, Polygon, box

from effort import tries
from stopout.outcome import farthest as searched
from stopout.outcome.farthest import Outline, beyond, farthest

EXACT_MM = 1e-3


def between(region, other):
    return farthest(region.difference(other), Outline(other))


def test_nothing_to_measure_is_at_no_distance():
    found = farthest(Polygon(), Outline(box(0, 0, 1, 1)))
    assert found.distance_mm == 0.0
    assert found.at_mm is None


@pytest.mark.parametrize("distance", [0.35, 0.5, 0.6])
def test_what_is_beyond_a_distance_has_all_parts_on_all_sides_taken_off(distance):
    """Against the library's own buffer: parts stand 0.3 mm off each side, and far away."""
    region = box(0, 0, 2, 1)
    sides = [box(-0.4, 0.4, -0.3, 0.6), box(2.3, 0.4, 2.4, 0.6), box(0.9, -0.4, 1.1, -0.3)]
    other = MultiPolygon([*sides, box(0.9, 1.3, 1.1, 1.4), box(9, 9, 10, 10)])
    expected = region.difference(other.buffer(distance, quad_segs=256))
    assert beyond(region, other, distance).symmetric_difference(expected).area < 1e-3
    assert expected.area > 0


def test_a_corner_left_out_is_as_far_as_its_tip():
    # Distance from a square's corner to an inscribed quarter circle: r (sqrt 2 - 1).
    square, r = box(0, 0, 2, 2), 0.5
    arc = np.linspace(0, np.pi / 2, 400)
    rounded = Polygon(
        [(0, 0), (2, 0), *np.column_stack([1.5 + r * np.cos(arc), 1.5 + r * np.sin(arc)]), (0, 2)]
    )
    found = between(square, rounded)
    assert found.distance_mm == pytest.approx(r * (np.sqrt(2) - 1), abs=EXACT_MM)
    assert found.at_mm == (2.0, 2.0)


def test_the_middle_of_a_covered_hole_is_farther_than_any_edge_point():
    # P covers a square hole of T with side 2: the farthest point is its centre, 1 mm from T.
    T = box(0, 0, 6, 6).difference(box(2, 2, 4, 4))
    found = between(box(0, 0, 6, 6), T)
    assert found.distance_mm == pytest.approx(1.0, abs=EXACT_MM)
    assert found.at_mm == pytest.approx((3.0, 3.0), abs=2 * EXACT_MM)


def test_the_middle_line_of_a_covered_slot_is_found_at_once():
    T = box(0, 0, 60, 6).difference(box(2, 2, 58, 2.4))
    assert between(box(0, 0, 60, 6), T).distance_mm == pytest.approx(0.2, abs=EXACT_MM)


@pytest.mark.parametrize("large", [searched._LARGE, 0])
def test_the_centre_of_a_covered_round_hole_is_its_radius_away(large, monkeypatch):
    """However it is searched: no point of the covered part's own edge is at any distance."""
    monkeypatch.setattr(searched, "_LARGE", large)
    hole = Point(3, 3).buffer(0.7, 256)
    found = between(box(0, 0, 6, 6), box(0, 0, 6, 6).difference(hole))
    assert found.distance_mm == pytest.approx(0.7, abs=EXACT_MM)


def test_the_middle_of_an_edge_can_be_the_farthest_point():
    # Two posts 2 mm apart joined by a bar that only touches them: its middle is 1 mm from both.
    posts = MultiPolygon([box(0, 0, 1, 5), box(3, 0, 4, 5)])
    assert between(box(0, 2, 4, 2.001), posts).distance_mm == pytest.approx(1.0, abs=EXACT_MM)


def test_an_even_excess_along_a_curve_is_as_wide_as_it_is():
    inner, outer = Point(0, 0).buffer(2, 512), Point(0, 0).buffer(2.01, 512)
    assert between(outer, inner).distance_mm == pytest.approx(0.01, abs=EXACT_MM)


corner = st.tuples(st.integers(0, 24), st.integers(0, 24)).map(lambda p: (p[0] / 25, p[1] / 25))
outline = st.lists(corner, min_size=3, max_size=7)


def even_odd(outlines):
    region = Polygon()
    for points in outlines:
        region = region.symmetric_difference(shapely.make_valid(Polygon(points)))
    parts = shapely.get_parts(region)
    return MultiPolygon(list(parts[shapely.area(parts) > 1e-4]))


@settings(max_examples=tries(60), deadline=None)
@given(st.lists(outline, min_size=1, max_size=3), st.lists(outline, min_size=1, max_size=3))
def test_any_two_regions_agree_with_a_grid_of_distances(first, second):
    region, other = even_odd(first), even_odd(second)
    if region.is_empty or other.is_empty:
        return
    xs, ys = np.meshgrid(np.arange(0.0, 1.0, 0.009), np.arange(0.0, 1.0, 0.009))
    within = shapely.contains_xy(region, xs, ys)
    on_grid = shapely.distance(other, shapely.points(xs[within], ys[within])).max(initial=0.0)
    exact = between(region, other)
    assert exact.distance_mm >= on_grid - EXACT_MM
    if exact.at_mm is not None:
        at = Point(exact.at_mm)
        assert region.distance(at) < 1e-9
        assert other.distance(at) == pytest.approx(exact.distance_mm, abs=1e-9)


def plain(region, outline):
    """The farthest corner, and what the whole of the other region grown by it does not cover."""
    xy = shapely.get_coordinates(region)
    best = searched._better(searched.Farthest(), xy, outline.distance(xy, outline.nearest(xy)))
    if best.distance_mm <= searched._EXACT_MM:
        best = searched.Farthest()
    left = beyond(region, outline.region, best.distance_mm + searched._EXACT_MM)
    return searched._search(searched._triangles(shapely.get_parts(left))[0], outline, best)


@pytest.mark.parametrize("seed", range(tries(120, share=12)))
def test_bounds_leave_out_nothing_that_growing_the_whole_region_finds(seed, monkeypatch):
    """Drawings of discs and bars against themselves rounded, grown, coarser and gone in places."""
    monkeypatch.setattr(searched, "_LARGE", 0)
    rng = np.random.default_rng(seed)
    size = 10 ** rng.uniform(-1, 0.5)
    at = rng.uniform(0, 8, (int(rng.integers(2, 25)), 2))
    radii, chords = size * rng.uniform(0.1, 1, len(at)), rng.integers(3, 60, len(at))
    shapes = [
        Point(x, y).buffer(r, int(n)) if n < 30 else box(x, y, x + 2 * r, y + r / 3)
        for (x, y), r, n in zip(at, radii, chords, strict=True)
    ]
    drawn = shapely.union_all(shapes)
    drawn = drawn if rng.integers(3) else box(-1, -1, 9, 9).difference(drawn)
    r = 10 ** rng.uniform(-3.5, -0.7)
    made = drawn.buffer(-r, 4).buffer(r * rng.uniform(0.9, 1.1), int(rng.integers(2, 40)))
    made = made.simplify(10 ** rng.uniform(-5, -2)) if rng.integers(2) else made
    for one, other in ((drawn, made), (made, drawn)):
        left = searched.as_region(one.difference(other))
        if other.is_empty or left.is_empty:
            continue
        outline = Outline(searched.as_region(other))
        found, whole = farthest(left, outline), plain(left, outline)
        assert found.distance_mm == pytest.approx(whole.distance_mm, abs=5e-4)
        if found.at_mm is not None:
            assert Point(found.at_mm).distance(other) == pytest.approx(found.distance_mm, abs=1e-9)


def test_a_corner_that_comes_twice_is_no_edge():
    """An edge of no length has no direction along which a place could be measured."""
    twice = Polygon([(0, 0), (2, 0), (2, 0), (2, 2), (0, 2)])
    assert len(Outline(twice).edges) == 4
    assert between(box(0, 0, 2.5, 2), twice).distance_mm == pytest.approx(0.5, abs=EXACT_MM)


@pytest.mark.parametrize("seed", range(6))
def test_no_point_of_a_triangle_is_farther_than_its_bound(seed):
    """Triangles about the origin, where sums of corners are short and their differences long."""
    rng = np.random.default_rng(seed)
    pieces = rng.uniform(-1, 1, (200, 3, 2))
    pieces -= pieces.mean(axis=1, keepdims=True)
    x, y = rng.uniform(-1.5, 1.5, 2)
    near = box(x, y, x + 0.1, y + 0.1)
    outline = Outline(searched.as_region(near))
    bound = searched._bound(pieces, *searched._measured(pieces, outline), outline)
    inside = np.einsum("pk,nkd->npd", rng.dirichlet((0.3, 0.3, 0.3), 50), pieces)
    far = shapely.distance(shapely.points(inside), near.exterior)
    assert (far <= bound[:, None] + 1e-9).all()
