"""Fill lines: nothing left uncleared, nothing outside, judged by a brute-force raster."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, Polygon, box

from clearing.winch_rows import fill_rows
from planning.plain_reading import cleared_raster
from shapes import ALL, random_polygon
from stopout.clearing.filling.fill import scan_rows

MARKS = [(0.10, 0.10), (0.10, 0.07), (0.06, 0.12)]
SHAPES = {name: ALL[name] for name in ("disc", "ring", "rectangle", "slot", "neck", "glyph")}


def segments_of(rows, along):
    """Beam-on segments of rows, (n, 4)."""
    found = []
    for row in rows:
        for start, end in row.spans_mm:
            a, b = (start, row.height_mm), (end, row.height_mm)
            found.append((*a, *b) if along == "x" else (*a[::-1], *b[::-1]))
    return np.array(found, dtype=float).reshape(-1, 4)


def outline_segments(region):
    rings = shapely.get_rings(shapely.get_parts(region))
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    return np.hstack([xy[:-1][same], xy[1:][same]])


def rows_of(region, *, mark=(0.1, 0.1), along="x", bridge_mm=0.0, spacing=None):
    across = mark[1] if along == "x" else mark[0]
    spacing = 0.85 * across if spacing is None else spacing
    return fill_rows(region, mark_mm=mark, spacing_mm=spacing, along=along, bridge_mm=bridge_mm)


def threads(region, rows, *, mark, along):
    """Pixels of 5 um inside the area of beam centres that neither fill nor outline clears."""
    segments = np.vstack([segments_of(rows, along), outline_segments(region)])
    x0, y0, x1, y1 = region.bounds
    done, at = cleared_raster(segments, mark, (x0, y0), (x1, y1))
    inside = shapely.contains_xy(region, at[..., 0], at[..., 1])
    assert inside.any()
    return int((inside & ~done).sum())


@pytest.mark.parametrize("along", ["x", "y"])
@pytest.mark.parametrize("mark", MARKS)
@pytest.mark.parametrize("name", sorted(SHAPES))
def test_fill_and_outline_leave_no_threads(name, mark, along):
    rows = rows_of(SHAPES[name], mark=mark, along=along)
    assert threads(SHAPES[name], rows, mark=mark, along=along) == 0


@pytest.mark.parametrize("seed", range(8))
def test_no_threads_are_left_in_any_polygon_with_a_hole(seed):
    region = random_polygon(np.random.default_rng(seed), size=2.5)
    mark, along = MARKS[seed % 3], "xy"[seed % 2]
    rows = rows_of(region, mark=mark, along=along)
    assert threads(region, rows, mark=mark, along=along) == 0


@pytest.mark.parametrize("spacing", [0.03, 0.05, 0.0625, 0.0875, 0.099])
def test_no_threads_are_left_at_any_spacing_under_the_mark(spacing):
    region = Point(2, 2).buffer(1.3, quad_segs=64).difference(box(1.4, 1.8, 2.2, 2.3))
    rows = rows_of(region, spacing=spacing)
    assert threads(region, rows, mark=(0.1, 0.1), along="x") == 0


@pytest.mark.parametrize("along", ["x", "y"])
@pytest.mark.parametrize("mark", MARKS)
@pytest.mark.parametrize("name", sorted(SHAPES))
def test_no_fill_line_leaves_the_area_of_beam_centres(name, mark, along):
    """Half a micrometre is what the arcs' chords may add."""
    region = SHAPES[name].buffer(0.0005)
    shapely.prepare(region)
    for x0, y0, x1, y1 in segments_of(rows_of(SHAPES[name], mark=mark, along=along), along):
        assert region.covers(LineString([(x0, y0), (x1, y1)]))


@pytest.mark.parametrize("along", ["x", "y"])
def test_lines_lie_one_spacing_apart_and_rise(along):
    region = SHAPES["rectangle"]
    rows = rows_of(region, along=along, spacing=0.075)
    heights = np.unique([row.height_mm for row in rows])
    assert np.diff(heights) == pytest.approx(np.full(len(heights) - 1, 0.075))
    assert [row.height_mm for row in rows] == sorted(row.height_mm for row in rows)
    # Lines are no more than a line's share from what the outline clears.
    low, high = (region.bounds[1], region.bounds[3]) if along == "x" else region.bounds[::2]
    assert heights[0] - low <= 0.05 + 0.075 / 2 + 0.001
    assert high - heights[-1] <= 0.05 + 0.075 / 2 + 0.001


@pytest.mark.parametrize("mark", MARKS)
@pytest.mark.parametrize("name", ["ring", "neck", "glyph"])
def test_lines_along_y_are_those_of_the_drawing_turned_over_its_diagonal(name, mark):
    turned = shapely.transform(SHAPES[name], lambda xy: xy[:, ::-1])
    level = rows_of(SHAPES[name], mark=mark, along="x", bridge_mm=0.3)
    upright = rows_of(turned, mark=mark[::-1], along="y", bridge_mm=0.3)
    assert len(level) == len(upright) > 0
    for one, other in zip(level, upright, strict=True):
        assert (one.index, one.height_mm) == (other.index, pytest.approx(other.height_mm))
        np.testing.assert_allclose(one.spans_mm, other.spans_mm, atol=1e-6)


def test_a_strip_that_its_outline_clears_gets_no_fill_lines():
    assert rows_of(box(0, 0, 4, 0.09)) == []
    assert rows_of(Polygon()) == []


def test_a_rectangle_is_filled_with_as_few_lines_as_the_spacing_allows():
    """By hand: of 3 mm, half a mark at each edge is the outline's; 2.9 / 0.075 = 38.7."""
    rows = rows_of(box(0, 0, 4, 3), spacing=0.075)
    assert len({row.index for row in rows}) == math.ceil(2.9 / 0.075)


def test_short_gaps_are_bridged_within_one_row_and_long_ones_part_it():
    pair = box(0, 0, 2, 1).union(box(2.4, 0, 4, 1))
    bridged = rows_of(pair, bridge_mm=1.0)
    parted = rows_of(pair, bridge_mm=0.2)
    assert {len(row.spans_mm) for row in bridged} == {2}
    assert {len(row.spans_mm) for row in parted} == {1}
    assert len(parted) == 2 * len(bridged)
    # Bridging changes nothing of what is cleared.
    one, other = segments_of(bridged, "x"), segments_of(parted, "x")
    assert np.array_equal(one[np.lexsort(one.T)], other[np.lexsort(other.T)])


@pytest.mark.parametrize("seed", range(5))
def test_scan_lines_agree_with_cutting_by_a_geometry_library(seed):
    """Independent: shapely intersects each line with the area."""
    region = random_polygon(np.random.default_rng(seed))
    first, spacing, n = region.bounds[1] + 0.011, 0.0737, 60
    index, start, end = scan_rows(region, first_mm=first, spacing_mm=spacing, n_rows=n)
    for k in range(n):
        y = first + k * spacing
        cut = region.intersection(LineString([(-100, y), (100, y)]))
        expected = sorted(part.bounds[::2] for part in shapely.get_parts(cut) if part.length > 0)
        found = list(zip(start[index == k], end[index == k], strict=True))
        assert found == [pytest.approx(span) for span in expected]
