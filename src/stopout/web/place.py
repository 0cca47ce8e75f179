"""The folder that a page works in: its jobs by name, and files that never lead out of it."""

from __future__ import annotations

import glob
import hashlib
import os
import re
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from stopout.errors import StopoutError

PAGE = Path(__file__).parent / "page"
_ORDER = ".order.toml"
_MOST_JOBS = 500
# A save takes a moment: what is older was left by a process that is no more.
_LEFT_S = 60.0
_MOST_BYTES = 1_000_000
_JOB = re.compile(rb"^\s*(\[+\s*job\b|job\s*[=.])", re.MULTILINE)
# What a name in a folder may be made of; no separators, no device, nothing hidden.
_NAME = re.compile(r"[^\W_][\w .()+-]{0,119}", re.UNICODE)


class NoSuchFileError(StopoutError):
    """A name that is not one of the folder's own."""


class ChangedError(StopoutError):
    """A file that was changed elsewhere since it was read."""


@dataclass(frozen=True, slots=True)
class Text:
    """A job file as it is now: its text and what tells it from another."""

    text: str
    sha256: str


class Place:
    """A folder of jobs. Names of jobs are their files' names without the ending."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder.resolve()

    def jobs(self) -> list[str]:
        """The jobs, newest first: files of the folder, and those a folder below as `in/name`."""
        found = [*self.folder.glob("*.toml"), *self.folder.glob("*/*.toml")]
        own = [
            path for path in found if self._is_own(path) and _is_job(path) and not _is_order(path)
        ]
        own.sort(key=lambda path: path.stat().st_mtime, reverse=True)
        return [str(path.relative_to(self.folder).with_suffix("")) for path in own[:_MOST_JOBS]]

    def path(self, job: str) -> Path:
        """Return a job's file.

        Raises
        ------
        NoSuchFileError
            If the folder has no such job, or the name would lead elsewhere.
        """
        parts = job.split("/")
        if not 1 <= len(parts) <= 2 or not all(_NAME.fullmatch(part) for part in parts):
            raise NoSuchFileError(f"there is no job '{job[:60]}' here")
        path = self.folder.joinpath(*parts).with_name(f"{parts[-1]}.toml")
        if not path.is_file() or not self._is_own(path):
            raise NoSuchFileError(f"there is no job '{job[:60]}' here")
        return path

    def beside(self, job: str, name: str) -> Path:
        """Return a file's path beside a job, there or not.

        Raises
        ------
        NoSuchFileError
            If the name would lead elsewhere.
        """
        home = self.path(job).parent
        path = home / name
        if not _NAME.fullmatch(name) or not path.resolve().is_relative_to(home.resolve()):
            raise NoSuchFileError(f"'{name[:60]}' is no name for a file here")
        return path

    def order(self, job: str) -> Path:
        """Return the file beside a job that holds what is kept of its order, there or not.

        Raises
        ------
        NoSuchFileError
            If something else stands at its place.
        """
        path = self.path(job)
        order = path.with_name(path.stem + _ORDER)
        if order.is_symlink() or (order.exists() and not order.is_file()):
            raise NoSuchFileError(f"{order.name} is not a plain file; move it away")
        return order

    @staticmethod
    def is_name(name: str) -> bool:
        """Tell whether a name is one of a plain file in a folder."""
        return _NAME.fullmatch(name) is not None

    def kept(self, job: str, what: str) -> Path:
        """Return the folder beside a job in which the page keeps something, there or not.

        It is none of the plan's: a second plan of the job leaves it alone.

        Parameters
        ----------
        job : str
        what : str
            `records` or `scans`.

        Raises
        ------
        NoSuchFileError
            If something else stands at its place.
        """
        path = self.path(job)
        folder = path.parent / f"{path.stem}-{what}"
        if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
            raise NoSuchFileError(f"{folder.name} is not a plain folder; move it away")
        return folder

    def in_plan(self, job: str, name: str) -> Path:
        """Return a file of a job's plan.

        Raises
        ------
        NoSuchFileError
            If the plan has no such file of its own.
        """
        path = self.path(job)
        file = path.parent / f"{path.stem}-plan" / name
        if not _NAME.fullmatch(name) or not file.is_file() or not self._is_own(file):
            raise NoSuchFileError(f"the plan has no file '{name[:60]}'")
        return file

    def read(self, job: str) -> Text:
        """Read a job file as it is now."""
        path = self.path(job)
        if path.stat().st_size > _MOST_BYTES:
            raise NoSuchFileError(f"'{job}' is too large for a job file")
        return text_of(path.read_bytes())

    def write(self, job: str, text: str, *, over: str) -> Text:
        """Replace a job file that still is what it was read as.

        Raises
        ------
        ChangedError
            If it has been changed elsewhere since.
        """
        path = self.path(job)
        if self.read(job).sha256 != over:
            raise ChangedError(f"'{job}' was changed elsewhere; look at it again")
        write_beside(path, text.encode())
        return text_of(text.encode())

    def _is_own(self, path: Path) -> bool:
        try:
            return path.resolve().is_relative_to(self.folder) and not path.is_symlink()
        except (OSError, RuntimeError):
            return False


def _is_order(path: Path) -> bool:
    """Tell whether a file is what is kept of an order beside a job."""
    job = path.name.removesuffix(_ORDER)
    return job != path.name and path.with_name(f"{job}.toml").is_file()


def _is_job(path: Path) -> bool:
    """Tell a job from a shop's own tables: it speaks of a job. One that is too large is told so."""
    try:
        with path.open("rb") as stream:
            return _JOB.search(stream.read(_MOST_BYTES)) is not None
    except OSError:
        return False


def text_of(data: bytes) -> Text:
    """Return bytes as text with their hash."""
    return Text(data.decode("utf-8-sig", errors="replace"), hashlib.sha256(data).hexdigest())


def write_beside(path: Path, data: bytes) -> None:
    """Write a file beside its place, then rename: nobody ever sees half of it.

    What a process that was killed has left unfinished beside it is swept up.
    """
    for left in path.parent.glob(f".{glob.escape(path.name)}.*.new"):
        with suppress(OSError):
            if time.time() - left.stat().st_mtime > _LEFT_S:
                left.unlink()
    beside = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        with beside.open("wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
