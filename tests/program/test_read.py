"""The interpreter refuses, with the line, whatever the format does not allow."""

from __future__ import annotations

import numpy as np
import pytest

from program.winch_machine import machine
from stopout.errors import ProgramError
from stopout.program import read as reading
from stopout.program import read_program

GOOD = [
    "(valve tag)",
    "G21 G90",
    "M3 S0",
    "G0 X9.7000 Y5.0000 S0",
    "G1 X10.0000 Y5.0000 F1200 S0",
    "G1 X40.0000 Y5.0000 S300",
    "G0 X0.0000 Y0.0000 S0",
    "M5",
]


@pytest.fixture(autouse=True, params=["together", "line by line"])
def blocks(request, monkeypatch):
    """Plain moves are read some thousand at a time; nothing that is told may hang on that."""
    if request.param == "line by line":
        monkeypatch.setattr(reading, "_BLOCK", 1)


def read(lines, **changes):
    return read_program("\n".join(lines) + "\n", machine=machine(**changes))


def with_line(number, text):
    """The good program with line `number`, counted from 1, replaced."""
    return [*GOOD[: number - 1], text, *GOOD[number:]]


def test_a_program_becomes_its_moves():
    found = read(GOOD)
    np.testing.assert_array_equal(found.x_mm, [9.7, 10.0, 40.0, 0.0])
    np.testing.assert_array_equal(found.rapid, [True, False, False, True])
    np.testing.assert_allclose(found.power, [0.0, 0.0, 0.3, 0.0])
    np.testing.assert_allclose(found.speed_mm_s, [100.0, 20.0, 20.0, 100.0])


def test_words_keep_their_value_until_they_are_given_again():
    found = read([*GOOD[:5], "G1X40.Y5.S300", "Y6.5", "X10", "G00 X0 Y0 S0", "M05"])
    np.testing.assert_array_equal(found.x_mm, [9.7, 10.0, 40.0, 40.0, 10.0, 0.0])
    np.testing.assert_array_equal(found.y_mm, [5.0, 5.0, 5.0, 6.5, 6.5, 0.0])
    np.testing.assert_allclose(found.power, [0, 0, 0.3, 0.3, 0.3, 0])


def test_comments_and_empty_lines_do_nothing():
    found = read([*GOOD[:4], "", "  ", "(G0 X999)", "G1 (to the rim) X10 Y5 F60 S0", *GOOD[5:]])
    assert len(found) == 4


def test_the_start_may_stand_on_two_lines():
    assert len(read(["G90", "G21", *GOOD[2:]])) == 4


def test_a_program_may_hold_no_move():
    assert len(read(["G21 G90", "M3 S0", "M5"])) == 0


BAD = [
    (6, "G1 X40.0000 Z5.0000 S300", "Z5.0000 is not known"),
    (6, "N60 G1 X40.0000 Y5.0000 S300", "N60 is not known"),
    (6, "G4 X1", "G4 is not known"),
    (6, "M8", "M8 is not known"),
    (6, "G2 X40.0000 Y5.0000 S300", "G2 is an arc"),
    (6, "G3 X40.0000 Y5.0000 S300", "G3 is an arc"),
    (6, "G1.5 X40.0000 Y5.0000", "G1.5 is not known"),
    (6, "G91", "G91 means"),
    (6, "G20", "G20 means"),
    (6, "g1 x40 y5", "'g1' cannot be read"),
    (6, "G1 X4O.0 Y5.0", "O.0 is not known"),
    (6, "G1 X1e3 Y5.0", "cannot be read"),
    (6, "G1 X1.2.3 Y5.0", "cannot be read"),
    (6, "G1 X40 Y", "'Y' cannot be read"),
    (6, "G1 X40 Y5 (open", "cannot be read"),
    (6, "G1 X40 Y5 ((nested))", "cannot be read"),
    (6, "G1 X40 Y5 ; note", "';' cannot be read"),
    (6, "%", "'%' cannot be read"),
    (6, "G1 X40 X41 Y5", "given twice"),
    (6, "G0 G1 X40 Y5", "two moves on one line"),
    (6, "G1 X40.0000 Y5.0000 S1000.1", "S1000.1 is outside"),
    (6, "G1 X40 Y5 S-1", "S-1 is outside"),
    (6, "G1 X40.0000 Y5.0000 F0", "F0 is no speed"),
    (6, "G1 X40 Y5 F-20", "F-20 is no speed"),
    (6, "S300", "while standing"),
    (6, "M3 S300", "while standing"),
    (6, "M3 X40 Y5", "not on a line that moves"),
    (6, "M5 S0", "must stand alone"),
    (4, "G0 X9.7000 Y5.0000 S300", "with the beam on"),
    (7, "G0 X0.0000 Y0.0000", "with the beam on"),
    (5, "G1 X10.0000 Y5.0000 S0", "before any F"),
    (2, "(no start)", "G21 G90 is missing"),
    (2, "G90", "G21 is missing"),
    (2, "G21", "G90 is missing"),
    (3, "(no beam code)", "before the beam is enabled"),
    (8, "(no end)", "ends without M5"),
]


