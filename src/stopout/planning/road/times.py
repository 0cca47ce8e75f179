"""The time table of a coat, for plan.json and the sheet."""

from __future__ import annotations

from typing import Any

from stopout.clearing.timetable import TimeCase, TimeTable, time_table
from stopout.job.record import Job
from stopout.planning.measures.beam import beam_for
from stopout.planning.plain import fields_of
from stopout.planning.plan import CoatPlan


def coat_time_table(coat: CoatPlan, job: Job) -> TimeTable:
    """Set a coat's time beside its floors."""
    clearing = coat.cleared
    return time_table(
        TimeCase(
            times=clearing.times,
            time_one_direction_s=clearing.time_one_direction_s,
            time_other_direction_s=clearing.time_other_direction_s,
            line_direction=clearing.line_direction,
            area_mm2=coat.mask.area_mm2,
            edge_mm=coat.mask.edge_mm,
            mark_across_mm=clearing.mark_mm[0 if clearing.line_direction == "y" else 1].value,
            spacing_mm=clearing.spacing_mm,
            power_fraction=clearing.power_fraction,
            speed_mm_s=clearing.speed_mm_s,
            passes=clearing.passes,
            dose_ratio=beam_for(coat.coat, job).dose_ratio_along(clearing.line_direction),
            machine=job.laser,
        )
    )


def coat_times(coat: CoatPlan, job: Job) -> dict[str, Any]:
    """Return the table as plain data: times in s to six digits."""
    table = coat_time_table(coat, job)
    return {
        "rows": [fields_of(row, "key name time_s") for row in table.rows],
        **fields_of(table, "binds limit_speed_mm_s on_share reason"),
        "faster": [
            fields_of(entry, "key change time_s saves_s planned=is_planned")
            for entry in table.quicker
        ],
    }
