"""The advance of the etch against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, box

from effort import tries
from stopout.outcome import advance


def regular(centre, radius, count):
    angle = 2 * np.pi * np.arange(count) / count
    return Polygon(np.column_stack([np.cos(angle), np.sin(angle)]) * radius + centre)


def test_a_square_grows_by_its_sides_and_four_quarter_discs():
    # Steiner's formula for a convex body: A + L u + pi u^2.
    grown = advance(box(0, 0, 2, 1), 0.1)
    assert grown.area == pytest.approx(2 + 6 * 0.1 + np.pi * 0.01, abs=2e-5)
    assert grown.bounds == pytest.approx((-0.1, -0.1, 2.1, 1.1), abs=1e-6)


def test_a_disc_grows_into_a_disc():
    grown = advance(regular((3, 3), 1.0, 720), 0.06)
    corners = shapely.get_coordinates(grown) - 3
    assert np.abs(np.hypot(*corners.T) - 1.06).max() < 1.2e-5


def test_a_hole_shrinks_with_sharp_inner_corners():
    grown = advance(box(0, 0, 4, 4).difference(box(1, 1, 3, 3)), 0.2)
    (part,) = grown.geoms
    assert Polygon(part.interiors[0]).equals(box(1.2, 1.2, 2.8, 2.8))


@pytest.mark.parametrize("undercut", [0.26, 0.4, 0.9])
@pytest.mark.parametrize("hole", [box(1, 1, 1.5, 3), regular((2, 2), 0.25, 64)])
def test_a_hole_narrower_than_twice_the_undercut_closes(undercut, hole):
    grown = advance(box(0, 0, 4, 4).difference(hole), undercut)
    assert not grown.geoms[0].interiors


def test_a_hole_as_long_as_wide_but_thin_within_closes_without_a_ghost():
    # An L whose box is larger than the disc while the disc fits nowhere in it.
    hole = box(1, 1, 3, 1.2).union(box(1, 1, 1.2, 3))
    grown = advance(box(0, 0, 4, 4).difference(hole), 0.5)
    assert not grown.geoms[0].interiors
    assert len(grown.geoms) == 1


def test_neighbours_closer_than_twice_the_undercut_join():
    pair = MultiPolygon([box(0, 0, 1, 1), box(1.1, 0, 2, 1)])
    assert len(advance(pair, 0.049).geoms) == 2
    assert len(advance(pair, 0.051).geoms) == 1


def test_an_island_in_a_hole_stays_apart():
    region = box(0, 0, 4, 4).difference(box(1, 1, 3, 3)).union(box(1.8, 1.8, 2.2, 2.2))
    grown = advance(region, 0.1)
    assert len(grown.geoms) == 2
    assert grown.geoms[0].interiors or grown.geoms[1].interiors


def test_no_undercut_changes_nothing():
    assert advance(box(0, 0, 1, 1), 0.0).equals(box(0, 0, 1, 1))


def test_nothing_open_gives_nothing_finished():
    assert advance(MultiPolygon(), 0.1).is_empty


@pytest.mark.parametrize("undercut", [-0.1, float("nan")])
def test_an_undercut_below_zero_is_refused(undercut):
    with pytest.raises(ValueError, match="zero or more"):
        advance(box(0, 0, 1, 1), undercut)


corner = st.tuples(st.integers(0, 40), st.integers(0, 40)).map(lambda p: (p[0] / 40, p[1] / 40))


@settings(max_examples=tries(60), deadline=None)
@given(
    st.lists(st.lists(corner, min_size=3, max_size=7), min_size=1, max_size=4),
    st.sampled_from([0.01, 0.05, 0.15, 0.4]),
)
def test_any_region_with_holes_grows_by_just_the_undercut(outlines, undercut):
    # Overlapping outlines by the even-odd rule give holes, islands and touching corners.
    region = Polygon()
    for outline in outlines:
        region = region.symmetric_difference(shapely.make_valid(Polygon(outline)))
    # Slivers of no area, which the drawing library leaves at touching edges, are no region.
    parts = shapely.get_parts(region)
    region = MultiPolygon(list(parts[shapely.area(parts) > 1e-8]))
    grown = advance(region, undercut)
    xs, ys = np.meshgrid(np.arange(-0.5, 1.5, 0.0187), np.arange(-0.5, 1.5, 0.0187))
    margin = shapely.distance(region, shapely.points(xs, ys)) - undercut
    margin = np.where(np.isnan(margin), np.inf, margin)  # an empty region is nowhere near
    inside = shapely.contains_xy(grown, xs, ys)
    assert inside[margin < -3e-4].all()
    assert not inside[margin > 3e-4].any()
