"""The same sheet in other words: both systems of units, and numbers that can be measured."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from functools import partial
from typing import Any

from stopout.sheet.model import Picture, Result, Sheet, Sketch
from stopout.sheet.words import significant
from stopout.wording import measurable

_MM_PER_INCH = 25.4
_SIGN = "\u2212"
_NUMBER = rf"[{_SIGN}-]?\d+(?:\.\d+)?"
# "100 × 60 × 1.5 mm" and "2 to 4 mm" carry one unit for all their numbers.
_ROW = rf"({_NUMBER}(?:(?:\s×\s|\sto\s|\s±\s|,\s){_NUMBER})*)"
_LENGTH = re.compile(rf"(?<![\w.]){_ROW}\u00a0mm(?![\w²³/])")
_SMALL = re.compile(rf"(?<![\w.]){_ROW}\u00a0µm(?![\w²³/])")
_SPEED = re.compile(rf"(?<![\w.]){_ROW}\u00a0mm/s(?![\w²])")
_HEAT = re.compile(rf"(?<![\w.]){_ROW}\u00a0°C(?!\w)")

_PAIRS: tuple[tuple[re.Pattern[str], Callable[[float], float], str], ...] = (
    (_LENGTH, lambda mm: mm / _MM_PER_INCH, "in"),
    (_SMALL, lambda um: um / _MM_PER_INCH, "mil"),
    (_SPEED, lambda mm: mm / _MM_PER_INCH, "in/s"),
    (_HEAT, lambda c: 1.8 * c + 32, "°F"),
)


def with_both_units(sheet: Sheet) -> Sheet:
    """Return the sheet with every length, film, speed and temperature in both systems.

    Parameters
    ----------
    sheet : Sheet
        As it was laid out, in mm and °C.

    Returns
    -------
    Sheet
        mm with inches, µm with thousandths of an inch (mil), °C with °F, in brackets behind.
        Places to write in keep their unit: what is measured is measured in mm and °C.
    """
    return _reworded(sheet, _both)


def with_measurable_numbers(sheet: Sheet) -> Sheet:
    """Return the sheet with no number that could not be measured."""
    return _reworded(sheet, measurable)


def _reworded(sheet: Sheet, change: Callable[[str], str]) -> Sheet:
    return replace(
        sheet,
        card=_converted(sheet.card, change),
        blocks=_converted(sheet.blocks, change),
        annex=_converted(sheet.annex, change),
        wall=_converted(sheet.wall, change),
    )


def _converted(value: Any, change: Callable[[str], str]) -> Any:
    if isinstance(value, str):
        return change(value)
    if isinstance(value, tuple):
        return tuple(_converted(entry, change) for entry in value)
    # Drawings stay as they are, and what goes into a record keeps its units.
    if isinstance(value, Picture):
        return replace(value, words=change(value.words))
    if isinstance(value, Sketch):
        return replace(value, title=change(value.title), words=change(value.words))
    if isinstance(value, Result):
        return value
    if is_dataclass(value) and not isinstance(value, type):
        changed = {
            field.name: _converted(getattr(value, field.name), change)
            for field in fields(value)
            if field.name not in ("kind", "rank", "unit")
        }
        return replace(value, **changed)
    return value


def _both(text: str) -> str:
    for pattern, change, unit in _PAIRS:
        text = pattern.sub(partial(_beside, change=change, unit=unit), text)
    return text


def _beside(found: re.Match[str], *, change: Callable[[float], float], unit: str) -> str:
    row = re.sub(_NUMBER, lambda number: _turned(number.group(), change, unit), found.group(1))
    return f"{found.group()} ({row}\u00a0{unit})"


def _turned(text: str, change: Callable[[float], float], unit: str) -> str:
    value = change(float(text.replace(_SIGN, "-")))
    if unit == "°F":
        shown = f"{value:.0f}"
    else:
        # As fine as the millimetres are: a digit of theirs is worth four of the inch's.
        digits = len(text.replace(".", "").lstrip("0" + _SIGN + "-")) or 1
        shown = significant(value, max(3, digits)) if value else "0"
    return shown.replace("-", _SIGN)
