"""Large pieces of one plan on all cores: each in a process of its own, a copy of this one."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable, Sequence
from multiprocessing.connection import Connection
from typing import Any, TypeVar

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
        That of the first work that raises one; the others are then ended, as by an interrupt.
    """
    count = min(cores or os.cpu_count() or 1, len(works))
    if count < 2 or "fork" not in multiprocessing.get_all_start_methods():
        return [work(tell) for work in works]
    helpers = [_Helper(works[k::count]) for k in range(1, count)]
    try:
        return [
            helpers[k % count - 1].made(work, tell) if k % count else work(tell)
            for k, work in enumerate(works)
        ]
    finally:
        for helper in helpers:
            helper.end()


class _Helper:
    """A copy of this process that does some works and sends what it made of each."""

    def __init__(self, works: Sequence[Work[Any]]) -> None:
        context = multiprocessing.get_context("fork")
        self._pipe, other = context.Pipe(duplex=False)
        # A copy needs nothing sent to it: the works are in its memory.
        self._process = context.Process(target=_do, args=(works, other))
        self._process.start()
        other.close()

    def made(self, work: Work[_Made], tell: Tell) -> _Made:
        """Return what was made of the next work, or raise what it raised."""
        try:
            made, fault = self._pipe.recv()
        except (EOFError, OSError):
            # It was ended from outside. Here the work is seen by whoever bounds this process.
            return work(tell)
        if fault is not None:
            raise fault
        found: _Made = made
        return found

    def end(self) -> None:
        """End the process, whatever it is in."""
        self._process.kill()
        self._process.join()
        self._pipe.close()


def _do(works: Sequence[Work[Any]], pipe: Connection) -> None:
    # An interrupt is for the parent, who ends this process.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    for work in works:
        try:
            answer: tuple[Any, Exception | None] = (work(_say_nothing), None)
        except Exception as fault:  # whatever it is, the parent raises it
            answer = None, fault
        pipe.send(answer)


def _say_nothing(stage: str) -> None:
    """Tell nobody: two at a time would tell two stages at once."""
