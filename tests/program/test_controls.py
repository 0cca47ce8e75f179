"""Words of every control that a machine may name: written, read back, and refused where they lack.

G70 and G71 (inch and metric), G94 (feed a minute), G54 to G59, M08 and M09, M02 and M30 as in
ISO 6983-1 and its common dialects (recalled from memory, the standard was not at hand).
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from effort import tries
from program.winch_machine import ROW, machine, moves
from stopout.errors import ProgramError
from stopout.program import prove_text, read_program, write_program

EVERYTHING = {
    "units_word": "G70",
    "feed_word": "G94",
    "work_offset": "G54",
    "air_on": "M8",
    "air_off": "M9",
    "beam_on": "M4",
    "beam_off": "M105",
    "end_word": "M30",
    "line_ending": "crlf",
    "longest_line": 60,
    "power_word": 255.0,
}
CONTROLS = st.fixed_dictionaries(
    {
        "units_word": st.sampled_from(["G21", "G20", "G71", "G70"]),
        "feed_word": st.sampled_from(["", "G94"]),
        "work_offset": st.sampled_from(["", "G54", "G59"]),
        "air": st.booleans(),
        "beam_on": st.sampled_from(["M3", "M4", "M106"]),
        "beam_off": st.sampled_from(["", "M5", "M107"]),
        "end_word": st.sampled_from(["", "M2", "M30"]),
        "line_ending": st.sampled_from(["lf", "crlf"]),
        "longest_line": st.sampled_from([None, 50, 80]),
        "decimals": st.sampled_from([None, 3, 5]),
        "power_word": st.sampled_from([1.0, 100.0, 255.0, 1000.0, 12000.0]),
    }
)


def control(fields):
    fields = dict(fields)
    if fields.pop("air"):
        fields |= {"air_on": "M8", "air_off": "M9"}
    return machine(**fields)


def test_every_word_stands_in_its_place_to_the_letter():
    text = write_program(moves(*ROW), machine=machine(**EVERYTHING), title=["Winch plate"])
    assert text.split("\r\n") == [
        "(Winch plate)",
        "G70 G90",
        "G94",
        "G54",
        "M8",
        "M4 S0",
        "G0 X0.38189 Y0.19685 S0",
        "G1 X0.39370 Y0.19685 F47.244 S0",
        "G1 X1.57480 Y0.19685 S76.5",
        "G1 X1.58661 Y0.19685 S0",
        "G0 X0.00000 Y0.00000 S0",
        "M105",
        "M9",
        "M5",
        "M30",
        "",
    ]


@given(CONTROLS)
@settings(max_examples=tries(60))
def test_a_program_for_any_control_reads_back_as_the_same_motion_and_is_proven(fields):
    laser = control(fields)
    text = write_program(moves(*ROW), machine=laser, title=["tide mill " * 30])
    back = read_program(text, machine=laser)
    step = 10.0 ** -(fields["decimals"] or 4) * (25.4 if fields["units_word"] in "G20G70" else 1)
    ends = np.array([row[:2] for row in ROW])
    assert back.end_mm[: len(ROW)] == pytest.approx(ends, abs=step)
    assert back.power[:3] == pytest.approx([0, 0, 0.3], abs=0.002)
    assert back.speed_mm_s[1:4] == pytest.approx(20.0, rel=1e-4)
    assert prove_text(text, machine=laser, blank_at_mm=(30, 30)) == ()
    if fields["longest_line"]:
        assert max(map(len, text.split("\n"))) <= fields["longest_line"]
    assert [line for line in text.splitlines() if line.startswith("M5")] == ["M5"]


@pytest.mark.parametrize("line", range(1, 15))
def test_no_line_of_the_words_may_be_missing(line):
    laser = machine(**EVERYTHING)
    lines = write_program(moves(*ROW), machine=laser, title=["t"]).split("\r\n")
    if lines[line].startswith(("G0", "G1")):
        return
    del lines[line]
    with pytest.raises(ProgramError):
        read_program("\r\n".join(lines), machine=laser)


@pytest.mark.parametrize(
    "strange", ["M8", "G54", "G94", "G71 G90", "G70", "M9", "M30", "M107", "G55", "G4 P1"]
)
def test_a_word_that_the_machine_does_not_name_is_refused(strange):
    plain = machine()
    lines = write_program(moves(*ROW), machine=plain, title=[]).split("\n")
    for place in (2, 4, len(lines) - 2, len(lines) - 1):
        text = "\n".join([*lines[:place], strange, *lines[place:]])
        assert prove_text(text, machine=plain, blank_at_mm=(30, 30))[0].code == "structure"


def test_nothing_moves_once_the_beam_or_the_air_is_off_and_nothing_follows_the_end():
    laser = machine(**EVERYTHING)
    lines = write_program(moves(*ROW), machine=laser, title=[]).split("\r\n")
    for word, then in itertools.product(("M105", "M9", "M5", "M30"), ("G0 X0.1 Y0 S0", "M4 S0")):
        place = lines.index(word) + 1
        text = "\r\n".join([*lines[:place], then, *lines[place:]])
        if word in ("M105", "M9") and then == "M4 S0":
            continue
        with pytest.raises(ProgramError):
            read_program(text, machine=laser)


def test_lines_that_the_control_would_cut_off_or_not_end_are_refused():
    text = write_program(moves(*ROW), machine=machine(), title=["a" * 60])
    with pytest.raises(ProgramError, match="62 characters"):
        read_program(text, machine=machine(longest_line=50))
    with pytest.raises(ProgramError, match="carriage return"):
        read_program(text, machine=machine(line_ending="crlf"))
