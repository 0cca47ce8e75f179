"""The times of a plan beside its floors, and what would make it faster."""

import math
from dataclasses import replace

import pytest
from shapely.geometry import box

from jobmaker import MACHINE, make_job, plan
from stopout.clearing.beam.dose import Threshold
from stopout.clearing.moving.program_times import ProgramTimes
from stopout.clearing.timetable import TimeCase, time_table

CASE = TimeCase(
    times=ProgramTimes(
        time_s=1170.0,
        time_floor_s=618.0,
        cleared_length_mm=12360.0,
        travel_length_mm=7739.0,
        dose_ratio_max=1.1,
        lines_per_s_max=0,
        busiest_mm=(0.0, 0.0),
    ),
    time_one_direction_s=4071.0,
    time_other_direction_s=1340.0,
    line_direction="y",
    area_mm2=871.7,
    edge_mm=900.0,
    mark_across_mm=0.10,
    spacing_mm=0.075,
    power_fraction=0.3,
    speed_mm_s=20.0,
    passes=1,
    dose_ratio=2.0,
    machine=MACHINE,
)


def row(table, key):
    (found,) = [row for row in table.rows if row.key == key]
    return found.time_s


def change(table, key):
    found = [entry for entry in table.quicker if entry.key == key]
    return found[0] if found else None


def test_the_floors_are_the_closed_forms():
    table = time_table(CASE)
    assert row(table, "kinematic-floor") == pytest.approx(12360 / 20)
    # Area over mark times speed, by the contract of plan.json.
    assert row(table, "area-floor") == pytest.approx(871.7 / (0.10 * 20))
    # A F / P with F = P_set / (v p): 871.7 mm^2 at 1.65 W / (20 mm/s x 0.075 mm) by 5.5 W.
    assert row(table, "dose-floor") == pytest.approx(871.7 * (1.65 / (20 * 0.075)) / 5.5)
    assert row(table, "plan") == 1170.0
    assert row(table, "one-direction") == 4071.0


def test_full_power_binds_where_it_comes_before_the_top_speed():
    table = time_table(CASE)
    assert (table.binds, table.limit_speed_mm_s) == ("power", pytest.approx(20 / 0.3))
    assert row(table, "limit-floor") == pytest.approx(12360 / (20 / 0.3))
    assert "full power (5.5 W) would bind at 66.67 mm/s" in table.reason
    table = time_table(replace(CASE, power_fraction=0.1))
    assert (table.binds, table.limit_speed_mm_s) == ("top-speed", 100.0)
    assert "the top speed (100 mm/s) would bind at 100 mm/s" in table.reason


def test_on_metal_the_limit_follows_the_threshold_power():
    threshold = Threshold(line_dose_j_per_mm=0.0175, conduction_w=0.20)
    table = time_table(replace(CASE, threshold=threshold))
    # 5.5 W = 2 (0.0175 v + 0.20)
    assert (table.binds, table.limit_speed_mm_s) == ("top-speed", 100.0)
    assert (5.5 / 2 - 0.20) / 0.0175 > 100
    weak = replace(CASE, threshold=threshold, machine=replace(MACHINE, power_w=1.65))
    table = time_table(weak)
    assert table.limit_speed_mm_s == pytest.approx((1.65 / 2 - 0.20) / 0.0175)
    assert table.binds == "power"
    # A plan of more than that, by which 14.3 mm/s would do, shows that it can be had.
    weak = replace(CASE, threshold=threshold, machine=replace(MACHINE, power_w=0.9))
    assert (time_table(weak).binds, time_table(weak).limit_speed_mm_s) == ("power", 20.0)


def test_the_other_direction_is_told_with_its_time():
    entry = change(time_table(CASE), "direction")
    assert entry.is_planned
    assert (entry.time_s, entry.saves_s) == (1340.0, -170.0)
    assert change(time_table(replace(CASE, time_other_direction_s=None)), "direction") is None


def test_a_given_spacing_under_the_default_is_told_the_default():
    entry = change(time_table(replace(CASE, spacing_mm=0.05)), "spacing")
    assert entry.change.startswith("spacing 0.075 mm, the default")
    assert entry.saves_s > 0


def test_a_spacing_past_the_mark_is_never_advised():
    assert change(time_table(replace(CASE, spacing_mm=0.0875)), "spacing").change.startswith(
        "spacing 0.1 mm"
    )
    assert change(time_table(replace(CASE, spacing_mm=0.1)), "spacing") is None


def test_five_times_the_threshold_wastes_four_tenths_of_the_path_s_time():
    """At fixed power the area rate at r = 5 is 0.592 of the best (closed form of the rate)."""
    still = replace(CASE.times, time_s=618.0)
    area = 618.0 * 20 * 0.075
    filled = replace(CASE, times=still, dose_ratio=5.0, edge_mm=0.0, area_mm2=area)
    entry = change(time_table(filled), "dose")
    assert entry.time_s / 618.0 == pytest.approx(0.592, abs=2e-3)


def test_a_change_that_hardly_matters_is_left_out():
    for ratio in (1.65, 1.0):
        table = time_table(replace(CASE, dose_ratio=ratio))
        assert change(table, "dose") is None


def test_an_estimate_that_gains_nothing_is_no_advice():
    assert all(entry.saves_s > 0 for entry in time_table(CASE).quicker if not entry.is_planned)


def test_where_runs_take_longer_than_the_path_no_more_power_is_advised():
    """Path over speed and rest times speed are least where both take alike: at less speed here."""
    still = replace(CASE.times, time_s=2.5 * CASE.times.time_floor_s)
    assert change(time_table(replace(CASE, times=still)), "power") is None


