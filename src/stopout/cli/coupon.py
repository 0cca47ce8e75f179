"""`stopout coupon`: a test coupon for a job's machine, resist and blank."""

from __future__ import annotations

import datetime
import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from stopout.cli.book import BookOption, NoBookOption, check_book
from stopout.cli.bounded import at_stage
from stopout.cli.budget import MemoryOption, TimeOption, allow_asked, allow_job
from stopout.cli.coupon_timing import timing
from stopout.cli.plain_help import Commands
from stopout.cli.sizes import parse_size_mm
from stopout.cli.telling import say, say_as_it_is
from stopout.errors import CouponError, OutputError
from stopout.folders import check_free, listed, write_folder

if TYPE_CHECKING:
    from stopout.job.record import Job
    from stopout.planning.coupon.road import CouponPlan

_COUPON_FILE = "coupon.json"

_JobFile = Annotated[Path, typer.Argument(metavar="JOB.toml", help="The job file.")]
_Out = Annotated[
    Path | None,
    typer.Option(metavar="DIR", help="Folder for the coupon. [JOB-coupon-KIND beside the job]"),
]
_Coat = Annotated[int, typer.Option(metavar="K", help="Which coat of a sign is tried.")]
_Size = Annotated[
    str | None,
    typer.Option(
        metavar="WxH",
        help="Make it on a plain piece of the same sheet, such as 60x40 in mm. [the job's blank]",
    ),
]
_Force = Annotated[bool, typer.Option("--force", help="Replace an earlier coupon in that folder.")]
_Quiet = Annotated[bool, typer.Option("--quiet", help="Print nothing but errors and stops.")]
_AsJson = Annotated[bool, typer.Option("--json", help="Print coupon.json on standard output.")]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wanted:
    """What was asked for besides kind and job."""

    coat: int = 1
    size: str | None = None
    time: str | None = None
    memory: str | None = None
    book: Path | None = None
    no_book: bool = False


def register(app: typer.Typer) -> None:
    """Add the command and its kinds to the app."""
    kinds = Commands(
        name="coupon",
        help="A test coupon, whose marks are measured to learn the shop's own numbers.",
        no_args_is_help=True,
    )
    app.add_typer(kinds)
    kinds.command()(timing)

    @kinds.command()
    def clearing(
        job: _JobFile,
        out: _Out = None,
        coat: _Coat = 1,
        size: _Size = None,
        force: _Force = False,
        quiet: _Quiet = False,
        as_json: _AsJson = False,
        time: TimeOption = None,
        memory: MemoryOption = None,
        book: BookOption = None,
        no_book: NoBookOption = False,
    ) -> None:
        """Lines at stepped doses, patches at stepped spacings, timing combs.

        Example: stopout coupon clearing winch-plate.toml
        """
        wanted = _Wanted(coat=coat, size=size, time=time, memory=memory, book=book, no_book=no_book)
        _run("clearing", job, out, wanted, force=force, quiet=quiet, as_json=as_json)

    @kinds.command()
    def etch(
        job: _JobFile,
        out: _Out = None,
        size: _Size = None,
        force: _Force = False,
        quiet: _Quiet = False,
        as_json: _AsJson = False,
        time: TimeOption = None,
        memory: MemoryOption = None,
        book: BookOption = None,
        no_book: NoBookOption = False,
    ) -> None:
        """Slots, lands and pits of stepped widths, stars, the smallest letters.

        Example: stopout coupon etch winch-plate.toml
        """
        wanted = _Wanted(size=size, time=time, memory=memory, book=book, no_book=no_book)
        _run("etch", job, out, wanted, force=force, quiet=quiet, as_json=as_json)


def _run(
    kind: Literal["clearing", "etch"],
    job: Path,
    out: Path | None,
    wanted: _Wanted,
    *,
    force: bool,
    quiet: bool,
    as_json: bool,
) -> None:
    """Make the coupon's folder and tell about it."""
    folder = out if out is not None else job.parent / f"{job.stem}-coupon-{kind}"
    check_book(wanted.book, no_book=wanted.no_book)
    allow_asked(wanted.time, wanted.memory)
    read = _read(job, wanted)
    # After the job file, whose mistakes have to be mended wherever its coupon goes.
    if not force and (folder / _COUPON_FILE).is_file():
        raise OutputError(f"{folder} holds a coupon already; give --force to replace it, or --out")
    kept = check_free(folder, replace_with=_COUPON_FILE if force else None)
    made, files = _make(kind, read, job, wanted)
    kept += write_folder(folder, files, replace_with=_COUPON_FILE if force else None)
    if as_json:
        say_as_it_is(files[_COUPON_FILE].decode(), ends_line=False)
    for note in () if quiet else kept:
        say(f"note: {note}.", to_stderr=True)
    _report(made, folder, show_all=not quiet, on_stdout=not (quiet or as_json))
    if made.plan.is_stopped:
        raise typer.Exit(1)


def _read(path: Path, asked: _Wanted) -> Job:
    """Read the job, and give the run its budget."""
    from stopout.library.book import usual_book
    from stopout.library.job_file import read_job
    from stopout.library.knowledge import knowledge_for

    at_stage("reading the job")
    book = None if asked.no_book else asked.book or usual_book()
    job = read_job(path, book=book).job
    allow_job(job)
    # What the tables lack is told with its lines, from the whole job.
    knowledge_for(job, path)
    return job


def _make(
    kind: Literal["clearing", "etch"], job: Job, path: Path, asked: _Wanted
) -> tuple[CouponPlan, dict[str, bytes]]:
    """Lay the coupon out, and make the files of its folder."""
    from stopout.artwork import open_outline
    from stopout.coupons import layout_to_dict
    from stopout.library.book import with_book
    from stopout.library.knowledge import knowledge_for
    from stopout.planning.coupon.road import coupon_job, plan_coupon

    try:
        size_mm = None if asked.size is None else parse_size_mm("--size", asked.size)
        wanted = coupon_job(job, kind, coat=asked.coat, size_mm=size_mm)
        outline = (
            None
            if wanted.blank.outline is None
            else open_outline(path.parent / wanted.blank.outline, wanted.blank)
        )
        knowledge = knowledge_for(wanted)
        # An earlier coupon tells where to look; what it says of the dose is what is to be tried.
        if not asked.no_book:
            wanted = with_book(wanted, knowledge, asked.book)
        at_stage("laying out the coupon")
        made = plan_coupon(kind, wanted, knowledge, outline=outline)
    except CouponError as error:
        raise CouponError(f"{path}: {error}") from None
    summary = layout_to_dict(made.layout)
    files = {
        _COUPON_FILE: (json.dumps(summary, indent=2) + "\n").encode(),
        **_files(made),
    }
    return made, listed(_COUPON_FILE, files)


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
