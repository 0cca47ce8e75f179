"""A shape keeps its points to the last wherever it lies, and what coincides still does."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from effort import tries
from stopout.artwork.regions.nested import fill_nested
from stopout.artwork.regions.rigid import laid_by_steps
from stopout.artwork.regions.rings import _by_clipper
from stopout.values import COORDINATE_DECIMALS

# A tenth of a micrometre, the last decimal of a program, and a nanometre.
LAST_MM, GRID_MM = 10.0**-COORDINATE_DECIMALS, 1e-6
# Halves of a nanometre, as decimals of a drawing and middles of its curves give them.
HALVES = st.integers(0, 400_000).map(lambda k: k * 0.5e-6)
RING = shapely.Point(0.3, 0.2).buffer(0.4).difference(shapely.Point(0.3, 0.2).buffer(0.21))


def steps(region, by_mm=GRID_MM):
    """A region's points in whole steps, and how far they are from whole ones."""
    xy = shapely.get_coordinates(shapely.normalize(region)) / by_mm
    return np.rint(xy), np.abs(xy - np.rint(xy)).max()


@settings(max_examples=tries(100), derandomize=True)
@given(st.floats(0.0, 90.0), st.floats(0.0, 90.0), st.floats(0.1, 1.1), HALVES)
def test_a_shape_that_only_lies_elsewhere_keeps_its_points_to_the_last(right, up, scale, half):
    # At its largest the wedge lies 0.48 mm from the ring: so near, they go together.
    wedge = shapely.Polygon([(0, 1), (1 + half, 1 + half), (half, 2)])
    own = affinity.scale(shapely.MultiPolygon([RING, wedge]), scale, scale, origin=(0, 0))
    other = shapely.box(200, 200, 201, 201)
    here, there = (
        laid_by_steps([affinity.translate(own, *at), other])[0] for at in ((20, 30), (right, up))
    )
    (one, off), (two, _) = steps(here), steps(there)
    assert off < 1e-4
    assert np.ptp(two - one, axis=0).max() == 0
    # By whole steps of a program's decimals; and nowhere far from where it was drawn.
    by = (two - one)[0] * GRID_MM / LAST_MM
    assert np.abs(by - np.rint(by)).max() < 1e-6
    assert here.hausdorff_distance(affinity.translate(own, 20, 30)) < 0.75e-4


@settings(max_examples=tries(100), derandomize=True)
@given(st.integers(0, 900_000), st.integers(0, 900_000))
def test_a_corner_half_way_goes_the_same_way_wherever_it_lies(right, up):
    # Corners of curves often end in half a step.
    own, other = affinity.translate(RING, 0.00005, 0.00005), shapely.box(200, 200, 201, 201)
    here, there = (
        laid_by_steps([affinity.translate(own, x * LAST_MM, y * LAST_MM), other])[0]
        for x, y in ((0, 0), (right, up))
    )
    (one, _), (two, _) = steps(here), steps(there)
    assert np.abs((two - one) * GRID_MM / LAST_MM - (right, up)).max() < 1e-6


@settings(max_examples=tries(100), derandomize=True)
@given(st.floats(0.1, 9.0), st.floats(0.1, 9.0), st.floats(0.0, 1.0))
def test_shapes_that_share_an_edge_still_do(width, height, at):
    """A hair between them would be a land to be widened."""
    a, b = shapely.box(at, at, at + width, at + height), RING
    c = shapely.box(at + width, at + height / 3, at + 1.7 * width, at + height)
    d = shapely.difference(shapely.box(-9, -9, 30, 30), shapely.union_all([a, c]))
    laid = laid_by_steps([a, affinity.translate(b, 40, 0), c, d])
    whole = shapely.union_all([laid[k] for k in (0, 2, 3)])
    assert whole.geom_type == "Polygon"
    assert not whole.interiors
    assert shapely.intersection(laid[0], laid[2]).area < 1e-7
    assert shapely.intersection(laid[0], laid[3]).area < 1e-7


@st.composite
def nests(draw):
    """Rings one in another and beside each other, each either way round."""
    rings = []
    for cell in draw(st.lists(st.integers(0, 8), min_size=1, max_size=4, unique=True)):
        x, y, half = 3.0 * (cell % 3), 3.0 * (cell // 3), 1.0
        for _ in range(draw(st.integers(1, 4))):
            ring = shapely.get_coordinates(shapely.Point(x, y).buffer(half, quad_segs=2))[:-1]
            rings.append(ring if draw(st.booleans()) else ring[::-1])
            half *= draw(st.floats(0.3, 0.9))
    return draw(st.permutations(rings))


@pytest.mark.parametrize("rule", ["nonzero", "evenodd"])
@settings(max_examples=tries(100), derandomize=True)
@given(rings=nests())
def test_rings_that_do_not_cross_are_filled_as_the_clipping_library_does(rule, rings):
    ours = fill_nested(rings, evenodd=rule == "evenodd")
    theirs = _by_clipper([ring[:, 0] + 1j * ring[:, 1] for ring in rings], rule)
    assert ours.is_valid
    assert shapely.symmetric_difference(ours, theirs).area < 1e-5
    assert shapely.get_num_geometries(ours) == shapely.get_num_geometries(theirs)


def test_rings_that_cross_or_touch_are_left_to_the_clipping_library():
    square = np.array([(0, 0), (2, 0), (2, 2), (0, 2)], dtype=float)
    assert fill_nested([square, square + 1], evenodd=True) is None
    assert fill_nested([square, square + np.array([2, 0])], evenodd=False) is None
    assert fill_nested([square[[0, 2, 1, 3]], square + 5], evenodd=False) is None


def test_what_is_smaller_than_the_grid_vanishes_and_spares_the_rest():
    speck = shapely.Polygon([(5, 5), (5 + 4e-7, 5), (5, 5 + 4e-7)])
    (laid,) = laid_by_steps([shapely.MultiPolygon([RING, speck])])
    assert laid.is_valid
    assert laid.geom_type == "Polygon"
