"""Strokes switched sooner by what a late beam stands behind, reckoned by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from clearing.winch_rows import MACHINE
from stopout.clearing.filling.strokes import BeamStroke
from stopout.clearing.moving.lead import led_strokes

# Later along y than along x.
LATE = replace(MACHINE, beam_lag_s=(0.01, 0.02))


def led(points, *, is_fill=False, begin=20.0, end=30.0):
    points = np.array(points, dtype=float)
    stroke = BeamStroke(
        points_mm=points, is_on=np.ones(len(points) - 1, dtype=bool), is_fill=is_fill
    )
    (found,) = led_strokes([stroke], np.array([begin]), np.array([end]), LATE)
    return found.points_mm.tolist(), found.is_on.tolist()


def test_an_open_path_begins_and_ends_sooner_by_speed_times_lag():
    """20 mm/s x 0.01 s along x before it, 30 mm/s x 0.02 s along y before its end."""
    points, is_on = led([(0, 0), (10, 0), (10, 5)])
    assert points == pytest.approx(np.array([(-0.2, 0), (0, 0), (10, 0), (10, 4.4), (10, 5)]))
    assert is_on == [True, True, True, False]


@pytest.mark.parametrize("more", [[], [(3, 0)]])
@pytest.mark.parametrize("corners", [[(10, 10)], [(10, 10), (0, 10)]])
def test_a_round_path_runs_on_over_its_beginning_and_is_not_cut(corners, more):
    """Closed, or run on over the beginning that it met again."""
    way = [(0, 0), (10, 0), *corners, (0, 0), *more]
    points, is_on = led(way)
    assert points == pytest.approx(np.array([(-0.2, 0), *way]))
    assert all(is_on)


def test_a_fill_line_moves_back_against_its_travel():
    """Runs and all, by the lag along it: at 45 degrees the mean of both, 20 x 0.015 mm."""
    points, _ = led([(10, 5), (0, 5)], is_fill=True)
    assert points == pytest.approx(np.array([(10.2, 5), (0.2, 5)]))
    points, _ = led([(0, 0), (5, 5)], is_fill=True)
    back = 0.3 / np.sqrt(2)
    assert points == pytest.approx(np.array([(-back, -back), (5 - back, 5 - back)]))
