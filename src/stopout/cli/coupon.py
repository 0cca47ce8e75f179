"""`stopout coupon`: a test coupon for a job's machine, resist and blank."""

from __future__ import annotations

import datetime
import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

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
from stopout.cli.coupon_timing import TIMING, timing
from stopout.cli.limits.bounded import at_stage
from stopout.cli.limits.budget import allow_asked, allow_job
from stopout.cli.speech.plain_help import Commands
from stopout.cli.speech.telling import say, say_as_it_is
from stopout.errors import CouponError, OutputError
from stopout.folders import check_free, listed, write_folder

if TYPE_CHECKING:
    from stopout.job.record import Job
    from stopout.planning.coupon.road import CouponPlan

_COUPON_FILE = "coupon.json"

# fmt: off
_COAT = Option("coat", "count", "Which coat of a sign is tried.", "1", metavar="K")
_OPTIONS = (
    JOB,
    Option("out", "folder", "Folder for the coupon. [JOB-coupon-KIND beside the job]"),
    Option("size", "size", "Make it on a plain piece of the same sheet, such as 60x40 in mm. [the "
           "job's blank]"),
    Option("force", "switch", "Replace an earlier coupon in that folder."),
    replace(QUIET, help="Print nothing but errors and stops."),
    replace(AS_JSON, help="Print coupon.json on standard output."),
    TIME, MEMORY, BOOK, NO_BOOK,
)
# fmt: on


def register(app: typer.Typer) -> None:
    """Add the command and its kinds to the app."""
    kinds = Commands(
        name="coupon",
        help="A test coupon, whose marks are measured to learn the shop's own numbers.",
        no_args_is_help=True,
    )
    app.add_typer(kinds)
    command(kinds, *TIMING)(timing)

    @command(kinds, *_OPTIONS, _COAT)
    def clearing(given: Given) -> None:
        """Lines at stepped doses, patches at stepped spacings, timing combs.

        Example: stopout coupon clearing winch-plate.toml
        """
        _run("clearing", given, given.coat)

    @command(kinds, *_OPTIONS)
    def etch(given: Given) -> None:
        """Slots, lands and pits of stepped widths, stars, the smallest letters.

        Example: stopout coupon etch winch-plate.toml
        """
        _run("etch", given, 1)


def _run(kind: Literal["clearing", "etch"], given: Given, coat: int) -> None:
    """Make the coupon's folder and tell about it."""
    folder = given.out or given.job.parent / f"{given.job.stem}-coupon-{kind}"
    asked_book(given)
    allow_asked(given.time, given.memory)
    read = _read(given)
    # After the job file, whose mistakes have to be mended wherever its coupon goes.
    if not given.force and (folder / _COUPON_FILE).is_file():
        raise OutputError(f"{folder} holds a coupon already; give --force to replace it, or --out")
    replaced = _COUPON_FILE if given.force else None
    kept = check_free(folder, replace_with=replaced)
    made, files = _make(kind, read, given, coat)
    kept += write_folder(folder, files, replace_with=replaced)
    if given.as_json:
        say_as_it_is(files[_COUPON_FILE].decode(), ends_line=False)
    for note in () if given.quiet else kept:
        say(f"note: {note}.", to_stderr=True)
    on_stdout = not (given.quiet or given.as_json)
    _report(made, folder, show_all=not given.quiet, on_stdout=on_stdout)
    if made.plan.is_stopped:
        raise typer.Exit(1)


def _read(given: Given) -> Job:
    """Read the job, and give the run its budget."""
    from stopout.library.job_file import read_job
    from stopout.library.knowledge import knowledge_for

    at_stage("reading the job")
    job = read_job(given.job, book=asked_book(given)).job
    allow_job(job)
    # What the tables lack is told with its lines, from the whole job.
    knowledge_for(job, given.job)
    return job


