"""What the tests of the house look at in each file of the package: it is parsed and walked once."""

from __future__ import annotations

import ast
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

__all__ = ["FILES", "ROOT", "Looked", "looked_at"]

ROOT = Path(__file__).parents[1] / "src" / "stopout"
FILES = sorted(path.relative_to(ROOT) for path in ROOT.rglob("*.py"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """A file's code, each thing with its line: the trees themselves are let go of.

    Attributes
    ----------
    imports : list of (int, str, tuple of str)
        A module that is imported anywhere in the file, inside functions too, and what is taken
        from it; none where the module itself is taken.
    calls, attributes : list of (int, str)
        Calls of a bare name; attributes as they are written, `np.random.default_rng`.
    functions : list of (int, str, int)
        Names, and lines besides the docstring.
    classes : list of str
        Names of classes that stand in the module itself.
    """

    imports: list = field(default_factory=list)
    calls: list = field(default_factory=list)
    attributes: list = field(default_factory=list)
    functions: list = field(default_factory=list)
    classes: list = field(default_factory=list)


@cache
def looked_at(file):
    """Return what stands in a file of the package, by its path there."""
    tree = ast.parse((ROOT / file).read_text(encoding="utf-8"), str(file))
    seen = Looked(classes=[node.name for node in tree.body if isinstance(node, ast.ClassDef)])
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            seen.imports.extend((node.lineno, alias.name, ()) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file}:{node.lineno} imports relatively; name the package"
            names = tuple(alias.name for alias in node.names)
            seen.imports.append((node.lineno, node.module, names))
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            seen.calls.append((node.lineno, node.func.id))
        elif isinstance(node, ast.Attribute):
            seen.attributes.append((node.lineno, _written(node)))
        elif isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            seen.functions.append((node.lineno, node.name, _lines_besides_docstring(node)))
    return seen


def _written(node):
    """An attribute with the names before it; what is no name is left out, `().buffer`."""
    if isinstance(node, ast.Attribute):
        return f"{_written(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else "()"


def _lines_besides_docstring(function):
    lines = function.end_lineno - function.lineno + 1
    if ast.get_docstring(function, clean=False) is None:
        return lines
    said = function.body[0]
    return lines - (said.end_lineno - said.lineno + 1)
