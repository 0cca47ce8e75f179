"""`stopout plan`: from a job file to the plan folder."""

from __future__ import annotations

import datetime
import json
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from stopout.cli.book import BookOption, NoBookOption, with_book
from stopout.cli.bounded import at_stage
from stopout.cli.budget import MemoryOption, TimeOption, allow_asked, allow_job
from stopout.cli.output import check_free, write_folder
from stopout.errors import BookError, OutputError
from stopout.folders import listed

if TYPE_CHECKING:
    from stopout.job.record import Job
    from stopout.planning import Plan

__all__ = ["register"]

_PLAN_FILE = "plan.json"
# Work that is done sooner needs no progress display.
_PATIENCE_S = 1.0


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @app.command()
    def plan(
        job: Annotated[Path, typer.Argument(metavar="JOB.toml", help="The job file.")],
        out: Annotated[
            Path | None,
            typer.Option(metavar="DIR", help="Folder for the plan. [JOB-plan beside the job file]"),
        ] = None,
        force: Annotated[
            bool, typer.Option("--force", help="Replace an earlier plan in that folder.")
        ] = False,
        allow_outside: Annotated[
            bool,
            typer.Option(
                "--allow-outside", help="Read artwork that lies outside the job file's folder."
            ),
        ] = False,
        quiet: Annotated[
            bool, typer.Option("--quiet", help="Print nothing but errors and stops.")
        ] = False,
        show_all: Annotated[
            bool,
            typer.Option("--all", help="Print every finding and number, whatever room they take."),
        ] = False,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print plan.json on standard output.")
        ] = False,
        time: TimeOption = None,
        memory: MemoryOption = None,
        book: BookOption = None,
        no_book: NoBookOption = False,
    ) -> None:
        """Plan a job: masks, clearing programs, prediction, etch numbers, process sheet.

        Example: stopout plan winch-plate.toml
        """
        if book is not None and no_book:
            raise BookError("--book and --no-book exclude each other; give one of them")
        allow_asked(time, memory)
        folder = out if out is not None else job.parent / f"{job.stem}-plan"
        kept = _check_folder(folder, force=force)
        with _progress(show=not quiet) as tell:
            made, files = _make(job, tell, book, no_book=no_book, allow_outside=allow_outside)
            tell("writing the plan folder")
            kept += write_folder(folder, files, replace_with=_PLAN_FILE if force else None)
        if as_json:
            typer.echo(files[_PLAN_FILE].decode(), nl=False)
        for note in () if quiet else kept:
            print(f"note: {note}.", file=sys.stderr)
        _report(made, folder, show_all=show_all, is_quiet=quiet, on_stdout=not as_json)
        if made.is_stopped:
            raise typer.Exit(1)


def _check_folder(folder: Path, *, force: bool) -> tuple[str, ...]:
    """Refuse a folder that may not be written, before any work is done."""
    if not force and folder.is_dir() and (folder / _PLAN_FILE).is_file():
        raise OutputError(f"{folder} holds a plan already; give --force to replace it, or --out")
    return check_free(folder, replace_with=_PLAN_FILE if force else None)


def _make(
    path: Path,
    tell: Callable[[str], None],
    book: Path | None,
    *,
    no_book: bool,
    allow_outside: bool,
) -> tuple[Plan, dict[str, bytes]]:
    """Read the job and its artwork, plan it, and make the files of its folder."""
    tell("reading the job")
    from stopout.errors import ArtworkError
    from stopout.jobs import job_error, read_job

    job = read_job(path)
    allow_job(job)
    if not allow_outside:
        _check_inside(path, job)
    tell("reading the artwork")
    from stopout.artwork import open_artwork, open_outline
    from stopout.cli.knowledge import knowledge_for
    from stopout.planning import plan_job, summarise

    knowledge = knowledge_for(job, path)
    if not no_book:
        job = with_book(job, knowledge, book)
    try:
        drawing = open_artwork(
            path.parent / job.artwork.file,
            job.artwork,
            job.blank,
            fonts=[path.parent / name for name in job.artwork.fonts],
        )
    except ArtworkError as error:
        raise job_error(path, [(("artwork", "file"), str(error))]) from None
    outline = (
        None
        if job.blank.outline is None
        else open_outline(path.parent / job.blank.outline, job.blank)
    )
    made = plan_job(job, drawing, knowledge, outline=outline, tell=tell)
    tell("drawing the pictures")
    summary = summarise(made, sheets=True)
    files = {_PLAN_FILE: (json.dumps(summary, indent=2) + "\n").encode(), **_files(made)}
    tell("typesetting the process sheet")
    from stopout.cli.sheet import sheet_files

    files |= sheet_files(made, date=datetime.date.today().isoformat())
    return made, listed(_PLAN_FILE, files)


