"""Spot widths, focus and marks against published definitions and reference libraries.

Sources, by check:

- ISO 11146 (as taught in texts on beam measurement): D4sigma is four standard deviations of the
  power; for a Gaussian that is the 1/e^2 diameter. 1/e^2 diameter = 1.699 FWHM: encyclopaedia
  article "Beam diameter".
- Rayleigh range pi w0^2 / (M^2 lambda) and focus growth: any text on Gaussian beams.
- The incubation law: Jee, Becker, Walser, J. Opt. Soc. Am. B 5 (1988) 648 (from memory).
- Line form of Liu's method: J. M. Liu, Opt. Lett. 7 (1982) 196 (from memory); here integrated
  numerically.
- Refractive index of acrylic 1.49: published tables of polymer optics (n = 1.489 at 589 nm).

Integrals, roots and special functions by SciPy.
"""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import erf, erfinv

from clearing.spot_profiles import profile_per_mm
from stopout.clearing.beam.dose import (
    FASTEST_DOSE_RATIO,
    Threshold,
    gated_end_mm,
    incubation_factor,
    ratio_after_passes,
)
from stopout.clearing.beam.focus import (
    height_tolerance_mm,
    rayleigh_range_mm,
)
from stopout.clearing.beam.spot import (
    D4SIGMA_PER_SIDE,
    FWHM_PER_RADIUS,
    GaussianSpot,
    UniformSpot,
    mark_width_mm,
    radius_mm,
    side_mm,
)


def test_gaussian_widths_convert_as_published():
    assert pytest.approx(1.177410, abs=1e-6) == FWHM_PER_RADIUS
    assert pytest.approx(1.698644, abs=1e-6) == 2 / FWHM_PER_RADIUS
    # The definition itself: half of the peak at half the FWHM.
    assert math.exp(-2 * (FWHM_PER_RADIUS / 2) ** 2) == pytest.approx(0.5)


def test_d4sigma_is_four_standard_deviations_of_each_profile():
    def sigma(profile, reach):
        total = quad(profile, -reach, reach)[0]
        return math.sqrt(quad(lambda y: y * y * profile(y), -reach, reach)[0] / total)

    assert 4 * sigma(lambda y: math.exp(-2 * (y / 0.06) ** 2), 0.6) == pytest.approx(0.12)
    assert 4 * sigma(lambda y: 1.0, 0.1) == pytest.approx(0.2 * D4SIGMA_PER_SIDE)
    assert pytest.approx(0.230940, abs=1e-6) == 0.2 * D4SIGMA_PER_SIDE
    assert side_mm(0.230940, "d4sigma") == pytest.approx(0.2, abs=1e-6)
    assert radius_mm(0.12, "d4sigma") == 0.06


def test_the_rayleigh_range_and_ten_per_cent_growth_of_a_blue_diode():
    rayleigh = rayleigh_range_mm(0.06, wavelength_nm=450, m2=5)
    assert rayleigh == pytest.approx(5.0265, abs=1e-3)
    off = height_tolerance_mm(rayleigh, 0.10)
    assert off == pytest.approx(2.3034, abs=1e-3)
    # w = w0 sqrt(1 + (z / zR)^2).
    assert 0.06 * math.hypot(1.0, off / rayleigh) == pytest.approx(0.066)


# 5 % -> 0.320, 10 % -> 0.458, 20 % -> 0.663 Rayleigh ranges: roots of sqrt(1 + x^2) = 1 + e.
@pytest.mark.parametrize(("growth", "ranges"), [(0.05, 0.320), (0.10, 0.458), (0.20, 0.663)])
def test_height_tolerances_in_rayleigh_ranges(growth, ranges):
    assert height_tolerance_mm(1.0, growth) == pytest.approx(ranges, abs=5e-4)
    root = brentq(lambda x: math.sqrt(1 + x * x) - 1 - growth, 0, 2)
    assert height_tolerance_mm(1.0, growth) == pytest.approx(root)


