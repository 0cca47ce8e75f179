"""Whole clearings of shapes that can be reckoned by hand: lines, blanks, travels, times."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, MultiLineString, MultiPolygon, box

from clearing.winch_rows import MACHINE
from stopout.clearing import clear, measure_program
from stopout.clearing.filling.fill import FillRow
from stopout.clearing.one_way import one_way_s
from stopout.clearing.plan import LineBand, _banded
from stopout.clearing.work import Work

MARK, SPACING, SPEED = (0.1, 0.08), {"x": 0.06, "y": 0.075}, 20.0
ACCELERATION, TOP = MACHINE.acceleration_mm_s2, MACHINE.top_speed_mm_s


def cleared(*areas, lines=(), machine=MACHINE, **changes):
    settings = {"mark_mm": MARK, "spacing_mm": SPACING, "power": 0.3, "speed_mm_s": SPEED}
    return clear(
        MultiPolygon(areas), MultiLineString(lines), machine=machine, **(settings | changes)
    )


def runs(moves, kept):
    """(start, end) of moves that are kept."""
    return [(tuple(a), tuple(b)) for a, b, is_kept in zip(
        moves.start_mm, moves.end_mm, kept, strict=True) if is_kept]  # fmt: skip


def from_rest_to_rest_s(length_mm):
    """The trapezoidal profile of kinematics, or the triangle where the top speed is not reached."""
    if length_mm < TOP**2 / ACCELERATION:
        return 2 * math.sqrt(length_mm / ACCELERATION)
    return length_mm / TOP + TOP / ACCELERATION


@pytest.mark.parametrize("along", ["x", "y"])
def test_the_plain_way_takes_its_lines_and_the_ways_back_between_them(along):
    work = Work(
        machine=MACHINE, mark_mm=MARK, spacing_mm=SPACING, power=0.3, speed_mm_s=SPEED, passes=1
    )
    heights, low, high = [3.0, 3.1, 25.0], [4.0, 4.5, 2.0], [24.0, 5.0, 62.0]
    rows = [
        # The second line lies in two rows, each with a blank in it.
        FillRow(index=k, height_mm=height, spans_mm=np.array(spans))
        for k, height, spans in (
            (7, heights[0], [[low[0], high[0]]]),
            (8, heights[1], [[4.5, 4.6]]),
            (8, heights[1], [[4.7, 4.8], [4.9, high[1]]]),
            (30, heights[2], [[low[2], 9.0], [9.5, high[2]]]),
        )
    ]
    run_mm = SPEED**2 / (2 * ACCELERATION)
    expected, at = 0.0, (0.0, 0.0)
    for height, begin, end in zip(heights, low, high, strict=True):
        expected += from_rest_to_rest_s(math.dist(at, (begin - run_mm, height)))
        # Up to speed, along the line, and down to rest.
        expected += SPEED / ACCELERATION + (end - begin) / SPEED + SPEED / ACCELERATION
        at = (end + run_mm, height)
    assert one_way_s(rows, work, 0.0) == pytest.approx(expected, rel=1e-12)
    assert one_way_s([], work, 0.0) == 0.0


@pytest.mark.parametrize("along", ["x", "y"])
def test_lines_of_bands_go_on_by_the_spacing_of_the_band_that_they_lie_in(along):
    """By hand: 0.15, 0.45, 0.75; the second band is passed over; on from 1.05 by 0.1."""
    bands = [
        LineBand(low_mm=low, high_mm=high, spacing_mm=spacing)
        for low, high, spacing in ((0, 1, 0.3), (1, 1.04, 0.005), (1.04, 1.07, 0.3), (1.07, 2, 0.1))
    ]
    work = Work(
        machine=MACHINE, mark_mm=(1, 1), spacing_mm={along: 0.1}, power=0.3, speed_mm_s=9, passes=1
    )
    rows = _banded(work.parts([box(-3, -3, 5, 5)], (along,)), work, bands, along)
    assert [row.height_mm for row in rows] == pytest.approx(
        [0.15, 0.45, 0.75, 1.05, *np.arange(1.35, 2, 0.1)]
    )
    assert [row.index for row in rows] == list(range(len(rows)))


@pytest.mark.parametrize(("gap_mm", "is_passed"), [(0.7, True), (1.2, False)])
def test_a_blank_is_passed_at_speed_up_to_the_way_of_stopping_and_starting(gap_mm, is_passed):
    # To stop and start again takes 2 v^2 / (2 a) each way: 2 v^2 / a = 1 mm between the lines.
    made = cleared(
        box(2, 2, 6, 2.5), box(6 + gap_mm, 2, 10 + gap_mm, 2.5), line_direction="x"
    ).moves
    dark = ~made.rapid & (made.power == 0)
    longest = max(math.dist(a, b) for a, b in runs(made, dark))
    run_mm = SPEED**2 / (2 * ACCELERATION)
    assert (longest > run_mm + 0.01) == is_passed
    assert longest < 2 * SPEED**2 / ACCELERATION + MARK[0] + 0.01


@pytest.mark.parametrize("along", ["x", "y"])
def test_a_rectangle_gets_its_rim_once_and_lines_one_spacing_apart_within(along):
    across = 1 if along == "x" else 0
    area = box(3, 2, 9, 7)
    made = cleared(area, line_direction=along)
    lit = [(np.array(a), np.array(b)) for a, b in runs(made.moves, made.moves.power > 0)]
    rim = sum(
        math.dist(a, b) for a, b in lit if LineString([a, b]).distance(area.exterior) < 1e-6
        and area.exterior.distance(LineString([a, b]).centroid) < 1e-6
    )  # fmt: skip
    # It is closed by going on past its beginning, a mark at the most.
    assert 0 <= rim - area.length <= max(MARK) + 1e-6
    inner = [(a, b) for a, b in lit if area.exterior.distance(LineString([a, b]).centroid) > 1e-3]
    assert all(a[across] == pytest.approx(b[across], abs=1e-9) for a, b in inner)
    heights = np.unique(np.round([a[across] for a, _ in inner], 6))
    assert np.diff(heights) == pytest.approx(SPACING[along], abs=1e-3)
    # Each line is lit once, from rim's mark to rim's mark and no farther.
    length = sum(math.dist(a, b) for a, b in inner) / len(heights)
    side = (6.0, 5.0)[1 - across]
    assert side - 2 * MARK[1 - across] <= length <= side + 1e-6
    # Rim's marks and lines leave no more than a spacing between them.
    low, high = (2.0, 7.0) if along == "x" else (3.0, 9.0)
    for gap in (heights[0] - low, high - heights[-1]):
        assert 0 < gap <= MARK[across] / 2 + SPACING[along] + 1e-6


def test_all_moves_hang_together_and_end_where_they_began():
    made = cleared(
        box(3, 2, 9, 7).difference(box(5, 4, 6, 5)),
        box(12, 2, 13, 3),
        lines=[[(1, 9), (8, 9.5)]],
        passes=2,
        line_direction="crossed",
    ).moves
    assert made.start_mm[0] == pytest.approx([0, 0])
    assert made.end_mm[-1] == pytest.approx([0, 0])
    assert made.start_mm[1:] == pytest.approx(made.end_mm[:-1], abs=1e-9)
    assert (made.power[made.rapid] == 0).all()


def test_a_second_pass_burns_as_much_again_and_costs_as_much():
    def of(passes):
        made = cleared(box(3, 2, 5, 3), passes=passes, line_direction="y")
        lit = sum(math.dist(a, b) for a, b in runs(made.moves, made.moves.power > 0))
        return lit, made.time_one_direction_s, measured_s(made.moves)

    once, twice = of(1), of(2)
    assert twice[0] == pytest.approx(2 * once[0])
    assert twice[1] == pytest.approx(2 * once[1], rel=0.01)
    assert twice[2] == pytest.approx(2 * once[2], rel=0.01)


def measured_s(moves, machine=MACHINE):
    return measure_program(moves, machine=machine, power=0.3, speed_mm_s=SPEED).time_s


def test_an_outlines_speed_is_the_least_of_its_commanded_speeds():
    steady = replace(MACHINE, power_follows_speed=False)
    follows = cleared(box(3, 2, 9, 7), line_direction="x")
    assert follows.outline_speed_mm_s == SPEED
    made = cleared(box(3, 2, 9, 7), machine=steady, line_direction="x")
    edge = box(3, 2, 9, 7).exterior
    slowest = min(
        speed
        for (a, b), speed in zip(
            runs(made.moves, made.moves.power > 0),
            made.moves.speed_mm_s[made.moves.power > 0],
            strict=True,
        )
        if edge.distance(LineString([a, b]).centroid) < 1e-6
    )
    assert made.outline_speed_mm_s == pytest.approx(slowest)
    assert slowest < SPEED