@pytest.mark.parametrize(("number", "line", "says"), BAD)
def test_a_malformed_line_is_refused_with_its_number(number, line, says):
    with pytest.raises(ProgramError, match=says) as error:
        read(with_line(number, line))
    # What is missing shows on the line that needs it.
    shown = {"G21 G90 is missing": 3, "G21 is missing": 3, "G90 is missing": 3}.get(says, number)
    shown = 4 if "before the beam" in says else shown
    assert str(error.value).startswith(f"line {shown}: ")


@pytest.mark.parametrize("after", ["G1 X1.0000 Y1.0000", "M3 S0", "M5", "(thanks)", "X1"])
def test_text_after_the_end_is_refused(after):
    with pytest.raises(ProgramError, match=r"line 9: text after M5 \(line 8\)"):
        read([*GOOD, after])


def test_values_last_over_many_lines_until_they_are_given_again():
    middle = [f"G1 X{k % 50}.0 Y{k % 7}.0" for k in range(9000)]
    found = read([*GOOD[:6], *middle, "G1 X3.0 Y3.0 F600 S70", *middle, *GOOD[6:]])
    np.testing.assert_array_equal(found.x_mm[3:9003] % 50, np.arange(9000) % 50)
    assert set(found.power[3:9003]) == {0.3}
    assert set(found.speed_mm_s[9003:-1]) == {10.0}
    assert set(found.power[9003:-1]) == {0.07}
    with pytest.raises(ProgramError, match=r"line 8003: .*outside"):
        read([*GOOD[:6], *middle[:7996], "G1 X1.0 Y1.0 S2000", *GOOD[6:]])


def test_a_place_before_any_move_word_is_refused():
    with pytest.raises(ProgramError, match="line 4: gives a place without a move"):
        read(with_line(4, "X9.7 Y5"))


@pytest.mark.parametrize("text", ["", "\n\n", "hello", "\x00"])
def test_text_that_is_no_program_is_refused(text):
    with pytest.raises(ProgramError, match=r"line [12]: "):
        read_program(text, machine=machine())


def test_the_machines_own_beam_code_is_the_only_one_known():
    assert len(read(with_line(3, "M4 S0"), beam_on="M4")) == 4
    with pytest.raises(ProgramError, match=r"line 3: M3 is not known here; .*M4"):
        read(GOOD, beam_on="M4")


def test_a_comment_between_cuts_is_no_standing_with_the_beam_on():
    cuts = ["(to the rim)", "G1 X40.0000 Y6.0000", "( )", *GOOD[6:]]
    assert read([*GOOD[:6], *cuts]).power.tolist() == [0, 0, 0.3, 0.3, 0]


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("G0 X0.0000 Y0.0000 F0 S0", "line 7: F0 is no speed"),
        ("G1 X0.0000 Y0.0000 F-60 S0", "line 7: F-60 is no speed"),
        ("G1 X0.0000 Y0.0000 S-1", "line 7: S-1 is outside"),
        ("G1 X0.0000 Y0.0000 S1000.1", "line 7: S1000.1 is outside"),
        ("G0 X0.0000 Y0.0000 S1", "line 7: travels .G0. with the beam on"),
        ("G0 X0.0000 Y0.0000", "line 7: travels .G0. with the beam on at S300"),
    ],
)
def test_a_speed_or_power_that_no_move_may_have_is_refused_wherever_it_stands(line, says):
    with pytest.raises(ProgramError, match=says):
        read(with_line(7, line))


STOPPED = [*GOOD, "M0", "M3 S0", "G1 X20.0000 Y5.0000 F600 S300", *GOOD[6:]]


@pytest.mark.parametrize(
    ("gone", "says"),
    [
        (10, "line 10: moves before the beam is enabled"),
        (8, "line 8: M0 is not known here"),
        (13, "ends without M5"),
    ],
)
def test_after_a_stop_the_beam_is_enabled_anew_and_ended_anew(gone, says):
    assert read(STOPPED).power.tolist() == [0, 0, 0.3, 0, 0.3, 0]
    with pytest.raises(ProgramError, match=says):
        read([*STOPPED[: gone - 1], *STOPPED[gone:]])


def test_after_a_stop_the_speed_is_given_anew():
    with pytest.raises(ProgramError, match=r"line 11: cuts \(G1\) before any F"):
        read([line.replace(" F600", "") for line in STOPPED])


@pytest.mark.parametrize("place", ["X0.0000 Y5.0000", "X5.0000 Y0.0000", "X0.0000 Y-0.0001"])
def test_a_stop_away_from_home_is_refused_along_either_axis(place):
    with pytest.raises(ProgramError, match="line 9: M0 away from X0 Y0"):
        read([line.replace("G0 X0.0000 Y0.0000", f"G0 {place}") for line in STOPPED])


def test_places_and_speeds_of_a_machine_in_inches_are_read_in_mm():
    # An inch is 25.4 mm (international yard and pound agreement of 1959, from memory).
    lines = [*GOOD[:1], "G20 G90", *GOOD[2:]]
    found, plain = read(lines, units_word="G20", top_speed_mm_s=600.0), read(GOOD)
    np.testing.assert_allclose(found.end_mm, 25.4 * plain.end_mm)
    np.testing.assert_allclose(found.speed_mm_s, [600, 508, 508, 600])
    np.testing.assert_allclose(found.power, plain.power)
