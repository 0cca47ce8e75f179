"""Font features that CSS asks for, as OpenType tags (CSS Fonts 4, sections 6 and 7)."""

from __future__ import annotations

import re
import unicodedata

_WORDS: dict[str, tuple[tuple[str, int], ...]] = {
    "small-caps": (("smcp", 1),),
    "all-small-caps": (("smcp", 1), ("c2sc", 1)),
    "petite-caps": (("pcap", 1),),
    "all-petite-caps": (("pcap", 1), ("c2pc", 1)),
    "unicase": (("unic", 1),),
    "titling-caps": (("titl", 1),),
    "common-ligatures": (("liga", 1), ("clig", 1)),
    "no-common-ligatures": (("liga", 0), ("clig", 0)),
    "discretionary-ligatures": (("dlig", 1),),
    "no-discretionary-ligatures": (("dlig", 0),),
    "historical-ligatures": (("hlig", 1),),
    "no-historical-ligatures": (("hlig", 0),),
    "contextual": (("calt", 1),),
    "no-contextual": (("calt", 0),),
    "lining-nums": (("lnum", 1),),
    "oldstyle-nums": (("onum", 1),),
    "proportional-nums": (("pnum", 1),),
    "tabular-nums": (("tnum", 1),),
    "diagonal-fractions": (("frac", 1),),
    "stacked-fractions": (("afrc", 1),),
    "ordinal": (("ordn", 1),),
    "slashed-zero": (("zero", 1),),
    "normal": (),
}
_LIGATURES = (("liga", 0), ("clig", 0), ("dlig", 0), ("hlig", 0), ("calt", 0))
_SETTING = re.compile(r"[\"'](.{4})[\"']\s*(\d+|on|off)?\Z")


def features_of(key: str, text: str) -> tuple[tuple[str, int], ...] | None:
    """Return the features of one property, None where its value is not read.

    Parameters
    ----------
    key : str
        ``font-kerning``, ``font-feature-settings``, ``font-variant`` or one of its parts.
    text : str
        The value.
    """
    text = text.strip()
    if key == "font-kerning":
        return (("kern", 0),) if text.lower() == "none" else ()
    if key == "font-feature-settings":
        return _settings(text)
    if text.lower() == "none":
        return _LIGATURES
    found: list[tuple[str, int]] = []
    for word in text.lower().split():
        if word not in _WORDS:
            return None
        found += _WORDS[word]
    return tuple(found)


def _settings(text: str) -> tuple[tuple[str, int], ...] | None:
    if text.lower() == "normal":
        return ()
    found = []
    for part in text.split(","):
        match = _SETTING.match(part.strip())
        if match is None:
            return None
        value = match[2] or "1"
        found.append((match[1], {"on": 1, "off": 0}.get(value) if value.isalpha() else int(value)))
    return tuple((tag, int(value or 0)) for tag, value in found)


def transformed(sign: str, before: str | None, how: str) -> str:
    """Change the case of a character (CSS Text 3, section 2.1); `before` is the one before it."""
    if how == "uppercase":
        return sign.upper()
    if how == "lowercase":
        return sign.lower()
    if how == "capitalize" and (before is None or not (before.isalnum() or before in "'\u2019")):
        return sign.title() if len(sign.title()) == 1 else sign.upper()
    return sign


def is_mixed(text: str) -> bool:
    """Whether a run holds words that run in both directions (UAX 9)."""
    ways = {unicodedata.bidirectional(sign) for sign in text}
    return bool(ways & {"R", "AL"}) and bool(ways & {"L", "EN", "AN"})


def is_turned(sign: str) -> bool:
    """Whether a character is of a script that runs from right to left."""
    return bool(sign) and unicodedata.bidirectional(sign) in ("R", "AL")
