"""Pieces of a series planned in processes of their own, each kept as soon as it is done.

A run that is ended goes on where it stood.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import signal
import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from stopout.job.setting import Setting
from stopout.planning.memory import Memory
from stopout.values import Counted

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from stopout.job.record import Job
    from stopout.library.job_file import JobFile
    from stopout.planning.knowledge import Knowledge
    from stopout.planning.opening.look import Narrow
    from stopout.planning.plan import CoatPlan
    from stopout.values import Drawing, Finding

Tell = Callable[[str], None]
# Patches that a process remembers: words that stand on many pieces, not the numbers of all.
_MOST_PATCHES = 300
# Above this much time left, in seconds, it is told.
_TOLD_S = 90.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """A piece to plan: its words and codes, and how narrow the first piece of its panel is."""

    setting: Setting
    beside: Narrow | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Made:
    """What is planned of a piece, or of what all have in common; a sign's pieces have no coat."""

    drawing: Drawing
    coat: CoatPlan | None
    findings: tuple[Finding, ...]


@dataclass(kw_only=True)
class Workshop:
    """What is needed to plan a piece, and where what is done is kept.

    `with_artwork` tells that the job's artwork is planned with each piece, not once for all.
    """

    read: JobFile
    knowledge: Knowledge
    outline: BaseGeometry | None
    draft: bool
    with_artwork: bool = True

    @property
    def job(self) -> Job:
        """The job of one piece."""
        return self.read.job

    def make(self, order: Order, memory: Memory | None = None) -> Made:
        """Draw a piece and plan its coat; of a sign only see what the blank takes of it."""
        from stopout.planning.road.whole import cut_by_blank, plan_coats

        drawing = self.drawing(order.setting, with_artwork=self.with_artwork)
        if self.job.route.is_sign:
            cut = cut_by_blank(self.job, drawing, outline=self.outline)
            return Made(drawing=drawing, coat=None, findings=tuple(cut))
        coats, findings = plan_coats(
            self.job,
            drawing,
            self.knowledge,
            outline=self.outline,
            draft=self.draft,
            memory=memory,
            beside=order.beside,
        )
        # The panel's program is written of its moves.
        coat = replace(coats[0], program=None)
        return Made(drawing=drawing, coat=coat, findings=tuple(findings))

    def drawing(self, setting: Setting, *, with_artwork: bool) -> Drawing:
        """Draw a setting, over the job's artwork or alone."""
        from stopout.library.drawings import drawing_of

        artwork = self.job.artwork if with_artwork else replace(self.job.artwork, file="")
        job = replace(self.job, setting=setting, artwork=artwork)
        return drawing_of(replace(self.read, job=job))

    @cached_property
    def folder(self) -> Path:
        """Where pieces are kept until the series is done: the user's cache, by all that counts."""
        from platformdirs import user_cache_path

        import stopout
        from stopout.library.drawings import files_of

        said = hashlib.sha256(
            repr((stopout.__version__, self.job, self.knowledge, self.draft)).encode()
        )
        for path in files_of(self.read):
            said.update(path.read_bytes())
        folder = user_cache_path("stopout") / "series" / said.hexdigest()[:32]
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        return folder

    def kept(self, order: Order) -> Path:
        """Return the file that a piece is kept in."""
        said = repr((order, self.with_artwork)).encode()
        return self.folder / f"{hashlib.sha256(said).hexdigest()[:40]}.piece"

    def made(self, order: Order) -> Made:
        """Return what is kept of a piece, made anew where it is not: the user's own cache."""
        path = self.kept(order)
        if path.is_file():
            with suppress(pickle.UnpicklingError, EOFError, OSError):
                made: Made = pickle.loads(path.read_bytes())
                return made
        return keep(self, order)

    def forget(self) -> None:
        """Remove what was kept of a series that is done."""
        for path in self.folder.iterdir():
            with suppress(OSError):
                path.unlink()
        with suppress(OSError):
            self.folder.rmdir()


def keep(workshop: Workshop, order: Order, memory: Memory | None = None) -> Made:
    """Make a piece and keep it."""
    made = workshop.make(order, memory)
    path = workshop.kept(order)
    # Written beside and renamed: a run that is ended here leaves nothing half-written.
    beside = path.with_suffix(f".{os.getpid()}")
    beside.write_bytes(pickle.dumps(made))
    beside.replace(path)
    return made


def keep_all(workshop: Workshop, orders: Iterable[Order], tell: Tell, workers: int | None) -> None:
    """Make and keep every piece that is not kept yet, on all cores.

    Parameters
    ----------
    workshop : Workshop
        Of the series.
    orders : iterable of Order
        Each once.
    tell : callable
        Is told in a few words how far it is.
    workers : int, optional
        How many processes; the machine's cores where it is left out.
    """
    left = [order for order in orders if not workshop.kept(order).is_file()]
    count, far = min(workers or os.cpu_count() or 1, len(left)), _Far(len(left), tell)
    if count > 1:
        _in_processes(workshop, left, far, count)
        return
    memory = Memory(_MOST_PATCHES)
    for order in left:
        keep(workshop, order, memory)
        far.one_more()


def _in_processes(workshop: Workshop, left: Sequence[Order], far: _Far, count: int) -> None:
    pool = ProcessPoolExecutor(max_workers=count, initializer=_begin, initargs=(workshop,))
    try:
        for future in as_completed([pool.submit(_keep, order) for order in left]):
            future.result()
            far.one_more()
    finally:
        # After an interrupt the pieces in hand are ended and kept.
        pool.shutdown(cancel_futures=True)


_in_hand: tuple[Workshop, Memory] | None = None


def _begin(workshop: Workshop) -> None:
    """Take up the work in a process of a pool, whose interrupts are its parent's affair."""
    global _in_hand
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _in_hand = workshop, Memory(_MOST_PATCHES)


def _keep(order: Order) -> None:
    assert _in_hand is not None
    keep(_in_hand[0], order, _in_hand[1])


class _Far:
    """Tells how many pieces are done, and how long the others will take."""

    def __init__(self, count: int, tell: Tell) -> None:
        self.count, self.tell, self.done, self.began = count, tell, 0, time.monotonic()

    def one_more(self) -> None:
        """Tell that one more piece is done."""
        self.done += 1
        left_s = (time.monotonic() - self.began) / self.done * (self.count - self.done)
        more = f", about {left_s / 60:.0f} min left" if left_s > _TOLD_S else ""
        self.tell(Counted(f"piece {self.done} of {self.count}{more}", self.done / self.count))
