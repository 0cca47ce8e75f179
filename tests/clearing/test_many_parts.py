"""Many parts: only so many get rings, and nothing is left uncleared for that."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import MultiLineString, MultiPolygon, Point, box

from clearing.winch_rows import MACHINE
from stopout.clearing import choice, clear, measure_program
from stopout.clearing.ringed.linking import run_on

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


def test_parts_beyond_those_that_get_rings_are_cleared_by_lines_in_little_more_time(monkeypatch):
    all_ringed = cleared()
    monkeypatch.setattr(choice, "_MOST_RINGED", 8)
    some_ringed = cleared()
    left = DISCS.difference(swept(some_ringed.moves))
    assert shapely.buffer(left, -0.002).is_empty
    times = [
        measure_program(run.moves, machine=MACHINE, power=0.3, speed_mm_s=20.0).time_s
        for run in (all_ringed, some_ringed)
    ]
    assert times[0] < times[1] < 1.3 * times[0]


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


@pytest.mark.parametrize("line_direction", ["auto", "x", "crossed"])
def test_what_a_program_s_decimals_swallow_is_no_stroke_and_spoils_none(line_direction):
    specks = [box(1, 1, 1.00004, 1.00004), box(4, 4, 4.005, 4.005)]
    ring = Point(8, 8).buffer(1, 32).difference(Point(8, 8).buffer(0.7, 32))
    none, some = (
        clear(
            MultiPolygon(parts),
            MultiLineString(lines),
            machine=MACHINE,
            mark_mm=MARK,
            spacing_mm={"x": 0.085, "y": 0.085},
            power=0.3,
            speed_mm_s=20.0,
            line_direction=line_direction,
        )
        for parts, lines in (([], [[(1, 1), (1.00001, 1)]]), ([*specks, ring], []))
    )
    assert len(none.moves) == 0
    assert none.time_one_direction_s == 0
    assert shapely.buffer(ring.difference(swept(some.moves)), -0.002).is_empty


def test_a_ring_whose_last_vertex_is_repeated_is_run_on_as_if_it_were_not():
    turn = np.linspace(0, 2 * np.pi, 33)
    ring = np.column_stack([np.cos(turn), np.sin(turn)])
    ring[-1] = ring[0]
    path = np.vstack([[[3.0, 0.0]], ring])
    again = run_on(np.vstack([path, path[-1:]]), 0.1)
    np.testing.assert_array_equal(again, run_on(path, 0.1))
    assert len(again) == len(path) + 1


def test_parts_are_worth_a_look_while_those_left_take_more_than_3_in_1000():
    """Of 1005.5 s it is 3.0165 s: without the two longest 2.5 s are left, with one of them 5.5."""
    assert choice._worth_a_look(np.array([2.0, 1000.0, 0.5, 3.0]), 1005.5).tolist() == [1, 3]
    assert choice._worth_a_look(np.zeros(2), 0.0).tolist() == []
    # And no more than 20,000 of them.
    assert len(choice._worth_a_look(np.ones(30_000), 30_000.0)) == 20_000
