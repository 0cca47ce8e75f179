"""Every public name is described, and its description names the parameters that it has."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
import re
from dataclasses import is_dataclass
from pathlib import Path

import pytest

import stopout

PACKAGES = ["stopout"] + [
    f"stopout.{module.name}" for module in pkgutil.iter_modules(stopout.__path__)
]


def public(package):
    """(name, object) of everything in a package's `__all__` that the package itself made."""
    module = importlib.import_module(package)
    return [(name, getattr(module, name)) for name in getattr(module, "__all__", [])]


def described():
    """All public functions and classes with their own public methods, each once."""
    found = {}
    for package in PACKAGES:
        for name, value in public(package):
            if not (inspect.isfunction(value) or inspect.isclass(value)):
                continue
            if not value.__module__.startswith("stopout"):
                continue
            found[f"{package}.{name}"] = value
            if inspect.isclass(value):
                for method, made in vars(value).items():
                    if not method.startswith("_") and isinstance(made, property):
                        found[f"{package}.{name}.{method}"] = made.fget
                    elif not method.startswith("_") and inspect.isfunction(made):
                        found[f"{package}.{name}.{method}"] = made
    return found


DESCRIBED = described()


def section(text, title):
    """The lines of one section of a numpy-style docstring; None where there is none."""
    lines = inspect.cleandoc(text).splitlines()
    for k in range(len(lines) - 1):
        if lines[k].strip() == title and set(lines[k + 1].strip()) == {"-"}:
            rest = lines[k + 2 :]
            for j in range(len(rest) - 1):
                if rest[j] and not rest[j].startswith(" ") and set(rest[j + 1].strip()) == {"-"}:
                    return rest[:j]
            return rest
    return None


def names_in(lines):
    """Names that a Parameters section describes; `a, b : float` describes two."""
    names = []
    for line in lines:
        if line and not line.startswith(" "):
            head = re.split(r"\s:\s|:$", line, maxsplit=1)[0]
            names += [name.strip().lstrip("*") for name in head.split(",")]
    return names


@pytest.mark.parametrize("package", PACKAGES)
def test_every_package_says_what_it_is_about_and_has_what_it_lists(package):
    module = importlib.import_module(package)
    assert (module.__doc__ or "").strip()
    if package != "stopout":
        names = getattr(module, "__all__", [])
        assert len(set(names)) == len(names)
        missing = [name for name in names if not hasattr(module, name)]
        assert missing == []


@pytest.mark.parametrize("name", sorted(DESCRIBED))
def test_every_public_function_and_class_is_described(name):
    text = vars(DESCRIBED[name]).get("__doc__") or DESCRIBED[name].__doc__ or ""
    assert text.strip(), f"{name} has no docstring"
    if is_dataclass(DESCRIBED[name]):
        # A dataclass without words of its own gets its signature for a docstring.
        assert not text.startswith(DESCRIBED[name].__name__ + "("), f"{name} has no docstring"
    first = inspect.cleandoc(text).splitlines()[0]
    assert first.rstrip().endswith((".", ":", "?")), f"{name}: {first!r} is no sentence"


@pytest.mark.parametrize("name", sorted(n for n, v in DESCRIBED.items() if inspect.isfunction(v)))
def test_a_parameters_section_names_just_what_the_function_takes(name):
    lines = section(DESCRIBED[name].__doc__ or "", "Parameters")
    if lines is None:
        return
    takes = [p for p in inspect.signature(DESCRIBED[name]).parameters if p not in ("self", "cls")]
    assert sorted(names_in(lines)) == sorted(takes)


@pytest.mark.parametrize("name", sorted(n for n, v in DESCRIBED.items() if inspect.isclass(v)))
def test_an_attributes_section_names_only_what_the_class_has(name):
    lines = section(DESCRIBED[name].__doc__ or "", "Attributes")
    if lines is None:
        return
    has = set(getattr(DESCRIBED[name], "__annotations__", {})) | set(dir(DESCRIBED[name]))
    assert [n for n in names_in(lines) if n and n not in has] == []


def modules_with_examples():
    root = Path(stopout.__file__).parent
    for path in root.rglob("*.py"):
        if "    >>> " in path.read_text(encoding="utf-8"):
            yield ".".join(("stopout", *path.relative_to(root).with_suffix("").parts))


@pytest.mark.parametrize("name", sorted(modules_with_examples()))
def test_what_an_example_shows_is_what_it_does(name):
    done = doctest.testmod(importlib.import_module(name))
    assert done.attempted
    assert not done.failed


def test_the_reader_of_docstrings_reads_sections():
    text = """Do it.

    Parameters
    ----------
    a, b : float
        Two numbers: or so.
    *rest : int
        More.

    Returns
    -------
    x : float
    """
    assert names_in(section(text, "Parameters")) == ["a", "b", "rest"]
    assert names_in(section(text, "Returns")) == ["x"]
    assert section(text, "Raises") is None
