"""Local widths along the medial axis, against widths that follow from how shapes are drawn."""

import numpy as np
import pytest
from scipy.spatial import Voronoi
from shapely import Point, Polygon, box, union_all

from effort import tries
from stopout.mask import NO_WIDTHS, LocalWidths, local_widths, narrowest
from stopout.mask import triangles as triangulated
from stopout.mask.widthmap import voronoi_ridges

FACE = box(0, 0, 20, 10)


def median(widths):
    return widths.quantiles((0.5,))[0]


@pytest.mark.parametrize("width", [0.3, 0.8, 1.5])
def test_a_bar_has_its_own_width_along_its_axis(width):
    target, _ = local_widths(box(2, 3, 14, 3 + width), FACE)
    assert median(target) == pytest.approx(width, abs=1e-4)


def test_a_ring_has_its_band():
    ring = Point(8, 5).buffer(3, 128).difference(Point(8, 5).buffer(2.2, 128))
    target, _ = local_widths(ring, FACE)
    assert median(target) == pytest.approx(0.8, abs=1e-3)
    # Its axis is a circle half way between: 2 pi 2.6 mm.
    assert target.length_mm.sum() == pytest.approx(2 * np.pi * 2.6, rel=0.02)


def test_a_wedge_is_as_wide_everywhere_as_its_edges_are_apart():
    """Widths along the axis of a wedge: (0.2 + slope x) cos(half its angle)."""
    wedge = Polygon([(2, 4.9), (17, 4.75), (17, 5.25), (2, 5.1)])
    target, _ = local_widths(wedge, FACE)
    x = target.at_mm[:, 0] - 2
    inner = (x > 1) & (x < 14)
    assert inner.sum() > 100
    due = (0.2 + 0.02 * x) * np.cos(np.arctan(0.01))
    assert target.width_mm[inner] == pytest.approx(due[inner], abs=1e-4)


def test_the_land_between_two_fields_is_measured_too():
    pair = union_all([box(2, 2, 8, 8), box(8.6, 2, 14, 8)])
    _, land = local_widths(pair, FACE)
    between = (np.abs(land.at_mm[:, 0] - 8.3) < 0.1) & (np.abs(land.at_mm[:, 1] - 5) < 2)
    assert land.width_mm[between] == pytest.approx(0.6, rel=0.02)


def test_quantiles_count_lengths_of_axis():
    """A bar of 0.4 mm three times as long as one of 1.0 mm: three quarters are 0.4 wide."""
    pair = union_all([box(1, 1, 13, 1.4), box(1, 4, 5, 5)])
    target, _ = local_widths(pair, FACE)
    assert target.quantiles((0.3, 0.9)) == pytest.approx((0.4, 1.0), rel=0.02)


def test_quantiles_count_lengths_however_short():
    """Four fifths of half a millimetre are 2 mm wide."""
    widths = LocalWidths(
        at_mm=np.zeros((2, 2)), width_mm=np.array([1.0, 2]), length_mm=np.array([0.1, 0.4])
    )
    assert widths.quantiles((0.15, 0.3)) == (1, 2)


def test_all_of_the_axis_is_no_wider_than_its_widest_place_whatever_rounding_makes_of_the_sum():
    length = np.full(10, 0.1)
    assert np.cumsum(length)[-1] < length.sum()
    widths = LocalWidths(at_mm=np.zeros((10, 2)), width_mm=np.arange(10.0), length_mm=length)
    assert widths.quantiles((0.05, 1.0)) == (0, 9)


def test_places_that_have_no_length_weigh_alike():
    widths = LocalWidths(
        at_mm=np.zeros((3, 2)), width_mm=np.array([3.0, 1, 2]), length_mm=np.zeros(3)
    )
    assert widths.quantiles((0.3, 0.5, 1.0)) == (1, 2, 3)


def test_nothing_has_no_widths():
    target, land = local_widths(box(0, 0, 0, 0), box(0, 0, 0, 0))
    assert target.quantiles((0.5,)) == ()
    for one in (target, land, NO_WIDTHS):
        assert [part.shape for part in (one.at_mm, one.width_mm, one.length_mm)] == [
            (0, 2),
            (0,),
            (0,),
        ]


