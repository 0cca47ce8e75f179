"""Top speed and acceleration from the times of long and of short traverses."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from clearing.winch_rows import MACHINE
from stopout.clearing.moving.timed_run import acceleration_from_time
from stopout.clearing.moving.timed_traverses import Traverses, lay_traverses, motion_of
from stopout.errors import PlanError


def took(run, speed, acceleration):
    """By the suvat equations of any mechanics text, speed up, go on, slow down."""
    up_mm = speed**2 / (2 * acceleration)
    if 2 * up_mm >= run.length_mm:
        return run.count * 2 * math.sqrt(2 * (run.length_mm / 2) / acceleration)
    return run.count * (2 * speed / acceleration + (run.length_mm - 2 * up_mm) / speed)


@pytest.mark.parametrize("speed", [40.0, 150.0, 600.0])
@pytest.mark.parametrize("acceleration", [150.0, 700.0, 5000.0])
def test_the_times_of_two_runs_give_back_what_made_them(speed, acceleration):
    long, short = lay_traverses(160, top_speed_mm_s=150, acceleration_mm_s2=(150, 700, 3000))
    found, told = motion_of(
        long,
        short,
        long_s=took(long, speed, acceleration),
        short_s=took(short, speed, acceleration),
    )
    assert told.value == pytest.approx(acceleration, rel=1e-6)
    if speed**2 / acceleration > 160:
        # No traverse of 160 mm reaches it, and none is claimed.
        assert found is None
    elif found is not None:
        assert found.value == pytest.approx(speed, rel=1e-6)
    # A minute or so on a likely machine, which 0.3 s of a hand tell to 2 %.
    if (speed, acceleration) == (150, 700):
        assert told.sd < 0.02 * told.value
    off, _ = motion_of(
        long,
        short,
        long_s=took(long, 100, 700) + 0.3,
        short_s=took(short, 100, 700) - 0.3,
    )
    assert abs(off.value - 100) < 3 * off.sd


def test_times_of_the_wrong_programs_are_told():
    long, short = Traverses(length_mm=150, count=50), Traverses(length_mm=4.5, count=376)
    with pytest.raises(PlanError, match="check which time"):
        motion_of(long, short, long_s=5, short_s=60)
    with pytest.raises(PlanError, match="less time than the acceleration"):
        motion_of(long, short, long_s=24, short_s=60)


@pytest.mark.parametrize(
    ("room", "top", "highest", "long_mm", "short_mm", "n_long", "n_short"),
    [
        # 0.6 v^2 / a = 4.5 mm; 60 s over 160.46 / 150 + 150 / 700 and over 2 sqrt(4.5 / 700) s.
        (160.456, 150, 3000, 160.46, 4.5, 48, 376),
        # No more than a quarter of the room, and to the hundredth: 0.8275 mm.
        (3.31, 150, 3000, 3.31, 0.83, 438, 872),
        # At least 1 mm, though the fastest machine needs 0.048 mm: 1 / 20 + 20 / 700 s each; of
        # 50 s each 20 at least.
        (1000.0, 20, 20000, 1000.0, 1.0, 20, 764),
    ],
)
def test_runs_are_as_long_and_as_many_as_reckoned_by_hand(
    room, top, highest, long_mm, short_mm, n_long, n_short
):
    long, short = lay_traverses(room, top_speed_mm_s=top, acceleration_mm_s2=(150, 700, highest))
    assert (long.length_mm, short.length_mm) == (long_mm, short_mm)
    assert (long.count, short.count) == (n_long, n_short)


@pytest.mark.parametrize("axis", ["x", "y"])
def test_a_run_goes_to_and_fro_along_its_axis_beam_off(axis):
    made = Traverses(length_mm=7.5, count=4).moves(axis, 120.0)
    along, across = (made.x_mm, made.y_mm) if axis == "x" else (made.y_mm, made.x_mm)
    assert along.tolist() == [7.5, 0, 7.5, 0]
    assert not across.any()
    assert not made.power.any()
    assert made.rapid.all()
    assert made.speed_mm_s.tolist() == [120.0] * 4


def test_the_clock_s_error_arrives_by_the_derivatives_of_the_profile():
    """t = L / v + v / a and s = 2 sqrt(l / a): dv = dt / (1 / a - L / v^2), da = -2 a ds / s, and
    dv = (v / a^2) da / (1 / a - L / v^2)."""
    long, short = Traverses(length_mm=160, count=48), Traverses(length_mm=4.5, count=376)
    v, a, sd = 150.0, 700.0, 0.003
    found, told = motion_of(
        long, short, long_s=took(long, v, a), short_s=took(short, v, a), sd_s=sd
    )
    steep = 1 / a - 160 / v**2
    da = 2 * a * sd / took(short, v, a)
    assert told.sd == pytest.approx(da, rel=0.01)
    dv = np.hypot(sd / 48 / steep, v / a**2 * da / steep)
    assert found.sd == pytest.approx(float(dv), rel=0.01)


def test_a_run_that_never_reaches_the_speed_still_tells_the_acceleration():
    """Twice the share by which the short time errs."""
    long, short = Traverses(length_mm=30, count=140), Traverses(length_mm=4.5, count=376)
    times = {"long_s": 140 * 2 * math.sqrt(30 / 700), "short_s": took(short, 150, 700)}
    found, told = motion_of(long, short, **times)
    assert found is None
    assert told.value == pytest.approx(700)
    assert told.sd == pytest.approx(2 * 0.3 / times["short_s"] * 700)


@pytest.mark.parametrize("share", [0.9, 1.1])
def test_a_top_speed_is_told_where_the_clock_can_tell_it(share):
    """t^2 - 4 L / a is known to 2 t dt + t^2 da / a, da / a = 2 ds / s; twice that is sure."""
    v, a = 150.0, 700.0
    long, short = Traverses(length_mm=60, count=48), Traverses(length_mm=4.5, count=376)
    times = {"long_s": took(long, v, a), "short_s": took(short, v, a)}
    t = times["long_s"] / 48
    known_at_1_s = 2 * t**2 * (1 / times["long_s"] + 1 / times["short_s"])
    sd_s = share * (t**2 - 4 * 60 / a) / (2 * known_at_1_s)
    found, _ = motion_of(long, short, **times, sd_s=sd_s)
    assert (found is None) == (share > 1)


def test_the_clock_s_error_is_what_a_longer_long_run_and_a_shorter_short_one_would_tell():
    """Solved by halving the forward equations, where the long ones hardly reach the speed."""
    v, a, sd = 150.0, 700.0, 0.3
    long, short = Traverses(length_mm=75, count=140), Traverses(length_mm=4.5, count=376)
    long_s, short_s = took(long, v, a), took(short, v, a)

    def solved(long_s, short_s):
        a = brentq(lambda a: took(short, 1e9, a) - short_s, 1, 1e5)
        return brentq(lambda v: took(long, v, a) - long_s, 1, math.sqrt(75 * a)), a

    by_long, _ = solved(long_s + sd, short_s)
    by_short, a_by_short = solved(long_s, short_s - sd)
    found, told = motion_of(long, short, long_s=long_s, short_s=short_s, sd_s=sd)
    assert found.sd == pytest.approx(math.hypot(by_long - v, by_short - v), rel=1e-6)
    assert told.sd == pytest.approx(a_by_short - a, rel=1e-6)


@pytest.mark.parametrize("scale", [0.06, 0.7, 1.0, 3.0, 18.0])
def test_a_run_s_time_tells_how_the_acceleration_stands_to_the_one_thought(scale):
    """Ten traverses to and fro by the closed form, at 1 / 18 to 18 times the acceleration."""
    run = Traverses(length_mm=60, count=10)
    moves = run.moves("x", 100.0)
    took_s = took(run, 100.0, scale * MACHINE.acceleration_mm_s2)
    assert acceleration_from_time(moves, MACHINE, took_s=took_s) == pytest.approx(scale, rel=1e-6)
    beyond_s = took(run, 100.0, 21 * MACHINE.acceleration_mm_s2)
    with pytest.raises(PlanError, match="no time of this program"):
        acceleration_from_time(moves, MACHINE, took_s=beyond_s)
