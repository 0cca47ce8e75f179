"""Hold TOML values against the models, table by table and key by key.

A model validated as a whole gives nothing where one of its keys is wrong. Here each key is
assigned on its own, so that what is right can still be held against the rest of the job and all
mistakes come out in one run.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cache
from typing import Any, get_args

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from stopout.errors import Mistake
from stopout.jobs.forms import meant, nearest_word
from stopout.jobs.lines import Lines, Path, dotted
from stopout.jobs.machine_table import HOW_TO_FIND, MachineTable
from stopout.jobs.model import JobFile, Table
from stopout.jobs.syntax import Source
from stopout.units import shown

__all__ = ["Found", "table_in", "validate"]

_MOST_HINTS = 100
# What a job that draws nothing must give, and the tables by which it draws without it.
_DRAWN = {((), "artwork"), (("artwork",), "file")}
_DRAWING = ("text", "line", "frame", "code")


@dataclass(slots=True)
class Found:
    """The tables as far as they could be read; a key that is wrong or missing is not set."""

    tables: JobFile
    mistakes: list[Mistake] = field(default_factory=list)


def validate(source: Source) -> Found:
    """Read every table of a job file.

    Parameters
    ----------
    source : Source
        The TOML values and the lines of their keys.

    Returns
    -------
    Found
        The tables and the mistakes. An attribute that could not be read is absent:
        `getattr(table, key, None)`.
    """
    reader = _Reader(source.lines, draws=any(key in source.values for key in _DRAWING))
    tables = reader.table(JobFile, source.values, ())
    assert isinstance(tables, JobFile)
    return Found(tables, reader.mistakes)


def table_in(info: FieldInfo) -> tuple[type[Table] | None, bool]:
    """The model of a field that is a table or an array of tables, and whether it is an array."""
    annotation = info.annotation
    for candidate in (annotation, *get_args(annotation)):
        if isinstance(candidate, type) and issubclass(candidate, Table):
            return candidate, getattr(annotation, "__origin__", None) is list
    return None, False


class _Reader:
    def __init__(self, lines: Lines, *, draws: bool) -> None:
        self.lines, self.draws = lines, draws
        self.mistakes: list[Mistake] = []
        self._hints = 0

    def table(self, model: type[Table], raw: dict[str, Any], at: Path) -> Table:
        """Read one table into an instance that lacks what is wrong or missing."""
        read = model.model_construct()
        strange = [key for key in raw if key not in model.model_fields]
        for key in strange:
            self._tell((*at, key), self._unknown(key, model, at))
        # A key that is only spelt wrong is not told a second time as missing.
        misspelt = {known for key in strange if (known := self._near(key, model))}
        for key, info in model.model_fields.items():
            inner, many = table_in(info)
            if key not in raw:
                self._left_out(read, key, info, at, tell=key not in misspelt)
            elif inner is None:
                self._assign(read, key, raw[key], (*at, key))
            elif many:
                self._array(read, key, raw[key], inner, (*at, key))
            elif isinstance(raw[key], dict):
                _set(read, key, self.table(inner, raw[key], (*at, key)))
            else:
                self._forget(read, key)
                self._tell((*at, key), f"{_thing(raw[key])} where the table [{key}] is due")
        return read

    def _array(self, read: Table, key: str, raw: Any, inner: type[Table], at: Path) -> None:
        header = f"[[{dotted(at)}]]"
        if isinstance(raw, dict):
            # Read as the one element it is meant to be, so that its own mistakes are told too.
            self._tell(at, f"is an array of tables; write {header}")
            _set(read, key, [self.table(inner, raw, at)])
        elif not isinstance(raw, list):
            self._forget(read, key)
            self._tell(at, f"{_thing(raw)} where {header} tables are due")
        else:
            elements = []
            for place, element in enumerate(raw):
                if isinstance(element, dict):
                    elements.append(self.table(inner, element, (*at, place)))
                else:
                    self._tell((*at, place), f"{_thing(element)} where a table is due")
            _set(read, key, elements)

    def _left_out(self, read: Table, key: str, info: FieldInfo, at: Path, *, tell: bool) -> None:
        inner, _ = table_in(info)
        if info.is_required() or ((at, key) in _DRAWN and not self.draws):
            self._forget(read, key)
            if tell:
                what = f"the table [{key}] is missing" if inner else "is missing"
                # Another machine's figure would only be pasted.
                find = HOW_TO_FIND.get(key) if isinstance(read, MachineTable) else None
                self._tell((*at, key), f"{what}; {find or _example(key, info, inner)}")
        elif inner is None and info.default is not None:
            self._assign(read, key, info.default, (*at, key))

    def _assign(self, read: Table, key: str, value: Any, at: Path) -> None:
        try:
            setattr(read, key, value)
        except ValidationError as error:
            self._forget(read, key)
            for fault in error.errors(include_url=False, include_input=False):
                if fault["type"] == "form":
                    for inside, sentence in fault["ctx"]["faults"]:
                        self._tell((*at, *inside), sentence)
                else:
                    self._tell(at, _sentence(fault["type"], fault.get("ctx", {}), value))

    def _forget(self, read: Table, key: str) -> None:
        read.__dict__.pop(key, None)

    def _unknown(self, key: str, model: type[Table], at: Path) -> str:
        near = self._near(key, model)
        hint = f"; did you mean {near}?" if near else "; leave it out"
        homes = _homes().get(key, [])
        if not at:
            hint = f"; it belongs in {' or '.join(homes)}" if homes else hint
            return f"is not a table of a job file{hint}"
        here = "[" + ".".join(part for part in at if isinstance(part, str)) + "]"
        # A key that is at home elsewhere has slipped into the wrong table.
        hint = f"; it belongs in {' or '.join(homes)}" if homes else hint
        return f"is not a key of {here}{hint}"

    def _near(self, key: str, model: type[Table]) -> str:
        # A key that is at home in another table is not a misspelling of one here.
        if key in _homes():
            return ""
        # Looking for near spellings is slow; a file with this many strange keys is no job file.
        self._hints += 1
        return nearest_word(key, list(model.model_fields)) if self._hints <= _MOST_HINTS else ""

    def _tell(self, at: Path, sentence: str) -> None:
        line = self.lines.nearest(at)
        self.mistakes.append(Mistake(field=dotted(at), message=sentence, line=line))


def _set(read: Table, key: str, value: Any) -> None:
    """Set a table that is validated already, perhaps incomplete."""
    read.__dict__[key] = value


@cache
def _homes() -> dict[str, list[str]]:
    """The tables in which each key is at home."""
    homes: dict[str, list[str]] = {}

    def walk(model: type[Table], at: str) -> None:
        for key, info in model.model_fields.items():
            inner, _ = table_in(info)
            if inner is None:
                homes.setdefault(key, []).append(f"[{at}]")
            else:
                walk(inner, f"{at}.{key}" if at else key)

    walk(JobFile, "")
    return homes


def _example(key: str, info: FieldInfo, inner: type[Table] | None) -> str:
    if inner is not None:
        needed = [
            name
            for name, part in inner.model_fields.items()
            if part.is_required() or ((key,), name) in _DRAWN
        ]
        return f"write [{key}] with at least {', '.join(needed)}"
    return f"write {key} = {toml_text((info.examples or [''])[0])}"


def toml_text(value: Any) -> str:
    """Write an example as TOML would have it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return f"[{', '.join(toml_text(item) for item in value)}]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {toml_text(item)}" for key, item in value.items()) + " }"
    if isinstance(value, str):
        return f"'{value}'" if '"' in value else f'"{value}"'
    return str(value)


def _sentence(kind: str, context: dict[str, Any], value: Any) -> str:
    """The sentence for a fault that the validation library found itself."""
    if kind == "literal_error":
        words = re.findall(r"'([^']*)'", str(context.get("expected", "")))
        close = meant(value, words) if isinstance(value, str) else ""
        listed = ", ".join(f'"{word}"' for word in words)
        return f"{shown(value)} is not one of {listed}{close}"
    if kind == "bool_type":
        return f"{shown(value)} is not a yes or no; write true or false, without quotes"
    return f"{shown(value)} is not of the right kind"


def _thing(value: Any) -> str:
    return f"{shown(value)} stands"
