"""The data files: TOML, read once, each value checked for its unit, kind and source."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import MISSING, dataclass, field, fields
from functools import cache, wraps
from pathlib import Path
from typing import Any, ParamSpec, TypeVar, cast, get_args
from weakref import WeakKeyDictionary

from stopout.errors import TableError
from stopout.etching.records import Advice, Sourced
from stopout.values import Grade, Kind, Level

_DATA = Path(__file__).with_name("data")
_KINDS = get_args(Kind)
_GRADES = get_args(Grade)
_UNSOURCED = {"practice": "common practice, no source", "memory": "from memory, to be verified"}
_VALUE_KEYS = {"value", "unit", "kind", "source", "where", "grade", "low", "high", "note"}
# Kinds of work that a sentence may be meant for alone.
_WORKS = ("plate", "sign")
_ADVICE_KEYS = {"text", "kind", "source", "where", "wavelength_nm", "work"}
# Set while a shop's own file is laid over the data: which file a value comes from.
FILE_KEY = "_file"
# What the end of a field's name says is its unit, which in the file stands beside the value.
_UNIT = re.compile(
    r"_(g_per_(cm3|mol|l)|kj_per_(mol|g|min|l_k)|l_per_min|per_mol|degc|mm|um|h|s|k|l|a|v)$"
)
_LEVELS = tuple(level.value for level in Level)

_P = ParamSpec("_P")
_R = TypeVar("_R")
_Made = TypeVar("_Made")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, weakref_slot=True)
class Overlay:
    """A shop's own data, laid over the built-in ones: whole tables by name.

    `touched` holds the (table, id) that differ from what is built in.
    """

    file: str
    tables: Mapping[str, Mapping[str, Any]]
    touched: frozenset[tuple[str, str]] = field(default_factory=frozenset)


_overlay: ContextVar[Overlay | None] = ContextVar("overlay", default=None)


@contextmanager
def overlaid(overlay: Overlay | None) -> Iterator[None]:
    """Read the tables with a shop's own data laid over them, as long as this lasts."""
    token = _overlay.set(overlay)
    try:
        yield
    finally:
        _overlay.reset(token)


