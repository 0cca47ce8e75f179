"""The options that name the shop book, or leave it alone."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["BookOption", "NoBookOption"]

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
