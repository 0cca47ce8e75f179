"""Images: edges are found between pixels, sizes are taken at their word or asked for."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import shapely
from PIL import Image
from shapely.geometry import Point, box

from stopout.artwork import open_artwork
from stopout.artwork.check import render_svg
from stopout.artwork.raster import reading
from stopout.artwork.raster.reading import read_image, trace
from stopout.artwork.scale import Page
from stopout.errors import ArtworkError
from stopout.job.record import ArtworkRequest


@pytest.fixture
def load(tmp_path: Path, blank):
    """Write a picture with Pillow and read it as artwork."""

    def run(image, suffix="png", request=None, **save):
        path = tmp_path / f"emblem.{suffix}"
        if isinstance(image, bytes):
            path.write_bytes(image)
        else:
            image.save(path, **save)
        return open_artwork(path, ArtworkRequest(file=path.name, **(request or {})), blank)

    return run


def sampled(is_dark, size, factor=16):
    """Average of 16 x 16 samples a pixel of a closed form: anti-aliasing independent of ours."""
    x = (np.arange(size[0] * factor) + 0.5) / factor
    y = (np.arange(size[1] * factor) + 0.5) / factor
    light = 1.0 - is_dark(x[None, :], y[:, None])
    blocks = light.reshape(size[1], factor, size[0], factor).mean(axis=(1, 3))
    return Image.fromarray(np.rint(blocks * 255).astype(np.uint8))


def edge_errors(region, boundary):
    """Distances of densely spaced points of a region's edge from a true boundary."""
    edge = shapely.segmentize(region.boundary, 0.2)
    return shapely.distance(shapely.points(shapely.get_coordinates(edge)), boundary)


@pytest.mark.parametrize("radius", [12.3, 40.0])
@pytest.mark.parametrize("centre", [(60.0, 55.0), (60.37, 55.71)])
def test_a_disc_is_found_to_a_quarter_of_a_pixel(load, radius, centre):
    def disc(x, y):
        return np.hypot(x - centre[0], y - centre[1]) < radius

    drawing = load(sampled(disc, (120, 110)), request={"width_mm": 120.0, "position_mm": (0, 0)})
    errors = edge_errors(
        drawing.dark, Point(centre[0], 110 - centre[1]).buffer(radius, 512).boundary
    )
    assert np.quantile(errors, 0.95) < 0.25
    assert errors.max() < 0.15
    assert drawing.dark.centroid.distance(Point(centre[0], 110 - centre[1])) < 0.02


@pytest.mark.parametrize("slope_deg", [0.0, 3.0, 30.0, 45.0])
def test_a_bar_is_found_to_a_quarter_of_a_pixel_and_stays_straight(load, slope_deg):
    turn = np.exp(1j * np.radians(slope_deg))
    corners = [60.3 + 50.2j + turn * z for z in (-40 - 4j, 40 - 4j, 40 + 4j, -40 + 4j)]
    xy = [(z.real, z.imag) for z in corners]

    def bar(x, y):
        own = (x + 1j * y - (60.3 + 50.2j)) / turn
        return (np.abs(own.real) < 40) & (np.abs(own.imag) < 4)

    drawing = load(sampled(bar, (120, 100)), request={"width_mm": 120.0, "position_mm": (0, 0)})
    true = shapely.Polygon([(x, 100 - y) for x, y in xy])
    errors = edge_errors(drawing.dark, true.boundary)
    assert np.quantile(errors, 0.95) < 0.25
    assert shapely.hausdorff_distance(drawing.dark, true) < 0.75
    assert drawing.dark.area == pytest.approx(true.area, rel=0.01)


