"""The artwork of demo and starters is what demo/draw.py draws, and it has the size it claims."""

import importlib.util
import io
import re
import sys
import tomllib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from stopout.jobs import read_job

ROOT = Path(__file__).parents[2]
JOBS = sorted(
    [
        *(ROOT / "demo").glob("*/*.toml"),
        *(ROOT / "src" / "stopout" / "cli" / "starters").glob("*/job.toml"),
    ]
)


@pytest.fixture(scope="module")
def draw(module_name="stopout_demo_draw"):
    spec = importlib.util.spec_from_file_location(module_name, ROOT / "demo" / "draw.py")
    module = importlib.util.module_from_spec(spec)
    path = list(sys.path)
    spec.loader.exec_module(module)
    sys.path[:] = path
    return module


def test_every_committed_drawing_is_what_the_script_draws(draw):
    for path, make in draw.SHEETS.items():
        if path.suffix == ".svg":
            assert path.read_bytes() == make(), path.name


def test_the_committed_picture_is_what_the_script_draws(draw):
    # Pixels, not bytes: packing may differ between releases of the libraries that pack.
    for path, make in draw.SHEETS.items():
        if path.suffix == ".png":
            kept, made = (
                np.array(Image.open(io.BytesIO(data)), dtype=int)
                for data in (path.read_bytes(), make())
            )
            assert np.abs(kept - made).max() <= 1, path.name


def test_the_emblem_is_24_mm_of_grey_pixels_at_600_dpi():
    image = Image.open(ROOT / "demo" / "emblem-tag" / "emblem.png")
    assert image.mode == "L"
    assert image.info["dpi"] == pytest.approx((600, 600), abs=0.01)
    assert np.array(image.size) / 600 * 25.4 == pytest.approx([24, 24], abs=0.02)
    assert len(np.unique(image)) > 50


@pytest.mark.parametrize("job", JOBS, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_every_job_file_is_read_without_a_mistake_and_names_its_artwork(job):
    read = read_job(job)
    # A job that sets its words itself names none.
    assert read.setting or (job.parent / read.artwork.file).is_file()


@pytest.mark.parametrize("job", JOBS, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_a_drawings_own_width_is_the_width_that_its_job_asks_for(job):
    artwork = tomllib.loads(job.read_text()).get("artwork", {"file": ""})
    if artwork["file"].endswith(".svg"):
        text = (job.parent / artwork["file"]).read_text()
        assert re.search(r'width="(\d+)mm"', text)[1] + " mm" == artwork["width"]


def test_lettering_is_kerned_and_as_wide_as_asked(draw):
    # Reference: the font's own advance widths (hmtx), read by fontTools; A and V are kerned.
    from fontTools.ttLib import TTFont

    sys.path.insert(0, str(ROOT / "demo"))
    try:
        import lettering
    finally:
        sys.path.pop(0)
    font = TTFont(lettering.FONT_FOLDER / "Barlow-Bold.ttf")
    advance = sum(font["hmtx"][font.getBestCmap()[ord(c)]][0] for c in "AV") / 1000
    assert font["OS/2"].sCapHeight == 1000 * lettering.CAPITAL
    natural = lettering.line("AV", x=0, y=0, capital=0.7, weight="Bold").width
    assert 0.8 * advance < natural < advance
    fitted = lettering.line("AV", x=0, y=0, capital=0.7, weight="Bold", fit=2.0).width
    assert fitted == pytest.approx(2.0)