def _make(
    kind: Literal["clearing", "etch"], job: Job, given: Given, coat: int
) -> tuple[CouponPlan, dict[str, bytes]]:
    """Lay the coupon out, and make the files of its folder."""
    from stopout.artwork import open_outline
    from stopout.coupons import layout_to_dict
    from stopout.library.book import with_book
    from stopout.library.knowledge import knowledge_for
    from stopout.planning.coupon.road import coupon_job, plan_coupon

    try:
        wanted = coupon_job(job, kind, coat=coat, size_mm=given.size)
        outline = (
            None
            if wanted.blank.outline is None
            else open_outline(given.job.parent / wanted.blank.outline, wanted.blank)
        )
        knowledge = knowledge_for(wanted)
        # An earlier coupon tells where to look; what it says of the dose is what is to be tried.
        if not given.no_book:
            wanted = with_book(wanted, knowledge, given.book)
        at_stage("laying out the coupon")
        made = plan_coupon(kind, wanted, knowledge, outline=outline)
    except CouponError as error:
        raise CouponError(f"{given.job}: {error}") from None
    summary = (json.dumps(layout_to_dict(made.layout), indent=2) + "\n").encode()
    return made, listed(_COUPON_FILE, {_COUPON_FILE: summary, **_files(made)})


def _files(made: CouponPlan) -> dict[str, bytes]:
    """Return the files of the coupon's folder besides coupon.json."""
    from stopout.pictures import mask_png, mask_svg
    from stopout.pictures.bar import bar_svg
    from stopout.pictures.coupon import coupon_png
    from stopout.sheet.coupon import coupon_sheet_files
    from stopout.tables import load_statements

    plan, coat = made.plan, made.plan.coats[0]
    size = {"width_mm": made.layout.width_mm, "height_mm": made.layout.height_mm}
    title = f"{made.layout.kind} coupon for {plan.job.name}: openings, as worked"
    codes = [code for h in plan.hazards for code in (*h.statements, *h.precautions)]
    statements = {entry.code: entry.text for entry in load_statements(tuple(codes))}
    files = {
        "mask-1.svg": mask_svg(coat.opening, title=title, **size),
        "mask-1.png": mask_png(coat.opening, **size),
        "preview.png": coupon_png(made),
        "scale-bar.svg": bar_svg(),
        **coupon_sheet_files(made, date=datetime.date.today().isoformat(), statements=statements),
    }
    if coat.program is not None:
        files["clear-1.nc"] = coat.program.encode("ascii")
    if plan.bounds_program is not None:
        files["bounds.nc"] = plan.bounds_program.encode("ascii")
    return files


def _report(made: CouponPlan, folder: Path, *, show_all: bool, on_stdout: bool) -> None:
    """Print the findings on standard error and the result on standard output."""
    for finding in made.plan.findings:
        if show_all or finding.level == "stop":
            at = "" if finding.at_mm is None else " [{:.2f}, {:.2f}]".format(*finding.at_mm)
            remedy = f" {finding.remedy}" if finding.remedy else ""
            say(f"{finding.level}: {finding.message}{at}.{remedy}", to_stderr=True)
    if on_stdout:
        for line in _lines(made):
            say(line)
        stopped = "STOP: no program was written; see the stops above"
        say(f"{folder}: {stopped if made.plan.is_stopped else 'ready'}")


def _lines(made: CouponPlan) -> list[str]:
    from stopout.units import format_duration

    layout, times = made.layout, made.plan.coats[0].cleared.times
    on_it = ", ".join(name for name, _ in made.parts)
    lines = [f"{layout.kind} coupon, {layout.width_mm:g} x {layout.height_mm:g} mm: {on_it}"]
    if layout.lines:
        doses = [line.line_dose_j_per_mm / line.passes for line in layout.lines]
        lines.append(
            f"  {len(layout.lines)} dose lines, {min(doses):.3g} to {max(doses):.3g} J/mm a pass; "
            f"{len(layout.patches)} patches"
        )
    else:
        widths = [1000 * slot.opening_mm for slot in layout.slots]
        lines.append(
            f"  {len(widths)} slots, {min(widths):.0f} to {max(widths):.0f} um in the resist; "
            f"{len(layout.lands)} lands, {len(layout.pits)} pits"
        )
    return [*lines, f"  clearing {format_duration(times.time_s)}"]
