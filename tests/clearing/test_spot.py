"""Spots across lines at any angle."""

import numpy as np
import pytest
from scipy.integrate import quad

from clearing.spot_profiles import profile_per_mm
from stopout.clearing.beam.spot import GaussianSpot, UniformSpot, width_across_mm

SPOTS = [GaussianSpot(radius_mm=(0.085, 0.06)), UniformSpot(side_mm=(0.2, 0.08))]


@pytest.mark.parametrize("angle", [0, 17, 45, 90, 135, 180, -30])
@pytest.mark.parametrize("spot", SPOTS, ids=["gaussian", "uniform"])
def test_a_profile_holds_the_whole_line_dose(spot, angle):
    corners = [-0.14, 0.14] if isinstance(spot, UniformSpot) else None
    total = quad(
        lambda y: float(profile_per_mm(spot, np.array(y), angle)),
        -0.5,
        0.5,
        points=corners,
        limit=400,
    )[0]
    assert total == pytest.approx(1.0, abs=2e-3)


@pytest.mark.parametrize("spot", SPOTS, ids=["gaussian", "uniform"])
def test_a_mark_ends_where_the_profile_falls_to_its_threshold(spot):
    for angle in (0, 30, 45, 90):
        peak = float(profile_per_mm(spot, np.array(0.0), angle))
        for ratio in (1.2, 2, 5):
            half = spot.mark_across_mm(angle, ratio) / 2
            inside, outside = profile_per_mm(spot, np.array([half * 0.999, half * 1.001]), angle)
            assert inside * ratio >= peak * 0.999 or inside == pytest.approx(peak / ratio, rel=0.02)
            assert outside * ratio < peak


def test_a_uniform_strip_along_its_side_clears_its_width_at_any_dose():
    spot = UniformSpot(side_mm=(0.2, 0.08))
    assert [spot.mark_across_mm(0, r) for r in (1.01, 2, 9)] == [0.08] * 3
    assert [spot.mark_across_mm(90, r) for r in (1.01, 2, 9)] == [0.2] * 3


def test_the_radius_along_is_the_radius_across_a_quarter_turn_on():
    spot = GaussianSpot(radius_mm=(0.085, 0.06))
    assert (spot.radius_across_mm(0), spot.radius_along_mm(0)) == (0.06, 0.085)
    assert (spot.radius_across_mm(90), spot.radius_along_mm(90)) == (0.085, 0.06)
    assert spot.radius_across_mm(45) == pytest.approx(
        width_across_mm((0.085, 0.06), (0.5**0.5, 0.5**0.5))
    )
