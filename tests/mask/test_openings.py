"""The mask planner against closed forms: what is opened, what is attained, what thin places do."""

import math

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, Polygon, box

from shapes import ALL, NEEDLE, RECTANGLE, RING, STUB, THIN_SLOT
from stopout.clearing import plane
from stopout.mask import (
    dilate,
    dilate_by_mark,
    erode,
    erode_by_mark,
    make_mask,
    open_by_disc,
    parts_of,
    reach_mm,
)
from stopout.mask.offset import thinned
from stopout.mask.openings import ThinPlace, _as_one, _kept
from stopout.mask.residue import is_more_than_corner, links_or_stands_alone

MARK = (0.10, 0.10)
UNDERCUT = 0.06


@pytest.mark.parametrize("thin", [thinned, plane.thinned])
def test_thinning_leaves_no_area_that_crosses_itself(thin):
    """A notch that ends within what is thinned of the base below it: the quick way crosses it."""
    base = [(0, 0), (5, -0.0009), (10, 0), (10, 5)]
    deep = Polygon([*base, (5.1, 5), (5, -0.0002), (4.9, 5), (0, 5)])
    kept, plain = thin(np.array([deep, box(0, 0, 1, 1)]), 0.001)
    assert kept.is_valid
    assert kept.symmetric_difference(deep).area < 0.001 * deep.length
    assert plain.equals(box(0, 0, 1, 1))


@pytest.mark.parametrize(("gap_mm", "is_link"), [(0.01, False), (0.1, True)])
def test_a_loss_that_touches_twice_links_only_where_the_touches_are_apart(gap_mm, is_link):
    """Stretches closer than twice the slack are one contact, hence a stub and no neck."""
    a, b = 0.5 - gap_mm / 2, 0.5 + gap_mm / 2
    loss = Polygon([(0, 0), (a, 0), (a, 0.05), (b, 0.05), (b, 0), (1, 0), (1, 0.2), (0, 0.2)])
    lost, kept = np.array([loss]), box(-1, -1, 2, 0)
    found = is_more_than_corner(lost, kept, depth_mm=0.5, slack_mm=0.01)
    assert found.tolist() == [is_link]
    assert links_or_stands_alone(lost, np.array([kept]), slack_mm=0.01).tolist() == [is_link]


def finished(mask, undercut=UNDERCUT, mark=MARK):
    """What a mask is meant to finish, made with the planner's own operations (not a judge)."""
    made = [dilate(dilate_by_mark(mask.centres, mark), undercut)]
    factor = mark[0] / mark[1]
    for line in shapely.get_parts(mask.lines):
        swept = shapely.transform(line, lambda xy: xy * [1, factor]).buffer(mark[0] / 2, 32)
        made.append(shapely.transform(swept, lambda xy: xy / [1, factor]).buffer(undercut, 32))
    return shapely.union_all(made)


def test_the_reach_is_undercut_plus_half_the_larger_axis():
    assert reach_mm(0.06, (0.10, 0.07)) == pytest.approx(0.11)
    assert reach_mm(0.0, (0.08, 0.2)) == pytest.approx(0.1)


@pytest.mark.parametrize(("gap", "share"), [(5.2, 0.5), (4.8, 0.005)])
def test_what_is_kept_reaches_twice_the_slack_told_beyond_what_is_drawn(gap, share):
    """A fiftieth of the reach; a hundredth of that where 2.5 on both sides could bridge a gap."""
    whole_mm = 0.02 * reach_mm(UNDERCUT, MARK)
    pair = box(0, 0, 2, 2).union(box(2 + gap * whole_mm, 0, 4, 2))
    centres = make_mask(pair, undercut_mm=UNDERCUT, mark_mm=MARK).centres
    kept, slack = _kept(centres, UNDERCUT, MARK)
    assert slack == pytest.approx(share * whole_mm)
    assert kept.bounds == pytest.approx(
        (-2 * slack, -2 * slack, 4 + 2 * slack, 2 + 2 * slack), abs=5e-6
    )


