"""How long a job takes with its waits, and the earliest date of each part."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

from stopout.etching import EtchPlan
from stopout.etching.schedule import LOOK
from stopout.planning import Plan
from stopout.sheet.model import Block, Heading, Table
from stopout.sheet.stages.bath import is_guess
from stopout.sheet.stages.clearing import RUN_ON_S
from stopout.sheet.stages.paint import sprayed
from stopout.sheet.steps import note
from stopout.sheet.words import duration

_HOUR_S = 3600.0
_DAY_S = 24 * _HOUR_S


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkSpan:
    """A part of the work.

    Attributes
    ----------
    what : str
        What is done.
    begins_s : float
        The earliest moment, from the first coat or, without one, from the first mark [s].
    lasts_s : float or None
        How long machine or bath are busy with it [s]; None for work by hand, which is not known.
    why : str
        What is waited for before it; empty where nothing is.
    """

    what: str
    begins_s: float
    lasts_s: float | None = None
    why: str = ""


def hours_and_calendar(plan: Plan, date: str | None) -> list[Block]:
    """Return the table of the parts, their hours and dates, and the total with the waits.

    Parameters
    ----------
    plan : Plan
        Whose parts are meant.
    date : str or None
        ISO 8601, the sheet's own, taken as the day of the first coat; None counts days.
    """
    parts = spans(plan)
    begin = None if date is None else datetime.fromisoformat(date).date()
    rows = []
    for part in parts:
        # A day that was begun counts as a whole one.
        day = math.ceil(part.begins_s / _DAY_S - 1e-9) if part.why else int(part.begins_s // _DAY_S)
        on = f"day {day}" if begin is None else str(begin + timedelta(days=day))
        lasts = "by hand" if part.lasts_s is None else _about(part.lasts_s)
        rows.append((part.what, lasts, on, part.why))
    return [
        Heading(text="Hours and calendar"),
        Table(
            columns=("What", "Takes", "Earliest", "Waits for"),
            shares=(1.35, 0.95, 0.95, 1.1),
            rows=tuple(rows),
        ),
        note(f"In all {in_all(plan)} with the waits; work by hand comes on top."),
    ]


def in_all(plan: Plan) -> str:
    """Say how long the job takes with its waits, in words.

    Parameters
    ----------
    plan : Plan
        A plan that is not stopped.
    """
    return _about(max(part.begins_s + (part.lasts_s or 0.0) for part in spans(plan)))


def spans(plan: Plan) -> tuple[WorkSpan, ...]:
    """The parts of the work in order, each with its earliest moment.

    Parameters
    ----------
    plan : Plan
        A plan that is not stopped.
    """
    if plan.job.route.is_lit:
        return (_beam(plan, "Mark", 0.0, ""),)
    if plan.etch is None:
        return _of_sign(plan)
    return _of_plate(plan, plan.etch)


def _pieces(plan: Plan) -> int:
    return plan.job.quantity + plan.job.spares


def _beam(plan: Plan, what: str, begins_s: float, why: str, number: int | None = None) -> WorkSpan:
    """A clearing of all pieces: each with the time for which the vapour is drawn off after it."""
    time_s = sum(c.cleared.times.time_s for c in plan.coats if number in (None, c.number))
    n = _pieces(plan)
    many = "" if n == 1 else f", {n} pieces"
    lasts = n * (time_s + RUN_ON_S)
    return WorkSpan(what=f"{what}{many}", begins_s=begins_s, lasts_s=lasts, why=why)


def _of_plate(plan: Plan, etch: EtchPlan) -> tuple[WorkSpan, ...]:
    resist = plan.resists[0]
    cure_s = _HOUR_S * resist.cure_h.value
    parts = [WorkSpan(what="Coat" if plan.job.route.has_beam else "Lay the resist", begins_s=0.0)]
    ready = cure_s
    if plan.job.route.has_beam:
        dry_s = _HOUR_S * resist.beam_h.value
        clear = _beam(plan, "Clear", dry_s, f"dry, {resist.beam_h.value:g}\u00a0h")
        parts.append(clear)
        ready = max(cure_s, clear.begins_s + (clear.lasts_s or 0.0))
    waits = f"cure, {resist.cure_h.value:g}\u00a0h" if cure_s > 0.0 else ""
    if is_guess(etch):
        coupon = WorkSpan(what="Coupon", begins_s=ready, lasts_s=LOOK * etch.time_s, why=waits)
        parts.append(coupon)
        ready += LOOK * etch.time_s
    times = [batch.time_s or etch.time_s for batch in etch.batches] or [etch.time_s]
    many = "" if len(times) == 1 else f", {len(times)} batches"
    return (*parts, WorkSpan(what=f"Etch{many}", begins_s=ready, lasts_s=sum(times), why=waits))


def _of_sign(plan: Plan) -> tuple[WorkSpan, ...]:
    cleared = {coat.number for coat in plan.coats}
    coats = sprayed(plan)
    parts: list[WorkSpan] = []
    at_s = 0.0
    for number, coat, resist in coats:
        why = "" if not parts else "coat before"
        if number in cleared and not plan.job.route.has_beam:
            parts.append(WorkSpan(what=f"Lay mask {number}", begins_s=at_s, why=why))
            why = "mask"
        parts.append(WorkSpan(what=f"Spray {number}, {coat.colour}", begins_s=at_s, why=why))
        at_s += _HOUR_S * resist.beam_h.value
        dry = f"dry, {resist.beam_h.value:g}\u00a0h"
        if number in cleared and plan.job.route.has_beam:
            parts.append(_beam(plan, f"Clear {number}", at_s, dry, number))
            at_s += parts[-1].lasts_s or 0.0
        elif number == coats[-1][0]:
            parts.append(WorkSpan(what="Finish", begins_s=at_s, why=dry))
    return tuple(parts)


def _about(seconds: float) -> str:
    """Whole minutes below a day, days and hours above."""
    if seconds < _DAY_S:
        return duration(60 * max(1, round(seconds / 60)))
    days, rest = divmod(round(seconds / _HOUR_S), 24)
    said = f"{days}\u00a0day{'' if days == 1 else 's'}"
    return said + (f" {rest}\u00a0h" if rest else "")
