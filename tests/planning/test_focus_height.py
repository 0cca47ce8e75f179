"""The height that keeps the mark within 5 %, solved by ISO 11146 and Liu's law (from memory)."""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq
from shapely import box

from jobmaker import mark, plan
from stopout.planning.measures.beam import focus_for


def height(w, mark_mm, wavelength_nm, m2):
    """How far off focus an axis of this mark has changed by 5 %: narrower, or wider before that."""
    ratio = math.exp((mark_mm / w) ** 2 / 2)

    def mark_at(g):
        return g * math.sqrt(math.log(ratio / g) / math.log(ratio))

    top = max(1.0, ratio / math.sqrt(math.e))
    if mark_at(top) > 1.05:
        growth = brentq(lambda g: mark_at(g) - 1.05, 1.0, top)
    else:
        growth = brentq(lambda g: mark_at(g) - 0.95, top, ratio * (1 - 1e-9))
    return math.pi * w**2 / (m2 * wavelength_nm * 1e-6) * math.sqrt(growth**2 - 1)


@pytest.mark.parametrize(("wavelength_nm", "m2"), [(450.0, 15.0), (10600.0, 1.3)])
def test_the_height_tolerance_is_where_the_mark_has_changed_by_5_percent(wavelength_nm, m2):
    made = plan(
        box(2, 2, 8, 7),
        machine={"wavelength_nm": wavelength_nm, "spot_mm": (0.17, 0.12), "spot_means": "1/e2"},
        clearing={"mark_mm": mark(0.10, 0.087)},
    )
    expected = min(
        height(radius, d, wavelength_nm, m2) for radius, d in ((0.085, 0.10), (0.06, 0.087))
    )
    assert focus_for(made.coats[0].coat, made.job).tolerance_mm == pytest.approx(expected, rel=1e-6)
    stated = next(value for value in made.values if value.name == "height tolerance")
    assert stated.value == f"{expected:.2g} mm either way"
    assert stated.grade == "D"
