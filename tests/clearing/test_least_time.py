"""Rings left while they are being laid: only where, laid to their end, they take too long."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, box

from clearing.winch_rows import MACHINE
from effort import tries
from stopout.clearing import clear
from stopout.clearing.choice import _least_lengths_mm
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


def narrow(rng, p):
    """A long strip or a bent one, of a few rings, whose last leave more or less between them."""
    long, wide = rng.uniform(20, 200) * p, rng.uniform(2, 9) * p
    if rng.integers(2):
        return [affinity.rotate(box(0, 0, long, wide), rng.uniform(0, 90))]
    way = np.cumsum(rng.uniform(-20, 20, (4, 2)) * p, axis=0)
    return [LineString(way).buffer(wide / 2)]


@pytest.mark.parametrize("seed", range(tries(160, share=8)))
def test_what_rings_take_at_least_is_no_more_than_what_they_take(seed, monkeypatch):
    """At every level; and not less by half, or nothing would be left early."""
    rng = np.random.default_rng(seed)
    p, told = 10 ** rng.uniform(-1.2, -0.6), []
    work = Work(
        machine=replace(MACHINE, power_follows_speed=bool(rng.integers(2))),
        mark_mm=(p * rng.uniform(1.1, 1.8), 1.1 * p),
        spacing_mm={"x": p, "y": p * rng.uniform(0.95, 1)},
        power=0.3,
        speed_mm_s=2.0,
        passes=1,
    )

    def watched(self, *level):
        told.append(self.least_s(*level))
        return np.zeros(len(told[-1]), dtype=bool)

    monkeypatch.setattr(least_time.LeastTime, "is_over", watched)
    parts = work.parts(narrow(rng, p), ("x", "y"))
    (laid,) = work.ringed(parts, np.array([1.0]))
    if laid.spirals:
        assert 0.5 * laid.spirals_s < max(told) <= laid.spirals_s
        assert _least_lengths_mm(parts, work)[0] / 2.0 <= laid.spirals_s


def test_what_rings_take_at_least_is_reckoned_by_hand():
    """Of three lines and a square ring of 4 mm, within which rings 0.08 apart are still to come.

    A path begins and ends at 0.3 of 20 mm/s and speeds up by 800 mm/s^2: (20 - 6)^2 / (800 20) s
    more than its length takes, or what it takes to the middle of one that is short, and back.
    """
    ways = [[(0, 0), (3, 4)], [(3, 0), (3, -5)], [(0, 4), (0, 4.05)]]
    slow_s = 2 * 0.01225 + 2 * (np.sqrt(6**2 + 800 * 0.049) - 6) / 800 - 0.049 / 20
    # Two ways 2 mm long, from rest to rest; (16 - 16 0.05) / 0.08 mm of rings.
    steady_s = 0.98 * ((10.05 + 16 + 190) / 20 + 2 * 2 * np.sqrt(2 / 800))
    for follows in (True, False):
        least = least_time.LeastTime(
            np.array([0.0, 1.001 * steady_s]),
            apart_mm=0.08,
            mark_mm=0.1,
            machine=replace(MACHINE, power_follows_speed=follows),
            speed_mm_s=20.0,
        )
        # Another part has the lines alone.
        for way in ways:
            least.add(0, np.array(way, dtype=float))
        for way in (*ways, [(0, 0), (4, 0), (4, 4), (0, 4), (0, 0)]):
            least.add(1, np.array(way, dtype=float))
        level = np.array([box(0, 0, 4, 4)]), np.array([1])
        told = np.array([steady_s - 0.98 * (16 + 190) / 20, steady_s]) + follows * slow_s
        assert least.least_s(*level) == pytest.approx(told)
        assert least.is_over(*level)[1] == follows


@pytest.mark.parametrize("length", [0.456, 0.47, 0.5, 3.0])
def test_a_path_long_enough_for_its_speed_loses_the_same_however_long(length):
    """From 6 to 20 mm/s and back takes (20^2 - 6^2) / 800 = 0.455 mm, (20 - 6)^2 / (800 20) s."""
    least = least_time.LeastTime(
        np.zeros(1), apart_mm=0.08, mark_mm=0.1, machine=MACHINE, speed_mm_s=20.0
    )
    assert least._slower_s(length) == pytest.approx(0.01225)


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
