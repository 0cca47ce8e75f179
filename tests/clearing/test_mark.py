"""Both axes of a mark from one threshold of fluence."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from stopout.clearing.beam.mark import (
    dose_ratios_of_spot,
    hold_against_spot,
    mark_beside,
    mark_of_mean,
    mark_of_spot,
)
from stopout.values import Measured

RADIUS = (0.085, 0.06)


def fluence(radius, along, offset):
    """Dose per area beside a line of unit line dose, by integrating the moving spot over time."""
    w_along, w_across = radius if along == "x" else radius[::-1]
    peak = 2 / (math.pi * w_along * w_across)
    run = quad(lambda s: math.exp(-2 * (s / w_along) ** 2), -6 * w_along, 6 * w_along)[0]
    return peak * run * math.exp(-2 * (offset / w_across) ** 2)


@pytest.mark.parametrize("ratio", [1.3, math.sqrt(math.e), 2.0, 4.0])
def test_at_the_edges_of_lines_both_ways_the_fluence_is_the_same_threshold(ratio):
    """An integration of the moving beam that shares nothing with the closed form."""
    mark = mark_of_spot(RADIUS, ratio)
    upright = fluence(RADIUS, "y", mark[0] / 2)
    level = fluence(RADIUS, "x", mark[1] / 2)
    assert upright == pytest.approx(level, rel=1e-6)
    assert fluence(RADIUS, "y", 0.0) / upright == pytest.approx(ratio, rel=1e-6)


def test_the_dose_ratio_is_that_of_the_wider_axis():
    assert dose_ratios_of_spot(RADIUS, 2.0) == pytest.approx((2.0, 2.0 * 0.085 / 0.06))
    assert dose_ratios_of_spot(RADIUS[::-1], 2.0) == pytest.approx((2.0 * 0.085 / 0.06, 2.0))


def test_the_demo_spot_makes_0_100_by_0_087_mm_at_dose_ratio_2():
    """By hand: 0.085 x 1.17741 = 0.1001; 0.06 sqrt(2 ln 2.8333) = 0.0866."""
    assert mark_of_spot(RADIUS, 2.0) == pytest.approx((0.1001, 0.0866), abs=5e-5)


@given(
    st.tuples(st.floats(0.02, 0.3), st.floats(0.02, 0.3)).filter(lambda w: 0.3 < w[0] / w[1] < 3),
    st.floats(1.05, 20.0),
)
def test_a_mark_that_the_spot_made_is_never_told(radius, ratio):
    made = mark_of_spot(radius, ratio)
    assert mark_of_mean(radius, sum(made) / 2) == pytest.approx(made, rel=1e-6)
    check = hold_against_spot((Measured(value=made[0]), Measured(value=made[1])), radius)
    assert not check.is_told
    assert mark_beside(radius, axis=0, mark_mm=made[0]) == pytest.approx(made[1], rel=1e-6)


def test_pairs_are_told_stopped_and_seen_to_be_swapped():
    def check(x, y, sd=0.0):
        return hold_against_spot((Measured(value=x, sd=sd), Measured(value=y, sd=sd)), RADIUS)

    old = check(0.10, 0.07)
    assert old.is_told
    assert not old.is_stop
    assert old.expected_mm == pytest.approx((0.0894, 0.0806), abs=1e-4)
    assert not check(0.10, 0.07, sd=0.008).is_told
    assert check(0.087, 0.10).is_swapped
    assert check(0.2, 0.05).is_stop
    assert check(2.0, 2.0).is_stop
    assert check(2.0, 2.0).is_told
    assert check(2.0, 2.0).expected_mm == pytest.approx((6 * 0.085, 6 * 0.06))
    assert not check(*mark_of_mean(RADIUS, 0.509)).is_told
    assert check(*mark_of_mean(RADIUS, 0.511)).is_stop
    assert check(0.04, 0.04).is_told


@pytest.mark.parametrize(("share", "is_told"), [(0.049, False), (0.051, True)])
@pytest.mark.parametrize("axis", [0, 1])
def test_an_axis_is_told_where_it_is_off_by_more_than_a_twentieth(axis, share, is_told):
    """Ours; of a round spot, with a mean of 0.1 mm."""
    pair = [0.1 * (1 + share), 0.1 * (1 - share)][:: 1 - 2 * axis]
    mark = tuple(Measured(value=value, sd=0.0) for value in pair)
    assert hold_against_spot(mark, (0.08, 0.08)).is_told == is_told


@pytest.mark.parametrize("factor", [2.0, 0.5])
@pytest.mark.parametrize("axis", [0, 1])
def test_one_axis_alone_beyond_a_factor_of_two_stops(axis, factor):
    """The other is not, for it is expected five times as wide and takes up the difference."""
    radius = (0.02, 0.1) if axis == 0 else (0.1, 0.02)
    for share, stops in ((0.96, False), (1.04, True)):
        pair = list(mark_of_mean(radius, 0.15))
        there = pair[axis] * factor**share
        pair[1 - axis] += pair[axis] - there
        pair[axis] = there
        assert (
            hold_against_spot(tuple(Measured(value=v, sd=0.0) for v in pair), radius).is_stop
            == stops
        )


def test_a_line_whose_narrow_axis_alone_clears_leaves_the_other_at_nothing():
    assert mark_of_spot(RADIUS, 0.8) == pytest.approx(
        (0.0, 0.06 * np.sqrt(2 * np.log(0.8 * 17 / 12)))
    )
    assert mark_beside(RADIUS, axis=1, mark_mm=0.02) == 0.0
    assert mark_of_mean(RADIUS, 0.01) == (0.0, 0.02)
