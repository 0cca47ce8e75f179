"""What is finished of simple shapes, against hand-worked plane geometry.

What a path finishes is swept here by plain buffers of it, not by the planner's own operations.
Symbols: r the reach, u the undercut, e the edge tolerance, w a stroke's width, h = w / 2.
"""

import math

import numpy as np
import pytest
import shapely
from scipy.special import ellipe
from shapely import LineString, Point, box

from stopout.mask import make_mask

U, MARK, R = 0.05, (0.10, 0.10), 0.10
OVAL, TALL = (0.10, 0.06), (0.05, 0.12)
# A quarter of a square of side 2 r less a quarter of a disc: what a right angle loses.
CORNER = R * R * (1 - math.pi / 4)


def planned(region, *, e=0.0, policy="leave-out", land=0.0, mark=MARK):
    return make_mask(
        region,
        undercut_mm=U,
        mark_mm=mark,
        too_thin=policy,
        edge_tolerance_mm=e,
        narrowest_land_mm=land,
    )


def swept(mask, mark=MARK):
    path = shapely.union_all([*mask.centres.geoms, *mask.lines.geoms])
    stretch = mark[0] / mark[1]
    high = shapely.transform(path, lambda xy: xy * (1.0, stretch)).buffer(mark[0] / 2, quad_segs=96)
    return shapely.transform(high, lambda xy: xy / (1.0, stretch)).buffer(U, quad_segs=96)


def errs(target, made):
    """How far a region stops short, and how far it goes beyond, at the worst."""
    short = shapely.points(shapely.get_coordinates(shapely.segmentize(target, 0.005)))
    beyond = shapely.points(shapely.get_coordinates(shapely.segmentize(made, 0.005)))
    return (
        float(shapely.distance(short, made).max()),
        float(shapely.distance(beyond, target).max()),
    )


def cross(w, span=2.0):
    return shapely.union_all(
        [box(-span / 2, -w / 2, span / 2, w / 2), box(-w / 2, -span / 2, w / 2, span / 2)]
    )


def ring(outer, inner):
    disc = Point(0, 0).buffer(outer, quad_segs=180)
    return disc.difference(Point(0, 0).buffer(inner, quad_segs=180))


def stadium(length, radius):
    """Area of all within a radius of a line."""
    return 2 * radius * length + math.pi * radius**2


class TestACross:
    @pytest.mark.parametrize("w", [0.20, 0.24, 0.5])
    def test_with_arms_wide_enough_loses_its_eight_points(self, w):
        """2 w L - w^2 drawn; each of 8 right angles loses r^2 (1 - pi / 4); the four reflex
        corners are made, for a disc rolls round them outside."""
        drawn = 2 * w * 2.0 - w * w
        made = swept(planned(cross(w)))
        assert made.area == pytest.approx(drawn - 8 * CORNER, abs=2e-4)
        assert errs(cross(w), made) == pytest.approx((R * (math.sqrt(2) - 1), 0.0), abs=3e-4)

    @pytest.mark.parametrize("e", [0.008, 0.0172, 0.05])
    def test_with_arms_wide_enough_errs_evenly_at_its_points_within_a_tolerance(self, e):
        """A disc a length s beyond the corner of the centres, on the bisector, is s / sqrt 2
        outside and sqrt 2 r - s - r short: even at s = r (sqrt 2 - 1) / (1 + 1 / sqrt 2), where
        both are e* = r (sqrt 2 - 1) / (sqrt 2 + 1) = 0.01716; a lesser e ends it at s = sqrt 2 e.
        """
        even = R * (math.sqrt(2) - 1) / (math.sqrt(2) + 1)
        out = min(e, even)
        short, beyond = errs(cross(0.5), swept(planned(cross(0.5), e=e)))
        assert beyond == pytest.approx(out, abs=3e-4)
        assert short == pytest.approx(math.sqrt(2) * (R - out) - R, abs=3e-4)

    @pytest.mark.parametrize(
        ("e", "policy"), [(0.0, "widen"), (0.02, "widen"), (0.04, "leave-out"), (0.04, "stop")]
    )
    def test_with_arms_too_narrow_becomes_two_stadiums(self, e, policy):
        """Lines L - 2 r long, swept by r: two stadiums less the square of side 2 r that they
        share. The sides go r - h = 0.03 beyond; a square end's corners, r and h from the line's
        end, stay sqrt(r^2 + h^2) - r = 0.0221 short."""
        w = 0.14
        mask = planned(cross(w), e=e, policy=policy)
        made = swept(mask)
        assert made.area == pytest.approx(2 * stadium(2.0 - 2 * R, R) - 4 * R * R, abs=2e-3)
        short, beyond = errs(cross(w), made)
        assert beyond == pytest.approx(R - w / 2, abs=1e-3)
        assert short == pytest.approx(math.hypot(R, w / 2) - R, abs=1e-3)
        assert {place.treatment for place in mask.thin_places} == {
            "made" if e >= R - w / 2 else "widened"
        }

    def test_with_arms_too_narrow_beyond_the_tolerance_is_left_out(self):
        mask = planned(cross(0.14), e=0.02)
        assert swept(mask).is_empty
        assert {place.treatment for place in mask.thin_places} == {"left out"}


