"""What clearing known areas takes, and how it is done: the numbers that stand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import MultiLineString, MultiPolygon, box

from clearing.test_choice import AREAS
from clearing.winch_rows import MACHINE
from standing import stands
from stopout.clearing import as_run, clear, measure_program
from stopout.clearing.beam.spacing_table import FillCase, spacing_table
from stopout.clearing.beam.spot import GaussianSpot
from stopout.clearing.plan import LineBand, mark_in_bands

MACHINES = {
    "follows": MACHINE,
    "steady": replace(MACHINE, power_follows_speed=False),
    "late and loose": replace(MACHINE, beam_lag_s=(0.0004, 0.0006), play_mm=(0.02, 0.012)),
}
HAIRS = MultiLineString([[(40, k), (40 + k, 2 * k), (46, 9 - k)] for k in range(1, 4)])
MARK = (0.1, 0.087)


def numbers(run, machine, speed_mm_s):
    times = measure_program(run.moves, machine=machine, power=0.3, speed_mm_s=speed_mm_s)
    lit = run.moves.power > 0
    head = as_run(run.moves, machine)
    burns = head.power > 0
    turns = np.diff(run.moves.rapid.astype(int)) == 1
    return {
        "time_s": times.time_s,
        "travel_mm": times.travel_length_mm,
        "cleared_mm": times.cleared_length_mm,
        "dose_ratio_max": times.dose_ratio_max,
        "moves": len(run.moves),
        "travels": turns.sum(),
        "power": float((run.moves.power * run.moves.length_mm)[lit].sum()),
        "lines_per_s": times.lines_per_s_max,
        "busiest_x": times.busiest_mm[0],
        "busiest_y": times.busiest_mm[1],
        "burns_mm": head.length_mm[burns].sum(),
        "burns_x": head.x_mm[burns].mean(),
        "burns_y": head.y_mm[burns].mean(),
        "one_direction_s": run.time_one_direction_s or 0.0,
        "other_s": run.other_time_s or 0.0,
        "along_y": run.line_direction == "y",
    }


@pytest.mark.parametrize(
    ("kind", "speed_mm_s"),
    [("follows", 20.0), ("follows", 60.0), ("steady", 20.0), ("late and loose", 60.0)],
)
@pytest.mark.parametrize("name", sorted(AREAS))
def test_an_area_is_cleared_in_the_time_and_by_the_moves_that_it_was(name, kind, speed_mm_s):
    area = AREAS[name]
    run = clear(
        MultiPolygon([area] if area.geom_type == "Polygon" else area.geoms),
        HAIRS,
        machine=MACHINES[kind],
        mark_mm=MARK,
        spacing_mm={"x": 0.0625, "y": 0.075},
        power=0.3,
        speed_mm_s=speed_mm_s,
        passes=2 if name == "bars" else 1,
    )
    stands(f"clearing {name}, {kind}, {speed_mm_s:g}", numbers(run, MACHINES[kind], speed_mm_s))


@pytest.mark.parametrize("kind", MACHINES)
def test_bands_are_marked_in_the_time_and_by_the_moves_that_they_were(kind):
    area = MultiPolygon([box(2, 2, 9, 8).difference(box(4, 3, 6, 7)), box(10, 2, 12, 8)])
    bands = [
        LineBand(low_mm=2 + 2 * k, high_mm=4 + 2 * k, spacing_mm=0.05 + 0.03 * k) for k in range(3)
    ]
    run = mark_in_bands(
        area,
        HAIRS,
        machine=MACHINES[kind],
        mark_mm=MARK,
        bands=bands,
        along="x",
        power=0.3,
        speed_mm_s=20.0,
    )
    stands(f"clearing bands, {kind}", numbers(run, MACHINES[kind], 20.0))


@pytest.mark.parametrize("step_mm", [None, 0.001, 0.0125])
@pytest.mark.parametrize("exponent", [0.0, 0.6, 1.0])
def test_a_table_of_spacings_begins_and_ends_where_it_did(step_mm, exponent):
    case = FillCase(
        spot=GaussianSpot(radius_mm=(0.085, 0.06)),
        step_mm=step_mm,
        exponent=exponent,
        dose_ratio=2.5,
        speed_mm_s=20.0,
    )
    rows = spacing_table(case).rows
    stands(
        f"spacings {step_mm}, {exponent:g}",
        {
            "rows": len(rows),
            "first_mm": rows[0].spacing_mm,
            "last_mm": rows[-1].spacing_mm,
            "valleys": sum(row.valley_dose_ratio for row in rows),
            "threads": sum(row.leaves_threads for row in rows),
            "ripples": sum(row.ripple for row in rows),
            "time_s": sum(row.time_s_per_cm2 for row in rows),
        },
    )
