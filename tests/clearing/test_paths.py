"""Strokes laid into moves, judged by the motion rule re-implemented one vertex at a time."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import LineString, MultiLineString, MultiPolygon, Point, Polygon, box

from clearing.winch_rows import MACHINE, outline_strokes, rows_of
from planning.plain_reading import Step, dose_ratios, runs, vertex_speeds
from shapes import ALL
from stopout.clearing import clear
from stopout.clearing.filling.strokes import (
    edge_stroke,
    line_strokes,
    path_strokes,
    row_stroke,
    turns_around,
)
from stopout.clearing.moving.paths import assemble, outline_speed_mm_s, stroke_times_s
from stopout.clearing.moving.pieces import planned

POWER, SPEED = 0.3, 20.0
STEADY = replace(MACHINE, power_follows_speed=False)
MACHINES = {"power follows speed": MACHINE, "constant power": STEADY}
OUTLINES = {
    "square": box(2, 2, 6, 6),
    "disc": Point(5, 5).buffer(2, quad_segs=128),
    "small disc": Point(5, 5).buffer(0.15, quad_segs=64),
    "small square": box(2, 2, 2.2, 2.2),
    "hairline": box(2, 2, 6, 2.004),
    "rounded square": box(2, 2, 5, 5).buffer(0.11, quad_segs=32),
    "wedge of 15 degrees": Polygon([(1, 1), (6, 1), (6, 1 + 5 * math.tan(math.radians(15)))]),
    "needle of 3 degrees": Polygon([(1, 1), (6, 1), (6, 1 + 5 * math.tan(math.radians(3)))]),
    "star": Polygon(
        [
            (5 + r * math.cos(k * math.pi / 7), 5 + r * math.sin(k * math.pi / 7))
            for k, r in enumerate([2.0, 0.8] * 7)
        ]
    ),
    "glyph": ALL["glyph"],
    "ring": ALL["ring"],
    "zigzag of short chords": Polygon(
        [(1 + 0.05 * k, 1 + 0.05 * (k % 2)) for k in range(60)] + [(4, 3), (1, 3)]
    ),
}


def steps_of(moves):
    """The moves as plain steps."""
    ends = np.vstack([[0.0, 0.0], moves.end_mm])
    return [
        Step(tuple(a), tuple(b), bool(rapid), float(speed), float(power))
        for a, b, rapid, speed, power in zip(
            ends[:-1], ends[1:], moves.rapid, moves.speed_mm_s, moves.power, strict=True
        )
        if math.dist(a, b) > 1e-9
    ]


def outlined(region, machine=MACHINE, **changes):
    settings = {"power": POWER, "speed_mm_s": SPEED} | changes
    return assemble(outline_strokes(region, machine), machine=machine, **settings)


def filled(region, machine=MACHINE, *, along="x", bridge_mm=1.0, speed_mm_s=SPEED):
    strokes = [
        row_stroke(row, is_forward=k % 2 == 0, along=along)
        for k, row in enumerate(rows_of(region, along, bridge_mm=bridge_mm))
    ]
    return assemble(strokes, machine=machine, power=POWER, speed_mm_s=speed_mm_s)


@pytest.mark.parametrize("speed_mm_s", [5.0, 20.0, 60.0])
@pytest.mark.parametrize("region", [ALL["ring"], box(2, 2, 6, 2.2)])
def test_drafted_lines_take_what_the_program_s_do_one_by_one(region, speed_mm_s):
    """Where none of their runs has to be made longer, as here."""
    strokes = [
        row_stroke(row, is_forward=k % 2 == 0, along="x") for k, row in enumerate(rows_of(region))
    ]
    moves = assemble(strokes, machine=MACHINE, power=POWER, speed_mm_s=speed_mm_s)
    took_s = planned(moves, MACHINE).time_s
    *ways, back = np.flatnonzero(moves.rapid)
    whole_s = np.add.reduceat(took_s[:back], ways)
    time_s, travel_s = stroke_times_s(strokes, machine=MACHINE, speed_mm_s=speed_mm_s)
    np.testing.assert_allclose(travel_s, took_s[ways], rtol=1e-9)
    np.testing.assert_allclose(time_s, whole_s - took_s[ways], rtol=1e-9)


@pytest.mark.parametrize("along", ["x", "y"])
@pytest.mark.parametrize("speed_mm_s", [5.0, 20.0, 60.0, 100.0])
def test_the_speed_in_fills_is_the_clearing_speed_wherever_the_beam_is_on(along, speed_mm_s):
    steps = steps_of(filled(ALL["ring"], along=along, speed_mm_s=speed_mm_s))
    v = vertex_speeds(steps, MACHINE)
    on = [k for k, step in enumerate(steps) if step.is_on]
    assert on
    for k in on:
        assert v[k] == pytest.approx(speed_mm_s, rel=1e-9)
        assert v[k + 1] == pytest.approx(speed_mm_s, rel=1e-9)
        assert steps[k].power == POWER


def test_the_beam_is_off_in_the_gaps_of_a_row_and_keeps_its_pace_there():
    pair = box(1, 1, 3, 2).union(box(3.4, 1, 5, 2))
    steps = steps_of(filled(pair))
    v = vertex_speeds(steps, MACHINE)
    gaps = [
        k
        for k, step in enumerate(steps)
        if not step.is_travel
        and min(step.a[0], step.b[0]) > 2.9
        and max(step.a[0], step.b[0]) < 3.5
    ]
    assert len(gaps) == len({step.a[1] for step in steps if step.is_on})
    for k in gaps:
        assert steps[k].power == 0
        assert v[k] == v[k + 1] == pytest.approx(SPEED)


def test_runs_up_and_out_are_straight_on_dark_and_no_longer_than_from_rest():
    """v^2 / 2a from rest; between lines less, since the turn there is not taken at rest.

    Of at most 0.45 v: taken up from rest instead, a line then begins at 0.893 v.
    """
    most = SPEED**2 / (2 * MACHINE.acceleration_mm_s2)
    steps = steps_of(filled(box(2, 2, 6, 4)))
    found = runs(steps)
    for k, run in enumerate(found):
        before = steps[steps.index(run[0]) - 1]
        after = steps[steps.index(run[-1]) + 1]
        for dark, lit in ((before, run[0]), (after, run[-1])):
            assert dark.power == 0
            assert not dark.is_travel
            assert (1 - 0.45**2) * most <= dark.length <= most + 0.005
            assert math.remainder(dark.heading - lit.heading, 2 * math.pi) == pytest.approx(
                0, abs=1e-3
            )
        if k == 0:
            assert before.length >= most
        if k == len(found) - 1:
            assert after.length >= most


def test_an_outline_is_entered_slowly_and_its_power_with_it():
    """A full run-up would only cost time; 0.3 of the clearing speed is ours."""
    steps = steps_of(outlined(Point(5, 5).buffer(3, quad_segs=256)))
    v = vertex_speeds(steps, MACHINE)
    (run,) = runs(steps)
    first, last = steps.index(run[0]), steps.index(run[-1])
    assert v[first] == pytest.approx(0.3 * SPEED, rel=0.01)
    assert v[last + 1] == pytest.approx(0.3 * SPEED, rel=0.01)
    assert max(v) == pytest.approx(SPEED)
    assert run[0].power < 0.4 * POWER


@pytest.mark.parametrize("name", sorted(OUTLINES))
@pytest.mark.parametrize("kind", sorted(MACHINES))
def test_the_dose_on_an_outline_stays_within_15_percent(name, kind):
    machine = MACHINES[kind]
    steps = steps_of(outlined(OUTLINES[name], machine))
    least, most = dose_ratios(steps, machine, power=POWER, speed=SPEED)
    assert most <= 1.15
    # Too little would leave paint: nor may it fall by as much.
    assert least >= 1 / 1.15


@pytest.mark.parametrize("speed_mm_s", [5.0, 20.0, 60.0])
@pytest.mark.parametrize("cornering", [0.002, 0.01, 0.05])
@pytest.mark.parametrize("kind", sorted(MACHINES))
def test_the_dose_stays_even_at_other_speeds_and_cornerings(kind, cornering, speed_mm_s):
    machine = replace(MACHINES[kind], cornering_mm=cornering)
    region = MultiPolygon([OUTLINES["square"], Polygon([(8, 2), (11, 2), (11, 5)])])
    steps = steps_of(outlined(region, machine, speed_mm_s=speed_mm_s))
    least, most = dose_ratios(steps, machine, power=POWER, speed=speed_mm_s)
    assert most <= 1.15
    assert least >= 1 / 1.15


def test_constant_power_without_slowing_would_overdose_a_square_corner():
    """Why outlines need it: 4.4 of 20 mm/s at a right angle (motion rule) is 4.6 times the dose."""
    (edge,) = outline_strokes(box(2, 2, 6, 6), MACHINE)
    as_line = replace(edge, is_fill=True)
    moves = assemble([as_line], machine=MACHINE, power=POWER, speed_mm_s=SPEED)
    _, most = dose_ratios(steps_of(moves), MACHINE, power=POWER, speed=SPEED)
    assert most == pytest.approx(SPEED / 4.39, rel=0.01)


def test_with_constant_power_each_outline_has_one_power_scaled_with_its_speed():
    steps = steps_of(outlined(box(2, 2, 6, 6), STEADY))
    lit = [step for step in steps if step.is_on]
    assert len({step.power for step in lit}) == 1
    assert lit[0].power / lit[0].speed == pytest.approx(POWER / SPEED)
    stroke = outline_strokes(box(2, 2, 6, 6), STEADY)[0]
    assert outline_speed_mm_s(stroke, STEADY, SPEED) == pytest.approx(4.39, abs=0.01)
    assert lit[0].speed == pytest.approx(4.39, abs=0.01)


def test_the_corner_in_which_an_outline_begins_counts_as_any_other():
    """A drop whose one corner is its beginning, or lies half way round."""
    drop = shapely.convex_hull(Point(0, 0) | Point(5, 0).buffer(2, quad_segs=64))
    loop = shapely.get_coordinates(drop)[:-1]
    tip = int(np.argmin(loop[:, 0]))
    rolled = [np.roll(loop, -k, axis=0) for k in (tip, tip - len(loop) // 2)]
    speeds = [
        outline_speed_mm_s(edge_stroke(np.vstack([way, way[:1]])), STEADY, SPEED) for way in rolled
    ]
    assert speeds[0] == pytest.approx(speeds[1])
    assert speeds[0] < SPEED / 4


def test_no_power_exceeds_full_power():
    moves = outlined(box(2, 2, 6, 6), power=1.0)
    assert moves.power.max() <= 1.0


@pytest.mark.parametrize("kind", sorted(MACHINES))
@pytest.mark.parametrize("name", sorted(OUTLINES))
def test_an_outline_is_followed_whole_within_a_micrometre(name, kind):
    region = OUTLINES[name]
    steps = steps_of(outlined(region, MACHINES[kind]))
    path = shapely.union_all([LineString([step.a, step.b]) for step in steps if step.is_on])
    assert path.length == pytest.approx(region.boundary.length, rel=0.002)
    assert shapely.hausdorff_distance(path, region.boundary, densify=0.05) <= 0.001


@pytest.mark.parametrize("passes", [2, 3])
def test_passes_repeat_the_whole_work_as_it_was(passes):
    region = MultiPolygon([OUTLINES["square"]])
    lines = MultiLineString([[(8, 1), (8, 4)]])
    settings = {
        "machine": MACHINE,
        "mark_mm": (0.1, 0.1),
        "spacing_mm": {"x": 0.0875, "y": 0.0875},
        "power": POWER,
        "speed_mm_s": SPEED,
    }
    once = runs(steps_of(clear(region, lines, **settings).moves))
    more = runs(steps_of(clear(region, lines, passes=passes, **settings).moves))

    def worked(found):
        return [(run[0].a, run[-1].b, round(sum(step.length for step in run), 3)) for run in found]

    assert worked(more) == worked(once) * passes


def test_crossed_lines_run_both_ways_and_each_way_clears_all():
    region = MultiPolygon([box(2, 2, 6, 5)])
    run = clear(
        region,
        MultiLineString(),
        machine=MACHINE,
        mark_mm=(0.1, 0.07),
        spacing_mm={"x": 0.05, "y": 0.075},
        power=POWER,
        speed_mm_s=SPEED,
        line_direction="crossed",
    )
    assert run.line_direction == "crossed"
    lines = [found[0] for found in runs(steps_of(run.moves)) if len(found) == 1]
    flat = {round(step.a[1], 4) for step in lines if step.a[1] == step.b[1]}
    upright = {round(step.a[0], 4) for step in lines if step.a[0] == step.b[0]}
    assert np.diff(sorted(flat)) == pytest.approx(0.05, abs=2e-4)
    assert np.diff(sorted(upright)) == pytest.approx(0.075, abs=2e-4)
    assert len(flat) == pytest.approx(3 / 0.05, abs=2)
    assert len(upright) == pytest.approx(4 / 0.075, abs=2)


def test_auto_keeps_the_quicker_direction():
    settings = {
        "machine": MACHINE,
        "mark_mm": (0.1, 0.1),
        "spacing_mm": {"x": 0.0875, "y": 0.0875},
        "power": POWER,
        "speed_mm_s": SPEED,
    }
    for region, quicker in ((box(2, 2, 22, 4), "x"), (box(2, 2, 4, 22), "y")):
        run = clear(MultiPolygon([region]), MultiLineString(), **settings)
        assert run.line_direction == quicker
        assert run.other_time_s is not None


def test_a_line_alone_is_followed_from_end_to_end_with_the_beam_on():
    moves = assemble(
        line_strokes(MultiLineString([[(2, 2), (5, 2), (5, 4)]]), MACHINE),
        machine=MACHINE,
        power=POWER,
        speed_mm_s=SPEED,
    )
    lit = [step for step in steps_of(moves) if step.is_on]
    assert lit[0].a == (2, 2)
    assert lit[-1].b == (5, 4)
    assert sum(step.length for step in lit) == pytest.approx(5)


def test_nothing_to_clear_makes_no_moves():
    assert len(assemble([], machine=MACHINE, power=POWER, speed_mm_s=SPEED)) == 0
    assert len(outlined(Polygon())) == 0


@pytest.mark.parametrize("kind", sorted(MACHINES))
def test_the_same_strokes_give_the_same_moves(kind):
    one, other = (
        outlined(OUTLINES["star"], MACHINES[kind]),
        outlined(OUTLINES["star"], MACHINES[kind]),
    )
    for name in ("x_mm", "y_mm", "rapid", "speed_mm_s", "power"):
        assert np.array_equal(getattr(one, name), getattr(other, name))


def test_runs_are_commanded_at_the_speed_at_which_an_edge_is_entered_and_left():
    """At 0.3 of the clearing speed (our own), or what is reached 5 um behind a right angle.

    That is passed at 4.39 mm/s, and v^2 = 4.39^2 + 2 a s.
    """
    moves = assemble(
        line_strokes(MultiLineString([[(2, 2), (9, 2), (9, 2.005)]]), MACHINE),
        machine=MACHINE,
        power=POWER,
        speed_mm_s=SPEED,
    )
    lit = np.flatnonzero(moves.power > 0)
    begin, end = moves.speed_mm_s[[lit[0] - 1, lit[-1] + 1]]
    assert begin == pytest.approx(0.3 * SPEED)
    assert end == pytest.approx(math.hypot(4.39, math.sqrt(2 * 800 * 0.005)), abs=0.02)


def test_paths_together_turn_as_each_does_alone():
    """Also beside paths of one vertex or two, which turn nowhere."""
    square = np.array([(0, 0), (2, 0), (2, 2), (0, 2), (0, 0)], dtype=float)
    ways = [square[:1], square, square[2:3], square[:2], square[:4], square[1:2]]
    bounds = np.cumsum([0, *map(len, ways)])
    turn, at = turns_around(np.concatenate(ways), bounds)
    assert turn == pytest.approx(np.full(len(turn), np.pi / 2))
    # The inner vertices, and the first of the square.
    assert at.tolist() == [2, 3, 4, 10, 11, 1]


@pytest.mark.parametrize(
    ("path", "strokes"),
    [
        # A hook is left at its end and entered again from there.
        ([(0, 0), (5, 0), (2, 0)], [[(0, 0), (5, 0)], [(5, 0), (2, 0)]]),
        # There and back, wherever it is said to begin.
        ([(0, 0), (5, 0), (0, 0)], [[(5, 0), (0, 0)], [(0, 0), (5, 0)]]),
        # A needle of 0.1 degrees is run from its tip to its tip.
        (
            [(5, 0.005), (0, 0), (5, -0.005), (5, 0.005)],
            [[(0, 0), (5, -0.005), (5, 0.005), (0, 0)]],
        ),
        # A square corner is none of these.
        ([(0, 0), (5, 0), (5, 5)], [[(0, 0), (5, 0), (5, 5)]]),
    ],
)
def test_a_path_is_parted_only_where_it_turns_back(path, strokes):
    machine = replace(MACHINE, step_mm=0.001)
    (found,) = path_strokes([[np.array(path, dtype=float)]], machine)
    assert [[tuple(xy) for xy in stroke.points_mm.tolist()] for stroke in found] == strokes
