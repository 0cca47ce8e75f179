"""Pieces that differ by a number or a row, and how several lie on one panel, as asked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter:
    """Numbers that count up: `number` of them from `start`, written with at least `digits`."""

    number: int
    start: int = 1
    step: int = 1
    digits: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Where the fields of the pieces come from: a file of rows, or a counter.

    `key` is the column that says each piece's number; None: a column called `number`, else the
    row's own place.
    """

    rows_file: str | None = None
    count: Counter | None = None
    key: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """How pieces lie side by side: on a sheet that is cut up afterwards, or loose in a fixture.

    `size_mm` None: no larger than the pieces need, up to the bed or the film. `count` is columns
    and rows, None for as many as there is room for (`fills`). `order` is the beam's way: `near`
    travels least, `apart` leaves every second piece for a second round, so that heat spreads.
    `has_marks` asks for short lines in the margin, to cut the pieces apart by.
    """

    size_mm: tuple[float, float] | None = None
    gap_mm: float = 3.0
    margin_mm: float = 5.0
    count: tuple[int, int] | None = None
    fills: bool = True
    is_loose: bool = False
    order: Literal["near", "apart"] = "near"
    has_marks: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece of a series: its number and the texts of its fields."""

    number: str
    fields: tuple[tuple[str, str], ...] = ()
