"""Icons typeset into a PDF are read as the icons themselves; the bench has the whole comparison."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import pytest
import shapely

from stopout.artwork import read_artwork
from stopout.job.record import ArtworkRequest, Blank

PACKAGE = find_spec("py_phosphor_icons")
BLANK = Blank(
    material="aluminium", width_mm=40.0, height_mm=40.0, thickness_mm=1.0, worked_side="front"
)
PAGE = (
    b"#set page(width: 40mm, height: 40mm, margin: 0mm)\n"
    b'#image(bytes(sys.inputs.svg), format: "svg", width: 100%)'
)


def icons():
    if PACKAGE is None or not PACKAGE.submodule_search_locations:
        return []
    files = sorted(Path(PACKAGE.submodule_search_locations[0]).rglob("*.svg"))
    plain = [path for path in files if "duotone" not in path.stem and "logo" not in path.stem]
    return plain[7 :: len(plain) // 5][:5]


@pytest.mark.skipif(PACKAGE is None, reason="the icons are not installed: pip install .[test]")
def test_a_pdf_of_an_icon_differs_from_the_icon_by_no_more_than_10_um_along_the_edge():
    import typst

    assert len(icons()) == 5
    for path in icons():
        svg = path.read_bytes()
        pdf = bytes(typst.compile(PAGE, format="pdf", sys_inputs={"svg": svg.decode("utf-8")}))
        one, two = (
            read_artwork(data, ArtworkRequest(file="a", width_mm=40.0), BLANK, name=path.stem)
            for data in (svg, pdf)
        )
        apart = shapely.symmetric_difference(one.dark, two.dark).area
        assert apart < 0.010 * one.dark.length, path.stem
