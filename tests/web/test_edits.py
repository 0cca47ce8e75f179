"""One key changed, every other line byte for byte as it was: held against the lines themselves."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from stopout.web.edits import Edit, EditError, applied

PLATE = (Path(__file__).parents[2] / "demo" / "winch-plate" / "winch-plate.toml").read_text()


def changed_lines(before, after):
    old, new = before.splitlines(), after.splitlines()
    return [line for line in new if line not in old], [line for line in old if line not in new]


@pytest.mark.parametrize(
    ("edit", "line"),
    [
        (Edit(("blank",), "width", "104 mm"), 'width = "104 mm"'),
        (Edit(("etch",), "depth", "0.08 mm"), 'depth = "0.08 mm"'),
        (Edit(("job",), "quantity", 7), "quantity = 7"),
    ],
)
def test_one_line_changes_and_its_comment_stays(edit, line):
    after = applied(PLATE, edit)
    new, old = changed_lines(PLATE, after)
    assert len(new) <= 1
    assert new[0].startswith(line)
    assert len(old) <= 1
    if "#" in old[0]:
        assert new[0].partition("#")[2] == old[0].partition("#")[2]
    assert len(after.splitlines()) == len(PLATE.splitlines())


def test_a_key_is_added_and_left_out_again():
    after = applied(PLATE, Edit(("clearing",), "passes", 2))
    assert tomllib.loads(after)["clearing"]["passes"] == 2
    assert tomllib.loads(applied(after, Edit(("clearing",), "passes", None))) == tomllib.loads(
        PLATE
    )
    assert applied(PLATE, Edit(("light",), "far", None)) == PLATE


def test_tables_and_elements_that_are_missing_are_made():
    after = applied(PLATE, Edit(("text", 0), "words", "Sluice"))
    assert tomllib.loads(after)["text"] == [{"words": "Sluice"}]
    more = applied(after, Edit(("text", 1), "words", "Gate"))
    assert [one["words"] for one in tomllib.loads(more)["text"]] == ["Sluice", "Gate"]
    assert tomllib.loads(applied(PLATE, Edit(("sheet",), "second_name", True)))["sheet"]
    assert applied(PLATE, Edit((), "x", None)) == PLATE


@pytest.mark.parametrize(
    ("text", "edit"),
    [
        ("[job\n", Edit(("job",), "name", "x")),
        ("job = 3\n", Edit(("job",), "name", "x")),
        ("[[text]]\nwords = 'a'\n", Edit(("text", 5), "words", "x")),
    ],
)
def test_what_the_file_does_not_allow_is_said(text, edit):
    with pytest.raises(EditError):
        applied(text, edit)
