"""Narrowest widths of shapes whose widths are known."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from effort import tries
from shapes import EMPTY, NECK, RING, glyph_f
from stopout.mask import narrowest, narrowest_of
from stopout.mask.discs import NO_POINTS, RESOLUTION_MM, what_fails
from stopout.mask.regions import parts_of
from stopout.mask.rings import _contacts, groups_of, rings_of, together
from stopout.mask.widths import _halved_nearby, _place, _rung_down, _rung_up


@pytest.mark.parametrize("width", [0.05, 0.21, 0.5, 2.0])
@pytest.mark.parametrize("start", [0.01, 0.05, 0.4])
def test_a_bar_measures_its_own_width(width, start):
    assert narrowest(box(0, 0, 10, width), start_mm=start).width_mm == pytest.approx(
        width, abs=0.0006
    )


def test_a_ring_measures_its_band():
    assert narrowest(RING).width_mm == pytest.approx(0.8, abs=0.002)


def test_a_neck_decides_and_is_found():
    found = narrowest(NECK)
    assert found.width_mm == pytest.approx(0.12, abs=0.001)
    assert 0.9 < found.at_mm[0] < 2.1


def test_the_narrowest_of_several_parts_counts():
    assert narrowest(shapely.union_all([box(0, 0, 5, 1), box(0, 2, 5, 2.3)])).width_mm == (
        pytest.approx(0.3, abs=0.001)
    )


@pytest.mark.parametrize("first", range(5))
def test_the_narrowest_of_many_regions_counts_wherever_it_stands(first):
    bars = [box(0, 0, 3 + k, width) for k, width in enumerate((0.9, 0.7, 0.2, 0.5, 1.3))]
    bars = bars[first:] + bars[:first]
    corners = np.arange(10.0).reshape(5, 2)
    found = narrowest_of(bars, start_mm=0.1, corners_mm=corners)
    assert found.width_mm == pytest.approx(0.2, abs=0.0006)
    x, y = found.at_mm - corners[(2 - first) % 5]
    assert 0 < x < 5
    assert 0 < y < 0.2
    assert narrowest_of(bars, start_mm=0.1, most_mm=0.15) is None


def test_two_round_holes_close_together_leave_a_narrow_wall():
    """A disc fits on either side of the waist; it counts as narrow once the two leave a gap.

    Discs of diameter w stand where the wall 0.15 + 2 (1 - sqrt(1 - y^2)) is w wide; they just
    meet at the waist for y = w / 2, so w = 0.15 + 2 (1 - sqrt(1 - w^2 / 4)) = 0.1561 mm.
    """
    plate = box(0, 0, 10, 10)
    plate = plate.difference(Point(4, 5).buffer(1, 64)).difference(Point(6.15, 5).buffer(1, 64))
    assert narrowest(plate).width_mm == pytest.approx(0.1561, abs=0.001)


def test_square_corners_do_not_count_as_narrow():
    assert narrowest(box(0, 0, 3, 3)).width_mm == pytest.approx(3, abs=0.001)


def test_a_corner_sharper_than_29_degrees_counts_as_narrow():
    sharp = Polygon([(0, 0), (10, 1.2), (10, -1.2)])
    blunt = Polygon([(0, 0), (4, 4), (8, 0)])
    assert narrowest(sharp).width_mm < 0.02
    assert narrowest(blunt).width_mm > 1.0


@pytest.mark.parametrize(
    "shape", [Polygon([(0, 0), (10, 1.2), (10, -1.2)]), NECK, glyph_f(stroke=0.9)]
)
def test_points_along_an_edge_change_no_width(shape):
    fine = shapely.segmentize(shape, 0.07)
    assert narrowest(fine).width_mm == pytest.approx(narrowest(shape).width_mm, abs=0.001)


def test_a_glyph_measures_its_stroke():
    assert narrowest(glyph_f(stroke=0.9)).width_mm == pytest.approx(0.9, abs=0.001)


def test_nothing_measures_zero():
    assert narrowest(EMPTY).width_mm == 0.0


def test_a_needle_measures_next_to_nothing():
    assert narrowest(Polygon([(0, 0), (10, 0.4), (10, -0.4)])).width_mm < 0.002


@pytest.mark.parametrize("start", [0.0003, 0.05])
def test_a_hair_measures_one_step_of_the_search(start):
    assert narrowest(box(0, 0, 10, 0.0002), start_mm=start).width_mm == RESOLUTION_MM


@pytest.mark.parametrize("start", [0.05, 0.12, 0.3])
def test_a_stub_is_as_narrow_whatever_the_search_begins_with(start):
    """Twice as long as wide it is a stroke to a disc as wide as it, a corner to one twice as wide.

    Lost are discs over 0.1 mm across; deeper than 3 w / 2 only those up to 0.2 / 1.5 = 0.133 mm.
    """
    stub = shapely.union_all([box(0, 0, 4, 2), box(1.95, 2, 2.05, 2.2)])
    assert narrowest(stub, start_mm=start).width_mm == pytest.approx(0.1, abs=0.0006)


@pytest.mark.parametrize("width", [0.0195, 0.0386, 0.0578, 0.155])
def test_a_stub_of_two_and_a_half_widths_is_found_wherever_its_width_falls(width):
    """Just above a width of the ladder, so that it must be lost at the next: half as large again.

    For that w = 1.5 b it must be 2.4 b long: the disc dips r - sqrt(r^2 - b^2 / 4) into its mouth,
    and 4 r from where its centre may be then lies a corner of the stub's end.
    """
    stub = shapely.union_all([box(0, 0, 4, 2), box(2, 1.9, 2 + width, 2 + 2.5 * width)])
    found = narrowest(stub, start_mm=2 * width).width_mm
    assert found == pytest.approx(width, abs=0.0006)


@pytest.mark.parametrize(("width", "is_rough"), [(0.0375, True), (0.055, False)])
def test_a_stub_narrower_than_a_seventh_of_what_is_begun_with_is_roughness(width, is_rough):
    """Of the ladder's widths 0.0384 mm is under a seventh of 0.307 mm and 0.0576 mm over it."""
    stub = shapely.union_all([box(0, 0, 4, 2), box(2, 1.9, 2 + width, 2 + 2 * width)])
    found = narrowest(stub, start_mm=0.307).width_mm
    assert found == pytest.approx(2 if is_rough else width, abs=0.0006)


