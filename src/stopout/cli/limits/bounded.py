"""One budget for a run: a child does the work, and is ended when it has used it up.

Only a process of its own can be ended in whatever library it is. The child is a copy of this
process, made before anything heavy is loaded, so that a usual run costs a few milliseconds more.
It says through a pipe which stage it is at and what the job allows.
"""

from __future__ import annotations

import atexit
import os
import select
import signal
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from stopout.cli.speech.telling import say
from stopout.copies import die_with_parent

# Ours: what a shop waits for, and what a small computer has.
USUAL_S, _MEMORY_GIB = 120.0, 4.0
_LOOK_S = 0.1
_PATIENCE_S, _LAST_S = 0.5, 4.0
_GIB = 2**30
# What runs until it is told to stop has no budget; each of its plans may have one.
_ENDLESS = frozenset({"watch", "bench"})
_HINTS = (
    (
        ("reading the scan", "measuring the scan", "holding the scan"),
        "The scan is too large: crop it to the piece, or scan at a lower resolution.",
    ),
    (
        ("laying out the coupon",),
        "The coupon is too rich: a smaller --size, a wider spot, or fewer passes.",
    ),
    (
        ("reading the artwork",),
        "The drawing is too rich: trace a photograph by hand or in plain black and white, clean it "
        "with artwork.specks, or give outlines fewer points.",
    ),
    (
        ("coat", "looking", "joining", "laying"),
        "The clearing is too long or too rich: larger artwork.specks, fewer points in its "
        "outlines, a wider mark or spacing, fewer passes, or a smaller piece.",
    ),
)
_MORE_TIME = "stopout --time 600s COMMAND, or [budget] time"
_MORE_MEMORY = "stopout --memory 8GiB COMMAND, or [budget] memory"
_HINT = "Simplify the drawing or make it smaller."

_pipe: int | None = None
# What was told last to be under way.
_stage = ""
# What the command line has asked for, which nothing read later changes.
_settled: set[str] = set()


@dataclass(slots=True)
class _Watched:
    """What the parent knows of its child."""

    child: int
    pipe: int
    time_s: float = USUAL_S
    memory_gib: float = _MEMORY_GIB
    stage: str = ""
    interrupted_at: float | None = None
    is_told: bool = False


def can_bound() -> bool:
    """Tell whether the run may be given to a child: not where a caller has taken its output."""
    is_own = sys.stdout is sys.__stdout__ and sys.stderr is sys.__stderr__
    return is_own and hasattr(os, "fork") and _command(sys.argv[1:]) not in _ENDLESS


def _command(words: list[str]) -> str:
    """The command among the words of a command line: options of the whole come before it."""
    while words and words[0].startswith("-"):
        words = words[2:] if words[0] in ("--time", "--memory") else words[1:]
    return words[0] if words else ""


def at_stage(stage: str) -> None:
    """Tell the parent, if there is one, what is being done."""
    global _stage
    _stage = stage
    _say(f"stage {stage}")


def when_interrupted(stage: str | None = None) -> str:
    """Return what to say after an interrupt, at this stage or the last that was told."""
    is_kept = (_stage if stage is None else stage).startswith(("piece ", "panel ", "shape "))
    more = "; the pieces that are done are kept: the same command goes on from there"
    return f"interrupted; nothing was left half-written{more if is_kept else ''}"


def allow(
    *, time_s: float | None = None, memory_gib: float | None = None, is_last: bool = False
) -> None:
    """Change the run's budget; None leaves a part of it as it is, and what was last stays."""
    if time_s is not None and (is_last or "time" not in _settled):
        _limit_time(time_s)
        _say(f"time {time_s}")
    if memory_gib is not None and (is_last or "memory" not in _settled):
        _say(f"memory {memory_gib}")
    if is_last:
        given = {"time": time_s, "memory": memory_gib}
        _settled.update(part for part, value in given.items() if value is not None)


def bounded(work: Callable[[], None]) -> None:
    """Do the work in a child and end as it ends, or end it when its budget is used up.

    Parameters
    ----------
    work : callable
        Ends by raising SystemExit, or by returning for status 0.
    """
    global _pipe
    sys.stdout.flush()
    sys.stderr.flush()
    reading, writing = os.pipe()
    parent = os.getpid()
    child = os.fork()
    if child == 0:
        os.close(reading)
        _pipe = writing
        _die_with(parent)
        _limit_time(USUAL_S)
        try:
            work()
        except SystemExit as end:
            _leave(end.code)
            raise
        return
    os.close(writing)
    status = _watch(_Watched(child=child, pipe=reading))
    _leave(status)
    sys.exit(status)


def _leave(status: object) -> None:
    """End this process at once, unless something needs the long way out.

    The interpreter would take a plan's objects apart one by one first, which takes half a second;
    the system takes all of their memory back at once.
    """
    if threading.active_count() > 1 or not (status is None or isinstance(status, int)):
        return
    atexit._run_exitfuncs()
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except (OSError, ValueError):
        # Nobody listens any longer: the interpreter knows how to say so.
        return
    os._exit((status or 0) & 0xFF)


