"""Tips in the dose, held against the brute-force dose map of the clearing tests."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import erfc
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon, box

from clearing.dose_map import dose_map, lit_runs
from clearing.test_paths import steps_of
from clearing.winch_rows import MACHINE
from stopout.clearing import clear
from stopout.planning.findings.tips import _reach, short_tips

MARK = (0.1, 0.1)
W = 0.05 / math.sqrt(math.log(2) / 2)


def moves_of(areas, lines):
    return clear(
        MultiPolygon(areas),
        MultiLineString(lines),
        machine=MACHINE,
        mark_mm=MARK,
        spacing_mm={"x": 0.075, "y": 0.075},
        power=0.3,
        speed_mm_s=20.0,
    ).moves


def cleared_beyond(moves, place, way):
    """How far along a way from a place the dose map is above the threshold."""
    steps = steps_of(moves)
    low, high = np.array(place) - 0.3, np.array(place) + 0.3
    dose, at = dose_map(
        lit_runs(steps, MACHINE, line_dose=0.3 / 20), radius=(W, W), low=low, high=high, ratio=2.0
    )
    gap = at - np.array(place)
    along, across = gap @ way, np.abs(gap @ np.array([-way[1], way[0]]))
    return along[(dose >= 1) & (across < 0.004)].max()


def test_a_free_end_is_short_by_half_a_mark_at_dose_ratio_2_as_the_dose_map_has_it():
    moves = moves_of([box(0, 0, 0.3, 0.3)], [LineString([(1, 0.15), (3, 0.15)])])
    tips = short_tips(moves, MARK, 2.0)
    assert tips is not None
    assert tips.count == 2
    assert tips.worst_mm == pytest.approx(0.05, abs=1e-6)
    reached = cleared_beyond(moves, (3, 0.15), np.array([1.0, 0.0]))
    assert 0.05 - reached == pytest.approx(tips.worst_mm, abs=0.008)


def test_ends_that_an_outline_goes_round_are_no_tips():
    assert short_tips(moves_of([box(0, 0, 2, 1)], []), MARK, 2.0) is None


def test_a_needle_is_short_at_its_point_by_what_the_dose_map_has():
    needle = Polygon([(0, 0), (2, -0.12), (2, 0.12)])
    moves = moves_of([needle], [])
    tips = short_tips(moves, MARK, 2.0)
    assert tips is not None
    assert tips.at_mm == pytest.approx((0.0, 0.0), abs=1e-3)
    reached = cleared_beyond(moves, (0, 0), np.array([-1.0, 0.0]))
    assert 0.05 - reached == pytest.approx(tips.worst_mm, abs=0.012)


def test_the_reach_outside_a_right_angle_is_that_of_the_closed_form():
    x = _reach(math.pi / 2, 2.0)
    assert math.exp(-(x**2)) * erfc(x) == pytest.approx(0.5, abs=1e-9)
