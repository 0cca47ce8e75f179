"""Width and height on the command line: one way of reading them for every option."""

from __future__ import annotations

import re

from stopout.errors import UnitError
from stopout.units import parse_length_mm

_SIDES = re.compile(r"\s*(.+?)\s*[x×,]\s*(.+?)\s*", re.IGNORECASE)
_PLAIN = re.compile(r"[0-9]+(?:\.[0-9]*)?|\.[0-9]+", re.ASCII)
_MOST_MM = 1e6


def parse_size_mm(option: str, written: str) -> tuple[float, float]:
    """Read width and height, such as 60x40, 60mm,40mm or 2.5in x 40mm; plain numbers are mm.

    Parameters
    ----------
    option : str
        Its name, for errors.
    written : str
        As typed.

    Raises
    ------
    UnitError
        If it is no size.

    Examples
    --------
    >>> parse_size_mm("--size", "60x40"), parse_size_mm("--size", "60mm,4cm")
    ((60.0, 40.0), (60.0, 40.0))
    """
    sides = _SIDES.fullmatch(written)
    if sides is None:
        raise UnitError(
            f"{option} {written!r} is no size; write width x height, such as 60x40 in mm or "
            "60mm,40mm"
        )
    try:
        width, height = (
            float(side) if _PLAIN.fullmatch(side) else parse_length_mm(side)
            for side in sides.groups()
        )
    except UnitError as error:
        raise UnitError(f"{option} {written!r}: {error}") from None
    if not (1e-9 < width < _MOST_MM and 1e-9 < height < _MOST_MM):
        raise UnitError(
            f"{option} {written!r}: both sides are to be more than nothing and less than 1 km"
        )
    return width, height
