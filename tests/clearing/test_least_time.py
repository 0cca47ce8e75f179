"""Rings left while they are being laid: only where, laid to their end, they take too long."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import MultiLineString, MultiPolygon, Point, box

from clearing.winch_rows import MACHINE
from effort import tries
from stopout.clearing import clear
from stopout.clearing.ringed import least_time
from stopout.clearing.work import Work


def riddled(rng):
    """A plate with many round or square holes, on a grid or anywhere, and pieces beside it."""
    side, pitch = rng.uniform(2, 6), rng.uniform(0.5, 2.0)
    at = np.mgrid[pitch:side:pitch, pitch:side:pitch].reshape(2, -1).T
    at = at + rng.uniform(0, 0.4, at.shape) * rng.integers(2) * pitch
    holes = [
        Point(x, y).buffer(r) if rng.integers(2) else box(x - r, y - r, x + r, y + 1.5 * r)
        for (x, y), r in zip(at, rng.uniform(0.05, 0.45, len(at)) * pitch, strict=True)
    ]
    plate = box(0, 0, side, side * rng.uniform(0.3, 1)).difference(shapely.union_all(holes))
    return [part for part in shapely.get_parts(plate) if part.area > 0.01]


@pytest.mark.parametrize("seed", range(tries(48, share=8)))
def test_no_part_is_left_whose_rings_would_be_quick_enough(seed):
    rng = np.random.default_rng(seed)
    p = 10 ** rng.uniform(-1.2, -0.6)
    work = Work(
        machine=replace(MACHINE, power_follows_speed=bool(rng.integers(2))),
        mark_mm=(1.2 * p, 1.2 * p * rng.uniform(0.85, 1.1)),
        spacing_mm={"x": p, "y": p * rng.uniform(0.9, 1.0)},
        power=0.3,
        speed_mm_s=float(rng.choice([5.0, 20.0, 90.0])),
        passes=1,
    )
    parts = work.parts(riddled(rng), ("x", "y"))
    whole_s = np.array([part.spirals_s for part in work.ringed(parts)])
    left = work.ringed(parts, 1.001 * whole_s)
    assert [bool(part.spirals) for part in left] == (whole_s > 0).tolist()


def test_a_program_is_as_quick_where_lines_win_early(monkeypatch):
    area = box(0, 0, 9, 9).difference(
        shapely.union_all([Point(1.5 * i + 0.7, 1.5 * j + 0.7).buffer(0.5)
                           for i in range(6) for j in range(6)])
    )  # fmt: skip
    centres = MultiPolygon([area, Point(20, 5).buffer(0.4), box(22, 0, 22.5, 8)])
    settings = {
        "machine": MACHINE, "mark_mm": (0.1, 0.1), "spacing_mm": {"x": 0.08, "y": 0.08},
        "power": 0.3, "speed_mm_s": 20.0,
    }  # fmt: skip
    left = []
    is_over = least_time.LeastTime.is_over

    def watched(self, *level):
        found = is_over(self, *level)
        left.append(found.any())
        return found

    monkeypatch.setattr(least_time.LeastTime, "is_over", watched)
    quick = clear(centres, MultiLineString(), **settings)
    assert any(left)
    monkeypatch.setattr(least_time.LeastTime, "is_over", lambda self, a, part: np.zeros(3, bool))
    plain = clear(centres, MultiLineString(), **settings)
    for name in ("x_mm", "y_mm", "power"):
        assert np.array_equal(getattr(quick.moves, name), getattr(plain.moves, name))
