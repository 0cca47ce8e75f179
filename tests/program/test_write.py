"""Program text as docs/reference/program.md lays it down (block format of ISO 6983-1)."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from effort import tries
from program.winch_machine import ROW, machine, moves
from stopout.errors import ProgramError
from stopout.program import as_written, read_program, write_program
from stopout.program.read import count_stops
from stopout.program.words import power_word_decimals


def lines(*rows, title=(), **changes):
    return write_program(moves(*rows), machine=machine(**changes), title=title).splitlines()


def test_a_row_is_written_to_the_letter():
    assert lines(*ROW, title=["Sluice winch plate, coat 1"]) == [
        "(Sluice winch plate - coat 1)",
        "G21 G90",
        "M3 S0",
        "G0 X9.7000 Y5.0000 S0",
        "G1 X10.0000 Y5.0000 F1200 S0",
        "G1 X40.0000 Y5.0000 S300",
        "G1 X40.3000 Y5.0000 S0",
        "G0 X0.0000 Y0.0000 S0",
        "M5",
    ]


def test_a_program_without_moves_still_turns_the_beam_off():
    assert lines()[-2:] == ["G0 X0.0000 Y0.0000 S0", "M5"]


def test_the_power_is_given_again_after_each_travel_and_the_speed_only_where_it_changes():
    text = lines(
        (1, 0, False, 20, 0.3), (2, 0, False, 20, 0.3), (3, 0, True, 100, 0), (4, 0, False, 20, 0.3)
    )
    assert text[2:6] == [
        "G1 X1.0000 Y0.0000 F1200 S300",
        "G1 X2.0000 Y0.0000",
        "G0 X3.0000 Y0.0000 S0",
        "G1 X4.0000 Y0.0000 S300",
    ]


def test_the_return_is_not_written_twice():
    text = lines((1, 0, False, 20, 0.3), (0, 0, True, 100, 0))
    assert text.count("G0 X0.0000 Y0.0000 S0") == 1


def test_a_program_that_ends_cutting_at_the_origin_still_goes_dark_there():
    assert lines((1, 0, False, 20, 0.3), (0, 0, False, 20, 0.3))[-2] == "G0 X0.0000 Y0.0000 S0"


PAUSED = ((1, 0, False, 20, 0.3), (0, 0, True, 100, 0), (2, 0, False, 20, 0.3))
HOME = (0, 0, True, 100, 0)


@pytest.mark.parametrize(
    ("changes", "off", "on"),
    [
        ({}, [], "M3 S0"),
        ({"beam_off": "M107", "beam_on": "M4"}, ["M107"], "M4 S0"),
        # One word that ends the beam is enough.
        ({"beam_off": "M05"}, [], "M3 S0"),
    ],
)
def test_a_stop_ends_the_beam_waits_and_enables_it_with_no_power(changes, off, on):
    """A control may forget F at a stop: it is given again."""
    control = machine(**changes)
    text = write_program(
        moves(*PAUSED, HOME, HOME), machine=control, title=[], stops=[(2, "Wipe it"), (4, "Dry it")]
    )
    stop = [*off, "M5", "M0", on]
    assert text.splitlines() == [
        "G21 G90",
        on,
        "G1 X1.0000 Y0.0000 F1200 S300",
        "G0 X0.0000 Y0.0000 S0",
        "(Wipe it)",
        *stop,
        "G1 X2.0000 Y0.0000 F1200 S300",
        "G0 X0.0000 Y0.0000 S0",
        "(Dry it)",
        *stop,
        *off,
        "M5",
    ]
    assert count_stops(text) == 2
    back = read_program(text, machine=control)
    np.testing.assert_array_equal(back.x_mm, [1, 0, 2, 0])
    np.testing.assert_allclose(back.power, [0.3, 0, 0.3, 0])


@pytest.mark.parametrize("after", [-1, 0, 1, 3, 5])
def test_a_program_stops_only_after_a_travel_home(after):
    away = (3, 0, True, 100, 0)
    for rows in ((*PAUSED, away), (*PAUSED[:1], (0, 5, True, 100, 0), *PAUSED[2:])):
        with pytest.raises(ProgramError, match="only after a travel home"):
            write_program(moves(*rows), machine=machine(), title=[], stops=[(after, "")])


@pytest.mark.parametrize("place", [(3, 0), (0, 5), (3, 5)])
def test_a_travel_along_one_axis_is_not_home(place):
    rows = (PAUSED[0], (*place, True, 100, 0))
    with pytest.raises(ProgramError, match="only after a travel home"):
        write_program(moves(*rows), machine=machine(), title=[], stops=[(2, "")])


def test_moves_without_length_after_rounding_are_dropped():
    text = lines((1, 0, False, 20, 0.3), (1.00004, 0, False, 20, 0.3), (2, 0, False, 20, 0.3))
    assert len([line for line in text if line.startswith("G1")]) == 2


def test_nothing_is_written_as_minus_zero():
    assert not any("-0.0000" in line for line in lines((-1e-6, 1, False, 20, 0.3)))


@pytest.mark.parametrize(
    ("power_word", "power", "word"),
    [
        (1000.0, 0.3, "S300"),
        (1000.0, 0.31234, "S312.3"),  # one step at most 0.2 % of 312.34: 0.62, so 0.1
        (255.0, 0.5, "S127.5"),
        (100.0, 0.123456, "S12.35"),
        (1.0, 0.3, "S0.3"),
        (12000.0, 0.41234, "S4948"),
    ],
)
def test_the_power_word_has_the_decimals_that_two_in_a_thousand_need(power_word, power, word):
    row = (1, 0, False, 20, power)
    assert word in lines(row, power_word=power_word)[2].split()


def test_rounding_neither_exceeds_full_power_nor_turns_a_weak_beam_off():
    full = lines((1, 0, False, 20, 1.0), power_word=255.75)[2]
    assert full.endswith("S255.7")
    weak = lines((1, 0, False, 20, 1.0), (2, 0, False, 20, 1e-6))[3]
    assert weak.endswith("S1")


def test_rounding_does_not_exceed_the_top_speed():
    text = lines((1, 0, False, 33.33333, 0.3), top_speed_mm_s=33.33333)
    assert "F1999.999" in text[2].split()


@pytest.mark.parametrize(
    "text",
    [
        "a (b) c",
        "Schütz – Nr. 3",
        "line\nbreak\tand \x07 bell",
        "((((",
        ")M5(",
        "100 % G1 X9",
        "水車",
    ],
)
def test_any_title_becomes_a_harmless_comment(text):
    written = write_program(moves(*ROW), machine=machine(), title=[text])
    comment = written.splitlines()[0]
    assert comment.startswith("(")
    assert comment.endswith(")")
    assert comment.isascii()
    assert not re.search(r"[^A-Za-z0-9 ._-]", comment[1:-1])
    assert len(read_program(written, machine=machine())) == 5


def test_a_long_title_goes_on_in_further_comments_and_an_empty_one_is_left_out():
    text = lines(*ROW, title=["", "tide mill " * 20])
    comments = [line for line in text if line.startswith("(")]
    assert len(comments) == 3
    # No block longer than 72 characters: common practice, no source.
    assert [len(one) for one in lines(*ROW, title=["x" * 100])[:2]] == [72, 32]


@pytest.mark.parametrize(("ending", "width"), [("lf", 40), ("crlf", 39)])
def test_a_comment_fills_a_line_of_the_machine_and_no_more(ending, width):
    control = {"line_ending": ending, "longest_line": 40}
    assert lines(*ROW, title=["x" * (width - 2)], **control)[0] == f"({'x' * (width - 2)})"
    assert lines(*ROW, title=["x" * (width - 1)], **control)[:2] == [
        f"({'x' * (width - 2)})",
        "(x)",
    ]


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ((float("nan"), 0, False, 20, 0.3), "not a number"),
        ((1, 0, True, 100, 0.3), "travels with the beam on"),
        ((1, 0, False, 20, 1.2), "power outside"),
        ((1, 0, False, 20, -0.1), "power outside"),
        ((1, 0, False, 0, 0.3), "no speed"),
    ],
)
def test_moves_that_no_program_may_hold_are_refused_with_their_number(row, says):
    with pytest.raises(ProgramError, match=says) as error:
        write_program(moves(*ROW, row), machine=machine(), title=[])
    assert "move 4 " in str(error.value)


@pytest.mark.parametrize("code", ["M5", "M05", "G1", "", "M3 S100", "m3"])
def test_a_beam_code_that_enables_no_beam_is_refused(code):
    with pytest.raises(ProgramError, match="M3"):
        write_program(moves(*ROW), machine=machine(beam_on=code), title=[])


row = st.builds(
    lambda x, y, rapid, speed, power: (x, y, rapid, 100.0 if rapid else speed, power * (not rapid)),
    st.floats(-50, 350),
    st.floats(-50, 350),
    st.booleans(),
    st.floats(0.5, 100.0),
    st.one_of(st.just(0.0), st.floats(0.05, 1.0)),
)


@settings(max_examples=tries(150), deadline=None)
@given(st.lists(row, max_size=12), st.sampled_from([1.0, 255.0, 1000.0, 30000.0]))
def test_what_is_read_back_is_what_was_written_within_the_printed_digits(rows, power_word):
    device = machine(power_word=power_word)
    first, text = moves(*rows), write_program(moves(*rows), machine=device, title=["x"])
    again = read_program(text, machine=device)
    assert write_program(again, machine=device, title=["x"]) == text
    step = np.hypot(np.diff(again.x_mm, prepend=0.0), np.diff(again.y_mm, prepend=0.0))
    assert (step[:-1] > 0).all()
    rounded = np.round(np.column_stack([first.x_mm, first.y_mm]), 4)
    moved = (np.diff(np.vstack([[0.0, 0.0], rounded]), axis=0) != 0).any(axis=1)
    kept = int(moved.sum())
    assert len(again) - kept in (0, 1)
    close = {"atol": 5.1e-5, "rtol": 0}
    np.testing.assert_allclose(again.x_mm[:kept], first.x_mm[moved], **close)
    np.testing.assert_allclose(again.y_mm[:kept], first.y_mm[moved], **close)
    assert (again.rapid[:kept] == first.rapid[moved]).all()
    np.testing.assert_allclose(again.speed_mm_s[:kept], first.speed_mm_s[moved], atol=1e-5)
    strongest = first.power[moved].max(initial=0.0)
    np.testing.assert_allclose(
        again.power[:kept], first.power[moved], atol=0.001 * strongest + 1e-12
    )
    assert ((again.power[:kept] > 0) == (first.power[moved] > 0)).all()
    # What is not written yet is rounded to the same numbers.
    unwritten = as_written(first, device)
    for name in ("x_mm", "y_mm", "rapid", "speed_mm_s", "power"):
        np.testing.assert_array_equal(getattr(unwritten, name), getattr(again, name)[:kept])


@pytest.mark.parametrize(("strongest", "decimals"), [(500, 0), (499, 1), (50, 1), (5, 2), (0.5, 3)])
def test_two_in_a_thousand_of_the_strongest_power_may_be_just_one_step(strongest, decimals):
    assert power_word_decimals(strongest) == decimals
