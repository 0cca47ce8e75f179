"""No number outside what can be measured is ever printed, also at the bounds of what is taken.

`tests/bench/bench_extremes.py` goes through every bound of every key; these are the worst of them.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from cli.extremes import NOT_MEASURED, faults, texts_of
from jobs.model_values import ROADS, as_toml, ends, given, keys, road_of
from stopout.errors import JobError, Mistake, PlanError
from stopout.jobs.forms import Amount, Count, Figure
from stopout.values import Finding, Level
from stopout.wording import measurable

WORST = [
    ("etch", "depth", "1 um"),
    ("etch", "rate", "0.001 um/min"),
    ("bath", "volume", "10000 L"),
    ("machine", "power", "1 mW"),
    ("clearing", "speed", "0.01 mm/s"),
    ("coat", 0, "thickness", "1000 um"),
    ("light", "far", 4),
    ("film", "growth", "1 mm"),
    ("etch", "current_density", "10 A/cm^2"),
]


@pytest.mark.parametrize("worst", WORST, ids=str)
def test_what_a_plan_says_can_be_measured(worst):
    *path, value = worst
    path = tuple(path)
    texts = texts_of(as_toml(given(ROADS[road_of(path)], path, value)))
    assert list(faults(texts)) == []


def test_every_number_of_the_job_model_has_ends_to_be_tried_at():
    numbers = [path for path, key in keys() if isinstance(key.form, Amount | Count | Figure)]
    assert len(numbers) > 40
    assert [path for path in numbers if not ends(dict(keys())[path])] == []


@pytest.mark.parametrize("road", ROADS)
def test_the_jobs_that_values_are_tried_in_are_planned(road):
    assert "refusal" not in texts_of(as_toml(ROADS[road]))


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("4.028e-05 L", "0.00004028 L"),
        ("1.23e+03 mm", "1230 mm"),
        ("-2e-04 mm", "-0.0002 mm"),
        ("8e+29 mm", "more than a million million mm"),
        ("1e-12 g", "less than a millionth g"),
        ("nan um", "an unknown number of um"),
        ("12345678901234.5 s", "more than a million million s"),
        ("of inf mm", "of more than a million million mm"),
        # What is no number, or stands as somebody wrote it, stays.
        ('"nan mm" is not a length', '"nan mm" is not a length'),
        ("inf.svg, nan-plan and info", "inf.svg, nan-plan and info"),
        ("M30, 1/e2 and 0.12 mm", "M30, 1/e2 and 0.12 mm"),
        ("sha256 12e34567890123ab", "sha256 12e34567890123ab"),
    ],
)
def test_a_number_for_a_person_is_one_that_can_be_measured(written, told):
    assert measurable(written) == told


def test_whatever_reaches_a_person_goes_through_it():
    finding = Finding(code="x", level=Level.NOTE, message="is 1e-05 mm", remedy="give 2e+20 mm")
    assert finding.message == "is 0.00001 mm"
    assert finding.remedy == "give more than a million million mm"
    assert str(PlanError("is 1e-05 mm")) == "is 0.00001 mm"
    error = JobError("nan.toml", (Mistake(field="etch.depth", message="is 1e-05 mm", line=3),))
    assert str(error) == "nan.toml:3: etch.depth: is 0.00001 mm"


def test_nothing_for_a_person_leaves_the_command_but_by_that_road():
    """Reports made of formats without it would print exponents: each has to use it."""
    cli = Path(__file__).parents[2] / "src" / "stopout" / "cli"
    reports = ["result_lines.py", "spacing.py", "bathing/answer.py"]
    reports += ["scanning/read_report.py", "scanning/inspect_report.py"]
    assert [name for name in reports if "measurable(" not in _plain((cli / name).read_text())] == []


def _plain(text):
    return text.replace("map(measurable", "measurable(")


@pytest.mark.parametrize(
    "text", ["nan mm", "is inf", "-Infinity", "8e29 mm", "4.028e-05 L", "1234567890123 mm"]
)
def test_what_cannot_be_measured_is_found(text):
    assert NOT_MEASURED.search(text)


@pytest.mark.parametrize("text", ["info", "0.12 mm", "20 mm/s", "finance", "1e", "M30", "1/e2"])
def test_words_and_plain_numbers_pass(text):
    assert not NOT_MEASURED.search(text)
