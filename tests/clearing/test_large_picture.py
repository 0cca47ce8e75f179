"""A large picture of dots: 300 x 400 mm at 0.25 mm with 700,000 of them, as solid discs.

The discs cover as much as the dots, 36 % of the area, and are cut by the same lines.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from shapely.geometry import MultiLineString, MultiPolygon, Point

from clearing.winch_rows import MACHINE
from stopout.clearing import clear, measure_program
from stopout.clearing.timetable import dose_floor_s

WIDTH, HEIGHT, PITCH = 300.0, 400.0, 0.25
DOTS = 700_000
HOUR = 3600.0
# Moves of one pitch from rest to rest at 500 mm/s^2: 2 sqrt(p/a) a dot.
BARE_S = DOTS * 2 * math.sqrt(PITCH / 500.0)
# A round mark of 0.30 mm lets lines lie 0.25 mm apart (0.85 D).
MARK = (0.30, 0.30)
# At full power the speed is set for the same line dose.
POWER, SPEED = 0.30, 30.0
BED = replace(MACHINE, bed_mm=(400.0, 500.0), step_mm=0.0125)


def pattern():
    """Discs in four columns and five rows whose area is that of the dots."""
    at = [(WIDTH / 8 * (2 * i + 1), HEIGHT / 10 * (2 * j + 1)) for i in range(4) for j in range(5)]
    radius = PITCH * math.sqrt(DOTS / (len(at) * math.pi))
    return MultiPolygon([Point(xy).buffer(radius, 32) for xy in at])


def ours(power, speed):
    centres = MultiPolygon(list(shapely.get_parts(pattern().buffer(-MARK[0] / 2, 16))))
    run = clear(
        centres,
        MultiLineString(),
        machine=BED,
        mark_mm=MARK,
        spacing_mm={"x": PITCH, "y": PITCH},
        power=power,
        speed_mm_s=speed,
    )
    return measure_program(run.moves, machine=BED, power=power, speed_mm_s=speed)


def test_the_pattern_has_the_picture_s_area():
    assert pytest.approx(0.3646, abs=1e-4) == DOTS * PITCH**2 / (WIDTH * HEIGHT)
    assert pattern().area == pytest.approx(DOTS * PITCH**2, rel=0.01)


def test_stopping_at_each_dot_takes_hours_before_any_dwell():
    """2 sqrt(p/a) a dot from rest to rest: 8.70 h at 500 mm/s^2."""
    assert pytest.approx(8.70, abs=0.01) == BARE_S / HOUR


def test_lines_take_less_than_half_of_what_stopping_takes():
    same, full = ours(POWER, SPEED), ours(1.0, SPEED / POWER)
    floor = dose_floor_s(
        pattern().area,
        area_dose_j_per_mm2=POWER * BED.power_w / (SPEED * PITCH),
        power_w=BED.power_w,
    )
    hours = {
        "at the same dose and power": same.time_s / HOUR,
        "at full power": full.time_s / HOUR,
        "path floor": same.time_floor_s / HOUR,
        "dose floor": floor / HOUR,
    }
    assert hours["path floor"] < hours["at the same dose and power"] < 4.35
    assert hours["dose floor"] < hours["at full power"] < hours["at the same dose and power"]
    assert same.dose_ratio_max <= 1.15