class TestARing:
    @pytest.mark.parametrize("e", [0.0, 0.05])
    @pytest.mark.parametrize(("outer", "inner"), [(1.0, 0.8), (1.0, 0.5), (0.4, 0.15), (0.3, 0.04)])
    def test_wide_enough_is_finished_as_drawn(self, outer, inner, e):
        """A disc of r <= (outer - inner) / 2 rolls round both edges. So does it round a hole
        narrower than itself, 0.15 or 0.04 mm: eroding the target lets the hole grow by r,
        dilating lets it shrink by as much, to its own radius."""
        made = swept(planned(ring(outer, inner), e=e))
        assert errs(ring(outer, inner), made) == pytest.approx((0.0, 0.0), abs=3e-4)
        (part,) = shapely.get_parts(made)
        (hole,) = part.interiors
        assert shapely.polygons(hole).area == pytest.approx(math.pi * inner**2, rel=0.02)

    @pytest.mark.parametrize(("e", "policy"), [(0.0, "widen"), (0.04, "leave-out"), (0.04, "stop")])
    @pytest.mark.parametrize(("outer", "inner"), [(1.0, 0.86), (0.3, 0.16)])
    def test_too_thin_is_widened_alike_inwards_and_outwards(self, outer, inner, e, policy):
        """The line is the circle of m = (outer + inner) / 2: finished from m - r to m + r."""
        m = (outer + inner) / 2
        made = swept(planned(ring(outer, inner), e=e, policy=policy))
        assert made.area == pytest.approx(math.pi * ((m + R) ** 2 - (m - R) ** 2), rel=5e-3)
        beyond = R - (outer - inner) / 2
        assert errs(ring(outer, inner), made) == pytest.approx((0.0, beyond), abs=1e-3)

    @pytest.mark.parametrize(("inner", "is_made"), [(0.085, True), (0.105, True), (0.07, False)])
    def test_too_thin_within_the_tolerance_leaves_its_hole_the_limit_of_land(self, inner, is_made):
        """The hole gets 2 (m - r) = 2 (inner + h - r) wide: 0.11 mm of 0.17 drawn and 0.15 of 0.21
        with h = 0.07; the limit is 0.10 mm, so 0.08 of 0.14 is not made."""
        mask = planned(ring(inner + 0.14, inner), e=0.05, land=0.10)
        assert (not mask.lines.is_empty) is is_made
        if is_made:
            hole = box(-0.5, -0.5, 0.5, 0.5).difference(swept(mask))
            middle = [part for part in shapely.get_parts(hole) if part.contains(Point(0, 0))]
            assert middle[0].area == pytest.approx(math.pi * (inner + 0.07 - R) ** 2, rel=0.05)

    def test_whose_hole_would_close_is_never_made_by_tolerance_alone(self):
        """m = inner + h = 0.09 is less than r: the hole would be filled."""
        for policy, treatment in (("leave-out", "left out"), ("stop", "stop")):
            mask = planned(ring(0.15, 0.03), e=0.05, policy=policy)
            assert [place.treatment for place in mask.thin_places] == [treatment]