def test_a_disc_is_opened_smaller_by_the_undercut():
    disc = Point(5, 5).buffer(2, quad_segs=256)
    mask = make_mask(disc, undercut_mm=UNDERCUT, mark_mm=MARK)
    opening = dilate_by_mark(mask.centres, MARK)
    assert opening.area == pytest.approx(math.pi * (2 - UNDERCUT) ** 2, rel=3e-4)
    assert mask.centres.area == pytest.approx(math.pi * (2 - 0.11) ** 2, rel=3e-4)
    assert not mask.thin_places


def test_a_rectangle_is_drawn_narrower_by_twice_the_undercut():
    mask = make_mask(RECTANGLE, undercut_mm=UNDERCUT, mark_mm=MARK)
    opening = dilate_by_mark(mask.centres, MARK)
    assert opening.bounds == pytest.approx((1.06, 1.06, 6.94, 3.94), abs=1e-4)
    assert finished(mask).bounds == pytest.approx(RECTANGLE.bounds, abs=1e-4)


@pytest.mark.parametrize("half_angle_deg", [15, 22.5, 30, 45, 60])
def test_a_corner_stops_short_of_its_tip_by_the_closed_form(half_angle_deg):
    """r (1/sin a - 1): 0.414 r at a right angle. Plane geometry of a disc in a wedge."""
    a = math.radians(half_angle_deg)
    x, y = 4 * math.cos(a), 4 * math.sin(a)
    wedge = Polygon([(0, 0), (x, y), (x, -y)])
    mask = make_mask(wedge, undercut_mm=UNDERCUT, mark_mm=MARK)
    short = Point(0, 0).distance(dilate(dilate_by_mark(mask.centres, MARK), UNDERCUT))
    r = reach_mm(UNDERCUT, MARK)
    assert short == pytest.approx(r * (1 / math.sin(a) - 1), abs=0.001)


def test_an_elliptical_mark_insets_each_axis_by_its_own_half():
    mask = make_mask(RECTANGLE, undercut_mm=0.06, mark_mm=(0.10, 0.06))
    assert mask.centres.bounds == pytest.approx((1.11, 1.09, 6.89, 3.91), abs=1e-6)
    opening = dilate_by_mark(mask.centres, (0.10, 0.06))
    assert opening.bounds == pytest.approx((1.06, 1.06, 6.94, 3.94), abs=1e-6)


def test_erosion_by_an_ellipse_agrees_with_its_support_function():
    """A half plane's edge moves by the ellipse's support in the direction of its normal."""
    a, b, angle = 0.3, 0.1, math.radians(35)
    c, s = math.cos(angle), math.sin(angle)
    turned = shapely.transform(box(-5, -5, 5, 0), lambda xy: xy @ np.array([[c, s], [-s, c]]))
    eroded = erode_by_mark(turned, (a, b))
    normal = np.array([-math.sin(angle), math.cos(angle)])
    support = math.hypot(a / 2 * normal[0], b / 2 * normal[1])
    far = max(float(np.dot(xy, normal)) for xy in shapely.get_coordinates(eroded))
    assert far == pytest.approx(-support, abs=2e-4)


@pytest.mark.parametrize("policy", ["widen", "leave-out", "stop"])
def test_a_thin_slot_meets_each_policy(policy):
    mask = make_mask(THIN_SLOT, undercut_mm=UNDERCUT, mark_mm=MARK, too_thin=policy)
    (place,) = mask.thin_places
    assert place.width_mm == pytest.approx(0.12, abs=0.001)
    assert place.treatment == {"widen": "widened", "leave-out": "left out", "stop": "stop"}[policy]
    assert mask.centres.is_empty
    if policy == "widen":
        (line,) = shapely.get_parts(mask.lines)
        # Flush ends: one reach short of the stroke's end; on the centre line.
        assert line.bounds == pytest.approx((1.11, 1.06, 4.89, 1.06), abs=0.001)
        assert place.expected_mm == pytest.approx(0.22, abs=1e-6)
        assert finished(mask).bounds == pytest.approx((1.0, 0.95, 5.0, 1.17), abs=0.002)
    else:
        assert mask.lines.is_empty


