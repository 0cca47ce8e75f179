"""Artwork too light to be dark is told what would do, and that is tried."""

from __future__ import annotations

import io
import re

import numpy as np
import pytest
from PIL import Image

from stopout.artwork import read_artwork
from stopout.errors import ArtworkError
from stopout.job.record import ArtworkRequest, Blank

BLANK = Blank(
    material="aluminium", width_mm=60.0, height_mm=40.0, thickness_mm=1.0, worked_side="front"
)


def drawn(colour):
    red, green, blue = colour
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 60 40">'
        f'<path d="M10 10h20v20h-20z" fill="rgb({red},{green},{blue})"/></svg>'
    ).encode()


def pixels(colour):
    """On nothing at all, as logos for a dark ground are saved."""
    page = np.zeros((40, 60, 4), np.uint8)
    page[10:30, 10:30] = (*colour, 255)
    buffer = io.BytesIO()
    Image.fromarray(page).save(buffer, "PNG")
    return buffer.getvalue()


def read(data, threshold=0.5):
    request = ArtworkRequest(file="a", width_mm=60.0, threshold=threshold)
    return read_artwork(data, request, BLANK, name="a")


@pytest.mark.parametrize("kind", [drawn, pixels])
@pytest.mark.parametrize("colour", [(250, 210, 60), (200, 200, 200), (170, 255, 190)])
def test_a_threshold_that_is_told_makes_light_artwork_dark(kind, colour):
    with pytest.raises(ArtworkError, match="nothing in the artwork is dark") as caught:
        read(kind(colour))
    # Steps of grey are coarse against so light a paint: an edge lies within a tenth of a pixel.
    told = re.search(r'artwork.threshold = "(\d+) %"', str(caught.value))
    assert read(kind(colour), int(told[1]) / 100).area_mm2 == pytest.approx(400.0, abs=8.0)


@pytest.mark.parametrize("kind", [drawn, pixels])
def test_white_on_nothing_is_no_matter_of_a_threshold(kind):
    with pytest.raises(ArtworkError, match="white on white or nothing") as caught:
        read(kind((255, 255, 255)))
    assert "threshold =" in str(caught.value)
    assert "set artwork.threshold" not in str(caught.value)
