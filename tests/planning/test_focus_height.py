"""The height that keeps the mark within 5 %, solved here from ISO 11146 and Liu's law."""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq
from shapely import box

from jobmaker import mark, plan
from stopout.planning.beam import focus_for


@pytest.mark.parametrize(("wavelength_nm", "m2"), [(450.0, 15.0), (10600.0, 1.3)])
def test_the_height_tolerance_is_where_the_mark_has_changed_by_5_percent(wavelength_nm, m2):
    made = plan(
        box(2, 2, 8, 7),
        machine={"wavelength_nm": wavelength_nm, "spot_mm": (0.17, 0.12), "spot_means": "1/e2"},
        clearing={"mark_mm": mark(0.10, 0.07)},
    )
    w = (0.085, 0.06)
    ratio = max(math.exp((d / radius) ** 2 / 2) for d, radius in zip((0.10, 0.07), w, strict=True))

    def change(g):
        return g * math.sqrt(math.log(ratio / g) / math.log(ratio)) - 0.95

    growth = brentq(change, ratio / math.sqrt(math.e), ratio * (1 - 1e-9))
    rayleigh = math.pi * w[1] ** 2 / (m2 * wavelength_nm * 1e-6)
    expected = rayleigh * math.sqrt(growth**2 - 1)
    assert focus_for(made.coats[0].coat, made.job).tolerance_mm == pytest.approx(expected, rel=1e-6)
    stated = next(value for value in made.values if value.name == "height tolerance")
    assert stated.value == f"{expected:.2g} mm either way"
    assert stated.grade == "D"
