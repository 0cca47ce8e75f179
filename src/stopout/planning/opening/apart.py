"""Work shared by the cores: two threads for what is small, processes for what is large.

A process is a copy of this one, made where its share of the work begins, and sends back what it
made. What is made does not depend on who makes it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from multiprocessing import parent_process
from typing import Generic, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.copies import Copy, cores
from stopout.values import Counted

_Asked = TypeVar("_Asked")
_Made = TypeVar("_Made")

# Vertices from which a copy of the process, and sending back what it makes, is worth its while.
_LARGE = 12_000


def each(
    work: Callable[[_Asked], _Made],
    asked: Iterable[_Asked],
    *,
    size: Sequence[int] = (),
    tell: Callable[[str], None] | None = None,
    words: str = "",
) -> list[_Made]:
    """Do a piece of work for each, on all cores; results in the order asked.

    Parameters
    ----------
    work : callable
        Changes nothing: what it remembers may be lost.
    asked : iterable
        What it is given, one by one.
    size : sequence of int, optional
        The vertices of each. Where they are many together, processes share them by it; else two
        threads do, for the geometry library works without the interpreter's lock.
    tell, words : callable and str, optional
        Is told how much of large work is done, after these words.

    Notes
    -----
    An interrupt leaves what has not begun undone, and ends the processes.
    """
    waiting = list(asked)
    if len(waiting) > 1 and sum(size) >= _LARGE and cores() > 1:
        return _shared(work, waiting, np.asarray(size), _Far(tell, words))
    # A process of a pool is one of as many as there are cores: they have enough to do.
    if len(waiting) < 2 or parent_process() is not None:
        return [work(one) for one in waiting]
    pool = ThreadPoolExecutor(max_workers=2)
    try:
        return list(pool.map(work, waiting))
    finally:
        pool.shutdown(cancel_futures=True)


def vertices_of(*regions: BaseGeometry) -> int:
    """Return how many vertices regions have together."""
    return int(shapely.get_num_coordinates(np.asarray(regions, dtype=object)).sum())


class Beside(Generic[_Made]):
    """A piece of work that another core does meanwhile, if it is large and there is one."""

    def __init__(self, work: Callable[[], _Made], *, size: int) -> None:
        self._work = work
        self._copy = Copy([work]) if size >= _LARGE and cores() > 1 else None

    def result(self) -> _Made:
        """Wait for it; where nobody has done it, it is done now."""
        copy, self._copy = self._copy, None
        made = None if copy is None else copy.made()
        return self._work() if made is None else made[0]

    def end(self) -> None:
        """Let go of it unless it was waited for."""
        if self._copy is not None:
            self._copy.end()


def _shared(
    work: Callable[[_Asked], _Made], asked: list[_Asked], size: NDArray[np.int64], far: _Far
) -> list[_Made]:
    home = _homes(size, min(cores(), len(asked)))
    shares = [np.flatnonzero(home == k) for k in range(home.max() + 1)]
    copies = [Copy([_Given(work, asked[i]) for i in share]) for share in shares[1:]]
    made: dict[int, _Made] = {}
    try:
        for i in shares[0]:
            made[int(i)] = work(asked[i])
            far.one_more(size[i] / size[shares[0]].sum())
        for share, copy in zip(shares[1:], copies, strict=True):
            # What a process did not bring, as where memory ran out, is made here.
            found = copy.made() or [work(asked[i]) for i in share]
            made.update(zip(share.tolist(), found, strict=True))
    finally:
        for copy in copies:
            copy.end()
    return [made[i] for i in range(len(asked))]


def _homes(size: NDArray[np.int64], count: int) -> NDArray[np.intp]:
    """Share pieces out: the largest first, each to whoever has least to do."""
    home = np.zeros(len(size), dtype=np.intp)
    load = np.zeros(count)
    for i in np.argsort(-size, kind="stable"):
        home[i] = int(np.argmin(load))
        load[home[i]] += size[i]
    return home


class _Given(Generic[_Asked, _Made]):
    """A piece of work with what it is given."""

    def __init__(self, work: Callable[[_Asked], _Made], asked: _Asked) -> None:
        self.work, self.asked = work, asked

    def __call__(self) -> _Made:
        return self.work(self.asked)


class _Far:
    """Tells which share of the work is done."""

    def __init__(self, tell: Callable[[str], None] | None, words: str) -> None:
        self.tell, self.words, self.done = tell, words, 0.0

    def one_more(self, share: float) -> None:
        """Count one more piece, which is this share of all."""
        self.done = min(self.done + share, 1.0)
        if self.tell is not None:
            self.tell(Counted(f"{self.words}, {100 * self.done:.0f} %", self.done))
