"""How strong a bath is, and how much metal it holds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from stopout.errors import UnitError
from stopout.job.record import Strength
from stopout.jobs.forms.form import Form, WrongValueError, is_number
from stopout.units import format_number, parse_strength, quantity_pattern, shown


@dataclass(frozen=True, slots=True)
class StrengthForm(Form):
    """A bath's strength, kept in the unit that was written."""

    def read(self, value: Any) -> Strength:
        try:
            number, unit = parse_strength(value, bare=self._bare(value))
        except UnitError as error:
            raise WrongValueError(str(error)) from None
        # 145 degBe would be an infinite density; no bath comes near a density of 2.4 (85 degBe).
        most = {"g/L": 2000.0, "%": 100.0, "degBe": 85.0}[unit]
        if not 0 < number <= most:
            bounds = f"above 0 and at most {format_number(most)} {unit}"
            raise WrongValueError(f"must be {bounds}, not {shown(value)}")
        return Strength(value=number, unit=unit)

    def _bare(self, value: Any) -> str:
        """The units in which a bare number would be a usual strength (common practice)."""
        usual = {"%": (0.5, 60.0), "g/L": (5.0, 1500.0), "degBe": (30.0, 50.0)}
        if not is_number(str(value).strip()):
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
            raise WrongValueError(str(error)) from None
        if unit != "g/L":
            raise WrongValueError(
                f'is grams of metal per litre of bath: write "6 g/L", not {shown(value)}'
            )
        if not 0 <= number <= self.at_most:
            most = format_number(self.at_most)
            raise WrongValueError(f"must be from 0 to {most} g/L, not {shown(value)}")
        return number

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "pattern": quantity_pattern("strength", signed=False)}

    def words(self) -> str:
        return f"metal per litre (g/L), 0 to {format_number(self.at_most)} g/L"
