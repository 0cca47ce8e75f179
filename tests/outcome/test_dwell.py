"""What dwells of the beam clear, against the closed form of a Gaussian beam's threshold.

J. M. Liu, Opt. Lett. 7 (1982) 196 (from memory): D^2 = 2 w^2 ln(E / E_th), D the cleared diameter
and w the 1/e^2 radius. Worked by hand: E = e^2 E_th clears 2 w across, E = sqrt(e) E_th clears w,
E_th nothing.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from stopout.outcome import dwelt

RADIUS, THRESHOLD_S = (0.1, 0.06), 0.3


def cleared(*times_the_threshold, at=None):
    energy = THRESHOLD_S * np.array(times_the_threshold)
    place = np.array([[1.0, 2.0]] * len(energy)) if at is None else np.array(at)
    return dwelt(place, energy, radius_mm=RADIUS, threshold_s=THRESHOLD_S)


@pytest.mark.parametrize(
    ("times", "of_the_radius"),
    [(math.exp(2.0), 1.0), (math.exp(0.5), 0.5), (math.exp(8.0), 2.0), (math.exp(0.02), 0.1)],
)
def test_a_dwell_clears_an_ellipse_as_large_as_its_energy_makes_it(times, of_the_radius):
    x, y = of_the_radius * RADIUS[0], of_the_radius * RADIUS[1]
    opening = cleared(times)
    assert opening.bounds == pytest.approx((1 - x, 2 - y, 1 + x, 2 + y), abs=1e-9)
    # Its chords take off less than a tenth of a per cent.
    assert opening.area == pytest.approx(math.pi * x * y, rel=1e-3)


@pytest.mark.parametrize("times", [0.0, 0.5, 1.0])
def test_what_only_reaches_the_threshold_clears_nothing(times):
    assert cleared(times).is_empty


def test_each_dwell_has_its_own_energy_and_those_that_meet_are_one():
    strong, weak = math.exp(2.0), math.exp(0.5)
    apart = cleared(strong, weak, 0.9, at=[(1, 2), (3, 2), (5, 2)])
    wide = sorted(part.bounds[2] - part.bounds[0] for part in apart.geoms)
    assert wide == pytest.approx([0.1, 0.2])
    assert len(cleared(strong, strong, at=[(1, 2), (1.15, 2)]).geoms) == 1
