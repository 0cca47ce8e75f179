"""How long the clearing takes, beside what it can never go under, and what would make it faster."""

from __future__ import annotations

from stopout.planning import CoatPlan, Plan
from stopout.planning.road.times import coat_time_table
from stopout.sheet.model import Block, Heading, Table
from stopout.sheet.steps import note
from stopout.sheet.words import capital, duration


def clearing_times(plan: Plan) -> list[Block]:
    """Return the time table of each coat that a beam clears, for the part that is looked up."""
    blocks: list[Block] = []
    for coat in (coat for coat in plan.coats if coat.clearing is not None):
        which = "" if len(plan.coats) == 1 else f", coat {coat.number}"
        blocks += [Heading(text=f"Time of clearing one piece{which}"), *_of_coat(plan, coat)]
    return blocks


def _of_coat(plan: Plan, coat: CoatPlan) -> list[Block]:
    table = coat_time_table(coat, plan.job)
    faster = tuple(
        f"{capital(entry.change)}: {duration(entry.time_s)}"
        + (" (planned)." if entry.is_planned else " (estimated).")
        for entry in table.quicker
        if entry.saves_s > 0
    )
    blocks: list[Block] = [
        Table(
            columns=("Way", "Time"),
            shares=(3.0, 1.0),
            rows=tuple((capital(row.name), duration(row.time_s)) for row in table.rows),
            small=True,
        ),
        note(table.reason),
    ]
    if faster:
        blocks += [note("What would make it faster:"), note(*faster)]
    return blocks