def test_a_thin_slot_within_the_tolerance_is_made_whatever_the_policy():
    for policy in ("widen", "leave-out", "stop"):
        mask = make_mask(
            THIN_SLOT, undercut_mm=UNDERCUT, mark_mm=MARK, too_thin=policy, edge_tolerance_mm=0.05
        )
        assert [place.treatment for place in mask.thin_places] == ["made"]
        assert not mask.lines.is_empty


def test_a_slot_just_wider_than_the_mark_makes_is_no_thin_place():
    mask = make_mask(box(0, 0, 5, 0.221), undercut_mm=UNDERCUT, mark_mm=MARK)
    assert not mask.thin_places
    assert not mask.centres.is_empty


def test_a_slot_of_exactly_twice_the_reach_is_made():
    mask = make_mask(box(0, 0, 5, 0.22), undercut_mm=UNDERCUT, mark_mm=MARK, too_thin="leave-out")
    assert finished(mask).bounds == pytest.approx((0, 0, 5, 0.22), abs=0.001)


def test_a_neck_between_two_wide_parts_is_followed_and_joined():
    mask = make_mask(ALL["neck"], undercut_mm=UNDERCUT, mark_mm=MARK)
    assert len(mask.thin_places) == 1
    assert len(parts_of(finished(mask))) == 1
    alone = make_mask(ALL["neck"], undercut_mm=UNDERCUT, mark_mm=MARK, too_thin="leave-out")
    assert len(parts_of(finished(alone))) == 2


@pytest.mark.parametrize("gap", [0.15, 0.3, 0.6])
def test_a_neck_however_short_links_two_parts_and_is_no_corner(gap):
    neck = box(0.9, 0.45, 1.1 + gap, 0.57)
    pair = shapely.union_all([box(0, 0, 1, 1), neck, box(1 + gap, 0, 2 + gap, 1)])
    mask = make_mask(pair, undercut_mm=UNDERCUT, mark_mm=MARK)
    (place,) = mask.thin_places
    assert place.treatment == "widened"
    assert place.width_mm == pytest.approx(0.12, abs=0.03)
    assert len(parts_of(finished(mask))) == 1
    alone = make_mask(pair, undercut_mm=UNDERCUT, mark_mm=MARK, too_thin="leave-out")
    assert len(parts_of(finished(alone))) == 2


def test_a_stub_is_followed_to_a_flush_end():
    mask = make_mask(STUB, undercut_mm=UNDERCUT, mark_mm=MARK)
    assert finished(mask).bounds[2] == pytest.approx(2.1, abs=0.003)


@pytest.mark.parametrize("length", [0.1, 0.15, 0.3])
def test_a_short_stub_is_left_as_a_corner_is_where_nothing_may_err(length):
    """Within 3 reaches; whatever it would gain."""
    stub = box(0, 0, 1.2, 0.6).union(box(0.5, 0.6, 0.63, 0.6 + length))
    mask = make_mask(stub, undercut_mm=0.05, mark_mm=(0.1, 0.1))
    assert mask.lines.is_empty
    assert mask.thin_places == ()


def test_what_is_left_of_a_needle_counts_as_a_corner():
    mask = make_mask(NEEDLE, undercut_mm=UNDERCUT, mark_mm=MARK)
    r = reach_mm(UNDERCUT, MARK)
    assert Point(3, 0.15).distance(finished(mask)) < 3 * r


def test_a_widened_stroke_that_meets_another_part_says_so():
    pair = shapely.union_all([box(0, 0, 4, 0.12), box(0, 0.15, 4, 1.0)])
    mask = make_mask(pair, undercut_mm=UNDERCUT, mark_mm=MARK)
    assert [place.joins_parts for place in mask.thin_places] == [True]
    tolerant = make_mask(
        pair, undercut_mm=UNDERCUT, mark_mm=MARK, too_thin="leave-out", edge_tolerance_mm=0.06
    )
    assert [place.treatment for place in tolerant.thin_places] == ["left out"]


