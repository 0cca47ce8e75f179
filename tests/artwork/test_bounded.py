"""Pictures that no plate could carry are refused at once; rich ones are read in one go."""

from __future__ import annotations

import os
import time

import numpy as np
import pytest

from stopout.artwork.raster.reading import trace
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
    assert time.process_time() - began < 5.0


def test_a_picture_of_many_parts_keeps_the_area_of_each_in_one_strip_or_several(monkeypatch):
    # 60 x 60 discs on a pitch of 20 px, some of them across a seam.
    row, column = np.indices((1200, 1200))
    apart = np.hypot(row % 20 - 9.5, column % 20 - 9.5)
    luma = np.clip((apart - 6.0) * 255 + 127.5, 0, 255).astype(np.uint8)
    whole = traced(luma).dark
    assert len(whole.geoms) == 3600
    assert whole.area == pytest.approx(3600 * np.pi * 6.0**2 * 0.05**2, rel=0.02)
    monkeypatch.setattr("stopout.artwork.raster.reading._STRIP_PIXELS", 0)
    monkeypatch.setattr("stopout.artwork.raster.reading._STRIP_ROWS", 111)
    seamed = traced(luma).dark
    assert len(seamed.geoms) == 3600
    # The same edge, from other points on: simplified, it differs by hundredths of a pixel.
    assert whole.symmetric_difference(seamed).area < 1e-3 * whole.area


def test_a_pipe_as_artwork_is_refused_and_not_waited_for(tmp_path):
    from stopout.artwork.reading import _bytes_of

    pipe = tmp_path / "art.svg"
    os.mkfifo(pipe)
    with pytest.raises(ArtworkError, match="ordinary file"):
        _bytes_of(pipe)
