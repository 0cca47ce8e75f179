"""Sums of parallel lines, their ripple, valleys and scallops, against closed forms.

The comb of Gaussian lines has two forms by Poisson's summation formula (any text on Fourier
series); each is the other's check. Scallops are plane geometry, checked by brute force. The fits of
threshold and radius use J. M. Liu's regression, Opt. Lett. 7 (1982) 196 (from memory), on made
data.
"""

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from shapely import Point, union_all
from shapely.geometry import LineString, box

from stopout.clearing.beam.spacing import (
    RIPPLE_PITCH,
    accumulated_dose,
    gated_scallop_mm,
    mean_dose_ratio,
    ripple,
    scallop_mm,
    valley_dose_ratio,
    widest_spacing_mm,
)
from stopout.clearing.beam.spot import FWHM_PER_RADIUS, dose_ratio_of, mark_width_mm


def theta(s, y):
    """Poisson's other side: sqrt(pi/2)/s (1 + 2 sum q^(k^2) cos(2 pi k y / s)), w = 1."""
    q = math.exp(-(math.pi**2) / (2 * s * s))
    series = sum(q ** (k * k) * math.cos(2 * math.pi * k * y / s) for k in range(1, 40))
    return math.sqrt(math.pi / 2) / s * (1 + 2 * series)


@pytest.mark.parametrize("s", [0.5, 0.8, 1.0, 1.4, 2.0, 2.5])
def test_the_direct_sum_of_lines_agrees_with_its_fourier_series(s):
    at = np.linspace(0, s, 21)
    summed = accumulated_dose(at, spacing_mm=s, radius_across_mm=1.0, exponent=0.0)
    assert summed == pytest.approx([theta(s, y) for y in at], rel=1e-11)
    assert summed[:-1].mean() == pytest.approx(mean_dose_ratio(s, 1.0, 1.0), rel=1e-9)


@pytest.mark.parametrize(
    ("s", "peak", "valley"),
    [(1.0, 1.271342, 1.235287), (1.5, 1.0222, 0.649385), (2.0, 1.0007, 0.2707)],
)
def test_peaks_and_valleys_of_summed_lines(s, peak, valley):
    at = np.array([0.0, s / 2])
    got = accumulated_dose(at, spacing_mm=s, radius_across_mm=1.0, exponent=0.0)
    assert got == pytest.approx([peak, valley], abs=5e-5)
    if s == 1.0:
        assert got == pytest.approx([1.271342, 1.235287], abs=1e-6)
    assert valley_dose_ratio(s, 1.0, 1.0, exponent=0.0) == pytest.approx(got[1])


@pytest.mark.parametrize(
    ("s", "expected"),
    [(1.0, 0.0143838), (1.4, 0.1612807), (FWHM_PER_RADIUS, 0.0568943)],
)
def test_the_ripple_is_the_first_harmonic(s, expected):
    assert ripple(s, 1.0) == pytest.approx(expected, abs=1e-7)
    at = np.linspace(0, s, 2001)
    dose = accumulated_dose(at, spacing_mm=s, radius_across_mm=1.0, exponent=0.0)
    assert (dose.max() - dose.min()) / (2 * dose.mean()) == pytest.approx(expected, rel=5e-4)


# p/w = pi / sqrt(2 ln(2 / A)) for a ripple A.
@pytest.mark.parametrize(
    ("amplitude", "s"), [(0.01, 0.9651), (0.02, 1.0352), (0.05, 1.156612), (0.10, 1.2835)]
)
def test_the_pitch_of_a_chosen_ripple(amplitude, s):
    assert ripple(s, 1.0) == pytest.approx(amplitude, rel=1e-3)
    assert pytest.approx(1.156612, abs=1e-6) == RIPPLE_PITCH


def test_a_second_pass_shifted_by_half_a_spacing_raises_q_to_the_fourth_power():
    assert ripple(1.4, 1.0) == pytest.approx(0.161, abs=5e-4)
    assert ripple(0.7, 1.0) == pytest.approx(0.000085, abs=1e-6)
    assert ripple(0.7, 1.0) / 2 == pytest.approx((ripple(1.4, 1.0) / 2) ** 4)


RATIOS = [1.1, 1.25, 1.5, 2, 3, 5]
WIDEST = {
    1.0: [0.4366, 0.6680, 0.9005, 1.1774, 1.4823, 1.7941],
    0.9: [0.5738, 0.7648, 0.9745, 1.2349, 1.5284, 1.8323],
    0.8: [0.6840, 0.8506, 1.0432, 1.2898, 1.5730, 1.8698],
    0.0: [1.2572, 1.3542, 1.4824, 1.6651, 1.8930, 2.1460],
}


@pytest.mark.parametrize("exponent", sorted(WIDEST))
def test_the_widest_pitch_that_leaves_no_thread(exponent):
    for ratio, expected in zip(RATIOS, WIDEST[exponent], strict=True):
        got = widest_spacing_mm(1.0, ratio, exponent=exponent)
        assert got == pytest.approx(expected, abs=1e-4)
        assert valley_dose_ratio(got, 1.0, ratio, exponent=exponent) == pytest.approx(1, abs=1e-9)
        if exponent == 0.0:
            # The sum's other form, solved by SciPy.
            root = brentq(lambda s, r=ratio: r * theta(s, s / 2) - 1, 0.5, 3)
            assert got == pytest.approx(root)
        else:
            # Two neighbours that amount to N^(1 - S) of one, N = 2.
            assert got == pytest.approx(
                math.sqrt(2 * math.log(ratio * 2 ** (1 - exponent))), abs=1e-4
            )


