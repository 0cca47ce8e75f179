"""What can be read at one look: how long a function and a module may be, and one name a class."""

from __future__ import annotations

import ast
from collections import defaultdict
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[1] / "src" / "stopout"
# Lines of a function besides its docstring, and of a module.
MOST_LINES, MOST_OF_MODULE = 60, 520


@cache
def trees():
    """Each module as its tree, by its path in the package."""
    return {
        path.relative_to(ROOT): ast.parse(path.read_text(encoding="utf-8"))
        for path in sorted(ROOT.rglob("*.py"))
    }


def lines_besides_docstring(function):
    lines = function.end_lineno - function.lineno + 1
    if ast.get_docstring(function, clean=False) is None:
        return lines
    said = function.body[0]
    return lines - (said.end_lineno - said.lineno + 1)


def test_no_function_is_longer_than_can_be_read_at_one_look():
    long = [
        f"{file}:{node.lineno}: {node.name} has {lines_besides_docstring(node)} lines"
        for file, tree in trees().items()
        for node in ast.walk(tree)
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))
        and lines_besides_docstring(node) > MOST_LINES
    ]
    assert long == []


def test_no_module_holds_more_than_one_idea_has_room_for():
    counted = {path: len(path.read_text("utf-8").splitlines()) for path in ROOT.rglob("*.py")}
    assert {path.name: n for path, n in counted.items() if n > MOST_OF_MODULE} == {}


def test_one_name_stands_for_one_class():
    """Names with an underscore are of their own module alone."""
    where = defaultdict(list)
    for file, tree in trees().items():
        for node in tree.body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                where[node.name].append(str(file))
    assert {name: files for name, files in where.items() if len(files) > 1} == {}
