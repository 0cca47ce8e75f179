"""What defines the job file: keys, in tables, each with its form, meaning, default and home.

One definition serves all who ask: the reader with its mistakes, the record that a plan is made
from, the JSON Schema, the reference page and the controls of a page. It stands in `model.py` and
`machine_table.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import KW_ONLY, dataclass
from types import SimpleNamespace
from typing import Any

from stopout.jobs.forms import Amount, Form, leaf_of
from stopout.units import QUANTITIES

# The default of a key that has none.
REQUIRED: Any = object()


class GivenTable(SimpleNamespace):
    """A table as it was read: a key that is wrong or missing is not set."""


def found(table: Any, *keys: str) -> Any:
    """A value some tables down, None where anything on the way is missing or wrong."""
    for key in keys:
        table = getattr(table, key, None)
    return table


@dataclass(frozen=True, slots=True)
class Key:
    """A key of a table.

    Attributes
    ----------
    name : str
        As a job file writes it.
    default, example : Any
        As a job file would write them. `REQUIRED`: the key has to be given. None: it may be left
        out, and a table, the shop book or a rule says what then holds.
    form : Form
        What it takes, with its unit and its range.
    meaning : str
        What it says, for schema, reference page and help.
    find : str
        How a person finds the figure out, told where a required one is missing.
    into : str
        The field of the record, where it is not the key with its unit at the end.
    turn : callable or None
        From the form's value to the record's.
    """

    name: str
    default: Any
    form: Form
    meaning: str
    _: KW_ONLY
    example: Any = None
    find: str = ""
    into: str = ""
    turn: Callable[[Any], Any] | None = None

    @property
    def field(self) -> str:
        """The field of the record that holds its value."""
        leaf = leaf_of(self.form)
        end = QUANTITIES[leaf.quantity].name_end if isinstance(leaf, Amount) else ""
        return self.into or self.name + end

    @property
    def is_required(self) -> bool:
        """True for a key that has to be given."""
        return self.default is REQUIRED

    @property
    def sample(self) -> Any:
        """A value as a job file may give it."""
        return self.default if self.example is None else self.example


class KeyTable:
    """A table of the job file, or an array of tables: its keys, and the tables in it.

    `short` is the key that a text in its place gives. `record` makes what the job holds of the
    table; a table without one gives fields of what it lies in. `into` is the field there, its name
    where nothing else is said.
    """

    def __init__(
        self,
        name: str,
        meaning: str,
        *parts: Key | KeyTable,
        record: Callable[..., Any] | None = None,
        into: str = "",
        is_many: bool = False,
        is_required: bool = False,
        short: str = "",
    ) -> None:
        self.name, self.meaning, self.record, self.into = name, meaning, record, into or name
        self.is_many, self.is_required, self.short = is_many, is_required, short
        self.parts: dict[str, Key | KeyTable] = {part.name: part for part in parts}

    @property
    def keys(self) -> list[Key]:
        """Its own keys."""
        return [part for part in self.parts.values() if isinstance(part, Key)]

    @property
    def tables(self) -> list[KeyTable]:
        """The tables in it."""
        return [part for part in self.parts.values() if isinstance(part, KeyTable)]

    @property
    def needed(self) -> str:
        """The names of what has to be given, as a sentence lists them."""
        return ", ".join(part.name for part in self.parts.values() if part.is_required)

    def walk(self, at: str = "") -> Iterator[tuple[str, KeyTable]]:
        """Every table in it, each with its dotted name, those that lie deeper after their own."""
        for table in self.tables:
            yield f"{at}{table.name}", table
            yield from table.walk(f"{at}{table.name}.")

    def fields(self, given: GivenTable) -> dict[str, Any]:
        """The record's fields from a complete table; what is left out is left to the record."""
        made: dict[str, Any] = {}
        for key in self.keys:
            value = getattr(given, key.name)
            # A word such as "auto" is read as None and says something; nothing given says nothing.
            if value is not None or key.default is not None:
                made[key.field] = key.turn(value) if key.turn else value
        for table in self.tables:
            inner = getattr(given, table.name)
            if table.is_many:
                made[table.into] = tuple(map(table.made, inner))
            elif inner is not None:
                made |= {table.into: table.made(inner)} if table.record else table.fields(inner)
        return made

    def made(self, given: GivenTable) -> Any:
        """The record that a complete table makes."""
        assert self.record is not None
        return self.record(**self.fields(given))