@pytest.mark.parametrize("start", [0.0145, 0.05])
def test_a_spit_in_a_round_hole_is_found_by_a_disc_narrower_than_the_first_that_rolls_over_it(
    start,
):
    """0.027 mm long: a disc of 0.05 mm is not stopped by it, one of 0.0125 to 0.018 mm loses it."""
    hole = Point(5, 5).buffer(1.5, 64).difference(box(3.4, 5 - 0.00625, 3.527, 5 + 0.00625))
    found = narrowest(box(0, 0, 10, 10).difference(hole), start_mm=start)
    assert found.width_mm == pytest.approx(0.0125, abs=0.0006)


@pytest.mark.parametrize("degrees", [27.0, 28.9, 28.96, 29.0, 31.0])
def test_corners_about_29_degrees_have_one_width(degrees):
    """2 asin(1 / 4) = 28.955 degrees: sharper ones are narrow, blunter ones are not at any width.

    Whatever is begun with, alone and beside others, to the micrometre of the arithmetic: the
    depth of a corner is known no better, so that one as good as 28.955 degrees may be either.
    """
    half = math.radians(degrees / 2)
    wedge = Polygon([(0, 0), (4, 4 * math.tan(half)), (4, -4 * math.tan(half))])
    bar = box(6, 0, 9, 0.6)
    alone = {narrowest(wedge, start_mm=start).width_mm for start in (0.05, 0.2, 0.5)}
    beside = {narrowest_of([wedge, bar], start_mm=s, most_mm=0.5) for s in (0.05, 0.2, 0.5)}
    assert len(alone) == 1
    assert len({one and one.width_mm for one in beside}) == 1
    assert (max(alone) < 0.5) == (degrees < 28.955)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("start", [0.05, 0.4])
def test_joined_modules_of_a_code_are_as_wide_as_a_module(seed, start):
    """Holes between them meet in corners, where the modules touch in a point and are not narrow."""
    marked = np.random.default_rng(seed).random((10, 10)) < 0.55
    across, up = np.nonzero(marked)
    modules = shapely.box(0.3 * across, 0.3 * up, 0.3 * across + 0.3, 0.3 * up + 0.3)
    found = narrowest(shapely.union_all(modules), start_mm=start)
    assert found.width_mm == pytest.approx(0.3, abs=0.0006)


