"""The forms that a value of the job file may take, each read strictly into what the job holds.

A form reads what TOML gave, describes itself for the JSON Schema and for the reference page,
and refuses with one sentence per fault. Attached to a field with `Annotated`, it is the field's
whole validation; the models in `model.py` only name the fields.
"""

from __future__ import annotations

import math
import re
from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from stopout.errors import UnitError
from stopout.job.record import Shows, Strength
from stopout.jobs.lines import Path
from stopout.units import (
    QUANTITIES,
    format_number,
    parse_quantity,
    parse_strength,
    quantity_pattern,
    shown,
)
from stopout.values import Measured

__all__ = [
    "FARTHEST",
    "Amount",
    "AutoOr",
    "AxesMeasured",
    "BathStrength",
    "Count",
    "Dissolved",
    "Figure",
    "Form",
    "MotorStep",
    "Named",
    "Place",
    "Row",
    "ShownPart",
    "Switch",
    "Text",
    "WithSpread",
    "WrongValueError",
    "meant",
    "nearest_word",
]


# The bound of all lengths: a slip of the unit is told here and not by an endless plan.
FARTHEST = "10000 mm"


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

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self._validate)

    def __get_pydantic_json_schema__(
        self, core: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return self.schema()

    def _validate(self, value: Any) -> Any:
        try:
            return self.read(value)
        except WrongValueError as wrong:
            raise PydanticCustomError(
                "form", "{sentence}", {"sentence": wrong.faults[0][1], "faults": wrong.faults}
            ) from None


# How an id of a table is written.
_ID = "[a-z0-9]+(-[a-z0-9]+)*"


@dataclass(frozen=True, slots=True)
class Amount(Form):
    """One quantity, within bounds given as texts of the same quantity.

    `above` is exclusive, `at_least` and `at_most` are inclusive, `below` is exclusive: what lies
    beyond is impossible and refused. `usual` is the range that a shop's values lie in; what lies
    outside is told. `bare` are the units that a bare number here probably has, separated by `|`.
    """

    quantity: str
    above: str = ""
    at_least: str = ""
    below: str = ""
    at_most: str = ""
    bare: str = ""
    usual: tuple[str, str] | None = None

    def read(self, value: Any) -> float:
        try:
            number, _ = parse_quantity(value, self.quantity, bare=self._bare(value))
        except UnitError as error:
            raise WrongValueError(((), str(error))) from None
        if broken := self._broken(number):
            raise WrongValueError(((), f"must be {broken}, not {shown(value)}"))
        return number

    def _bare(self, value: Any) -> str:
        """The units with which a bare number would be a usual value here; else the likeliest."""
        units = self.bare.split("|") if self.bare else list(QUANTITIES[self.quantity].bare)
        text = str(value).strip()
        if self.usual is None or len(units) < 2 or not _is_number(text) or len(text) > 30:
            return self.bare.split("|")[0]
        fits = [unit for unit in units if self.is_usual(self._bound(f"{text} {unit}"))]
        # A length that is usual as it stands in mm is hardly one in inches.
        most = 1 if self.quantity in ("length", "temperature", "volume") else len(fits)
        return "|".join(fits[:most] or units[:1])

    def is_usual(self, number: float) -> bool:
        """Tell whether a value lies in the usual range, its ends included."""
        if self.usual is None:
            return True
        low, high = map(self._bound, self.usual)
        return low <= number <= high

    def usual_words(self) -> str:
        """The usual range in words."""
        return "" if self.usual is None else f"{self.usual[0]} to {self.usual[1]}"

    def _broken(self, number: float) -> str:
        """The bound that a number breaks, in words; empty where it breaks none."""
        if self.above and number <= self._bound(self.above):
            return f"above {self.above}"
        if self.at_least and number < self._bound(self.at_least):
            return f"at least {self.at_least}"
        if self.below and number >= self._bound(self.below):
            return f"below {self.below}"
        if self.at_most and number > self._bound(self.at_most):
            return f"at most {self.at_most}"
        return ""

    def _bound(self, text: str) -> float:
        return parse_quantity(text, self.quantity)[0]

    def bounds(self) -> str:
        """The bounds in words; that of all lengths goes without saying."""
        parts = [
            f"above {self.above}" if self.above else "",
            f"at least {self.at_least}" if self.at_least not in ("", f"-{FARTHEST}") else "",
            f"below {self.below}" if self.below else "",
            f"at most {self.at_most}" if self.at_most not in ("", FARTHEST) else "",
        ]
        return " and ".join(part for part in parts if part)

    def schema(self) -> dict[str, Any]:
        signed = not (self.above or self.at_least) or "-" in self.above + self.at_least
        return {"type": "string", "pattern": quantity_pattern(self.quantity, signed=signed)}

    def words(self) -> str:
        bounds = self.bounds()
        return self.quantity + (f", {bounds}" if bounds else "")


@dataclass(frozen=True, slots=True)
class Row(Form):
    """A list of exactly `length` quantities; with `or_one`, one alone stands for all of them."""

    each: Amount
    length: int = 2
    or_one: bool = False

    def read(self, value: Any) -> tuple[float, ...]:
        if self.or_one and not isinstance(value, list):
            return (self.each.read(value),) * self.length
        like = ", ".join([f'"{QUANTITIES[self.each.quantity].example}"'] * self.length)
        items = _items(value, self.length, f"a list of {self.length}, such as [{like}]")
        return tuple(_each(items, self.each.read))

    def schema(self) -> dict[str, Any]:
        row = _list_schema(self.each.schema(), self.length)
        return {"anyOf": [self.each.schema(), row]} if self.or_one else row

    def words(self) -> str:
        row = f"list of {self.length}: {self.each.words()}"
        return f"one or {row}" if self.or_one else row


_PER = re.compile(
    r"((?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+))[ \u00a0]*(?:steps?[ ]?)?/[ ]?(mm|cm|in|inch)", re.ASCII
)
_PER_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4, "inch": 25.4}


