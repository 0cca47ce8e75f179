"""Passes at different heights: the program stops, and nothing burns while it waits."""

from __future__ import annotations

import re

import pytest
from shapely import box

from jobmaker import MACHINE, codes, mark, plan
from stopout.errors import ProgramError
from stopout.program import count_stops, prove_text, read_program
from stopout.values import Level

SQUARE = box(4, 4, 7, 6)
HEAD = "G21 G90\nM3 S0\nG0 X5.0000 Y5.0000 S0\nG1 X6.0000 Y5.0000 F1200 S300\n"
HOME = "G0 X0.0000 Y0.0000 S0\n"
AGAIN = "G0 X5.0000 Y5.0000 S0\nG1 X6.0000 Y5.0000 F1200 S300\n"


def stepped(step=0.2, passes=3, **machine):
    return plan(
        SQUARE,
        machine=machine,
        clearing={"passes": passes, "focus_step_mm": step, "mark_mm": mark(0.1)},
    )


def test_each_pass_is_the_first_again_with_the_beam_ended_between():
    made = stepped()
    text = made.coats[0].program
    assert count_stops(text) == 2
    body = re.sub(r"\(.*?\)\n", "", text)
    first, second, third = re.split(r"M5\nM0\nM3 S0\n", body)
    strip = [part.removeprefix("G21 G90\nM3 S0\n").removesuffix("M5\n") for part in (first, third)]
    assert strip[0] == strip[1] == second
    assert all(part.rstrip().endswith("G0 X0.0000 Y0.0000 S0") for part in (*strip, second))
    assert "lower the head by 0.2 mm" in text
    assert prove_text(text, machine=MACHINE, blank_at_mm=(30.0, 30.0)) == ()


def test_a_stop_walked_through_word_by_word_finds_no_power_while_it_waits():
    """A control of the test's own: S and the beam's enable word, line by line."""
    text = stepped(beam_off="M105", air_on="M8", air_off="M9").coats[0].program
    enabled, power, place, stops = False, 0.0, (0.0, 0.0), 0
    for line in text.splitlines():
        plain = re.sub(r"\(.*?\)", "", line)
        if re.search(r"\bM3\b", plain):
            enabled = True
        if re.search(r"\bM(5|105)\b", plain):
            enabled = False
        if word := re.search(r"S([\d.]+)", plain):
            power = float(word[1])
        if to := re.search(r"X(-?[\d.]+) Y(-?[\d.]+)", plain):
            place = (float(to[1]), float(to[2]))
        if plain == "M0":
            stops += 1
            assert (enabled, power, place) == (False, 0.0, (0.0, 0.0))
    assert stops == 2


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (HEAD + HOME + "M0\nM3 S0\n" + AGAIN + HOME + "M5\n", "M0 is not known"),
        (HEAD + "M5\nM0\nM3 S0\n" + AGAIN + HOME + "M5\n", "M0 away from X0 Y0"),
        (HEAD + HOME + "M5\nM0\n" + AGAIN + HOME + "M5\n", "before the beam is enabled"),
        (HEAD + HOME + "M5\nM0\nM3 S300\n" + AGAIN + HOME + "M5\n", "while standing"),
        (
            HEAD + HOME + "M5\nM0\nM3 S0\n" + AGAIN.replace(" F1200", "") + HOME + "M5\n",
            "before any F",
        ),
        (HEAD + HOME + "M5\nM0\nM3 S0\n" + AGAIN + HOME, "ends without M5"),
        (HEAD + HOME + "M5\n" + AGAIN + HOME + "M5\n", "text after M5"),
        (HEAD + HOME + "M5\nM0\nM0\nM3 S0\n" + AGAIN + HOME + "M5\n", "M0 is not known"),
    ],
)
def test_a_stop_that_is_not_a_safe_one_is_refused(text, said):
    with pytest.raises(ProgramError, match=said):
        read_program(text, machine=MACHINE)


def test_the_prediction_and_the_time_are_those_of_as_many_passes():
    steps, plain = (
        stepped(passes=2).coats[0],
        plan(SQUARE, clearing={"passes": 2, "mark_mm": mark(0.1)}).coats[0],
    )
    assert steps.opening.symmetric_difference(plain.opening).area < 1e-6
    assert steps.cleared.times.time_s == pytest.approx(plain.cleared.times.time_s, rel=0.1)
    assert steps.cleared.passes == 2
    # Lines the other way are compared with the ways home between the passes counted too.
    assert steps.cleared.time_other_direction_s >= 0.999 * steps.cleared.times.time_s


def test_leaving_the_focus_is_cautioned_and_one_pass_has_no_stop():
    def level(made):
        return [f.level for f in made.findings if f.code == "focus-stops"]

    assert level(stepped(step=0.02, passes=2)) == [Level.NOTE]
    assert level(stepped(step=2.0, passes=4)) == [Level.CAUTION]
    made = stepped(passes=1)
    assert "focus-stops" not in codes(made)
    assert count_stops(made.coats[0].program) == 0
