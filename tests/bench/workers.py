"""Many small trials in forked workers, each trial held to a budget of time and memory.

A worker takes a batch, so that imports are paid once; one that hangs, dies or takes too much is
ended, its trial is told as a fault, and another goes on behind it.
"""

from __future__ import annotations

import json
import os
import resource
import select
import signal
import sys
import time
from collections import deque
from dataclasses import dataclass
from pathlib import Path

BATCH = 250
# What a trial is said to be that its budget of time has ended.
OVER = f"fault: ended by signal {int(signal.SIGKILL)}"


@dataclass(slots=True)
class _Worker:
    """A batch under way: what is left of it, and the trial that it is at."""

    pid: int
    pipe: int
    left: list
    at: object = None
    began_s: float = 0.0
    said: bytes = b""


def trials(work, indices, *, workers=1, time_s=120.0, memory_gib=4.0):
    """Run `work(index)` for each index and yield (index, what it returned, seconds, MB).

    `work` returns a text. A trial that is over its budget returns "fault: ..." in its place; MB is
    the most that its worker has held, told with the last trial of a batch and 0 with the others.
    """
    indices = list(indices)
    waiting = deque(indices[k : k + BATCH] for k in range(0, len(indices), BATCH))
    running = {}
    while waiting or running:
        while waiting and len(running) < workers:
            worker = _started(work, waiting.popleft(), memory_gib)
            running[worker.pipe] = worker
        ready = select.select(list(running), [], [], 0.5)[0]
        for pipe in ready:
            worker = running[pipe]
            data = os.read(pipe, 1 << 16)
            if data:
                yield from _heard(worker, data)
                continue
            yield from _ended(worker, waiting)
            del running[pipe]
        for worker in running.values():
            if worker.at is not None and _cpu_s(worker.pid) - worker.began_s > time_s:
                os.kill(worker.pid, signal.SIGKILL)


def _started(work, batch, memory_gib):
    reading, writing = os.pipe()
    sys.stdout.flush()
    pid = os.fork()
    if pid:
        os.close(writing)
        return _Worker(pid=pid, pipe=reading, left=list(batch))
    os.close(reading)
    # Room for what is mapped and never touched besides what is held.
    most = int((memory_gib + 4) * 2**30)
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
    status = 1
    try:
        for index in batch:
            began = time.process_time()
            _tell(writing, ["at", index, began])
            said = work(index)
            _tell(writing, ["done", index, said, time.process_time() - began])
        status = 0
    finally:
        os._exit(status)


def _tell(pipe, words):
    os.write(pipe, json.dumps(words).encode() + b"\n")


def _heard(worker, data):
    *lines, worker.said = (worker.said + data).split(b"\n")
    for line in lines:
        word, index, *rest = json.loads(line)
        if word == "at":
            worker.at, worker.began_s = index, rest[0]
        else:
            worker.at = None
            worker.left.remove(index)
            yield index, *rest, 0.0


def _ended(worker, waiting):
    """What a worker leaves: a fault if it was at a trial, and the rest of its batch."""
    os.close(worker.pipe)
    _, status, used = os.wait4(worker.pid, 0)
    held_mb = used.ru_maxrss / 1024
    if worker.at is None:
        yield None, "", 0.0, held_mb
        return
    number = os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0
    taken = used.ru_utime + used.ru_stime - worker.began_s
    yield worker.at, f"fault: ended by signal {number}", taken, held_mb
    worker.left.remove(worker.at)
    if worker.left:
        waiting.append(worker.left)


def _cpu_s(pid):
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
