"""Which known word was meant."""

from __future__ import annotations

from difflib import get_close_matches


def meant(word: str, known: list[str]) -> str:
    """`; did you mean x?`, or nothing where no known word is close."""
    near = nearest_word(word, known)
    return f"; did you mean {near}?" if near else ""


def nearest_word(word: str, known: list[str]) -> str:
    """The known word that is spelt most like a word, empty where none is close."""
    close = get_close_matches(word.lower()[:60], known)
    return close[0] if close else ""
