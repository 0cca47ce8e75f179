"""Many parts: only some are costed both ways, and nothing is left uncleared for that."""

from __future__ import annotations

import pytest
import shapely
from shapely.geometry import MultiLineString, MultiPolygon, Point

from clearing.winch_rows import MACHINE
from stopout.clearing import clear, measure_program
from stopout.clearing import plan as planner

MARK = (0.1, 0.1)
DISCS = MultiPolygon(
    [
        Point(1.2 * (k % 6), 1.2 * (k // 6)).buffer(0.12 + 0.012 * (k * 7 % 24), 32)
        for k in range(24)
    ]
)


def cleared():
    return clear(
        DISCS,
        MultiLineString(),
        machine=MACHINE,
        mark_mm=MARK,
        spacing_mm={"x": 0.085, "y": 0.085},
        power=0.3,
        speed_mm_s=20.0,
    )


def swept(moves):
    on = moves.power > 0
    lines = shapely.linestrings(
        [[start, end] for start, end in zip(moves.start_mm[on], moves.end_mm[on], strict=True)]
    )
    return shapely.union_all(shapely.buffer(lines, MARK[0] / 2))


def test_parts_that_were_not_tried_do_as_those_next_in_width_and_are_cleared(monkeypatch):
    all_tried = cleared()
    monkeypatch.setattr(planner, "_MOST_TRIED", 5)
    some_tried = cleared()
    left = DISCS.difference(swept(some_tried.moves))
    assert shapely.buffer(left, -0.002).is_empty
    times = [
        measure_program(run.moves, machine=MACHINE, power=0.3, speed_mm_s=20.0).time_s
        for run in (all_tried, some_tried)
    ]
    assert times[1] == pytest.approx(times[0], rel=0.03)


def test_the_direction_that_lost_is_no_quicker_than_the_plan_at_high_speed():
    run = clear(
        DISCS,
        MultiLineString(),
        machine=MACHINE,
        mark_mm=MARK,
        spacing_mm={"x": 0.085, "y": 0.085},
        power=1.0,
        speed_mm_s=100.0,
    )
    ours = measure_program(run.moves, machine=MACHINE, power=1.0, speed_mm_s=100.0).time_s
    assert run.other_time_s is not None
    assert run.other_time_s >= ours * (1 - 1e-9)
