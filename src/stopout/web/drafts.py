"""Drafts and plans in processes of their own, which are ended when nobody wants them any more."""

from __future__ import annotations

import asyncio
import multiprocessing
import resource
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


# What a process has planned last, by the job file's path: places are read of it.
_LAST: dict[str, Plan] = {}


def answered(asked: dict[str, Any], say: Callable[[str], None]) -> Answer:
    """Plan one job, as a draft or in full, or read a place of it; answer in plain data."""
    if "at" in asked:
        from stopout.web.reading import read_at

        plan = _LAST.get(asked["path"])
        return {"none": True} if plan is None or not plan.coats else read_at(plan, *asked["at"])
    from stopout.errors import JobError, StopoutError
    from stopout.library.job_file import read_job
    from stopout.library.plan_files import write_plan
    from stopout.library.plans import plan_job
    from stopout.web.views import view_of

    path, book, draft = Path(asked["path"]), asked.get("book"), asked["draft"]
    try:
        plan = plan_job(read_job(path, book=book), book=book, draft=draft, tell=say)
        if not draft:
            say("writing the folder")
            write_plan(plan, path.parent / f"{path.stem}-plan", replace=True)
        _LAST.clear()
        _LAST[asked["path"]] = plan
        view = view_of(plan)
        for name in asked.get("has", ()):
            view["shapes"].pop(name, None)
        return {"view": view}
    except JobError as fault:
        return {
            "mistakes": [
                {"field": one.field, "message": one.message, "line": one.line}
                for one in fault.mistakes
            ]
        }
    except StopoutError as fault:
        return {"mistakes": [{"field": "", "message": str(fault), "line": None}]}


@dataclass(slots=True)
class _Worker:
    process: BaseProcess
    pipe: Connection
    holds: str = ""

    def end(self) -> None:
        """End the process, whatever it is in."""
        self.process.kill()
        self.process.join(5)
        self.pipe.close()


@dataclass(slots=True)
class Bench:
    """Two warm processes: one at work, one ready, so that an edit never waits for the last one."""

    spare: list[_Worker] = field(default_factory=list)
    busy: dict[str, _Worker] = field(default_factory=dict)
    stages: dict[str, str] = field(default_factory=dict)
    looks: dict[str, asyncio.Future[None]] = field(default_factory=dict)

    def warm(self, count: int = 2) -> None:
        """Start processes until there are so many spare ones."""
        while len(self.spare) < count:
            context = multiprocessing.get_context("spawn")
            own, other = context.Pipe()
            process = context.Process(target=work, args=(other,), daemon=True)
            process.start()
            other.close()
            self.spare.append(_Worker(process, own))

    def end(self) -> None:
        """End every process."""
        for worker in [*self.spare, *self.busy.values()]:
            worker.end()
        self.spare.clear()
        self.busy.clear()

    async def look(self, what: str, asked: dict[str, Any]) -> Answer:
        """Ask the process that has made a draft, if it is at leisure, for something of it."""
        await self._looked(what)
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

    async def _looked(self, what: str) -> None:
        """Wait for a look that is being taken."""
        while what in self.looks:
            await asyncio.wait([self.looks[what]])

    def _take(self, what: str) -> _Worker:
        """Take a spare process, the one that knows this work if there is one."""
        self.warm(1)
        known = next((one for one in self.spare if one.holds == what), None)
        worker = known or next((one for one in self.spare if not one.holds), self.spare[-1])
        self.spare.remove(worker)
        return worker

    def cancel(self, what: str) -> bool:
        """End the work of that name, if there is any."""
        worker = self.busy.pop(what, None)
        if worker is None:
            return False
        worker.end()
        self.warm()
        return True

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
        await self._looked(what)
        worker = self._take(what)
        self.busy[what] = worker
        self.stages[what] = ""
        try:
            worker.pipe.send(asked)
            while True:
                answer = await asyncio.to_thread(_received, worker)
                if self.busy.get(what) is not worker:
                    return None
                if answer is None:
                    return {"mistakes": [{"field": "", "message": _ENDED, "line": None}]}
                if "stage" not in answer:
                    worker.holds = what
                    self.spare.append(worker)
                    del self.busy[what]
                    return answer
                self.stages[what] = answer["stage"]
        finally:
            if self.busy.get(what) is worker:
                self.busy.pop(what).end()
            self.stages.pop(what, None)
            self.warm()


_ENDED = (
    f"the drawing took more than {_TIME_S} s of computing or {_MEMORY_GIB} GiB of memory; simplify "
    "it, or plan it by the command"
)


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
                worker.process.kill()
        answer: Answer = worker.pipe.recv()
        return answer
    except (EOFError, OSError):
        return None
