"""Lines or rings by a closed estimate: no plan gets longer by it than by laying and timing both."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import MultiLineString, MultiPolygon, Point, box

from clearing import plain_choice
from clearing.winch_rows import MACHINE
from shapes import glyph_f
from stopout.clearing import clear, measure_program
from stopout.clearing import plan as planner
from stopout.clearing.choice import with_rings
from stopout.clearing.work import Work

rng = np.random.default_rng(20)


def blots(n, size):
    """Shapes of several discs and bars each, of many widths."""
    found = []
    for k in range(n):
        at = np.array([12.0 * (k % 4), 12.0 * (k // 4)]) + 5
        discs = [Point(at + rng.uniform(-size, size, 2)).buffer(rng.uniform(0.1, size))
                 for _ in range(3)]  # fmt: skip
        bars = [box(*(at + rng.uniform(-size, 0, 2)), *(at + rng.uniform(0.1, size, 2)))]
        found += list(shapely.get_parts(shapely.union_all([*discs, *bars])))
    return shapely.union_all(found)


AREAS = {
    "letters": shapely.union_all(
        [glyph_f(7 * k, 2, height=6, stroke=0.9 - 0.15 * k) for k in range(5)]
    ),
    "a frame": box(0, 0, 18, 12).difference(box(0.6, 0.6, 17.4, 11.4)),
    "a plate": box(0, 0, 18, 12),
    "bars": shapely.union_all([box(0, k, 12, k + 0.15 + 0.03 * k) for k in range(10)]),
    "blots": blots(4, 2.0),
    "specks": shapely.union_all([Point(k % 6, k // 6).buffer(0.06 + 0.01 * k) for k in range(24)]),
}


WORK = Work(
    machine=MACHINE,
    mark_mm=(0.1, 0.087),
    spacing_mm={"x": 0.0625, "y": 0.075},
    power=0.3,
    speed_mm_s=20.0,
    passes=1,
)


def takes_s(name, speed_mm_s):
    area = AREAS[name]
    run = clear(
        MultiPolygon([area] if area.geom_type == "Polygon" else area.geoms),
        MultiLineString(),
        machine=MACHINE,
        mark_mm=(0.1, 0.087),
        spacing_mm={"x": 0.0625, "y": 0.075},
        power=0.3,
        speed_mm_s=speed_mm_s,
    )
    return measure_program(run.moves, machine=MACHINE, power=0.3, speed_mm_s=speed_mm_s).time_s


def test_parts_that_get_rings_are_others_than_those_given():
    parts = WORK.parts(list(AREAS["letters"].geoms), ("x", "y"))
    given = list(parts)
    laid, _ = with_rings(parts, WORK)
    assert any(part.spirals for part in laid)
    assert all(one is other for one, other in zip(parts, given, strict=True))


@pytest.mark.parametrize("name", sorted(AREAS))
@pytest.mark.parametrize("speed_mm_s", [20.0, 60.0])
def test_the_estimate_costs_no_plan_more_than_a_hundredth(name, speed_mm_s, monkeypatch):
    estimated_s = takes_s(name, speed_mm_s)
    monkeypatch.setattr(planner, "with_rings", plain_choice.with_rings)
    assert estimated_s <= 1.01 * takes_s(name, speed_mm_s)
