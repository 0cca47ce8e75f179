"""Tables of what a job allows: thinnest places with their spread, and computed limits."""

from __future__ import annotations

import math

from stopout.planning import CoatPlan, Plan
from stopout.planning.measures.margins import Margin
from stopout.sheet.model import Block, Table
from stopout.sheet.steps import note
from stopout.sheet.words import length


def coat_limits(plan: Plan, coat: CoatPlan) -> list[Block]:
    """Return the two tables of one coat."""
    return [
        note(
            "Thinnest places as finished, and at both ends of what is known of "
            + ("the mark" if plan.job.route.is_lit else "mark and etch")
            + " (two standard deviations)."
        ),
        Table(
            columns=("Place", "Planned", "At the low end", "At the high end", "Survives both"),
            shares=(1.2, 1.0, 1.0, 1.0, 1.0),
            rows=(_spread("Thinnest stroke", coat.stroke), _spread("Narrowest land", coat.land)),
        ),
        note(
            "How far the job could go, calculated from its thinnest drawn stroke and its "
            "narrowest finished land. Each holds with all else as it is; plan again with the "
            "new value."
        ),
        Table(
            columns=("What", "Limit", "Now"),
            shares=(2.4, 1.6, 1.0),
            rows=tuple(_limits(plan, coat)),
        ),
    ]


def _spread(name: str, margin: Margin) -> tuple[str, ...]:
    return (
        name,
        length(margin.width_mm),
        length(margin.low_mm),
        length(margin.high_mm),
        "yes" if margin.survives else "NO",
    )


def _limits(plan: Plan, coat: CoatPlan) -> list[tuple[str, str, str]]:
    """Return what each limit is; those that nothing sets are left out."""
    advice = coat.advice
    mark = max(axis.value for axis in coat.mark_mm)
    rows = []
    if plan.etch is not None:
        depth = advice.greatest_depth_mm
        limit = "none would do" if depth is None or _down(depth) <= 0 else f"at most {_mm(depth)}"
        rows.append(("Depth", limit, length(plan.etch.depth_mm)))
    if advice.smallest_scale is not None:
        percent = math.ceil(100 * advice.smallest_scale - 1e-6)
        rows.append(("Size of the artwork", f"at least {percent}\u00a0% of this", "100\u00a0%"))
    finest = advice.largest_mark_mm
    limit = "none would do" if finest is None or _down(finest) <= 0 else f"at most {_mm(finest)}"
    rows.append(("Mark, larger axis", limit, length(mark)))
    height = math.ceil(100 * advice.letter_height_mm - 1e-6) / 100
    standard = (
        f"; next standard height {advice.standard_height_mm:g}\u00a0mm"
        if advice.standard_height_mm is not None
        else ""
    )
    rows.append(
        (
            "Lettering by ISO 3098, type B (strokes a tenth of the height)",
            f"at least {height:.2f}\u00a0mm high{standard}",
            "",
        )
    )
    return rows


def _down(value_mm: float) -> float:
    return math.floor(1000 * value_mm + 1e-6) / 1000


def _mm(value_mm: float) -> str:
    """Write a greatest value, rounded down: what is said must hold."""
    return f"{_down(value_mm):.3f}\u00a0mm"
