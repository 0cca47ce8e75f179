"""Where each finding of an etch begins: on the near side of its limit nothing, beyond it the code.

The limits stand here a second time, by hand: our own rules and usual depths, no source.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from etching.test_amounts import ALUMINIUM, COPPER, planned
from stopout.errors import PlanError
from stopout.etching import resist_values
from stopout.etching.bath.ageing import Batch
from stopout.etching.bath.amounts import capacity_g_per_l
from stopout.etching.findings.bath import bath_findings, floor_findings, gas_findings
from stopout.etching.findings.checks import check_pair_use, check_piece
from stopout.etching.rates.doubt import doubtful_rate, factor_findings
from stopout.etching.rates.rate import rate_um_per_min
from stopout.tables import load_resist, load_resists
from stopout.values import Level, Measured

LYE, ACID = planned(), planned("copper")
HELD = capacity_g_per_l(ALUMINIUM, LYE.strength.g_per_l)


def told(findings):
    return {one.code: one.level for one in findings}


def floor(depth_mm, **changes):
    return floor_findings(
        **{"depth_mm": depth_mm, "thickness_mm": 1.0, "is_filled": True} | changes
    )


@pytest.mark.parametrize(
    ("depth_mm", "found"),
    [
        (0.17, {"shallow-fill": Level.NOTE}),
        (0.18, {}),
        # Half the blank.
        (0.5, {}),
        (0.51, {"thin-floor": Level.CAUTION}),
        # What goes through is a stop elsewhere.
        (1.0, {}),
    ],
)
def test_a_floor_is_thin_under_half_the_blank_and_a_fill_shallow_under_0_18_mm(depth_mm, found):
    assert told(floor(depth_mm)) == found
    assert "shallow-fill" not in told(floor(depth_mm, is_filled=False))
    assert "thin-floor" not in told(floor(depth_mm, thickness_mm=None))


def test_a_thin_floor_says_what_is_left_and_what_would_be_enough():
    (one,) = floor(0.6)
    assert "only 0.4 mm of the blank's 1 mm" in one.message
    assert "Etch to 0.5 mm or less" in one.remedy


@pytest.mark.parametrize("pair", [ALUMINIUM, COPPER])
def test_hot_and_deep_begin_past_what_is_usual_under_paint(pair):
    hot, deep = pair.hot_paint_degc.value, pair.paint_depth_mm.value
    assert told(check_pair_use(pair, temperature_degc=hot, depth_mm=deep)) == {}
    found = told(check_pair_use(pair, temperature_degc=hot + 0.1, depth_mm=deep + 0.001))
    assert found == {"hot-bath": Level.CAUTION, "deep-etch": Level.CAUTION}


@pytest.mark.parametrize(
    ("minutes", "found"),
    [((10.0,), False), ((10.0, 10.2), False), ((10.0, 10.3), True), ((10.0, None), False)],
)
def test_batches_are_slow_where_the_last_takes_three_hundredths_longer(minutes, found):
    batches = tuple(
        Batch(number=k, pieces=1, start_g_per_l=0.0, end_g_per_l=0.0, time_s=m and 60 * m)
        for k, m in enumerate(minutes)
    )
    said = [one for one in bath_findings(COPPER, replace(ACID, batches=batches))
            if one.code == "batches-slow"]  # fmt: skip
    assert bool(said) == found
    if said:
        assert said[0].level is Level.NOTE
        assert "2 batches" in said[0].message
        assert "the first takes 10 min, the last 10.3 min" in said[0].message


@pytest.mark.parametrize(
    ("share", "level"),
    [(0.79, None), (0.81, Level.NOTE), (1.0, Level.NOTE), (1.01, Level.CAUTION)],
)
def test_a_bath_is_used_up_from_four_fifths_of_what_it_is_planned_for(share, level):
    pour = replace(LYE.pour, end_g_per_l=share * HELD, limit_g_per_l=2 * HELD)
    assert told(bath_findings(ALUMINIUM, replace(LYE, pour=pour))).get("bath-used-up") == level


@pytest.mark.parametrize(("start", "words"), [(0.0, "the bath would"), (3.0, "holds 3 g/L of")])
def test_a_bath_is_spent_past_where_it_is_finished(start, words):
    pour = replace(LYE.pour, start_g_per_l=start, limit_g_per_l=20.0, end_g_per_l=20.1)
    (one,) = [
        one for one in bath_findings(ALUMINIUM, replace(LYE, pour=pour)) if one.code == "bath-spent"
    ]
    assert one.level is Level.STOP
    assert words in one.message
    pour = replace(pour, end_g_per_l=20.0)
    assert "bath-spent" not in told(bath_findings(ALUMINIUM, replace(LYE, pour=pour)))


@pytest.mark.parametrize(("hottest", "found"), [(50.0, False), (50.1, True), (None, False)])
def test_mixing_is_hot_past_50_degc_in_a_fresh_bath(hottest, found):
    plan = replace(LYE, mixing=replace(LYE.mixing, hottest_degc=hottest))
    assert ("mixing-hot" in told(bath_findings(ALUMINIUM, plan))) == found
    used = replace(plan, pour=replace(plan.pour, start_g_per_l=1.0))
    assert "mixing-hot" not in told(bath_findings(ALUMINIUM, used))


@pytest.mark.parametrize(
    ("deep_mm", "found"),
    [(15.0, None), (14.9, "bath-shallow"), (4.0, "bath-shallow"), (0.5, "bath-bare")],
)
def test_a_given_bath_is_shallow_under_what_covers_and_bare_under_less(deep_mm, found):
    """In a tray of 140 x 100 mm, the blank and 20 mm all round: 14 mL a millimetre."""
    pour = replace(LYE.pour, decided_by="volume", tray_mm=(140.0, 100.0), cover_mm=15.0)
    plan = replace(LYE, pour=replace(pour, bare_mm=3.0), bath_fill_l=0.014 * deep_mm)
    codes = [
        one for one in bath_findings(ALUMINIUM, plan) if one.code in ("bath-bare", "bath-shallow")
    ]
    assert [one.code for one in codes] == ([found] if found else [])
    if found:
        assert codes[0].level is (Level.STOP if found == "bath-bare" else Level.CAUTION)
        assert codes[0].remedy.startswith("Pour 0.21 L")


@pytest.mark.parametrize(("over", "found"), [(1.0, False), (1.01, True)])
def test_a_given_bath_is_small_where_it_warms_past_what_is_allowed(over, found):
    pour = replace(LYE.pour, decided_by="volume", rise_k=over * LYE.rise_k)
    plan = replace(LYE, pour=pour)
    said = {one.code: one for one in bath_findings(ALUMINIUM, plan)}
    assert ("bath-small" in said) == found
    if found:
        litres = math.ceil(1000 * LYE.bath_fill_l * over) / 1000
        assert f"Pour at least {litres:g} L" in said["bath-small"].remedy


AT = {"strength_g_per_l": 100.0, "temperature_degc": 40.0, "agitation": "tray"}


def test_a_rate_is_doubted_past_three_times_its_range_and_a_used_bath_may_be_slow():
    table = rate_um_per_min(ALUMINIUM, **AT)
    low, high = table.low_um_per_min, table.high_um_per_min
    for rate, fresh, used in (
        (2.99 * high, "", ""),
        (3.01 * high, "3 times above", "3 times above"),
        (low / 2.99, "", ""),
        (low / 3.01, "3 times below", ""),
    ):
        for is_fresh, words in ((True, fresh), (False, used)):
            said = doubtful_rate(ALUMINIUM, rate, **AT, is_fresh=is_fresh)
            assert bool(said) == bool(words)
            assert words in said


def test_an_etch_factor_is_doubted_past_twice_its_range():
    table = COPPER.etch_factor
    low, high = table.low or table.value, table.high or table.value
    for value, words in ((1.99 * high, ""), (2.02 * high, "2 times above"), (low / 1.99, ""),
                         (low / 2.02, "2 times below")):  # fmt: skip
        found = factor_findings(COPPER, Measured(value=value, sd=0.1), where="job file")
        assert [words in one.message for one in found] == ([True] if words else [])


@pytest.mark.parametrize(("factor", "words"), [(10.0, "ten times"), (4.5, "4.5 times")])
def test_the_air_is_told_as_so_many_times_what_a_quarter_of_the_limit_asks(factor, words):
    plan = replace(LYE, flow=replace(LYE.flow, safety_factor=factor))
    (one,) = gas_findings(ALUMINIUM, plan)
    assert f"L/min of air: {words} what would keep" in one.remedy


@pytest.mark.parametrize("resist", load_resists(), ids=lambda one: one.ident)
def test_thin_coats_are_stated_of_what_is_put_on_in_them(resist):
    names = [value.name for value in resist_values(resist)]
    assert names.count("thin coats") == (resist.thin_coats is not None)
    assert load_resist("acrylic-lacquer").thin_coats is None


@pytest.mark.parametrize("degc", [0.0, 100.0, -5.0, math.nan])
def test_a_bath_that_freezes_or_boils_is_no_bath(degc):
    with pytest.raises(PlanError, match="no water bath"):
        planned(temperature_degc=degc)


@pytest.mark.parametrize("degc", [0.5, 99.5])
def test_a_bath_that_hardly_freezes_or_boils_is_one(degc):
    assert planned(temperature_degc=degc, rise_k=0.1).temperature_degc == degc


@pytest.mark.parametrize(
    ("depth_mm", "thickness_mm", "is_filled", "code"),
    [
        (0.6, 1.0, False, "thin-floor"),
        (0.06, 1.0, True, "shallow-fill"),
        (1.0, 1.0, False, "etch-through"),
        (0.2, 1.0, True, None),
        (0.6, None, False, None),
    ],
)
def test_what_is_found_of_a_floor_is_told_with_the_piece(depth_mm, thickness_mm, is_filled, code):
    etch = planned(depth_mm=depth_mm)
    piece = {"thickness_mm": thickness_mm, "is_filled": is_filled}
    assert set(told(check_piece(etch, ALUMINIUM, resists=(), **piece))) == ({code} - {None})
    with_paint = told(check_piece(etch, ALUMINIUM, resists=load_resists(), **piece))
    assert {"resist-unknown", "resist-unfit"} & set(with_paint)
    assert code is None or code in with_paint
