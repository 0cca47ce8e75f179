"""A job file that has been read: the job, and the folder that its artwork's names count from."""

from __future__ import annotations

from dataclasses import dataclass
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from stopout.job.record import Job


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFile:
    """A job and the file that it was read from; names of files in it count from that folder."""

    path: Path
    job: Job

    @property
    def folder(self) -> Path:
        """Where the job's artwork, fonts, outline and tables lie."""
        return self.path.parent


def read_job(path: str | PathLike[str], *, book: str | PathLike[str] | None = None) -> JobFile:
    """Read a job file.

    Parameters
    ----------
    path : str or path
        A TOML file.
    book : str or path, optional
        A shop book, for the machine, the paints, the tray and the limits that the job names.

    Returns
    -------
    JobFile

    Raises
    ------
    JobError
        With every mistake, its line and what would be right.
    """
    from stopout import jobs
    from stopout.library.equipment import shop_equipment

    file, where = Path(path), None if book is None else Path(book)
    return JobFile(path=file, job=jobs.read_job(file, shop=lambda: shop_equipment(where)))


def check_inside(read: JobFile) -> None:
    """Refuse files outside the job's folder, so that a job from elsewhere cannot reach them.

    Raises
    ------
    JobError
        Naming each file that lies outside.
    """
    from stopout.jobs import job_error

    home, job = read.folder.resolve(), read.job
    named: list[tuple[tuple[str | int, ...], str]] = [(("artwork", "file"), job.artwork.file)]
    named += [
        (("text", k, "font"), text.font)
        for k, text in enumerate(job.setting.texts)
        if "." in text.font
    ]
    named += [(("artwork", "fonts", k), name) for k, name in enumerate(job.artwork.fonts)]
    if job.blank.outline is not None:
        named.append((("blank", "outline"), job.blank.outline))
    faults = [
        (
            at,
            f"'{name}' lies outside the job file's folder; copy it there, or give --allow-outside "
            "if that is meant",
        )
        for at, name in named
        if not _real(read.folder / name).is_relative_to(home)
    ]
    if faults:
        raise job_error(read.path, faults)


def _real(path: Path) -> Path:
    """Where a path leads, links followed; a path in a loop leads nowhere."""
    try:
        return path.resolve()
    except (OSError, RuntimeError, ValueError):
        return path.absolute()
