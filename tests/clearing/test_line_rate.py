"""Lines a second: counted and kept, by slowing down with the dose as it was."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import MultiLineString, MultiPolygon, Point, box

from clearing.winch_rows import MACHINE, outline_strokes
from jobmaker import codes, plan
from stopout.clearing import clear, plan_speeds
from stopout.clearing.motion import Profile
from stopout.clearing.moving.line_rate import (
    _share_of_a_second,
    busiest_second,
    within_line_rate,
)
from stopout.values import Moves

DOTS = MultiPolygon(
    [Point(3 + 0.8 * k, 3 + 0.8 * j).buffer(0.12) for k in range(5) for j in range(4)]
)


def program(machine):
    return clear(
        DOTS,
        MultiLineString(),
        machine=machine,
        mark_mm=(0.1, 0.1),
        spacing_mm={"x": 0.075, "y": 0.075},
        power=0.3,
        speed_mm_s=20.0,
    ).moves


def speeds(moves):
    return plan_speeds(moves, acceleration_mm_s2=800.0, cornering_mm=0.01)


def counted(profile):
    """Lines in the busiest second, by looking at every line: slow and plain."""
    begun = np.concatenate([[0.0], np.cumsum(profile.time_s)])[:-1]
    return max(int(((begun >= t) & (begun < t + 1.0 - 1e-9)).sum()) for t in begun)


@pytest.mark.parametrize("way", [True, "control", False])
@pytest.mark.parametrize("most", [60.0, 120.0, 250.0])
def test_no_second_holds_more_lines_than_the_control_carries_out(most, way):
    free = program(replace(MACHINE, power_follows_speed=way))
    held = program(replace(MACHINE, power_follows_speed=way, most_lines_per_s=most))
    assert counted(speeds(held)) <= most
    assert busiest_second(speeds(held))[0] == counted(speeds(held))
    if counted(speeds(free)) > most:
        assert speeds(held).time_s.sum() > speeds(free).time_s.sum()
    else:
        assert np.array_equal(held.end_mm, free.end_mm)


@pytest.mark.parametrize("way", [True, "control", False])
def test_where_it_runs_slower_the_dose_is_as_it_was(way):
    moves = program(replace(MACHINE, power_follows_speed=way, most_lines_per_s=60.0))
    profile, on = speeds(moves), moves.power > 0
    mean = moves.length_mm[on] / profile.time_s[on]
    dose = moves.power[on] / (moves.speed_mm_s[on] if way == "control" else mean)
    assert dose / (0.3 / 20) == pytest.approx(np.ones(on.sum()), abs=0.15)


@pytest.mark.parametrize("most", [1, 2, 3, 7, 30, 31, 40])
def test_a_line_s_share_is_that_of_the_quickest_run_of_lines_that_holds_it(most):
    """Asked run by run; lines no more than the control carries out are asked of none."""
    took_s = np.random.default_rng(most).uniform(0.001, 2 / most, 30)
    due = np.ones(30)
    for first in range(30 - most + 1 if most < 30 else 0):
        held = slice(first, first + most)
        due[held] = np.minimum(due[held], took_s[held].sum())
    assert _share_of_a_second(took_s, most) == pytest.approx(due)


def test_a_program_of_few_lines_keeps_its_speeds():
    moves = Moves(
        x_mm=np.array([5.0, 5.1, 5.2]),
        y_mm=np.zeros(3),
        rapid=np.array([True, False, False]),
        speed_mm_s=np.array([100.0, 20.0, 20.0]),
        power=np.array([0.0, 0.3, 0.3]),
    )
    held = within_line_rate(moves, replace(MACHINE, most_lines_per_s=60.0))
    assert held.speed_mm_s.tolist() == [100, 20, 20]
    assert held.power.tolist() == [0, 0.3, 0.3]


@pytest.mark.parametrize("most", [0.5, 1.0, 1.9])
def test_a_control_of_one_line_a_second_or_less_is_given_one(most):
    moves = Moves(
        x_mm=np.array([10.0, 20.0, 30.0]),
        y_mm=np.zeros(3),
        rapid=np.zeros(3, dtype=bool),
        speed_mm_s=np.full(3, 20.0),
        power=np.full(3, 0.3),
    )
    held = within_line_rate(moves, replace(MACHINE, most_lines_per_s=most))
    assert speeds(held).time_s == pytest.approx(np.full(3, 1.01), abs=0.02)


def test_chords_of_curves_are_no_shorter_than_a_motor_step_and_stay_within_a_micrometre():
    ring = Point(5, 5).buffer(0.06, quad_segs=64)
    (stroke,) = outline_strokes(ring, MACHINE)
    chord = np.hypot(*np.diff(stroke.points_mm, axis=0).T)
    assert (chord[:-1] >= MACHINE.step_mm - 1e-4).all()
    off = np.abs(np.hypot(*(stroke.points_mm - 5).T) - 0.06)
    assert off.max() < 0.001


def test_the_plan_says_where_the_limit_binds():
    shape = box(4, 4, 4.4, 4.4).union(Point(6, 6).buffer(0.3))
    free = plan(shape)
    assert "lines-limited" not in codes(free)
    asked = free.coats[0].clearing.times.lines_per_s_max
    assert asked > 20
    held = plan(shape, machine={"most_lines_per_s": float(round(asked / 2))})
    (found,) = [f for f in held.findings if f.code == "lines-limited"]
    assert "runs slower there" in found.message


def test_the_busiest_second_may_begin_with_the_first_line():
    """Which takes 0.3 s; seven of 0.1 s follow it, the last of them from 0.9 s on."""
    took_s = np.array([0.3] + [0.1] * 7 + [2.0] * 3)
    none = np.zeros(len(took_s))
    profile = Profile(vertex_mm_s=np.zeros(len(took_s) + 1), peak_mm_s=none, time_s=took_s)
    assert busiest_second(profile) == (8, 0)


def test_the_last_line_counts_as_any_other():
    profile = Profile(vertex_mm_s=np.zeros(6), peak_mm_s=np.zeros(5), time_s=np.full(5, 0.1))
    assert busiest_second(profile) == (5, 0)
