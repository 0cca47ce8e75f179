"""Single words and comments of a program: a letter and a number, and text in parentheses."""

from __future__ import annotations

import math
import re
import textwrap
import unicodedata
from collections.abc import Iterator, Sequence

from stopout.errors import ProgramError
from stopout.values import COORDINATE_DECIMALS, Machine

# Millimetres in the unit that a word sets. ISO 6983-1 has G70 and G71 for inch and metric input;
# G20 and G21 are what most controls read for the same (common practice, no source).
MM_PER_UNIT = {"G21": 1.0, "G71": 1.0, "G20": 25.4, "G70": 25.4}
# X and Y are given to 0.1 um; of an inch, to a quarter of a micrometre.
_DECIMALS = {"G21": COORDINATE_DECIMALS, "G71": COORDINATE_DECIMALS, "G20": 5, "G70": 5}
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


def mm_per_unit(machine: Machine) -> float:
    """Return the length in mm of the unit that a machine's programs are written in."""
    return MM_PER_UNIT[machine.units_word]


def coordinate_decimals(machine: Machine) -> int:
    """Return how many decimals X and Y have in a machine's programs."""
    if machine.decimals is not None:
        return machine.decimals
    return _DECIMALS[machine.units_word]


def line_width(machine: Machine) -> int | None:
    """Return the most characters that a line of this machine may have, without its ending."""
    if machine.longest_line is None:
        return None
    return machine.longest_line - (1 if machine.line_ending == "crlf" else 0)


def first_words(machine: Machine) -> list[str]:
    """Return the lines before the first move: units, places, feed, offset, air, beam."""
    once = (machine.feed_word, machine.work_offset, machine.air_on)
    return [
        f"{machine.units_word} G90",
        *(word for word in once if word),
        f"{machine.beam_on} S0",
    ]


def last_words(machine: Machine) -> list[str]:
    """Return the lines after the last move: the beam's end first, `M5` in any case."""
    own = machine.beam_off if machine.beam_off and m_code(machine.beam_off) != 5 else ""
    return [word for word in (own, machine.air_off, "M5", machine.end_word) if word]


def m_code(word: str) -> int:
    """Return the number of an M word, -1 where it is none."""
    match = re.fullmatch(r"M0*(\d{1,4})", word)
    return -1 if match is None else int(match[1])


def comment_lines(title: Sequence[str], *, width: int | None = None) -> list[str]:
    """Put text into comments that no reader of a program can mistake for anything else.

    Only ASCII letters, digits, space, `.`, `-` and `_` remain: some controls act on other
    characters (`!`, `?`, `~`, `%`, `$`, `;`, a second parenthesis) wherever they stand, inside
    comments too (common practice, no source). Accents are dropped, a comma or colon becomes a
    dash, a few signs words, and each other character `_`. Long text goes on in a further
    comment, empty text is left out.
    """
    most = _COMMENT_WIDTH if width is None else min(_COMMENT_WIDTH, width - 2)
    return [f"({part})" for text in title for part in _parts(text, most)]


def _parts(text: str, width: int) -> Iterator[str]:
    plain = unicodedata.normalize("NFKD", text.translate(_LETTERS))
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    plain = re.sub(r"(?<=[0-9]),\s*(?=[-0-9])", " ", plain)
    plain = re.sub(r"[,;:](?=\s)", " -", plain).translate(_SIGNS)
    plain = re.sub(r"\s|[\x00-\x1f\x7f]", " ", plain)
    plain = re.sub(r"[^A-Za-z0-9 ._-]", "_", plain)
    yield from textwrap.wrap(plain, width) or ["_"] * bool(text.strip())


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
    code = m_code(beam_on)
    if code in (-1, 5):
        raise ProgramError(
            f"machine.beam_on is {beam_on!r}, which does not enable a beam; "
            "write one M word other than M5, such as M3"
        )
    return code
