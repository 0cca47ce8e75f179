"""The hidden folder in which a run prepares its files, and what happens to it after a kill.

A run locks its folder as long as it lives; the system frees the lock whatever ends the run. A
hidden folder of ours whose lock is free therefore belongs to nobody, and the next run takes back
what is not ours out of it and removes it. Where a file system has no such locks, nothing is proved
and nothing removed.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from stopout.folders.carry import settle

try:
    import fcntl
except ImportError:  # a system without such locks
    fcntl = None  # type: ignore[assignment]

_PREFIX = ".stopout-work-"
_NOTE = "work.json"
_FORMAT = "stopout-work-1"


@dataclass(frozen=True, slots=True)
class WorkPlace:
    """A run's hidden folder; `new` is filled in it, `old` is where a replaced folder may wait."""

    path: Path

    @property
    def new(self) -> Path:
        """The folder that is filled."""
        return self.path / "new"

    @property
    def old(self) -> Path:
        """Where the old folder waits if the system cannot exchange two folders in one step."""
        return self.path / "old"

    def begin(self, place: str) -> None:
        """Make `new`, and note for whom it is and by what to know it again."""
        self.new.mkdir()
        note = {"format": _FORMAT, "place": place, "new": self.new.stat().st_ino}
        (self.path / _NOTE).write_text(json.dumps(note))


@contextmanager
def work_place(parent: Path) -> Iterator[WorkPlace]:
    """Make a hidden folder, and remove it afterwards unless it holds a folder to be settled."""
    with _locked(parent):
        clear_dead_locked(parent)
        work = WorkPlace(Path(tempfile.mkdtemp(prefix=_PREFIX, dir=parent)))
        handle = _lock(work.path)
    try:
        yield work
    finally:
        if not _holds_old(work):
            shutil.rmtree(work.new, ignore_errors=True)
            shutil.rmtree(work.path, ignore_errors=True)
        if handle is not None:
            os.close(handle)


def clear_dead(parent: Path) -> tuple[str, ...]:
    """Remove the hidden folders of killed runs; what is not ours goes back to its place.

    Returns
    -------
    tuple of str
        A sentence for each thing that was put back.
    """
    if not any(parent.glob(f"{_PREFIX}*")):
        return ()
    with _locked(parent) as is_locked:
        return clear_dead_locked(parent) if is_locked else ()


def clear_dead_locked(parent: Path) -> tuple[str, ...]:
    """Do the same while the parent is locked already."""
    said: list[str] = []
    for path in sorted(parent.glob(f"{_PREFIX}*")):
        if path.is_symlink() or not path.is_dir() or (handle := _lock(path)) is None:
            continue
        try:
            said += _clear(WorkPlace(path))
        except OSError:
            # What cannot be removed today stays where it is.
            continue
        finally:
            os.close(handle)
    return tuple(said)


def _clear(work: WorkPlace) -> list[str]:
    """Remove one hidden folder whose run is dead."""
    note = _note(work)
    said: list[str] = []
    if note is not None:
        place = work.path.parent / note["place"]
        for rest in (work.old, work.new):
            if rest.is_dir() and not (rest == work.new and _is_first(work, note)):
                if os.path.lexists(place):
                    said += settle(rest, place)
                else:
                    rest.rename(place)
        # The note goes last, so that a run that is killed here leaves it to the next one.
        shutil.rmtree(work.new, ignore_errors=True)
        shutil.rmtree(work.path)
        return said
    # Killed before the note was whole, or one file was being written: nothing else is in it.
    for left in work.path.iterdir():
        if left.is_dir() and any(left.iterdir()):
            return said
    shutil.rmtree(work.path)
    return said


def _note(work: WorkPlace) -> dict[str, Any] | None:
    try:
        note = json.loads((work.path / _NOTE).read_bytes())
        is_ours = note["format"] == _FORMAT and Path(note["place"]).name == note["place"]
        return dict(note) if is_ours and note["place"] and isinstance(note["new"], int) else None
    except (OSError, ValueError, TypeError, KeyError):
        return None


def _is_first(work: WorkPlace, note: dict[str, Any]) -> bool:
    """Tell whether `new` still is the folder that was filled, and not the old one exchanged."""
    return bool(work.new.stat().st_ino == note["new"])


def _holds_old(work: WorkPlace) -> bool:
    note = _note(work)
    if note is None:
        return False
    return work.old.exists() or (work.new.exists() and not _is_first(work, note))


@contextmanager
def _locked(folder: Path) -> Iterator[bool]:
    """Hold the lock of a folder; False where the file system has none."""
    handle = _lock(folder, wait=True)
    try:
        yield handle is not None
    finally:
        if handle is not None:
            os.close(handle)


def _lock(folder: Path, *, wait: bool = False) -> int | None:
    """Lock a folder, or tell by None that another run holds it or that there are no locks."""
    if fcntl is None:
        return None
    try:
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    except OSError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError:
        with suppress(OSError):
            os.close(handle)
        return None
    return handle
