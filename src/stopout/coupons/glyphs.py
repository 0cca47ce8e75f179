"""Letters of single beam lines: our own, for the labels of coupons.

Each glyph is a few polylines on a grid 4 wide and 6 high. The zero is struck through, so that it is
not taken for the letter O.
"""

from __future__ import annotations

from shapely.geometry import LineString, MultiLineString

from stopout.errors import CouponError

_UNIT = 6.0
_WIDTH = 4.0
_ADVANCE = 5.8

# Points are two digits, x then y; "/" lifts the beam.
_STROKES = {
    "0": "10 30 41 45 36 16 05 01 10 / 12 34",
    "1": "15 26 20 / 10 30",
    "2": "05 16 36 45 44 00 40",
    "3": "05 16 36 45 44 33 13 / 33 42 41 30 10 01",
    "4": "30 36 02 42",
    "5": "46 06 04 34 43 41 30 10 01",
    "6": "45 36 16 05 01 10 30 41 42 33 03",
    "7": "06 46 10",
    "8": "13 02 01 10 30 41 42 33 13 04 05 16 36 45 44 33",
    "9": "01 10 30 41 45 36 16 05 04 13 43",
    "A": "00 26 40 / 12 32",
    "B": "00 06 36 45 44 33 03 / 33 42 41 30 00",
    "C": "45 36 16 05 01 10 30 41",
    "D": "00 06 26 44 42 20 00",
    "E": "46 06 00 40 / 03 33",
    "F": "46 06 00 / 03 33",
    "G": "45 36 16 05 01 10 30 41 43 23",
    "H": "00 06 / 40 46 / 03 43",
    "I": "20 26 / 10 30 / 16 36",
    "J": "46 41 30 10 01",
    "K": "00 06 / 46 03 40",
    "L": "06 00 40",
    "M": "00 06 23 46 40",
    "N": "00 06 40 46",
    "O": "10 30 41 45 36 16 05 01 10",
    "P": "00 06 36 45 44 33 03",
    "Q": "10 30 41 45 36 16 05 01 10 / 22 40",
    "R": "00 06 36 45 44 33 03 / 23 40",
    "S": "45 36 16 05 04 13 33 42 41 30 10 01",
    "T": "06 46 / 26 20",
    "U": "06 01 10 30 41 46",
    "V": "06 20 46",
    "W": "06 10 23 30 46",
    "X": "00 46 / 06 40",
    "Y": "06 23 46 / 23 20",
    "Z": "06 46 00 40",
    "-": "13 33",
    ".": "20 21",
    " ": "",
}
LETTERS = frozenset(_STROKES)


def text_lines(text: str, *, at_mm: tuple[float, float], height_mm: float) -> MultiLineString:
    """The beam's centre lines of a text whose lower left corner is given.

    Parameters
    ----------
    text : str
        Capital letters, digits, full stop, hyphen and blanks.
    at_mm : (x, y)
        Lower left of the first letter's centre lines.
    height_mm : float
        Height of the letters between centre lines.

    Raises
    ------
    CouponError
        For a letter that there is no shape for.
    """
    scale, (left, bottom) = height_mm / _UNIT, at_mm
    lines = []
    for k, letter in enumerate(text):
        if letter not in _STROKES:
            raise CouponError(f"there is no shape for {letter!r}; use A to Z, 0 to 9, full stops")
        for stroke in filter(None, _STROKES[letter].split("/")):
            points = [
                (left + scale * (int(x) + k * _ADVANCE), bottom + scale * int(y))
                for x, y in map(tuple, stroke.split())
            ]
            lines.append(LineString(points))
    return MultiLineString(lines)


def text_size_mm(text: str, height_mm: float) -> tuple[float, float]:
    """Width and height between centre lines of a text in one line."""
    width = (max(len(text) - 1, 0) * _ADVANCE + _WIDTH) * height_mm / _UNIT
    return (width, height_mm)
