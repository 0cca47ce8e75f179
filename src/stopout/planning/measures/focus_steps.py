"""Passes at different heights: the program pauses between them for the head to be lowered by hand.

No axis is driven up or down. After each pass but the last the head goes home, the beam is ended,
and the program waits for a start; each further pass is the first one again.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from stopout.job.record import Clearing, Coat, Job
from stopout.planning.measures.beam import Beam, focus_for
from stopout.values import Finding, Level, Moves
from stopout.wording import counted


def passes_at_once(beam: Beam, clearing: Clearing) -> Beam:
    """Return the beam with the passes that are run at one height: all, or one."""
    return beam if clearing.focus_step_mm is None else replace(beam, passes=1)


def stopping(
    moves: Moves, clearing: Clearing, passes: int
) -> tuple[Moves, tuple[tuple[int, str], ...]]:
    """Return the moves of all passes and the stops between them.

    Parameters
    ----------
    moves : Moves
        Of the passes that are run at one height, from home and back to it.
    clearing : Clearing
        Supplies the focus step; None leaves all as it is.
    passes : int
        How many in all.

    Returns
    -------
    moves : Moves
    stops : tuple of (int, str)
        As `stopout.program.write_program` takes them.
    """
    step = clearing.focus_step_mm
    if step is None or passes < 2 or not len(moves):
        return moves, ()
    repeated = Moves(
        x_mm=np.tile(moves.x_mm, passes),
        y_mm=np.tile(moves.y_mm, passes),
        rapid=np.tile(moves.rapid, passes),
        speed_mm_s=np.tile(moves.speed_mm_s, passes),
        power=np.tile(moves.power, passes),
    )
    stops = tuple(
        (k * len(moves), f"pass {k + 1} of {passes}: lower the head by {step:g} mm, then start")
        for k in range(1, passes)
    )
    return repeated, stops


def focus_step_findings(coat: Coat, number: int, passes: int, job: Job) -> list[Finding]:
    """Say that a program stops, and where its last pass is out of the mark's focus."""
    step = job.settings.focus_step_mm
    if step is None or passes < 2:
        return []
    lowered, within = (passes - 1) * step, focus_for(coat, job).tolerance_mm
    message = (
        f"coat {number}: the program pauses {counted(passes - 1, 'time')}, beam off, for the "
        f"head to be lowered by {step:g} mm, {lowered:g} mm in all; the plan's time leaves the "
        "pauses out"
    )
    remedy = "Try once with the laser's key out that the control waits at each pause."
    level = Level.NOTE
    if lowered > within:
        level = Level.CAUTION
        message += (
            f"; the mark is taken as at the focus, which holds within {within:.2g} mm either way"
        )
        remedy += f" Lower by {within / (passes - 1):.2g} mm or less, or measure the mark so."
    return [Finding(code="focus-stops", level=level, message=message, remedy=remedy)]
