"""Motion: closed forms, a numerical integration, and the rule of design for vertices."""

import math

import numpy as np
import pytest

from clearing.winch_rows import MACHINE
from stopout.clearing import plan_speeds
from stopout.clearing.motion import corner_speeds
from stopout.clearing.moving.program_times import measure_program
from stopout.values import Moves


def program(points, speed, *, power=1.0):
    points = np.asarray(points, dtype=float)
    n = len(points)
    return Moves(
        x_mm=points[:, 0],
        y_mm=points[:, 1],
        rapid=np.zeros(n, dtype=bool),
        speed_mm_s=np.broadcast_to(np.asarray(speed, dtype=float), (n,)).copy(),
        power=np.full(n, power),
    )


def total_time(moves, *, acceleration=800.0, cornering=0.01):
    profile = plan_speeds(moves, acceleration_mm_s2=acceleration, cornering_mm=cornering)
    return float(profile.time_s.sum())


# The trapezoidal and the triangular profile are textbook kinematics (e.g. any text on linear motion
# profiles): t = L/v + v/a for L >= v^2/a, else t = 2 sqrt(L/a).
@pytest.mark.parametrize(
    ("length", "speed", "acceleration", "expected"),
    [
        (100.0, 50.0, 1000.0, 2.05),
        (0.25, 100.0, 500.0, 0.044721),
        (0.25, 100.0, 1000.0, 0.031623),
        (0.25, 100.0, 3000.0, 0.018257),
        (10.0, 100.0, 1000.0, 0.2),
    ],
)
def test_a_move_from_rest_to_rest_takes_the_trapezoidal_time(length, speed, acceleration, expected):
    planned = total_time(program([(length, 0.0)], speed), acceleration=acceleration)
    assert planned == pytest.approx(expected, abs=1e-6)


def test_a_square_corner_at_20_mm_s_is_taken_at_4_4_mm_s():
    corner = corner_speeds(
        np.array([[0.0, 0.0], [5.0, 0.0], [5.0, 5.0]]), acceleration_mm_s2=800, cornering_mm=0.01
    )
    s = math.sin(math.pi / 4)
    assert corner[0] == pytest.approx(math.sqrt(800 * 0.01 * s / (1 - s)))
    assert corner[0] == pytest.approx(4.39, abs=0.01)


def test_straight_on_is_not_limited_and_a_reversal_stops():
    line = np.array([[0.0, 0.0], [1.0, 0.0], [2.0, 0.0], [1.0, 0.0]])
    limit = corner_speeds(line, acceleration_mm_s2=800, cornering_mm=0.01)
    assert limit[0] == np.inf
    assert limit[1] == 0.0


