"""The spot, the mark and the default spacing rule."""

import math

import numpy as np
import pytest

from stopout.clearing import (
    FWHM_PER_RADIUS,
    default_spacing_mm,
    dose_ratio_of,
    mark_width_mm,
    radius_mm,
)
from stopout.clearing.beam.spacing import (
    RIPPLE_PITCH,
    accumulated_dose,
    ripple,
    widest_spacing_mm,
)
from stopout.clearing.beam.spot import width_across_mm


def test_the_full_width_at_half_maximum_is_1_17741_radii():
    assert pytest.approx(1.177410, abs=1e-6) == FWHM_PER_RADIUS
    # ISO 11146 and every text on Gaussian beams: 1/e^2 diameter = 1.69864 FWHM.
    assert pytest.approx(1.698644, abs=1e-6) == 2 / FWHM_PER_RADIUS


def test_spot_widths_of_each_sense_give_the_same_radius():
    assert radius_mm(0.12, "1/e2") == pytest.approx(0.06)
    assert radius_mm(0.12, "d4sigma") == pytest.approx(0.06)
    assert radius_mm(0.06 * FWHM_PER_RADIUS, "fwhm") == pytest.approx(0.06)


# D^2 = 2 w^2 ln(q / q_th): J. M. Liu, Opt. Lett. 7 (1982) 196 (from memory), here for lines.
@pytest.mark.parametrize(
    ("ratio", "width"), [(3.0, 0.0889382), (2.0, 0.0706446), (math.sqrt(math.e), 0.06)]
)
def test_the_cleared_width_follows_from_the_dose_ratio(ratio, width):
    assert mark_width_mm(0.06, ratio) == pytest.approx(width, abs=1e-6)
    assert dose_ratio_of(width, 0.06) == pytest.approx(ratio, rel=1e-5)


@pytest.mark.parametrize("ratio", [0.9, 1.0])
def test_a_dose_at_or_under_threshold_clears_nothing(ratio):
    assert mark_width_mm(0.06, ratio) == 0.0


def test_the_5_percent_pitch_is_1_156612_radii():
    assert pytest.approx(1.156612, abs=1e-6) == RIPPLE_PITCH
    assert ripple(RIPPLE_PITCH * 0.06, 0.06) == pytest.approx(0.05)


def test_the_ripple_agrees_with_a_summed_comb_of_gaussian_lines():
    """Poisson summation against a plain sum: 2q at p/w = 1.0 and 1.4."""
    for pitch, expected in ((1.0, 0.0143838), (1.4, 0.1612807)):
        assert ripple(pitch, 1.0) == pytest.approx(expected, abs=1e-6)
        y = np.linspace(0, pitch, 2001)
        lines = np.arange(-40, 41) * pitch
        dose = np.exp(-2 * (y[:, None] - lines) ** 2).sum(axis=1)
        amplitude = (dose.max() - dose.min()) / (dose.max() + dose.min())
        assert amplitude == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize(
    ("mark", "step", "expected"),
    [(0.07, 0.0125, 0.05), (0.10, 0.0125, 0.075), (0.12, 0.001, 0.102), (0.01, 0.0125, 0.0125)],
)
def test_the_default_spacing_is_rounded_down_to_whole_motor_steps(mark, step, expected):
    got = default_spacing_mm(
        mark_across_mm=mark, radius_across_mm=mark / FWHM_PER_RADIUS, step_mm=step
    )
    assert got == pytest.approx(expected, abs=1e-12)


def test_a_wide_mark_of_a_narrow_spot_is_spaced_by_its_ripple():
    got = default_spacing_mm(mark_across_mm=0.2, radius_across_mm=0.05, step_mm=1e-6)
    assert got == pytest.approx(RIPPLE_PITCH * 0.05, abs=2e-6)


def test_a_spacing_of_exactly_whole_steps_is_not_lost_to_rounding():
    """A widest pitch of 0.1302 mm in steps of 0.0125 gives 10 steps, 203.2 lines per inch."""
    got = default_spacing_mm(mark_across_mm=0.1302 / 0.85, radius_across_mm=1.0, step_mm=0.0125)
    assert got == pytest.approx(0.125)
    assert 25.4 / got == pytest.approx(203.2)


def test_lines_a_quarter_millimetre_apart_are_101_6_to_the_inch():
    """Facts of the trade, common practice, no source: a dot every 0.25 mm over 280 x 390 mm."""
    assert pytest.approx(101.6) == 25.4 / 0.25
    assert round(280 / 0.25) * round(390 / 0.25) == 1_747_200


@pytest.mark.parametrize(
    ("angle", "expected"), [(0, 0.05), (30, 0.073993), (45, 0.0919239), (90, 0.12)]
)
def test_the_width_across_a_slanted_line_is_that_of_the_turned_ellipse(angle, expected):
    direction = (math.cos(math.radians(angle)), math.sin(math.radians(angle)))
    assert width_across_mm((0.12, 0.05), direction) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("exponent", [0.0, 0.5, 1.0])
def test_lines_amount_at_a_place_to_what_they_do_in_any_table_of_places(exponent):
    """exp(-2 x^2 / w^2) from each line, added by S: sum(d^m)^(1 / m) with m = 1 / (1 - S)."""
    p, w = 0.05, 0.06
    places = np.array([[0.0, 0.01, 0.025], [0.05, 0.02, 0.07]])
    single = np.exp(-2 * ((places[..., None] - p * np.arange(-20, 21)) / w) ** 2)
    m = 1 / max(1 - exponent, 1e-2)
    due = single.max(-1) if exponent == 1 else (single**m).sum(-1) ** (1 / m)
    laws = {"spacing_mm": p, "radius_across_mm": w, "exponent": exponent}
    np.testing.assert_allclose(accumulated_dose(places, **laws), due, rtol=1e-9)
    np.testing.assert_allclose(accumulated_dose(places[0, 1], **laws), due[0, 1], rtol=1e-9)


def test_too_weak_lines_clear_at_no_spacing_though_their_doses_add():
    """As near as 0.05 w the sum of d^10 is about 8 of one line's: 8^0.1 = 1.23 times a half."""
    assert widest_spacing_mm(0.06, 0.5, exponent=0.9) == 0.0
    # Doses that add outright clear at any strength: 0.5 sqrt(pi / 2) w / p = 1.
    assert widest_spacing_mm(0.06, 0.5, exponent=0.0) == pytest.approx(0.0376, abs=1e-4)
