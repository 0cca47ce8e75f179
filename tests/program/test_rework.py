"""Part of a program once more: by a box, and from a line on.

Checked against closed forms of the trapezoidal profile (v^2 = 2 a d), against the length of line
strings clipped by the reference library shapely, and against the program's own first run.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from effort import tries
from program.winch_machine import ROW, machine, moves
from stopout.clearing import clear, plan_speeds
from stopout.errors import ProgramError
from stopout.program import (
    first_move_at,
    moves_from_line,
    moves_in_box,
    passages_at,
    prove_text,
    read_program,
    write_program,
)

MACHINE = machine()
# v^2 / 2a at 20 mm/s and 800 mm/s^2, and the 2 um that runs are longer.
RUN = 0.252


def boxed(rows, box, **changes):
    made = machine(**changes)
    return write_program(moves_in_box(moves(*rows), box, machine=made), machine=made, title=[])


def lit_segments(program):
    """(n, 4) of the beam-on moves: from, to."""
    on = (program.power > 0) & (program.length_mm > 0)
    return np.hstack([program.start_mm[on], program.end_mm[on]])


def lit_length(program):
    return float(program.length_mm[program.power > 0].sum())


def lines_of(segments):
    return shapely.linestrings(segments.reshape(-1, 2, 2))


def read(rows, **changes):
    made = machine(**changes)
    return read_program(write_program(moves(*rows), machine=made, title=[]), machine=made)


# --- a box --------------------------------------------------------------------------------------


def test_a_row_is_clipped_to_the_box_with_its_runs_and_nothing_else():
    assert boxed(ROW, (15, 0, 25, 10)).splitlines() == [
        "G21 G90",
        "M3 S0",
        "G0 X14.7480 Y5.0000 S0",
        "G1 X15.0000 Y5.0000 F1200 S0",
        "G1 X25.0000 Y5.0000 S300",
        "G1 X25.2520 Y5.0000 S0",
        "G0 X0.0000 Y0.0000 S0",
        "M5",
    ]


def test_a_row_that_runs_back_keeps_its_direction():
    back = [(50 - x, y, rapid, speed, power) for x, y, rapid, speed, power in ROW]
    lines = boxed(back, (15, 0, 25, 10)).splitlines()
    assert lines[2:6] == [
        "G0 X25.2520 Y5.0000 S0",
        "G1 X25.0000 Y5.0000 F1200 S0",
        "G1 X15.0000 Y5.0000 S300",
        "G1 X14.7480 Y5.0000 S0",
    ]


def test_the_whole_box_gives_the_program_back_with_full_runs():
    again = moves_in_box(moves(*ROW), (0, 0, 50, 50), machine=MACHINE)
    # ROW's own runs are 0.3 mm; a run is never longer than it must be.
    assert again.x_mm.tolist() == [9.748, 10.0, 40.0, 40.252]
    assert again.power.tolist() == [0.0, 0.0, 0.3, 0.0]


def test_a_run_goes_straight_on_where_the_path_has_none():
    rows = [(10, 5, True, 100, 0), (12, 5, False, 20, 0.3), (12, 8, False, 20, 0.3)]
    again = moves_in_box(moves(*rows), (0, 0, 50, 50), machine=MACHINE)
    assert again.end_mm.tolist() == [
        [9.748, 5],
        [10, 5],
        [12, 5],
        [12, 8],
        [12, 8.252],
    ]
    assert again.power.tolist() == [0, 0, 0.3, 0.3, 0]


def test_pieces_of_one_row_with_a_short_gap_stay_on_one_stroke_and_with_a_long_one_do_not():
    def row(gap):
        return [
            (9.7, 5, True, 100, 0),
            (10, 5, False, 20, 0),
            (20, 5, False, 20, 0.3),
            (20 + gap, 5, False, 20, 0),
            (30 + gap, 5, False, 20, 0.3),
            (30.3 + gap, 5, False, 20, 0),
        ]

    box = (15, 0, 25, 10)
    assert moves_in_box(moves(*row(0.9)), box, machine=MACHINE).rapid.sum() == 1
    # Runs of 0.252 mm on both sides and two more between them: 1.008 mm are bridged.
    assert moves_in_box(moves(*row(1.007)), box, machine=MACHINE).rapid.sum() == 1
    assert moves_in_box(moves(*row(1.009)), box, machine=MACHINE).rapid.sum() == 2
    assert moves_in_box(moves(*row(3.0)), box, machine=MACHINE).rapid.sum() == 2


def test_rows_along_the_border_of_the_box_belong_to_it():
    again = moves_in_box(moves(*ROW), (15, 5, 25, 10), machine=MACHINE)
    assert lit_length(again) == pytest.approx(10, abs=1e-9)


def test_a_piece_before_a_corner_has_the_speed_it_had_the_first_time():
    # Design 3.6: at a right angle v^2 = a c s / (1 - s), s = sin 45 deg: 4.39 mm/s here; 0.1 mm
    # before it v^2 is 2 a 0.1 more. A run straight on would pass there at 20 mm/s.
    rows = [
        (4.7, 5, True, 100, 0),
        (5, 5, False, 20, 0),
        (10, 5, False, 20, 0.3),
        (10, 10, False, 20, 0.3),
        (10, 10.3, False, 20, 0),
    ]
    again = moves_in_box(moves(*rows), (6, 0, 9.9, 20), machine=MACHINE)
    profile = plan_speeds(again, acceleration_mm_s2=800, cornering_mm=0.01)
    end = int(np.flatnonzero(again.power > 0)[-1])
    s = np.sin(np.pi / 4)
    expected = np.sqrt(800 * 0.01 * s / (1 - s) + 2 * 800 * 0.1)
    assert profile.vertex_mm_s[end + 1] == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("turn", [0.1, 0.3, 0.6, 1.0])
@pytest.mark.parametrize("left", [0.0, 0.05, 0.2])
def test_a_piece_ends_at_the_speed_of_the_first_time_whatever_bend_is_ahead(turn, left):
    """A vertex slows the machine by its turn and by the chords beside it."""
    ahead = (10 + 9 * math.cos(turn), 5 + 9 * math.sin(turn))
    rows = [(0, 5, True, 100, 0), (0.3, 5, False, 20, 0), (10 - left, 5, False, 20, 0.3)]
    rows += [(10, 5, False, 20, 0.3)] * (left > 0) + [(*ahead, False, 20, 0.3)]
    whole = moves(*rows)
    again = moves_in_box(whole, (3, 0, 10 - left, 5), machine=MACHINE)
    limits = {"acceleration_mm_s2": 800, "cornering_mm": 0.01}
    end = int(np.flatnonzero(again.power > 0)[-1])
    assert again.x_mm[end] == pytest.approx(10 - left)
    speed = plan_speeds(again, **limits).vertex_mm_s[end + 1]
    assert speed == pytest.approx(plan_speeds(whole, **limits).vertex_mm_s[3], rel=1e-3)


@pytest.mark.parametrize("turn", [0.0, 0.2, 0.3, 1.5])
@pytest.mark.parametrize("chord", [0.05, 0.3, 0.8, 3.0])
@pytest.mark.parametrize("left", [0.0, 0.1, 0.5])
def test_the_path_run_backwards_is_cleared_again_backwards(turn, chord, left):
    """What leads to a piece and what follows it obey one rule: time may run either way."""
    bend = np.array([math.cos(turn), math.sin(turn)])
    path = np.array(
        [[0, 0], [1, 0], [10, 0], [10, 0] + chord * bend, [10 + 9 * math.cos(2 * turn), 9]]
    )
    found = []
    for points in (path, path[::-1]):
        lit = [0, 0.3, 0.3, 0.3] if points is path else [0.3, 0.3, 0.3, 0]
        rows = [(*points[0], True, 100, 0)]
        rows += [(*at, False, 20, power) for at, power in zip(points[1:], lit, strict=True)]
        again = moves_in_box(moves(*rows), (3, -1, 10 - left, 1e-6), machine=MACHINE)
        found.append((again.end_mm, again.power))
    (there, power), (back, power_back) = found
    np.testing.assert_allclose(there, back[::-1], atol=2e-4)
    np.testing.assert_allclose(power[1:], power_back[:0:-1])


@pytest.fixture(scope="module")
def badge():
    """Fill and outlines of a star and a ring, power following the speed."""
    angle = np.arange(10) * np.pi / 5
    radius = np.where(np.arange(10) % 2, 1.5, 4.0)
    star = shapely.Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)]) + 6)
    ring = shapely.Point(16, 6).buffer(4).difference(shapely.Point(16, 6).buffer(3))
    run = clear(
        shapely.MultiPolygon([star, ring]),
        shapely.MultiLineString(),
        machine=MACHINE,
        mark_mm=(0.10, 0.07),
        spacing_mm={"x": 0.2, "y": 0.2},
        power=0.3,
        speed_mm_s=20.0,
    )
    text = write_program(run.moves, machine=MACHINE, title=["Valve tag"])
    return text, read_program(text, machine=MACHINE)


def doses(program):
    """Least and largest line dose of each beam-on move, as multiples of the intended one."""
    profile = plan_speeds(program, acceleration_mm_s2=800, cornering_mm=0.01)
    on = program.power > 0
    slow = np.minimum(profile.vertex_mm_s[:-1], profile.vertex_mm_s[1:])[on]
    return program.power[on] / profile.peak_mm_s[on] / 0.015, program.power[on] / slow / 0.015


@pytest.mark.parametrize(
    "box", [(0, 0, 20, 12), (2, 2, 6, 6.3), (5, 5, 13, 7), (12.5, 3, 16, 9), (7.1, 0, 8.3, 12)]
)
def test_no_piece_gets_less_dose_than_the_first_time(badge, box):
    _, whole = badge
    again = moves_in_box(whole, box, machine=MACHINE)
    least, most = doses(whole)
    again_least, again_most = doses(again)
    assert again_least.min() > least.min() - 0.01
    # Chords cut short beside a vertex let the machine slow down there a little.
    assert again_most.max() < most.max() * 1.06


def test_the_badge_is_proven_in_any_box(badge):
    _, whole = badge
    for box in [(0, 0, 20, 12), (5, 5, 13, 7)]:
        text = write_program(moves_in_box(whole, box, machine=MACHINE), machine=MACHINE, title=[])
        assert prove_text(text, machine=MACHINE, blank_at_mm=(30, 30)) == ()


place = st.integers(-200, 200).map(lambda k: 20 + k / 10)
point = st.tuples(place, place)
power = st.sampled_from([0.0, 0.1, 0.3])
chord = st.tuples(point, power)


def _program(strokes):
    rows = []
    for begin, chords in strokes:
        rows.append((*begin, True, 100.0, 0.0))
        rows += [(*at, False, 20.0, strength) for at, strength in chords]
    return rows


programs = st.lists(st.tuples(point, st.lists(chord, min_size=1, max_size=6)), max_size=6).map(
    _program
)


@settings(max_examples=tries(150), deadline=None)
@given(programs, st.tuples(place, place), st.tuples(st.floats(0.5, 30), st.floats(0.5, 30)))
def test_what_is_lit_in_the_box_is_what_was_lit_there_before(rows, low, size):
    box = (*low, low[0] + size[0], low[1] + size[1])
    whole = moves(*rows)
    clipped = shapely.intersection(lines_of(lit_segments(whole)), shapely.box(*box))
    expected = float(shapely.length(clipped).sum())
    assume(expected > 0.01)
    again = moves_in_box(whole, box, machine=MACHINE)
    # Ends are rounded to 0.1 um, and pieces under 0.1 um are left out.
    assert lit_length(again) == pytest.approx(expected, abs=2e-4 * len(rows))
    ends = lit_segments(again).reshape(-1, 2)
    assert (ends >= np.array(box[:2]) - 1e-4).all()
    assert (ends <= np.array(box[2:]) + 1e-4).all()
    _check_powers(whole, again)
    _check_runs(again)


def _check_powers(whole, again):
    """Each piece lies on a beam-on move of the same power and direction."""
    was = lit_segments(whole)
    was_power = whole.power[(whole.power > 0) & (whole.length_mm > 0)]
    is_power = again.power[(again.power > 0) & (again.length_mm > 0)]
    for segment, strength in zip(lit_segments(again), is_power, strict=True):
        line = shapely.LineString(segment.reshape(2, 2))
        of = shapely.hausdorff_distance(
            shapely.intersection(lines_of(was), line.buffer(1e-3)), line
        )
        step, steps = segment[2:] - segment[:2], was[:, 2:] - was[:, :2]
        same_way = steps @ step > 0
        assert (same_way & (was_power == strength) & (of < 2e-3)).any()


def _check_runs(again):
    """Every stroke begins and ends with the beam off, for as long as it takes to come to speed."""
    begins = [*np.flatnonzero(again.rapid), len(again)]
    length, off = again.length_mm, again.power == 0
    for first, last in pairwise(begins):
        lit = np.flatnonzero(~off[first:last]) + first
        assert len(lit)
        assert length[first + 1 : lit[0]].sum() >= RUN - 2e-3
        assert length[lit[-1] + 1 : last].sum() >= RUN - 2e-3


@settings(max_examples=tries(60), deadline=None)
@given(programs, place)
def test_two_boxes_side_by_side_clear_what_the_whole_program_clears(rows, x):
    whole = moves(*rows)
    # Off the grid of places, so that no move lies along the line between the boxes.
    x += 0.05
    assume(lit_length(whole) > 0.1)
    total, covered = 0.0, []
    for box in ((-10, -10, x, 60), (x, -10, 60, 60)):
        try:
            part = moves_in_box(whole, box, machine=MACHINE)
        except ProgramError:
            continue
        total += lit_length(part)
        covered.append(shapely.union_all(lines_of(lit_segments(part))))
    assert total == pytest.approx(lit_length(whole), abs=4e-4 * len(rows))
    missed = shapely.difference(
        shapely.union_all(lines_of(lit_segments(whole))), shapely.union_all(covered).buffer(2e-3)
    )
    assert missed.length < 1e-3


@pytest.mark.parametrize(
    ("box", "says"),
    [
        ((200, 10, 210, 20), "lies beside all that the program clears"),
        ((0, 0, 9, 30), "lies beside all .* from \\(10.00, 5.00\\) to \\(45.00, 20.00\\) mm"),
        ((46, 0, 60, 30), "lies beside all"),
        ((0, 0, 60, 4), "lies beside all"),
        ((0, 21, 60, 30), "lies beside all"),
        ((0, 0, 10, 4.99), "lies beside all"),
        ((41, 6, 46, 19), "holds no beam-on move"),
        ((15, 6, 25, 10), "holds no beam-on move"),
        ((25, 10, 15, 20), "not a corner and a size"),
        ((15, 5, 15, 10), "not a corner and a size"),
        ((15, 5, float("nan"), 10), "no number"),
    ],
)
def test_boxes_that_clear_nothing_are_refused_with_the_reason(box, says):
    with pytest.raises(ProgramError, match=says):
        moves_in_box(
            moves(*ROW, (40.3, 20, True, 100, 0), (45, 20, False, 20, 0.3)), box, machine=MACHINE
        )


def test_a_program_that_clears_nothing_has_nothing_to_clear_again():
    with pytest.raises(ProgramError, match="nothing to clear again"):
        moves_in_box(moves((5, 5, True, 100, 0)), (0, 0, 10, 10), machine=MACHINE)


# --- a line -------------------------------------------------------------------------------------

TWO = (
    *ROW,
    (40.3, 6, True, 100, 0),
    (40, 6, False, 20, 0),
    (10, 6, False, 20, 0.3),
    (9.7, 6, False, 20, 0),
)
TEXT = write_program(moves(*TWO), machine=MACHINE, title=["Winch plate (coat 1)", "X marks"])


def test_a_stroke_that_was_interrupted_is_repeated_whole_with_its_run_up():
    lines = TEXT.splitlines()
    assert lines[10] == "G1 X10.0000 Y6.0000 S300"
    again = moves_from_line(TEXT, 11, machine=MACHINE)
    text = write_program(again, machine=MACHINE, title=[])
    assert text.splitlines() == [
        "G21 G90",
        "M3 S0",
        "G0 X40.3000 Y6.0000 S0",
        # Speed and power are stated again, though the first run gave them long before.
        "G1 X40.0000 Y6.0000 F1200 S0",
        "G1 X10.0000 Y6.0000 S300",
        "G1 X9.7000 Y6.0000 S0",
        "G0 X0.0000 Y0.0000 S0",
        "M5",
    ]


def test_a_line_may_give_one_coordinate_alone_and_a_comment_is_no_place():
    short = TEXT.replace("X40.0000 Y5.0000 S300", "X40.0000 S300")
    short = short.replace("G0 X40.3000 Y6.0000", "G0 Y6.0000").replace("M3 S0", "M3 S0 (X and Y)")
    assert short != TEXT
    for line in (6, 11):
        again, wanted = (moves_from_line(text, line, machine=MACHINE) for text in (short, TEXT))
        assert again.end_mm.tolist() == wanted.end_mm.tolist()


@pytest.mark.parametrize("line", [1, 2, 4, 5, 6, 8])
def test_lines_up_to_the_first_stroke_repeat_the_whole_program(line):
    again = moves_from_line(TEXT, line, machine=MACHINE)
    assert write_program(again, machine=MACHINE, title=[]).splitlines() == TEXT.splitlines()[2:]


def test_a_program_that_begins_cutting_gets_a_run_up():
    text = write_program(
        moves((10, 0, False, 20, 0.3), (20, 0, False, 20, 0.3)), machine=MACHINE, title=[]
    )
    again = moves_from_line(text, 4, machine=MACHINE)
    assert again.x_mm[:4].tolist() == [-0.252, 0, 10, 20]
    assert again.rapid[:2].tolist() == [True, False]
    assert again.power[:3].tolist() == [0, 0, 0.3]


def test_a_run_up_that_is_slower_and_shorter_is_kept_as_it_is():
    # Entered at 4 mm/s from 12 um before: faster, the power of its first chords would be too low.
    rows = [
        (9.988, 5, True, 100, 0),
        (10, 5, False, 4, 0),
        (10.02, 5, False, 20, 0.08),
        (12, 5, False, 20, 0.3),
        (12.252, 5, False, 20, 0),
    ]
    text = write_program(moves(*rows), machine=MACHINE, title=[])
    for again in (
        moves_in_box(moves(*rows), (0, 0, 20, 20), machine=MACHINE),
        moves_from_line(text, 5, machine=MACHINE),
    ):
        assert again.end_mm[:5].tolist() == [[x, y] for x, y, *_ in rows]
        assert again.speed_mm_s[1] == 4


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (0, r"line 0 is not there; the program has lines 1 to 14"),
        (15, r"has lines 1 to 14"),
        (-3, r"has lines 1 to 14"),
        (13, r"nothing is left to clear from line 13 on; .* beam on is line 11"),
        (14, r"nothing is left"),
    ],
)
def test_lines_that_are_not_there_or_leave_nothing_are_refused(line, says):
    with pytest.raises(ProgramError, match=says):
        moves_from_line(TEXT, line, machine=MACHINE)


@pytest.mark.parametrize(
    ("at", "found"),
    [
        # The rows at y = 5 and 6 are lines 7 and 11, moves 2 and 6.
        ((20, 5.1), [(7, 0.1, 2.0)]),
        ((20, 5.4), [(7, 0.4, 2.0), (11, 0.6, 6.0)]),
        ((30, 5.6), [(7, 0.6, 2.0), (11, 0.4, 6.0)]),
        # Strokes that differ by 0.3 mm and less are alike to the eye.
        ((20, 5.36), [(7, 0.36, 2.0), (11, 0.64, 6.0)]),
        ((20, 5.345), [(7, 0.345, 2.0)]),
        ((6, 2), [(7, 5.0, 2.0)]),
        ((45, 6), [(11, 5.0, 6.0), (7, math.hypot(5, 1), 2.0)]),
    ],
)
def test_the_strokes_that_come_by_a_place_are_told_with_their_line_and_time(at, found):
    begun_s = np.arange(8, dtype=float)
    told = passages_at(TEXT, at, machine=MACHINE, begun_s=begun_s)
    told = [(one.line, pytest.approx(one.off_mm), one.at_s) for one in told]
    assert told == sorted(found, key=lambda one: one[0])
    for line, _, at_s in told:
        assert first_move_at(TEXT, line, read_program(TEXT, machine=MACHINE)) == at_s - 2


def test_a_place_far_from_all_that_is_cleared_is_refused():
    with pytest.raises(ProgramError, match=r"nothing nearer than 5\.1 mm to \(20, 11\.1\) mm"):
        passages_at(TEXT, (20, 11.1), machine=MACHINE, begun_s=np.zeros(8))
    with pytest.raises(ProgramError, match="nothing nearer than"):
        passages_at(TEXT, (20, 11.02), machine=MACHINE, begun_s=np.zeros(8))
    dark = write_program(moves((1, 1, True, 100, 0)), machine=MACHINE, title=[])
    with pytest.raises(ProgramError, match="clears nothing, so there is nothing to go on with"):
        passages_at(dark, (0, 0), machine=MACHINE, begun_s=np.zeros(2))
    with pytest.raises(ProgramError, match="clears nothing, so there is nothing to clear again"):
        moves_from_line(dark, 3, machine=MACHINE)


def test_a_text_that_cannot_be_read_is_refused_with_its_line():
    with pytest.raises(ProgramError, match="line 5"):
        moves_from_line(TEXT.replace("G0 X9.7", "G0 Q9.7"), 5, machine=MACHINE)


@settings(max_examples=tries(60), deadline=None)
@given(programs, st.data())
def test_what_was_done_and_what_is_resumed_make_the_whole(rows, data):
    text = write_program(moves(*rows), machine=MACHINE, title=["Winch plate"])
    lines = text.splitlines()
    line = data.draw(st.integers(1, len(lines)))
    whole = read_program(text, machine=MACHINE)
    done = (
        read_program("\n".join([*lines[: line - 1], "M5"]), machine=MACHINE)
        if line > 3
        else moves()
    )
    try:
        again = moves_from_line(text, line, machine=MACHINE)
    except ProgramError:
        again = moves()
    assert lit_length(done) + lit_length(again) >= lit_length(whole) - 1e-6
    # From the first beam-on move after the line on, it is the program itself.
    later = np.flatnonzero(whole.power[len(done) :] > 0)
    if len(again) and len(later):
        left = len(whole) - len(done) - int(later[0])
        assert (again.end_mm[-left:] == whole.end_mm[-left:]).all()
        assert (again.power[-left:] == whole.power[-left:]).all()
        assert again.rapid[0]
        lit = int(np.flatnonzero(again.power > 0)[0])
        assert again.length_mm[1:lit].sum() >= RUN - 2e-3


def test_resuming_the_badge_anywhere_is_proven(badge):
    text, whole = badge
    for line in range(2, len(text.splitlines()) - 4, 97):
        again = moves_from_line(text, line, machine=MACHINE)
        written = write_program(again, machine=MACHINE, title=[])
        assert prove_text(written, machine=MACHINE, blank_at_mm=(30, 30)) == ()
        assert lit_length(again) <= lit_length(whole) + 1e-9