@pytest.mark.parametrize(
    ("ratio", "mark"), [(3, 0.0889382), (2, 0.06 * 1.177410), (math.sqrt(math.e), 0.06)]
)
def test_the_mark_is_where_the_dose_crosses_its_threshold(ratio, mark):
    assert mark_width_mm(0.06, ratio) == pytest.approx(mark, abs=1e-7)
    edge = brentq(lambda y: ratio * math.exp(-2 * (y / 0.06) ** 2) - 1, 0, 0.3)
    assert mark_width_mm(0.06, ratio) == pytest.approx(2 * edge)


@pytest.mark.parametrize("ratio", [0.9, 1.0])
def test_at_or_under_the_threshold_nothing_is_cleared(ratio):
    assert mark_width_mm(0.06, ratio) == 0.0
    assert GaussianSpot(radius_mm=(0.06, 0.06)).mark_across_mm(30, ratio) == 0.0
    assert UniformSpot(side_mm=(0.2, 0.08)).mark_across_mm(30, ratio) == 0.0


@pytest.mark.parametrize(
    ("ratio", "radii"),
    [(1.25, -0.421), (1.5, -0.215), (2, 0.0), (3, 0.215), (5, 0.420811)],
)
def test_a_gated_line_ends_where_its_integral_crosses_the_threshold(ratio, radii):
    assert gated_end_mm(1.0, ratio) == pytest.approx(radii, abs=1e-3 if ratio != 5 else 1e-6)
    assert gated_end_mm(1.0, ratio) == pytest.approx(erfinv(1 - 2 / ratio) / math.sqrt(2))
    # The beam moves from far left and is switched off at 0: dose at x by integration.

    def dose(x):
        at = quad(lambda u: math.exp(-2 * (x - u) ** 2), -8, 0)[0]
        return ratio * at / math.sqrt(math.pi / 2)

    assert brentq(lambda x: dose(x) - 1, -2, 2) == pytest.approx(gated_end_mm(1.0, ratio), abs=1e-8)
    assert dose(0.3) == pytest.approx(ratio * 0.5 * (1 + erf(-math.sqrt(2) * 0.3)))


@pytest.mark.parametrize(("passes", "factor"), [(2, 0.8706), (4, 0.757858), (10, 0.6310)])
def test_the_incubation_law_at_an_exponent_of_0_8(passes, factor):
    assert incubation_factor(passes, 0.8) == pytest.approx(factor, abs=5e-5)
    assert ratio_after_passes(2.0, passes, 0.8) == pytest.approx(2 / factor, rel=1e-4)


def test_passes_at_the_ends_of_the_exponents_range():
    assert ratio_after_passes(1.5, 4, 1.0) == 1.5
    assert ratio_after_passes(1.5, 4, 0.0) == 6.0


def test_speeds_at_twice_a_threshold_line_dose_of_0_020_joules_per_millimetre():
    threshold = Threshold(line_dose_j_per_mm=0.020)
    assert threshold.speed_mm_s(1.65, 2) == pytest.approx(41.25)
    assert threshold.speed_mm_s(5.5, 2) == pytest.approx(137.5)
    assert threshold.dose_ratio(5.5, 137.5) == pytest.approx(2)
    assert threshold.dose_ratio(5.5, 68.75, duty=0.5) == pytest.approx(2)


def test_the_trapezoid_of_a_slanted_rectangle():
    full, plateau = UniformSpot(side_mm=(0.2, 0.08)).trapezoid_mm(30)
    assert full == pytest.approx(0.169282, abs=1e-6)
    assert plateau == pytest.approx(0.030718, abs=1e-6)


@pytest.mark.parametrize(
    ("angle", "expected"), [(0, 0.05), (30, 0.073993), (45, 0.0919239), (90, 0.12)]
)
def test_the_radius_across_a_slanted_line_is_that_of_the_projected_ellipse(angle, expected):
    spot = GaussianSpot(radius_mm=(0.12, 0.05))
    assert spot.radius_across_mm(angle) == pytest.approx(expected, abs=1e-6)
    # Variances of a projection add: w = 2 sigma.
    t = math.radians(angle)
    variance = (0.06 * math.sin(t)) ** 2 + (0.025 * math.cos(t)) ** 2
    assert spot.radius_across_mm(angle) == pytest.approx(2 * math.sqrt(variance))


