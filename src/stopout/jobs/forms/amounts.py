"""How much of a quantity: a number with its unit, in rows, and with its spread."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from stopout.errors import UnitError
from stopout.jobs.forms.form import (
    Bounded,
    Form,
    WrongValueError,
    is_number,
    items_of,
    list_schema,
    read_each,
)
from stopout.jobs.forms.plain import Figure
from stopout.units import QUANTITIES, format_number, parse_quantity, quantity_pattern, shown
from stopout.values import Measured

# The bound of all lengths: a slip of the unit is told here and not by an endless plan.
FARTHEST = "10000 mm"


@dataclass(frozen=True, slots=True)
class Amount(Bounded):
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
            raise WrongValueError(self._refused(value, str(error))) from None
        if broken := self._broken(number):
            raise WrongValueError(f"must be {broken}, not {shown(value)}")
        return number

    def _bare(self, value: Any) -> str:
        """The units with which a bare number would be a usual value here; else the likeliest."""
        units = self.bare.split("|") if self.bare else list(QUANTITIES[self.quantity].bare)
        text = str(value).strip()
        if self.usual is None or len(units) < 2 or not is_number(text) or len(text) > 30:
            return self.bare.split("|")[0]
        fits = [unit for unit in units if self.is_usual(self._end(f"{text} {unit}"))]
        # A length that is usual as it stands in mm is hardly one in inches.
        most = 1 if self.quantity in ("length", "temperature", "volume") else len(fits)
        return "|".join(fits[:most] or units[:1])

    def _refused(self, value: Any, sentence: str) -> str:
        """The sentence for what names no unit: no reading is offered that is out of range."""
        _, bare, offered = sentence.partition(" has no unit; write ")
        broken = [self._broken(self._end(one)) for one in re.findall(r'"([^"]+)"', offered)]
        if bare and all(broken):
            return f"must be {broken[0]}, and {shown(value)} has no unit"
        return sentence

    def _broken(self, number: float) -> str:
        """The bound that a number breaks, in words; empty where it breaks none."""
        if self.above and number <= self._end(self.above):
            return f"above {self.above}"
        if self.at_least and number < self._end(self.at_least):
            return f"at least {self.at_least}"
        if self.below and number >= self._end(self.below):
            return f"below {self.below}"
        if self.at_most and number > self._end(self.at_most):
            return f"at most {self.at_most}"
        return ""

    def _end(self, text: str) -> float:
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


ANY_MM = Amount("length", at_least=f"-{FARTHEST}", at_most=FARTHEST)


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
        items = items_of(value, self.length, f"a list of {self.length}, such as [{like}]")
        return tuple(read_each(items, self.each.read))

    def schema(self) -> dict[str, Any]:
        row = list_schema(self.each.schema(), self.length)
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
        if not isinstance(value, bool) and is_number(text) and len(text) <= 30 and float(text) >= 1:
            raise WrongValueError(
                f'{shown(value)} has no unit; write "{text} /mm" for steps per mm'
            )
        return self.each.read(value)

    def schema(self) -> dict[str, Any]:
        length = self.each.schema()["pattern"]
        return {"type": "string", "pattern": f"(?:{length})|^(?:{_PER.pattern})$"}

    def words(self) -> str:
        return f'{self.each.words()}; or steps per length, such as "80 /mm"'


@dataclass(frozen=True, slots=True)
class WithSpread(Form):
    """A value, or `[value, standard deviation]`; the deviation stays below `share` of the value."""

    each: Amount | Figure
    share: float = 1.0

    def read(self, value: Any) -> Measured:
        if not isinstance(value, list):
            return Measured(value=self.each.read(value))
        items = items_of(value, 2, "one value or [value, standard deviation]")
        centre, spread = read_each(items, self.each.read, self._deviation)
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
        x, y = read_each(
            items_of(value, 2, f"one value or a list of x and y: {like}"), self.each.read
        )
        return x, y

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [self.each.each.schema(), list_schema(self.each.schema(), 2)]}

    def words(self) -> str:
        return f"one or [x, y]: {self.each.words()}"
