"""The look through a clear sheet, against Snell's and Fresnel's laws worked apart."""

from __future__ import annotations

import pytest

from stopout.planning.measures.optics import (
    apparent_depth_mm,
    oblique_offset_mm,
)

# Acrylic, n = 1.49; the values worked by hand from Snell's and Fresnel's laws (our facts sheet,
# rows 39 to 41 of its check values, and its section on parallax), tolerance: the last digit.
N = 1.49


def test_three_mm_of_acrylic_look_2_013_mm_deep():
    assert apparent_depth_mm(3.0, N) == pytest.approx(2.013, abs=0.001)


@pytest.mark.parametrize(("view_deg", "offset_mm"), [(30, 1.07), (45, 1.617), (60, 2.14)])
def test_a_slanting_view_shifts_the_back_by_the_refracted_offset(view_deg, offset_mm):
    tolerance = 0.001 if view_deg == 45 else 0.005
    found = oblique_offset_mm(3.0, N, view_deg=view_deg)
    assert found == pytest.approx(offset_mm, abs=tolerance)


@pytest.mark.parametrize(("view_deg", "offset_mm"), [(30, 1.73), (45, 3.00), (60, 5.20)])
def test_without_refraction_the_offset_is_that_of_a_straight_line(view_deg, offset_mm):
    found = oblique_offset_mm(3.0, 1.0, view_deg=view_deg)
    assert found == pytest.approx(offset_mm, abs=0.005)


def test_a_grazing_view_inside_reaches_the_critical_angle():
    # Snell's law: a ray from 90 degrees outside runs at the critical angle inside.
    grazing = oblique_offset_mm(1.0, N, view_deg=89.999)
    assert grazing == pytest.approx(0.9053, abs=0.0005)  # tan 42.155 degrees


@pytest.mark.parametrize("index", [0.5, float("nan")])
def test_an_index_below_that_of_air_is_refused(index):
    with pytest.raises(ValueError, match="1 or more"):
        apparent_depth_mm(3.0, index)


@pytest.mark.parametrize("view_deg", [-1.0, 90.0])
def test_a_view_along_the_face_is_refused(view_deg):
    with pytest.raises(ValueError, match="less than 90 deg"):
        oblique_offset_mm(3.0, N, view_deg=view_deg)