@dataclass(frozen=True, slots=True)
class MotorStep(Form):
    """One motor step as a length, or as steps per length: `"80 /mm"`."""

    each: Amount

    def read(self, value: Any) -> float:
        if isinstance(value, str) and (match := _PER.fullmatch(value.strip())):
            number = float(match[1])
            step_mm = _PER_MM[match[2]] / number if number else 0.0
            return self.each.read(f"{format_number(step_mm, digits=12)} mm")
        text = str(value).strip()
        if (
            not isinstance(value, bool)
            and _is_number(text)
            and len(text) <= 30
            and float(text) >= 1
        ):
            raise WrongValueError(
                ((), f'{shown(value)} has no unit; write "{text} /mm" for steps per mm')
            )
        return self.each.read(value)

    def schema(self) -> dict[str, Any]:
        length = self.each.schema()["pattern"]
        return {"type": "string", "pattern": f"(?:{length})|^(?:{_PER.pattern})$"}

    def words(self) -> str:
        return f'{self.each.words()}; or steps per length, such as "80 /mm"'


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


@dataclass(frozen=True, slots=True)
class Figure(Form):
    """A plain number: no unit, no quotes."""

    above: float = 0.0
    at_most: float = math.inf
    usual: tuple[float, float] | None = None

    def is_usual(self, number: float) -> bool:
        """Tell whether a value lies in the usual range, its ends included."""
        return self.usual is None or self.usual[0] <= number <= self.usual[1]

    def usual_words(self) -> str:
        """The usual range in words."""
        return "" if self.usual is None else f"{self.usual[0]:g} to {self.usual[1]:g}"

    def read(self, value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            hint = value.strip() if isinstance(value, str) and _is_number(value) else ""
            example = f"; write {hint}, without quotes" if hint else ", such as 1.5, without quotes"
            raise WrongValueError(((), f"{shown(value)} is not a plain number{example}"))
        # Compared before it is made a float: a TOML integer may be too large for one.
        if not self.above < value <= min(self.at_most, 1e300):
            raise WrongValueError(((), f"must be {self.bounds()}, not {shown(value)}"))
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
class Switch(Form):
    """true, false, or one word."""

    word: str

    def read(self, value: Any) -> bool | str:
        if isinstance(value, bool) or value == self.word:
            found: bool | str = value
            return found
        raise WrongValueError(
            (
                (),
                f"{shown(value)} is none of its words; write true or false, without quotes, or "
                f'"{self.word}"',
            )
        )

    def schema(self) -> dict[str, Any]:
        return {"enum": [True, False, self.word]}

    def words(self) -> str:
        return f'`true`, `false` or `"{self.word}"`'


@dataclass(frozen=True, slots=True)
class Count(Form):
    """A whole number between two others."""

    at_most: int
    at_least: int = 1
    usual: tuple[int, int] | None = None

    def is_usual(self, number: int) -> bool:
        """Tell whether a value lies in the usual range, its ends included."""
        return self.usual is None or self.usual[0] <= number <= self.usual[1]

    def usual_words(self) -> str:
        """The usual range in words."""
        return "" if self.usual is None else f"{self.usual[0]} to {self.usual[1]}"

    def read(self, value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            whole = isinstance(value, str) and re.fullmatch(r"\s*[0-9]{1,9}\s*", value, re.ASCII)
            hint = f"; write {str(value).strip()}, without quotes" if whole else ", such as 1"
            raise WrongValueError(((), f"{shown(value)} is not a whole number{hint}"))
        if not self.at_least <= value <= self.at_most:
            bounds = f"from {self.at_least} to {self.at_most}"
            raise WrongValueError(((), f"must be {bounds}, not {shown(value)}"))
        return value

    def schema(self) -> dict[str, Any]:
        return {"type": "integer", "minimum": self.at_least, "maximum": self.at_most}

    def words(self) -> str:
        return f"whole number, {self.at_least} to {self.at_most}"


@dataclass(frozen=True, slots=True)
class Text(Form):
    """A text on one line. `pattern` is what it must match, `like` says so with an example."""

    pattern: str = ""
    like: str = ""
    longest: int = 120
    kind: str = "text"

    def read(self, value: Any) -> str:
        like = f", {self.like}" if self.like else ""
        if not isinstance(value, str):
            raise WrongValueError(((), f'{shown(value)} is not a text{like}; write it in "quotes"'))
        if not value.strip():
            raise WrongValueError(((), f"must not be empty{like}"))
        if len(value) > self.longest:
            raise WrongValueError(
                ((), f"must be at most {self.longest} characters, not {len(value)}")
            )
        # Line ends would break a program's comment or a sheet's title, a NUL a file's name.
        if not value.isprintable():
            raise WrongValueError(
                ((), f"{shown(value)} holds a character that does not print; leave it out")
            )
        if self.pattern and not re.search(self.pattern, value):
            raise WrongValueError(((), f"{shown(value)} is not read; write {self.like}"))
        return value

    def schema(self) -> dict[str, Any]:
        schema: dict[str, Any] = {"type": "string", "minLength": 1, "maxLength": self.longest}
        if self.pattern:
            schema["pattern"] = self.pattern
        return schema

    def words(self) -> str:
        return self.kind


@dataclass(frozen=True, slots=True)
class Named(Form):
    """An id of a table, or a name by which people know its entry; read as the id."""

    table: str

    def read(self, value: Any) -> str:
        # The tables are only read for a job, not for a help text.
        from stopout.tables import canonical, unknown

        word = Text(longest=60, like='a name or an id, such as "epoxy-two-part"').read(value)
        ident = canonical(self.table, word)
        # An id that only the shop's own tables know is looked up once they are read.
        if re.fullmatch(_ID, ident) is None:
            raise WrongValueError(((), str(unknown(self.table, word))))
        return ident

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "minLength": 1, "maxLength": 60}

    def words(self) -> str:
        return "id or name"


@dataclass(frozen=True, slots=True)
class Listed(Form):
    """A list of at most `longest` texts, maybe empty."""

    each: Text
    longest: int

    def read(self, value: Any) -> tuple[str, ...]:
        if not isinstance(value, list):
            hint = f"; write [{shown(value)}]" if isinstance(value, str) else ""
            raise WrongValueError(((), f"{shown(value)} is not a list of texts{hint}"))
        if len(value) > self.longest:
            raise WrongValueError(((), f"must be at most {self.longest} texts, not {len(value)}"))
        return tuple(_each(value, self.each.read)) if value else ()

    def schema(self) -> dict[str, Any]:
        return {"type": "array", "items": self.each.schema(), "maxItems": self.longest}

    def words(self) -> str:
        return f"list of {self.each.words()}"


@dataclass(frozen=True, slots=True)
class WithSpread(Form):
    """A value, or `[value, standard deviation]`; the deviation stays below `share` of the value."""

    each: Amount | Figure
    share: float = 1.0

    def read(self, value: Any) -> Measured:
        if not isinstance(value, list):
            return Measured(value=self.each.read(value))
        items = _items(value, 2, "one value or [value, standard deviation]")
        centre, spread = _each(items, self.each.read, self._deviation)
        if spread >= self.share * centre:
            share = "" if self.share == 1 else "half "
            sentence = f"the standard deviation must be less than {share}the value"
            raise WrongValueError(((1,), f"{sentence}, not {shown(items[1])} to {shown(items[0])}"))
        return Measured(value=centre, sd=spread)

    def _deviation(self, value: Any) -> float:
        """A deviation may be nought, which the value may not."""
        if value == 0 and isinstance(self.each, Figure) and not isinstance(value, bool):
            return 0.0
        if isinstance(self.each, Amount):
            return Amount(self.each.quantity, at_least=f"0 {self._unit()}").read(value)
        return self.each.read(value)

    def _unit(self) -> str:
        assert isinstance(self.each, Amount)
        return QUANTITIES[self.each.quantity].unit

    def schema(self) -> dict[str, Any]:
        if isinstance(self.each, Figure):
            deviation: dict[str, Any] = {"type": "number", "minimum": 0}
        else:
            deviation = Amount(self.each.quantity, at_least=f"0 {self._unit()}").schema()
        pair = {"type": "array", "prefixItems": [self.each.schema(), deviation], "items": False}
        return {"anyOf": [self.each.schema(), {**pair, "minItems": 2, "maxItems": 2}]}

    def words(self) -> str:
        return f"{self.each.words()}; or [value, standard deviation]"


@dataclass(frozen=True, slots=True)
class AxesMeasured(Form):
    """A round measure, or one per axis (x, y), each with or without its standard deviation."""

    each: WithSpread

    def read(self, value: Any) -> tuple[Measured, Measured]:
        if not isinstance(value, list):
            round_ = self.each.read(value)
            return round_, round_
        like = '["0.10 mm", "0.087 mm"] or [["0.10 mm", "0.005 mm"], ["0.087 mm", "0.004 mm"]]'
        x, y = _each(_items(value, 2, f"one value or a list of x and y: {like}"), self.each.read)
        return x, y

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [self.each.each.schema(), _list_schema(self.each.schema(), 2)]}

    def words(self) -> str:
        return f"one or [x, y]: {self.each.words()}"


