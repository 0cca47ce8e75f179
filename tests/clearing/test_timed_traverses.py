"""Top speed and acceleration from the times of long and of short traverses."""

from __future__ import annotations

import math

import pytest

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
