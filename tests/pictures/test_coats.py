"""Colours of a sign that print alike in grey are parted by a line, the others are not."""

from __future__ import annotations

import pytest
import shapely
from shapely.geometry import box

from stopout.pictures.means.drawing import Frame
from stopout.pictures.piece.coats import front, parted_front
from stopout.pictures.piece.scene import PreviewScene

FACE = box(0, 0, 20, 10)
NOTHING = shapely.MultiPolygon()
FRAME = Frame(left_px=0, top_px=0, px_per_mm=10, width_mm=20, height_mm=10)
SCENE = PreviewScene(
    title=("Sluice board",),
    width_mm=20,
    height_mm=10,
    blank=FACE,
    target=NOTHING,
    opening=NOTHING,
    finished=NOTHING,
    too_much=NOTHING,
    too_little=NOTHING,
    is_back_worked=True,
    material="acrylic-cast",
)


@pytest.mark.parametrize(("second", "parted"), [("red", True), ("ivory", False)])
def test_a_line_parts_what_blue_would_swallow_in_grey(second, parted):
    bar = box(2, 2, 8, 8)
    view = (("blue", FACE.difference(bar)), (second, bar))
    assert ('stroke="#fff"' in parted_front(SCENE, view, FRAME)) is parted
    assert "stroke=" not in front(SCENE, view, FRAME)
