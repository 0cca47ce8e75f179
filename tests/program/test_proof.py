"""The proofs find each way in which a program is unsafe, and only those."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from effort import tries
from program.winch_machine import ROW, machine, moves
from stopout.program import bounds_moves, prove, prove_text, write_program

AT = (30.0, 30.0)


def codes(*rows, at=AT, **changes):
    return [v.code for v in prove(moves(*rows), machine=machine(**changes), blank_at_mm=at)]


def test_a_sound_program_is_proven():
    assert codes(*ROW) == []
    text = write_program(moves(*ROW), machine=machine(), title=["hut sign"])
    assert prove_text(text, machine=machine(), blank_at_mm=AT) == ()


@pytest.mark.parametrize("power", [1e-6, 0.004, 0.5, 1.0])
def test_a_travel_with_however_little_power_is_found(power):
    assert codes((50, 5, True, 100, power), (0, 0, True, 100, 0)) == ["beam-on-travel"]
    assert codes((50, 5, True, 100, 0.0)) == []


def test_a_malformed_text_is_one_violation_with_its_line():
    (found,) = prove_text("G21 G90\nM3 S0\n", machine=machine(), blank_at_mm=AT)
    assert found.code == "structure"
    assert found.message.startswith("line 2: ")


@pytest.mark.parametrize(
    ("x", "y", "inside"),
    [(370, 370, True), (-30, -30, True), (370.0001, 0, False), (0, -30.0001, False)],
)
def test_the_bed_is_left_just_beyond_its_border(x, y, inside):
    assert codes((x, y, True, 100, 0)) == ([] if inside else ["outside-bed"])


def test_a_blank_beside_the_bed_is_found_before_anything_moves():
    for at in ((-1.0, 0.0), (0.0, -1.0), (401.0, 0.0), (0.0, 401.0)):
        (found,) = prove(moves(*ROW), machine=machine(), blank_at_mm=at)
        assert (found.code, found.move, found.count) == ("outside-bed", 0, len(ROW))
        assert found.at_mm == (0.0, 0.0)


def test_a_violation_tells_the_first_move_the_place_and_how_many():
    (found,) = prove(
        moves(*ROW, (380, 5, False, 20, 0.0), (390, 5, False, 20, 0.0)),
        machine=machine(),
        blank_at_mm=AT,
    )
    assert (found.code, found.move, found.count) == ("outside-bed", 4, 2)
    assert found.at_mm == (380.0, 5.0)
    assert "(410.0000, 35.0000) mm from the bed's corner" in found.message
    assert "2 moves in all" in found.message


def test_a_diagonal_travel_through_a_keep_out_is_found_though_both_ends_are_outside():
    clamp = (40.0, 40.0, 60.0, 60.0)
    (found,) = prove(
        moves((0, 20, True, 100, 0), (60, 5, True, 100, 0), (0, 0, True, 100, 0)),
        machine=machine(keep_outs_mm=(clamp,)),
        blank_at_mm=AT,
    )
    assert (found.code, found.move) == ("keep-out", 1)
    # From (30, 50) to (90, 35) on the bed: the box's left side x = 40 is met at y = 47.5, its
    # right side only half-way.
    assert found.at_mm == pytest.approx((10.0, 17.5), abs=1e-4)


@pytest.mark.parametrize(
    "path",
    [
        [(10, 0), (10, 50)],  # along the left side
        [(0, 10), (50, 10)],  # along the lower side
        [(0, 20), (20, 0), (0, 20)],  # through the lower left corner alone
    ],
)
def test_the_border_of_a_keep_out_may_be_touched(path):
    rows = [(x, y, True, 100, 0) for x, y in path]
    clamp = (40.0, 40.0, 60.0, 60.0)
    assert codes(*rows, keep_outs_mm=(clamp,)) == []


def test_a_start_within_a_keep_out_is_found():
    assert codes((1, 0, True, 100, 0), keep_outs_mm=((0.0, 0.0, 40.0, 40.0),)) == ["keep-out"]


@pytest.mark.parametrize(("place", "number"), [((25, 0), 1), ((0, 25), 2), ((25, 25), 3)])
def test_every_keep_out_is_held_and_told_by_its_number(place, number):
    clamps = ((50.0, 20.0, 60.0, 40.0), (20.0, 50.0, 40.0, 60.0), (50.0, 50.0, 60.0, 60.0))
    (found,) = prove(
        moves((*place, True, 100, 0)), machine=machine(keep_outs_mm=clamps), blank_at_mm=AT
    )
    assert f"keep-out box {number} at" in found.message


def test_a_box_given_from_its_far_corner_keeps_out_as_well():
    assert codes((30, 30, True, 100, 0), keep_outs_mm=((60.0, 60.0, 40.0, 40.0),)) == ["keep-out"]


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ((50, 5, True, 100, 0.1), "beam-on-travel"),
        ((50, 5, False, 20, 1.1), "power"),
        ((50, 5, False, 20, 1.0001), "power"),
        ((50, 5, False, 20, -0.1), "power"),
        ((50, 5, False, 100.1, 0.1), "speed"),
        ((50, 5, False, 100.0001, 0.1), "speed"),
        ((50, 5, False, 0, 0.1), "speed"),
        ((0.01, 0, False, 0, 0.1), "speed"),
        ((float("inf"), 5, False, 20, 0.1), "not-a-number"),
    ],
)
def test_each_limit_of_the_machine_is_proven(row, code):
    assert codes(row, (0, 0, True, 100, 0)) == [code]


def test_a_program_that_ends_with_the_beam_on_is_found():
    assert codes((50, 5, False, 20, 0.1)) == ["ends-on"]


OUT = (5, 5, True, 100, 0)
BACK = (0, 0, True, 100, 0)


def step(x, power=1.0, speed=0.04):
    return (x, 5, False, speed, power)


@pytest.mark.parametrize(
    ("rows", "seconds"),
    [
        # Two motor steps are 25 um: at 0.04 mm/s and full power 0.025 / 0.04 = 0.625 s.
        ([step(5.025)], 0.625),
        # 26 um are a line, whatever it burns.
        ([step(5.026)], None),
        # Seven tenths of the power are 0.4375 s of the full one.
        ([step(5.025, power=0.7)], None),
        # 12 um twice: 0.3 s and 0.3 s on one spot, there and back too.
        ([step(5.012), step(5.024)], 0.6),
        ([step(5.012), step(5.0)], 0.6),
        # Apart from each other, by a travel or a dark step, each has its own time.
        ([step(5.012), OUT, step(5.012)], None),
        ([step(5.012), step(5.013, power=0.0), step(5.025)], None),
        # A short slow move in the midst of a long line.
        ([step(8, speed=20), step(8.025), step(9, speed=20)], 0.625),
    ],
)
def test_what_the_beam_burns_within_two_motor_steps_is_power_times_length_over_speed(rows, seconds):
    found = prove(moves(OUT, *rows, BACK), machine=machine(), blank_at_mm=AT)
    assert [one.code for one in found] == ([] if seconds is None else ["dwell"])
    if found:
        assert f"for {seconds:g} s of full power; 0.5 s is the most" in found[0].message


coordinate = st.integers(0, 40).map(float)


@settings(max_examples=tries(150), deadline=None)
@given(
    st.lists(st.tuples(coordinate, coordinate), min_size=1, max_size=5),
    st.tuples(coordinate, coordinate, st.integers(1, 15), st.integers(1, 15)),
)
def test_keep_outs_agree_with_a_geometry_library_on_any_path(path, corner):
    x0, y0, width, height = corner
    box = (x0, y0, x0 + width, y0 + height)
    rows = [(x, y, True, 100, 0) for x, y in path]
    found = prove(moves(*rows), machine=machine(keep_outs_mm=(box,)), blank_at_mm=(0.0, 0.0))
    points = [(0.0, 0.0), *path]
    inner = shapely.box(*(np.add(box, (2e-6, 2e-6, -2e-6, -2e-6))))
    hits = [
        i
        for i, pair in enumerate(pairwise(points))
        if shapely.intersects(
            inner, shapely.LineString(pair) if pair[0] != pair[1] else shapely.Point(pair[0])
        )
    ]
    assert [(v.move, v.count) for v in found] == ([(hits[0], len(hits))] if hits else [])


def test_the_bounds_are_traced_dark_and_then_with_the_pointer():
    device = machine(pointer_fraction=0.01)
    traced = bounds_moves((-1, 3, 50, 20), (2, 4, 40, 18), machine=device, speed_mm_s=25.0)
    assert np.flatnonzero(traced.rapid).tolist() == [0, 5]
    assert traced.power.tolist() == [0.0] * 7 + [0.01] * 4 + [0.0]
    assert traced.length_mm[1:5].sum() == pytest.approx(2 * (51 + 17))
    assert traced.length_mm[7:11].sum() == pytest.approx(2 * (38 + 14))
    # The pointer runs up and out in the dark, v^2 / 2a: it is never lit standing still.
    run_mm = 25.0**2 / (2 * device.acceleration_mm_s2)
    assert traced.length_mm[[6, 11]] == pytest.approx(run_mm)
    # Straight on: had it to turn back at the corner, it would stand there, lit.
    assert traced.end_mm[[5, 11]].tolist() == [[2 - run_mm, 4], [2, 4 - run_mm]]
    text = write_program(traced, machine=device, title=["bounds"])
    assert prove_text(text, machine=device, blank_at_mm=AT) == ()
    assert text.splitlines()[-1] == "M5"


def test_without_a_pointer_both_boxes_are_traced_dark():
    traced = bounds_moves((0, 0, 5, 5), (1, 1, 4, 4), machine=machine(), speed_mm_s=25.0)
    assert not traced.power.any()
