"""One spelling, the British, in the documents and in all that the tool says."""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
OTHER = re.compile(
    r"\b(?:colors?|colored|gray(?:s|ish)?|centers?|centered|behaviors?|aluminum|fibers?|vapors?|"
    r"odors?|molds?|millimeters?|liters?|catalogs?|labeled|modeled|traveled|canceled|"
    r"\w+(?:nodiz|alvaniz|eutraliz|rganiz|ecogniz|xidiz|inimiz|aximiz|ummariz|ormaliz)\w*)\b",
    re.IGNORECASE,
)
# What is quoted stays as it stands: names that people type, words of file formats, titles.
QUOTED = re.compile(
    r"`[^`]*`|\"[^\"]*\"|CSS Color|Color (?:Module|Research)|^\| (?:goes by|refused) \|.*|"
    r"aluminum, lye, FeCl.*|POISON CENTER|Anodizing technology",
    re.MULTILINE,
)
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
# Rooms whose strings are words of a file format.
FORMATS = ("artwork", "pictures")


def test_the_pages_have_one_spelling():
    found = []
    for page in PAGES:
        text = re.sub(r"^```.*?^```$", "", page.read_text(encoding="utf-8"), flags=re.M | re.S)
        found += [(page.name, word) for word in OTHER.findall(QUOTED.sub("", text))]
    assert found == []


def said(tree):
    """The strings of several words that a module holds, less its docstrings."""
    docstrings = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef))
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        is_text = isinstance(node, ast.Constant) and isinstance(node.value, str)
        if is_text and id(node) not in docstrings and re.search(r"[a-z] [a-z]", node.value):
            yield node.value


def test_the_tool_speaks_with_the_same_spelling():
    source = ROOT / "src" / "stopout"
    found = [
        (path.name, word)
        for path in source.rglob("*.py")
        if path.relative_to(source).parts[0] not in FORMATS
        for text in said(ast.parse(path.read_text(encoding="utf-8")))
        for word in OTHER.findall(QUOTED.sub("", text))
    ]
    found += [
        (path.name, word)
        for path in source.rglob("*.toml")
        if path.name not in ("names.toml", "sources.toml")
        for line in path.read_text(encoding="utf-8").splitlines()
        for text in re.findall(r'text = "([^"]*)"', line)
        for word in OTHER.findall(text)
    ]
    assert found == []
