"""Where the shop book is: where told, else where the environment says, else among user data."""

from __future__ import annotations

import os
from pathlib import Path

BOOK_VARIABLE = "STOPOUT_BOOK"
_NAME = "shop-book.sqlite"


def book_path(told: Path | None = None) -> Path:
    """Return the shop book's place. Makes nothing.

    Parameters
    ----------
    told : Path, optional
        As given on the command line; it comes first.
    """
    if told is not None:
        return told
    if named := os.environ.get(BOOK_VARIABLE):
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_data_dir("stopout", appauthor=False)) / _NAME
