"""Pieces of a series planned some at a time, in processes of their own, and kept once done.

A run that is ended goes on where it stood: what is planned together hangs on the series alone.
"""

from __future__ import annotations

import hashlib
import math
import os
import pickle
import signal
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from stopout.clearing import ALONE
from stopout.copies import CannotCopyError, die_with_parent
from stopout.job.setting import Setting
from stopout.planning.memory import Memory
from stopout.values import Box, Counted

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from stopout.job.record import Job
    from stopout.library.job_file import JobFile
    from stopout.planning.knowledge import Knowledge
    from stopout.planning.opening.look import Narrow
    from stopout.planning.panel.whole import Together
    from stopout.values import Drawing

_Own = TypeVar("_Own")
Tell = Callable[[str], None]
# Drawings that a process remembers: the artwork of the job.
_MOST_READ = 4
# Pieces that are planned together: calls of the libraries serve so many, and a run that is ended
# loses no more. Fewer than these are not parted.
_MOST_TOGETHER, _FEW = 16, 4
# Drafts of pieces that a process remembers, as bytes: those of some thousand pieces.
_DRAFTED = Memory(100)
# Above this much time left, in seconds, it is told.
_TOLD_S = 90.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """Pieces to plan together: the words and codes of each.

    `beside` is how narrow the first piece of their panel is. With `boxes`, in mm as seen, only what
    of each piece lies within one of its boxes is planned; all of it where they are None. What lies
    within one of `without` is left out, if the others are made as drawn. So many as `n_uncounted`
    are told of elsewhere.
    """

    settings: tuple[Setting, ...]
    beside: Narrow | None = None
    boxes: tuple[tuple[Box, ...] | None, ...] = ()
    without: tuple[tuple[Box, ...], ...] = ()
    n_uncounted: int = 0

    @property
    def n_pieces(self) -> int:
        """How many pieces are done with these, but for those that were counted elsewhere."""
        return len(self.settings) - self.n_uncounted


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

    def make(self, order: Order) -> Together:
        """Draw pieces and plan their coat; of signs only see what the blank takes of them."""
        from stopout.library.recurring import is_quiet
        from stopout.planning.panel.whole import Together
        from stopout.planning.road.coats import cut_by_blank, plan_coats

        drawings = tuple(self.drawing(one) for one in order.settings)
        if self.job.route.is_sign:
            cut = [cut_by_blank(self.job, one, outline=self.outline) for one in drawings]
            coat, pieces = None, ALONE
        else:
            coat, pieces, cut = plan_coats(
                self.job,
                drawings,
                self.knowledge,
                outline=self.outline,
                draft=self.draft,
                beside=order.beside,
                boxes=order.boxes,
                without=order.without,
            )
            if order.without and not is_quiet(coat):
                return replace(self.make(replace(order, without=())), is_whole=True)
            # The panel's program is written of its moves.
            coat = replace(coat, program=None)
        findings = tuple(tuple(found) for found in cut)
        return Together(drawings=drawings, findings=findings, coat=coat, pieces=pieces)

    def drawing(self, setting: Setting) -> Drawing:
        """Draw a setting, over the job's artwork or alone."""
        from stopout.library.drawings import drawing_of

        artwork = self.job.artwork
        job = self.job
        if not self.with_artwork:
            artwork = replace(artwork, file="")
        read = replace(self.read, job=replace(job, setting=setting, artwork=artwork))
        return drawing_of(read, memory=self.memory)

    @cached_property
    def memory(self) -> Memory:
        """Remembers the artwork that lies below each piece's words."""
        return Memory(_MOST_READ)

    @cached_property
    def folder(self) -> Path:
        """Where pieces are kept until the series is done: the user's cache, by all that counts."""
        from platformdirs import user_cache_path

        folder = user_cache_path("stopout") / "series" / self._told_by(self.job)[:32]
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        return folder

    @cached_property
    def drawn_for(self) -> str:
        """What tells all that pieces hang on, but for their own words, from all else."""
        return self._told_by(replace(self.job, name="", revision="", sha256="", findings=()))

    def _told_by(self, job: Job) -> str:
        import stopout
        from stopout.library.drawings import files_of

        said = hashlib.sha256(repr((stopout.__version__, job, self.knowledge, self.draft)).encode())
        for path in files_of(self.read):
            said.update(path.read_bytes())
        return said.hexdigest()

    def kept(self, order: Order) -> Path:
        """Return the file that pieces are kept in."""
        said = repr((order, self.with_artwork)).encode()
        return self.folder / f"{hashlib.sha256(said).hexdigest()[:40]}.piece"

    def is_made(self, order: Order) -> bool:
        """Tell whether pieces need not be made any more."""
        return _DRAFTED.knows(self._key(order)) or self.kept(order).is_file()

    def made(self, order: Order) -> Together:
        """Return what is kept of pieces, made anew where it is not.

        A draft is remembered for the next: where a word of the job changes, none is made again.
        """
        if not self.draft:
            return self._made(order)
        made: Together = pickle.loads(self.drafted(order))
        return made

    def drafted(self, order: Order) -> bytes:
        """Return a draft as it is remembered; a process that joins panels would forget it."""
        return _DRAFTED.recall(self._key(order), lambda: _packed(self._made(order)))

    def _key(self, order: Order) -> tuple[str, Order, bool]:
        return self.drawn_for, order, self.with_artwork

    def _made(self, order: Order) -> Together:
        """Read pieces from the user's own cache, or make them."""
        path = self.kept(order)
        if path.is_file():
            with suppress(pickle.UnpicklingError, EOFError, OSError):
                made: Together = pickle.loads(path.read_bytes())
                return made
        return keep(self, order)

    def forget(self) -> None:
        """Remove what was kept of a series that is done."""
        for path in self.folder.iterdir():
            with suppress(OSError):
                path.unlink()
        with suppress(OSError):
            self.folder.rmdir()


