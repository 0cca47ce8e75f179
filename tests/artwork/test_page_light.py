"""A photographed page of lines is read as under even light.

The second instrument is the drawing itself: the same lines under even light, and lights that no
polynomial is: a lens' fall of light with the fourth power of the cosine (R. Kingslake, Optics in
Photography, SPIE 1992, from memory), a lamp's with distance, a soft shadow.
"""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFilter

from stopout.artwork import read_artwork
from stopout.artwork.raster.light import evened
from stopout.artwork.raster.reading import auto_threshold, trace
from stopout.job.record import ArtworkRequest, Blank
from stopout.values import Level

ROWS, COLUMNS = 450, 600
ACROSS, DOWN = np.arange(COLUMNS)[None, :] / COLUMNS, np.arange(ROWS)[:, None] / COLUMNS
BLANK = Blank(
    material="aluminium", width_mm=60.0, height_mm=45.0, thickness_mm=1.0, worked_side="front"
)


def drawing(*, has_solid: bool):
    """Rings, and a solid of a sixth of the page; ink 35, paper 235."""
    image = Image.new("L", (COLUMNS, ROWS), 235)
    draw = ImageDraw.Draw(image)
    for k in range(8):
        draw.ellipse([40 + 60 * k, 30 + 16 * k, 110 + 60 * k, 100 + 16 * k], outline=35, width=6)
    if has_solid:
        draw.rectangle([80, 260, 400, 420], fill=35)
    return np.asarray(image.filter(ImageFilter.GaussianBlur(1))).astype(float)


def cosine_to_the_fourth():
    return np.cos(np.arctan(1.1 * np.hypot(ACROSS - 0.5, DOWN - 0.375))) ** 4


def lamp():
    return 0.36 / ((ACROSS - 0.1) ** 2 + (DOWN - 0.1) ** 2 + 0.36)


def shadow():
    return 1.0 - 0.45 / (1.0 + np.exp(-(ACROSS + 0.4 * DOWN - 0.75) / 0.07))


def photographed(grey, light):
    noise = np.random.default_rng(3).normal(0, 3, grey.shape)
    return np.clip(grey * light + noise, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("has_solid", [False, True])
@pytest.mark.parametrize("light", [cosine_to_the_fourth, lamp, shadow])
def test_lines_come_out_as_under_even_light(light, has_solid):
    grey = drawing(has_solid=has_solid)
    true = trace(grey.astype(np.uint8), threshold=1 - 135 / 255, mm_per_px=1.0).dark
    even = evened(photographed(grey, light()))
    assert even is not None
    assert even.fall == pytest.approx(1 - light().min() / light().max(), abs=0.12)
    read = trace(even.luma, threshold=auto_threshold(even.luma), mm_per_px=1.0).dark
    # Blurred by a pixel, an edge runs from ink to paper within three: half of one for the noise
    # and for what is left of the light.
    assert read.symmetric_difference(true).area < 0.5 * true.length
    assert read.hausdorff_distance(true) < 2.0


def test_even_light_is_left_alone():
    assert evened(photographed(drawing(has_solid=True), 1.0)) is None
    assert evened(np.full((50, 80), 90, np.uint8)) is None


def test_sixteen_bits_and_strips_tell_the_same(monkeypatch):
    page = photographed(drawing(has_solid=True), lamp())
    whole = evened(page)
    deep = evened(page.astype(np.uint16) * 257)
    assert np.abs(deep.luma.astype(int) - whole.luma).max() <= 1
    monkeypatch.setattr("stopout.artwork.raster.light._STRIP_ROWS", 37)
    assert np.array_equal(evened(page).luma, whole.luma)


def read(grey, **request):
    buffer = io.BytesIO()
    Image.fromarray(grey).save(buffer, "PNG")
    asked = ArtworkRequest(file="page.png", width_mm=60.0, **request)
    return read_artwork(buffer.getvalue(), asked, BLANK, name="page.png")


def test_a_photograph_that_comes_to_crumbs_stops_and_its_remedy_makes_lines_of_it():
    grey = drawing(has_solid=False)
    rng = np.random.default_rng(5)
    coarse = np.kron(rng.normal(0, 9, (ROWS // 3, COLUMNS // 3)), np.ones((3, 3)))
    page = np.clip(grey * lamp() + coarse, 0, 255).astype(np.uint8)
    stopped = read(page)
    (told,) = [one for one in stopped.findings if one.code == "tones-as-lines"]
    assert told.level is Level.STOP
    assert told.remedy.startswith('Set artwork.threshold = "auto"')
    made = read(page, threshold=None)
    assert not [one for one in made.findings if one.level is not Level.NOTE]
    assert "evened out" in next(f for f in made.findings if f.code == "artwork-threshold").message
    # The rings, and nothing else, within 0.3 pixel of 0.1 mm of those under even light.
    even = read(grey.astype(np.uint8)).dark
    assert made.dark.symmetric_difference(even).area < 0.03 * even.length


@pytest.mark.parametrize("light", [cosine_to_the_fourth, lamp, shadow])
def test_a_signs_colours_are_those_of_its_lines(light):
    """What a sign's front is held against is ink and paper, like the same page evenly lit."""
    data = io.BytesIO()
    Image.fromarray(photographed(drawing(has_solid=True), light())).save(data, "PNG")
    back = Blank(
        material="acrylic-cast", width_mm=60.0, height_mm=45.0, thickness_mm=3.0, worked_side="back"
    )
    request = ArtworkRequest(file="page.png", width_mm=60.0, threshold=None)
    seen = read_artwork(data.getvalue(), request, back, name="page.png").picture
    assert set(np.unique(seen.rgb)) == {0, 255}
    true = drawing(has_solid=True) < 135
    assert np.mean((seen.rgb[..., 0] == 0) != true) < 0.01
