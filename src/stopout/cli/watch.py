"""`stopout watch`: a draft at each save of the job or its artwork, and what changed by it."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import typer

from stopout.cli.asked.book import asked_book
from stopout.cli.asked.options import BOOK, JOB, NO_BOOK, Given, Option, command
from stopout.cli.plan import plan_place
from stopout.cli.speech.telling import say
from stopout.errors import StopoutError
from stopout.library.plan_files import check_plan_folder, put_plan

if TYPE_CHECKING:
    from stopout.library.job_file import JobFile
    from stopout.planning import Plan
    from stopout.planning.verdict import Told

# A person does not notice that a look comes a quarter of a second late.
_LOOK_S = 0.25
# Changes that are told at once; the rest is counted.
_MOST_CHANGES = 8

_Made = TypeVar("_Made")
_Stamps = dict[Path, tuple[int, int, int] | None]


# fmt: off
_OPTIONS = (
    JOB,
    Option("out", "folder", "Folder for the draft. [JOB-draft beside the job]"),
    Option("allow_outside", "switch", "Read artwork that lies outside the job file's folder."),
    BOOK, NO_BOOK,
)
# fmt: on


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @command(app, *_OPTIONS)
    def watch(given: Given) -> None:
        """Plan a draft at each save of the job or its artwork, until Ctrl-C.

        Example: stopout watch winch-plate.toml
        """
        book = asked_book(given)
        job, folder = given.job, given.out or plan_place(given.job, draft=True)
        check_plan_folder(folder, replace=False, draft=True)
        if not job.exists():
            raise StopoutError(f"there is no job file {job}; check the name")

        def draft(read: JobFile) -> Plan:
            from stopout.library.plan_files import plan_files
            from stopout.library.plans import plan_job

            made = plan_job(read, book=book, allow_outside=given.allow_outside, draft=True)
            put_plan(folder, plan_files(made), replace=False)
            return made

        say(f"watching {job}; its draft is in {folder}; Ctrl-C ends it")
        try:
            follow(job, draft, wait=lambda: time.sleep(_LOOK_S), say=say, book=book)
        except KeyboardInterrupt:
            say(f"\nno longer watching {job}; the last draft stays in {folder}")


def follow(
    job: Path,
    draft: Callable[[JobFile], Plan],
    *,
    wait: Callable[[], None],
    say: Callable[[str], None],
    book: Path | None = None,
) -> None:
    """Draft a job whenever it or a file that it names has been saved; ends by an interrupt.

    A mistake is told in its sentence, and the next save is waited for.

    Parameters
    ----------
    job : Path
        The job file.
    draft : callable
        Plans and writes the draft.
    wait : callable
        Passes the time between two looks at the files; what it raises ends the watch.
    say : callable
        Is told each line.
    book : Path, optional
        The shop book, for what the job names of the shop.
    """
    files: tuple[Path, ...] = (job,)
    done: _Stamps | None = None
    seen: _Stamps = {}
    last: Plan | None = None
    while True:
        now = _stamps(files)
        # Saving takes time: files are read once two looks have found them alike.
        if now != done and (now == seen or done is None):
            read = _tried(lambda: _read(job, book), say)
            files = files if read is None else _files_of(read)
            # Stamps from before the files are read: what is saved meanwhile is a change.
            now = done = {file: now.get(file, stamp) for file, stamp in _stamps(files).items()}
            made = None if read is None else _tried(partial(draft, read), say)
            if made is not None:
                for line in _lines(last, made):
                    say(line)
                last = made
        seen = now
        wait()


def _read(job: Path, book: Path | None) -> JobFile:
    from stopout.library.job_file import read_job

    return read_job(job, book=book)


def _tried(work: Callable[[], _Made], say: Callable[[str], None]) -> _Made | None:
    """Return what is made; None, and the reason told, where that cannot be done."""
    try:
        return work()
    except StopoutError as error:
        why = str(error)
    except OSError as error:
        why = f"{error.filename}: {error.strerror}" if error.filename else str(error)
    except Exception as error:
        # A drawing saved half may hold anything; whoever draws on must not lose the watch by it.
        why = f"internal fault ({type(error).__name__}: {error})"
    say(f"{why}\nwaiting for the next save")
    return None


def _files_of(read: JobFile) -> tuple[Path, ...]:
    """The job file and the files that it names."""
    from stopout.library.drawings import files_of

    job = read.job
    named = [job.tables_file, None if job.series is None else job.series.rows_file]
    return (read.path, *files_of(read), *(read.folder / name for name in named if name))


def _stamps(files: Iterable[Path]) -> _Stamps:
    """What changes when a file is saved, of each; None of one that is not there."""
    found: _Stamps = {}
    for file in files:
        try:
            status = file.stat()
            found[file] = (status.st_mtime_ns, status.st_size, status.st_ino)
        except OSError:
            found[file] = None
    return found


def _lines(last: Plan | None, made: Plan) -> list[str]:
    """The verdict, then all to act on of a first draft, or what a later one changed."""
    from stopout.cli.speech.result_lines import coat_lines
    from stopout.cli.speech.verdict_lines import finding_lines, on_screen

    if last is None:
        findings = finding_lines(made, room=_MOST_CHANGES + 2, show_all=False)
        return on_screen([made.full_headline, *findings, *coat_lines(made)])
    found = changes(last.verdict.told, made.verdict.told)
    more = [f"and {len(found) - _MOST_CHANGES} more changes"] if len(found) > _MOST_CHANGES else []
    numbers = [line for line in coat_lines(made) if line not in coat_lines(last)]
    changed = [*found[:_MOST_CHANGES], *more, *numbers]
    return on_screen([made.full_headline, *(changed or ["nothing changed in it"])])


def changes(before: Iterable[Told], after: Iterable[Told]) -> list[str]:
    """Say what is new, what reads otherwise now, and what is gone; notes are left out."""
    from stopout.values import Level

    was, now = (
        {one.brief: one for one in told if one.level is not Level.NOTE} for told in (before, after)
    )
    gone = [one for brief, one in was.items() if brief not in now]
    lines = []
    for brief in (brief for brief in now if brief not in was):
        about = (now[brief].code, now[brief].thing)
        same = next((one for one in gone if (one.code, one.thing) == about), None)
        if same is not None:
            gone.remove(same)
        lines.append(f"{'new' if same is None else 'now'}: {brief}")
    return [*lines, *(f"gone: {one.message}" for one in gone)]
