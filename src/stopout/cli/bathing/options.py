"""Options of `stopout bath` as quantities, each fault told with the option's name."""

from __future__ import annotations

import math
from collections.abc import Callable

from stopout.errors import PlanError, StopoutError, UnitError
from stopout.units import parse_strength

__all__ = [
    "count",
    "maybe",
    "nought_or",
    "parsed",
    "plain",
    "positive",
    "strength_of",
]


def strength_of(name: str, written: str) -> tuple[float, str]:
    """A strength, kept in the unit that was written."""
    try:
        value, unit = parse_strength(written)
    except UnitError as error:
        raise UnitError(f"{name}: {error}") from None
    if not 0.0 <= value < 1e4:
        raise UnitError(f"{name}: {written} is no strength; give it as 100g/L, 10% or 40degBe")
    return value, unit


def maybe(name: str, written: str | None, parse: Callable[[object], float]) -> float | None:
    """A quantity above nothing, or None where the option is left out."""
    return None if written is None else positive(name, written, parse)


def nought_or(name: str, written: str | None, parse: Callable[[object], float]) -> float:
    """A quantity of nought or more; nought where the option is left out."""
    if written is None or parsed(name, written, parse) == 0.0:
        return 0.0
    return positive(name, written, parse)


def positive(name: str, written: str, parse: Callable[[object], float]) -> float:
    """A quantity above nothing."""
    value = parsed(name, written, parse)
    if value <= 1e-9:
        raise UnitError(f"{name}: {written} is not possible; give more than nothing")
    if value >= 1e9:
        raise UnitError(f"{name}: {written} is more than any shop has; check the number and unit")
    return value


def parsed(name: str, written: str, parse: Callable[[object], float]) -> float:
    """A quantity; what is wrong with it is told with the option's name."""
    try:
        return parse(written)
    except UnitError as error:
        raise UnitError(f"{name}: {error}") from None


def count(name: str, value: int, least: int) -> int:
    """A whole number from the least one on."""
    if not least <= value <= 100_000:
        raise StopoutError(f"{name} is {value}; give a whole number from {least} to 100000")
    return value


def plain(name: str, value: float | None, most: float) -> float | None:
    """A plain number above nothing; None where it is left out."""
    if value is not None and not (math.isfinite(value) and 0.0 < value <= most):
        raise PlanError(f"{name} is {value:g}; give more than 0, at most {most:g}")
    return value
