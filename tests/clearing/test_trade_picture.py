"""A picture of the trade: 280 x 390 mm at 0.25 mm with 740,000 dots (common practice, no source).

It took about 18 hours one way with a stop at each dot; about 4 hours was thought reachable. The
pattern is ours: solid discs over 42 % of the area, cut by the same lines.
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

WIDTH, HEIGHT, PITCH = 280.0, 390.0, 0.25
DOTS = 740_000
HOUR = 3600.0
# Moves of one pitch from rest to rest at 500 mm/s^2: 2 sqrt(p/a) a dot.
BARE_S = DOTS * 2 * math.sqrt(PITCH / 500.0)
# A round mark of 0.30 mm lets lines lie 0.25 mm apart (0.85 D).
MARK = (0.30, 0.30)
# Power and speed of our own shop's kind: the same line dose at full power.
POWER, SPEED = 0.30, 30.0
BED = replace(MACHINE, bed_mm=(400.0, 500.0), step_mm=0.0125)


def pattern():
    """Discs in four columns and five rows whose area is that of 740,000 dots."""
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


def stop_and_go_s():
    """A stop at each dot with no dwell, and the way back of each row."""
    back = (HEIGHT / PITCH) * (WIDTH / 100.0 + 100.0 / 500.0)
    return BARE_S + back


def test_the_pattern_has_the_picture_s_area():
    assert pytest.approx(0.4235, abs=1e-4) == DOTS * PITCH**2 / (WIDTH * HEIGHT)
    assert pattern().area == pytest.approx(DOTS * PITCH**2, rel=0.01)


def test_stopping_at_each_dot_takes_the_hours_it_took():
    """2 sqrt(p/a) a dot: 9.2 h at 500 mm/s^2 with no dwell; 37.7 ms of dwell make about 18 h."""
    assert pytest.approx(9.19, abs=0.01) == BARE_S / HOUR
    assert (DOTS * 0.0377 + stop_and_go_s()) / HOUR == pytest.approx(18.0, abs=0.5)


def test_ours_takes_less_than_the_four_hours_that_were_thought_reachable():
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
    assert hours["path floor"] < hours["at the same dose and power"] < 4.0
    assert hours["dose floor"] < hours["at full power"] < hours["at the same dose and power"]
    assert same.dose_ratio_max <= 1.15
