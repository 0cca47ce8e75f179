"""What a form is: it reads a value, or says in one sentence per fault what is wrong with it."""

from __future__ import annotations

import re
from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import Any

from stopout.jobs.lines import Path
from stopout.units import shown


class WrongValueError(Exception):
    """What is wrong with a value: a sentence for each fault, or (where inside it, sentence)."""

    def __init__(self, *faults: str | tuple[Path, str]) -> None:
        super().__init__(faults)
        self.faults = [((), fault) if isinstance(fault, str) else fault for fault in faults]


class Form(ABC):
    """Base of the forms; a subclass gives `read`, `schema` and `words`."""

    @abstractmethod
    def read(self, value: Any) -> Any:
        """The value as the job holds it, or `WrongValueError`."""

    @abstractmethod
    def schema(self) -> dict[str, Any]:
        """The JSON Schema of the texts, numbers, lists and tables that `read` takes."""

    @abstractmethod
    def words(self) -> str:
        """The form in a few words, for the reference page."""


class Bounded(Form):
    """A form of single numbers; `usual` is the range that a shop's values lie in."""

    __slots__ = ()
    usual: Any

    def is_usual(self, number: float) -> bool:
        """Tell whether a value lies in the usual range, its ends included."""
        return self.usual is None or self._end(self.usual[0]) <= number <= self._end(self.usual[1])

    def usual_words(self) -> str:
        """The usual range in words."""
        return "" if self.usual is None else "{} to {}".format(*map(self._written, self.usual))

    def _end(self, end: Any) -> float:
        """An end of the range as a number."""
        return float(end)

    def _written(self, end: Any) -> str:
        return str(end)


def leaf_of(form: Form) -> Form:
    """The form of the single values that a form holds, in rows or beside a word."""
    while isinstance(inner := getattr(form, "inner", getattr(form, "each", None)), Form):
        form = inner
    return form


def items_of(value: Any, length: int, like: str) -> list[Any]:
    if not isinstance(value, list) or len(value) != length:
        raise WrongValueError(f"{shown(value)} is not {like}")
    return value


def read_each(items: list[Any], *read: Callable[[Any], Any]) -> list[Any]:
    """Read every item, by its own reader or all by one, and tell all their faults together."""
    done: list[Any] = []
    faults: list[tuple[Path, str]] = []
    for place, item in enumerate(items):
        try:
            done.append(read[min(place, len(read) - 1)](item))
        except WrongValueError as wrong:
            faults += [((place, *at), sentence) for at, sentence in wrong.faults]
    if faults:
        raise WrongValueError(*faults)
    return done


def list_schema(each: dict[str, Any], length: int) -> dict[str, Any]:
    return {"type": "array", "items": each, "minItems": length, "maxItems": length}


def is_number(text: str) -> bool:
    return re.fullmatch(r"\s*[0-9]+(\.[0-9]+)?\s*", text, re.ASCII) is not None
