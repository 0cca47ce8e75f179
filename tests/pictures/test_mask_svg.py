"""The vector mask, read back by an independent XML reader."""

import re

import numpy as np
import pytest
import shapely
from lxml import etree
from shapely.geometry import MultiPolygon, Point, Polygon, box

from stopout.pictures import mask_svg

SVG = "{http://www.w3.org/2000/svg}"
RING = Point(3, 2).buffer(1.5).difference(Point(3, 2).buffer(0.5))


def _regions(data: bytes, height_mm: float):
    """Parts read back: each path's rings, even-odd, y up again."""
    parts = []
    for path in etree.fromstring(data).iter(SVG + "path"):
        rings = [
            np.array([[float(n) for n in p.split(",")] for p in re.split("[ML]", ring) if p])
            for ring in path.get("d").split("Z")[:-1]
        ]
        part = Polygon()
        for ring in rings:
            part = part.symmetric_difference(Polygon(ring * [1, -1] + [0, height_mm]))
        parts.append(part)
    return parts


def test_physical_size_and_view_box_are_the_blank():
    # SVG 1.1 (W3C Recommendation 2011), 7.2 and 7.7: one user unit is one millimetre.
    root = etree.fromstring(mask_svg(RING, width_mm=100, height_mm=60.5, title="x"))
    assert (root.get("width"), root.get("height")) == ("100mm", "60.5mm")
    assert root.get("viewBox") == "0 0 100 60.5"


def test_the_region_comes_back_within_a_tenth_of_a_micrometre_and_y_is_turned_over():
    two = shapely.union(RING, box(5, 0.5, 6, 1))
    parts = _regions(mask_svg(two, width_mm=10, height_mm=4, title="x"), 4)
    assert len(parts) == 2
    assert shapely.union_all(parts).symmetric_difference(two).area < 1e-4 * two.length


def test_coordinates_carry_four_decimals_at_most():
    path = mask_svg(RING, width_mm=10, height_mm=4, title="x").decode()
    data = re.findall(r' d="([^"]*)"', path)
    assert data
    assert not re.search(r"\.\d{5}|e-", "".join(data))


def test_the_order_of_parts_does_not_change_the_bytes():
    boxes = [box(x, y, x + 0.5, y + 0.5) for x in range(4) for y in range(3)]
    forward = mask_svg(MultiPolygon(boxes), width_mm=5, height_mm=5, title="x")
    assert forward == mask_svg(MultiPolygon(boxes[::-1]), width_mm=5, height_mm=5, title="x")


@pytest.mark.parametrize("title", ["A & B <plate>", "Visitors\u2019 hut", "tab\x01inside"])
def test_any_title_gives_readable_xml(title):
    root = etree.fromstring(mask_svg(RING, width_mm=5, height_mm=5, title=title))
    assert root.findtext(SVG + "title") == title.replace("\x01", " ")


def test_nothing_to_clear_is_a_drawing_without_paths():
    assert _regions(mask_svg(MultiPolygon(), width_mm=5, height_mm=5, title="x"), 5) == []