@pytest.mark.parametrize(("ratio", "mean"), [(1.1, 3.158), (2, 2.129), (5, 3.493)])
def test_the_mean_dose_where_lines_just_touch(ratio, mean):
    assert mean_dose_ratio(mark_width_mm(1.0, ratio), 1.0, ratio) == pytest.approx(mean, abs=5e-4)


def test_where_lines_touch_the_added_dose_of_the_valley_is_twice_the_threshold():
    for ratio, valley in ((1.1, 3.158), (2, 2.008)):
        got = valley_dose_ratio(mark_width_mm(1.0, ratio), 1.0, ratio, exponent=0.0)
        assert got == pytest.approx(valley, abs=6e-4)


def swept_scallop(p, radius, angle_deg):
    """Depth of the scallops of round-ended lines along an edge, by a union of capsules."""
    t = math.radians(angle_deg)
    normal = np.array([math.sin(t), -math.cos(t)])
    capsules = []
    for k in range(-12, 13):
        end_y = k * p
        # Each line's cap just touches the edge through the origin, which runs at the angle.
        end_x = (-radius - normal[1] * end_y) / normal[0]
        capsules.append(LineString([(end_x - 40, end_y), (end_x, end_y)]).buffer(radius, 256))
    uncovered = box(-3, -3, 3, 3).difference(union_all(capsules))
    # The deepest point not cleared, within the middle scallops.
    along = np.array([math.cos(t), math.sin(t)])
    points = np.array(
        [xy for part in getattr(uncovered, "geoms", [uncovered]) for xy in part.exterior.coords]
    )
    depth = -(points @ normal)
    near = (np.abs(points @ along) < 1.01 * p / math.sin(t)) & (depth < 2 * radius)
    return float(depth[near].max())


@pytest.mark.parametrize(
    ("angle", "expected"),
    [(90, 0.0191), (60, 0.0271), (45, 0.04268), (30, 0.0613), (15, 0.08085), (5, 0.0937)],
)
def test_scallops_agree_with_swept_capsules(angle, expected):
    assert scallop_mm(0.10, 0.075, angle) == pytest.approx(expected, abs=1e-4)
    assert scallop_mm(0.10, 0.075, 180 - angle) == pytest.approx(expected, abs=1e-4)
    if angle >= 15:
        assert swept_scallop(0.10, 0.075, angle) == pytest.approx(expected, rel=5e-3)


def test_scallops_of_an_edge_across_along_and_beyond_the_lines():
    assert scallop_mm(0.10, 0.06) == pytest.approx(0.026834, abs=1e-5)
    assert scallop_mm(0.10, 0.06, 0) == pytest.approx(0.10)
    assert scallop_mm(0.10, 0.05) == pytest.approx(0.05)
    assert scallop_mm(0.13, 0.06) == math.inf
    # Point geometry: the meeting of two circles.
    meet = (
        Point(0, 0)
        .buffer(0.06, 4096)
        .boundary.intersection(Point(0, 0.10).buffer(0.06, 4096).boundary)
    )
    assert max(p.x for p in meet.geoms) == pytest.approx(0.06 - 0.026834, abs=1e-5)


@pytest.mark.parametrize(
    ("ratio", "s", "expected"), [(2, 1.0, 0.466), (2, 0.8, 0.246), (5, 1.0, 0.201)]
)
def test_gated_ends_are_scalloped_as_the_contour_of_their_dose(ratio, s, expected):
    assert gated_scallop_mm(s, 1.0, ratio) == pytest.approx(expected, abs=1e-3)
    from scipy.special import erf

    def contour(y):
        line = ratio * math.exp(-2 * y * y)
        return brentq(lambda x: line * 0.5 * (1 + erf(-math.sqrt(2) * x)) - 1, -6, 6)

    assert contour(0) - contour(s / 2) == pytest.approx(gated_scallop_mm(s, 1.0, ratio), abs=1e-9)


def test_dots_to_the_inch():
    assert pytest.approx(101.6, abs=1e-9) == 25.4 / 0.25
    assert pytest.approx(203.2, abs=1e-9) == 25.4 / 0.125


# Made data: w = 0.060 mm, threshold 0.020 J/mm.
LINE_DOSES = [0.022, 0.026, 0.032, 0.040, 0.050, 0.064, 0.080, 0.100]
MARKS = [0.026196, 0.043463, 0.058172, 0.070645, 0.081224, 0.091513, 0.099907, 0.107647]


def test_the_line_law_is_a_straight_line_in_liu_s_coordinates():
    for dose, mark in zip(LINE_DOSES, MARKS, strict=True):
        assert mark_width_mm(0.060, dose / 0.020) == pytest.approx(mark, abs=1e-6)
        assert dose_ratio_of(mark, 0.060) == pytest.approx(dose / 0.020, rel=1e-4)
    exact = [mark_width_mm(0.060, dose / 0.020) for dose in LINE_DOSES]
    for marks, tolerance in ((exact, 1e-9), (MARKS, 1e-6)):
        slope, offset = np.polyfit(np.log(LINE_DOSES), np.square(marks), 1)
        assert math.sqrt(slope / 2) == pytest.approx(0.060, abs=tolerance)
        assert math.exp(-offset / slope) == pytest.approx(0.020, abs=tolerance)


def test_the_same_fit_of_marks_read_to_five_micrometres():
    read = [0.025, 0.045, 0.060, 0.070, 0.080, 0.090, 0.100, 0.110]
    slope, offset = np.polyfit(np.log(LINE_DOSES), np.square(read), 1)
    assert math.sqrt(slope / 2) == pytest.approx(0.060416, abs=1e-6)
    assert math.exp(-offset / slope) == pytest.approx(0.020138, abs=1e-6)
