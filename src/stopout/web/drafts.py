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
Answer = dict[str, Any]


def work(pipe: Connection) -> None:
    """Serve one process: warm up, then plan what is asked for, one after another."""
    # Those that it starts itself, for the pieces of a series, are ended with it.
    with suppress(OSError):
        os.setpgid(0, 0)
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

        def say(stage: str) -> None:
            pipe.send({"stage": stage})

        pipe.send(answered(asked, say))


def _warm() -> None:
    import stopout.library.drawings
    import stopout.pictures.of_plan
    import stopout.planning.road.whole
    import stopout.web.views  # noqa: F401


def answered(asked: dict[str, Any], say: Callable[[str], None]) -> Answer:
    """Plan one job, as a draft or in full, and answer in plain data."""
    from stopout.errors import JobError, StopoutError
    from stopout.library.job_file import read_job
    from stopout.library.plans import plan_job
    from stopout.web.views import view_of

    path, book, draft = Path(asked["path"]), asked.get("book"), asked["draft"]
    try:
        plan = plan_job(read_job(path, book=book), book=book, draft=draft, tell=say)
        kept = () if draft else _written(plan, path.parent / f"{path.stem}-plan", say)
        return {"view": view_of(plan), "kept": list(kept)}
    except JobError as fault:
        return {
            "mistakes": [
                {"field": one.field, "message": one.message, "line": one.line}
                for one in fault.mistakes
            ]
        }
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

    async def ask(self, what: str, asked: dict[str, Any]) -> Answer | None:
        """Have a job planned; None where a newer request has ended this one.

        Parameters
        ----------
        what : str
            A name of the work: a newer one of the same name ends the older.
        asked : dict
            For `answered`.
        """
        self.cancel(what)
        self.warm(1)
        worker = self.spare.pop()
        self.busy[what] = worker
        run = self.runs[what] = _Run([("", time.monotonic())])
        try:
            worker.pipe.send(asked)
            while True:
                answer = await asyncio.to_thread(_received, worker)
                if self.busy.get(what) is not worker:
                    return None
                if answer is None:
                    return {"mistakes": [{"field": "", "message": _ENDED, "line": None}]}
                if "stage" not in answer:
                    run.ended = time.monotonic()
                    if "view" in answer:
                        self.last[what] = run
                    self.spare.append(worker)
                    del self.busy[what]
                    return answer
                run.stages.append((answer["stage"], time.monotonic()))
        finally:
            if self.busy.get(what) is worker:
                self.busy.pop(what).end()
            if self.runs.get(what) is run:
                del self.runs[what]
            self.warm()


_ENDED = (
    f"the drawing took more than {_TIME_S} s of computing or {_MEMORY_GIB} GiB of memory; simplify "
    "it, or plan it by the command"
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
