"""What a form is: it reads a value, or says in one sentence per fault what is wrong with it."""

from __future__ import annotations

import re
from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import Any

from stopout.jobs.lines import Path
from stopout.units import shown


class WrongValueError(Exception):
    """What is wrong with a value: (where inside it, sentence) for each fault."""

    def __init__(self, *faults: tuple[Path, str]) -> None:
        super().__init__(faults)
        self.faults = faults


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


def leaf_of(form: Form) -> Form:
    """The form of the single values that a form holds, in rows or beside a word."""
    while isinstance(inner := getattr(form, "inner", getattr(form, "each", None)), Form):
        form = inner
    return form


def items_of(value: Any, length: int, like: str) -> list[Any]:
    if not isinstance(value, list) or len(value) != length:
        raise WrongValueError(((), f"{shown(value)} is not {like}"))
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
