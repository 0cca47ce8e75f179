"""Values that would spoil the work are told or refused; those that a shop has are neither."""

from __future__ import annotations

import re

import pytest

from jobs.job_texts import PLATE
from stopout.errors import JobError
from stopout.jobs import parse_job


def changed(*pairs):
    text = PLATE
    for pattern, row in pairs:
        text, count = re.subn(pattern, row, text, count=1, flags=re.MULTILINE)
        assert count == 1, pattern
    return text.encode()


def told(*pairs):
    """What is told of a changed job: a caution's message, or a refusal."""
    try:
        job = parse_job(changed(*pairs), file="job.toml")
    except JobError as error:
        return "refused: " + str(error)
    return " ".join(f.message for f in job.findings if f.code == "value-unusual")


def test_a_usual_job_is_told_nothing():
    assert told() == ""


# The first of each pair lies in what is usual, the second is told, the third is refused.
@pytest.mark.parametrize(
    ("key", "row", "values"),
    [
        ("blank.width", '^width = "100 mm"', ("150 mm", "1800 mm", "0.1 mm")),
        ("etch.depth", "^depth = .*", ("0.05 mm", "0.003 mm", "0.06 um")),
        ("machine.power", '^power = "5.5 W"', ("40 W", "500 W", "10000 W")),
        ("machine.power", '^power = "5.5 W"', ("1 W", "20 mW", "0.001 mW")),
        ("machine.acceleration", "^acceleration = .*", ("3000 mm/s^2", "5 mm/s^2", "0.1 mm/s^2")),
        ("machine.step", "^step = .*", ("80 /mm", "0.0002 mm", "0 mm")),
        ("etch.temperature", "^temperature = .*", ("104 degF", "2 degC", "400 degC")),
        ("clearing.speed", "^speed = .*", ("1200 mm/min", "0.1 mm/s", "0.001 mm/s")),
    ],
)
def test_what_is_usual_passes_what_is_not_is_told_and_the_impossible_refused(key, row, values):
    name = key.split(".")[1]
    usual, odd, wrong = (told((row, f'{name} = "{value}"')) for value in values)
    assert usual == ""
    assert odd.startswith(f"{key} is ")
    assert wrong.startswith("refused")
    assert key in wrong


@pytest.mark.parametrize(
    ("thickness", "says"), [("4.9 mm", "at most 1000 um"), ("0.001 um", "at least 1 um")]
)
def test_paint_of_millimetres_or_of_atoms_is_refused(thickness, says):
    row = f'thickness = "{thickness}"'
    found = told((r'^thickness = "25 um"', row))
    assert says in found


@pytest.mark.parametrize(
    ("pairs", "says"),
    [
        ([("^mark = .*", 'mark = "1 mm"')], "cannot be cleared by a spot"),
        ([("^mark = .*", 'mark = "0.001 mm"')], "cannot be cleared by a spot"),
        ([("^mark = .*", 'mark = "0.22 mm"')], "clearing.mark of 0.22 mm is unlike a spot"),
        ([('^width = "92 mm"', 'width = "92 in"')], "refused"),
        ([('^width = "92 mm"', 'width = "250 mm"')], "artwork.width of 250 mm is 2 times"),
        ([("^depth = .*", 'depth = "0.9 mm"')], "more than half of a blank"),
    ],
)
def test_values_that_cannot_be_so_together_are_told(pairs, says):
    assert says in told(*pairs)


def test_a_tolerance_of_a_fifteenth_of_the_piece_is_refused():
    text = changed(("^edge_tolerance = .*", 'edge_tolerance = "4 mm"'))
    with pytest.raises(JobError, match="twentieth"):
        parse_job(text, file="job.toml")


@pytest.mark.parametrize(
    ("row", "written", "meant"),
    [
        ("^step = .*", 'step = "80"', '"80 /mm"'),
        ("^step = .*", "step = 80", '"80 /mm"'),
        ("^step = .*", 'step = "0.0125"', '"0.0125 mm"'),
        ("^speed = .*", 'speed = "1200"', 'write "1200 mm/min"'),
        ("^speed = .*", 'speed = "20"', 'write "20 mm/s"'),
        ("^speed = .*", 'speed = "300"', 'write "300 mm/min" or "300 mm/s"'),
        ("^strength = .*", 'strength = "10"', 'write "10 %" or "10 g/L"'),
        ("^strength = .*", 'strength = "42"', 'write "42 %", "42 g/L" or "42 degBe"'),
        ("^strength = .*", 'strength = "100"', 'write "100 g/L"'),
        ("^temperature = .*", 'temperature = "40"', 'write "40 degC"'),
        ("^temperature = .*", 'temperature = "104"', 'write "104 degF"'),
        ('^thickness = "25 um"', 'thickness = "25"', 'write "25 um"'),
        ('^thickness = "25 um"', 'thickness = "0.025"', 'write "0.025 mm"'),
        ('^power = "30 %"', 'power = "30"', 'write "30 %"'),
    ],
)
def test_a_bare_number_is_refused_with_the_units_that_people_mean(row, written, meant):
    assert meant in told((row, written))


def test_steps_per_length_are_the_step_they_make():
    def step(value):
        return parse_job(changed(("^step = .*", f'step = "{value}"')), file="j").machine.step_mm

    assert step("80 /mm") == step("80 steps/mm") == step("0.0125 mm") == 0.0125
    assert step("2000/in") == pytest.approx(0.0127, rel=1e-12)
    assert step("800 / cm") == 0.0125


def test_what_is_usual_is_told_in_numbers():
    assert "usual is 1 to 20" in told((r"^passes = .*", "passes = 21"))
    assert told((r"^passes = .*", "passes = 20")) == ""
