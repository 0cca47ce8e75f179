"""The swept opening against closed forms and against brute force point by point."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st

from effort import tries
from outcome.programs_by_hand import distance_to_paths, grid, moves_along
from stopout.outcome import advance, sweep

ROUND = (0.1, 0.1)
NEVER_OUT_MM = 1.2e-4  # arcs are drawn on their outside by 0.1 um at most, corners round to 1 nm


def circle_points(centre, radius, count):
    angle = 2 * np.pi * np.arange(count) / count
    ring = np.column_stack([np.cos(angle), np.sin(angle)]) * radius + centre
    return np.vstack([ring, ring[:1]])


def distances(geometry, centre):
    corners = shapely.get_coordinates(geometry) - centre
    return np.hypot(corners[:, 0], corners[:, 1])


def test_a_short_line_clears_a_capsule_of_the_closed_forms_area_and_extent():
    opening = sweep(moves_along([(1, 2), (4, 2)]), ROUND)
    assert opening.area == pytest.approx(3 * 0.1 + np.pi * 0.05**2, abs=2e-5)
    assert opening.bounds == pytest.approx((0.95, 1.95, 4.05, 2.05), abs=NEVER_OUT_MM)


def test_a_capsules_round_ends_lie_within_a_tenth_of_a_micrometre_of_the_true_arc():
    opening = sweep(moves_along([(1, 2), (4, 2)]), ROUND)
    ends = shapely.get_coordinates(opening)
    ends = ends[ends[:, 0] > 4 + 1e-6] - (4, 2)
    radius = np.hypot(*ends.T)
    assert radius.min() > 0.05 - 2e-6
    assert radius.max() < 0.05 + NEVER_OUT_MM


@pytest.mark.parametrize("mark", [(0.10, 0.06), (0.06, 0.10)])
def test_an_elliptical_mark_clears_its_own_width_across_each_axis(mark):
    along_x = sweep(moves_along([(1, 2), (4, 2)]), mark)
    along_y = sweep(moves_along([(1, 2), (1, 5)]), mark)
    x, y = mark[0] / 2, mark[1] / 2
    assert along_x.bounds == pytest.approx((1 - x, 2 - y, 4 + x, 2 + y), abs=NEVER_OUT_MM)
    assert along_y.bounds == pytest.approx((1 - x, 2 - y, 1 + x, 5 + y), abs=NEVER_OUT_MM)


def test_a_slanted_line_clears_the_ellipses_extent_across_it():
    # Half the extent of an ellipse with half axes a, b across a direction at angle t:
    # sqrt(a^2 sin^2 t + b^2 cos^2 t) (the ellipse's support function, closed form).
    angle = np.radians(30)
    end = (1 + 3 * np.cos(angle), 1 + 3 * np.sin(angle))
    opening = sweep(moves_along([(1, 1), end]), (0.10, 0.06))
    across = shapely.get_coordinates(opening) @ (-np.sin(angle), np.cos(angle))
    expected = np.sqrt((0.05 * np.sin(angle)) ** 2 + (0.03 * np.cos(angle)) ** 2)
    assert np.ptp(across) / 2 == pytest.approx(expected, abs=3e-6)


def test_a_circular_path_clears_a_ring():
    opening = sweep(moves_along(circle_points((5, 5), 2, 2000)), ROUND)
    (ring,) = opening.geoms
    assert len(ring.interiors) == 1
    # The chords of 2,000 sides lie inside the circle by 2.5 um; the corners are on it.
    assert distances(ring.exterior, (5, 5)) == pytest.approx(2.05, abs=NEVER_OUT_MM)
    assert distances(ring.interiors[0], (5, 5)) == pytest.approx(1.95, abs=3e-6)


@pytest.mark.parametrize("centre", [(5, 5), (9, 1)])
def test_a_ring_smaller_than_the_mark_is_filled(centre):
    opening = sweep(moves_along(circle_points(centre, 0.02, 60)), ROUND)
    assert len(opening.geoms[0].interiors) == 0
    assert opening.area == pytest.approx(np.pi * 0.07**2, rel=2e-3)


def test_a_ring_and_its_fill_clear_a_disc_without_threads():
    radius, pitch = 1.0, 0.05
    rows = []
    for y in np.arange(5 - radius + pitch / 2, 5 + radius, pitch):
        half = np.sqrt(radius**2 - (y - 5) ** 2)
        rows.append([(5 - half, y), (5 + half, y)])
    opening = sweep(moves_along(*rows, circle_points((5, 5), radius, 1000)), ROUND)
    (disc,) = opening.geoms
    assert not disc.interiors
    assert np.abs(distances(disc.exterior, (5, 5)) - 1.05).max() < 6e-6 + NEVER_OUT_MM


def test_lines_farther_apart_than_the_mark_leave_a_thread():
    opening = sweep(moves_along([(1, 1), (3, 1)], [(1, 1.11), (3, 1.11)]), ROUND)
    assert len(opening.geoms) == 2
    assert opening.geoms[0].distance(opening.geoms[1]) == pytest.approx(0.01, abs=1e-6)


def test_moves_with_the_beam_off_clear_nothing():
    assert sweep(moves_along([(1, 1), (3, 1)], power=0.0), ROUND).is_empty


def test_a_beam_that_stands_still_clears_one_mark():
    opening = sweep(moves_along([(1, 1), (1, 1)]), (0.10, 0.06))
    assert opening.area == pytest.approx(np.pi * 0.05 * 0.03, rel=3e-3)


def test_a_line_broken_into_steps_clears_the_same_as_the_whole():
    whole = sweep(moves_along([(1, 1), (4, 1)]), ROUND)
    steps = sweep(moves_along([(1, 1), (2, 1), (2.5, 1), (4, 1)]), ROUND)
    assert whole.equals(steps)


def test_running_a_program_twice_clears_the_same_as_once():
    path = [(1, 1), (2, 1), (2, 2), (1, 1)]
    once = sweep(moves_along(path), ROUND)
    assert sweep(moves_along(path, path), ROUND).equals(once)


def test_lines_run_backwards_clear_the_same_as_forwards():
    # Level, upright and slanted, far from the diagonal: what runs first and where changes nothing.
    ends = [((7, 1), (9, 1)), ((7, 1.07), (9, 1.07)), ((2, 5), (2, 8)), ((2.07, 5), (2.07, 8))]
    ends += [((12, 3), (14, 4)), ((3, 12), (4, 10)), ((-3, 1), (-1, 1)), ((1, -3), (1, -1))]
    forth, back = moves_along(*ends), moves_along(*[(b, a) for a, b in ends])
    wanted = shapely.union_all(
        [shapely.LineString(line).buffer(0.05, quad_segs=200) for line in ends]
    )
    for run in (forth, back):
        assert sweep(run, ROUND).symmetric_difference(wanted).area < 2e-4
        assert len(sweep(run, ROUND).geoms) == len(wanted.geoms)
    assert sweep(forth, ROUND).equals(sweep(back, ROUND))


def test_a_ring_longer_than_the_mark_and_narrower_keeps_no_hole():
    # A flat ring, 0.6 x 0.08 mm, run round by a mark of 0.1 mm: 0.7 x 0.18 mm with round corners.
    ring = [(9, 1), (9.6, 1), (9.6, 1.08), (9, 1.08), (9, 1)]
    opening = sweep(moves_along(ring), ROUND)
    assert opening.area == pytest.approx(0.7 * 0.18 - (4 - np.pi) * 0.05**2, abs=2e-5)


def test_a_mark_without_width_is_refused():
    with pytest.raises(ValueError, match="above zero"):
        sweep(moves_along([(1, 1), (2, 1)]), (0.1, 0.0))


place = st.tuples(st.integers(10, 60), st.integers(10, 60)).map(lambda p: (p[0] / 50, p[1] / 50))
fine_place = st.tuples(st.floats(0.2, 1.2), st.floats(0.2, 1.2)).map(
    lambda p: (round(p[0], 4), round(p[1], 4))
)
open_path = st.one_of(
    st.lists(place, min_size=2, max_size=6), st.lists(fine_place, min_size=2, max_size=6)
)
closed_path = open_path.map(lambda path: [*path, path[0]])
programs = st.lists(st.one_of(open_path, closed_path), min_size=1, max_size=6)
marks = st.sampled_from([(0.1, 0.1), (0.1, 0.06), (0.05, 0.14), (0.3, 0.25)])


@settings(max_examples=tries(80), deadline=None)
@given(programs, marks)
@example([[(0.2, 0.2)] * 2, [(0.2, 1.18)] * 2, [(0.2, 0.2), (0.2, 1.08), (0.2, 0.2)]], (0.1, 0.1))
def test_any_program_clears_just_the_points_within_the_mark_of_its_path(paths, mark):
    opening = sweep(moves_along(*paths), mark)
    assert opening.is_valid
    stretch = max(mark) / np.asarray(mark)
    points = grid((0.0, 0.0), (1.4, 1.4), 0.005)
    margin = distance_to_paths(points, paths, stretch) - max(mark) / 2
    inside = shapely.contains_xy(opening, points[..., 0], points[..., 1])
    assert inside[margin < -3e-4].all()
    assert not inside[margin > 3e-4].any()


@settings(max_examples=tries(60), deadline=None)
@given(programs, st.sampled_from([0.02, 0.06, 0.2, 0.45]))
def test_after_any_program_the_etch_reaches_just_what_is_within_the_undercut(paths, undercut):
    finished = advance(sweep(moves_along(*paths), ROUND), undercut)
    assert finished.is_valid
    points = grid((-0.4, -0.4), (1.8, 1.8), 0.01)
    margin = distance_to_paths(points, paths) - 0.05 - undercut
    inside = shapely.contains_xy(finished, points[..., 0], points[..., 1])
    assert inside[margin < -3e-4].all()
    assert not inside[margin > 3e-4].any()
