"""Words that every part says alike: a number with its noun."""

from __future__ import annotations

import re
from decimal import Decimal

# As the formats of the language write them: a sign and two digits at least after the e. What
# somebody wrote stands in quotes, and is repeated as it was written.
_EXPONENT = re.compile(r"(?<![\w.#\"'-])(-?)(\d+(?:\.\d+)?e[+-]\d{2,3})(?![\w-]|\.\d)")
_NO_NUMBER = re.compile(r"(?<![\w.\"'/-])-?(nan|inf)(?![\w\"':/-]|\.\w)")
_MINUS_NOTHING = re.compile(r"(?<![\w.)-])-(?=0(?:\.0+)?(?![\w.]))")
# Of so many digits without a unit may be a folder's name, which often is a date and a time.
_LONG = re.compile(
    r"(?<![\w.#\"'/-])(-?)(\d{13,})"
    r"(?:\.\d+(?![\w\"'/-]|\.\d)|(?=%|[ \u00a0](?:[^\W\d_]|[%\u00b0\u00d7\u00b1+])))"
)
# A millimetre has a million nanometres, and no shop's tank a million million of anything.
_LEAST, _MOST = Decimal("1e-6"), Decimal("1e12")
_TOO_MUCH, _TOO_LITTLE = "more than a million million", "less than a millionth"


def counted(number: int, noun: str, plural: str = "") -> str:
    """Return a number with its noun in the right form.

    Parameters
    ----------
    number : int
        How many.
    noun, plural : str
        The noun for one, and for several where an s does not do.

    Examples
    --------
    >>> counted(1, "opening"), counted(2, "opening"), counted(3, "piece of film", "pieces of film")
    ('1 opening', '2 openings', '3 pieces of film')
    """
    return f"{number} {noun if number == 1 else plural or noun + 's'}"


def width_words(mm: float) -> str:
    """Write a width to the micrometre; of less than can be told, that it is less.

    Examples
    --------
    >>> width_words(0.0874), width_words(0.0002)
    ('0.087 mm', 'under 0.001 mm')
    """
    return "under 0.001 mm" if mm < 0.001 else f"{mm:.3f} mm"


def begun(text: str) -> str:
    """Begin a sentence with a capital letter; a key of the job file keeps its spelling.

    Parameters
    ----------
    text : str
        The sentence.

    Examples
    --------
    >>> begun("the blank is small"), begun("machine.blank_at is not given")
    ('The blank is small', 'machine.blank_at is not given')
    """
    first = text.split(maxsplit=1)[0] if text.strip() else ""
    is_key = "_" in first or "." in first.rstrip(".")
    return text if is_key else text[:1].upper() + text[1:]


def measurable(text: str) -> str:
    """Write the numbers of a text for a person so that each could be measured.

    Parameters
    ----------
    text : str
        What is about to be told.

    Returns
    -------
    str
        Exponents written out; what is beyond a millionth or a million million of its unit, or no
        number at all, in words.

    Examples
    --------
    >>> measurable("4.5e-05 L, 1.23e+03 mm, 8e+29 mm, nan s, -0.00 mm")
    '0.000045 L, 1230 mm, more than a million million mm, an unknown number of s, 0.00 mm'
    """
    if "-0" in text:
        text = _MINUS_NOTHING.sub("", text)
    if "e" in text:
        text = _EXPONENT.sub(_written_out, text)
    if "nan" in text or "inf" in text:
        text = _NO_NUMBER.sub(_unknown, text)
    return _LONG.sub(rf"\g<1>{_TOO_MUCH}", text)


def _written_out(found: re.Match[str]) -> str:
    number = Decimal(found[2])
    if number and not _LEAST <= number < _MOST:
        return f"{found[1]}{_TOO_MUCH if number > 1 else _TOO_LITTLE}"
    plain = f"{number:f}"
    return found[1] + (plain.rstrip("0").rstrip(".") if "." in plain else plain)


def _unknown(found: re.Match[str]) -> str:
    return "an unknown number of" if found[1] == "nan" else f"{_TOO_MUCH}"
