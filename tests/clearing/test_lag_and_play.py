"""A late beam and play in the drive: corrected paths, held against a machine stepped in time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, box

from clearing.winch_rows import MACHINE
from program.winch_machine import machine, moves
from stopout.clearing import as_run, clear, plan_speeds
from stopout.clearing.moving.as_run import _places_at
from stopout.clearing.moving.lead import offset_for_play
from stopout.outcome import sweep
from stopout.program import prove, read_program, write_program

LATE = replace(MACHINE, beam_lag_s=(0.0004, 0.0004))
LOOSE = replace(MACHINE, play_mm=(0.02, 0.02))
BOTH = replace(MACHINE, beam_lag_s=(0.0004, 0.0004), play_mm=(0.02, 0.012))
MARK = (0.1, 0.1)
TURNED_S = 2e-5


@pytest.mark.parametrize(("play", "piece"), [((0.02, 0.01), 0.02), ((0.005, 0.001), 0.0125)])
@pytest.mark.parametrize("more", [-1e-3, 1e-3])
def test_play_is_taken_up_in_a_first_piece_of_lines_twice_as_long(play, piece, more):
    """The piece is as long as the play, or a motor step of 0.0125 mm; ends lie half the play on."""
    length = 2 * piece + more
    rows = [
        (10, 5, True, 100, 0.0),
        (10 - length, 5, False, 20, 0.3),
        (10 - length, 6, False, 20, 0.3),
        (10 - length, 6 - length, False, 20, 0.3),
        (0, 0, True, 100, 0.0),
    ]
    made, same = offset_for_play(moves(*rows), machine(play_mm=play))
    is_cut = more > 0
    assert same.tolist() == ([0, 1, 1, 2, 3, 3, 4] if is_cut else [0, 1, 2, 3, 4])
    half_x, half_y = play[0] / 2, play[1] / 2
    first, turned = made.end_mm[0], made.end_mm[1 + is_cut]
    np.testing.assert_allclose(first, [10 + half_x, 5 + half_y], atol=6e-5)
    np.testing.assert_allclose(turned, [10 - length - half_x, 5 + half_y], atol=6e-5)
    if is_cut:
        np.testing.assert_allclose(made.end_mm[1], [10 - piece - half_x, 5 + half_y], atol=6e-5)
        np.testing.assert_allclose(made.end_mm[4][1], 6 - piece - half_y, atol=6e-5)
    # Home is home.
    assert made.end_mm[-1].tolist() == [0, 0]


@pytest.mark.parametrize("flip", [(-1, 1), (1, -1), (-1, -1)])
def test_a_mirrored_program_is_run_by_the_mirrored_head(flip):
    """Play has no side: also on a slanting line, where the head breaks away from the command's."""
    rows = moves(
        (3, 2, True, 100, 0.0),
        (3.5, 2.3, False, 20, 0.3),
        (3.1, 2.9, False, 20, 0.3),
        (2.8, 2.7, False, 20, 0.3),
        (3.3, 2.6, False, 20, 0.3),
    )
    over = replace(rows, x_mm=flip[0] * rows.x_mm, y_mm=flip[1] * rows.y_mm)
    loose = machine(play_mm=(0.02, 0.012))
    run, mirrored = as_run(rows, loose), as_run(over, loose)
    assert len(run) > len(rows), "an axis comes late within a move"
    np.testing.assert_allclose(mirrored.end_mm, run.end_mm * flip, atol=1e-12)


def test_without_play_nothing_moves():
    rows = moves((10, 5, True, 100, 0.0), (5, 5, False, 20, 0.3))
    for play in (None, (0.0, 0.0)):
        made, _ = offset_for_play(rows, machine(play_mm=play))
        assert made is rows


def program(machine, region=None, lines=(), along="x", speed=20.0):
    run = clear(
        MultiPolygon([box(4, 4, 7, 6)] if region is None else region),
        MultiLineString(list(lines)),
        machine=machine,
        mark_mm=MARK,
        spacing_mm={"x": 0.075, "y": 0.075},
        power=0.3,
        speed_mm_s=speed,
        line_direction=along,
    )
    text = write_program(run.moves, machine=machine, title=[])
    return read_program(text, machine=machine)


