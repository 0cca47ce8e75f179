"""Values without a unit: numbers, counts, texts, switches, and lists of them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

from stopout.jobs.forms.form import (
    Bounded,
    Form,
    WrongValueError,
    is_number,
    items_of,
    list_schema,
    read_each,
)
from stopout.jobs.forms.near import meant
from stopout.units import format_number, shown


@dataclass(frozen=True, slots=True)
class Figure(Bounded):
    """A plain number: no unit, no quotes."""

    above: float = 0.0
    at_most: float = math.inf
    usual: tuple[float, float] | None = None

    def _written(self, end: float) -> str:
        return f"{end:g}"

    def read(self, value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            hint = value.strip() if isinstance(value, str) and is_number(value) else ""
            example = f"; write {hint}, without quotes" if hint else ", such as 1.5, without quotes"
            raise WrongValueError(f"{shown(value)} is not a plain number{example}")
        # Compared before it is made a float: a TOML integer may be too large for one.
        if not self.above < value <= min(self.at_most, 1e300):
            raise WrongValueError(f"must be {self.bounds()}, not {shown(value)}")
        return float(value)

    def bounds(self) -> str:
        """The bounds in words."""
        most = f" and at most {format_number(self.at_most)}" if self.at_most < math.inf else ""
        return f"above {format_number(self.above)}{most}"

    def schema(self) -> dict[str, Any]:
        schema: dict[str, Any] = {"type": "number", "exclusiveMinimum": self.above}
        if self.at_most < math.inf:
            schema["maximum"] = self.at_most
        return schema

    def words(self) -> str:
        return f"number, {self.bounds()}"


@dataclass(frozen=True, slots=True)
class Count(Bounded):
    """A whole number between two others."""

    at_most: int
    at_least: int = 1
    usual: tuple[int, int] | None = None

    def read(self, value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            whole = isinstance(value, str) and re.fullmatch(r"\s*[0-9]{1,9}\s*", value, re.ASCII)
            hint = f"; write {str(value).strip()}, without quotes" if whole else ", such as 1"
            raise WrongValueError(f"{shown(value)} is not a whole number{hint}")
        if not self.at_least <= value <= self.at_most:
            bounds = f"from {self.at_least} to {self.at_most}"
            raise WrongValueError(f"must be {bounds}, not {shown(value)}")
        return value

    def schema(self) -> dict[str, Any]:
        return {"type": "integer", "minimum": self.at_least, "maximum": self.at_most}

    def words(self) -> str:
        return f"whole number, {self.at_least} to {self.at_most}"


@dataclass(frozen=True, slots=True)
class GridForm(Form):
    """Two counts: columns and rows."""

    each: Count

    def read(self, value: Any) -> tuple[int, int]:
        columns, rows = read_each(
            items_of(value, 2, "a list of columns and rows, such as [6, 8]"), self.each.read
        )
        return columns, rows

    def schema(self) -> dict[str, Any]:
        return list_schema(self.each.schema(), 2)

    def words(self) -> str:
        return f"list of 2: {self.each.words()}"


@dataclass(frozen=True, slots=True)
class YesNo(Form):
    """true or false."""

    def read(self, value: Any) -> bool:
        if not isinstance(value, bool):
            sentence = f"{shown(value)} is not a yes or no; write true or false, without quotes"
            raise WrongValueError(sentence)
        return value

    def schema(self) -> dict[str, Any]:
        return {"type": "boolean"}

    def words(self) -> str:
        return "`true` or `false`"


@dataclass(frozen=True, slots=True)
class Switch(Form):
    """true, false, or one word."""

    word: str

    def read(self, value: Any) -> bool | str:
        if isinstance(value, bool) or value == self.word:
            found: bool | str = value
            return found
        raise WrongValueError(
            f"{shown(value)} is none of its words; write true or false, without quotes, or "
            f'"{self.word}"'
        )

    def schema(self) -> dict[str, Any]:
        return {"enum": [True, False, self.word]}

    def words(self) -> str:
        return f'`true`, `false` or `"{self.word}"`'


@dataclass(frozen=True, slots=True)
class OneOf(Form):
    """One word of a few."""

    choices: tuple[str, ...]

    def read(self, value: Any) -> str:
        if not isinstance(value, str) or value not in self.choices:
            near = meant(value, list(self.choices)) if isinstance(value, str) else ""
            listed = ", ".join(f'"{word}"' for word in self.choices)
            raise WrongValueError(f"{shown(value)} is not one of {listed}{near}")
        return value

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "enum": [*self.choices]}

    def words(self) -> str:
        return ", ".join(f'`"{word}"`' for word in self.choices)


@dataclass(frozen=True, slots=True)
class TextForm(Form):
    """A text on one line, or on `lines`; it must match `pattern`, which `like` puts in words.

    `instead` says of texts that end so what to do with them.
    """

    pattern: str = ""
    like: str = ""
    longest: int = 120
    kind: str = "text"
    lines: bool = False
    instead: tuple[tuple[str, str], ...] = ()

    def read(self, value: Any) -> str:
        like = f", {self.like}" if self.like else ""
        if not isinstance(value, str):
            raise WrongValueError(f'{shown(value)} is not a text{like}; write it in "quotes"')
        if not value.strip():
            raise WrongValueError(f"must not be empty{like}")
        if len(value) > self.longest:
            raise WrongValueError(f"must be at most {self.longest} characters, not {len(value)}")
        # Line ends would break a program's comment or a sheet's title, a NUL a file's name.
        plain = value.replace("\n", "") if self.lines else value
        if not plain.isprintable():
            raise WrongValueError(
                f"{shown(value)} holds a character that does not print; leave it out"
            )
        if self.pattern and not re.search(self.pattern, value):
            endings = (told for ending, told in self.instead if value.lower().endswith(ending))
            told = next(endings, f"write {self.like}")
            raise WrongValueError(f"{shown(value)} is not read; {told}")
        return value

    def schema(self) -> dict[str, Any]:
        schema: dict[str, Any] = {"type": "string", "minLength": 1, "maxLength": self.longest}
        if self.pattern:
            schema["pattern"] = self.pattern
        return schema

    def words(self) -> str:
        return self.kind


@dataclass(frozen=True, slots=True)
class Listed(Form):
    """A list of at most `longest` texts, maybe empty."""

    each: TextForm
    longest: int

    def read(self, value: Any) -> tuple[str, ...]:
        if not isinstance(value, list):
            hint = f"; write [{shown(value)}]" if isinstance(value, str) else ""
            raise WrongValueError(f"{shown(value)} is not a list of texts{hint}")
        if len(value) > self.longest:
            raise WrongValueError(f"must be at most {self.longest} texts, not {len(value)}")
        return tuple(read_each(value, self.each.read)) if value else ()

    def schema(self) -> dict[str, Any]:
        return {"type": "array", "items": self.each.schema(), "maxItems": self.longest}

    def words(self) -> str:
        return f"list of {self.each.words()}"


@dataclass(frozen=True, slots=True)
class AutoOr(Form):
    """A word that leaves the choice to the plan (read as None), or the inner form."""

    inner: Form
    word: str = "auto"

    def read(self, value: Any) -> Any:
        return None if value == self.word else self.inner.read(value)

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [{"const": self.word}, self.inner.schema()]}

    def words(self) -> str:
        return f'"{self.word}" or {self.inner.words()}'
