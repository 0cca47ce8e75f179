"""Power and speed on three kinds of control: what the paint gets, stepped through in time."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import box

from jobmaker import codes, plan
from stopout.program import read_program

WAYS = {"program": True, "control": "control", "neither": False, "unknown": None}


def dose_along(made, way):
    """Line dose over the intended one at many places, by stepping through the program in time.

    A control of its own: accelerates and brakes within its limits, slows at corners to the speed
    that the plan's vertices have, and gives S as it stands or scaled by its own speed.
    """
    machine = made.job.laser
    moves = read_program(made.coats[0].program, machine=machine)
    from stopout.clearing import plan_speeds

    profile = plan_speeds(
        moves, acceleration_mm_s2=machine.acceleration_mm_s2, cornering_mm=machine.cornering_mm
    )
    doses, weights = [], []
    for k in np.flatnonzero(moves.power > 0):
        length = moves.length_mm[k]
        v0, v1, top = profile.vertex_mm_s[k], profile.vertex_mm_s[k + 1], profile.peak_mm_s[k]
        s = (np.arange(20) + 0.5) / 20 * length
        a = machine.acceleration_mm_s2
        v = np.sqrt(np.minimum(np.minimum(v0**2 + 2 * a * s, v1**2 + 2 * a * (length - s)), top**2))
        power = moves.power[k] * (v / moves.speed_mm_s[k] if way == "control" else 1.0)
        doses.append(power / v)
        weights.append(np.full(20, length / 20))
    intended = made.coats[0].clearing.power_fraction / made.coats[0].clearing.speed_mm_s
    return np.concatenate(doses) / intended, np.concatenate(weights)


@pytest.mark.parametrize("name", sorted(WAYS))
def test_the_dose_is_even_round_the_corners_on_each_kind_of_control(name):
    made = plan(box(4, 4, 7, 6), machine={"power_follows_speed": WAYS[name]})
    for way in ("scales", "constant"):
        # Where it is not known, and where nothing follows, it is right whatever the control does.
        told = {"program": "constant", "control": "scales"}.get(name)
        if told not in (None, way):
            continue
        dose, _ = dose_along(made, "control" if way == "scales" else "constant")
        assert dose.min() > 0.86
        assert dose.max() < 1.15


def test_words_that_follow_the_speed_on_a_control_that_scales_too_lose_most_of_the_dose():
    """What a wrong answer costs: the issue's 0.15 at corners."""
    made = plan(box(4, 4, 7, 6), machine={"power_follows_speed": True})
    dose, _ = dose_along(made, "control")
    assert dose.min() < 0.3


def test_a_control_that_scales_gets_one_power_word_at_the_planned_speed():
    made = plan(box(4, 4, 7, 6), machine={"power_follows_speed": "control"})
    moves = read_program(made.coats[0].program, machine=made.job.laser)
    on = moves.power > 0
    assert np.unique(moves.power[on]) == pytest.approx([0.3])
    assert np.unique(moves.speed_mm_s[on]) == pytest.approx([20.0])
    assert made.coats[0].clearing.times.dose_ratio_max == pytest.approx(1.0)


def test_only_an_unknown_way_is_told():
    square = box(4, 4, 7, 6)
    told = [
        name
        for name, way in WAYS.items()
        if "power-way-unknown" in codes(plan(square, machine={"power_follows_speed": way}))
    ]
    assert told == ["unknown"]
