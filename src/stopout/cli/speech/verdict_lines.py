"""A plan on the terminal: the verdict first, at most fifteen lines, a stop last."""

from __future__ import annotations

import textwrap
from collections import Counter
from typing import TYPE_CHECKING

from stopout.values import Level

if TYPE_CHECKING:
    from stopout.planning import Plan
    from stopout.planning.verdict import Told

# What fits a small terminal, and its width.
MOST_LINES = 15
_WIDTH = 100
_LEVELS = {Level.STOP: "stop", Level.CAUTION: "caution", Level.NOTE: "note"}


def headline(plan: Plan) -> str:
    """Return the verdict in one line."""
    verdict = plan.verdict
    if verdict.state == "stopped" or not verdict.unmeasured:
        return plan.headline
    return f"{plan.headline}; {unmeasured_words(plan)}: do a test piece first"


def unmeasured_words(plan: Plan) -> str:
    """Say what is not measured."""
    what = "mark" if plan.etch is None else "mark or etch"
    return f"{what} not measured in this shop yet"


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
    return textwrap.wrap(f"STOP: {stops[0].brief}", _WIDTH, subsequent_indent="  ")


def _wrapped(one: Told, text: str) -> list[str]:
    return textwrap.wrap(
        f"{_LEVELS[one.level]}: {text}", _WIDTH, subsequent_indent="  ", break_on_hyphens=False
    )


def _counted(rest: list[Told]) -> list[str]:
    """Say how many findings are left, by level."""
    count = Counter(one.level for one in rest)
    words = [
        f"{count[level]} more {name if count[level] == 1 else name + 's'}"
        for level, name in _LEVELS.items()
        if count[level]
    ]
    return [f"and {' and '.join(words)}: --all prints them"] if words else []
