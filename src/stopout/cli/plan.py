"""`stopout plan`: from a job file to the plan folder."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from stopout.cli.asked.book import asked_book
from stopout.cli.asked.options import (
    AS_JSON,
    BOOK,
    JOB,
    MEMORY,
    NO_BOOK,
    QUIET,
    TIME,
    Given,
    Option,
    command,
)
from stopout.cli.limits.budget import allow_asked, allow_job, allow_work
from stopout.cli.limits.progress import of_all, progress
from stopout.cli.speech.telling import say, say_as_it_is
from stopout.library.plan_files import check_plan_folder, put_plan
from stopout.plan_file import PLAN_FILE

if TYPE_CHECKING:
    from stopout.library.job_file import JobFile
    from stopout.planning import Plan


# fmt: off
_OPTIONS = (
    JOB,
    Option("out", "folder", "Folder for the plan. [JOB-plan beside the job file; JOB-draft for a "
           "draft]"),
    Option("draft", "switch", "Only the predicted piece and the verdict: no program, no sheet."),
    Option("force", "switch", "Replace an earlier plan in that folder."),
    Option("allow_outside", "switch", "Read artwork that lies outside the job file's folder."),
    replace(QUIET, help="Print nothing but errors and stops."),
    Option("show_all", "switch", "Print every finding and number, whatever room they take.",
           flag="--all"),
    replace(AS_JSON, help="Print plan.json on standard output."),
    TIME, MEMORY, BOOK, NO_BOOK,
)
# fmt: on


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @command(app, *_OPTIONS)
    def plan(given: Given) -> None:
        """Plan a job: masks, clearing programs, prediction, etch numbers, process sheet.

        Example: stopout plan winch-plate.toml
        """
        book = asked_book(given)
        allow_asked(given.time, given.memory)
        folder, draft = given.out or plan_place(given.job, draft=given.draft), given.draft
        with progress(show=not given.quiet) as tell:
            read = _read(given.job, tell, book)
            # After the job file, whose mistakes have to be mended wherever its plan goes.
            kept = check_plan_folder(folder, replace=given.force, draft=draft)
            made, files = _make(read, tell, book, given)
            tell("writing the plan folder")
            kept += put_plan(folder, files, replace=given.force and not draft)
        if given.as_json:
            say_as_it_is(files[PLAN_FILE].decode(), ends_line=False)
        for note in () if given.quiet else kept:
            say(f"note: {note}.", to_stderr=True)
        _report(
            made, folder, show_all=given.show_all, is_quiet=given.quiet, on_stdout=not given.as_json
        )
        if made.is_stopped:
            raise typer.Exit(1)


def plan_place(job: Path, *, draft: bool) -> Path:
    """Return the usual folder of a job's plan, or of its draft."""
    return job.parent / f"{job.stem}-{'draft' if draft else 'plan'}"


def _read(path: Path, tell: Callable[[str], None], book: Path | None) -> JobFile:
    """Read the job, and give the run its budget."""
    tell("reading the job")
    from stopout.library.job_file import read_job

    read = read_job(path, book=book)
    allow_job(read.job)
    return read


def _make(
    read: JobFile, tell: Callable[[str], None], book: Path | None, given: Given
) -> tuple[Plan, dict[str, bytes]]:
    """Plan the job and make the files of its folder."""
    from stopout.library.plan_files import plan_files
    from stopout.library.plans import plan_job

    is_long = False

    def weigh(points: int) -> None:
        nonlocal is_long
        words = allow_work(read.job, points)
        is_long = bool(words) and not given.draft
        if is_long and not given.quiet:
            say(words, to_stderr=True)

    def told(stage: str) -> None:
        tell(of_all(stage, len(read.job.coats)) if is_long else stage)

    outside, draft = given.allow_outside, given.draft
    made = plan_job(read, book=book, allow_outside=outside, draft=draft, tell=told, weigh=weigh)
    return made, plan_files(made, tell=told)


def _report(made: Plan, folder: Path, *, show_all: bool, is_quiet: bool, on_stdout: bool) -> None:
    """Print the verdict and the numbers on standard output, the findings on standard error."""
    from stopout.cli.speech.result_lines import result_lines
    from stopout.cli.speech.verdict_lines import MOST_LINES, finding_lines, last_lines, on_screen
    from stopout.values import Level

    if is_quiet:
        for one in made.verdict.told:
            if one.level is Level.STOP:
                say(f"stop: {one.text}", to_stderr=True)
        return
    head = on_screen([made.full_headline])
    results = on_screen(result_lines(made, folder, in_full=show_all))
    last = last_lines(made)
    for line in head:
        say(line, to_stderr=not on_stdout)
    room = MOST_LINES - len(head) - len(results) - len(last)
    for line in finding_lines(made, room=room, show_all=show_all):
        say(line, to_stderr=True)
    for line in results if on_stdout else ():
        say(line)
    for line in last:
        say(line, to_stderr=True)
