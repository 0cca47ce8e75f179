"""Drafts and plans in processes of their own, which are ended when nobody wants them any more."""

from __future__ import annotations

import asyncio
import atexit
import multiprocessing
import os
import resource
import signal
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from stopout.planning import Plan

_GIB = 2**30
_MEMORY_GIB, _TIME_S = 4, 120
# What is superseded leaves the shape that it is at; what takes longer than this is killed.
_PATIENCE_S = 3.0
Answer = dict[str, Any]


class _SupersededError(BaseException):
    """A newer request has come: this one is left where it is."""


class _Reply:
    """What a process sends back; a newer request may end its work, but no message in the middle."""

    def __init__(self, pipe: Connection) -> None:
        self._pipe, self._is_open, self._is_over = pipe, False, False
        signal.signal(signal.SIGUSR1, self._end)

    def _end(self, *_: Any) -> None:
        self._is_over = True
        if self._is_open:
            raise _SupersededError

    def send(self, message: Answer) -> None:
        """Send a message whole."""
        self._is_open = False
        self._pipe.send(message)
        self._is_open = True
        if self._is_over:
            raise _SupersededError

    def to(self, asked: dict[str, Any]) -> Answer:
        """Return the answer to a request, or that it was superseded."""
        try:
            self._is_over, self._is_open = False, True
            return answered(asked, lambda stage: self.send({"stage": stage}), self.send)
        except _SupersededError:
            return {"superseded": True}
        finally:
            self._is_open = False


def work(pipe: Connection) -> None:
    """Serve one process: warm up, then plan what is asked for, one after another."""
    # Those that it starts itself, for the pieces of a series, are ended with it.
    with suppress(OSError):
        os.setpgid(0, 0)
    reply = _Reply(pipe)
    _warm()
    while True:
        try:
            asked = pipe.recv()
        except (EOFError, OSError):
            return
        used = resource.getrusage(resource.RUSAGE_SELF)
        spent = int(used.ru_utime + used.ru_stime)
        with suppress(ValueError, OSError):
            resource.setrlimit(resource.RLIMIT_CPU, (spent + _TIME_S, spent + _TIME_S + 5))
        pipe.send(reply.to(asked))


def _warm() -> None:
    import stopout.library.drawings
    import stopout.pictures.piece.of_plan
    import stopout.planning.road.whole
    import stopout.web.views  # noqa: F401


# What a process has planned last, by the job file's path: places are read of it.
_LAST: dict[str, Plan] = {}


def _kept_quiet(answer: Answer) -> None:
    """Send no first look."""


def answered(
    asked: dict[str, Any], say: Callable[[str], None], early: Callable[[Answer], None] = _kept_quiet
) -> Answer:
    """Plan one job, as a draft or in full, or read a place of it; answer in plain data.

    A draft whose shapes all have to be looked at again sends a first look `early`.
    """
    from stopout.errors import JobError, StopoutError
    from stopout.library.job_file import read_job
    from stopout.library.plans import plan_job
    from stopout.web.controls import told
    from stopout.web.reading import read_at
    from stopout.web.views import glimpse_of, view_of, without

    path, book = Path(asked["path"]), asked.get("book")
    if "at" in asked:
        last = _LAST.get(asked["path"])
        return {"none": True} if last is None or not last.coats else read_at(last, *asked["at"])
    draft, has = asked["draft"], asked.get("has", ())
    try:
        read = read_job(path, book=book)
        plan = plan_job(
            read,
            book=book,
            draft=draft,
            tell=say,
            glimpse=lambda one: early({"glimpse": without(glimpse_of(read.job, one), has)}),
        )
        kept = () if draft else _written(plan, path.parent / f"{path.stem}-plan", say)
        _LAST.clear()
        _LAST[asked["path"]] = plan
        return {"view": without(view_of(plan), has), "kept": list(kept)}
    except JobError as fault:
        return {"mistakes": told(fault)}
    except StopoutError as fault:
        return {"mistakes": [{"field": "", "message": str(fault), "line": None}]}