SPOTS = [GaussianSpot(radius_mm=(0.12, 0.05)), UniformSpot(side_mm=(0.2, 0.08))]


@pytest.mark.parametrize("angle", [0, 20, 45, 90, 130])
@pytest.mark.parametrize("spot", SPOTS, ids=["gaussian", "uniform"])
def test_profiles_across_the_track_agree_with_a_spot_integrated_along_it(spot, angle):
    """Points drawn evenly over the spot, weighted by its power, projected across the track."""
    n = 1200
    if isinstance(spot, GaussianSpot):
        u = np.linspace(-2.5, 2.5, n)
        x, y = np.meshgrid(u * spot.radius_mm[0], u * spot.radius_mm[1])
        weight = np.exp(-2 * (u[:, None] ** 2 + u**2))
    else:
        u = (np.arange(n) + 0.5) / n - 0.5
        x, y = np.meshgrid(u * spot.side_mm[0], u * spot.side_mm[1])
        weight = np.ones_like(x)
    t = math.radians(angle)
    across = y * math.cos(t) - x * math.sin(t)
    edges = np.linspace(-0.2, 0.2, 41)
    counted, _ = np.histogram(across, bins=edges, weights=weight / weight.sum())
    fine = np.linspace(edges[:-1], edges[1:], 401)
    expected = profile_per_mm(spot, (fine[1:] + fine[:-1]) / 2, angle).mean(axis=0) * 0.01
    assert np.abs(counted - expected).max() < 2e-3
    assert expected.sum() == pytest.approx(1.0, abs=2e-3)


@pytest.mark.parametrize("pitch", [0.03, 0.1])
@pytest.mark.parametrize("angle", [0, 30])
@pytest.mark.parametrize("spot", SPOTS, ids=["gaussian", "uniform"])
def test_the_mean_dose_of_a_fill_is_power_over_speed_and_pitch_whatever_the_spot(
    spot, angle, pitch
):
    at = (np.arange(4000) + 0.5) / 4000 * pitch
    lines = pitch * np.arange(-40, 41)
    dose = 1.65 / 50 * profile_per_mm(spot, at[:, None] - lines, angle).sum(axis=1)
    assert dose.mean() == pytest.approx(1.65 / (50 * pitch), rel=1e-3)
    if pitch == 0.1:
        assert dose.mean() == pytest.approx(0.33, rel=1e-3)


def test_the_fastest_dose_ratio_maximises_the_area_rate():
    assert pytest.approx(1.648721, abs=1e-5) == FASTEST_DOSE_RATIO
    ratios = np.linspace(1.01, 6, 5000)
    rate = np.array([mark_width_mm(1.0, r) / r for r in ratios])
    assert ratios[rate.argmax()] == pytest.approx(FASTEST_DOSE_RATIO, abs=2e-3)
    best = mark_width_mm(1.0, FASTEST_DOSE_RATIO) / FASTEST_DOSE_RATIO
    shares = {1.1: 0.654, 1.25: 0.881, 1.5: 0.990, 2: 0.971, 3: 0.815, 5: 0.592}
    for ratio, share in shares.items():
        assert mark_width_mm(1.0, ratio) / ratio / best == pytest.approx(share, abs=5e-4)


def test_the_least_energy_of_lines_and_of_square_dots():
    """Over the threshold dose: lines at p = D, dots whose marks just cover a square grid."""
    ratios = np.exp(np.linspace(0.02, 2, 4000))
    lines = [r * math.sqrt(math.pi / 2) / mark_width_mm(1.0, r) for r in ratios]
    assert min(lines) == pytest.approx(2.066366, abs=1e-6)
    dots = [r * math.pi / 2 / (mark_width_mm(1.0, r) ** 2 / 2) for r in ratios]
    assert min(dots) == pytest.approx(4.269867, abs=1e-5)
    assert ratios[int(np.argmin(dots))] == pytest.approx(math.e, rel=1e-3)
    # Dots 0.25 mm apart of several radii.
    for radius, ratio in ((0.10, 518), (0.125, 54.6), (0.15, 16.1), (0.20, 4.77)):
        assert mark_width_mm(radius, ratio) == pytest.approx(math.sqrt(2) * 0.25, rel=1e-3)