@dataclass(frozen=True, slots=True)
class BathStrength(Form):
    """A bath's strength, kept in the unit that was written."""

    def read(self, value: Any) -> Strength:
        try:
            number, unit = parse_strength(value, bare=self._bare(value))
        except UnitError as error:
            raise WrongValueError(((), str(error))) from None
        # 145 degBe would be an infinite density; no bath comes near a density of 2.4 (85 degBe).
        most = {"g/L": 2000.0, "%": 100.0, "degBe": 85.0}[unit]
        if not 0 < number <= most:
            bounds = f"above 0 and at most {format_number(most)} {unit}"
            raise WrongValueError(((), f"must be {bounds}, not {shown(value)}"))
        return Strength(value=number, unit=unit)

    def _bare(self, value: Any) -> str:
        """The units in which a bare number would be a usual strength (common practice)."""
        usual = {"%": (0.5, 60.0), "g/L": (5.0, 1500.0), "degBe": (30.0, 50.0)}
        if not _is_number(str(value).strip()):
            return ""
        number = float(value)
        return "|".join(unit for unit, (low, high) in usual.items() if low <= number <= high)

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "pattern": quantity_pattern("strength", signed=False)}

    def words(self) -> str:
        return "strength (g/L, % by weight, degBe on the heavy scale), above 0"


