"""Shapes that no coat of a sign shows: areas of plain rectangles."""

import pytest
import shapely
from shapely.geometry import box

from stopout.planning.job import Coat, Shows
from stopout.planning.shows import shown_by_coats
from stopout.planning.unclaimed import unclaimed_findings
from stopout.values import Drawing, DrawnShape, Level

FACE = box(0, 0, 40, 20)
RED, CREAM = box(2, 2, 38, 8), box(5, 12, 15, 14)


def shape(fill, region):
    return DrawnShape(fill=fill, ident="", classes=(), region=region)


def found(coats, *shapes):
    dark = [s.region for s in shapes if s.fill in ("#b22222", "#000000")]
    drawing = Drawing(
        file="sign.svg",
        sha256="1" * 64,
        width_mm=40.0,
        height_mm=20.0,
        dark=shapely.union_all(dark),
        shapes=shapes,
    )
    return unclaimed_findings(coats, shown_by_coats(coats, drawing, FACE), drawing, FACE)


def coat(kind, value="", colour="black"):
    return Coat(paint="acrylic-lacquer", colour=colour, shows=Shows(kind=kind, value=value))


DARK = (coat("rest"), coat("dark", colour="clear"))


def test_light_lettering_that_dark_leaves_out_is_a_caution_with_fill_and_area():
    (finding,) = found(DARK, shape("#b22222", RED), shape("#e8dcb5", CREAM))
    assert (finding.code, finding.level) == ("fill-unclaimed", Level.CAUTION)
    assert "20.00 mm^2 drawn in #e8dcb5" in finding.message
    assert "coat 1, black" in finding.message
    assert CREAM.contains(shapely.Point(finding.at_mm))


def test_a_coat_that_shows_the_fill_ends_it_as_the_remedy_says():
    coats = (*DARK, coat("fill", "#e8dcb5", "cream"))
    assert found(coats, shape("#b22222", RED), shape("#e8dcb5", CREAM)) == []


def test_shapes_of_one_fill_are_told_together_the_largest_fill_first():
    green = box(20, 10, 38, 18)
    more = box(16, 12, 17, 14)
    shapes = [shape("#e8dcb5", CREAM), shape("#e8dcb5", more), shape("#c0ffc0", green)]
    messages = [f.message for f in found(DARK, shape("#b22222", RED), *shapes)]
    assert [m.split(" is shown")[0] for m in messages] == [
        "144.00 mm^2 drawn in #c0ffc0",
        "22.00 mm^2 drawn in #e8dcb5",
    ]


@pytest.mark.parametrize(
    ("fill", "region"), [("#ffffff", CREAM), ("#c8d8e8", FACE.difference(RED))]
)
def test_white_and_the_ground_are_left_to_the_rest(fill, region):
    assert found(DARK, shape("#b22222", RED), shape(fill, region)) == []
