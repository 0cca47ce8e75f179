"""[[text]], [[line]], [[frame]] and [[code]]: every key reaches the record, every slip is told."""

from __future__ import annotations

import re

import pytest

from jobs.job_texts import PLATE, SIGN
from stopout.errors import JobError
from stopout.job.setting import Arc, Fit, SetCode, SetFrame, SetLine, SetText
from stopout.jobs import parse_job

ALL = """
[series]
count = { number = 2 }
[[text]]
words = "Sluice {number}"
cap_height = "5 mm"
font = "Cinzel Bold"
at = ["30 mm", "20 mm"]
anchor = "top left"
align = "right"
letter_space = "0.2 mm"
line_space = "9 mm"
rotate = "15 deg"
arc = { radius = "30 mm", side = "inside", line = "cap" }
fit = { width = "40 mm", way = "space", least = "3 mm" }
as = "raised"

[[line]]
from = ["1 mm", "2 mm"]
to = ["9 mm", "2 mm"]
width = "0.4 mm"
as = "raised"

[[frame]]
width = "0.6 mm"
at = ["2 mm", "3 mm"]
size = ["50 mm", "20 mm"]
corner = "cut"
corner_size = "4 mm"
as = "raised"

[[code]]
kind = "code-128"
content = "{number}"
module = "0.3 mm"
height = "7 mm"
at = ["40 mm", "9 mm"]
anchor = "bottom"
as = "raised"
"""


def parsed(text):
    return parse_job(text.encode(), file="job.toml")


def mistakes(text):
    with pytest.raises(JobError) as caught:
        parsed(text)
    return {mistake.field: mistake.message for mistake in caught.value.mistakes}


def without_artwork(text):
    tables = text.split("\n[")
    return "\n[".join(table for table in tables if not table.startswith("artwork]"))


def test_every_key_reaches_the_record():
    plate = re.sub(r"(?m)^quantity.*\n", "", PLATE)
    setting = parsed(plate + ALL).setting
    assert setting.texts == (
        SetText(
            words="Sluice {number}",
            cap_height_mm=5.0,
            font="Cinzel Bold",
            at_mm=(30.0, 20.0),
            anchor="top left",
            align="right",
            letter_space_mm=0.2,
            line_space_mm=9.0,
            turn_deg=15.0,
            arc=Arc(radius_mm=30.0, side="inside", line="cap"),
            fit=Fit(width_mm=40.0, way="space", least_mm=3.0),
            becomes="raised",
        ),
    )
    assert setting.lines == (
        SetLine(from_mm=(1.0, 2.0), to_mm=(9.0, 2.0), width_mm=0.4, becomes="raised"),
    )
    assert setting.frames == (
        SetFrame(
            width_mm=0.6,
            at_mm=(2.0, 3.0),
            size_mm=(50.0, 20.0),
            corner="cut",
            corner_mm=4.0,
            becomes="raised",
        ),
    )
    assert setting.codes == (
        SetCode(
            content="{number}",
            kind="code-128",
            module_mm=0.3,
            height_mm=7.0,
            at_mm=(40.0, 9.0),
            anchor="bottom",
            becomes="raised",
        ),
    )


def test_a_job_that_sets_words_needs_no_artwork_and_one_that_sets_nothing_does():
    alone = without_artwork(PLATE)
    assert (
        parsed(alone + '\n[[text]]\nwords = "Sluice\\n4"\ncap_height = "5 mm"\n').artwork.file == ""
    )
    assert mistakes(alone) == {
        "artwork": "the table [artwork] is missing; write [artwork] with at least file"
    }
    assert mistakes(alone + "\n[artwork]\nthreshold = 'auto'\n") == {
        "artwork.file": 'is missing; write file = "winch-plate.svg"'
    }


@pytest.mark.parametrize(
    ("job", "text", "field", "words"),
    [
        (PLATE, '[[text]]\nwords = "A"\ncap_height = "5 mm"\nas = "gold"\n', "text[1].as", "coats"),
        (SIGN, '[[text]]\nwords = "A"\ncap_height = "5 mm"\nas = "red"\n', "text[1].as", "are"),
        (PLATE, "[[frame]]\nwidth = '1 mm'\n", "frame[1].margin", 'write margin = "2 mm"'),
        (PLATE, "[[frame]]\nat = ['1 mm', '1 mm']\n", "frame[1].size", "is missing"),
        (PLATE, "[[frame]]\nmargin = '1 mm'\nsize = ['1 mm', '1 mm']\n", "frame[1].margin", "excl"),
        (PLATE, "[[frame]]\nmargin = '1 mm'\ncorner = 'cut'\n", "frame[1].corner_size", "missing"),
        (PLATE, "[[code]]\ncontent='a'\nmodule = '1 mm'\nheight = '3 mm'", "code[1].height", "bar"),
        (PLATE, '[[text]]\nwords = "A\\u0007"\ncap_height = "5 mm"\n', "text[1].words", "print"),
        (PLATE, '[[text]]\nword = "A"\ncap_height = "5 mm"\n', "text[1].word", "words"),
        (PLATE, '[text]\nwords = "A"\ncap_height = "5 mm"\n', "text", "write [[text]]"),
    ],
)  # fmt: skip
def test_slips_are_told_with_their_key(job, text, field, words):
    told = mistakes(f"{job}\n{text}")
    assert words in told[field], told


def test_one_table_in_the_place_of_several_is_told_and_its_keys_too():
    told = dict(mistakes(PLATE + "\n[frame]\nat = ['1 mm', '1 mm']\n"))
    assert "write [[frame]]" in told["frame"]
    assert "is missing" in told["frame[1].size"]
