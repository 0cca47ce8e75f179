"""What a run may use, as asked for: by options of every command, and by a job's `[budget]`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from stopout.cli.limits.bounded import USUAL_S, allow
from stopout.errors import StopoutError, UnitError

if TYPE_CHECKING:
    from stopout.job.record import Job

# Ours: a night for a thousand pieces, which a run that is ended keeps; a quarter of an hour for
# one planned once and laid many times.
_SERIES_S, _PANEL_S = 12 * 3600.0, 900.0
# Of a plan a coat and vertex of the drawing: what it takes at the least and at the most, by the
# bench's picture and bed, and what is allowed, against hangs only.
_LEAST_S, _MOST_S, _ALLOWED_S = 0.0005, 0.003, 0.01
# A plan that takes less is not announced.
_TOLD_S = 60.0

TimeOption = Annotated[
    str | None, typer.Option(metavar="TIME", help="The most computing time. [120s, or the job's]")
]
MemoryOption = Annotated[
    str | None, typer.Option(metavar="SIZE", help="The most memory. [4GiB, or the job's]")
]


def allow_asked(time: str | None, memory: str | None) -> None:
    """Hold the run to what the command line asks for, which no job changes any more.

    Raises
    ------
    StopoutError
        For what is no time above nought, or no memory.
    """
    allow(time_s=_above_0("time", time), memory_gib=_above_0("memory", memory), is_last=True)


def allow_job(job: Job) -> None:
    """Hold the run to a job's own budget, where the command line says nothing.

    Every piece of a series or panel has a budget of its own.
    """
    if job.budget is None and job.series is not None:
        allow(time_s=_SERIES_S)
    elif job.budget is None and job.panel is not None:
        allow(time_s=_PANEL_S)
    elif job.budget is not None:
        allow(time_s=job.budget.time_s, memory_gib=job.budget.memory_gib)


def allow_work(job: Job, points: int) -> str:
    """Let a drawing of many points have the time that it takes, unless a budget was asked for.

    Parameters
    ----------
    job : Job
        Of one plan, no series.
    points : int
        The vertices of its drawing.

    Returns
    -------
    str
        A line on how long it takes; nothing where that is about a minute or less.
    """
    work = points * len(job.coats)
    if job.budget is None:
        allow(time_s=USUAL_S + work * _ALLOWED_S)
    if work * _MOST_S < 2 * _TOLD_S:
        return ""
    low, high = (max(round(work * s / 60), 1) for s in (_LEAST_S, _MOST_S))
    return (
        f"a drawing of {points:,} points: it takes {low} to {high} min of computing; "
        "Ctrl-C ends it and leaves nothing behind"
    )


def _above_0(quantity: str, text: str | None) -> float | None:
    from stopout.units import parse_quantity

    if text is None:
        return None
    try:
        number = parse_quantity(text, quantity)[0]
    except UnitError as error:
        raise StopoutError(f"the budget: {error}") from None
    if number <= 0:
        example = "120s" if quantity == "time" else "4GiB"
        raise StopoutError(f"the budget must be above nought, such as --{quantity} {example}")
    return number
