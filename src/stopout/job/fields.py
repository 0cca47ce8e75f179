"""Fields in words: names in braces, for which each row of a series has its own text."""

from __future__ import annotations

import re
from collections.abc import Mapping

# {{ and }} stand for the braces themselves.
_PART = re.compile(r"\{\{|\}\}|\{([^{}]*)\}")


def names_in(words: str) -> tuple[str, ...]:
    """Return the fields that words ask for, each once, in order."""
    found = (match[1] for match in _PART.finditer(words) if match[1] is not None)
    return tuple(dict.fromkeys(name.strip() for name in found))


def filled(words: str, fields: Mapping[str, str]) -> str:
    """Put the fields' texts for their names.

    Raises
    ------
    KeyError
        With the name of a field that is not among them.
    """

    def text(match: re.Match[str]) -> str:
        return match[0][0] if match[1] is None else fields[match[1].strip()]

    return _PART.sub(text, words)
