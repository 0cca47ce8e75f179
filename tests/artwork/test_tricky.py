"""Tricky documents against what a browser draws of them.

The references beside the documents (10 pixels a millimetre, 17 greys) were drawn by a headless
Chromium; tests/bench/tricky_references.py draws them anew, and with --check compares at five times
the resolution, where every document but the named ones keeps 0.1 % of the area plus 2 um along the
edge. Here a step of grey is worth 6 um along an edge, so 8 um are allowed.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
from PIL import Image

from stopout.artwork import read_artwork
from stopout.artwork.check import render_regions
from stopout.planning.job import ArtworkRequest, Blank

FOLDER = Path(__file__).parent / "tricky"
# What the import leaves out, and says so.
TOLD = {
    "clip-css-shape": "the shape is not clipped",
    "non-scaling-stroke": "the line grows with the drawing",
}  # These have no edge where a browser draws none: see the closed form below.
APART = {*TOLD, "gradient-across"}


def documents():
    return sorted(path.stem for path in FOLDER.glob("*.svg"))


def imported(name):
    path = FOLDER / f"{name}.svg"
    blank = Blank(
        material="aluminium", width_mm=40.0, height_mm=24.0, thickness_mm=1.0, worked_side="front"
    )
    return read_artwork(path.read_bytes(), ArtworkRequest(file=path.name), blank, name=path.name)


def test_there_are_enough_of_them():
    assert len(documents()) >= 55


@pytest.mark.parametrize("name", [name for name in documents() if name not in APART])
def test_the_import_is_what_a_browser_draws(name):
    drawing = imported(name)
    with Image.open(FOLDER / f"{name}.png") as image:
        asked = np.asarray(image, dtype=np.float32) / 16
    down = shapely.transform(drawing.dark, lambda xy: (0, 24) + xy * (1, -1))
    ours = render_regions([(down, (0.0, 0.0, 0.0), 1.0)], (400, 240), px_per_mm=10.0)
    # Grey paint is dark or light as a whole: there the halves are compared instead.
    apart = min(np.abs(asked - ours).sum(), ((asked >= 0.5) != (ours >= 0.5)).sum()) / 100
    assert apart <= 0.001 * drawing.area_mm2 + 0.008 * drawing.dark.length


@pytest.mark.parametrize("name", TOLD)
def test_what_is_left_out_is_told_with_the_element(name):
    (finding,) = imported(name).findings
    assert finding.code == "artwork-ignored"
    assert finding.message.startswith("<")
    assert "(line 2)" in finding.message
    assert TOLD[name] in finding.message


def test_a_gradient_ends_where_its_tone_is_half():
    # Black to white over 36 mm from x = 2: half at 20. Radial: black up to 0.2 of 16 units, white
    # at 16: half at 0.6 of the radius, 0.4 mm to the unit.
    drawing = imported("gradient-across")
    bar, disc = sorted(shapely.get_parts(drawing.dark), key=lambda part: -part.bounds[3])
    assert bar.bounds == pytest.approx((2.0, 14.0, 20.0, 22.0), abs=1e-3)
    assert disc.area == pytest.approx(np.pi * (0.6 * 16 * 0.4) ** 2, rel=1e-3)
    assert [finding.code for finding in drawing.findings] == ["artwork-ignored"] * 2
