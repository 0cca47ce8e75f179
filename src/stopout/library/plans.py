"""From a job file to its plan."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stopout.library.job_file import JobFile, check_inside
from stopout.planning.memory import Memory

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from stopout.job.record import Job
    from stopout.library.cores import Work
    from stopout.planning import Knowledge, Plan
    from stopout.planning.opening.first_look import Glimpse
    from stopout.planning.signs.front import FrontGlimpse

# A process that plans again and again, at each save of a drawing, looks only at what has changed.
_MEMORY = Memory()
# Reading a smaller file takes no longer than loading the planner.
_LARGE_BYTES = 30_000


def _nothing(stage: str) -> None:
    """Tell nobody."""


def plan_job(
    read: JobFile,
    *,
    book: str | PathLike[str] | None = None,
    allow_outside: bool = False,
    draft: bool = False,
    tell: Callable[[str], None] = _nothing,
    glimpse: Callable[[Glimpse | FrontGlimpse], None] | None = None,
    weigh: Callable[[int], None] | None = None,
) -> Plan:
    """Plan a job: masks, programs, the predicted piece, the etch and the verdict.

    A draft leaves the programs out, and with them their times and their proof. What it shows is
    what the mask's beam centres clear; a program follows them to within a motor step. It names no
    remedy that has been tried.

    Parameters
    ----------
    read : JobFile
        From `read_job`.
    book : str or path, optional
        A shop book whose numbers stand in for those that the job leaves out; without it none is
        read. `usual_book()` is the one that the command line takes.
    allow_outside : bool
        Whether artwork, fonts and outline may lie outside the job file's folder.
    draft : bool
        Whether to stop at the prediction, for a look while one draws: the plan then has
        `is_draft`, and is no plan to work from.
    tell : callable
        Is told in a few words which stage begins.
    glimpse : callable, optional
        Is given a first look at the front of a sign's draft and at each coat whose shapes have to
        be looked at again; it decides nothing, and comes in a fraction of the time.
    weigh : callable, optional
        Is told how many points the drawing has, once it is read: the work goes with them. Not
        called for a series or a panel.

    Returns
    -------
    Plan
        Also where something says stop: it then has no program, and `is_stopped` is true.

    Raises
    ------
    JobError
        If artwork cannot be read, a table lacks what the job names, or a value of the job's makes
        it impossible, with the job file's line.
    PlanError, ArtworkError, BookError
        If it cannot be planned at all.
    """
    with _placed(read):
        if not allow_outside:
            check_inside(read)
        tell("reading the artwork")
        from stopout.library.cores import on_all_cores
        from stopout.library.drawings import drawing_of

        if read.job.series is not None or read.job.panel is not None:
            from stopout.library.series import plan_series

            job, knowledge, outline = _known(read, book, tell)
            whole = replace(read, job=job)
            return plan_series(whole, knowledge, outline=outline, draft=draft, tell=tell)
        # What a draft finds is remembered by this process.
        is_alone = draft or not _has_large_artwork(read)
        works: list[Work[Any]] = [
            partial(_known, read, book) if is_alone else partial(_loaded_and_known, read, book),
            lambda _: drawing_of(read, memory=_MEMORY),
        ]
        (job, knowledge, outline), drawing = on_all_cores(works, tell, 1 if is_alone else None)
        if weigh is not None:
            weigh(drawing.points)
        from stopout.planning.road.ground import one_by_one
        from stopout.planning.road.whole import plan_job as planned

        return planned(
            job,
            drawing,
            knowledge,
            outline=outline,
            draft=draft,
            memory=_MEMORY,
            tell=tell,
            glimpse=glimpse,
            do_all=one_by_one if draft else on_all_cores,
        )


@contextmanager
def _placed(read: JobFile) -> Iterator[None]:
    """Tell what cannot be planned with the line of the job file that it hangs on."""
    from stopout.errors import PlanError
    from stopout.jobs import job_error

    try:
        yield
    except PlanError as error:
        if not error.at:
            raise
        raise job_error(read.path, [(error.at, str(error))]) from None


def _has_large_artwork(read: JobFile) -> bool:
    """Tell whether reading the artwork is worth a process of its own."""
    try:
        file = read.folder / read.job.artwork.file
        return file.is_file() and file.stat().st_size >= _LARGE_BYTES
    except OSError:
        return False


def _loaded_and_known(
    read: JobFile, book: str | PathLike[str] | None, tell: Callable[[str], None]
) -> tuple[Job, Knowledge, BaseGeometry | None]:
    """Load what the masks need as well, while another process reads: copies then have it too."""
    import scipy.spatial  # noqa: F401

    return _known(read, book, tell)


def _known(
    read: JobFile, book: str | PathLike[str] | None, tell: Callable[[str], None]
) -> tuple[Job, Knowledge, BaseGeometry | None]:
    """A job with the shop's numbers, what tables say of it, and its outline; loads the planner."""
    import stopout.planning.road.whole  # noqa: F401
    from stopout.artwork import open_outline
    from stopout.library.book import with_book
    from stopout.library.knowledge import knowledge_for

    job = read.job
    knowledge = knowledge_for(job, read.path)
    if book is not None:
        job = with_book(job, knowledge, Path(book))
    if job.blank.outline is None:
        return job, knowledge, None
    return job, knowledge, open_outline(read.folder / job.blank.outline, job.blank)