def _check_inside(path: Path, job: Job) -> None:
    """Refuse files outside the job's folder, so that a job from elsewhere cannot reach them."""
    from stopout.jobs import job_error

    home = path.parent.resolve()
    named: list[tuple[tuple[str | int, ...], str]] = [(("artwork", "file"), job.artwork.file)]
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
        if not _real(path.parent / name).is_relative_to(home)
    ]
    if faults:
        raise job_error(path, faults)


def _real(path: Path) -> Path:
    """Where a path leads, links followed; a path in a loop leads nowhere."""
    try:
        return path.resolve()
    except (OSError, RuntimeError, ValueError):
        return path.absolute()


def _files(made: Plan) -> dict[str, bytes]:
    """Return the files of the plan folder besides plan.json."""
    from stopout.cli.scene import preview_scene
    from stopout.pictures import mask_png, mask_svg, preview_png
    from stopout.planning import file_names

    blank = made.job.blank
    files: dict[str, bytes] = {}
    for coat in made.coats:
        names = file_names(coat)
        size = {"width_mm": blank.width_mm, "height_mm": blank.height_mm}
        title = f"{made.job.name}: openings of coat {coat.number}, as worked"
        files[f"mask-{coat.number}.svg"] = mask_svg(coat.opening, title=title, **size)
        files[f"mask-{coat.number}.png"] = mask_png(coat.opening, **size)
        if names["program"] is not None and coat.program is not None:
            files[names["program"]] = coat.program.encode("ascii")
        if coat.prints:
            from stopout.sheet import film_pdf

            files[f"film-{coat.number}.pdf"] = film_pdf(made, coat)
        if coat.cuts and coat.drawn is not None and made.job.stencil is not None:
            from stopout.pictures import cut_svg

            files[f"cut-{coat.number}.svg"] = cut_svg(
                coat.drawn,
                overrun_mm=made.job.stencil.overrun_mm,
                margin_mm=made.job.stencil.margin_mm,
                title=f"{made.job.name}: cut lines of coat {coat.number}, as worked",
                face=made.face,
                keeps_drawn=made.front is not None,
                **size,
            )
    if made.bounds_program is not None:
        files["bounds.nc"] = made.bounds_program.encode("ascii")
    if made.coats:
        files["preview.png"] = preview_png(preview_scene(made))
    return files


@contextmanager
def _progress(*, show: bool) -> Iterator[Callable[[str], None]]:
    """Show what is being done once it takes longer than a second, on a terminal only."""
    if not show or not sys.stderr.isatty():
        yield at_stage
        return
    from rich.console import Console

    began = time.monotonic()
    status = Console(stderr=True).status("planning")
    is_shown = False

    def tell(stage: str) -> None:
        nonlocal is_shown
        at_stage(stage)
        status.update(stage)
        if not is_shown and time.monotonic() - began > _PATIENCE_S:
            status.start()
            is_shown = True

    try:
        yield tell
    finally:
        if is_shown:
            status.stop()


def _report(made: Plan, folder: Path, *, show_all: bool, is_quiet: bool, on_stdout: bool) -> None:
    """Print the verdict and the numbers on standard output, the findings on standard error."""
    from stopout.cli.scene import result_lines
    from stopout.cli.verdict_lines import MOST_LINES, finding_lines, headline, last_lines
    from stopout.values import Level

    if is_quiet:
        for one in made.verdict.told:
            if one.level is Level.STOP:
                print(f"stop: {one.text}", file=sys.stderr)
        return
    results = result_lines(made, folder, in_full=show_all)
    last = last_lines(made)
    print(headline(made), file=sys.stdout if on_stdout else sys.stderr, flush=True)
    room = MOST_LINES - 1 - len(results) - len(last)
    for line in finding_lines(made, room=room, show_all=show_all):
        print(line, file=sys.stderr, flush=True)
    for line in results if on_stdout else ():
        typer.echo(line)
    for line in last:
        print(line, file=sys.stderr)
