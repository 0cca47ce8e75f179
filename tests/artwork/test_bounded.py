"""Pictures and outlines that no plate could carry are refused at once; rich ones are read."""

from __future__ import annotations

import os
import time

import numpy as np
import pytest
import shapely

from effort import BOUNDED_S
from stopout.artwork.raster.reading import trace
from stopout.artwork.regions.curves import Affine, Subpath
from stopout.artwork.regions.rings import fill
from stopout.artwork.regions.strokes import Stroke, stroke_rings
from stopout.errors import ArtworkError


def traced(luma):
    return trace(luma, threshold=0.5, mm_per_px=0.05)


@pytest.mark.parametrize("size", [600, 3000])
def test_noise_and_fine_checkers_are_refused_before_they_are_outlined(size):
    noise = np.random.default_rng(3).integers(0, 256, (size, size)).astype(np.uint8)
    checker = ((np.indices((size, size)).sum(0) % 2) * 255).astype(np.uint8)
    began = time.process_time()
    for luma in (noise, checker):
        with pytest.raises(ArtworkError, match="photograph or noise"):
            traced(luma)
    assert time.process_time() - began < BOUNDED_S


def test_a_picture_of_many_parts_keeps_the_area_of_each_in_one_band_or_several(monkeypatch):
    # 30 x 30 discs on a pitch of 20 px, some of them across a seam.
    row, column = np.indices((600, 600))
    apart = np.hypot(row % 20 - 9.5, column % 20 - 9.5)
    luma = np.clip((apart - 6.0) * 255 + 127.5, 0, 255).astype(np.uint8)
    whole = traced(luma).dark
    assert len(whole.geoms) == 900
    assert whole.area == pytest.approx(900 * np.pi * 6.0**2 * 0.05**2, rel=0.02)
    monkeypatch.setattr("stopout.artwork.raster.outlines._BAND_PIXELS", 111 * 602)
    monkeypatch.setattr("stopout.artwork.raster.smooth._TOGETHER", 500)
    banded = traced(luma).dark
    assert banded.wkb == whole.wkb


def test_a_pipe_as_artwork_is_refused_and_not_waited_for(tmp_path):
    from stopout.artwork.reading import _bytes_of

    pipe = tmp_path / "art.svg"
    os.mkfifo(pipe)
    with pytest.raises(ArtworkError, match="ordinary file"):
        _bytes_of(pipe)


def scribble(points, seed=1):
    at = np.random.default_rng(seed).random((2, points)) * 40.0
    return at[0] + 1j * at[1]


def winding(ring, at):
    """How often a ring goes round points: the turns of the ray to its vertices, summed."""
    rays = ring[None, :] - at[:, None]
    turns = np.angle(np.roll(rays, -1, axis=1) / rays).sum(axis=1)
    return np.rint(turns / (2 * np.pi)).astype(int)


@pytest.mark.parametrize("rule", ["nonzero", "evenodd"])
@pytest.mark.parametrize("points", [12, 120])
def test_a_scribble_is_filled_where_its_winding_says(rule, points):
    ring = scribble(points)
    region = fill([ring], rule)
    x, y = np.random.default_rng(5).random((2, 2000)) * 40.0
    turns = winding(ring, x + 1j * y)
    dark = turns != 0 if rule == "nonzero" else turns % 2 != 0
    assert region.is_valid
    assert np.array_equal(shapely.contains_xy(region, x, y), dark)


def test_an_outline_taken_apart_is_filled_as_it_is_whole(monkeypatch):
    angle = np.linspace(0.0, 2 * np.pi, 3000, endpoint=False)
    jagged = (15.0 + np.random.default_rng(2).random(3000) * 0.3) * np.exp(1j * angle)
    # A knot, so that it is not simple; and a hole.
    rings = [np.append(jagged, [20.0, 5j, 20j]), 0.5 * jagged[::-1]]
    whole = fill(rings, "nonzero")
    monkeypatch.setattr("stopout.artwork.regions.halves._FEW", 200)
    taken = fill(rings, "nonzero")
    assert taken.is_valid
    assert whole.symmetric_difference(taken).area < 1e-4


def test_a_scribble_that_crosses_itself_a_hundred_thousand_times_is_filled_in_seconds():
    # 4.8 s while contours were joined two by two, 0.7 s since.
    began = time.process_time()
    assert fill([scribble(1000)], "nonzero").is_valid
    assert time.process_time() - began < BOUNDED_S


def test_what_crosses_too_often_is_refused_at_once_with_the_number_and_what_to_do():
    began = time.process_time()
    with pytest.raises(ArtworkError, match=r"cross in about 1,0\d0,000 places.* fewer points"):
        fill([scribble(3000)], "evenodd")
    assert time.process_time() - began < BOUNDED_S


def test_a_stroke_metres_beyond_the_page_has_no_more_points_than_its_curves_need():
    nodes = np.array([0, 4000 + 300j, 200 + 3000j], complex)
    handles = np.array([[1000 + 2000j, 3000 - 900j], [5000 + 800j, 900 + 900j]], complex)
    curve = Subpath(nodes=nodes, handles=handles, is_closed=False)
    rings = stroke_rings([curve], Stroke(width=20.0), Affine(1, 0, 0, 1, 0, 0), tolerance_mm=0.002)
    assert sum(map(len, rings)) < 20_000


def test_a_picture_all_of_whose_parts_are_specks_is_empty():
    grey = np.full((1, 36), 255, np.uint8)
    grey[0, 10] = 90
    assert trace(grey, threshold=0.5, mm_per_px=1.0, specks_px=9.0).dark.is_empty
