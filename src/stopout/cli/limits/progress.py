"""What a long run is at: a line that renews itself on a terminal, else a line now and then.

The line is drawn by the thread that works, whenever a timer rings: a process with a second thread
could not be copied, and so not share its work with the other cores.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from itertools import cycle

from stopout.cli.limits.bounded import at_stage
from stopout.cli.speech.telling import say
from stopout.values import Counted

# Work that is done sooner needs no progress display.
_PATIENCE_S = 1.0
# So often a log gets a line of work that is counted, and a terminal a new one.
_BETWEEN_S, _TICK_S = 60.0, 0.2
# Above this much time left, in seconds, it is told.
_TOLD_S = 90.0
# Of less than this share of counted work nothing is concluded: its beginning is not like the rest.
_ENOUGH = 0.1
# A stage may take longer than was foreseen as it began: never less is told of it than this share.
_LEAST = 0.2
_BAR = 24
_COLUMNS = 80
_WHEEL = "|/-\\"
# About how far a large plan is when a stage begins: of the bench's picture and bed.
_BEGUN = {
    "mask": 0.0,
    "clearing paths": 0.1,
    "predicting the piece": 0.35,
    "holding it against the artwork": 0.45,
    "looking from the front": 0.85,
    "drawing the pictures": 0.85,
    "typesetting the process sheet": 0.95,
    "writing the plan folder": 0.99,
}
_COATS = 0.85


class OfAll(Counted):
    """A stage of a run, with how far the whole run is."""


@contextmanager
def progress(*, show: bool) -> Iterator[Callable[[str], None]]:
    """Show what is being done once it takes longer than a second.

    Parameters
    ----------
    show : bool
        False for a run that is to be quiet.

    Yields
    ------
    callable
        Takes a few words on each stage; `Counted` ones get a bar.
    """
    if not show:
        yield at_stage
    elif not sys.stderr.isatty():
        yield _now_and_then()
    else:
        with _on_terminal() as tell:
            yield tell


def of_all(stage: str, coats: int) -> str:
    """Return the words on a stage of a plan with about how far the plan is, where that is known.

    Parameters
    ----------
    stage : str
        As the planner tells it; within a stage it may be counted.
    coats : int
        How many are planned.
    """
    words = stage.partition(",")[0]
    coat, is_coat, name = words.partition(": ")
    name = name if is_coat else words
    if name not in _BEGUN:
        return stage
    later = [share for share in _BEGUN.values() if share > _BEGUN[name]] or [1.0]
    within = stage.done if isinstance(stage, Counted) else 0.0
    done = _BEGUN[name] + within * (later[0] - _BEGUN[name])
    number = coat.removeprefix("coat ")
    if is_coat and number.isdecimal():
        done = (done + _COATS * (int(number) - 1)) / coats
    return OfAll(words, done)


def _now_and_then() -> Callable[[str], None]:
    """Write to a log how far counted work is, a line a minute."""
    told_s = time.monotonic()
    left = _Left()

    def tell(stage: str) -> None:
        nonlocal told_s
        at_stage(stage)
        left.now_at(stage)
        if isinstance(stage, Counted) and time.monotonic() - told_s > _BETWEEN_S:
            told_s = time.monotonic()
            say(left.told(), to_stderr=True)

    return tell


@contextmanager
def _on_terminal() -> Iterator[Callable[[str], None]]:
    began = time.monotonic()
    left, wheel = _Left(), cycle(_WHEEL)
    is_shown = False

    def draw(*_: object) -> None:
        nonlocal is_shown
        if not left.stage or time.monotonic() - began <= _PATIENCE_S:
            return
        is_shown = True
        with suppress(OSError, ValueError):
            # Some terminals say that they have no columns.
            width = os.get_terminal_size(2).columns or _COLUMNS
            words = f"{next(wheel)} {with_bar(left.told())}"[: max(width - 1, 1)]
            os.write(2, f"\r{words}\x1b[K".encode(errors="replace"))

    def tell(stage: str) -> None:
        at_stage(stage)
        left.now_at(stage)
        draw()

    try:
        with _ringing(draw):
            yield tell
    finally:
        if is_shown:
            with suppress(OSError):
                os.write(2, b"\r\x1b[K")


@contextmanager
def _ringing(ring: Callable[..., None]) -> Iterator[None]:
    """Call a function a few times a second, between two steps of the thread that works."""
    timer = getattr(signal, "setitimer", None)
    if timer is None or threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGALRM, ring)
    timer(signal.ITIMER_REAL, _TICK_S, _TICK_S)
    try:
        yield
    finally:
        timer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)


class _Left:
    """How long the rest of counted work takes, by what is done of it since it was begun."""

    def __init__(self) -> None:
        self.stage = ""
        self._name, self._began, self._done = "", 0.0, 0.0
        self._at, self._left = 0.0, 0.0

    def now_at(self, stage: str) -> None:
        """Take in what is being done now."""
        now = time.monotonic()
        name = "" if isinstance(stage, OfAll) else stage.partition(",")[0]
        done = stage.done if isinstance(stage, Counted) else 0.0
        if name != self._name or not self.stage:
            self._name, self._began, self._done = name, now, done
        gained = done - self._done
        self._left = (now - self._began) * (1 - done) / gained if gained >= _ENOUGH else 0.0
        self.stage, self._at = stage, now

    def told(self) -> str:
        """Return the words on the stage with the time that is left, where it is minutes."""
        stage = self.stage
        left_s = max(self._left - (time.monotonic() - self._at), _LEAST * self._left)
        if left_s <= _TOLD_S or not isinstance(stage, Counted) or "left" in stage:
            return stage
        return Counted(f"{stage}, about {left_s / 60:.0f} min left", stage.done)


def with_bar(stage: str) -> str:
    """Return the words on a stage, after a bar where it is known how much of it is done."""
    if not isinstance(stage, Counted):
        return stage
    full = round(_BAR * stage.done)
    return f"{'#' * full}{'-' * (_BAR - full)} {stage}"
