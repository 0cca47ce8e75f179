"""Copies of this process, for work that is large enough to be shared by the cores.

A copy is made where its share of the work begins, needs nothing sent to it, and sends back what it
made. It ends with the process it was copied from, whatever ends that one.
"""

from __future__ import annotations

import ctypes
import signal
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from multiprocessing import cpu_count, get_all_start_methods, get_context, parent_process
from multiprocessing.connection import Connection
from typing import Any, Generic, TypeVar

_Made = TypeVar("_Made")

_PR_SET_PDEATHSIG = 1


class CannotCopyError(Exception):
    """Work that would wait for ever in a copy: its parent does it instead."""


def cores() -> int:
    """Return how many processes may share large work: one where this one cannot be copied.

    A copy has but one thread, and another's locks would stay locked in it for ever. Systems whose
    first way to begin a process is anew are not sure of theirs. A process of a pool is one of as
    many as there are cores.
    """
    has_copies = get_all_start_methods()[0] != "spawn"
    if not has_copies or parent_process() is not None or threading.active_count() > 1:
        return 1
    return cpu_count()


class Copy(Generic[_Made]):
    """A copy of this process that does some pieces of work and sends back what it made.

    Parameters
    ----------
    works : sequence of callable
        What they return, or the first error one of them raises, is sent between processes.
    """

    def __init__(self, works: Sequence[Callable[[], _Made]]) -> None:
        context = get_context("fork")
        self._ear, mouth = context.Pipe(duplex=False)
        self._process = context.Process(target=_do, args=(mouth, works), daemon=True)
        self._process.start()
        mouth.close()

    def made(self) -> list[_Made] | None:
        """Wait for what was made; None where the process ended before that. Raises its error.

        It also ends where its work meets a `CannotCopyError`.
        """
        try:
            made, error = self._ear.recv()
        except (EOFError, OSError):
            return None
        finally:
            self.end()
        if error is not None:
            raise error
        return list(made)

    def end(self) -> None:
        """End the process, whatever it is at."""
        self._ear.close()
        if self._process.is_alive():
            self._process.kill()
        self._process.join()


def die_with_parent() -> None:
    """Ask the system to end this process as soon as its parent ends, where it can."""
    # Only one kind of system has the call; others have none of this name.
    with suppress(AttributeError, OSError, TypeError):
        ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0)


def _do(mouth: Connection, works: Sequence[Callable[[], Any]]) -> None:
    # An interrupt is for the parent, who ends this process.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    die_with_parent()
    above = parent_process()
    if above is None or not above.is_alive():
        return
    made: list[Any] = []
    error: Exception | None = None
    try:
        made = [work() for work in works]
    except CannotCopyError:
        return
    except Exception as fault:  # whatever it is, the parent raises it
        error = fault
    with suppress(OSError):
        mouth.send((made, error))
