"""What the commands that look at scans are given alike: resolution, tone and date."""

from __future__ import annotations

import datetime
from enum import StrEnum
from typing import Literal

from stopout.errors import StopoutError, UnitError
from stopout.units import parse_resolution_dpi

__all__ = ["PNG_START", "TONES", "Tone", "day_of", "scan_dpi"]

PNG_START = b"\x89PNG"
_DPI_RANGE = (50.0, 20_000.0)


class Tone(StrEnum):
    AUTO = "auto"
    PLAIN = "plain"
    LIGHT = "light"


TONES: dict[Tone, Literal["auto", "plain", "light"]] = {
    Tone.AUTO: "auto",
    Tone.PLAIN: "plain",
    Tone.LIGHT: "light",
}


def scan_dpi(text: str) -> float:
    """Return what `--resolution` says, in dots per inch."""
    try:
        dpi = parse_resolution_dpi(text)
    except UnitError as error:
        raise StopoutError(f"--resolution: {error}") from None
    low, high = _DPI_RANGE
    if not low <= dpi <= high:
        raise StopoutError(
            f"--resolution {text!r} is no resolution of a scan; it lies between {low:g} and "
            f'{high:g} dpi, such as "1200dpi"'
        )
    return dpi


def day_of(text: str | None) -> str:
    """Return what `--date` says, or today, as year-month-day."""
    if text is None:
        return datetime.date.today().isoformat()
    try:
        return datetime.date.fromisoformat(text).isoformat()
    except ValueError:
        raise StopoutError(
            f'--date {text!r}: a date is written year-month-day, such as "2026-11-20"'
        ) from None
