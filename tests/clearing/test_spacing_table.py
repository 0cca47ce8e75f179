"""The table of candidate spacings and the choice among them."""

import math
from contextlib import nullcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobmaker import make_job, mark
from stopout.clearing import default_spacing_mm
from stopout.clearing.beam.spacing import widest_default_mm
from stopout.clearing.beam.spacing_table import FillCase, _candidates, spacing_table
from stopout.clearing.beam.spot import FWHM_PER_RADIUS, GaussianSpot, UniformSpot
from stopout.errors import PlanError
from stopout.planning.measures.beam import beam_for

DIODE = GaussianSpot(radius_mm=(0.085, 0.06))


def chosen_row(table):
    (row,) = [row for row in table.rows if row.is_chosen]
    return row


@pytest.mark.parametrize("step", [0.0125, 0.005, 0.02, None])
@pytest.mark.parametrize("direction", ["x", "y"])
@pytest.mark.parametrize("measured", [None, 0.07, 0.13])
def test_the_chosen_row_is_the_default_rules(direction, step, measured):
    case = FillCase(spot=DIODE, line_direction=direction, mark_across_mm=measured, step_mm=step)
    table = spacing_table(case)
    # One threshold: 2 across the wider axis is 2 x 0.085 / 0.06 across the narrower one.
    w = 0.06 if direction == "x" else 0.085
    width = measured or w * math.sqrt(2 * math.log(2 * 0.085 / w))
    expected = default_spacing_mm(
        mark_across_mm=width,
        radius_across_mm=w if measured is None else width / FWHM_PER_RADIUS,
        step_mm=step,
    )
    assert table.spacing_mm == pytest.approx(expected)
    assert chosen_row(table).spacing_mm == pytest.approx(expected)
    assert not chosen_row(table).leaves_threads


@pytest.mark.parametrize(
    "clearing",
    [
        {"mark_mm": None},
        {"mark_mm": None, "dose_ratio": 3.0},
        {"mark_mm": None, "dose_ratio": 1.3},
        {"mark_mm": mark(0.10, 0.07)},
        {"mark_mm": mark(0.10, 0.07), "dose_ratio": 3.0},
    ],
)
def test_the_table_chooses_what_spacing_auto_makes_of_the_same_numbers(clearing):
    job = make_job(clearing=clearing, machine={"spot_mm": (0.17, 0.12)})
    beam = beam_for(job.coats[0], job)
    marks = clearing["mark_mm"]
    for direction, axis in (("x", 1), ("y", 0)):
        case = FillCase(
            spot=DIODE,
            line_direction=direction,
            mark_across_mm=None if marks is None else marks[axis].value,
            dose_ratio=clearing.get("dose_ratio"),
            step_mm=job.machine.step_mm,
        )
        assert spacing_table(case).spacing_mm == pytest.approx(beam.spacing_mm[direction])


def test_a_high_dose_ratio_is_spaced_by_its_ripple_and_says_so():
    table = spacing_table(FillCase(spot=DIODE, dose_ratio=3, step_mm=0.0005))
    assert table.spacing_mm == pytest.approx(0.069)  # 1.1566 x 0.06 = 0.0694
    assert "5 % ripple" in table.reason
    assert table.reason.index("5 % ripple") < table.reason.index("of the mark")
    assert chosen_row(table).ripple <= 0.05
    # At twice the threshold 0.85 of the mark is less: 0.0600 mm of 0.0706, against 0.0694.
    table = spacing_table(FillCase(spot=GaussianSpot(radius_mm=(0.06, 0.06)), step_mm=0.0005))
    assert table.reason.index("of the mark") < table.reason.index("5 % ripple")


def test_rows_rise_in_whole_steps_and_hold_what_follows_from_the_spacing():
    case = FillCase(spot=DIODE, step_mm=0.0125, speed_mm_s=20, passes=2)
    rows = spacing_table(case).rows
    spacings = [row.spacing_mm for row in rows]
    assert spacings == sorted(set(spacings))
    width = 0.06 * math.sqrt(2 * math.log(2 * 17 / 12))
    for row in rows:
        assert row.spacing_mm == pytest.approx(row.steps * 0.0125)
        assert row.overlap == pytest.approx(1 - row.spacing_mm / width)
        assert row.lines_per_inch == pytest.approx(25.4 / row.spacing_mm)
        # A square centimetre holds 10 mm / p lines of 10 mm, twice.
        assert row.path_mm_per_cm2 == pytest.approx(2 * 10 * 10 / row.spacing_mm)
        assert row.time_s_per_cm2 == pytest.approx(row.path_mm_per_cm2 / 20)
        assert row.leaves_threads == (row.spacing_mm > width)
        assert math.isinf(row.scallop_mm) == row.leaves_threads


