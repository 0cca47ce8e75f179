"""The options that name the shop book, or leave it alone."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from stopout.errors import BookError

BookOption = Annotated[
    Path | None,
    typer.Option(
        "--book",
        metavar="FILE",
        help="The shop book. [STOPOUT_BOOK, else the usual place for user data]",
    ),
]
NoBookOption = Annotated[
    bool, typer.Option("--no-book", help="Leave the shop book alone, as if there were none.")
]


def check_book(book: Path | None, *, no_book: bool) -> None:
    """Refuse a book that is named and left alone at once."""
    if book is not None and no_book:
        raise BookError("--book and --no-book exclude each other; give one of them")
