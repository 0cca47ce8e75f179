"""Where a program stopped: asked for, found in the program, and shown on a picture."""

from __future__ import annotations

import re
import sys
from typing import TYPE_CHECKING

import typer

from stopout.cli.keeping.run_time import clock_seconds
from stopout.cli.speech.telling import say
from stopout.errors import ProgramError, StopoutError
from stopout.library.plan_folder import PlanFolder

if TYPE_CHECKING:
    from stopout.program import Passage

_PLACE = re.compile(r"\s*([+-]?[0-9.]+)\s*(?:mm)?\s*,\s*([+-]?[0-9.]+)\s*(?:mm)?\s*", re.ASCII)


def ask_where() -> str:
    """Ask on a terminal where the head stopped."""
    if not sys.stdin.isatty():
        raise StopoutError(
            "--resume asks where the head stopped, and there is no terminal to ask on; give "
            "--stopped-at x,y in mm from the blank's corner as worked"
        )
    return str(typer.prompt("Where did the head stop, x,y in mm from the blank's corner"))


def line_of_stop(plan: PlanFolder, where: str, after: str | None) -> tuple[int, Passage]:
    """Return the line to go on from, and the passage it is of.

    Parameters
    ----------
    plan : PlanFolder
        The plan that was running.
    where : str
        "x,y" in mm.
    after : str or None
        How long it had run; tells apart strokes that come by the same place.

    Raises
    ------
    StopoutError
        If the place cannot be read, or the program does not come by it.
    """
    import numpy as np

    from stopout.clearing import plan_speeds
    from stopout.program import passages_at, read_program

    at_mm = place_of(where)
    moves = read_program(plan.text, machine=plan.machine)
    profile = plan_speeds(
        moves,
        acceleration_mm_s2=plan.machine.acceleration_mm_s2,
        cornering_mm=plan.machine.cornering_mm,
    )
    begun = np.concatenate([[0.0], np.cumsum(profile.time_s)])[:-1]
    try:
        found = passages_at(plan.text, at_mm, machine=plan.machine, begun_s=begun)
    except ProgramError as error:
        raise StopoutError(f"{plan.program}: {error}") from None
    if after is not None:
        ran = clock_seconds("--after", after)
        best = min(found, key=lambda one: abs(one.at_s - ran))
    elif len(found) > 1 and sys.stdin.isatty():
        best = _chosen(found)
    else:
        # Clearing a little again widens it by less than a mark; what is missed stays shut.
        best = found[0]
    return best.line, best


def place_of(where: str) -> tuple[float, float]:
    """Read a place, "x,y" in mm."""
    match = _PLACE.fullmatch(where)
    try:
        if match is not None:
            return float(match[1]), float(match[2])
    except ValueError:
        pass
    raise StopoutError(
        f"{where!r} is no place; write x,y in mm from the blank's corner as worked, such as "
        "34.2,11.8"
    )


def _chosen(found: tuple[Passage, ...]) -> Passage:
    say("The program comes by this place more than once:")
    for number, one in enumerate(found, 1):
        minutes, seconds = divmod(one.at_s, 60)
        say(f"  {number}: after {minutes:.0f} min {seconds:02.0f} s, line {one.line}")
    asked = "Which one was it (the first clears most again)"
    chosen = int(typer.prompt(asked, type=int, default=1))
    return found[min(max(chosen, 1), len(found)) - 1]


def stop_picture(plan: PlanFolder, where: str, line: int) -> bytes:
    """Return the picture of what is cleared and what is left."""
    from stopout.pictures.stopped import stopped_png
    from stopout.program import first_move_at, read_program

    moves = read_program(plan.text, machine=plan.machine)
    return stopped_png(
        moves,
        first=first_move_at(plan.text, line, moves),
        at_mm=place_of(where),
        size_mm=plan.size_mm,
        title=f"{plan.name}, coat {plan.coat}: go on from line {line}",
    )
