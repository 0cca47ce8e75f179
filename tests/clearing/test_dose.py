"""Thresholds, passes and gated ends: what must hold whatever the numbers."""

import pytest

from stopout.clearing.beam.dose import (
    Threshold,
    gated_end_mm,
    ratio_after_passes,
)


def test_equal_line_dose_is_not_equal_result_where_metal_leads_heat_away():
    metal = Threshold(line_dose_j_per_mm=0.0175, conduction_w=0.20)
    slow, fast = metal.dose_ratio(1.1, 20), metal.dose_ratio(4.4, 80)
    assert slow == pytest.approx(2.0)
    assert fast == pytest.approx(2.75)
    plastic = Threshold(line_dose_j_per_mm=0.0175)
    assert plastic.dose_ratio(1.1, 20) == pytest.approx(plastic.dose_ratio(4.4, 80))


def test_the_speed_of_a_dose_ratio_is_the_inverse_of_its_ratio():
    metal = Threshold(line_dose_j_per_mm=0.0175, conduction_w=0.20)
    assert metal.dose_ratio(3.0, metal.speed_mm_s(3.0, 1.65)) == pytest.approx(1.65)
    assert metal.speed_mm_s(0.3, 2) == 0.0


@pytest.mark.parametrize("ratio", [1.01, 1.3, 2.5, 40])
def test_a_switched_end_moves_out_with_the_dose_and_in_proportion_to_the_spot(ratio):
    assert gated_end_mm(0.06, ratio) == pytest.approx(0.06 * gated_end_mm(1.0, ratio))
    assert gated_end_mm(0.06, ratio * 1.1) > gated_end_mm(0.06, ratio)


def test_what_clears_nothing_is_refused_in_a_sentence():
    with pytest.raises(ValueError, match="clears nothing"):
        gated_end_mm(0.06, 1.0)


def test_one_pass_is_one_pass_whatever_the_exponent():
    assert [ratio_after_passes(1.8, 1, s) for s in (0, 0.5, 1)] == [1.8] * 3
