"""How a mark bears defocus at a held line dose."""

import math

import pytest
from scipy.optimize import brentq

from stopout.clearing.beam.focus import (
    defocused_mark_ratio,
    focus_step,
    growth_within_mark,
    rayleigh_range_mm,
)
from stopout.clearing.beam.spot import GaussianSpot, mark_width_mm


# +10 % in w at a held line dose: D changes by -12 % at r = 1.3, -1.0 % at sqrt(e), +5.1 % at r = 3
# (Liu's law with the peak dose as 1 / w; worked by hand, the law from memory).
@pytest.mark.parametrize(
    ("ratio", "change"), [(1.3, -0.12), (math.sqrt(math.e), -0.010), (3, 0.051)]
)
def test_ten_per_cent_of_spot_changes_the_mark_as_liu_s_law_has_it(ratio, change):
    got = defocused_mark_ratio(1.1, ratio)
    assert got - 1 == pytest.approx(change, abs=3e-3)
    assert got == pytest.approx(mark_width_mm(1.1, ratio / 1.1) / mark_width_mm(1.0, ratio))


def test_the_mark_is_stationary_against_focus_at_the_fastest_dose_ratio():
    assert defocused_mark_ratio(1.001, math.sqrt(math.e)) == pytest.approx(1, abs=2e-6)


@pytest.mark.parametrize("ratio", [1.1, 1.3, 1.65, 2, 3, 5])
def test_within_the_tolerance_no_mark_is_off_by_more_than_five_per_cent(ratio):
    growth = growth_within_mark(ratio, 0.05)
    steps = [1 + (growth - 1) * k / 200 for k in range(201)]
    worst = max(abs(defocused_mark_ratio(g, ratio) - 1) for g in steps)
    assert worst == pytest.approx(0.05, abs=1e-6)
    assert abs(defocused_mark_ratio(growth * 1.01, ratio) - 1) > 0.05


def test_the_tolerance_at_twice_the_threshold_by_a_root_of_scipy():
    root = brentq(lambda g: g * math.sqrt(math.log(2 / g) / math.log(2)) - 0.95, 1.3, 1.99)
    assert growth_within_mark(2.0) == pytest.approx(root)


def test_a_beam_too_wide_for_its_dose_clears_nothing():
    assert defocused_mark_ratio(2.0, 2.0) == 0.0
    assert defocused_mark_ratio(2.5, 2.0) == 0.0


def test_the_rayleigh_range_of_a_waist_of_sixty_micrometres():
    """By hand: pi x 0.06^2 mm^2 / 450 nm = 25.13 mm; of M^2 = 2 half of it (ISO 11146)."""
    assert rayleigh_range_mm(0.06, wavelength_nm=450) == pytest.approx(25.1327, abs=1e-3)
    assert rayleigh_range_mm(0.06, wavelength_nm=450, m2=2) == pytest.approx(12.5664, abs=1e-3)


def test_the_narrower_axis_and_the_worse_beam_set_the_focus_step():
    spot = GaussianSpot(radius_mm=(0.085, 0.06))
    ideal = focus_step(spot, wavelength_nm=450, dose_ratios=(2, 2))
    real = focus_step(spot, wavelength_nm=450, dose_ratios=(2, 2), m2=(15, 15))
    shorter = rayleigh_range_mm(0.06, wavelength_nm=450)
    assert ideal.depth_mm == pytest.approx(2 * shorter)
    assert real.tolerance_mm == pytest.approx(ideal.tolerance_mm / 15)
    assert ideal.tolerance_mm == pytest.approx(
        shorter * math.sqrt(growth_within_mark(2.0) ** 2 - 1)
    )
    near_threshold = focus_step(spot, wavelength_nm=450, dose_ratios=(1.3, 1.3), m2=(15, 15))
    assert near_threshold.tolerance_mm < real.tolerance_mm / 3


def test_a_dose_that_clears_nothing_has_no_tolerance():
    with pytest.raises(ValueError, match="clears nothing"):
        growth_within_mark(1.0)
    with pytest.raises(ValueError, match="between 0 and 1"):
        growth_within_mark(2.0, 1.5)