def test_each_owner_s_points_have_the_ridges_of_a_diagram_of_their_own():
    """Held to scipy's Voronoi diagram; what lies on a line, or is too little, has none."""
    rng = np.random.default_rng(3)
    row = np.column_stack([np.arange(5.0), np.full(5, 2.0)])
    groups = [rng.random((30, 2)), row, rng.random((3, 2)), rng.random((1, 2)), rng.random((9, 2))]
    owner = np.repeat(np.arange(5), [len(points) for points in groups])
    ends, sites = voronoi_ridges(np.concatenate(groups), owner)
    assert set(owner[sites].ravel()) == {0, 4}
    for k in (0, 4):
        plain = Voronoi(groups[k])
        bounded = [
            tuple(sorted(pair))
            for pair, two in zip(plain.ridge_points, plain.ridge_vertices, strict=True)
            if min(two) >= 0
        ]
        middles = [
            plain.vertices[two].mean(axis=0) for two in plain.ridge_vertices if min(two) >= 0
        ]
        here = owner[sites[:, 0]] == k
        pairs = np.sort(sites[here], axis=1) - np.flatnonzero(owner == k)[0]
        order, due = np.lexsort(pairs.T), np.lexsort(np.transpose(bounded))
        np.testing.assert_array_equal(pairs[order], np.array(bounded)[due])
        np.testing.assert_allclose(
            ends[here].mean(axis=1)[order], np.array(middles)[due], rtol=1e-6
        )


def scattered(rng, kind):
    """Points anywhere, on edges of dots, or on long straight edges, moved by 10 nm."""
    if kind == 0:
        return rng.random((int(rng.integers(300, 3000)), 2)) * rng.uniform(0.1, 300, 2)
    along = np.linspace(0, 1, 60, endpoint=False)
    if kind == 1:
        round_it = np.column_stack([np.cos(2 * np.pi * along), np.sin(2 * np.pi * along)])
        dots = rng.uniform(0, 40, (int(rng.integers(5, 50)), 1, 2))
        points = (dots + rng.uniform(0.1, 2, (len(dots), 1, 1)) * round_it).reshape(-1, 2)
    else:
        x, y = np.meshgrid(20 * along, rng.uniform(0, 20, int(rng.integers(5, 40))))
        points = np.column_stack([x.ravel(), y.ravel()])
    return points + 1e-5 * rng.uniform(-1, 1, points.shape)


@pytest.mark.parametrize("seed", range(tries(60, share=5)))
def test_ridges_made_tile_by_tile_are_those_of_all_points(seed, monkeypatch):
    """All but those too short to see, where four points lie on one circle but for rounding."""
    rng = np.random.default_rng(seed)
    points, found = scattered(rng, seed % 3), []
    for many in (10**9, 0):
        monkeypatch.setattr(triangulated, "_MANY", many)
        monkeypatch.setattr(triangulated, "_TILE", int(rng.integers(20, 200)))
        ends, sites = voronoi_ridges(points, np.zeros(len(points)))
        length = np.hypot(*(ends[:, 0] - ends[:, 1]).T)
        pairs = {tuple(sorted(pair)): mm for pair, mm in zip(sites.tolist(), length, strict=True)}
        assert len(pairs) == len(sites)
        found.append(pairs)
    whole, tiled = found
    for one, other in ((whole, tiled), (tiled, whole)):
        assert all(one[pair] < 1e-6 for pair in one.keys() - other.keys())
    for pair in whole.keys() & tiled.keys():
        assert tiled[pair] == pytest.approx(whole[pair], rel=1e-6, abs=1e-6)


def test_a_triangle_is_kept_where_no_point_lies_in_its_circle_nor_is_it_flat():
    points = np.array([(0, 0), (2, 0), (0, 2), (1.5, 1.5), (4, 0), (5, 5)])
    found = triangulated._are_empty(points, np.array([(0, 1, 2), (1, 3, 2), (1, 4, 3), (0, 1, 4)]))
    assert found.tolist() == [False, False, True, False]


def test_points_may_be_left_out_of_the_narrowest_width():
    """A wedge runs through all widths to nothing; the bar beside it is 0.3 mm wide."""
    wedge = Polygon([(1, 1), (7, 1.4), (7, 3), (1.0, 1.001)])
    both = union_all([wedge, box(9, 1, 15, 1.3)])
    assert narrowest(both).width_mm < 0.01
    assert narrowest(both, leave_out_points=True).width_mm == pytest.approx(0.3, abs=0.001)