def test_a_rendering_by_another_program_is_traced_back(load):
    # resvg renders; the closed form of the ring judges.
    svg = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="200" height="120" viewBox="0 0 100 60">'
        b'<circle cx="50" cy="30" r="20" fill="none" stroke="#000" stroke-width="5"/></svg>'
    )
    grey = render_svg(svg, Page(width=200, height=120, mm_per_unit=None, kind="SVG"), px_per_unit=1)
    image = Image.fromarray(np.rint(grey * 255).astype(np.uint8))
    drawing = load(image, request={"width_mm": 100.0})
    ring = Point(50, 30).buffer(22.5, 256) - Point(50, 30).buffer(17.5, 256)
    assert np.quantile(edge_errors(drawing.dark, ring.boundary), 0.95) < 0.25 * 0.5
    # The rendering's own coverage is 0.9 % above the closed form; the outline must follow it.
    assert drawing.dark.area == pytest.approx(float((1 - grey).sum()) / 4, rel=0.001)


def test_ink_at_the_edge_of_the_image_closes_there(load):
    drawing = load(Image.new("L", (50, 30), 0), request={"width_mm": 50.0, "position_mm": (0, 0)})
    # White begins half a pixel beyond the outermost centres.
    assert shapely.hausdorff_distance(drawing.dark, box(0, 0, 50, 30)) < 0.75
    assert drawing.dark.bounds == pytest.approx((0, 0, 50, 30), abs=0.01)


def test_y_goes_up(load):
    image = Image.new("L", (40, 40), 255)
    image.paste(0, (5, 5, 15, 10))
    drawing = load(image, request={"width_mm": 40.0, "position_mm": (0, 0)})
    assert drawing.dark.bounds == pytest.approx((5, 30, 15, 35), abs=0.01)


def mark(mode, paper, ink):
    image = Image.new(mode, (40, 30), paper)
    image.paste(ink, (10, 10, 30, 20))
    return image


@pytest.mark.parametrize(
    "image",
    [
        mark("1", 1, 0),
        mark("L", 255, 0),
        mark("LA", (0, 0), (0, 255)),
        mark("RGB", (255, 255, 255), (200, 0, 0)),
        mark("RGBA", (0, 0, 0, 0), (0, 0, 255, 255)),
        mark("RGB", (255, 255, 255), (0, 0, 0)).convert("P"),
        Image.fromarray(np.asarray(mark("L", 255, 0)).astype(np.uint16) * 257),
        mark("CMYK", (0, 0, 0, 0), (0, 0, 0, 255)),
    ],
    ids=["bilevel", "grey", "grey+alpha", "red", "alpha", "palette", "16 bit", "cmyk"],
)
def test_every_kind_of_pixel_is_read(load, image):
    suffix = "tiff" if image.mode == "CMYK" else "png"
    drawing = load(image, suffix, request={"width_mm": 40.0})
    # Ink of luma L moves its edge inwards by (0.5 - L) / (1 - L) - 0.5 px: 0.1 px for this red.
    assert drawing.dark.area == pytest.approx(200, rel=0.035)


def test_transparent_palette_entries_are_white(load):
    image = mark("RGB", (1, 2, 3), (0, 0, 0)).quantize(2)
    image.info["transparency"] = image.getpixel((0, 0))
    drawing = load(image, request={"width_mm": 40.0}, transparency=image.getpixel((0, 0)))
    assert drawing.dark.area == pytest.approx(200, rel=0.01)


@pytest.mark.parametrize("suffix", ["png", "jpg", "tiff", "bmp", "webp"])
def test_every_file_kind_is_read(load, suffix):
    save = {"quality": 95} if suffix in ("jpg", "webp") else {}
    drawing = load(mark("RGB", "white", "black"), suffix, request={"width_mm": 40.0}, **save)
    assert drawing.dark.area == pytest.approx(200, rel=0.03)


def test_the_size_comes_from_the_request_or_the_file(load):
    image = mark("L", 255, 0)
    assert load(image, request={"resolution_dpi": 254.0}).width_mm == pytest.approx(4.0)
    # PNG keeps whole pixels per metre: 600 dpi reads as 599.9988.
    drawing = load(image, dpi=(600, 600))
    assert drawing.width_mm == pytest.approx(40 * 25.4 / 600, rel=1e-5)
    assert not drawing.findings
    assert load(image, dpi=(600, 600), request={"scale": 2.0}).width_mm == pytest.approx(
        2 * 40 * 25.4 / 600, rel=1e-5
    )