def test_a_plate_of_many_round_holes_measures_the_wall_that_is_made_thinner():
    """Three rows of holes of 1 mm across, 2.3 mm apart, and one 0.4 mm from the straight edge.

    A disc of diameter w touches both where its centre lies y along the edge from the waist, with
    y^2 = (0.5 + w/2)^2 - (0.9 - w/2)^2; two leave a gap once y = w/2, so w^2/4 - 1.4 w + 0.56 = 0.
    """
    middles = [(1.5 + 2.3 * k, 1.5 + 2.3 * j) for k in range(12) for j in range(3)]
    holes = shapely.buffer(shapely.points([*middles, (29.6, 3.0)]), 0.5, quad_segs=64)
    plate = box(0, 0, 30.5, 9).difference(shapely.union_all(holes))
    assert shapely.get_num_coordinates(plate) > 1000
    found = narrowest(plate)
    assert found.width_mm == pytest.approx((1.4 - math.sqrt(1.4)) / 0.5, abs=0.001)
    assert found.at_mm == pytest.approx((30.3, 3.0), abs=0.15)


def whole_search_mm(region):
    """The plain way: each disc of the ladder is tried on whole parts, with all of their rings."""
    parts = parts_of(region)

    def loses(steps):
        return bool(what_fails(parts, steps)[0].any())

    ladder = [step for power in range(5, 14) for step in (1 << power, 3 << power - 1)]
    low, high = next((pair for pair in pairwise(ladder) if loses(pair[1])), (0, 0))
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if loses(middle) else (middle, high)
    return low * RESOLUTION_MM


@st.composite
def pierced(draw):
    """A plate with round, square, hollow and lettering-like holes, which may run together."""
    disc = Point(0, 0).buffer(0.4, 12)
    shapes = [disc, box(-0.4, -0.3, 0.4, 0.3), glyph_f(stroke=0.3), RING]
    plate = box(0, 0, 14, 9)
    for _ in range(draw(st.integers(2, 9))):
        hole = affinity.scale(draw(st.sampled_from(shapes)), 0.6, 0.6, origin=(0, 0))
        hole = affinity.rotate(hole, draw(st.integers(0, 90)), origin=(0, 0))
        x, y = draw(st.integers(20, 110)) / 10, draw(st.integers(20, 60)) / 10
        plate = plate.difference(affinity.translate(hole, x, y))
    return plate


@settings(max_examples=tries(40), deadline=None, derandomize=True)
@given(pierced(), st.sampled_from([0.05, 0.3]))
def test_rings_looked_at_by_themselves_have_the_width_of_the_whole_search(plate, start):
    found, whole_mm = narrowest(plate, start_mm=start).width_mm, whole_search_mm(plate)
    # What is narrower than a seventh of the start is looked for only where more is narrow.
    if max(found, whole_mm) > 0.06:
        assert found == pytest.approx(whole_mm, abs=0.0005)


def test_rings_go_together_as_far_as_they_lie_no_farther_apart_than_the_disc_is_wide():
    holes = shapely.buffer(shapely.points([(2, 2), (3.3, 2), (7, 2)]), 0.5, quad_segs=64)
    rings = rings_of(parts_of(box(0, 0, 9, 4).difference(shapely.union_all(holes))))
    for width, count in ((0.299, 1), (0.301, 2)):
        groups, group = groups_of(rings, width)
        # The outline goes by itself, and round holes by themselves are not looked at.
        assert sorted(shapely.get_num_interior_rings(groups)) == [0, 2][:count]
        assert (group >= 0).sum() == 2 * count - 1


@pytest.mark.parametrize("leave_out_points", [False, True])
@pytest.mark.parametrize(
    "shape",
    [
        NECK,
        glyph_f(stroke=0.9),
        shapely.union_all([box(0, 0, 4, 2), box(1.95, 2, 2.05, 2.2), box(3, 2, 3.12, 4)]),
        shapely.union_all([box(k, 0, k + 0.8, 2) for k in range(4)] + [box(0, 0.9, 4, 0.9 + 0.13)]),
        box(0, 0, 3, 3).difference(shapely.union_all([box(1, 1, 1.5, 1.5), box(1.61, 1, 2, 2.9)])),
    ],
)
def test_large_parts_are_searched_as_small_ones_are(shape, leave_out_points, monkeypatch):
    """Only round what they lose: as narrow, at a place where nothing is wider."""
    small = narrowest(shape, leave_out_points=leave_out_points)
    monkeypatch.setattr("stopout.mask.widths.LARGE", 3)
    large = narrowest(shape, leave_out_points=leave_out_points)
    assert large.width_mm == pytest.approx(small.width_mm, abs=0.0004)
    assert shape.buffer(0.001).contains(Point(large.at_mm))


