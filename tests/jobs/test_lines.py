"""Lines of keys, held against the standard library's reader of TOML 1.0.

Each case is a text of which the lines are plain to see; that the paths are right is checked
against what `tomllib` makes of the text.
"""

from __future__ import annotations

import tomllib
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from stopout.jobs.lines import dotted, key_lines

TEXT = '''# comment with [brackets] and a = sign
title = "a # in a text, = and [x] too"  # comment
[blank]
width = "100 mm"
"quoted.key" = 1
'literal' = 2
[[blank.hole]]
at = [
  "8 mm",  # ] not the end
  '8 # mm',

  [1,
   2],
]
[[blank.hole]]
at = ["1 mm", "2 mm"]
[blank.hole.inner]
x = 1
[a . b]
c.d.e = 5
inline = { left = "4 mm", "bo}ttom" = { x = 1, y = [1, 2] } }
long = """
[not.a.table]
key = 1 \\"""
""""
after = 1979-05-27T07:32:00Z
lit = \'\'\'
x = 2\'\'\'
last = true'''


def test_every_kind_of_key_has_its_line() -> None:
    tomllib.loads(TEXT)
    lines = key_lines(TEXT)
    expected: dict[tuple[str | int, ...], int] = {
        ("title",): 2,
        ("blank",): 3,
        ("blank", "width"): 4,
        ("blank", "quoted.key"): 5,
        ("blank", "literal"): 6,
        ("blank", "hole"): 7,
        ("blank", "hole", 0): 7,
        ("blank", "hole", 0, "at"): 8,
        ("blank", "hole", 0, "at", 0): 9,
        ("blank", "hole", 0, "at", 1): 10,
        ("blank", "hole", 0, "at", 2): 12,
        ("blank", "hole", 0, "at", 2, 1): 13,
        ("blank", "hole", 1): 15,
        ("blank", "hole", 1, "at", 1): 16,
        ("blank", "hole", 1, "inner"): 17,
        ("blank", "hole", 1, "inner", "x"): 18,
        ("a",): 19,
        ("a", "b"): 19,
        ("a", "b", "c", "d", "e"): 20,
        ("a", "b", "inline", "left"): 21,
        ("a", "b", "inline", "bo}ttom", "y", 1): 21,
        ("a", "b", "long"): 22,
        ("a", "b", "after"): 26,
        ("a", "b", "lit"): 27,
        ("a", "b", "last"): 29,
    }
    assert {path: lines.exact(path) for path in expected} == expected
    assert lines.exact(("not",)) is None
    assert lines.exact(("a", "b", "x")) is None


def test_every_path_of_the_values_is_found() -> None:
    lines = key_lines(TEXT)

    def walk(value: Any, path: tuple[str | int, ...]) -> None:
        if path:
            assert lines.exact(path) is not None, path
        parts = value.items() if isinstance(value, dict) else enumerate(value)
        for key, part in parts:
            if isinstance(part, (dict, list)):
                walk(part, (*path, key))
            else:
                assert lines.exact((*path, key)) is not None, (*path, key)

    walk(tomllib.loads(TEXT), ())


def test_nothing_is_found_that_is_no_value() -> None:
    """Else a key that is read by mistake from within a header could have its line."""
    text = "a = 1\n[b]\nc = 2\n[[d]] # more = 3\ne = 4\n[[d]]\n[f.g]\nh = [5, 6]\n"
    lines = key_lines(text)
    assert set(lines._found) == {
        ("a",), ("b",), ("b", "c"), ("d",), ("d", 0), ("d", 0, "e"), ("d", 1), ("f", "g"),
        ("f", "g", "h"), ("f", "g", "h", 0), ("f", "g", "h", 1), ("f",),
    }  # fmt: skip


def test_what_is_left_out_is_placed_at_the_table_around_it() -> None:
    lines = key_lines("[a]\n[b]\nx = 1\n")
    assert lines.nearest(("b", "y")) == 2
    assert lines.nearest(("c", "y")) is None


def test_paths_are_written_with_elements_counted_from_one() -> None:
    assert dotted(("blank", "hole", 1, "diameter")) == "blank.hole[2].diameter"
    assert dotted(("a b", "c")) == '"a b".c'


@given(st.text(alphabet="ab=[]{}\"'#,.\n \\1", max_size=60))
def test_the_walk_ends_on_any_text_with_lines_inside_it(text: str) -> None:
    lines = key_lines(text)
    count = text.count("\n") + 1
    for line in range(1, count + 1):
        lines.on(line)
    assert lines.on(count + 1) == ()
