"""Lag, play and run times of the shop book: taken, scaled, and said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import MultiPolygon, Point, box

from jobmaker import MACHINE, make_job, plan
from records.maker import m
from stopout.clearing.moving.timed_run import acceleration_from_time, whole_time_s
from stopout.errors import PlanError
from stopout.job.shop_numbers import RunTime, ShopNumbers, Timing, identity_of
from stopout.library.knowledge import knowledge_for
from stopout.planning.book.numbers import with_shop_book
from stopout.program import read_program

SHAPES = {
    "bars": box(2, 2, 7, 3),
    "dots": MultiPolygon([Point(2 + k, 2 + j).buffer(0.3) for k in range(4) for j in range(4)]),
    "letters": MultiPolygon([box(1 + 1.2 * k, 1, 1.4 + 1.2 * k, 3) for k in range(4)]),
}
ME = identity_of(MACHINE)


def timing(**changes):
    fields = {
        "date": "2026-11-25",
        "machine": ME,
        "delay_ms": (m(0.4, 0.02), m(0.4, 0.02)),
        "play_mm": (m(0.02, 0.002), m(0.0)),
    }
    return Timing(**{**fields, **changes})


def run_of(scale, **changes):
    fields = {
        "date": "2026-11-26",
        "machine": ME,
        "name": "Valve tag, coat 1",
        "acceleration_mm_s2": 800.0,
        "cornering_mm": 0.01,
        "planned_s": 100.0,
        "took_s": 120.0,
        "scale": scale,
    }
    return RunTime(**{**fields, **changes})


def booked(job, **entries):
    return with_shop_book(job, ShopNumbers(**entries), knowledge_for(job))


def programs():
    return {
        name: read_program(plan(shape).coats[0].program, machine=MACHINE)
        for name, shape in SHAPES.items()
    }


@pytest.mark.parametrize(
    ("acceleration", "cornering"), [(500.0, 0.01), (300.0, 0.02), (1200.0, 0.03), (500.0, 0.006)]
)
def test_after_one_timed_run_other_programs_times_are_within_3_percent(acceleration, cornering):
    """A machine that is not as its settings say: one program timed, the others predicted."""
    true = replace(MACHINE, acceleration_mm_s2=acceleration, cornering_mm=cornering)
    moves = programs()
    worst_before, worst = 0.0, 0.0
    for timed, others in ((name, set(moves) - {name}) for name in moves):
        took = whole_time_s(moves[timed], true)
        scale = acceleration_from_time(moves[timed], MACHINE, took_s=took)
        assert whole_time_s(moves[timed], MACHINE, scale=scale) == pytest.approx(took, rel=1e-6)
        for other in others:
            truth = whole_time_s(moves[other], true)
            worst = max(worst, abs(whole_time_s(moves[other], MACHINE, scale=scale) / truth - 1))
            worst_before = max(worst_before, abs(whole_time_s(moves[other], MACHINE) / truth - 1))
    assert worst < 0.03
    assert worst_before > 0.1


def test_a_time_that_no_acceleration_within_a_factor_of_20_gives_is_refused():
    """The times of a machine of a twentieth and of twenty times its acceleration bound it."""
    moves = programs()["bars"]
    shortest, longest = (
        whole_time_s(
            moves, replace(MACHINE, acceleration_mm_s2=factor * MACHINE.acceleration_mm_s2), **at
        )
        for factor, at in ((20.0, {}), (1.0, {"scale": 0.05}))
    )
    assert shortest < whole_time_s(moves, MACHINE) < longest
    for refused in (0.99 * shortest, 1.01 * longest):
        with pytest.raises(PlanError, match="no time of this program") as told:
            acceleration_from_time(moves, MACHINE, took_s=refused)
        assert f"would take {shortest:.0f} to {longest:.0f} s" in str(told.value)
    assert acceleration_from_time(moves, MACHINE, took_s=1.001 * shortest) > 15
    assert acceleration_from_time(moves, MACHINE, took_s=0.999 * longest) < 1 / 15


def test_lag_and_play_are_taken_where_the_job_gives_none_and_said():
    job = booked(make_job(), timings=(timing(),))
    assert job.laser.beam_lag_s == pytest.approx((0.0004, 0.0004))
    assert job.laser.play_mm == (0.02, 0.0)
    (note,) = [f for f in job.findings if f.code == "shop-book-used"]
    assert "0.400 ms" in note.message
    given = booked(make_job(machine={"beam_lag_s": (0.0, 0.0)}), timings=(timing(),))
    assert given.laser.beam_lag_s == (0.0, 0.0)
    other = replace(ME, power_w=10.0)
    assert booked(make_job(), timings=(timing(machine=other),)).laser.beam_lag_s is None


def test_a_run_time_scales_the_acceleration_of_the_machine_it_was_run_on_and_no_other():
    job = booked(make_job(), runs=(run_of(0.6), run_of(0.7, date="2026-11-20")))
    assert job.laser.acceleration_mm_s2 == pytest.approx(480.0)
    assert job.laser.acceleration_scale == 0.6
    assert any("0.6 times the given acceleration" in f.message for f in job.findings)
    for changed in ({"acceleration_mm_s2": 900.0}, {"cornering_mm": 0.02}, {"power_w": 10.0}):
        other = make_job(machine=changed)
        assert booked(other, runs=(run_of(0.6),)).laser == other.laser


def test_plans_made_with_them_are_longer_and_corrected():
    plain = plan(SHAPES["letters"])
    job = booked(make_job(), runs=(run_of(0.5),), timings=(timing(),))
    made = plan(SHAPES["letters"], job)
    assert made.coats[0].clearing.times.time_s > plain.coats[0].clearing.times.time_s
    assert np.abs(made.coats[0].outcome.area_mm2 - plain.coats[0].outcome.area_mm2) < 0.05