def stepped(moves, machine):
    """Where the head is and whether it is lit, every 20 us: a machine of the test's own.

    The speeds along the path are the motion model's; lag, play and all places are stepped here.
    """
    profile = plan_speeds(
        moves, acceleration_mm_s2=machine.acceleration_mm_s2, cornering_mm=machine.cornering_mm
    )
    places, wanted = [], []
    a = machine.acceleration_mm_s2
    for k in range(len(moves)):
        n = max(2, int(profile.time_s[k] / TURNED_S))
        t = np.linspace(0, profile.time_s[k], n, endpoint=False)
        v0, top = profile.vertex_mm_s[k], profile.peak_mm_s[k]
        v1 = profile.vertex_mm_s[k + 1]
        v = np.minimum(np.minimum(v0 + a * t, v1 + a * (profile.time_s[k] - t)), top)
        s = np.concatenate([[0], np.cumsum((v[1:] + v[:-1]) / 2 * np.diff(t))])
        share = s / max(moves.length_mm[k], 1e-12)
        places.append(moves.start_mm[k] + share[:, None] * (moves.end_mm[k] - moves.start_mm[k]))
        wanted.append(np.column_stack([t + profile.time_s[:k].sum(), np.full(n, moves.power[k])]))
    command = np.vstack(places)
    clock, power = np.vstack(wanted).T
    late = max(machine.beam_lag_s or (0.0,))
    lit = np.interp(clock - late, clock, power > 0) > 0.5
    head = command.copy()
    for axis, play in enumerate(machine.play_mm or ()):
        at = 0.0
        for k, c in enumerate(command[:, axis].tolist()):
            at = min(max(at, c - play / 2), c + play / 2)
            head[k, axis] = at
    return head, lit


def row_ends(head, lit, axis=0):
    """Right (upper) ends of lit stretches along x (y), apart for the two ways of travel."""
    edges = np.flatnonzero(np.diff(lit.astype(int)))
    ends = {1: [], -1: []}
    for begin, end in zip(edges[:-1:2], edges[1::2], strict=False):
        run = head[end] - head[begin + 1]
        if abs(run[axis]) > 2.0 and abs(run[1 - axis]) < 1e-6:
            ends[int(np.sign(run[axis]))].append(max(head[end][axis], head[begin + 1][axis]))
    return ends


@pytest.mark.parametrize(("along", "axis"), [("x", 0), ("y", 1)])
@pytest.mark.parametrize("machine", [LATE, LOOSE, BOTH], ids=["late", "loose", "both"])
def test_edges_of_lines_to_and_fro_agree_within_3_um_where_they_stood_16_or_more_apart(
    machine, along, axis
):
    plain = replace(machine, beam_lag_s=None, play_mm=None)
    # 26 rows, just longer than those that are looked at.
    wide = [box(4, 4, 6.2, 6) if along == "x" else box(4, 4, 6, 6.2)]
    before = row_ends(*stepped(program(plain, wide, along=along), machine), axis)
    after = row_ends(*stepped(program(machine, wide, along=along), machine), axis)
    apart = abs(np.median(before[1]) - np.median(before[-1]))
    # A late beam shifts lines forwards, play keeps them back: 16 um, 20 um, and the difference.
    late, play = (machine.beam_lag_s or (0, 0))[0], (machine.play_mm or (0, 0))[axis]
    assert apart == pytest.approx(abs(2 * 20 * late - play), abs=0.001)
    assert len(after[1]) > 10
    assert abs(np.median(after[1]) - np.median(after[-1])) < 0.003
    assert np.ptp(after[1] + after[-1]) < 0.003


@pytest.mark.parametrize("machine", [LATE, LOOSE, BOTH], ids=["late", "loose", "both"])
def test_the_prediction_puts_the_head_where_the_stepped_machine_has_it(machine):
    region = [box(4, 4, 6, 5), Point(8, 5).buffer(0.4)]
    moves = program(machine, region, lines=[[(2, 2), (3, 2.5)]])
    head, lit = stepped(moves, machine)
    made = as_run(moves, machine)
    on = made.power > 0
    segments = [
        LineString([a, b])
        for a, b in zip(made.start_mm[on], made.end_mm[on], strict=True)
        if not np.array_equal(a, b)
    ]
    drawn = shapely.union_all(segments)
    far = shapely.distance(shapely.points(head[lit][::7]), drawn)
    assert far.max() < 0.002
    seen = shapely.STRtree(shapely.points(head[lit]))
    along = np.vstack(
        [shapely.get_coordinates(s.interpolate(0.5, normalized=True)) for s in segments]
    )
    _, missed = seen.query_nearest(shapely.points(along), return_distance=True, all_matches=False)
    assert missed.max() < 0.002


