"""Stacked rows cover exactly what their rectangles cover one by one."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box

from effort import tries
from stopout.outcome.bands import bands

RADIUS = 0.035


def covered(lines):
    polygons = [Polygon(corners) for corners in bands(np.array(lines, dtype=float), RADIUS)]
    assert all(polygon.is_valid for polygon in polygons)
    assert all(polygon.exterior.is_ccw for polygon in polygons)
    return polygons


def one_by_one(lines):
    r = RADIUS
    level = [box(x0, y0 - r, x1, y1 + r) for x0, y0, x1, y1 in lines if y0 == y1]
    upright = [box(x0 - r, y0, x1 + r, y1) for x0, y0, x1, y1 in lines if y0 != y1]
    return shapely.union_all([*level, *upright])


def test_rows_of_one_opening_become_one_polygon():
    rows = [(0.1 * (k % 3), 0.05 * k, 3 + 0.2 * (k % 2), 0.05 * k) for k in range(40)]
    (stack,) = covered(rows)
    assert stack.symmetric_difference(one_by_one(rows)).area < 1e-12


def test_rows_part_where_an_opening_forks():
    rows = [(0, 0, 3, 0), (0, 0.05, 1, 0.05), (2, 0.05, 3, 0.05), (0, 0.1, 3, 0.1)]
    found = covered(rows)
    assert len(found) == 4
    assert shapely.union_all(found).symmetric_difference(one_by_one(rows)).area < 1e-12


def test_a_slanted_line_becomes_a_rectangle_of_the_disc_s_width():
    (band,) = covered([(0, 0, 3, 4)])
    assert band.area == pytest.approx(5 * 2 * RADIUS)


row = st.tuples(st.integers(0, 12), st.integers(1, 8), st.integers(0, 20))
spacings = st.sampled_from([0.05, 0.04, 0.036, 0.07, 0.03, 0.0699])


@settings(max_examples=tries(150), deadline=None)
@given(st.lists(row, min_size=1, max_size=25), spacings, st.booleans())
def test_any_rows_and_columns_cover_what_they_cover_one_by_one(rows, spacing, upright):
    lines = [(0.1 * x, spacing * k, 0.1 * (x + n), spacing * k) for x, n, k in rows]
    if upright:
        lines = [(y0, x0, y1, x1) for x0, y0, x1, y1 in lines]
    found = shapely.union_all(covered(lines))
    assert found.symmetric_difference(one_by_one(lines)).area < 1e-12
