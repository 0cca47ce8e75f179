"""A program's run time by the clock, as a record for the shop book."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING

from stopout.errors import BookError, PlanError, UnitError
from stopout.library.plan_folder import read_plan_folder

if TYPE_CHECKING:
    from stopout.job.shop_numbers import RunTime
    from stopout.values import Measured


_CLOCK = re.compile(r"(?:([0-9]{1,2}):)?([0-9]{1,3}):([0-5][0-9](?:[.][0-9]+)?)", re.ASCII)


def run_record(folder: Path, took: str, coat: int | None, date: str) -> RunTime:
    """Return what a run time says of the machine.

    Parameters
    ----------
    folder : Path
        Of the plan whose program ran.
    took : str
        minutes:seconds, hours:minutes:seconds, or a time with its unit.
    coat : int or None
        Which one.
    date : str
        Of the run.

    Raises
    ------
    BookError
        If the time cannot be that of this program.
    """
    from stopout.clearing.moving.timed_run import acceleration_from_time, whole_time_s
    from stopout.job.shop_numbers import RunTime, identity_of
    from stopout.program import count_stops, read_program

    plan = read_plan_folder(folder, coat)
    if count_stops(plan.text):
        raise BookError(
            f"{folder}: its program pauses for the head to be lowered, so a time by the clock is "
            "not the machine's; time a program without clearing.focus_step"
        )
    seconds = clock_seconds("--took", took)
    moves = read_program(plan.text, machine=plan.machine)
    try:
        scale = acceleration_from_time(moves, plan.machine, took_s=seconds)
    except PlanError as error:
        raise BookError(f"--took {took}: {error}") from None
    before = plan.machine.acceleration_scale
    return RunTime(
        date=date,
        machine=identity_of(plan.machine),
        name=f"{plan.name}, coat {plan.coat}",
        acceleration_mm_s2=plan.machine.acceleration_mm_s2 / before,
        cornering_mm=plan.machine.cornering_mm,
        planned_s=round(whole_time_s(moves, plan.machine), 3),
        took_s=seconds,
        scale=round(scale * before, 6),
        program_sha256=hashlib.sha256(plan.text.encode()).hexdigest(),
    )


def traverse_record(
    folder: Path, long: str, short: str, date: str
) -> tuple[RunTime, Measured | None, Measured]:
    """Return what the times of `stopout coupon timing`'s two runs say of the machine.

    Parameters
    ----------
    folder : Path
        Of the runs.
    long, short : str
        Their times by the clock.
    date : str
        Of the runs.

    Returns
    -------
    (RunTime, Measured or None, Measured)
        The record for the book; top speed, None where the run was too short for it, and
        acceleration.

    Raises
    ------
    BookError
        If the folder holds no runs, or the times cannot be theirs.
    """
    from stopout.clearing.moving.timed_run import FARTHEST_FACTOR
    from stopout.clearing.moving.timed_traverses import Traverses, motion_of
    from stopout.cli.coupon_timing import TIMING_FILE
    from stopout.job.shop_numbers import MachineIdentity, RunTime

    try:
        told = json.loads((folder / TIMING_FILE).read_bytes())
        runs = Traverses(**told["long"]), Traverses(**told["short"])
        spot_mm = (float(told["machine"]["spot_mm"][0]), float(told["machine"]["spot_mm"][1]))
        identity = MachineIdentity(**{**told["machine"], "spot_mm": spot_mm})
        given, axis = float(told["acceleration_mm_s2"]), str(told["axis"])
        cornering, top = float(told["cornering_mm"]), float(told["top_speed_mm_s"])
    except (OSError, ValueError, KeyError, TypeError):
        raise BookError(
            f"{folder} holds no timing runs; make them with: stopout coupon timing JOB.toml"
        ) from None
    times = clock_seconds("--long", long), clock_seconds("--short", short)
    try:
        speed, acceleration = motion_of(*runs, long_s=times[0], short_s=times[1])
    except PlanError as error:
        raise BookError(f"--long {long}, --short {short}: {error}") from None
    scale = acceleration.value / given
    if not 1 / FARTHEST_FACTOR <= scale <= FARTHEST_FACTOR:
        raise BookError(
            f"--long {long}, --short {short}: that is an acceleration of {acceleration.value:.3g} "
            f"mm/s^2, and the job says {given:g}; check the times, which are of all traverses of "
            "a program, or machine.acceleration"
        )
    record = RunTime(
        date=date,
        machine=identity,
        name=f"timing runs along {axis}",
        acceleration_mm_s2=given,
        cornering_mm=cornering,
        planned_s=round(runs[1].time_s(top, given), 3),
        took_s=times[1],
        scale=round(scale, 6),
    )
    return record, speed, acceleration


def clock_seconds(option: str, written: str) -> float:
    """Read a time by the clock: 14:30, 1:02:30 or a time with its unit."""
    from stopout.units import parse_time_s

    clock = _CLOCK.fullmatch(written.strip())
    if clock is not None:
        hours, minutes, seconds = clock.groups()
        return 3600 * int(hours or 0) + 60 * int(minutes) + float(seconds)
    try:
        return parse_time_s(written)
    except UnitError as error:
        raise BookError(
            f"{option} {written!r}: {error}; minutes and seconds are written 14:30"
        ) from None