def test_nothing_is_faster_where_full_power_is_in_use():
    table = time_table(replace(CASE, power_fraction=1.0, speed_mm_s=20 / 0.3))
    assert table.limit_speed_mm_s == pytest.approx(20 / 0.3)
    assert change(table, "power") is None
    assert "binds: the beam-on path takes at least" in table.reason


# So little travel that the path takes nine tenths of the time.
BUSY = replace(CASE.times, time_s=700.0)


def test_a_wider_spacing_saves_its_share_of_the_lines_and_of_no_outline():
    """Lines are (871.7 - 900 x 0.1 / 2) / 0.075 = 11023 mm of 12360: 0.8918; a seventh goes."""
    entry = change(time_table(CASE), "spacing")
    assert entry.time_s == pytest.approx(1170 * (1 - 0.89177 / 7), rel=1e-4)
    assert entry.saves_s == pytest.approx(1170 * 0.89177 / 7, rel=1e-3)
    # Two passes would be more lines than there are: all is.
    entry = change(time_table(replace(CASE, passes=2)), "spacing")
    assert entry.time_s == pytest.approx(1170 * 6 / 7)
    assert row(time_table(replace(CASE, passes=2)), "area-floor") == pytest.approx(871.7)


def test_more_power_goes_to_where_path_and_rest_take_alike():
    """At k = sqrt(618 / 82) = 2.745 both take sqrt(618 x 82) = 225.1 s; 30 % becomes 82.4 %."""
    entry = change(time_table(replace(CASE, times=BUSY)), "power")
    assert entry.time_s == pytest.approx(2 * 225.113, abs=0.01)
    assert entry.change.startswith("54.9 mm/s at 82.4 % power")
    # Held to the limit of 20 / 0.4 = 50 mm/s: 618 / 2.5 + 82 x 2.5.
    entry = change(time_table(replace(CASE, times=BUSY, power_fraction=0.4)), "power")
    assert entry.time_s == pytest.approx(247.2 + 205)
    # On metal 2 (0.0175 x 54.9 + 0.20) W of 5.5 W.
    threshold = Threshold(line_dose_j_per_mm=0.0175, conduction_w=0.20)
    entry = change(time_table(replace(CASE, times=BUSY, threshold=threshold)), "power")
    assert entry.change.startswith("54.9 mm/s at 42.2 % power")


def test_the_fastest_dose_ratio_narrows_the_mark_of_the_lines_only():
    """5 / e^0.5 = 3.033 times as fast, the mark 1 / sqrt(2 ln 5) = 0.557 times as wide."""
    times = replace(CASE.times, time_s=640.0)
    entry = change(time_table(replace(CASE, times=times, dose_ratio=5.0)), "dose")
    longer = 0.89177 * math.sqrt(2 * math.log(5)) + (1 - 0.89177)
    faster = 5 / math.exp(0.5)
    assert entry.time_s == pytest.approx(longer * (618 / faster + 22 * faster), rel=1e-4)
    assert "60.65 mm/s, the mark 0.557 times as wide" in entry.change
    # Where the threshold is hardly reached the mark is narrow: 0.2 times that of 1.65.
    barely = time_table(replace(CASE, times=times, dose_ratio=1.02))
    assert "the mark 5.02 times as wide" in change(barely, "dose").change
    assert change(time_table(replace(CASE, times=times, dose_ratio=1.0)), "dose") is None
    # Faster than the machine goes is no advice.
    slow = replace(MACHINE, top_speed_mm_s=60.0)
    slow = time_table(replace(CASE, times=times, dose_ratio=5.0, machine=slow))
    assert change(slow, "dose") is None


def test_the_other_direction_is_named_and_the_share_of_the_path_told():
    table = time_table(CASE)
    assert row(table, "other-direction") == 1340.0
    assert [r.name for r in table.rows][1] == "lines along x"
    assert [r.key for r in time_table(replace(CASE, time_other_direction_s=None)).rows] == [
        r.key for r in table.rows if r.key != "other-direction"
    ]
    assert table.on_share == pytest.approx(618 / 1170)
    assert "slow corners take 47 % of the time" in table.reason


def planned_case(made):
    (coat,) = made.coats
    clearing = coat.clearing
    return TimeCase(
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
        dose_ratio=2.0,
        machine=made.job.machine,
    )


BARS = box(2, 2, 10, 5).union(box(2, 6, 5, 8)).union(box(6, 6, 10, 8))


def test_estimates_of_a_faster_plan_hold_against_that_plan():
    """Our own estimate, from above, against our own planner."""
    table = time_table(planned_case(plan(BARS)))
    entry = change(table, "power")
    speed, power = (float(word) for word in (entry.change.split()[0], entry.change.split()[3]))
    job = make_job(clearing={"speed_mm_s": speed, "power": power / 100})
    faster = plan(BARS, job).coats[0].clearing.times.time_s
    assert 0.8 * entry.time_s < faster < 1.05 * entry.time_s


def test_estimates_of_a_wider_spacing_hold_against_that_plan():
    first = plan(BARS, make_job(clearing={"line_direction": "x"}))
    entry = change(time_table(planned_case(first)), "spacing")
    wider = float(entry.change.split()[1])
    job = make_job(clearing={"line_direction": "x", "spacing_mm": wider})
    assert entry.time_s == pytest.approx(plan(BARS, job).coats[0].clearing.times.time_s, rel=0.05)


def test_the_limits_of_a_real_plan_stand_in_order():
    table = time_table(planned_case(plan(BARS)))
    assert row(table, "limit-floor") < row(table, "kinematic-floor") < row(table, "plan")
    assert row(table, "area-floor") < row(table, "kinematic-floor")
    assert row(table, "plan") < row(table, "one-direction")
    assert 0 < table.on_share < 1