def slot(length, w, *, is_round):
    if is_round:
        return LineString([(w / 2, 0), (length - w / 2, 0)]).buffer(w / 2, quad_segs=96)
    return box(0, -w / 2, length, w / 2)


class TestASlot:
    @pytest.mark.parametrize("w", [0.21, 0.4])
    @pytest.mark.parametrize("e", [0.0, 0.03])
    def test_wide_enough_with_round_ends_is_finished_as_drawn(self, w, e):
        """Its ends' radius, h, is no less than r."""
        drawn = slot(2.0, w, is_round=True)
        assert errs(drawn, swept(planned(drawn, e=e))) == pytest.approx((0.0, 0.0), abs=3e-4)

    @pytest.mark.parametrize("w", [0.21, 0.4])
    def test_wide_enough_with_square_ends_loses_four_points(self, w):
        made = swept(planned(slot(2.0, w, is_round=False)))
        assert made.area == pytest.approx(2.0 * w - 4 * CORNER, abs=2e-4)

    @pytest.mark.parametrize("is_round", [True, False])
    @pytest.mark.parametrize("e", [0.0, 0.03])
    def test_too_thin_is_a_stadium_with_flush_ends(self, is_round, e):
        """L - 2 r of line. A round end of h lies inside the finished one of r and touches it at
        the tip: nothing is short. A square one's corners are sqrt(r^2 + h^2) - r short."""
        w = 0.15
        drawn = slot(2.0, w, is_round=is_round)
        made = swept(planned(drawn, e=e, policy="widen"))
        assert made.area == pytest.approx(stadium(2.0 - 2 * R, R), abs=1e-3)
        short, beyond = errs(drawn, made)
        assert beyond == pytest.approx(R - w / 2, abs=1e-3)
        assert short == pytest.approx(0.0 if is_round else math.hypot(R, w / 2) - R, abs=1e-3)


def bars(w, gap):
    return shapely.union_all([box(0, 0, 2, w), box(0, w + gap, 2, 2 * w + gap)])


class TestAGapBetweenTwoBars:
    @pytest.mark.parametrize("gap", [0.005, 0.05, 0.3])
    def test_stays_as_drawn_where_both_are_wide_enough(self, gap):
        """However narrow: neither edge moves. Its resist is gap + 2 u wide."""
        parts = shapely.get_parts(swept(planned(bars(0.3, gap))))
        assert shapely.distance(*parts) == pytest.approx(gap, abs=3e-4)

    @pytest.mark.parametrize("w", [0.10, 0.15])
    @pytest.mark.parametrize("more", [-0.004, 0.004])
    def test_merges_where_it_is_under_twice_the_widening(self, w, more):
        """Each too thin bar comes r - h nearer: the merge limit is 2 r - w."""
        made = swept(planned(bars(w, 2 * R - w + more), policy="widen"))
        parts = shapely.get_parts(made)
        assert len(parts) == (1 if more < 0 else 2)
        if more > 0:
            assert shapely.distance(*parts) == pytest.approx(more, abs=1e-3)

    @pytest.mark.parametrize(("more", "treatment"), [(-0.004, "left out"), (0.004, "made")])
    @pytest.mark.parametrize("land", [0.0, 0.15])
    def test_is_narrowed_by_tolerance_only_down_to_the_limit(self, land, more, treatment):
        """gap - (2 r - w) must stay at least the limit (at 0: four micrometres, ours)."""
        gap = 2 * R - 0.14 + max(land, 0.004) + more
        mask = planned(bars(0.14, gap), e=0.04, land=land)
        assert {place.treatment for place in mask.thin_places} == {treatment}