def test_a_size_that_nobody_chose_is_told(load):
    (finding,) = load(mark("L", 255, 0), dpi=(96, 96)).findings
    assert (finding.code, finding.level.value) == ("artwork-size-unsure", "caution")
    assert "10.58 mm wide" in finding.message


@pytest.mark.parametrize(
    ("save", "words"),
    [({}, r"does not say how large it is; give artwork\.width"),
     ({"dpi": (600, 300)}, "not square")],
)  # fmt: skip
def test_images_without_a_sound_size_are_refused(load, save, words):
    with pytest.raises(ArtworkError, match=words):
        load(mark("L", 255, 0), **save)


def test_camera_rotation_is_applied(load):
    image = Image.new("L", (40, 30), 255)
    image.paste(0, (0, 0, 10, 5))
    exif = Image.Exif()
    exif[0x0112] = 6  # EXIF 2.3, 4.6.4: turn by 90 degrees clockwise to see it upright.
    drawing = load(image, "jpg", request={"width_mm": 30.0, "position_mm": (0, 0)}, exif=exif,
                   quality=95)  # fmt: skip
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((30, 40))
    # The greys round a strip of five pixels ring by a tenth in a JPEG.
    assert drawing.dark.bounds == pytest.approx((25, 30, 30, 40), abs=0.15)


def test_a_white_image_a_damaged_one_and_one_too_large_are_refused(load, monkeypatch):
    with pytest.raises(ArtworkError, match="nothing in the artwork is dark"):
        load(Image.new("L", (9, 9), 255), request={"width_mm": 9.0})
    buffer = BytesIO()
    Image.effect_noise((300, 300), 90).save(buffer, "PNG")
    with pytest.raises(ArtworkError, match="cannot be read"):
        load(buffer.getvalue()[:2000], request={"width_mm": 9.0})
    monkeypatch.setattr(reading, "_MOST_PIXELS", 1_000_000)
    with pytest.raises(ArtworkError, match="1 million is the most"):
        load(Image.new("1", (2_000, 600), 1), request={"width_mm": 9.0})


def test_strips_join_without_a_seam():
    rows = np.arange(2500)[:, None]
    columns = np.arange(60)[None, :]
    wave = 30 + 15 * np.sin(rows / 40)
    grey = np.clip(128 + 60 * (columns + 0.5 - wave), 0, 255).astype(np.uint8)
    buffer = BytesIO()
    Image.fromarray(grey).save(buffer, "PNG")
    image = read_image(buffer.getvalue(), name="wave.png")
    region = trace(image.luma, threshold=0.5, mm_per_px=1.0).dark
    assert region.geom_type == "Polygon"
    assert region.is_valid
    assert region.area == pytest.approx(float(wave.sum()), rel=1e-3)
    seams = shapely.box(20, 1020, 40, 1027)
    assert region.boundary.intersection(seams).length < 40


def test_the_threshold_moves_the_edge(load):
    # A ramp over 10 px: luma k / 10 at its k-th pixel centre.
    row = np.r_[np.zeros(10), np.arange(11) / 10, np.ones(10)]
    image = Image.fromarray(np.rint(np.tile(row, (20, 1)) * 255).astype(np.uint8))
    for threshold in (0.3, 0.5, 0.7):
        drawing = load(
            image,
            request={"width_mm": 31.0, "position_mm": (0, 0), "threshold": threshold},
        )
        assert drawing.dark.bounds[2] == pytest.approx(10.5 + 10 * (1 - threshold), abs=0.06)


def test_greys_of_12_bits_are_read_by_the_range_that_they_state_or_not_at_all():
    # TIFF 6.0, tag 281: MaxSampleValue.
    half = np.repeat([[0, 4095]], 20, axis=0).repeat(20, axis=1).astype(np.uint16)
    for stated in ({}, {281: 4095}):
        file = BytesIO()
        Image.fromarray(half).save(file, format="TIFF", tiffinfo=stated)
        if stated:
            assert read_image(file.getvalue(), name="a.tif").luma.max() == 65535
        else:
            with pytest.raises(ArtworkError, match="no higher than 4095 of 65535"):
                read_image(file.getvalue(), name="a.tif")