@pytest.mark.parametrize("machine", [LATE, LOOSE, BOTH], ids=["late", "loose", "both"])
def test_what_the_corrected_program_clears_is_what_was_wanted(machine):
    region = [box(4, 4, 6, 5), Point(8, 5).buffer(0.4)]
    lines = [[(2, 2), (3, 2.5)], [(2, 3), (3, 3)]]
    wanted = sweep(program(MACHINE, region, lines), MARK)
    plain = replace(machine, beam_lag_s=None, play_mm=None)
    raw = sweep(as_run(program(plain, region, lines), machine), MARK)
    made = sweep(as_run(program(machine, region, lines), machine), MARK)
    rim, missed = wanted.boundary, raw.boundary
    off = shapely.hausdorff_distance(made.boundary, rim, densify=0.02)
    assert off < 0.003
    if machine.play_mm is not None:
        assert shapely.hausdorff_distance(missed, rim, densify=0.02) > 0.004


def test_an_exact_machine_keeps_its_programs_and_a_corrected_one_is_proven():
    exact = program(MACHINE)
    none = program(replace(MACHINE, beam_lag_s=(0.0, 0.0), play_mm=(0.0, 0.0)))
    assert np.array_equal(exact.end_mm, none.end_mm)
    assert as_run(exact, MACHINE) is exact
    assert prove(program(BOTH), machine=BOTH, blank_at_mm=(30, 30)) == ()


def test_the_head_is_where_its_speed_summed_over_time_takes_it():
    """v(t) is the least of v0 + a t, the top, and v1 + a (T - t) within each move."""
    rows = moves(
        (5, 0, True, 100, 0.0),
        (5.2, 0.1, False, 20, 0.3),
        (5.2, 0.4, False, 60, 0.3),
        (9, 0.5, False, 60, 0.3),
        (9.01, 3, False, 30, 0.3),
    )
    a = MACHINE.acceleration_mm_s2
    profile = plan_speeds(rows, acceleration_mm_s2=a, cornering_mm=MACHINE.cornering_mm)
    begun = np.append(0.0, np.cumsum(profile.time_s))
    done = np.append(0.0, np.cumsum(rows.length_mm))
    for k, whole in enumerate(profile.time_s):
        t = np.linspace(0, whole, 4001)[:-1]
        v = np.minimum(profile.vertex_mm_s[k] + a * t, profile.vertex_mm_s[k + 1] + a * (whole - t))
        v = np.minimum(v, profile.peak_mm_s[k])
        due = done[k] + np.append(0.0, np.cumsum((v[1:] + v[:-1]) / 2)) * (t[1] - t[0])
        found = _places_at(begun[k] + t, rows, profile, begun, a)
        np.testing.assert_allclose(found, due, atol=1e-4)


def test_each_switch_comes_late_by_the_lag_along_its_own_lit_move():
    """Both corners are passed at 4.39 mm/s: 4.39 t + 400 t^2 = 0.248 mm in 0.02 s, the lag along y.

    Along x it would be 0.084 mm in 0.01 s.
    """
    late = replace(MACHINE, beam_lag_s=(0.01, 0.02))
    rows = moves(
        (5, 0, True, 60, 0.0),
        (5, 10, False, 60, 0.3),
        (0, 10, True, 60, 0.0),
    )
    run = as_run(rows, late)
    lit = np.flatnonzero(run.power > 0)
    np.testing.assert_allclose(run.start_mm[lit[0]], [5, 0.248], atol=2e-3)
    np.testing.assert_allclose(run.end_mm[lit[-1]], [5 - 0.248, 10], atol=2e-3)


def test_a_late_beam_keeps_the_power_of_its_move_and_is_strongest_beyond_the_last():
    """Lit for 0.02 s more: 0.4 mm on at 20 mm/s, or to where the program ends before that."""
    late = replace(MACHINE, beam_lag_s=(0.02, 0.02))
    for onward in (3.0, 0.1):
        rows = moves(
            (5, 0, True, 100, 0.0),
            (6, 0, False, 20, 0.0),
            (8, 0, False, 20, 0.2),
            (9, 0, False, 20, 0.3),
            (12, 0, False, 20, 0.25),
            (12 + onward, 0, False, 20, 0.0),
        )
        run = as_run(rows, late)
        ends = dict(zip(run.x_mm.round(3).tolist(), run.power, strict=True))
        due = {6: 0, 6.4: 0, 8: 0.2, 9: 0.3, 12: 0.25}
        due |= {12.4: 0.3, 15: 0} if onward == 3 else {12.1: 0.3}
        assert {x: ends[x] for x in due} == due


def test_an_axis_that_has_not_moved_has_not_turned_round():
    rows = moves((10, 0, True, 100, 0.0), (20, 0, False, 20, 0.3), (30, 0, False, 20, 0.3))
    _, same = offset_for_play(rows, machine(play_mm=(0.02, 0.02)))
    assert same.tolist() == [0, 1, 2]
