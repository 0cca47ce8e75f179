"""Where a lifted piece lies now, from points found again on it.

Checked against closed forms, against scipy's orthogonal Procrustes solution, and, for the growth
of errors, against drawing them at random.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import orthogonal_procrustes

from effort import tries
from program.winch_machine import ROW, machine, moves
from stopout.errors import ProgramError
from stopout.program import Relocation, locate, prove, relocate


def turned(points, angle_deg, shift):
    t = math.radians(angle_deg)
    turn = np.array([[math.cos(t), -math.sin(t)], [math.sin(t), math.cos(t)]])
    return np.asarray(points, dtype=float) @ turn.T + shift


def paired(planned, found):
    return [(tuple(p), tuple(q)) for p, q in zip(planned, found, strict=True)]


def test_a_quarter_turn_and_a_shift_are_found_exactly():
    place = locate([((0, 0), (10, 5)), ((20, 0), (10, 25))], most_mm=0.1)
    assert place.angle_rad == pytest.approx(math.pi / 2, abs=1e-12)
    assert place.shift_mm == pytest.approx((10, 5), abs=1e-12)
    assert place.residual_mm == pytest.approx((0, 0), abs=1e-12)


def test_two_points_share_the_difference_of_their_distances():
    # 90 mm apart as planned, 90.06 as found: each is 0.03 mm off, in closed form.
    place = locate([((5, 5), (5, 5)), ((95, 5), (95.06, 5))], most_mm=0.1)
    assert place.angle_rad == pytest.approx(0, abs=1e-12)
    assert place.residual_mm == pytest.approx((0.03, 0.03), abs=1e-12)
    assert place.shift_mm == pytest.approx((0.03, 0), abs=1e-12)
    assert place.worst_residual_mm == pytest.approx(0.03, abs=1e-12)


corner = st.tuples(st.floats(0, 100), st.floats(0, 60))


@settings(max_examples=tries(100), deadline=None)
@given(
    st.lists(corner, min_size=2, max_size=6),
    st.floats(-180, 180),
    st.tuples(st.floats(-50, 50), st.floats(-50, 50)),
    st.integers(0, 10**6),
)
def test_turn_and_shift_are_those_of_the_reference_solution(planned, angle, shift, seed):
    planned = np.array([(0, 0), (40, 3), *planned], dtype=float)
    noise = np.random.default_rng(seed).normal(0, 0.05, planned.shape)
    found = turned(planned, angle, shift) + noise
    place = locate(paired(planned, found), most_mm=10)
    p, q = planned - planned.mean(axis=0), found - found.mean(axis=0)
    matrix, _ = orthogonal_procrustes(p, q)
    # The noise is far too small to turn the best fit into a reflection unless the points lie on
    # a line, where both fit alike.
    if np.linalg.det(matrix) > 0:
        reference = p @ matrix + found.mean(axis=0)
        np.testing.assert_allclose(place.apply(planned), reference, atol=1e-8)
    expected = np.hypot(*(place.apply(planned) - found).T)
    np.testing.assert_allclose(place.residual_mm, expected, atol=1e-12)


@settings(max_examples=tries(100), deadline=None)
@given(st.floats(-math.pi, math.pi), corner, st.lists(corner, min_size=1, max_size=8))
def test_a_placement_and_its_inverse_leave_everything_where_it_was(angle, shift, points):
    place = Relocation(angle_rad=angle, shift_mm=shift)
    points = np.array(points)
    np.testing.assert_allclose(place.inverse().apply(place.apply(points)), points, atol=1e-10)
    np.testing.assert_allclose(place.apply(place.inverse().apply(points)), points, atol=1e-10)


@settings(max_examples=tries(50), deadline=None)
@given(st.floats(-math.pi, math.pi), corner)
def test_moves_there_and_back_are_the_same_to_the_last_digit(angle, shift):
    place = Relocation(angle_rad=angle, shift_mm=shift)
    first = moves(*ROW)
    there = relocate(first, place)
    back = relocate(there, place.inverse())
    # Twice rounded to 0.1 um.
    np.testing.assert_allclose(back.end_mm, first.end_mm, atol=1.3e-4)
    # The first move comes from the origin, which stays.
    np.testing.assert_allclose(there.length_mm[1:], first.length_mm[1:], atol=1.5e-4)
    assert (there.power == first.power).all()
    assert (there.speed_mm_s == first.speed_mm_s).all()
    assert (there.rapid == first.rapid).all()


def test_a_piece_that_lies_elsewhere_is_proven_where_it_lies():
    device = machine(keep_outs_mm=((70.0, 50.0, 80.0, 60.0),))
    first = moves(*ROW)
    assert prove(first, machine=device, blank_at_mm=(30, 30)) == ()
    place = locate([((0, 0), (0, 0)), ((40, 0), (0, 40))], most_mm=0.1)
    assert prove(relocate(first, place), machine=device, blank_at_mm=(30, 30)) == ()
    up = Relocation(angle_rad=0.0, shift_mm=(0.0, 20.0))
    assert [p.code for p in prove(relocate(first, up), machine=device, blank_at_mm=(30, 30))] == [
        "keep-out"
    ]


def test_errors_grow_towards_far_places_as_drawn_errors_do():
    planned = np.array([(10.0, 10.0), (30.0, 12.0), (18.0, 28.0)])
    far = np.array([(95.0, 55.0), (40.0, 20.0)])
    place = locate(paired(planned, planned), most_mm=0.1)
    centre = planned.mean(axis=0)
    out = (far[0] - centre) / np.hypot(*(far[0] - centre))
    across = np.array([-out[1], out[0]])
    rng = np.random.default_rng(20)
    sd, offs = 0.01, []
    for _ in range(4000):
        found = planned + rng.normal(0, sd, planned.shape)
        offs.append((locate(paired(planned, found), most_mm=1).apply(far[:1])[0] - far[0]) @ across)
    # 4000 draws know a standard deviation to 1.1 %; three of those.
    assert np.std(offs) / sd == pytest.approx(place.error_growth(far), rel=0.034)


def test_two_points_at_the_ends_of_the_work_do_not_let_errors_grow():
    # sqrt(1/2 + 45^2 / (2 x 45^2)) = 1.
    place = locate([((5, 5), (5, 5)), ((95, 5), (95, 5))], most_mm=0.1)
    assert place.error_growth(np.array([(95.0, 5.0), (50.0, 10.0)])) == pytest.approx(1)


@pytest.mark.parametrize(
    ("pairs", "says"),
    [
        ([], "two points or more .*; 0 given"),
        ([((0, 0), (0, 0))], "two points or more .*; 1 given"),
        ([((0, 0), (0, 0)), ((0.5, 0), (40, 0))], "within 0.5 mm of each other as planned"),
        ([((0, 0), (0, 0)), ((40, 0), (0.2, 0))], "within 0.2 mm of each other as found"),
        ([((0, 0), (0, 0)), ((40, 0), (math.nan, 0))], "no number"),
        (
            [((0, 0), (0, 0)), ((40, 0), (40.3, 0))],
            r"misses by 150 um and 100 um is the limit, for the points are 40.000 mm apart as "
            r"planned and 40.300 mm as found",
        ),
        # A mirrored piece: no turn brings it there.
        (
            [((0, 0), (0, 0)), ((40, 0), (-40, 0)), ((0, 20), (0, 20))],
            "only turned and shifted: point .* um is the limit; find the points again",
        ),
    ],
)
def test_points_that_do_not_locate_a_piece_are_refused(pairs, says):
    with pytest.raises(ProgramError, match=says):
        locate(pairs, most_mm=0.1)


def test_the_point_that_fits_worst_is_named():
    planned = [(0, 0), (80, 0), (80, 50), (0, 50)]
    found = [(0, 0), (80, 0), (80.0, 52.0), (0, 50)]
    with pytest.raises(ProgramError, match=r"point 3 \(80, 50 = 80, 52\) misses by") as error:
        locate(paired(planned, found), most_mm=0.5)
    assert "apart" not in str(error.value)
