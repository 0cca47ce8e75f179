"""Numbers, codes and table texts in the words of the bench."""

from __future__ import annotations

import re

from stopout.etching import Advice
from stopout.units import format_duration

DEFER = (
    "The supplier's safety data sheet, local codes and licensed practice come before this sheet."
)

# Names of the symbols, UN GHS (Rev. 9), annex 1; from memory.
_PICTOGRAMS = {
    "GHS01": "exploding bomb",
    "GHS02": "flame",
    "GHS03": "flame over circle",
    "GHS04": "gas cylinder",
    "GHS05": "corrosion",
    "GHS06": "skull and crossbones",
    "GHS07": "exclamation mark",
    "GHS08": "health hazard",
    "GHS09": "environment",
}
# Register of ISO 7010, shortened; numbers as the hazards table gives them, wording from memory.
_SIGNS = {
    "M002": "read the instructions",
    "M004": "wear eye protection",
    "M009": "wear gloves",
    "M010": "wear protective clothing",
    "M013": "wear a face shield",
    "M016": "wear a mask",
    "M017": "wear respiratory protection",
    "M026": "wear an apron",
    "E003": "first aid",
    "E011": "eyewash",
    "E012": "safety shower",
    "F001": "fire extinguisher",
    "P002": "no smoking",
    "P003": "no open flame",
    "W001": "general warning",
    "W004": "laser beam",
    "W012": "electricity",
    "W016": "toxic material",
    "W021": "flammable material",
    "W023": "corrosive substance",
    "W028": "oxidising material",
}
# A lone minus, degrees and powers, as the data files and the plan spell them in ASCII.
_SPELLINGS = (
    (re.compile(r"\bdegC\b"), "°C"),
    (re.compile(r"\bdegF\b"), "°F"),
    (re.compile(r"\bdegBe\b"), "°Bé"),
    (re.compile(r"\bum\b"), "µm"),
    (re.compile(r"\b([mc]?m)\^?2\b"), r"\1²"),
    (re.compile(r"\b([mc]?m)\^?3\b"), r"\1³"),
    (re.compile(r"(?<=\d) x (?=\d)"), " × "),
    (re.compile(r"/s\^2\b"), "/s²"),
    (re.compile(r"(?<![\w.])-(?=\d)"), "−"),
)
_NARROW = re.compile(
    r"(?<=\d) (?=(?:mm|µm|nm|m|L|mL|g|kg|kJ|J|K|s|min|h|W|%|°C|°F|°Bé|ppm|dpi)(?:[²³/]|\b|$))"
)


def typeset(text: str) -> str:
    """Spell units as print does (degC as °C, um as µm) and keep a number with its unit."""
    for pattern, replacement in _SPELLINGS:
        text = pattern.sub(replacement, text)
    return _NARROW.sub("\u00a0", text)


def sentence(text: str) -> str:
    """Typeset a finding's message as a sentence: a capital first, a full stop last."""
    text = typeset(text.strip()).replace(",,", ",")
    if not text:
        return ""
    first = text.split()[0]
    # A key of the job file keeps its spelling.
    start = text[0] if "." in first or "_" in first else text[0].upper()
    return start + text[1:] + ("" if text[-1] in ".!?" else ".")


def capital(text: str) -> str:
    """Begin a name with a capital letter."""
    return text[:1].upper() + text[1:]


def coded(codes: tuple[str, ...]) -> str:
    """Pictogram or sign codes with their names: `GHS05 corrosion, GHS07 exclamation mark`."""
    return ", ".join(" ".join(pair).strip() for pair in sign_words(codes))


def sign_words(codes: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """Codes and names of pictograms and signs, each once; an unknown one has no name."""
    names = {**_PICTOGRAMS, **_SIGNS}
    return tuple((code, names.get(code, "")) for code in dict.fromkeys(codes))


def advised(line: Advice) -> str:
    """A table's sentence, marked where it was recalled and not looked up."""
    mark = " [not yet checked]" if line.kind == "memory" else ""
    return typeset(line.text) + mark


def significant(value: float, digits: int = 3) -> str:
    """Write a number to so many significant digits, never in powers of ten.

    >>> significant(0.23854), significant(871.52), significant(1234.0), significant(0.2)
    ('0.239', '872', '1234', '0.200')
    """
    if value == 0:
        return "0"
    whole = f"{abs(value):.{digits - 1}e}"
    exponent = int(whole.partition("e")[2])
    return f"{value:.{max(digits - 1 - exponent, 0)}f}"


def length(mm: float) -> str:
    """Write a length for a person: mm to three decimals, trailing zeros dropped.

    >>> length(0.06), length(100.0)
    ('0.06\\xa0mm', '100\\xa0mm')
    """
    text = f"{mm:.3f}".rstrip("0").rstrip(".")
    return f"{text}\u00a0mm"


def litres(volume_l: float) -> str:
    """Write a volume to three digits, with millilitres beside it below a litre."""
    text = f"{significant(volume_l)}\u00a0L"
    return text if volume_l >= 1 else f"{text} ({1000 * volume_l:.0f}\u00a0mL)"


def grams(mass_g: float) -> str:
    """Write a mass to three digits."""
    return f"{significant(mass_g)}\u00a0g"


def duration(seconds: float) -> str:
    """Say a time: 45 s, 12 min 30 s, 2 h 05 min, 7 days.

    >>> duration(45), duration(1598), duration(5393), duration(604800)
    ('45\\xa0s', '26\\xa0min 38\\xa0s', '1\\xa0h 30\\xa0min', '7\\xa0days')
    """
    whole = round(seconds)
    if whole >= 48 * 3600 and whole % 86400 == 0:
        return f"{whole // 86400}\u00a0days"
    text = format_duration(seconds).removesuffix(" 00 s").removesuffix(" 00 min")
    return re.sub(r"(?<=\d) (?=[a-z])", "\u00a0", text)


def roughly(seconds: float) -> str:
    """Say an uncertain time, in whole minutes from a minute and a half on.

    >>> roughly(40), roughly(1034), roughly(14081)
    ('40\xa0s', '17\xa0min', '3\xa0h 55\xa0min')
    """
    return duration(seconds if seconds < 90 else 60 * round(seconds / 60))


def span(low_s: float, high_s: float) -> str:
    """Say between what a time may lie; nothing where both ends would be said alike.

    >>> span(1034, 3060), span(1034, 1035)
    ('17\xa0min to 51\xa0min', '')
    """
    low, high = roughly(low_s), roughly(high_s)
    return "" if low == high else f"{low} to {high}"
