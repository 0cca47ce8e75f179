"""The written program against closed forms (edge tolerance 0).

Source of the expectations: plane geometry. What a beam path clears and an etch then widens is, for
a round mark, all within the reach r = undercut + mark / 2 of the path; so a point of the finished
edge lies at just r from it. Expected outlines are built here by hand; the distances are those of
the path as read back word by word. The project's own prediction is held to the same numbers.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from jobmaker import LYE, MARK, REACH, UNDERCUT, codes, make_job, mark, plan, plate
from planning.plain_reading import cleared_raster, distance_to, lit, read_steps
from stopout.values import Measured

CENTRE = (6.0, 5.0)
# What the issue allows between the predicted edge and the drawn one.
WITHIN = 0.002


def circle(radius, n=480, centre=CENTRE):
    angle = 2 * np.pi * np.arange(n) / n
    return np.column_stack([np.cos(angle), np.sin(angle)]) * radius + centre


def stadium(half_length, radius, n=120):
    """The outline of a slot with round ends, as points."""
    cap = np.linspace(-np.pi / 2, np.pi / 2, n)
    right = np.column_stack([np.cos(cap), np.sin(cap)]) * radius + (half_length, 0)
    edge = np.column_stack([np.linspace(-half_length, half_length, 200), np.full(200, radius)])
    return np.vstack([right, edge[::-1], -right, -edge[::-1]]) + CENTRE


def path_of(made):
    (coat,) = made.coats
    return lit(read_steps(coat.program, made.job.machine))


def off_edge(made, outline, reach=REACH):
    """How far the finished edge lies outside (+) or short (-) of outline points."""
    return reach - distance_to(path_of(made), outline)


def threads_in(made, region, reach=REACH):
    """Pixels of 10 um inside a region, deeper than a pixel, that the finish leaves standing."""
    x0, y0, x1, y1 = region.bounds
    done, at = cleared_raster(path_of(made), (2 * reach, 2 * reach), (x0, y0), (x1, y1), 0.01)
    inside = shapely.contains_xy(region.buffer(-0.01), at[..., 0], at[..., 1])
    return int((inside & ~done).sum())


def agrees(made, *, corner=0.0):
    """The project's own outcome says the same."""
    outcome = made.coats[0].outcome
    assert outcome.worst_outside_mm <= WITHIN
    assert outcome.worst_inside_mm == pytest.approx(corner, abs=WITHIN)
    assert (outcome.lost, outcome.merged, outcome.widened) == (0, 0, 0)


@pytest.mark.parametrize("radius", [0.2, 0.75, 1.6])
def test_a_disc_is_met_within_2_um_all_round(radius):
    made = plan(Polygon(circle(radius)))
    assert np.abs(off_edge(made, circle(radius))).max() <= WITHIN
    assert threads_in(made, Polygon(circle(radius))) == 0
    assert made.coats[0].outcome.area_mm2 == pytest.approx(math.pi * radius**2, abs=0.01 * radius)
    agrees(made)


@pytest.mark.parametrize("radius", [REACH + 0.001, 0.25])
def test_a_slot_with_round_ends_is_met_within_2_um_all_round(radius):
    made = plan(Polygon(stadium(2.0, radius)))
    assert np.abs(off_edge(made, stadium(2.0, radius))).max() <= WITHIN
    agrees(made)


def test_a_slot_of_just_twice_the_reach_is_met_by_a_single_line():
    made = plan(Polygon(stadium(2.0, REACH)))
    assert np.abs(off_edge(made, stadium(2.0, REACH))).max() <= WITHIN
    agrees(made)


def test_a_ring_is_met_on_both_edges_and_keeps_its_hole():
    made = plan(Polygon(circle(1.6), [circle(0.9)]))
    assert np.abs(off_edge(made, circle(1.6))).max() <= WITHIN
    assert np.abs(off_edge(made, circle(0.9))).max() <= WITHIN
    assert distance_to(path_of(made), [CENTRE])[0] == pytest.approx(0.9 + REACH, abs=WITHIN)
    assert threads_in(made, Polygon(circle(1.6), [circle(0.9)])) == 0
    agrees(made)


def test_a_rectangle_s_edges_are_met_and_its_corners_stop_short_by_0_414_r():
    made = plan(box(2, 2, 7, 5))
    along = np.linspace(REACH, 1, 200)[:, None]
    for tip, one, other in (((2, 2), (1, 0), (0, 1)), ((7, 5), (-1, 0), (0, -1))):
        for way in (one, other):
            edge = np.asarray(tip) + along * np.asarray(way)
            assert np.abs(off_edge(made, edge)).max() <= WITHIN
    tips = [(2, 2), (7, 2), (7, 5), (2, 5)]
    assert -off_edge(made, tips) == pytest.approx(
        np.full(4, (math.sqrt(2) - 1) * REACH), abs=WITHIN
    )
    assert threads_in(made, box(2.05, 2.05, 6.95, 4.95)) == 0
    agrees(made, corner=(math.sqrt(2) - 1) * REACH)


