"""Tracing at 300 and 600 dpi: edges to a quarter of a pixel, straight without ripple.

Pictures are averages of 8 x 8 samples a pixel of a closed form, or glyphs whose true outline is
read from the font by the shaping library. Errors are measured every fifth of a pixel.
"""

from __future__ import annotations

from itertools import pairwise

import contourpy
import numpy as np
import pytest
import shapely
from shapely.geometry import Point, Polygon, box

from stopout.artwork.raster.outlines import crossings_of, outlined
from stopout.artwork.raster.reading import auto_threshold, trace
from stopout.artwork.raster.smooth import smooth_rings

MM_PER_INCH = 25.4


def sampled(region, size, *, factor=8):
    """A picture of a region in pixels, 0 where it covers a pixel wholly."""
    wide, high = size
    x, y = np.meshgrid(
        (np.arange(wide * factor) + 0.5) / factor, (np.arange(high * factor) + 0.5) / factor
    )
    shapely.prepare(region)
    ink = shapely.contains_xy(region, x, y).reshape(high, factor, wide, factor).mean(axis=(1, 3))
    return np.rint(255 * (1 - ink)).astype(np.uint8)


def errors_px(found, true):
    edge = shapely.get_coordinates(shapely.segmentize(found.boundary, 0.2))
    return shapely.distance(shapely.points(edge), true.boundary)


def bar(slope_deg, *, length=150.0, width=12.0, centre=(100.3, 90.2)):
    turn = np.exp(1j * np.radians(slope_deg))
    ends = np.array([-1 - 1j, 1 - 1j, 1 + 1j, -1 + 1j])
    at = turn * (ends.real * length / 2 + 1j * ends.imag * width / 2) + complex(*centre)
    return Polygon(np.column_stack([at.real, at.imag]))


@pytest.mark.parametrize("dpi", [300, 600])
@pytest.mark.parametrize("radius_mm", [0.6, 3.0])
def test_discs(dpi, radius_mm):
    radius = radius_mm * dpi / MM_PER_INCH
    true = Point(radius + 5.3, radius + 4.7).buffer(radius, 512)
    side = int(2 * radius + 12)
    found = trace(sampled(true, (side, side)), threshold=0.5, mm_per_px=1.0).dark
    errors = errors_px(found, true)
    assert np.quantile(errors, 0.95) < 0.1
    assert errors.max() < 0.25
    assert found.area == pytest.approx(true.area, rel=0.01)


@pytest.mark.parametrize("slope_deg", [0.0, 1.0, 3.0, 10.0, 30.0, 45.0, 77.0])
def test_straight_edges_are_straight_and_corners_are_corners(slope_deg):
    true = bar(slope_deg)
    found = trace(sampled(true, (200, 190)), threshold=0.5, mm_per_px=1.0).dark
    errors = errors_px(found, true)
    assert np.quantile(errors, 0.95) < 0.1
    # A corner is cut by less than half a pixel.
    assert errors.max() < 0.5
    back = np.exp(-1j * np.radians(slope_deg))
    edge = shapely.get_coordinates(shapely.segmentize(found.boundary, 0.2))
    own = ((edge - (100.3, 90.2)) @ np.array([1, 1j])) * back
    side = own.imag[(own.imag > 3) & (np.abs(own.real) < 70)]
    assert np.ptp(side) < 0.12


@pytest.mark.parametrize("slope_deg", [3.0, 10.0, 30.0, 45.0])
def test_black_and_white_alone_leaves_no_staircase(slope_deg):
    # One sample a pixel: the true edge is known to half a pixel only, stairs are a pixel high.
    true = bar(slope_deg)
    found = trace(sampled(true, (200, 190), factor=1), threshold=0.5, mm_per_px=1.0).dark
    assert np.quantile(errors_px(found, true), 0.95) < 0.26
    assert found.area == pytest.approx(true.area, rel=0.005)


def test_pixel_art_keeps_its_sides_where_they_are_drawn():
    true = shapely.union_all([box(3, 3, 30, 9), box(3, 3, 9, 30), box(20, 20, 26, 26)])
    found = trace(sampled(true, (33, 33), factor=1), threshold=0.5, mm_per_px=1.0).dark
    errors = errors_px(found, true)
    assert np.quantile(errors, 0.9) < 1e-9
    assert errors.max() < 0.3


