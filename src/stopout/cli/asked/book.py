"""The shop book that a run takes, or leaves alone."""

from __future__ import annotations

from pathlib import Path

from stopout.cli.asked.options import Given
from stopout.errors import BookError
from stopout.library.book import usual_book


def asked_book(given: Given) -> Path | None:
    """Return the book that is named, else the usual one; None where it is left alone.

    Raises
    ------
    BookError
        If one is named and left alone at once.
    """
    if given.book is not None and given.no_book:
        raise BookError("--book and --no-book exclude each other; give one of them")
    return None if given.no_book else given.book or usual_book()