@pytest.mark.parametrize("step", [0.0001, 0.001, 0.0125, 0.3])
def test_a_table_stays_short_and_always_holds_the_chosen_row(step):
    table = spacing_table(FillCase(spot=DIODE, step_mm=step, exponent=0.0))
    assert 1 <= len(table.rows) <= 15
    assert chosen_row(table)


def test_without_a_motor_step_rows_are_tenths_of_the_mark_and_the_chosen_one():
    table = spacing_table(FillCase(spot=DIODE, mark_across_mm=0.1))
    others = [row.spacing_mm for row in table.rows if not row.is_chosen]
    assert others == pytest.approx([0.04, 0.05, 0.06, 0.07, 0.08, 0.09, 0.1, 0.11])
    assert 0.08 < chosen_row(table).spacing_mm < 0.09


@pytest.mark.parametrize(("chosen", "stays"), [(0.07048, False), (0.07052, True)])
def test_a_row_within_half_a_hundredth_of_a_mark_of_the_chosen_one_is_left_out(chosen, stays):
    found = _candidates(chosen, 0.1, 0.085, None)
    assert (pytest.approx(0.07) in found) == stays
    assert found == sorted(found)
    assert {0.06, 0.08, chosen} <= {round(spacing, 6) for spacing in found}


def test_doses_that_add_allow_wider_lines_but_do_not_change_the_choice():
    spot = GaussianSpot(radius_mm=(0.06, 0.06))
    alone = spacing_table(FillCase(spot=spot, dose_ratio=2, step_mm=0.001))
    added = spacing_table(FillCase(spot=spot, dose_ratio=2, step_mm=0.001, exponent=0.0))
    assert added.spacing_mm == alone.spacing_mm
    assert alone.widest_mm == pytest.approx(alone.mark_across_mm)
    # p/w = 1.6651 at r = 2: two lines whose sum just reaches the threshold between them.
    assert added.widest_mm == pytest.approx(1.6651 * 0.06, abs=1e-5)
    assert "S = 0" in added.reason
    assert alone.reason.endswith("No addition of neighbouring doses is trusted.")


def test_passes_that_accumulate_widen_the_mark():
    spot = GaussianSpot(radius_mm=(0.06, 0.06))
    once = spacing_table(FillCase(spot=spot, dose_ratio=2, exponent=0.8))
    four = spacing_table(FillCase(spot=spot, dose_ratio=2, exponent=0.8, passes=4))
    # D^2 = 2 w^2 (ln r + (1 - S) ln N)
    expected = 0.06 * math.sqrt(2 * (math.log(2) + 0.2 * math.log(4)))
    assert four.mark_across_mm == pytest.approx(expected)
    assert four.mark_across_mm > once.mark_across_mm
    idle = spacing_table(FillCase(spot=spot, dose_ratio=2, passes=4))
    assert idle.mark_across_mm == pytest.approx(FWHM_PER_RADIUS * 0.06)


def test_uniform_strips_have_to_overlap_and_are_even_only_at_whole_fractions():
    case = FillCase(spot=UniformSpot(side_mm=(0.2, 0.08)), step_mm=0.01, dose_ratio=1.5)
    table = spacing_table(case)
    assert (table.mark_across_mm, table.radius_across_mm) == (0.08, None)
    assert table.spacing_mm == pytest.approx(0.06)  # 0.85 x 0.08 = 0.068
    by_steps = {row.steps: row for row in table.rows}
    assert by_steps[4].ripple == 0.0
    assert by_steps[8].ripple == 0.0
    # Peak to peak over the mean is p/b; the amplitude is half of it.
    assert by_steps[6].ripple == pytest.approx(0.06 / 0.08 / 2)
    # 1.5 across the wider side; a strip's dose goes as power over speed and width across it.
    assert by_steps[8].valley_dose_ratio == pytest.approx(1.5 * 0.2 / 0.08)
    assert by_steps[9].leaves_threads
    # Between strips that do not meet nothing is dosed.
    assert by_steps[9].valley_dose_ratio == 0.0


def test_a_mark_given_without_a_dose_ratio_implies_one():
    table = spacing_table(FillCase(spot=DIODE, mark_across_mm=0.07))
    assert table.dose_ratio == pytest.approx(math.exp((0.07 / 0.06) ** 2 / 2))
    assert not any("coupon needed" in caution for caution in table.cautions)


