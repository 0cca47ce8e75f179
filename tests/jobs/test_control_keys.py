"""Keys of [machine] that differ from control to control: asked for, and never guessed."""

from __future__ import annotations

import re

import pytest

from jobs.job_texts import PLATE, edited, mistakes, only_mistake, read
from stopout.jobs.keys.machine_table import MACHINE

REQUIRED = [key.name for key in MACHINE.keys if key.is_required]


@pytest.mark.parametrize("key", REQUIRED)
def test_a_missing_figure_is_told_with_how_to_find_it_and_no_other_machines_number(key):
    text = (
        edited(PLATE, rf"^{key} = .*\n", "")
        if key != "power"
        else PLATE.replace('power = "5.5 W"\n', "")
    )
    found = only_mistake(text)
    assert found.field == f"machine.{key}"
    how = MACHINE.parts[key].find
    assert how
    assert how in found.message
    # The sense of a width and the names of pages hold digits; figures of a machine do not stand.
    plain = found.message.replace("1/e2", "").replace("d4sigma", "")
    assert not re.search(r"\d", plain), plain


def test_what_belongs_to_one_control_is_required():
    assert {"power_word", "beam_on"} <= set(REQUIRED)
    assert len(mistakes(re.sub(r"^(power_word|beam_on) = .*\n", "", PLATE, flags=re.M))) == 2


def test_a_figure_that_was_not_measured_is_a_range_and_never_a_default():
    # Neither acceleration nor cornering nor spot is that of any one machine: the ranges say so.
    unsaid = r"^(spot|spot_means|acceleration|cornering|step) = .*\n"
    machine = read(re.sub(unsaid, "", PLATE, flags=re.M)).laser
    assert {span.name for span in machine.spans} == {"spot", "acceleration", "cornering", "step"}
    for span in machine.spans:
        assert span.low < span.value < span.high
        assert span.high > 4 * span.low
    text = edited(PLATE, "^wavelength = .*", 'emitter = "blue-diode"')
    unknown = read(text.replace('power = "5.5 W"', 'power = "unknown"')).laser
    assert (unknown.wavelength_nm, [span.name for span in unknown.spans]) == (450, ["power"])


@pytest.mark.parametrize(
    ("written", "held"), [("true", True), ("false", False), ('"control"', "control")]
)
def test_how_power_goes_with_speed_has_three_answers_and_no_default(written, held):
    text = edited(PLATE, "^power_follows_speed = .*", f"power_follows_speed = {written}")
    assert read(text).laser.power_follows_speed == held
    assert read(edited(PLATE, "^power_follows_speed = .*\n", "")).laser.power_follows_speed is None


def test_the_words_and_limits_arrive_as_written():
    more = """beam_lag = ["0.40 ms", ["400 us", "20 us"]]
play = "0.02 mm"
units_word = "G20"
feed_word = "G94"
work_offset = "G55"
air_on = "M8"
air_off = "M9"
beam_off = "M105"
end_word = "M2"
line_ending = "crlf"
longest_line = 80
decimals = 3
most_lines_per_second = 250
pointer ="""
    laser = read(edited(PLATE, "^pointer =", more)).laser
    assert laser.beam_lag_s == pytest.approx((0.0004, 0.0004))
    assert laser.play_mm == (0.02, 0.02)
    words = (laser.units_word, laser.feed_word, laser.work_offset, laser.air_on, laser.air_off)
    assert words == ("G20", "G94", "G55", "M8", "M9")
    assert (laser.beam_off, laser.end_word, laser.line_ending) == ("M105", "M2", "crlf")
    assert (laser.longest_line, laser.decimals, laser.most_lines_per_s) == (80, 3, 250)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ('air_on = "M8"', "needs both words"),
        ('air_on = "M3"\nair_off = "M9"', "not read"),
        ('air_on = "M7"\nair_off = "M07"', "two meanings"),
        ('beam_off = "M3"', "not read"),
        ('feed_word = "G93"', "is not one of"),
        ("longest_line = 20", "from 50"),
        ('beam_lag = "0.4"', "unit"),
    ],
)
def test_words_that_cannot_be_are_refused(more, said):
    found = mistakes(edited(PLATE, "^pointer =", f"{more}\npointer ="))
    assert any(said in mistake.message for mistake in found), found
