"""What a reader finds changed, on shapes for which it is plain: squares, bars and rings."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, Polygon, box

from effort import tries
from outcome.plain_counters import changed_counters
from stopout.outcome import changed_parts, closed_gaps
from stopout.outcome.fill import as_region

REACH, TOLERANCE = 0.1, 0.02
BAR = box(0, 0, 4, 1)
RING = Point(0, 0).buffer(2, 64).difference(Point(0, 0).buffer(1, 64))


def changes(drawn, made):
    return changed_parts(drawn, made, reach_mm=REACH, edge_tolerance_mm=TOLERANCE)


def kinds(drawn, made):
    return [(one.kind, one.part) for one in changes(drawn, made)]


def test_what_is_made_as_drawn_is_unchanged():
    for shape in (BAR, RING, MultiPolygon([BAR, box(0, 2, 4, 3)])):
        assert kinds(shape, shape) == []
        # Edges within a tolerance, and rounded corners, are no change.
        assert kinds(shape, shape.buffer(-0.015)) == []
        assert kinds(shape, shape.buffer(-REACH).buffer(REACH)) == []
    assert kinds(MultiPolygon(), BAR) == []


@pytest.mark.parametrize(("width", "found"), [(0.008, []), (0.02, [("piece gone", 0)])])
def test_a_lost_hair_is_a_piece_from_half_a_reach_squared(width, found):
    """0.6 mm, more than three reaches of 0.1 mm, on an edge within its tolerance of 0.02 mm."""
    hair = box(2, 0.9, 2 + width, 1.6).union(box(1.5, 0.9, 2.5, 1.015))
    assert kinds(BAR.union(hair), BAR) == found


@pytest.mark.parametrize(("right", "found"), [(0.27, [("piece gone", 0)]), (0.28, [])])
def test_of_a_small_part_a_piece_counts_from_six_hundredths(right, found):
    """Less than a reach squared: 0.025 x 0.3 of 0.3 x 0.3 mm, but for 5 um beside a sound edge."""
    laws = {"reach_mm": REACH, "edge_tolerance_mm": 0.0}
    changed = changed_parts(box(0, 0, 0.3, 0.3), box(0, 0, right, 0.3), **laws)
    assert [(one.kind, one.part) for one in changed] == found


def test_a_shape_that_crosses_itself_becomes_the_areas_it_goes_round():
    crossed = Polygon([(0, 0), (2, 2), (2, 0), (0, 2)])
    region = as_region([crossed, box(5, 5, 6, 6)])
    assert region.is_valid
    assert sorted(part.area for part in region.geoms) == pytest.approx([1, 1, 1])


@pytest.mark.parametrize(
    ("made", "found"),
    [
        (MultiPolygon(), [("gone", 0)]),
        (box(0, 0, 4, 0.19), [("gone", 0)]),
        # Less than a fifth is there, though it is all that a neighbour reaches into.
        (box(3.3, -3, 6, 4), [("gone", 0)]),
        (box(0, 0, 3, 1), [("piece gone", 0)]),
        # An end of 0.31 mm is longer than three reaches, one of 0.29 mm is more than 6 %.
        (box(0, 0, 3.69, 1), [("piece gone", 0)]),
        (box(0, 0, 1.8, 1).union(box(2.2, 0, 4, 1)), [("piece gone", 0), ("split", 0)]),
        (box(0, 0, 1.97, 1).union(box(2.0, 0, 4, 1)), [("split", 0)]),
        # A crumb of 1 % is no second piece.
        (box(0, 0, 3.93, 1).union(box(3.96, 0, 4, 1)), []),
    ],
)
def test_a_bar_is_gone_lacks_a_piece_or_is_split(made, found):
    assert kinds(BAR, made) == found


def test_the_share_and_the_region_are_what_is_missing():
    (one,) = changes(BAR, box(0, 0, 3, 1))
    # The last 5 um beside a sound edge, or the tolerance, do not count as missing.
    assert one.share == pytest.approx((1 - TOLERANCE) / 4)
    assert one.region.equals_exact(box(3 + TOLERANCE, 0, 4, 1), 1e-9) or one.region.equals(
        box(3 + TOLERANCE, 0, 4, 1)
    )
    assert BAR.covers(Point(one.at_mm))
    assert changes(BAR, MultiPolygon())[0].share == 1.0


def test_a_tapering_tip_is_no_stroke_s_end():
    needle = Polygon([(0, 0), (4, 0.5), (0, 1)])
    assert kinds(needle, needle.intersection(box(0, 0, 3.71, 1))) == []
    assert kinds(needle, needle.intersection(box(0, 0, 3.0, 1))) == [("piece gone", 0)]


@pytest.mark.parametrize(
    ("made", "found"),
    [
        (Polygon(RING.exterior), [("counter closed", 0)]),
        # A twentieth of the counter is open at most: 0.22^2 = 0.048, 0.23^2 = 0.053.
        (
            Point(0, 0).buffer(2, 64).difference(Point(0, 0).buffer(0.22, 64)),
            [("counter closed", 0)],
        ),
        (Point(0, 0).buffer(2, 64).difference(Point(0, 0).buffer(0.23, 64)), []),
        # What was made in its middle, apart from it, closes nothing.
        (RING.union(Point(0, 0).buffer(0.5, 64)), []),
        # A slit through the ring lets the counter out.
        (RING.difference(box(0, -0.02, 3, 0.02)), [("counter opened", 0)]),
        (MultiPolygon(), [("gone", 0)]),
    ],
)
def test_a_counter_closes_or_opens(made, found):
    assert kinds(RING, made) == found
    # What is gone or closed is gone whole; a counter that is open lacks nothing.
    shares = {"gone": 1.0, "counter closed": 1.0, "counter opened": 0.0}
    assert [one.share for one in changes(RING, made)] == [shares[kind] for kind, _ in found]


def test_a_counter_with_an_island_closes_where_the_land_round_it_is_filled():
    island = Point(0, 0).buffer(0.5, 64)
    drawn = MultiPolygon([RING, island])
    assert kinds(drawn, drawn) == []
    filled = changes(drawn, Polygon(RING.exterior))
    assert [(one.kind, one.part, one.others) for one in filled] == [
        ("counter closed", 0, ()),
        ("merged", 0, (1,)),
    ]
    assert filled[0].region.area == pytest.approx(Polygon(RING.interiors[0]).area - island.area)


def test_parts_that_run_together_are_told_once_with_all_of_them():
    three = MultiPolygon([box(0, 0, 1, 1), box(1.1, 0, 2, 1), box(2.1, 0, 3, 1)])
    (one,) = changes(three, box(0, 0, 3, 1))
    assert (one.kind, one.part, one.others) == ("merged", 0, (1, 2))
    # In the order of the parts, whatever became of them.
    assert kinds(three, box(1.1, 0, 3, 1)) == [("gone", 0), ("merged", 1)]


@pytest.mark.parametrize(("kind", "width"), [("slit", 0.2), ("disc", 0.2), ("sliver", 0.001)])
def test_gaps_are_closed_up_to_their_width_and_no_wider(kind, width):
    hole = {
        "slit": box(1, 0.4, 3, 0.4 + width),
        "disc": Point(2, 0.5).buffer(width / 2, 64),
        "sliver": box(1, 0.4, 3, 0.4 + width),
    }[kind]
    region = MultiPolygon([BAR.difference(hole), box(0, 2, 4, 3)])
    closed = closed_gaps(region, width + 0.01)
    assert closed.area == pytest.approx(8.0)
    assert len(closed.geoms) == 2
    left = closed_gaps(region, max(width - 0.01, 0.0))
    wanted = 8.0 if kind == "sliver" else 8.0 - hole.area
    assert left.area == pytest.approx(wanted, abs=1e-9)
    assert shapely.get_num_interior_rings(left.geoms[0]) == (kind != "sliver")


def screen(cuts, growths):
    """A plate of six windows, an island with a counter in one, and what is made of it."""
    windows = [box(2 * k + 1, 1, 2 * k + 2, 2.5) for k in range(6)]
    island = Point(1.5, 1.75).buffer(0.4, 8).difference(Point(1.5, 1.75).buffer(0.2, 8))
    drawn = box(0, 0, 13, 3.5).difference(shapely.union_all(windows)).union(island)
    # Windows are narrowed one by one, down to nothing; strips of what is left are lost.
    filled = [
        window.difference(window.buffer(-growth))
        for window, growth in zip(windows, growths, strict=True)
    ]
    lost = [box(x, y, x + wide, y + high) for x, y, wide, high in cuts]
    return drawn, shapely.union_all([drawn, *filled]).difference(shapely.union_all(lost))


@settings(max_examples=tries(60), derandomize=True)
@given(
    st.lists(
        st.tuples(st.floats(0, 12), st.floats(-1, 3), st.floats(0.1, 3), st.floats(0.1, 3)),
        max_size=3,
    ),
    st.lists(st.sampled_from([0.0, 0.02, 0.2, 0.45, 0.49, 0.6]), min_size=6, max_size=6),
)
def test_counters_close_and_open_as_the_plain_look_at_each_says(cuts, growths):
    drawn, made = screen(cuts, growths)
    plain = changed_counters(shapely.get_parts(drawn), np.atleast_1d(shapely.get_parts(made)))
    found = [(kind, part) for kind, part in kinds(drawn, made) if kind.startswith("counter")]
    assert found == plain


def test_of_a_counter_in_two_the_larger_says_whether_it_is_open():
    """A bar across the counter: two free places, of which one is let out."""
    ring = box(0, 0, 6, 4).difference(box(1, 1, 5, 3))
    for bar, found in ((box(2, 1, 2.5, 3), []), (box(4, 1, 4.5, 3), [("counter opened", 0)])):
        made = ring.union(bar).difference(box(-1, 1.9, 1.5, 2.1))
        assert [one for one in kinds(ring, made) if one[0].startswith("counter")] == found
