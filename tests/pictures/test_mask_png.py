"""The one-bit mask against point-in-polygon tests of an independent library and closed forms."""

import io
import struct

import numpy as np
import pytest
import shapely
from PIL import Image
from shapely.geometry import MultiPolygon, Point, box

from stopout.pictures import mask_png, mask_svg
from stopout.pictures.means import scanline


def _read(data: bytes) -> np.ndarray:
    return np.array(Image.open(io.BytesIO(data)))


def _rings(*, seed: int, count: int, width: float, height: float):
    """Overlapping rings with holes, some beyond the blank's edges."""
    rng = np.random.default_rng(seed)
    centres = rng.uniform(-1, 1, (count, 2)) * [width / 2 + 1, height / 2 + 1]
    centres += [width / 2, height / 2]
    discs = [Point(c).buffer(rng.uniform(0.2, 1.5), quad_segs=9) for c in centres]
    return shapely.union_all(
        [d.difference(Point(c).buffer(0.15)) for d, c in zip(discs, centres, strict=True)]
    )


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_pixel_is_white_exactly_where_its_centre_lies_in_an_opening(seed):
    # Reference: shapely (GEOS) point in polygon.
    region = _rings(seed=seed, count=40, width=12.3, height=7.1)
    image = _read(mask_png(region, width_mm=12.3, height_mm=7.1))
    rows, columns = np.indices(image.shape)
    x, y = (columns + 0.5) * 0.01, (image.shape[0] - rows - 0.5) * 0.01
    assert np.array_equal(image, shapely.contains_xy(region, x, y))


def test_a_rectangle_of_whole_pixels_has_no_pixel_too_many():
    # Closed form: 40 x 20 pixels. Fillers that also set touched pixels give 41 x 21.
    image = _read(mask_png(box(0.1, 0.1, 0.5, 0.3), width_mm=1, height_mm=1))
    assert image.sum() == 40 * 20
    assert image[70:90, 10:50].all()


def test_slanted_edges_carry_no_bias():
    # Closed form: the area of a disc; pixel centres of a fine grid estimate it without bias.
    disc = Point(5.003, 4.996).buffer(3, quad_segs=256)
    image = _read(mask_png(disc, width_mm=10, height_mm=10))
    assert image.sum() * 1e-4 == pytest.approx(np.pi * 9, rel=5e-5)


def test_size_and_resolution_are_those_of_the_blank():
    # PNG (ISO/IEC 15948), 11.3.5.3: pHYs holds pixels per metre and the unit 1.
    data = mask_png(box(1, 1, 2, 2), width_mm=100, height_mm=60)
    assert struct.unpack(">II", data[16:24]) == (10000, 6000)
    at = data.index(b"pHYs") + 4
    assert struct.unpack(">IIB", data[at : at + 9]) == (100_000, 100_000, 1)
    image = Image.open(io.BytesIO(data))
    assert image.mode == "1"
    assert image.info["dpi"] == pytest.approx((2540, 2540), abs=0.1)


def test_a_last_fraction_of_a_pixel_counts_as_a_whole_one():
    image = _read(mask_png(box(0, 0, 9, 9), width_mm=0.123, height_mm=0.055))
    assert image.shape == (6, 13)
    assert image.all()


def test_the_bottom_row_lies_at_the_blanks_lower_edge():
    image = _read(mask_png(box(0, 0, 0.02, 0.01), width_mm=0.05, height_mm=0.04))
    assert image.tolist() == [[False] * 5] * 3 + [[True, True, False, False, False]]


def test_strips_of_any_size_give_the_same_bytes(monkeypatch):
    region = _rings(seed=4, count=30, width=9, height=8)
    whole = mask_png(region, width_mm=9, height_mm=8)
    monkeypatch.setattr(scanline, "_STRIP_BYTES", 1000)
    assert _read(mask_png(region, width_mm=9, height_mm=8)).tolist() == _read(whole).tolist()
    monkeypatch.setattr(scanline, "_STRIP_CROSSINGS", 50)
    assert _read(mask_png(region, width_mm=9, height_mm=8)).tolist() == _read(whole).tolist()


@pytest.mark.parametrize("nothing", [MultiPolygon(), box(20, 20, 30, 30), box(-3, -3, -1, -1)])
def test_nothing_to_clear_is_black(nothing):
    assert not _read(mask_png(nothing, width_mm=3, height_mm=2)).any()


def test_the_same_region_gives_the_same_bytes():
    region = _rings(seed=5, count=20, width=5, height=5)
    assert mask_png(region, width_mm=5, height_mm=5) == mask_png(region, width_mm=5, height_mm=5)


def test_pixels_agree_with_a_rendering_of_the_svg_mask():
    # Reference: the resvg renderer on the other file of the same mask; half-covered pixels at
    # the edges may fall either way.
    import resvg_py

    region = _rings(seed=6, count=12, width=8, height=6)
    svg = mask_svg(region, width_mm=8, height_mm=6, title="rings").decode()
    svg = svg.replace('width="8mm" height="6mm"', 'width="800" height="600"')
    png = resvg_py.svg_to_bytes(svg_string=svg, dpi=96, background="#fff")
    grey = np.array(Image.open(io.BytesIO(png)).convert("L"))
    ours = _read(mask_png(region, width_mm=8, height_mm=6))
    assert (ours[grey < 20]).all()
    assert not (ours[grey > 235]).any()