def test_a_circle_of_1_mm_radius_in_2_um_chords_runs_at_28_3_mm_s():
    n = round(2 * math.pi / 0.002)
    angle = np.linspace(0, 20 * math.pi, 10 * n + 1)
    circle = np.column_stack([np.cos(angle), np.sin(angle)])
    moves = program(circle - circle[0], 100.0)
    profile = plan_speeds(moves, acceleration_mm_s2=800, cornering_mm=0.01)
    middle = profile.vertex_mm_s[len(moves) // 3 : len(moves) // 2]
    assert middle == pytest.approx(math.sqrt(800 * 1.0), rel=1e-3)
    assert middle == pytest.approx(28.3, abs=0.05)


@pytest.mark.parametrize("at", [0, 2, 4])
def test_a_move_of_no_length_takes_no_time_and_slows_no_other(at):
    points = np.array([(3, 0), (6, 0.5), (6, 2), (1, 1)], dtype=float)
    before = np.vstack([[0.0, 0.0], points])[at]
    limits = {"acceleration_mm_s2": 800.0, "cornering_mm": 0.01}
    plain = plan_speeds(program(points, 30.0), **limits)
    still = plan_speeds(program(np.insert(points, at, before, axis=0), 30.0), **limits)
    assert still.time_s.tolist() == np.insert(plain.time_s, at, 0.0).tolist()
    assert still.vertex_mm_s[at] == still.vertex_mm_s[at + 1]


def test_nothing_that_moves_is_at_rest():
    moves = program(np.zeros((2, 2)), 30.0)
    profile = plan_speeds(moves, acceleration_mm_s2=800.0, cornering_mm=0.01)
    assert profile.time_s.tolist() == [0, 0]
    assert profile.vertex_mm_s.tolist() == [0, 0, 0]
    told = measure_program(moves, machine=MACHINE, power=0.3, speed_mm_s=20.0)
    assert (told.time_s, told.cleared_length_mm) == (0, 0)


def test_travels_alone_clear_nothing_and_take_nothing():
    """The time counts to the last beam-on point."""
    told = measure_program(
        program([(5, 0), (5, 5)], 30.0, power=0.0), machine=MACHINE, power=0.3, speed_mm_s=20.0
    )
    assert (told.time_s, told.cleared_length_mm, told.dose_ratio_max) == (0, 0, 0)
    assert told.travel_length_mm == pytest.approx(10)


def test_a_zigzag_with_reversals_stops_at_each_end():
    length, speed, a = 20.0, 50.0, 800.0
    moves = program([(length, 0), (0, 0), (length, 0), (0, 0)], speed)
    assert total_time(moves) == pytest.approx(4 * (length / speed + speed / a), rel=1e-12)


def test_cutting_a_straight_move_into_pieces_changes_nothing():
    whole = program([(30.0, 40.0)], 60.0)
    pieces = program(np.linspace(0, 1, 101)[1:, None] * np.array([30.0, 40.0]), 60.0)
    assert total_time(pieces) == pytest.approx(total_time(whole), rel=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_the_planned_time_agrees_with_integrating_the_speed_numerically(seed):
    """Independent check: walk the path in small steps under the same limits, forwards and back."""
    rng = np.random.default_rng(seed)
    points = np.cumsum(rng.normal(size=(12, 2)) * 2.0, axis=0)
    speed = rng.uniform(10, 60, size=12)
    moves = program(points, speed)
    a = 500.0
    planned = total_time(moves, acceleration=a)

    path = np.vstack([[0.0, 0.0], points])
    lengths = np.hypot(*np.diff(path, axis=0).T)
    vertex = corner_speeds(path, acceleration_mm_s2=a, cornering_mm=0.01)
    n = 4000
    ds = np.repeat(lengths / n, n)
    cap = np.repeat(speed, n)
    cap = np.concatenate([[0.0], np.minimum(cap[:-1], cap[1:]), [0.0]])
    at = np.arange(1, len(lengths)) * n
    cap[at] = np.minimum(cap[at], vertex)
    v = cap.copy()
    for k in range(1, len(v)):
        v[k] = min(v[k], math.sqrt(v[k - 1] ** 2 + 2 * a * ds[k - 1]))
    for k in range(len(v) - 2, -1, -1):
        v[k] = min(v[k], math.sqrt(v[k + 1] ** 2 + 2 * a * ds[k]))
    walked = float((2 * ds / np.maximum(v[:-1] + v[1:], 1e-9)).sum())
    assert planned == pytest.approx(walked, rel=2e-3)


@pytest.mark.parametrize("seed", range(4))
def test_no_speed_exceeds_its_limits(seed):
    rng = np.random.default_rng(seed)
    points = np.cumsum(rng.normal(size=(200, 2)) * rng.uniform(0.001, 3, size=(200, 1)), axis=0)
    moves = program(points, rng.uniform(5, 80, size=200))
    profile = plan_speeds(moves, acceleration_mm_s2=800, cornering_mm=0.01)
    v = profile.vertex_mm_s
    assert v[0] == v[-1] == 0
    assert (profile.peak_mm_s <= moves.speed_mm_s * (1 + 1e-9)).all()
    assert (np.abs(np.diff(v**2)) <= 2 * 800 * moves.length_mm * (1 + 1e-6) + 1e-6).all()


def test_two_direction_time_of_a_whole_bed_is_as_reckoned_by_hand():
    """1500 lines of 400 mm, 100 mm/s, 1000 mm/s^2, 0.2 mm apart, stop at each end.

    By hand: 1500 (4 + 0.1) for lines with their own acceleration inside 400 mm of path is the
    bare profile; with runs-up outside, 1500 (4 + 0.2) + 1499 x 0.02828 = 6342.4 s.
    """
    run = 100.0**2 / (2 * 1000)
    points = []
    for k in range(1500):
        y = 0.2 * k
        ends = (-run, 400 + run) if k % 2 == 0 else (400 + run, -run)
        points += [(ends[0], y), (ends[1], y)]
    # A cornering distance of nothing makes every turn a stop.
    moves = program(np.array(points) - points[0], 100.0)
    profile = plan_speeds(moves, acceleration_mm_s2=1000, cornering_mm=1e-15)
    assert float(profile.time_s.sum()) == pytest.approx(6342.4, abs=0.1)