def _written(plan: Plan, folder: Path, say: Callable[[str], None]) -> tuple[str, ...]:
    """Write a plan's folder; what of the person's own was kept in it is told."""
    from stopout.library.plan_files import check_plan_folder, plan_files, put_plan

    said = check_plan_folder(folder, replace=True)
    files = plan_files(plan, tell=say)
    say("writing the folder")
    return said + put_plan(folder, files, replace=True)


@dataclass(slots=True)
class _Worker:
    process: BaseProcess
    pipe: Connection
    holds: str = ""

    def interrupt(self) -> None:
        """Have it leave its work, so that it keeps what it knows."""
        if self.process.pid is None:
            self.end()
        else:
            with suppress(ProcessLookupError):
                os.kill(self.process.pid, signal.SIGUSR1)

    def end(self) -> None:
        """End the process and those that it has started, whatever they are in."""
        _kill(self.process)
        self.process.join(5)
        self.pipe.close()


@dataclass(slots=True)
class _Run:
    """The stages that a work has gone through, each with the moment at which it began [s]."""

    stages: list[tuple[str, float]] = field(default_factory=list)
    ended: float = 0.0

    def left_s(self, stage: str, since_s: float) -> float | None:
        """How long it took from so far into a stage to its end; None where it had no such stage."""
        at = next((k for k, (name, _) in enumerate(self.stages) if name == stage), None)
        if at is None:
            return None
        moments = [begun for _, begun in self.stages] + [self.ended]
        # A stage that lasts longer than it did says nothing of the next ones.
        return self.ended - min(moments[at] + since_s, moments[at + 1])