@pytest.mark.parametrize("dpi", [300, 600])
def test_glyphs(dpi):
    hb = pytest.importorskip("uharfbuzz")
    from stopout.artwork.fonts.book import FontBook
    from stopout.artwork.fonts.shaping import outline
    from stopout.artwork.regions.curves import Affine, flatten
    from stopout.artwork.regions.rings import fill
    from stopout.artwork.svg.pathdata import outline_of, segments

    assert hb
    face, _ = FontBook().find("Barlow", 500, is_italic=False)
    height = 8.0 / MM_PER_INCH * dpi
    glyphs = [
        outline(face, 500, number, Affine(height, 0, 0, -height, 6.4 + k * 0.62 * height,
                                          height + 3.3))
        for k, number in enumerate((56, 41, 82))
    ]  # fmt: skip
    rings = [flatten(run, tolerance=0.005) for data in glyphs for run in outline_of(segments(data))]
    true = fill(rings, "nonzero")
    size = (int(true.bounds[2] + 6), int(true.bounds[3] + 6))
    found = trace(sampled(true, size, factor=6), threshold=0.5, mm_per_px=1.0).dark
    errors = errors_px(found, true)
    assert np.quantile(errors, 0.95) < 0.25
    assert len(shapely.get_parts(found)) == len(shapely.get_parts(true))


def test_a_noisy_scan_keeps_its_edges_to_a_quarter_of_a_pixel():
    # 7 % of noise (a standard deviation), as a scanner's at its darkest.
    true = bar(7.0)
    clean = 30 + 205 / 255 * sampled(true, (200, 190)).astype(float)
    noisy = clean + np.random.default_rng(2).normal(0, 14, clean.shape)
    page = np.clip(np.rint(noisy), 0, 255).astype(np.uint8)
    found = trace(page, threshold=auto_threshold(page), mm_per_px=1.0).dark
    assert np.quantile(errors_px(found, true), 0.95) < 0.25
    assert len(shapely.get_parts(found)) == 1


def test_specks_and_pinholes_up_to_the_limit_are_cleaned_and_counted():
    page = np.full((60, 60), 255, dtype=np.uint8)
    page[10:50, 10:30] = 0
    page[20, 15] = page[30, 20] = 255
    page[5, 50] = page[40, 45] = 0
    page[20:24, 45:49] = 0
    traced = trace(page, threshold=0.5, mm_per_px=1.0)
    assert (traced.specks, traced.pinholes) == (2, 2)
    assert traced.dark.area == pytest.approx(800 + 16, rel=0.01)
    kept = trace(page, threshold=0.5, mm_per_px=1.0, specks_px=0.0)
    assert (kept.specks, kept.pinholes) == (0, 0)
    assert len(shapely.get_parts(kept.dark)) == 4


def test_the_threshold_is_found_between_ink_and_paper():
    # Otsu 1979: two plain tones are parted between them; halfway between 40 and 200 is 120.
    page = np.full((40, 40), 200, dtype=np.uint8)
    page[10:30, 10:30] = 40
    assert auto_threshold(page) == pytest.approx(1 - 120 / 255, abs=1e-6)
    deep = page.astype(np.uint16) * 257
    assert auto_threshold(deep) == pytest.approx(1 - 120 / 255, abs=1e-3)
    assert auto_threshold(np.full((5, 5), 7, dtype=np.uint8)) == 0.5


@pytest.mark.parametrize(("kind", "level"), [("uint8", 127.5), ("uint8", 97.0), ("uint16", 30e3)])
def test_outlines_are_those_of_a_reference_library(kind, level):
    # Noise to be contoured: parts within holes of parts, and squares dark and light by turns.
    most = np.iinfo(kind).max
    luma = np.random.default_rng(8).integers(0, most + 1, (40, 55)).astype(kind)
    found = outlined(luma, level, crossings_of(luma, level, most=10_000))
    padded = np.pad(luma.astype(float), 1, constant_values=most)
    theirs, offsets = contourpy.contour_generator(
        z=padded, fill_type=contourpy.FillType.OuterOffset
    ).filled(-np.inf, level - 0.05 if level % 1 == 0 else level)
    own = [
        Polygon(xy[: cut[1]], [xy[i:j] for i, j in pairwise(cut[1:])])
        for xy, cut in zip(theirs, offsets, strict=True)
    ]
    assert shapely.is_valid(shapely.multipolygons(found))
    assert len(found) == len(own)
    their = shapely.normalize(shapely.multipolygons(own))
    ours = shapely.normalize(shapely.transform(shapely.multipolygons(found), lambda xy: xy + 0.5))
    assert shapely.equals_exact(ours, their, tolerance=1e-9)


def test_more_crossings_than_wanted_are_counted_only():
    luma = np.tile(np.array([[0, 255]], np.uint8), (7, 5))
    found = crossings_of(luma, 127.5, most=10)
    # Each row has nine between its pixels and one at its dark end; 5 columns have two ends.
    assert (found.count, len(found.across), len(found.down)) == (7 * 10 + 5 * 2, 0, 0)


def test_an_outline_that_is_straight_already_is_left_alone():
    ring = np.array(
        [[k + 0.5, 2.0] for k in range(20)] + [[20.0, 2.5 + k] for k in range(10)]
        + [[19.5 - k, 12.0] for k in range(20)] + [[0.0, 11.5 - k] for k in range(10)]
    )  # fmt: skip
    ring = np.vstack([ring, ring[:1]])
    (found,) = smooth_rings([ring], room_px=0.48)
    assert np.abs(found - ring).max() < 1e-9