def test_a_dot_too_small_for_the_mark_becomes_a_short_dash():
    mask = make_mask(box(0, 0, 0.1, 0.1), undercut_mm=UNDERCUT, mark_mm=MARK)
    (line,) = shapely.get_parts(mask.lines)
    assert line.length <= 0.03
    assert line.centroid.distance(Point(0.05, 0.05)) < 0.005


@pytest.mark.parametrize("name", sorted(ALL))
@pytest.mark.parametrize("mark", [(0.1, 0.1), (0.1, 0.06), (0.05, 0.12)])
def test_every_shape_gives_a_mask_whose_plain_part_stays_inside(name, mark):
    mask = make_mask(
        ALL[name], undercut_mm=UNDERCUT, mark_mm=mark, too_thin="leave-out", edge_tolerance_mm=0
    )
    made = finished(mask, mark=mark)
    assert made.difference(dilate(ALL[name], 0.002)).area < 1e-9


def test_opening_a_ring_that_is_wide_enough_changes_nothing():
    assert open_by_disc(RING, 0.2).symmetric_difference(RING).area < 1e-3 * RING.area


def test_dilation_joins_parts_that_meet():
    pair = shapely.union_all([box(0, 0, 1, 1), box(1.05, 0, 2, 1)])
    assert len(parts_of(dilate(pair, 0.03))) == 1
    assert len(parts_of(dilate(pair, 0.02))) == 2


def test_erosion_drops_parts_that_are_too_narrow():
    pair = shapely.union_all([box(0, 0, 1, 1), box(2, 0, 2.05, 1)])
    assert len(parts_of(erode(pair, 0.03))) == 1


def arm(width, length):
    """A square with a short arm of one width and a square end."""
    return shapely.union_all([box(0, 0, 1, 1), box(0.9, 0.4, 1 + length, 0.4 + width)])


def errs(target, made):
    """How far a region stops short, and how far it goes beyond, at the worst."""
    short = shapely.points(shapely.get_coordinates(shapely.segmentize(target, 0.01)))
    beyond = shapely.points(shapely.get_coordinates(shapely.segmentize(made, 0.01)))
    return shapely.distance(short, made).max(), shapely.distance(beyond, target).max()


