"""Hold TOML values against the definition, table by table and key by key.

Each key is read on its own, so that what is right can still be held against the rest of the job
where another is wrong, and all mistakes come out in one run.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import Any

from stopout.errors import Mistake
from stopout.jobs.forms import WrongValueError, nearest_word
from stopout.jobs.keys.definition import GivenTable, Key, KeyTable
from stopout.jobs.keys.model import JOB_FILE
from stopout.jobs.lines import Lines, Path, dotted, key_lines
from stopout.jobs.syntax import Source
from stopout.units import shown

_MOST_HINTS = 100
# What a job that draws nothing must give, and the tables by which it draws without it.
_DRAWN = {("artwork",), ("artwork", "file")}
_DRAWING = ("text", "line", "frame", "code")


@dataclass(slots=True)
class Found:
    """The tables as far as they could be read; a key that is wrong or missing is not set."""

    tables: GivenTable
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
    return Found(reader.table(JOB_FILE, source.values, ()), reader.mistakes)


def read_alone(table: KeyTable, values: dict[str, Any]) -> tuple[GivenTable, list[Mistake]]:
    """Read one table that stands in no file; return it with its mistakes."""
    reader = _Reader(key_lines(""), draws=False)
    return reader.table(table, values, ()), reader.mistakes


class _Reader:
    def __init__(self, lines: Lines, *, draws: bool) -> None:
        self.lines, self.draws = lines, draws
        self.mistakes: list[Mistake] = []
        self._hints = 0

    def table(self, table: KeyTable, raw: dict[str, Any], at: Path) -> GivenTable:
        """Read one table; what is wrong or missing is not set."""
        read = GivenTable()
        strange = [key for key in raw if key not in table.parts]
        for key in strange:
            self._tell((*at, key), self._unknown(key, table, at))
        # A key that is only spelt wrong is not told a second time as missing.
        misspelt = {known for key in strange if (known := self._near(key, table))}
        for name, part in table.parts.items():
            if name not in raw:
                self._left_out(read, part, (*at, name), tell=name not in misspelt)
            elif isinstance(part, Key):
                self._key(read, part, raw[name], (*at, name))
            elif part.is_many:
                self._array(read, part, raw[name], (*at, name))
            elif isinstance(raw[name], dict):
                setattr(read, name, self.table(part, raw[name], (*at, name)))
            else:
                self._tell((*at, name), f"{_thing(raw[name])} where the table [{name}] is due")
        return read

    def _array(self, read: GivenTable, table: KeyTable, raw: Any, at: Path) -> None:
        header = f"[[{dotted(at)}]]"
        if isinstance(raw, dict):
            # Read as the one element it is meant to be, so that its own mistakes are told too.
            self._tell(at, f"is an array of tables; write {header}")
            setattr(read, table.name, [self.table(table, raw, at)])
        elif not isinstance(raw, list):
            self._tell(at, f"{_thing(raw)} where {header} tables are due")
        else:
            elements = []
            for place, element in enumerate(raw):
                if isinstance(element, dict):
                    elements.append(self.table(table, element, (*at, place)))
                else:
                    self._tell((*at, place), f"{_thing(element)} where a table is due")
            setattr(read, table.name, elements)

    def _left_out(self, read: GivenTable, part: Key | KeyTable, at: Path, *, tell: bool) -> None:
        if part.is_required or (at in _DRAWN and not self.draws):
            if tell:
                self._tell(at, _missing(part))
        elif isinstance(part, KeyTable):
            setattr(read, part.name, [] if part.is_many else None)
        else:
            value = None if part.default is None else part.form.read(part.default)
            setattr(read, part.name, value)

    def _key(self, read: GivenTable, key: Key, value: Any, at: Path) -> None:
        try:
            setattr(read, key.name, key.form.read(value))
        except WrongValueError as wrong:
            for inside, sentence in wrong.faults:
                self._tell((*at, *inside), sentence)

    def _unknown(self, key: str, table: KeyTable, at: Path) -> str:
        near = self._near(key, table)
        hint = f"; did you mean {near}?" if near else "; leave it out"
        homes = _homes().get(key, [])
        if not at:
            hint = f"; it belongs in {' or '.join(homes)}" if homes else hint
            return f"is not a table of a job file{hint}"
        here = "[" + ".".join(part for part in at if isinstance(part, str)) + "]"
        # A key that is at home elsewhere has slipped into the wrong table.
        hint = f"; it belongs in {' or '.join(homes)}" if homes else hint
        return f"is not a key of {here}{hint}"

    def _near(self, key: str, table: KeyTable) -> str:
        # A key that is at home in another table is not a misspelling of one here.
        if key in _homes():
            return ""
        # Looking for near spellings is slow; a file with this many strange keys is no job file.
        self._hints += 1
        return nearest_word(key, list(table.parts)) if self._hints <= _MOST_HINTS else ""

    def _tell(self, at: Path, sentence: str) -> None:
        line = self.lines.nearest(at)
        self.mistakes.append(Mistake(field=dotted(at), message=sentence, line=line))


@cache
def _homes() -> dict[str, list[str]]:
    """The tables in which each key is at home."""
    homes: dict[str, list[str]] = {}
    for name, table in JOB_FILE.walk():
        for key in table.keys:
            homes.setdefault(key.name, []).append(f"[{name}]")
    return homes


def _missing(part: Key | KeyTable) -> str:
    if isinstance(part, KeyTable):
        lead = f"the table [{part.name}] is missing; write [{part.name}] with at least "
        return lead + (part.needed or "file")
    # Another machine's figure would only be pasted.
    return f"is missing; {part.find or f'write {part.name} = {toml_text(part.sample)}'}"


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


def _thing(value: Any) -> str:
    return f"{shown(value)} stands"
