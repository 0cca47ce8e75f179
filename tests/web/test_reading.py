"""The width at a place, held against drawings whose widths are known."""

from __future__ import annotations

import pytest
from shapely import affinity, union_all
from shapely.geometry import Point, box

from stopout.web.reading import width_at

FACE = box(0, 0, 80, 50)
# A bar 0.4 mm wide, one 7 mm wide, a disc of 3 mm; between the bars 2 mm of land.
BARS = union_all([box(10, 10, 60, 10.4), box(10, 12.4, 60, 19.4), Point(70, 30).buffer(1.5, 64)])


@pytest.mark.parametrize(
    ("place", "width_mm"),
    [
        ((30, 10.2), 0.4),
        ((30.3, 10.39), 0.4),
        ((40, 18), 7.0),
        ((70.9, 30.9), 3.0),
        ((35, 11.2), 2.0),
        ((5, 25), 50 - 19.4),
    ],
)
@pytest.mark.parametrize("turn_deg", [0, 33])
def test_a_bar_a_disc_and_the_land_between_have_their_own_width(place, width_mm, turn_deg):
    turned = [affinity.rotate(one, turn_deg, origin=(40, 25)) for one in (BARS, FACE, Point(place))]
    found = width_at(turned[0], turned[1], turned[2].coords[0])
    assert found == pytest.approx(width_mm, rel=0.01)