@dataclass(frozen=True, slots=True)
class Dissolved(Form):
    """Metal dissolved in a bath, in grams per litre; may be nought."""

    at_most: float

    def read(self, value: Any) -> float:
        try:
            number, unit = parse_strength(value)
        except UnitError as error:
            raise WrongValueError(((), str(error))) from None
        if unit != "g/L":
            raise WrongValueError(
                ((), f'is grams of metal per litre of bath: write "6 g/L", not {shown(value)}')
            )
        if not 0 <= number <= self.at_most:
            most = format_number(self.at_most)
            raise WrongValueError(((), f"must be from 0 to {most} g/L, not {shown(value)}"))
        return number

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "pattern": quantity_pattern("strength", signed=False)}

    def words(self) -> str:
        return f"metal per litre (g/L), 0 to {format_number(self.at_most)} g/L"


@dataclass(frozen=True, slots=True)
class Place(Form):
    """`"centre"` (read as None) or `{ left = .., bottom = .. }`."""

    each: Amount

    def read(self, value: Any) -> tuple[float, float] | None:
        like = 'write "centre" or { left = "4 mm", bottom = "4 mm" }'
        if value == "centre":
            return None
        if not isinstance(value, dict):
            hint = '; write "centre"' if value in ("center", "middle") else f"; {like}"
            raise WrongValueError(((), f"{shown(value)} is not a position{hint}"))
        strange = [key for key in value if key not in ("left", "bottom")]
        faults: list[tuple[Path, str]] = [
            ((key,), f"is not a key of a position{meant(key, ['left', 'bottom'])}; {like}")
            for key in strange
        ]
        # A key that is only spelt wrong is not told a second time as missing.
        missing = [key for key in ("left", "bottom") if key not in value]
        faults += [((), f"{key} is missing; {like}") for key in missing if not strange]
        read: dict[str, float] = {}
        for key in ("left", "bottom"):
            if key in value:
                try:
                    read[key] = self.each.read(value[key])
                except WrongValueError as wrong:
                    faults += [((key, *at), sentence) for at, sentence in wrong.faults]
        if faults:
            raise WrongValueError(*faults)
        return read["left"], read["bottom"]

    def schema(self) -> dict[str, Any]:
        each = self.each.schema()
        table = {
            "type": "object",
            "properties": {"left": each, "bottom": each},
            "required": ["left", "bottom"],
            "additionalProperties": False,
        }
        return {"anyOf": [{"const": "centre"}, table]}

    def words(self) -> str:
        return '"centre" or { left, bottom }: lengths, as seen'


