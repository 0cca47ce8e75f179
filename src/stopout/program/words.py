"""Single words and comments of a program: a letter and a number, and text in parentheses."""

from __future__ import annotations

import math
import re
import textwrap
import unicodedata
from collections.abc import Iterator, Sequence

from stopout.errors import ProgramError

__all__ = [
    "beam_code",
    "comment_lines",
    "power_word_decimals",
    "trimmed",
]

# Design section 6: X and Y to 4 decimals, 0.1 um.
# Largest step of the S word, as a fraction of the strongest power in the program.
_POWER_STEP = 0.002
# Blocks longer than this are cut off by some controls (common practice, no source).
_COMMENT_WIDTH = 70
# Letters that do not come apart into a letter and its accent.
_LETTERS = str.maketrans(
    {"ß": "ss", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L"}
    | {"đ": "d", "Đ": "D", "þ": "th", "Þ": "Th", "ð": "d", "Ð": "D", "ı": "i"}
)
_SIGNS = str.maketrans(
    {"%": " percent", "&": " and ", "+": " plus ", "=": " is ", "@": " at ", "/": "-", "\\": "-"}
    | dict.fromkeys("–—‐‑−~", "-")
    | dict.fromkeys("()[]{}<>,;:|", " ")
    | dict.fromkeys("'’‘\"“”`´", "")
)


def comment_lines(title: Sequence[str]) -> list[str]:
    """Put text into comments that no reader of a program can mistake for anything else.

    Only ASCII letters, digits, space, `.`, `-` and `_` remain: some controls act on other
    characters (`!`, `?`, `~`, `%`, `$`, `;`, a second parenthesis) wherever they stand, inside
    comments too (common practice, no source). Accents are dropped, a comma or colon becomes a
    dash, a few signs words, and each other character `_`. Long text goes on in a further
    comment, empty text is left out.
    """
    return [f"({part})" for text in title for part in _parts(text)]


def _parts(text: str) -> Iterator[str]:
    plain = unicodedata.normalize("NFKD", text.translate(_LETTERS))
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    plain = re.sub(r"(?<=[0-9]),\s*(?=[-0-9])", " ", plain)
    plain = re.sub(r"[,;:](?=\s)", " -", plain).translate(_SIGNS)
    plain = re.sub(r"\s|[\x00-\x1f\x7f]", " ", plain)
    plain = re.sub(r"[^A-Za-z0-9 ._-]", "_", plain)
    yield from textwrap.wrap(plain, _COMMENT_WIDTH) or ["_"] * bool(text.strip())


def power_word_decimals(strongest: float) -> int:
    """Decimals of the S word for which one step is at most 0.2 % of the strongest S."""
    if strongest <= 0:
        return 0
    return min(9, max(0, math.ceil(-math.log10(_POWER_STEP * strongest) - 1e-9)))


def trimmed(units: int, decimals: int) -> str:
    """Write `units` x 10^-`decimals` without trailing zeros.

    >>> trimmed(3000, 1), trimmed(105, 2), trimmed(7, 0)
    ('300', '1.05', '7')
    """
    if decimals == 0:
        return str(units)
    return f"{units / 10**decimals:.{decimals}f}".rstrip("0").rstrip(".")


def beam_code(beam_on: str) -> int:
    """Return the number of the M word that enables the beam.

    Raises
    ------
    ProgramError
        If `beam_on` is not a single M word, or is `M5`, which always ends the beam.
    """
    match = re.fullmatch(r"M0*(\d{1,4})", beam_on)
    if match is None or int(match[1]) == 5:
        raise ProgramError(
            f"machine.beam_on is {beam_on!r}, which does not enable a beam; "
            "write one M word other than M5, such as M3"
        )
    return int(match[1])
