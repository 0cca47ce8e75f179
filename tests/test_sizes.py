"""What can be read at one look: how long a function and a module may be, and one name a class."""

from __future__ import annotations

from collections import defaultdict

from house_code import FILES, ROOT, looked_at

# Lines of a function besides its docstring, and of a module.
MOST_LINES, MOST_OF_MODULE = 60, 520


def test_no_function_is_longer_than_can_be_read_at_one_look():
    long = [
        f"{file}:{line}: {name} has {lines} lines"
        for file in FILES
        for line, name, lines in looked_at(file).functions
        if lines > MOST_LINES
    ]
    assert long == []


def test_no_module_holds_more_than_one_idea_has_room_for():
    counted = {str(file): len((ROOT / file).read_text("utf-8").splitlines()) for file in FILES}
    assert {file: n for file, n in counted.items() if n > MOST_OF_MODULE} == {}


def test_one_name_stands_for_one_class():
    """Names with an underscore are of their own module alone."""
    where = defaultdict(list)
    for file in FILES:
        for name in looked_at(file).classes:
            if not name.startswith("_"):
                where[name].append(str(file))
    assert {name: files for name, files in where.items() if len(files) > 1} == {}
