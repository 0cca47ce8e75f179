"""What the commands that look at scans are given alike: the scan, its resolution, tone and date."""

from __future__ import annotations

import datetime
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import Literal

from stopout.errors import CouponError, StopoutError, UnitError
from stopout.units import parse_resolution_dpi

__all__ = ["PNG_START", "TONES", "Tone", "day_of", "quietly", "scan_bytes", "scan_dpi"]

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


@contextmanager
def quietly() -> Iterator[None]:
    """Keep the libraries' own warnings off the terminal: what matters of them is said in words."""
    import numpy as np

    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        yield


def scan_bytes(scan: Path) -> bytes:
    """Return a scan's bytes.

    Raises
    ------
    CouponError
        If it is not there, no ordinary file, or too large.
    """
    from stopout.artwork.raster.scan import MOST_BYTES

    if not scan.exists():
        raise CouponError(f"{scan} is not there; check the name and the folder")
    if not scan.is_file():
        raise CouponError(f"{scan} is not an ordinary file; give the scan itself")
    if scan.stat().st_size > MOST_BYTES:
        raise CouponError(
            f"{scan} has {scan.stat().st_size / 1e6:.0f} MB; {MOST_BYTES / 1e6:.0f} MB is the most"
        )
    return scan.read_bytes()


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