@pytest.mark.parametrize("full_angle", [45, 60, 90, 120])
def test_a_corner_stops_short_of_its_tip_by_the_closed_form(full_angle):
    """r (1/sin a - 1) with a half the corner's angle."""
    a = math.radians(full_angle / 2)
    tip = np.array([1.0, 5.0])
    far = tip + 5 * np.array([math.cos(a), math.sin(a)])
    near = far * (1, -1) + (0, 10)
    made = plan(Polygon([tip, near, far]))
    assert -off_edge(made, [tip])[0] == pytest.approx(REACH * (1 / math.sin(a) - 1), abs=WITHIN)
    assert made.coats[0].outcome.worst_outside_mm <= WITHIN


def test_the_opening_is_the_artwork_less_the_undercut_on_each_edge():
    made = plan(box(2, 2, 7, 5))
    inner = box(2 + UNDERCUT, 2 + UNDERCUT, 7 - UNDERCUT, 5 - UNDERCUT)
    opening = made.coats[0].opening
    assert opening.bounds == pytest.approx(inner.bounds, abs=WITHIN)
    # The mark rounds the opening's corners: (4 - pi) (m/2)^2 is missing, no more.
    area = inner.area - (4 - math.pi) * (MARK / 2) ** 2
    assert made.coats[0].mask.area_mm2 == pytest.approx(area, abs=0.001)
    assert opening.area == pytest.approx(area, abs=0.001)
    # By the path alone: it runs half a mark inside the opening's edge.
    path = path_of(made).reshape(-1, 2)
    assert (*path.min(axis=0), *path.max(axis=0)) == pytest.approx(
        (2 + REACH, 2 + REACH, 7 - REACH, 5 - REACH), abs=WITHIN
    )


def test_every_land_between_openings_is_wider_by_twice_the_undercut():
    made = plan(box(2, 2, 6, 4).union(box(2, 4.5, 6, 7)))
    assert made.coats[0].mask.openings == 2
    assert made.coats[0].mask.narrowest_land_mm == pytest.approx(0.5 + 2 * UNDERCUT, abs=WITHIN)
    assert made.coats[0].finished_land_mm == pytest.approx(0.5, abs=WITHIN)
    path = path_of(made)
    under, over = path[path[:, 1] < 4.25], path[path[:, 1] > 4.25]
    gap = over[:, 1::2].min() - under[:, 1::2].max() - MARK
    assert gap == pytest.approx(0.5 + 2 * UNDERCUT, abs=WITHIN)


@pytest.mark.parametrize("axes", [(0.10, 0.06), (0.06, 0.10)])
def test_an_elliptical_mark_meets_a_rectangle_in_each_axis(axes):
    made = plan(box(2, 2, 7, 5), clearing={"mark_mm": mark(*axes)})
    half = np.asarray(axes) / 2
    path = path_of(made).reshape(-1, 2)
    low, high = path.min(axis=0), path.max(axis=0)
    assert low == pytest.approx(np.array([2, 2]) + UNDERCUT + half, abs=WITHIN)
    assert high == pytest.approx(np.array([7, 5]) - UNDERCUT - half, abs=WITHIN)
    (coat,) = made.coats
    less = (2 + UNDERCUT, 2 + UNDERCUT, 7 - UNDERCUT, 5 - UNDERCUT)
    assert coat.opening.bounds == pytest.approx(less, abs=WITHIN)
    assert coat.finished.bounds == pytest.approx((2, 2, 7, 5), abs=WITHIN)
    assert coat.outcome.worst_outside_mm <= WITHIN
    # From the tip to the ellipse about the path's corner, widened by the undercut.
    angle = np.linspace(0, 2 * np.pi, 100_001)
    ellipse = UNDERCUT + half * (1 + np.column_stack([np.cos(angle), np.sin(angle)]))
    short = np.hypot(*ellipse.T).min() - UNDERCUT
    assert coat.outcome.worst_inside_mm == pytest.approx(short, abs=WITHIN)
    assert coat.clearing.reach_mm == pytest.approx(UNDERCUT + 0.05)


def test_an_elliptical_mark_clears_an_opening_of_its_own_shape_within_2_um():
    """A target made by hand as ellipse (+) disc is attained exactly: one dot clears it all."""
    a, b = 0.9, 0.7
    angle = np.linspace(0, 2 * np.pi, 2000, endpoint=False)
    on = np.column_stack([a * np.cos(angle), b * np.sin(angle)])
    normal = np.column_stack([np.cos(angle) / a, np.sin(angle) / b])
    outline = on + UNDERCUT * normal / np.hypot(*normal.T)[:, None] + CENTRE
    axes = (0.09, 0.07)
    made = plan(Polygon(outline), clearing={"mark_mm": mark(*axes)})
    # In the plane stretched until the mark is round, the opening's edge is half a mark away.
    stretch = (1.0, axes[0] / axes[1])
    gap = distance_to(path_of(made), on + CENTRE, stretch) - axes[0] / 2
    assert np.abs(gap).max() <= WITHIN
    agrees(made)


THIN = Polygon(stadium(2.0, 0.08))
WIDE = box(3, 6.5, 9, 8.5)