def cached(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """Remember results, apart for each overlay: what one shop measured is no other's."""
    plain: dict[Any, _R] = {}
    shops: WeakKeyDictionary[Overlay, dict[Any, _R]] = WeakKeyDictionary()

    @wraps(function)
    def remembered(*args: _P.args, **kwargs: _P.kwargs) -> _R:
        overlay = _overlay.get()
        store = plain if overlay is None else shops.setdefault(overlay, {})
        key = (args, tuple(sorted(kwargs.items())))
        if key not in store:
            store[key] = function(*args, **kwargs)
        return store[key]

    return remembered


def raw_table(name: str) -> Mapping[str, Any]:
    """One data file as TOML gives it, with the shop's own laid over it where there is one."""
    overlay = _overlay.get()
    if overlay is not None and name in overlay.tables:
        return overlay.tables[name]
    return builtin_table(name)


@cache
def builtin_table(name: str) -> Mapping[str, Any]:
    """One data file as TOML gives it; read once."""
    path = _DATA / f"{name}.toml"
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise TableError(f"{path.name}: cannot be read ({error.strerror})") from error
    except tomllib.TOMLDecodeError as error:
        raise TableError(f"{path.name}: not valid TOML: {error}") from error


def entries(table: str) -> tuple[str, ...]:
    """Ids of a table, in the order of its file."""
    return tuple(raw_table(table))


def place(table: str, ident: str) -> str:
    """Where an entry stands, for messages: the data file, or the shop's own."""
    overlay = _overlay.get()
    if overlay is not None and (table, ident) in overlay.touched:
        return f"{overlay.file}: {table}.{ident}"
    return f"{table}.toml: {ident}"


def source_words(ident: str, where: str) -> str:
    """A source in words.

    Raises
    ------
    TableError
        If sources.toml has no such entry.
    """
    found = raw_table("sources").get(ident)
    if not isinstance(found, Mapping) or not found.get("text"):
        raise TableError(f"{where}.source: {ident!r} is not an entry of sources.toml")
    return str(found["text"])


class TableEntry:
    """A table of the data with its place in the file, for messages; keys are taken one by one."""

    def __init__(self, data: Any, *, where: str) -> None:
        if not isinstance(data, Mapping):
            raise TableError(f"{where}: expected a table")
        self.data = data
        self.where = where

    def __contains__(self, key: str) -> bool:
        return key in self.data

    def text(self, key: str, default: str | None = None) -> str:
        """A string; the default where it is left out, else an error."""
        value = self.data.get(key, default)
        if not isinstance(value, str):
            raise TableError(f"{self.where}.{key}: missing; expected a string")
        return value

    def choice(self, key: str, allowed: tuple[str, ...]) -> str:
        """A string that is one of those allowed."""
        value = self.text(key)
        if value not in allowed:
            raise TableError(f"{self.where}.{key}: {value!r} is none of {', '.join(allowed)}")
        return value

    def truth(self, key: str, *, default: bool | None = None) -> bool:
        """True or false; the default where it is left out, else an error."""
        value = self.data.get(key, default)
        if not isinstance(value, bool):
            raise TableError(f"{self.where}.{key}: missing; expected true or false")
        return value

    def number(self, key: str) -> float:
        """A plain number: one whose source stands with its neighbours."""
        return _number(self.data.get(key), f"{self.where}.{key}")

    def numbers(self, key: str, count: int | None = None) -> tuple[float, ...]:
        """A list of plain numbers."""
        found = self.data.get(key)
        if not isinstance(found, list) or (count is not None and len(found) != count):
            raise TableError(f"{self.where}.{key}: expected a list of {count or 'some'} numbers")
        return tuple(_number(item, f"{self.where}.{key}") for item in found)

    def span(self, key: str) -> tuple[float, float]:
        """A range as two plain numbers, the low end first."""
        low, high = self.numbers(key, 2)
        if not low < high:
            raise TableError(f"{self.where}.{key}: the low end comes first")
        return low, high

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of strings, empty where it is left out."""
        found = self.data.get(key, [])
        if not isinstance(found, list) or not all(isinstance(item, str) for item in found):
            raise TableError(f"{self.where}.{key}: expected a list of strings")
        return tuple(found)

    def sub(self, key: str) -> TableEntry:
        """A table within this one."""
        if key not in self.data:
            raise TableError(f"{self.where}.{key}: missing")
        return TableEntry(self.data[key], where=f"{self.where}.{key}")

    def subs(self, key: str) -> tuple[TableEntry, ...]:
        """A list of tables, empty where it is left out."""
        found = self.data.get(key, [])
        if not isinstance(found, list):
            raise TableError(f"{self.where}.{key}: expected a list of tables")
        return tuple(TableEntry(x, where=f"{self.where}.{key}[{n}]") for n, x in enumerate(found))

    def sourced(self, key: str) -> Sourced:
        """A value with its unit, kind and source."""
        return self.sub(key).as_sourced()

    def maybe_sourced(self, key: str) -> Sourced | None:
        """Likewise, or None where it is left out."""
        return self.sourced(key) if key in self.data else None

    def as_sourced(self) -> Sourced:
        """This table as a value with its unit, kind and source."""
        self.only(_VALUE_KEYS)
        kind, source, ident = self.provenance()
        grade = self.data.get("grade")
        if grade is not None and grade not in _GRADES:
            raise TableError(f"{self.where}.grade: {grade!r} is none of {', '.join(_GRADES)}")
        value = self.number("value")
        low, high = (self.number(k) if k in self.data else None for k in ("low", "high"))
        if (low is not None and low > value) or (high is not None and high < value):
            raise TableError(f"{self.where}: the value {value:g} is outside its own range")
        return Sourced(
            value=value,
            unit=self.text("unit"),
            kind=kind,
            source=source,
            source_id=ident,
            grade=cast("Grade | None", grade),
            low=low,
            high=high,
            note=self.text("note", ""),
        )

    def advice(self, key: str) -> tuple[Advice, ...]:
        """A list of sentences with their kinds and sources."""
        return tuple(item.as_advice() for item in self.subs(key))

    def as_advice(self) -> Advice:
        """This table as a sentence with its kind and source."""
        self.only(_ADVICE_KEYS)
        kind, source, ident = self.provenance()
        return Advice(
            text=self.text("text"),
            kind=kind,
            source=source,
            source_id=ident,
            wavelength_nm=self.span("wavelength_nm") if "wavelength_nm" in self.data else None,
            work=self.choice("work", _WORKS) if "work" in self.data else "",
        )

    def record(self, made: type[_Made], **given: Any) -> _Made:
        """This table as a record: each field that is not given is taken by its type.

        Its key is the field's name, or that without `is_` and the unit at its end.
        """
        for part in fields(cast("Any", made)):
            key = part.name
            if key not in self.data:
                key = _UNIT.sub("", key.removeprefix("is_"))
            if part.name not in given and (key in self.data or part.default is MISSING):
                given[part.name] = _READ[str(part.type)](self, key)
        return made(**given)

    def provenance(self) -> tuple[Kind, str, str]:
        """Kind, source in words and source id.

        Raises
        ------
        TableError
            If the kind is missing, or the source is missing where the kind demands one.
        """
        kind = cast("Kind", self.choice("kind", _KINDS))
        where = self.text("where", "")
        ours = self.data.get(FILE_KEY, "")
        prefix = f"{ours}: " if ours else ""
        if ours and kind in ("measured", "given"):
            return kind, prefix + self._measured_where(where), ""
        if kind in _UNSOURCED:
            if "source" in self.data:
                raise TableError(f"{self.where}.source: a value of kind {kind} has none")
            note = self.text("note", "")
            return kind, prefix + _UNSOURCED[kind] + (f" ({note})" if note else ""), ""
        ident = self.data.get("source")
        if not isinstance(ident, str):
            raise TableError(f"{self.where}.source: missing; name an entry of sources.toml")
        words = prefix + source_words(ident, self.where)
        return kind, f"{words} ({where})" if where else words, ident

    def _measured_where(self, where: str) -> str:
        """The coupon or record that a shop's own number comes from."""
        if "source" in self.data or not where:
            raise TableError(
                f"{self.where}.where: a value of the shop's own has no source but says where it "
                'comes from, such as where = "coupon of 3 May"'
            )
        return where

    def only(self, allowed: set[str]) -> None:
        """Refuse keys that mean nothing here: a misspelt `low` must not vanish."""
        for key in self.data:
            if key not in allowed and key != FILE_KEY:
                raise TableError(f"{self.where}.{key}: not a key of this table")


def _number(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise TableError(f"{where}: missing; expected a number")
    return float(value)


# How a record's field of each type is taken from its table.
_READ: dict[str, Callable[[TableEntry, str], Any]] = {
    "Sourced": TableEntry.sourced,
    "Sourced | None": TableEntry.maybe_sourced,
    "tuple[Advice, ...]": TableEntry.advice,
    "tuple[str, ...]": TableEntry.texts,
    "tuple[float, float]": TableEntry.span,
    "str": TableEntry.text,
    "bool": TableEntry.truth,
    "float": TableEntry.number,
    "Grade": lambda data, key: data.choice(key, _GRADES),
    "Level": lambda data, key: Level(data.choice(key, _LEVELS)),
}
