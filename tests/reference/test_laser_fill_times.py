"""Times of fills and dots against closed forms of uniformly accelerated motion.

The trapezoidal profile is textbook kinematics: t = L/v + v/a, or 2 sqrt(L/a) where the speed is not
reached. The counts and doses of whole pictures are our own case: 300 x 400 mm at 0.2 mm with
1,200,000 cells marked.
"""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from shapely.geometry import MultiPolygon, box

from stopout.clearing import move_time_s
from stopout.clearing.fill import fill_rows
from stopout.clearing.timetable import (
    dose_floor_s,
    plain_fill_time_s,
    run_up_mm,
    stop_and_go_time_s,
)

CASE = {
    "n_lines": 1500,
    "line_mm": 400,
    "spacing_mm": 0.2,
    "speed_mm_s": 100,
    "acceleration_mm_s2": 1000,
}


def test_both_forms_of_a_move_agree_where_the_profile_changes_over():
    assert move_time_s(10, speed_mm_s=100, acceleration_mm_s2=1000) == pytest.approx(0.2, abs=1e-12)
    assert 2 * math.sqrt(10 / 1000) == pytest.approx(10 / 100 + 100 / 1000, abs=1e-12)
    assert move_time_s(100, speed_mm_s=50, acceleration_mm_s2=1000) == pytest.approx(2.05)


@pytest.mark.parametrize(
    ("speed", "acceleration", "expected"),
    [(100, 500, 10), (50, 500, 2.5), (50, 1000, 1.25), (200, 3000, 6.67)],
)
def test_the_run_up_is_the_integral_of_the_speed(speed, acceleration, expected):
    got = run_up_mm(speed, acceleration)
    assert got == pytest.approx(expected, abs=5e-3 if expected != 10 else 1e-9)
    assert got == pytest.approx(quad(lambda t: acceleration * t, 0, speed / acceleration)[0])


def test_a_whole_picture_back_and_forth():
    both = plain_fill_time_s(**CASE, both_ways=True)
    assert both == pytest.approx(6342.4, abs=0.1)
    # Written out: 1500 lines of 4 s with 0.2 s of run-ups, 1499 steps of 2 sqrt(p/a).
    assert both == pytest.approx(1500 * 4.2 + 1499 * 2 * math.sqrt(0.2 / 1000))


def test_back_and_forth_takes_half_of_one_direction():
    both = plain_fill_time_s(**CASE, both_ways=True)
    assert both / plain_fill_time_s(**CASE, both_ways=False) == pytest.approx(0.504, abs=0.002)


@pytest.mark.parametrize(("acceleration", "hours"), [(500, 13.333), (1000, 9.428), (3000, 5.443)])
def test_a_stop_at_each_dot_takes_hours_before_any_dwell(acceleration, hours):
    got = stop_and_go_time_s(1_200_000, spacing_mm=0.2, acceleration_mm_s2=acceleration)
    assert got / 3600 == pytest.approx(hours, abs=1e-3)


@pytest.mark.parametrize(
    ("acceleration", "milliseconds"), [(500, 44.721), (1000, 31.623), (3000, 18.257)]
)
def test_one_short_move_between_dots(acceleration, milliseconds):
    got = stop_and_go_time_s(1, spacing_mm=0.25, acceleration_mm_s2=acceleration)
    assert 1000 * got == pytest.approx(milliseconds, abs=1e-3)
    moved = move_time_s(0.25, speed_mm_s=1000, acceleration_mm_s2=acceleration)
    assert got == pytest.approx(moved)


def test_the_cells_and_the_marked_path_of_the_picture():
    """300 x 400 mm at 0.2 mm: 3,000,000 cells; of them 1,200,000 make 240 m and 48,000 mm^2."""
    bars = MultiPolygon([box(50 * k, 0, 50 * k + 20, 300) for k in range(8)])
    whole = MultiPolygon([box(0, 0, 400, 300)])
    path = {}
    for name, area in (("whole", whole), ("bars", bars)):
        rows = fill_rows(area, mark_mm=(0.24, 0.24), spacing_mm=0.2, along="x", bridge_mm=0)
        path[name] = sum(float(np.diff(row.spans_mm).sum()) for row in rows)
    assert bars.area == 48_000
    assert path["whole"] / 0.2 == pytest.approx(3_000_000, rel=2e-3)
    # Each bar's lines may end a tenth of a millimetre short of its edge, where the outline runs.
    assert path["bars"] == pytest.approx(240_000, rel=1e-2)
    assert path["bars"] * 0.2 == pytest.approx(bars.area, rel=1e-2)


def test_the_dose_floor_of_the_picture():
    assert pytest.approx(48_000) == 1_200_000 * 0.2**2
    got = dose_floor_s(48_000, area_dose_j_per_mm2=0.5, power_w=5.5)
    assert got == pytest.approx(4363.6, abs=0.1)


@pytest.mark.parametrize(("width", "speed", "acceleration", "over"), [(92, 100, 800, 1.27)])
def test_run_ups_keep_short_lines_over_length_by_speed(width, speed, acceleration, over):
    got = plain_fill_time_s(
        n_lines=100,
        line_mm=width,
        spacing_mm=1e-9,
        speed_mm_s=speed,
        acceleration_mm_s2=acceleration,
        both_ways=True,
    )
    assert got / (100 * width / speed) == pytest.approx(over, abs=5e-3)
    longer = (390 / speed + 2 * speed / acceleration) / (390 / speed)
    assert longer == pytest.approx(1.06, abs=5e-3)