def test_a_stroke_too_thin_is_widened_along_its_centre_line():
    made = plan(WIDE.union(THIN), limits={"too_thin": "widen"})
    outcome = made.coats[0].outcome
    assert outcome.widened >= 1
    assert outcome.lost == 0
    assert codes(made, "caution").count("thin-opening") == 1
    path = path_of(made)
    stroke = path[path[:, 1] < 6]
    # On the centre line, its ends one reach short, so that they lie flush with the drawn ends.
    assert np.abs(stroke[:, 1::2] - 5).max() <= WITHIN
    assert stroke[:, ::2].min() == pytest.approx(4 - 0.08 + REACH, abs=0.005)
    assert stroke[:, ::2].max() == pytest.approx(8 + 0.08 - REACH, abs=0.005)
    assert outcome.worst_outside_mm == pytest.approx(REACH - 0.08, abs=WITHIN)


def test_a_stroke_too_thin_is_left_out_and_nothing_lies_outside():
    made = plan(WIDE.union(THIN), limits={"too_thin": "leave-out"})
    outcome = made.coats[0].outcome
    assert outcome.lost == 1
    assert outcome.widened == 0
    assert outcome.worst_outside_mm <= WITHIN
    assert path_of(made)[:, 1::2].min() >= 6.5 + REACH - WITHIN
    assert codes(made, "caution").count("part-lost") == 1
    assert "thin-opening" not in codes(made)


def test_a_stroke_too_thin_stops_the_plan_and_no_program_is_written():
    made = plan(WIDE.union(THIN), limits={"too_thin": "stop"})
    assert made.is_stopped
    assert made.coats[0].program is None
    assert made.bounds_program is None
    (stop,) = [finding for finding in made.findings if finding.level == "stop"]
    assert stop.code == "thin-opening"
    assert "0.160 mm" in stop.message
    assert "0.220 mm" in stop.message
    assert stop.at_mm == pytest.approx((6, 5), abs=2.5)
    assert stop.remedy


@pytest.mark.parametrize("policy", ["widen", "leave-out", "stop"])
def test_a_stroke_within_the_tolerance_is_made_whatever_the_policy(policy):
    made = plan(
        WIDE.union(THIN), limits={"too_thin": policy, "edge_tolerance_mm": REACH - 0.08 + 0.001}
    )
    assert not made.is_stopped
    outcome = made.coats[0].outcome
    assert (outcome.lost, outcome.widened) == (0, 0)
    assert outcome.worst_outside_mm <= REACH - 0.08 + WITHIN


def test_without_an_etch_the_opening_is_the_artwork_itself():
    job = make_job(etch=None, blank=plate())
    made = plan(Polygon(circle(1.0)), job)
    assert np.abs(off_edge(made, circle(1.0), MARK / 2)).max() <= WITHIN
    assert made.etch is None
    agrees(made)


def test_the_undercut_is_depth_over_etch_factor():
    etch = replace(LYE, depth_mm=0.09, etch_factor=Measured(value=1.5, sd=0.1))
    made = plan(Polygon(circle(1.0)), etch=etch)
    assert np.abs(off_edge(made, circle(1.0), 0.09 / 1.5 + MARK / 2)).max() <= WITHIN
    assert made.etch.undercut_mm == pytest.approx(0.06)
    # depth x sd / F^2, the first-order spread of a quotient.
    assert made.etch.undercut_spread_mm == pytest.approx(0.09 * 0.1 / 1.5**2)


BENT_NEEDLE = Polygon(
    [(6.581, 3.623), (6.971, 3.449), (7.267, 3.368), (5.972, 3.585), (6.2, 4.04), (6.581, 3.623)]
)


def test_widening_loses_no_needle_by_more_than_a_corner_may():
    """What is left of a tip counts as lost once it reaches farther than 3 reach."""
    made = plan(BENT_NEEDLE, limits={"too_thin": "widen", "edge_tolerance_mm": 0.05})
    assert made.coats[0].outcome.lost == 0


BURR = Polygon(
    [
        (5.592548318830614, 2.212279337908654),
        (2.7705655235678175, 2.992608180923425),
        (2.614577383154136, 3.759223768025045),
        (1.7705655235678175, 3.992608180923425),
        (1.175362146603394, 6.917780473293595),
        (3.6818951130488298, 7.496565829122723),
        (4.322936681168849, 6.698139971454591),
        (4.759284718182984, 7.086117618144717),
        (4.84218931673563, 6.296917251834359),
        (4.89316188421246, 6.233430236437544),
        (6.796106157907751, 5.091490036537654),
        (6.5208572807881975, 4.85675572392015),
        (7.796106157907751, 4.091490036537654),
    ]
)


def test_half_a_micrometre_of_the_planner_s_own_chords_is_not_called_widened():
    """Nothing was widened: all is left out that is too thin, and the edges are met within 2 um."""
    made = plan(BURR)
    assert made.coats[0].outcome.worst_outside_mm <= WITHIN
    assert made.coats[0].outcome.widened == 0
