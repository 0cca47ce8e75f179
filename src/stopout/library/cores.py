"""Large pieces of one plan on all cores: each in a process of its own, a copy of this one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TypeVar

from stopout.copies import Copy
from stopout.copies import cores as cores_here

_Made = TypeVar("_Made")
Tell = Callable[[str], None]
Work = Callable[[Tell], _Made]


def on_all_cores(works: Sequence[Work[_Made]], tell: Tell, cores: int | None = None) -> list[_Made]:
    """Do pieces of work side by side; what is made is what one after the other would make.

    Parameters
    ----------
    works : sequence of callable
        Each is given a `tell`; what it returns, or raises, is sent between processes.
    tell : callable
        Is told the stages of the works that are done in this process, the first among them.
    cores : int, optional
        How many processes at most; the machine's cores where it is left out. Where processes
        cannot be copied, there is one.

    Returns
    -------
    list
        In the order of the works.

    Raises
    ------
    Exception
        That of a work that raises one; the others are then ended, as by an interrupt.
    """
    count = min(cores or cores_here(), len(works))
    if count < 2:
        return [work(tell) for work in works]
    made: dict[int, _Made] = {}
    copies = [
        Copy([partial(work, say_nothing) for work in works[k::count]]) for k in range(1, count)
    ]
    try:
        for k in range(0, len(works), count):
            made[k] = works[k](tell)
        for k, copy in enumerate(copies, 1):
            # It may have been ended from outside. Here the work is seen by whoever bounds us.
            found = copy.made() or [work(tell) for work in works[k::count]]
            made.update(zip(range(k, len(works), count), found, strict=True))
    finally:
        for copy in copies:
            copy.end()
    return [made[k] for k in range(len(works))]


def say_nothing(stage: str) -> None:
    """Tell nobody: two at a time would tell two stages at once."""
