"""Continuous tone is told; line art, however soft, noisy or flatly coloured, is not."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFilter

from stopout.artwork import read_artwork
from stopout.artwork.raster import tones
from stopout.artwork.raster.tones import middle_tones
from stopout.job.record import ArtworkRequest, Blank

BLANK = Blank(
    material="aluminium", width_mm=60.0, height_mm=40.0, thickness_mm=1.0, worked_side="front"
)
ROWS, COLUMNS = 240, 320


def lines():
    image = Image.new("L", (COLUMNS, ROWS), 255)
    draw = ImageDraw.Draw(image)
    for k in range(12):
        draw.ellipse([k * 22, k * 14, k * 22 + 60, k * 14 + 60], outline=0, width=3)
    return np.asarray(image.filter(ImageFilter.GaussianBlur(1)))


def flat():
    grey = np.full((ROWS, COLUMNS), 255, np.uint8)
    grey[40:120, 40:200], grey[140:200, 40:120], grey[140:200, 160:280] = 150, 110, 80
    grey[4:20, 4:120] = 0
    return grey


def photograph():
    across, down = np.arange(COLUMNS)[None, :], np.arange(ROWS)[:, None]
    return np.clip(128 + 70 * np.sin(across / 40) + 50 * np.cos(down / 30), 0, 255).astype("uint8")


def noisy(grey, spread):
    noise = np.random.default_rng(7).normal(0, spread, grey.shape)
    return np.clip(grey * 0.8 + 30 + noise, 0, 255).astype("uint8")


def jpeg(grey):
    buffer = io.BytesIO()
    Image.fromarray(grey).save(buffer, "JPEG", quality=60)
    return np.asarray(Image.open(buffer))


@pytest.mark.parametrize("change", [lambda grey: grey, jpeg, lambda grey: noisy(grey, 8)])
def test_lines_have_no_middle_tones_and_photographs_many(change):
    assert middle_tones(change(lines()))[0] < 0.001
    share, levels = middle_tones(change(photograph()))
    assert share > 0.2
    assert levels > 60


def test_flat_colours_have_few_levels():
    for grey in (flat(), jpeg(flat())):
        assert middle_tones(grey)[1] < 8


@pytest.mark.parametrize(("draw", "codes"), [(photograph, ["tones-as-lines"]), (lines, [])])
def test_a_picture_of_continuous_tone_is_told(draw, codes):
    buffer = io.BytesIO()
    Image.fromarray(draw()).save(buffer, "PNG", dpi=(300, 300))
    drawing = read_artwork(
        buffer.getvalue(), ArtworkRequest(file="a.png", width_mm=30.0), BLANK, name="a.png"
    )
    assert [f.code for f in drawing.findings if f.code == "tones-as-lines"] == codes


def test_strips_tell_the_same_tones_as_the_whole(monkeypatch):
    rows, columns = np.mgrid[0:90, 0:70]
    luma = (128 + 120 * np.sin(rows / 9) * np.cos(columns / 7)).astype(np.uint8)
    whole = tones.middle_tones(luma)
    monkeypatch.setattr(tones, "_STRIP_ROWS", 7)
    assert tones.middle_tones(luma) == whole
    assert whole[0] > 0.2