def _watch(run: _Watched) -> int:
    """Wait for the child and return the status to end with."""

    def interrupt(number: int, frame: object) -> None:
        if run.interrupted_at is None:
            run.interrupted_at = time.monotonic()

    before = {
        number: signal.signal(number, interrupt) for number in (signal.SIGINT, signal.SIGTERM)
    }
    try:
        while True:
            done, status = os.waitpid(run.child, os.WNOHANG)
            if done:
                return _status(run, status)
            # The pipe closes as the child ends, so that nobody waits for the next look.
            if select.select([run.pipe], [], [], _LOOK_S)[0] and not _listen(run):
                return _status(run, os.waitpid(run.child, 0)[1])
            if (over := _over(run)) is not None:
                os.kill(run.child, signal.SIGKILL)
                os.waitpid(run.child, 0)
                return over
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _listen(run: _Watched) -> bool:
    """Take in what the child says; False once it has closed the pipe."""
    said = os.read(run.pipe, 4096)
    for line in said.decode("utf-8", "replace").splitlines():
        word, _, rest = line.partition(" ")
        if word == "stage":
            run.stage = rest
        with suppress(ValueError):
            if word == "time":
                run.time_s = float(rest)
            elif word == "memory":
                run.memory_gib = float(rest)
    return bool(said)


def _over(run: _Watched) -> int | None:
    """The status to end with if the child has to be ended now, its reason told; else None."""
    if run.interrupted_at is not None:
        waited = time.monotonic() - run.interrupted_at
        if waited > _LAST_S:
            _tell(when_interrupted(run.stage))
            return 130
        if waited > _PATIENCE_S and not run.is_told:
            # A key at the terminal reaches the child by itself; a signal to this process does not.
            run.is_told = True
            os.kill(run.child, signal.SIGINT)
    time_s, memory_gib = _used(run.child, run.memory_gib)
    if time_s > run.time_s:
        return _end(run, f"{run.time_s:g} s of computing are used up", _MORE_TIME)
    if memory_gib > run.memory_gib:
        used_up = f"{run.memory_gib:.2g} GiB of memory are used up"
        return _end(run, used_up, _MORE_MEMORY)
    return None


def _used(child: int, allowed_gib: float) -> tuple[float, float]:
    """Seconds of computing and GiB of memory of a process; nothing where the system hides it.

    Copies of it that share its work count with it: all they reckon, and the memory that is theirs
    alone. What each of them sees is no less; only where that is too much is their own counted, for
    which the system walks through all of their pages.
    """
    try:
        fields = _stat(child)
        # Its own, and that of copies which have ended.
        ticks = sum(int(field) for field in fields[11:15])
        used = seen = _seen_bytes(fields)
        copies = Path(f"/proc/{child}/task/{child}/children").read_text().split()
        for copy in copies:
            with suppress(OSError, ValueError, IndexError):
                its = _stat(int(copy))
                ticks += sum(int(field) for field in its[11:13])
                seen += _seen_bytes(its)
        if seen > allowed_gib * _GIB:
            for copy in copies:
                with suppress(OSError, ValueError, IndexError):
                    used += _own_bytes(int(copy))
            seen = used
        return ticks / os.sysconf("SC_CLK_TCK"), seen / _GIB
    except (OSError, ValueError, IndexError):
        return 0.0, 0.0


def _seen_bytes(fields: list[str]) -> int:
    """Memory that a process sees, that which it shares with others too."""
    return int(fields[21]) * os.sysconf("SC_PAGE_SIZE")


def _stat(process: int) -> list[str]:
    return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()


def _own_bytes(process: int) -> int:
    """Memory that a process has written to itself."""
    rows = Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()
    return 1024 * sum(int(row.split()[1]) for row in rows if row.startswith("Private_Dirty"))


def _status(run: _Watched, status: int) -> int:
    """The child's own status; what ended it by a signal is told."""
    if os.WIFEXITED(status):
        return os.WEXITSTATUS(status)
    number = os.WTERMSIG(status)
    if number == signal.SIGINT or run.interrupted_at is not None:
        _tell(when_interrupted(run.stage))
        return 130
    if number == signal.SIGXCPU:
        return _end(run, f"{run.time_s:g} s of computing are used up", _MORE_TIME)
    at = f" while {run.stage}" if run.stage else ""
    _tell(f"could not finish: ended by signal {number}{at}; nothing was left half-written")
    return 3


def _end(run: _Watched, used_up: str, key: str) -> int:
    at = f", while {run.stage}" if run.stage else ""
    hint = next((words for starts, words in _HINTS if run.stage.startswith(starts)), _HINT)
    _tell(
        f"could not finish: {used_up}{at}; nothing was left half-written. {hint} "
        f"To allow more: {key}."
    )
    return 3


def _tell(message: str) -> None:
    # A progress display may have left its line.
    shown = "\r\x1b[K" if sys.stderr.isatty() else ""
    say(f"{shown}{message}", to_stderr=True)


def _say(line: str) -> None:
    if _pipe is not None:
        with suppress(OSError):
            os.write(_pipe, f"{line}\n".encode())


def _limit_time(time_s: float) -> None:
    """Have the system itself end this process, should the parent not look."""
    if _pipe is None:
        return
    try:
        import resource

        _, hard = resource.getrlimit(resource.RLIMIT_CPU)
        resource.setrlimit(resource.RLIMIT_CPU, (int(time_s) + 2, hard))
    except (ImportError, ValueError, OSError):
        return


def _die_with(parent: int) -> None:
    """End this process when its parent is killed, where the system can do so."""
    die_with_parent()
    if sys.platform == "linux" and os.getppid() != parent:
        os._exit(3)
