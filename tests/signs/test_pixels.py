"""Pixels of a sign's picture: which region holds each, their colours, and what lies by edges."""

from __future__ import annotations

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage
from shapely.geometry import Point, box

from effort import tries
from stopout.planning.signs.pixels import beyond_edges, first_holding, palette_of
from stopout.values import ColourPicture


def picture_of(rgb, is_painted=None, px_mm=0.1):
    """A picture whose lower left corner is the origin."""
    painted = np.ones(rgb.shape[:2], dtype=bool) if is_painted is None else is_painted
    high = rgb.shape[0] * px_mm
    return ColourPicture(rgb=rgb, is_painted=painted, left_mm=0.0, top_mm=high, px_mm=px_mm)


@given(seed=st.integers(0, 10_000), count=st.sampled_from([1, 3, 8, 11, 19]))
@settings(max_examples=tries(30))
def test_a_pixel_is_the_first_region_s_that_a_geometry_library_says_holds_its_middle(seed, count):
    rng = np.random.default_rng(seed)
    regions = []
    for _ in range(count):
        disc = Point(rng.uniform((0, 0), (6, 4))).buffer(rng.uniform(0.3, 1.4), quad_segs=5)
        hole = box(*disc.centroid.coords[0], *(np.array(disc.centroid.coords[0]) + 0.4))
        regions.append(disc.difference(hole) if rng.random() < 0.5 else disc)
    regions.append(shapely.Polygon())
    found = first_holding(regions, picture_of(np.zeros((40, 60, 3), dtype=np.uint8)))
    x, y = np.meshgrid((np.arange(60) + 0.5) * 0.1, 4 - (np.arange(40) + 0.5) * 0.1)
    for k, region in reversed(list(enumerate(regions))):
        holds = shapely.contains_xy(region, x, y)
        assert (found[holds] <= k).all()
        assert (found[holds] >= 0).all()
        assert not (found[~holds] == k).any()


@given(seed=st.integers(0, 10_000), band=st.sampled_from([0.4, 0.5, 1.2, 1.49, 1.5, 2.4, 4.0]))
@settings(max_examples=tries(30))
def test_pixels_beyond_a_band_are_those_whose_distance_transform_says_so(seed, band):
    rng = np.random.default_rng(seed)
    labels = np.repeat(np.repeat(rng.integers(-1, 3, (6, 8)), 7, axis=0), 5, axis=1)
    edges = np.zeros(labels.shape, dtype=bool)
    for axis in (0, 1):
        changes = np.diff(labels, axis=axis) != 0
        before = np.pad(changes, [(0, 1) if axis == k else (0, 0) for k in (0, 1)])
        after = np.pad(changes, [(1, 0) if axis == k else (0, 0) for k in (0, 1)])
        edges |= before | after
    apart = ndimage.distance_transform_edt(~edges)
    plain = apart.astype(np.float32) + np.float32(0.5) > band
    assert (beyond_edges(labels.astype(np.int16), band) == plain).all()


@given(seed=st.integers(0, 10_000))
@settings(max_examples=tries(20))
def test_a_palette_counts_each_pixel_by_its_colour_or_one_that_rounds_to_it(seed):
    rng = np.random.default_rng(seed)
    plain = rng.integers(0, 255, (4, 3))
    of = rng.integers(0, 4, (30, 40))
    rgb = (plain[of] + rng.integers(0, 2, (30, 40, 3)) * (rng.random((30, 40, 1)) < 0.05)).astype(
        np.uint8
    )
    within = rng.random((30, 40)) < 0.8
    palette = palette_of(picture_of(rgb), within)
    assert (palette.labels[~within] == -1).all()
    assert palette.toned_share < 0.02
    for label, colour in enumerate(palette.colours):
        value = [int(colour[k : k + 2], 16) for k in (1, 3, 5)]
        here = palette.labels == label
        assert here.any()
        assert (np.abs(rgb[here].astype(int) - value).max(axis=1) <= 3).all()
        exact = within & (rgb == value).all(axis=2)
        assert (palette.labels[exact] == label).all()