def some_at_a_time(group: Sequence[_Own], job: Job) -> Iterator[tuple[_Own, ...]]:
    """Part a group into those that are planned together, whatever cores there are."""
    from stopout.planning.panel.whole import may_lie_side_by_side

    most = _MOST_TOGETHER if may_lie_side_by_side(job) else 1
    # Two by two, for two processes, where that still saves most of the calls.
    n_orders = max(math.ceil(len(group) / most), 1)
    if n_orders % 2 and len(group) >= _FEW * (n_orders + 1):
        n_orders += 1
    for k in range(n_orders):
        begin, end = (len(group) * j // n_orders for j in (k, k + 1))
        yield tuple(group[begin:end])


def keep(workshop: Workshop, order: Order) -> Together:
    """Make pieces and keep them."""
    made = workshop.make(order)
    path = workshop.kept(order)
    # Written beside and renamed: a run that is ended here leaves nothing half-written.
    beside = path.with_suffix(f".{os.getpid()}")
    beside.write_bytes(_packed(made))
    beside.replace(path)
    return made


def _packed(made: Together) -> bytes:
    return pickle.dumps(made, protocol=pickle.HIGHEST_PROTOCOL)


def keep_all(
    workshop: Workshop,
    orders: Iterable[Order],
    tell: Tell,
    workers: int | None,
    *,
    words: str = "piece",
    before: int = 0,
    after: int = 0,
) -> None:
    """Make and keep all pieces that are not kept yet, on all cores.

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
    words : str
        What one of them is called.
    before, after : int
        How many of them were made before these, and will be after.
    """
    asked = list(orders)
    left = [order for order in asked if not workshop.is_made(order)]
    count = min(workers or os.cpu_count() or 1, len(left))
    done = before + sum(order.n_pieces for order in asked)
    far = _Far(done, done + after, sum(order.n_pieces for order in left), words, tell)
    if count > 1:
        _in_processes(workshop, left, far, count)
    else:
        for order in left:
            keep(workshop, order)
            far.on(order.n_pieces)
    if workshop.draft:
        for order in left:
            workshop.drafted(order)


def _in_processes(workshop: Workshop, left: Sequence[Order], far: _Far, count: int) -> None:
    pool = ProcessPoolExecutor(max_workers=count, initializer=_begin, initargs=(workshop,))
    try:
        asked = {pool.submit(_keep, order): order for order in left}
        for future in as_completed(asked):
            try:
                future.result()
            except CannotCopyError:
                keep(workshop, asked[future])
            far.on(asked[future].n_pieces)
    finally:
        # After an interrupt the pieces in hand are ended and kept.
        pool.shutdown(cancel_futures=True)


_in_hand: Workshop | None = None


def _begin(workshop: Workshop) -> None:
    """Take up the work in a process of a pool, whose interrupts are its parent's affair."""
    global _in_hand
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    die_with_parent()
    _in_hand = workshop


def _keep(order: Order) -> None:
    assert _in_hand is not None
    keep(_in_hand, order)


class _Far:
    """Tells how many of all pieces are done, and how long those that are left will take."""

    def __init__(self, done: int, every: int, left: int, words: str, tell: Tell) -> None:
        self.done, self.every, self.left, self.words, self.tell = done, every, left, words, tell
        self.made, self.began = 0, time.monotonic()

    def on(self, count: int) -> None:
        """Tell that so many more pieces are done."""
        self.made += count
        left = self.left - self.made
        done = self.done - left
        each_s = (time.monotonic() - self.began) / max(self.made, 1)
        left_s = each_s * (self.every - done)
        more = f", about {left_s / 60:.0f} min left" if left_s > _TOLD_S else ""
        self.tell(Counted(f"{self.words} {done} of {self.every}{more}", done / self.every))