@dataclass(slots=True)
class Bench:
    """Two warm processes: one at work, one ready, so that an edit never waits for the last one."""

    spare: list[_Worker] = field(default_factory=list)
    busy: dict[str, _Worker] = field(default_factory=dict)
    runs: dict[str, _Run] = field(default_factory=dict)
    last: dict[str, _Run] = field(default_factory=dict)
    done: dict[str, asyncio.Future[None]] = field(default_factory=dict)
    looks: dict[str, asyncio.Future[None]] = field(default_factory=dict)

    def warm(self, count: int = 2) -> None:
        """Start processes until there are so many spare ones."""
        # However the server ends, it does not wait for them.
        atexit.unregister(self.end)
        atexit.register(self.end)
        while len(self.spare) < count:
            context = multiprocessing.get_context("spawn")
            own, other = context.Pipe()
            # No daemon: those may not start processes, and a series plans its pieces in some.
            process = context.Process(target=work, args=(other,))
            process.start()
            other.close()
            self.spare.append(_Worker(process, own))

    def end(self) -> None:
        """End every process."""
        for worker in [*self.spare, *self.busy.values()]:
            worker.end()
        self.spare.clear()
        self.busy.clear()

    def cancel(self, what: str) -> bool:
        """End the work of that name, if there is any."""
        worker = self.busy.pop(what, None)
        if worker is None:
            return False
        worker.end()
        self.warm()
        return True

    def progress(self, what: str) -> dict[str, Any] | None:
        """Tell how far a work is; None where none of that name is being done.

        Returns
        -------
        dict or None
            `stage` in a few words, `spent_s`, and `left_s`: what it took from here the last time,
            None where it was not done before since the server began, or not by this stage.
        """
        run = self.runs.get(what)
        if run is None:
            return None
        now = time.monotonic()
        stage, begun = run.stages[-1]
        left = self.last[what].left_s(stage, now - begun) if what in self.last else None
        return {
            "stage": stage,
            "spent_s": int(now - run.stages[0][1]),
            "left_s": None if left is None else round(left),
        }

    async def ask(
        self, what: str, asked: dict[str, Any], early: Callable[[Answer], None] = _kept_quiet
    ) -> Answer | None:
        """Have a job planned; None where a newer request has ended this one.

        Parameters
        ----------
        what : str
            A name of the work: a newer one of the same name ends the older.
        asked : dict
            For `answered`.
        early : callable
            Is given the first look of a draft, if there is one.
        """
        await self._supersede(what)
        worker = self._take(what)
        self.busy[what] = worker
        done = self.done[what] = asyncio.get_running_loop().create_future()
        run = self.runs[what] = _Run([("", time.monotonic())])
        try:
            worker.pipe.send(asked)
            while True:
                answer = await asyncio.to_thread(_received, worker)
                is_wanted = self.busy.get(what) is worker
                if answer is None:
                    ended = {"mistakes": [{"field": "", "message": _ENDED, "line": None}]}
                    return ended if is_wanted else None
                if "stage" in answer:
                    run.stages.append((answer["stage"], time.monotonic()))
                elif "glimpse" in answer:
                    if is_wanted:
                        early(answer)
                else:
                    self._back(what, worker, run, answer)
                    return answer if is_wanted and "superseded" not in answer else None
        finally:
            done.set_result(None)
            if self.busy.get(what) is worker:
                self.busy.pop(what).end()
            if self.runs.get(what) is run:
                del self.runs[what]
            self.warm()

    def _back(self, what: str, worker: _Worker, run: _Run, answer: Answer) -> None:
        """Keep a process that has done its work, and what it knows."""
        run.ended = time.monotonic()
        if "view" in answer:
            self.last[what] = run
        worker.holds = what
        self.spare.append(worker)
        if self.busy.get(what) is worker:
            del self.busy[what]

    async def _supersede(self, what: str) -> None:
        """End older work of that name; what does not end by itself is killed."""
        while what in self.looks:
            await asyncio.wait([self.looks[what]])
        worker, done = self.busy.pop(what, None), self.done.get(what)
        if worker is None or done is None:
            return
        worker.interrupt()
        await asyncio.wait([done], timeout=_PATIENCE_S)
        if not done.done():
            worker.end()

    def _take(self, what: str) -> _Worker:
        """Take a spare process: the one that knows this work, else one that knows nothing."""
        self.warm(1)
        known = [one for one in self.spare if one.holds == what]
        fresh = [one for one in self.spare if not one.holds]
        worker = [*known, *fresh, *self.spare][0]
        self.spare.remove(worker)
        return worker

    async def look(self, what: str, asked: dict[str, Any]) -> Answer:
        """Ask the process that has made a draft, if it is at leisure, for something of it."""
        while what in self.looks:
            await asyncio.wait([self.looks[what]])
        worker = next((one for one in self.spare if one.holds == what), None)
        if worker is None:
            return {"none": True}
        self.spare.remove(worker)
        self.looks[what] = asyncio.get_running_loop().create_future()
        try:
            worker.pipe.send(asked)
            answer = await asyncio.to_thread(_received, worker)
            if answer is None:
                worker.end()
                return {"none": True}
            self.spare.append(worker)
            return answer
        finally:
            self.looks.pop(what).set_result(None)


_ENDED = (
    f"the planning was ended: it took more than {_TIME_S} s of computing or {_MEMORY_GIB} GiB of "
    "memory, or failed; nothing was written. Simplify the drawing, or plan it by the command"
)


def _kill(process: BaseProcess) -> None:
    with suppress(ProcessLookupError, PermissionError, AttributeError):
        if process.pid is not None:
            os.killpg(process.pid, signal.SIGKILL)
    process.kill()


def _used_bytes(pid: int | None) -> int:
    """Memory that a process holds, where the system tells; what is only reserved does not count."""
    try:
        pages = Path(f"/proc/{pid}/statm").read_text().split()[1]
    except (OSError, IndexError):
        return 0
    return int(pages) * resource.getpagesize()


def _received(worker: _Worker) -> Answer | None:
    try:
        while not worker.pipe.poll(0.2):
            if not worker.process.is_alive():
                return None
            if _used_bytes(worker.process.pid) > _MEMORY_GIB * _GIB:
                _kill(worker.process)
        answer: Answer = worker.pipe.recv()
        return answer
    except (EOFError, OSError):
        return None