@pytest.mark.parametrize(
    ("numbers", "said"),
    [
        ({}, "coupon needed"),
        (
            {"dose_ratio": 1.1, "line_direction": "y"},
            "so near the threshold 1 % of dose changes the mark by 5.2 %",
        ),
        ({"dose_ratio": 9.0}, "wider than the 1/e2 spot"),
        ({"dose_ratio": 2.0, "step_mm": 0.1}, "leave threads"),
        (
            {"dose_ratio": 5.0, "mark_across_mm": 0.07, "line_direction": "y"},
            "makes the spot 0.078 mm wide (1/e2), not",
        ),
    ],
)
def test_what_is_doubtful_is_said(numbers, said):
    assert any(
        said in caution for caution in spacing_table(FillCase(spot=DIODE, **numbers)).cautions
    )


def test_a_sound_case_has_nothing_to_say():
    assert spacing_table(FillCase(spot=DIODE, mark_across_mm=0.07, step_mm=0.0125)).cautions == ()


@pytest.mark.parametrize(("step", "is_wider"), [(0.069, False), (0.07, True), (0.2, True)])
def test_one_motor_step_wider_than_the_rule_is_said_to_be_the_least_there_is(step, is_wider):
    """The rule gives 1.1566 x 0.06 = 0.0694 mm."""
    reason = spacing_table(FillCase(spot=DIODE, step_mm=step)).reason
    assert ("one motor step, the least there is" in reason) == is_wider


@pytest.mark.parametrize(
    ("ratio", "stands"), [(1.0099, False), (1.0101, True), (2999.9, True), (3000.1, False)]
)
def test_a_mark_is_of_a_spot_from_1_01_to_3000_times_its_threshold(ratio, stands):
    """D^2 = 2 w^2 ln r (see `stopout.clearing.beam.spot`)."""
    case = FillCase(spot=DIODE, mark_across_mm=0.06 * math.sqrt(2 * math.log(ratio)))
    with nullcontext() if stands else pytest.raises(PlanError, match="times as wide"):
        assert spacing_table(case).dose_ratio == pytest.approx(ratio)


def test_what_clears_nothing_or_cannot_be_is_refused():
    with pytest.raises(PlanError, match="nothing is cleared"):
        spacing_table(FillCase(spot=DIODE, dose_ratio=1.0))
    with pytest.raises(PlanError, match=r"6\.7 times as wide"):
        spacing_table(FillCase(spot=DIODE, mark_across_mm=0.8))
    with pytest.raises(PlanError, match="times as wide"):
        spacing_table(FillCase(spot=DIODE, mark_across_mm=1e-7))


@given(
    radius=st.floats(0.005, 0.5),
    ratio=st.floats(1.01, 50),
    share=st.floats(0.001, 1),
    exponent=st.floats(0, 1),
    passes=st.integers(1, 5),
)
def test_whatever_the_spot_the_choice_leaves_no_thread_and_a_step_more_breaks_the_rule(
    radius, ratio, share, exponent, passes
):
    spot = GaussianSpot(radius_mm=(radius, radius))
    widest = widest_default_mm(
        mark_across_mm=radius * math.sqrt(2 * math.log(ratio)), radius_across_mm=radius
    )
    step = share * widest
    case = FillCase(spot=spot, dose_ratio=ratio, step_mm=step, exponent=exponent, passes=passes)
    table = spacing_table(case)
    assert not chosen_row(table).leaves_threads
    rule = widest_default_mm(mark_across_mm=table.mark_across_mm, radius_across_mm=radius)
    assert table.spacing_mm <= rule * (1 + 1e-6)
    assert table.spacing_mm + step > rule * (1 - 1e-6)
    valleys = [row.valley_dose_ratio for row in table.rows]
    assert valleys == sorted(valleys, reverse=True)


@pytest.mark.parametrize("exponent", [0.0, 0.5, 1.0])
def test_strips_lie_as_often_on_each_other_as_they_go_into_their_width(exponent):
    """0.08 mm of side at 0.03 mm: twice on each place and here and there thrice; at 0.09 not once.

    Of n strips the valley has r n^(1 - S), by the rule of accumulation.
    """
    case = FillCase(
        spot=UniformSpot(side_mm=(0.2, 0.08)), step_mm=0.03, dose_ratio=1.5, exponent=exponent
    )
    rows = {round(row.spacing_mm, 3): row for row in spacing_table(case).rows}
    ratio = spacing_table(case).dose_ratio
    assert rows[0.03].valley_dose_ratio == pytest.approx(ratio * 2 ** (1 - exponent))
    assert rows[0.03].ripple == pytest.approx(0.03 / 0.16)
    assert rows[0.09].valley_dose_ratio == 0
    assert rows[0.09].leaves_threads
