"""A plan on the terminal: the verdict first, at most fifteen lines, a stop last."""

from __future__ import annotations

import sys
import textwrap
from collections import Counter
from collections.abc import Iterable
from typing import TYPE_CHECKING

from stopout.cli.speech.help_page import page_width
from stopout.values import Level

if TYPE_CHECKING:
    from stopout.planning import Plan
    from stopout.planning.verdict import Told

# What fits a small terminal, and how wide a line is at most.
MOST_LINES = 15
_WIDEST = 100
_NARROWEST = 40
_LEVELS = {Level.STOP: "stop", Level.CAUTION: "caution", Level.NOTE: "note"}


def finding_lines(plan: Plan, *, room: int, show_all: bool) -> list[str]:
    """Return the findings to act on, gathered by thing, then a count of the rest.

    Parameters
    ----------
    plan : Plan
        With its verdict.
    room : int
        How many lines may be taken, the count of the rest included.
    show_all : bool
        All findings in full, whatever room they take.
    """
    verdict = plan.verdict
    if show_all:
        return [line for one in verdict.told for line in _wrapped(one, one.text)]
    lines: list[str] = []
    shown: list[Told] = []
    for one in verdict.lines:
        own = _wrapped(one, one.brief)
        if lines and len(lines) + len(own) > room - 1:
            break
        lines += own
        shown.append(one)
    rest = [one for one in verdict.told if one not in shown]
    return [*lines, *_counted(rest)]


def last_lines(plan: Plan) -> list[str]:
    """Return the first stop once more: what stands last has not scrolled away."""
    stops = [one for one in plan.verdict.told if one.level is Level.STOP]
    if not stops:
        return []
    return _rows(f"STOP: {stops[0].brief}", _width())


def on_screen(lines: Iterable[str]) -> list[str]:
    """Return lines as rows of the terminal, so that those are counted; as they are where is none.

    Parameters
    ----------
    lines : iterable of str
        What is to be told.
    """
    if not _is_shown():
        return list(lines)
    return [row for line in lines for row in _rows(line, _width())]


def _wrapped(one: Told, text: str) -> list[str]:
    return _rows(f"{_LEVELS[one.level]}: {text}", _width())


def _rows(text: str, width: int) -> list[str]:
    # Names of folders are not parted: they are copied from here.
    return textwrap.wrap(
        text,
        width,
        initial_indent=text[: len(text) - len(text.lstrip())],
        subsequent_indent="  ",
        break_on_hyphens=False,
        break_long_words=False,
    )


def _width() -> int:
    """Return how many letters a row has: the terminal's, where there is one."""
    return max(_NARROWEST, min(_WIDEST, page_width())) if _is_shown() else _WIDEST


def _is_shown() -> bool:
    return sys.stderr.isatty()


def _counted(rest: list[Told]) -> list[str]:
    """Say how many findings are left, by level."""
    count = Counter(one.level for one in rest)
    words = [
        f"{count[level]} more {name if count[level] == 1 else name + 's'}"
        for level, name in _LEVELS.items()
        if count[level]
    ]
    return [f"and {' and '.join(words)}: --all prints them"] if words else []
