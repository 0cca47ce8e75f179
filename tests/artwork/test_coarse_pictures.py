"""What the pixels of a picture know of its edges: by the normal distribution, and by drawing."""

from __future__ import annotations

import io
import math
import re

import numpy as np
import pytest
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter
from scipy.stats import norm
from shapely import Point

from jobmaker import make_job
from stopout.artwork import read_artwork
from stopout.artwork.raster.lines import softness_px
from stopout.artwork.raster.reading import trace
from stopout.planning.findings.plausible import coarse_findings


def square(px, *, blur=0.0):
    """A dark square on a page five thirds as wide, each pixel the mean of four by four.

    Its edges run through the middles of pixels, so that it has greys.
    """
    image = Image.new("L", (4 * (px * 5 // 3), 4 * (px * 5 // 3)), 255)
    low, high = px * 4 // 3 + 2, px * 16 // 3 + 1
    ImageDraw.Draw(image).rectangle([low, low, high, high], 0)
    fine = gaussian_filter(np.asarray(image, float), 4 * blur) if blur else np.asarray(image, float)
    grey = fine.reshape(px * 5 // 3, 4, px * 5 // 3, 4).mean(axis=(1, 3))
    return np.rint(grey).astype(np.uint8)


@pytest.mark.parametrize("blur", [3.0, 5.0, 9.0])
def test_softness_is_that_of_the_gaussian_and_corners_recede_with_it(blur):
    grey = square(180, blur=blur)
    # Slopes are taken over two pixels, beside the edge and at corners, too, where they are less.
    assert softness_px(grey, 127.5) == pytest.approx(math.sqrt(2 * math.pi) * blur, rel=0.12)
    # Where two edges at right angles each let through the root of a half.
    recession = math.sqrt(2) * norm.ppf(math.sqrt(0.5)) * blur
    dark = trace(grey, threshold=0.5, mm_per_px=1.0).dark
    assert dark.distance(Point(dark.bounds[:2])) == pytest.approx(recession, rel=0.1)
    assert 0.307 * math.sqrt(2 * math.pi) * blur == pytest.approx(recession, rel=0.01)


def told(grey, *, width_mm, tolerance=0.05):
    buffer = io.BytesIO()
    Image.fromarray(grey).save(buffer, "PNG")
    job = make_job(
        artwork={"file": "a.png", "width_mm": width_mm}, limits={"edge_tolerance_mm": tolerance}
    )
    drawing = read_artwork(buffer.getvalue(), job.artwork, job.blank, name="a.png")
    return drawing, coarse_findings(job, drawing)


def test_a_picture_of_coarse_pixels_is_told_and_its_remedy_ends_that():
    """A quarter of a pixel is known of an edge between greys, so 0.05 mm of pixels of 0.2 mm."""
    drawing, none = told(square(60), width_mm=19.9)
    assert drawing.pixel_mm == pytest.approx(0.199)
    assert none == []
    _, (found,) = told(square(60), width_mm=40.0)
    assert "0.400 mm wide on the piece" in found.message
    assert "known to 0.100 mm" in found.message
    dpi = int(re.search(r"(\d+) dpi", found.remedy)[1])
    assert told(square(math.ceil(60 * dpi / (25.4 / 0.4))), width_mm=40.0)[1] == []


def test_of_black_and_white_half_a_pixel_is_known():
    plain = np.where(square(60) < 128, 0, 255).astype(np.uint8)
    assert told(plain, width_mm=9.9)[1] == []
    (found,) = told(plain, width_mm=10.4)[1]
    assert "known to 0.052 mm" in found.message


def test_an_enlarged_picture_is_told_as_soft_however_many_pixels_it_has():
    small = Image.fromarray(square(24))
    enlarged = np.asarray(small.resize((400, 400), Image.Resampling.BICUBIC))
    (found,) = told(enlarged, width_mm=40.0)[1]
    assert "soft, as in a picture enlarged" in found.message


def test_what_may_be_a_dot_of_the_drawing_is_not_cleaned_away_without_a_word():
    grey = square(60)
    grey[3:5, 3:4] = 0
    for width_mm, level in ((10.0, "note"), (30.0, "caution")):
        drawing, _ = told(grey, width_mm=width_mm)
        (found,) = [one for one in drawing.findings if one.code == "artwork-cleaned"]
        assert found.level == level
