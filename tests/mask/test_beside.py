"""What widening may take of the land beside, worked by hand on bars, notches and points."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, MultiPolygon, Polygon, box, union_all

from stopout.mask import make_mask
from stopout.mask.beside import _are_pointed, _run_in, spoils_land
from stopout.mask.residue import reaches_beyond

LAND = 0.10
BY = 0.03


def spoilt(target, *made, asked=None, tolerance=BY, land=LAND):
    asked = [True] * len(made) if asked is None else asked
    found = spoils_land(
        target,
        np.array(made, dtype=object),
        np.array(asked),
        edge_tolerance_mm=tolerance,
        narrowest_land_mm=land,
    )
    return found.tolist()


def bar(y0, y1):
    return box(0, y0, 2, y1)


def wider(drawn, by=BY):
    """A bar widened on both long sides."""
    x0, y0, x1, y1 = drawn.bounds
    return box(x0, y0 - by, x1, y1 + by)


@pytest.mark.parametrize(("gap", "is_spoilt"), [(0.126, True), (0.134, False)])
def test_one_stroke_leaves_the_limit_to_a_wide_part(gap, is_spoilt):
    """The gap less 0.03 mm."""
    low, high = bar(0, 0.14), bar(0.14 + gap, 1)
    assert spoilt(union_all([low, high]), wider(low)) == [is_spoilt]


@pytest.mark.parametrize(("gap", "is_spoilt"), [(0.156, True), (0.164, False)])
def test_two_strokes_share_the_land_between_them(gap, is_spoilt):
    """The gap less 0.06 mm; one that is not asked about takes its share all the same."""
    low, high = bar(0, 0.14), bar(0.14 + gap, 0.28 + gap)
    both = union_all([low, high])
    assert spoilt(both, wider(low), wider(high)) == [is_spoilt, is_spoilt]
    assert spoilt(both, wider(low), wider(high), asked=[False, True]) == [False, is_spoilt]
    # The first in the list stays as drawn: the second has the land to itself.
    assert spoilt(both, low, wider(high)) == [False, False]


@pytest.mark.parametrize(("gap", "is_spoilt"), [(0.0635, True), (0.0643, False)])
def test_without_a_limit_four_micrometres_must_stay(gap, is_spoilt):
    low, high = bar(0, 0.14), bar(0.14 + gap, 0.28 + gap)
    assert spoilt(union_all([low, high]), wider(low), wider(high), land=0.0) == [is_spoilt] * 2


@pytest.mark.parametrize(
    ("gap", "land", "is_spoilt"),
    [
        (0.156, LAND, True),
        (0.164, LAND, False),
        (0.062, 0.0, True),
        (0.066, 0.0, False),
        (0.04, 0.0, True),
    ],
)
def test_the_arms_of_one_stroke_share_the_land_between_them_as_two_strokes_do(gap, land, is_spoilt):
    """A hairpin: both arms come 0.03 mm nearer; what closes altogether is spoilt too."""
    slit = box(-1, 0.14, 2, 0.14 + gap)
    hairpin = box(0, 0, 2.14, 0.28 + gap).difference(slit)
    made = hairpin.buffer(BY, join_style="mitre").intersection(box(0, -9, 9, 9))
    assert spoilt(hairpin, made, land=land) == [is_spoilt]


def test_a_far_stroke_takes_no_part():
    """Land 0.3 mm wide to either side; three strokes, and the one between is judged by itself."""
    drawn = [bar(y, y + 0.14) for y in (0, 0.44, 0.88)]
    assert spoilt(union_all(drawn), *map(wider, drawn)) == [False] * 3


@pytest.mark.parametrize(("hole", "is_spoilt"), [(0.15, True), (0.17, False)])
def test_a_counter_keeps_the_limit_across(hole, is_spoilt):
    """Its frame is widened by 0.03 mm inwards on each side; what fills it altogether spoils it."""
    frame = box(0, 0, 1, 1)
    counter = box(0.5 - hole / 2, 0.3, 0.5 + hole / 2, 0.7)
    made = box(-BY, -BY, 1 + BY, 1 + BY).difference(counter.buffer(-BY, join_style="mitre"))
    assert spoilt(frame.difference(counter), made) == [is_spoilt]
    assert spoilt(frame.difference(counter), frame) == [True]


@pytest.mark.parametrize(("width", "is_spoilt"), [(0.126, True), (0.134, False)])
def test_a_notch_between_two_arms_that_meet_keeps_the_limit(width, is_spoilt):
    """Blunt at its end; one of its sides comes 0.03 mm in."""
    target = box(0, 0, 2, 2).difference(box(0.14, 0.2, 0.14 + width, 2))
    assert spoilt(target, box(0, 0, 0.14 + BY, 2)) == [is_spoilt]


@pytest.mark.parametrize(("depth", "is_spoilt"), [(0.148, False), (0.157, True)])
def test_a_notch_no_deeper_than_one_and_a_half_limits_is_a_corner(depth, is_spoilt):
    """Ours: 0.06 mm wide once a side of it has come in, and 0.15 mm deep."""
    target = box(0, 0, 2, 2).difference(box(0.14, 2 - depth, 0.23, 2))
    assert spoilt(target, box(0, 0, 0.14 + BY, 2)) == [is_spoilt]


def test_a_land_that_runs_out_in_a_point_as_drawn_may_lose_its_tip():
    """Narrower than the limit below 0.25 of its height anyway; its left side comes 0.03 mm in."""
    target = box(-1, -1, 1, 2).difference(Polygon([(-0.2, 2), (0, 0), (0.2, 2)]))
    side = Polygon([(-1, -1), (0, -1), (0, 0), (BY, 0), (-0.2 + BY, 2), (-1, 2)])
    assert spoilt(target, side) == [False]
    # Cut off blunt, 0.06 mm wide, it is a notch that is too narrow for 0.15 mm more.
    assert spoilt(target.union(box(-1, 0, 1, 0.3)), side) == [True]


@pytest.mark.parametrize(
    ("depth", "runs"), [(0.295, [True, True]), (0.302, [False, True]), (0.5, [False, True])]
)
def test_a_lost_land_runs_in_from_where_it_leaves_what_stays(depth, runs):
    """0.3 mm from its long side; and 2 mm from its short one, though what stays is near beside."""
    lost = np.array([box(0, 0, 2, 0.3), box(4, 0, 4.2, 2)])
    below = np.array([box(0, -1, 2, 0), box(4, -1, 4.2, 0) | box(4.3, 0, 5, 2)])
    assert _run_in(lost, below, depth).tolist() == runs
    # Wherever they lie, and turned.
    for off in ((-4.1, -1), (-1, -0.15)):
        moved = [shapely.transform(some, lambda xy, off=off: xy + off) for some in (lost, below)]
        assert _run_in(*moved, depth).tolist() == runs
        turned = [shapely.transform(some, lambda xy: xy[:, ::-1]) for some in moved]
        assert _run_in(*turned, depth).tolist() == runs


def pointed(land, *deep):
    own = [land.intersection(box(x0, -1, x1, 1)) for x0, x1 in deep]
    return _are_pointed(np.array(own), np.array([land]), LAND, 1.5 * LAND)


def tapered(blunt):
    """A land that gets wider by a tenth on either side, from a tip so wide."""
    far = 2 / 10 + blunt / 2
    tip = [(0, blunt / 2), (0, -blunt / 2)]
    return Polygon([*tip, (2, -far), (3, -far), (3, far), (2, far)])


@pytest.mark.parametrize(("blunt", "is_point"), [(0.0, True), (0.0013, True), (0.005, False)])
def test_a_tip_is_a_point_where_it_is_no_wider_than_what_is_taken_for_none(blunt, is_point):
    """A disc of 4 um stops (2 - blunt / 2) 10 - 2 um short: 18, 11.5 and no more than 6 um."""
    assert pointed(tapered(blunt), (-1, 0.3)) is is_point


def test_lands_are_pointed_only_if_each_of_them_is():
    land = tapered(0.0).union(box(3, -0.03, 5, 0.03))
    point, slit = (-1, 0.3), (4, 6)
    assert pointed(land, point)
    assert not pointed(land, slit)
    assert not pointed(land, point, slit)


def test_nothing_asked_is_nothing_spoilt():
    low, high = bar(0, 0.14), bar(0.2, 1)
    both = union_all([low, high])
    assert spoilt(both, wider(low), wider(high), asked=[False, False]) == [False, False]


def test_strokes_side_by_side_on_a_slant_are_in_nobody_s_way():
    """Their boxes lie on each other, they themselves 2 mm apart."""
    ways = [[(0, 0), (6, 6)], [(3, 0), (9, 6)]]
    pair = MultiPolygon([LineString(way).buffer(0.05) for way in ways])
    mask = make_mask(
        pair,
        undercut_mm=0.06,
        mark_mm=(0.1, 0.1),
        edge_tolerance_mm=0.02,
        narrowest_land_mm=0.3,
    )
    assert [place.treatment for place in mask.thin_places] == ["widened"] * 2
    assert not any(place.spoils_land for place in mask.thin_places)


@pytest.mark.parametrize(("depth", "reaches"), [(2.0, True), (3.0, True), (3.6, False)])
@pytest.mark.parametrize("is_one", [True, False])
@pytest.mark.parametrize("left", [0.0, -3.5])
def test_a_loss_reaches_as_far_as_the_middle_of_its_edge(depth, reaches, is_one, left):
    """7 mm between two posts that are kept: 3.5 mm from both, though every corner touches one."""
    lost = np.array([box(left, -0.5, left + 7, 0.5)], dtype=object)
    sides = [box(left - 1, -0.5, left, 0.5), box(left + 7, -0.5, left + 8, 0.5)]
    kept = MultiPolygon(sides) if is_one else np.array(sides, dtype=object)
    assert reaches_beyond(lost, [kept], depth).tolist() == [reaches]
    pierced = np.array([lost[0] - box(left + 3, 0, left + 3.001, 0.001)], dtype=object)
    assert reaches_beyond(pierced, [kept], depth).tolist() == [reaches]
