"""What a long run is at: a line that renews itself on a terminal, else a line now and then."""

from __future__ import annotations

import shutil
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from stopout.cli.limits.bounded import at_stage
from stopout.cli.speech.telling import say
from stopout.values import Counted

# Work that is done sooner needs no progress display.
_PATIENCE_S = 1.0
# So often a log gets a line of work that is counted.
_BETWEEN_S = 60.0
# Above this much time left, in seconds, it is told.
_TOLD_S = 90.0
_BAR = 24


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


def _now_and_then() -> Callable[[str], None]:
    """Write to a log how far counted work is, a line a minute."""
    told_s = time.monotonic()
    left = _Left()

    def tell(stage: str) -> None:
        nonlocal told_s
        at_stage(stage)
        stage = left.told(stage)
        if isinstance(stage, Counted) and time.monotonic() - told_s > _BETWEEN_S:
            told_s = time.monotonic()
            say(stage, to_stderr=True)

    return tell


@contextmanager
def _on_terminal() -> Iterator[Callable[[str], None]]:
    # No thread turns a wheel: a process that has several cannot be copied to share its work.
    began, shown = time.monotonic(), 0
    left = _Left()

    def show(line: str) -> None:
        nonlocal shown
        line = line[: shutil.get_terminal_size().columns - 1]
        sys.stderr.write(f"\r{line.ljust(shown)}")
        sys.stderr.flush()
        shown = len(line)

    def tell(stage: str) -> None:
        at_stage(stage)
        stage = left.told(stage)
        if shown or time.monotonic() - began > _PATIENCE_S:
            show(with_bar(stage))

    try:
        yield tell
    finally:
        if shown:
            show("")
            show("")


class _Left:
    """How long the rest of counted work takes, by what is done of it since it was begun."""

    def __init__(self) -> None:
        self._stage, self._began, self._done = "", 0.0, 0.0

    def told(self, stage: str) -> str:
        """Return the words on a stage with the time that is left, where it is minutes."""
        now, name = time.monotonic(), stage.partition(",")[0]
        if name != self._stage:
            self._stage, self._began = name, now
            self._done = stage.done if isinstance(stage, Counted) else 0.0
        if not isinstance(stage, Counted) or stage.done <= self._done or "left" in stage:
            return stage
        left_s = (now - self._began) * (1 - stage.done) / (stage.done - self._done)
        if left_s <= _TOLD_S:
            return stage
        return Counted(f"{stage}, about {left_s / 60:.0f} min left", stage.done)


def with_bar(stage: str) -> str:
    """Return the words on a stage, after a bar where it is known how much of it is done."""
    if not isinstance(stage, Counted):
        return stage
    full = round(_BAR * stage.done)
    return f"{'#' * full}{'-' * (_BAR - full)} {stage}"
