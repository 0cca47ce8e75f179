"""`stopout coupon timing`: two programs without the beam, to be timed by a clock."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stopout.cli.asked.options import AS_JSON, BOOK, JOB, QUIET, Given, Option
from stopout.cli.speech.telling import say, say_as_it_is
from stopout.errors import OutputError
from stopout.folders import check_free, listed, write_folder

if TYPE_CHECKING:
    from stopout.job.record import Job
    from stopout.planning.coupon.timing import TimingRuns

TIMING_FILE = "timing.json"


# fmt: off
TIMING = (
    JOB,
    Option("out", "folder", "Folder for the runs. [JOB-coupon-timing beside the job]"),
    Option("axis", "choice", "Along which axis the head runs.", "x", choices=("x", "y")),
    Option("force", "switch", "Replace earlier runs in that folder."),
    QUIET,
    replace(AS_JSON, help="Print timing.json on standard output."),
    BOOK,
)
# fmt: on


def timing(given: Given) -> None:
    """Two runs of the head, beam off: by the clock they tell top speed and acceleration.

    Example: stopout coupon timing winch-plate.toml
    """
    from stopout.library.book import usual_book
    from stopout.library.job_file import read_job
    from stopout.planning.coupon.timing import timing_runs

    folder = given.out or given.job.parent / f"{given.job.stem}-coupon-timing"
    if not given.force and (folder / TIMING_FILE).is_file():
        raise OutputError(f"{folder} holds runs already; give --force to replace them, or --out")
    replaced = TIMING_FILE if given.force else None
    kept = check_free(folder, replace_with=replaced)
    job = read_job(given.job, book=given.book or usual_book()).job
    runs = timing_runs(job, given.axis)
    told = (json.dumps(_told(job, runs, given.axis), indent=2) + "\n").encode()
    files = {
        TIMING_FILE: told,
        "long.nc": runs.long_program.encode("ascii"),
        "short.nc": runs.short_program.encode("ascii"),
    }
    kept += write_folder(folder, listed(TIMING_FILE, files), replace_with=replaced)
    for note in kept:
        say(f"note: {note}.", to_stderr=True)
    if given.as_json:
        say_as_it_is(told.decode(), ends_line=False)
        return
    for line in () if given.quiet else _lines(runs, given.axis, folder):
        say(line)


def _told(job: Job, runs: TimingRuns, axis: str) -> dict[str, Any]:
    """What timing.json holds."""
    from stopout.job.shop_numbers import identity_of

    machine = job.laser
    return {
        "format": "stopout-timing-1",
        "job": job.name,
        "axis": axis,
        "long": asdict(runs.long),
        "short": asdict(runs.short),
        "machine": asdict(identity_of(machine)),
        "top_speed_mm_s": machine.top_speed_mm_s,
        "acceleration_mm_s2": machine.acceleration_mm_s2,
        "cornering_mm": machine.cornering_mm,
    }


def _lines(runs: TimingRuns, axis: str, folder: Path) -> list[str]:
    named = zip(("long", "short"), (runs.long, runs.short), runs.expected_s, strict=True)
    return [
        *(
            f"{name}.nc: {run.count} times {run.length_mm:g} mm along {axis}, "
            f"about {expected:.0f} s"
            for name, run, expected in named
        ),
        "Lid shut, nothing in the way; the beam stays off. Time each from start to standstill:",
        f"  stopout shop timed {folder} --long 1:01.5 --short 58.2s",
    ]