@pytest.mark.parametrize("width", [0.05, 5.0])
def test_a_hole_by_itself_is_framed_so_far_out_that_a_disc_goes_round_it(width):
    """A cross of bars two discs long, too hollow for a disc to roll over it."""
    bar = box(-width, -0.2 * width, width, 0.2 * width)
    hole = bar | affinity.rotate(bar, 90)
    plate = box(-9, -9, 9, 9) if width < 1 else box(-99, -99, 99, 99)
    groups, group = groups_of(rings_of(np.array([plate - hole])), width)
    assert sorted(group) == [0, 1]
    (framed,) = (one for one in groups if one.bounds != plate.bounds)
    assert min(np.abs(framed.bounds)) >= width + 3 * width
    assert list(framed.interiors[0].bounds) == pytest.approx([-width, -width, width, width])


def test_only_where_edges_meet_in_a_point_is_a_contact():
    """Two squares of land left out that share a corner; a corner drawn twice is none."""
    outline = [(0, 0), (9, 0), (9, 0), (9, 9), (9, 9 + 1e-8), (0, 9)]
    holes = [box(1, 1, 3, 3), box(3, 3, 5, 5), box(6, 6, 7, 7)]
    land = Polygon(outline, [hole.exterior for hole in holes])
    other = affinity.translate(land, 20, 0)
    at, part = _contacts(np.array([land, box(0, 0, 1, 1), other]))
    assert at.tolist() == [[3, 3], [23, 3]]
    assert part.tolist() == [0, 2]


def test_rings_of_several_regions_keep_to_their_own_parts():
    """Some of the rings of each: of the second region the first part is left out."""
    holed = box(0, 0, 9, 4).difference(shapely.union_all([box(1, 1, 2, 2), box(3, 1, 4, 2)]))
    two = rings_of(np.array([holed, affinity.translate(holed, 20, 0)]))
    other = rings_of(np.array([box(0, 0, 1, 1), holed]))
    some = [two.taken([0, 2, 4, 5]), other.taken([1, 2, 3]), two.taken([1])]
    found = together(some)
    whose = [(k, part) for k, one in enumerate(some) for part in one.part.tolist()]
    numbers = dict(zip(whose, found.part.tolist(), strict=True))
    assert [numbers[one] for one in whose] == found.part.tolist()
    assert len(set(numbers.values())) == len(numbers) == 4
    for name in ("ring", "is_outline", "hollow_mm"):
        parts = [getattr(one, name) for one in some]
        np.testing.assert_array_equal(getattr(found, name), np.concatenate(parts))


def test_the_ladder_of_widths_goes_by_halves_and_quarters():
    ladder = [0, 1, 2, *(step << power for power in range(12) for step in (3, 4))]
    for steps in range(1, 4000):
        assert _rung_down(steps) == max(rung for rung in ladder if rung < steps)
        assert _rung_up(steps) == min(rung for rung in ladder if rung >= steps)


def test_the_place_of_what_is_not_lost_is_the_part_itself():
    square = np.array([box(0, 0, 1, 1)])
    assert _place(square, NO_POINTS, 10) is square[0]


@pytest.mark.parametrize("seed", [4, 11])
def test_a_large_part_looked_at_round_its_losses_only_is_as_narrow_as_the_whole(seed):
    """Walls between nine holes, some of which bend so that their ends tell how wide they are."""
    rng = np.random.default_rng(seed)
    at = 1.3 * np.argwhere(np.ones((3, 3))) + rng.uniform(-0.2, 0.2, (9, 2)) + 1
    holes = shapely.buffer(shapely.points(at), 0.5, quad_segs=32)
    plate = np.array([box(0, 0, 4.6, 4.6).difference(shapely.union_all(holes))])
    low, high = 384, 512
    steps, found = _halved_nearby(plate, NO_POINTS, low, high)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if what_fails(plate, middle)[0].any() else (middle, high)
    assert steps == pytest.approx(high, abs=1)
    assert found.width_mm == pytest.approx(low * RESOLUTION_MM, abs=RESOLUTION_MM)
