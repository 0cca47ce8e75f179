"""`stopout coupon timing`: two programs without the beam, to be timed by a clock."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Literal

import typer

from stopout.cli.book import BookOption
from stopout.cli.telling import say, say_json
from stopout.errors import OutputError
from stopout.folders import check_free, listed, write_folder

TIMING_FILE = "timing.json"


def timing(
    job: Annotated[Path, typer.Argument(metavar="JOB.toml", help="The job file.")],
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder for the runs. [JOB-coupon-timing beside the job]"),
    ] = None,
    axis: Annotated[Literal["x", "y"], typer.Option(help="Along which axis the head runs.")] = "x",
    force: Annotated[
        bool, typer.Option("--force", help="Replace earlier runs in that folder.")
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print timing.json on standard output.")
    ] = False,
    book: BookOption = None,
) -> None:
    """Two runs of the head, beam off: by the clock they tell top speed and acceleration.

    Example: stopout coupon timing winch-plate.toml
    """
    from stopout.job.shop_numbers import identity_of
    from stopout.library.book import usual_book
    from stopout.library.job_file import read_job
    from stopout.planning.coupon.timing import timing_runs

    folder = out if out is not None else job.parent / f"{job.stem}-coupon-timing"
    if not force and (folder / TIMING_FILE).is_file():
        raise OutputError(f"{folder} holds runs already; give --force to replace them, or --out")
    kept = check_free(folder, replace_with=TIMING_FILE if force else None)
    wanted = read_job(job, book=book or usual_book()).job
    runs = timing_runs(wanted, axis)
    machine = wanted.laser
    told = {
        "format": "stopout-timing-1",
        "job": wanted.name,
        "axis": axis,
        "long": asdict(runs.long),
        "short": asdict(runs.short),
        "machine": asdict(identity_of(machine)),
        "top_speed_mm_s": machine.top_speed_mm_s,
        "acceleration_mm_s2": machine.acceleration_mm_s2,
        "cornering_mm": machine.cornering_mm,
    }
    files = {
        TIMING_FILE: (json.dumps(told, indent=2) + "\n").encode(),
        "long.nc": runs.long_program.encode("ascii"),
        "short.nc": runs.short_program.encode("ascii"),
    }
    kept += write_folder(
        folder, listed(TIMING_FILE, files), replace_with=TIMING_FILE if force else None
    )
    for note in kept:
        say(f"note: {note}.", to_stderr=True)
    if as_json:
        say_json(told)
        return
    for name, run, expected in zip(
        ("long", "short"), (runs.long, runs.short), runs.expected_s, strict=True
    ):
        say(
            f"{name}.nc: {run.count} times {run.length_mm:g} mm along {axis}, "
            f"about {expected:.0f} s"
        )
    say("Lid shut, nothing in the way; the beam stays off. Time each from start to standstill:")
    say(f"  stopout shop timed {folder} --long 1:01.5 --short 58.2s")