class TestAShortArm:
    """Narrower than twice the reach of 0.11 mm, shorter than the three reaches of a stroke."""

    @pytest.mark.parametrize("length", [0.15, 0.22, 0.33])
    @pytest.mark.parametrize("policy", ["widen", "leave-out", "stop"])
    def test_is_followed_to_its_end_within_the_tolerance(self, length, policy):
        """Plane geometry: r - w / 2 = 0.02 mm over each side; at the square end's corners the
        finished half circle stops within 0.414 r - 0.02 mm."""
        target = arm(0.18, length)
        mask = make_mask(
            target, undercut_mm=UNDERCUT, mark_mm=MARK, too_thin=policy, edge_tolerance_mm=0.03
        )
        short, beyond = errs(target, finished(mask))
        assert beyond <= 0.03 + 0.001
        assert short <= 0.04
        assert not mask.thin_places

    @pytest.mark.parametrize("length", [0.22, 0.33])
    def test_that_needs_more_is_widened_and_told(self, length):
        """0.11 - 0.08 = 0.03 mm over each side is less than the 0.1 mm and more lost without it."""
        target = arm(0.16, length)
        mask = make_mask(target, undercut_mm=UNDERCUT, mark_mm=MARK, edge_tolerance_mm=0.02)
        (place,) = mask.thin_places
        assert place.treatment == "widened"
        assert place.width_mm == pytest.approx(0.16, abs=0.01)
        short, beyond = errs(target, finished(mask))
        assert beyond == pytest.approx(0.03, abs=0.002)
        assert short <= 0.04

    @pytest.mark.parametrize("length", [0.15, 0.20, 0.25, 0.27, 0.28, 0.30, 0.32, 0.34, 0.40])
    def test_meets_each_policy_at_any_length(self, length):
        """No step at the three reaches, 0.33 mm, of a stroke: 0.04 mm over each side, and at the
        end's corners 0.11 sqrt(1 + (1 - 0.07 / 0.11)^2) - 0.11 = 0.007 mm or less."""
        for policy, treatment in (
            ("widen", "widened"),
            ("leave-out", "left out"),
            ("stop", "stop"),
        ):
            mask = make_mask(
                arm(0.14, length),
                undercut_mm=UNDERCUT,
                mark_mm=MARK,
                edge_tolerance_mm=0.02,
                too_thin=policy,
            )
            (place,) = mask.thin_places
            assert place.treatment == treatment
            assert place.width_mm == pytest.approx(0.14, abs=0.002)
            # The corner at its foot is made by the square.
            assert length - 0.03 < place.length_mm <= length
            if policy == "widen":
                short, beyond = errs(arm(0.14, length), finished(mask))
                assert beyond == pytest.approx(0.04, abs=0.002)
                assert short < 0.03

    @pytest.mark.parametrize("width", [0.02, 0.04, 0.08])
    def test_hardly_wider_than_a_hair_is_followed_once_it_is_long(self, width):
        """Its worst error, the length, is more than halved by the reach less half its width."""
        length = 2 * (0.11 - width / 2) + 0.03
        mask = make_mask(
            arm(width, length), undercut_mm=UNDERCUT, mark_mm=MARK, edge_tolerance_mm=0.02
        )
        assert [place.treatment for place in mask.thin_places] == ["widened"]
        assert max(errs(arm(width, length), finished(mask))) <= length / 2

    def test_that_costs_more_than_it_gains_is_left_as_a_corner_is(self):
        """0.10 mm over each side of an arm that is only 0.02 mm wide."""
        mask = make_mask(
            arm(0.02, 0.15), undercut_mm=UNDERCUT, mark_mm=MARK, edge_tolerance_mm=0.02
        )
        assert not mask.thin_places

    def test_that_would_meet_a_neighbour_is_not_widened(self):
        target = shapely.union_all([arm(0.14, 0.3), box(0.9, 0.60, 1.3, 1)])
        mask = make_mask(
            target,
            undercut_mm=UNDERCUT,
            mark_mm=MARK,
            edge_tolerance_mm=0.02,
            narrowest_land_mm=0.05,
        )
        assert [place.treatment for place in mask.thin_places] == ["left out"]
        assert mask.thin_places[0].spoils_land
        land = box(1.05, 0.54, 1.3, 0.60).difference(finished(mask))
        assert land.area > 0.9 * 0.25 * 0.06

    def test_a_sharp_corner_is_never_widened_as_an_arm(self):
        wedge = Polygon([(0, 0), (4, 1.07), (4, -1.07)])
        mask = make_mask(wedge, undercut_mm=UNDERCUT, mark_mm=MARK, edge_tolerance_mm=0.02)
        assert not mask.thin_places
        assert errs(wedge, finished(mask))[1] <= 0.021


def test_of_places_gathered_the_thinnest_speaks_and_whatever_is_wrong_with_one_is_told():
    of = {"expected_mm": 0.2, "treatment": "left out", "at_mm": (0.0, 0.0)}
    one = {"width_mm": 0.1, "narrowest_mm": 0.09, "length_mm": 1.0, "region": box(0, 0, 1, 0.1)}
    other = {"width_mm": 0.12, "narrowest_mm": 0.05, "length_mm": 2.0, "region": box(1, 0, 3, 0.1)}
    fine, wrong = (
        {"joins_parts": False, "spoils_land": False},
        {"joins_parts": True, "spoils_land": True},
    )
    whole = _as_one([ThinPlace(**of, **one, **fine), ThinPlace(**of, **other, **wrong)])
    assert (whole.width_mm, whole.narrowest_mm, whole.length_mm) == (0.1, 0.05, 3.0)
    assert (whole.joins_parts, whole.spoils_land) == (True, True)
    assert whole.region.equals(box(0, 0, 3, 0.1))