_SHOWN_LIKE = (
    'write "dark", "rest", { fill = "#e8dcb5" }, { id = "lettering" } or { class = "gold" }'
)
_SHOWN_BY = {
    "fill": r"^(#[0-9A-Fa-f]{6}|#[0-9A-Fa-f]{3}|[A-Za-z]{3,20})$",
    "id": r"^[^\s\"'<>&]{1,120}$",
    "class": r"^[^\s\"'<>&]{1,120}$",
}


@dataclass(frozen=True, slots=True)
class ShownPart(Form):
    """What a coat shows: `"dark"`, `"rest"`, or shapes chosen by fill, id or class."""

    def read(self, value: Any) -> Shows:
        if value == "dark":
            return Shows(kind="dark")
        if value == "rest":
            return Shows(kind="rest")
        if not isinstance(value, dict) or len(value) != 1:
            raise WrongValueError(
                ((), f"{shown(value)} is not what a coat can show; {_SHOWN_LIKE}")
            )
        ((kind, chosen),) = value.items()
        if kind not in _SHOWN_BY:
            raise WrongValueError(
                ((kind,), f"is not a way to choose{meant(kind, list(_SHOWN_BY))}; {_SHOWN_LIKE}")
            )
        if not isinstance(chosen, str) or re.search(_SHOWN_BY[kind], chosen) is None:
            raise WrongValueError(
                ((kind,), f"{shown(chosen)} is not read; {self._chosen_like(kind, chosen)}")
            )
        if kind != "fill":
            return Shows(kind=kind, value=chosen)
        from stopout.planning.signs.tints import plain_tint

        tint = plain_tint(chosen)
        if tint is None:
            raise WrongValueError(
                ((kind,), f"{shown(chosen)} is not read; {self._chosen_like(kind, chosen)}")
            )
        return Shows(kind=kind, value=tint)

    def _chosen_like(self, kind: str, chosen: Any) -> str:
        if kind != "fill":
            return f'write the {kind} of the artwork\'s shapes, one word, such as "lettering"'
        return 'write the fill as the artwork has it, such as "#e8dcb5", or a CSS colour name'

    def schema(self) -> dict[str, Any]:
        tables = [
            {
                "type": "object",
                "properties": {kind: {"type": "string", "pattern": pattern}},
                "required": [kind],
                "additionalProperties": False,
            }
            for kind, pattern in _SHOWN_BY.items()
        ]
        return {"anyOf": [{"enum": ["dark", "rest"]}, *tables]}

    def words(self) -> str:
        return '"dark", "rest", { fill = "#rrggbb" }, { id } or { class }'


def meant(word: str, known: list[str]) -> str:
    """`; did you mean x?`, or nothing where no known word is close."""
    near = nearest_word(word, known)
    return f"; did you mean {near}?" if near else ""


def nearest_word(word: str, known: list[str]) -> str:
    """The known word that is spelt most like a word, empty where none is close."""
    close = get_close_matches(word.lower()[:60], known, n=1, cutoff=0.6)
    return close[0] if close else ""


def _items(value: Any, length: int, like: str) -> list[Any]:
    if not isinstance(value, list) or len(value) != length:
        raise WrongValueError(((), f"{shown(value)} is not {like}"))
    return value


def _each(items: list[Any], *read: Callable[[Any], Any]) -> list[Any]:
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


def _list_schema(each: dict[str, Any], length: int) -> dict[str, Any]:
    return {"type": "array", "items": each, "minItems": length, "maxItems": length}


def _is_number(text: str) -> bool:
    return re.fullmatch(r"\s*[0-9]+(\.[0-9]+)?\s*", text, re.ASCII) is not None
