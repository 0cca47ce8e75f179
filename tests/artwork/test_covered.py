"""Shares of pixels against areas of intersections."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from effort import tries
from stopout.artwork.regions import covered as shares
from stopout.artwork.regions.covered import covered

COLUMNS, ROWS = 9, 7
LOW = np.stack(np.meshgrid(np.arange(COLUMNS), np.arange(ROWS)))
CELLS = shapely.box(*LOW, *(LOW + 1))
PLACE = st.floats(-3.0, 11.0)


@st.composite
def regions(draw):
    """Discs with holes, over the picture's edge too; some on whole and half pixels."""
    discs = [
        shapely.Point(*draw(st.tuples(PLACE, PLACE))).buffer(
            draw(st.floats(0.05, 5.0)), draw(st.integers(1, 8))
        )
        for _ in range(draw(st.integers(2, 5)))
    ]
    region = shapely.difference(shapely.union_all(discs[:-1]), discs[-1])
    return shapely.set_precision(region, 0.5) if draw(st.booleans()) else region


@settings(max_examples=tries(60), derandomize=True)
@given(regions(), st.integers(3, 200))
def test_shares_are_the_areas_within_each_pixel(region, at_once):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(shares, "_MOST_EDGES", at_once)
        got = covered(region, (COLUMNS, ROWS))
    np.testing.assert_allclose(got, shapely.area(shapely.intersection(CELLS, region)), atol=1e-9)


def test_a_ring_that_touches_itself_and_lines_are_no_trouble():
    # A hole whose two loops meet in a point; the corner by which turns are told is that point.
    hole = [(4, 1), (2, 3), (4, 3), (4, 1), (6, 3), (4, 3.5), (2, 4), (1, 2)]
    whole = shapely.Polygon([(0, 0), (9, 0), (9, 7), (0, 7)], [hole])
    line = shapely.LineString([(0, 0), (9, 7)])
    got = covered(shapely.GeometryCollection([whole, line]), (COLUMNS, ROWS))
    assert got.sum() == pytest.approx(63 - abs(shapely.Polygon(hole).area))
    assert not covered(line, (COLUMNS, ROWS)).any()