class TestAnEllipticalMark:
    @pytest.mark.parametrize("mark", [OVAL, TALL])
    def test_loses_at_a_rectangles_points_what_its_box_has_over_it(self, mark):
        """One position finishes E (+) B(u), half axes a + u and b + u: by Steiner's formula its
        area is pi a b + u perimeter + pi u^2; the perimeter is 4 a E(1 - b^2 / a^2), a the larger,
        with the complete elliptic integral of the second kind. Four corners of a rectangle lose
        its box less that."""
        a, b = max(mark) / 2, min(mark) / 2
        perimeter = 4 * a * ellipe(1 - b * b / (a * a))
        element = math.pi * a * b + U * perimeter + math.pi * U * U
        made = swept(planned(box(0, 0, 2, 1), mark=mark), mark)
        assert made.area == pytest.approx(2.0 - (4 * (a + U) * (b + U) - element), abs=2e-4)

    @pytest.mark.parametrize("mark", [OVAL, TALL])
    def test_finishes_a_ring_as_drawn_where_it_rolls_in_it(self, mark):
        """The element's edge is curved least with radius a^2 / b + u = 0.194 (0.05^2 / 0.03) and
        0.133 mm: by Blaschke's rolling theorem it rolls freely in the disc of 0.5 mm; the hole is
        convex and always kept."""
        made = swept(planned(ring(0.5, 0.2), mark=mark), mark)
        assert errs(ring(0.5, 0.2), made) == pytest.approx((0.0, 0.0), abs=5e-4)

    @pytest.mark.parametrize("mark", [OVAL, TALL])
    @pytest.mark.parametrize("e", [0.0, 0.05])
    def test_widens_each_way_by_its_own_axis(self, mark, e):
        """A slot along x is finished u + my / 2 each side of its line, one along y u + mx / 2."""
        for drawn, across in (
            (box(0, 0, 2, 0.12), mark[1] / 2),
            (box(0, 0, 0.12, 2), mark[0] / 2),
        ):
            beyond = errs(drawn, swept(planned(drawn, e=e, policy="widen", mark=mark), mark))[1]
            assert beyond == pytest.approx(max(0.0, U + across - 0.06), abs=1e-3)

    @pytest.mark.parametrize("mark", [OVAL, TALL])
    def test_merges_two_bars_by_the_axis_across_them(self, mark):
        limit = 2 * U + mark[1] - 0.08
        for more, n in ((-0.004, 1), (0.004, 2)):
            mask = planned(bars(0.08, limit + more), policy="widen", mark=mark)
            assert len(shapely.get_parts(swept(mask, mark))) == n

    @pytest.mark.parametrize("mark", [OVAL, TALL])
    def test_makes_a_cross_with_arms_just_wide_enough_for_each_axis(self, mark):
        """Arms as wide as what one position finishes across them, and 0.01 mm more."""
        along_x, along_y = 2 * U + mark[1] + 0.01, 2 * U + mark[0] + 0.01
        drawn = shapely.union_all(
            [box(-1, -along_x / 2, 1, along_x / 2), box(-along_y / 2, -1, along_y / 2, 1)]
        )
        mask = planned(drawn, mark=mark)
        made = swept(mask, mark)
        assert not mask.thin_places
        assert errs(drawn, made)[1] < 5e-4
        reach = np.array([U + mark[0] / 2, U + mark[1] / 2])
        # The corner of the element's box is this far from the element, at most r (sqrt 2 - 1).
        assert errs(drawn, made)[0] <= reach.max() * (math.sqrt(2) - 1) + 1e-3


def test_a_thin_stroke_is_not_joined_to_a_wide_part_across_a_gap():
    """Without an undercut the tall mark's centres come 0.01 mm near the wide part's end, hardly
    more than that from the point in which the stroke ends 4 um before it: it stops at its own."""
    mark, gap = (0.02, 0.12), 0.004
    stroke = shapely.Polygon([(0, -0.03), (0.6, -0.03), (1, 0), (0.6, 0.03), (0, 0.03)])
    wide = box(1 + gap, -0.5, 2, 0.5)
    mask = make_mask(
        shapely.union_all([stroke, wide]),
        undercut_mm=0.0,
        mark_mm=mark,
        too_thin="widen",
    )
    ends = shapely.get_coordinates(mask.lines)
    assert ends[:, 0].max() <= 1
