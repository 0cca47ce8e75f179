"""A handful of icons of a free package, each against a rendering of the file itself.

tests/bench/bench_icons.py compares hundreds with a browser; docs/reference/icons.md has the worst.
"""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
import shapely

from stopout.artwork import read_artwork
from stopout.artwork.check import render_regions, render_svg
from stopout.artwork.scale import Page
from stopout.job.record import ArtworkRequest, Blank

PACKAGE = find_spec("py_phosphor_icons")
BLANK = Blank(
    material="aluminium", width_mm=40.0, height_mm=40.0, thickness_mm=1.0, worked_side="front"
)


def icons():
    if PACKAGE is None or not PACKAGE.submodule_search_locations:
        return []
    files = sorted(Path(PACKAGE.submodule_search_locations[0]).rglob("*.svg"))
    plain = [path for path in files if "duotone" not in path.stem and "logo" not in path.stem]
    return plain[:: len(plain) // 12][:12]


@pytest.mark.skipif(PACKAGE is None, reason="the icons are not installed: pip install .[test]")
def test_icons_at_40_mm_differ_from_their_rendering_by_a_thousandth_and_5_um_along_the_edge():
    assert len(icons()) == 12
    for path in icons():
        data = path.read_bytes()
        request = ArtworkRequest(file="icon.svg", width_mm=40.0)
        drawing = read_artwork(data, request, BLANK, name=path.stem)
        page = Page(width=256.0, height=256.0, mm_per_unit=None, kind="SVG")
        sized = data.replace(b"<svg ", b'<svg width="256" height="256" ', 1)
        asked = render_svg(sized, page, px_per_unit=1000 / 256)
        down = shapely.transform(drawing.dark, lambda xy: (0, 40) + xy * (1, -1))
        ours = render_regions([(down, (0.0, 0.0, 0.0), 1.0)], (1000, 1000), px_per_mm=25.0)
        apart = float(np.abs(asked - ours).sum()) / 625
        assert apart < 0.001 * drawing.area_mm2 + 0.005 * drawing.dark.length, path.stem
