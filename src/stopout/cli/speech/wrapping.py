"""Words laid in lines as wide as the terminal, within bounds."""

from __future__ import annotations

import shutil
import textwrap

_NARROWEST = 60


def wrapped(text: str, *, widest: int, start: str = "", indent: int = 0) -> list[str]:
    """Return the lines of a text: the first begins with `start`, the others with blanks."""
    return textwrap.wrap(
        text,
        min(max(shutil.get_terminal_size().columns, _NARROWEST), widest),
        initial_indent=start,
        subsequent_indent=" " * indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
