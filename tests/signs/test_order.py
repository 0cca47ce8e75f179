"""Other orders of the coats: the closed form of what they clear, and the same front."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import box

from stopout.job.record import Coat, Shows
from stopout.planning.signs.layers import clearings
from stopout.planning.signs.order import best_order, cleared_mm2, order_findings

FACE = box(0, 0, 60, 40)
BAR, DOT = box(5, 5, 55, 12), box(20, 20, 30, 30)
GROUND = FACE.difference(BAR).difference(DOT)


def coat(colour):
    return Coat(paint="acrylic-lacquer", colour=colour, shows=Shows(kind="rest"))


COATS = [coat("red"), coat("black"), coat("white")]
SHOWN = [BAR, DOT, GROUND]


def tried(coats=COATS, shown=SHOWN, last=None, **changes):
    setting = {"now_s": 4200.0, "now_sliver_mm": 0.0, "error_mm": 0.1, "edge_mm": 0.05}
    return best_order(
        coats, shown, face=FACE, is_last=last or [False] * len(coats), **{**setting, **changes}
    )


def test_the_area_cleared_is_each_coat_s_own_times_those_before_it():
    cleared = clearings(SHOWN, method="one-by-one", error_mm=0)
    areas = [region.area for region in SHOWN]
    assert cleared_mm2(areas) == pytest.approx(sum(c.area for c in cleared if c is not None))


def test_the_ground_goes_on_first_and_the_time_falls_with_the_area():
    order = tried()
    assert order.coats == (3, 1, 2)
    # Ground 1950, bar 350, dot 100: 350 + 2 * 100 = 550 instead of 100 + 2 * 1950 = 4000.
    assert order.time_s == pytest.approx(4200 * 550 / 4000)
    (finding,) = order_findings(COATS, order)
    assert (finding.code, finding.level) == ("coat-order", "caution")
    assert "white, red, black" in finding.message
    assert "10 min of clearing instead of 70 min" in finding.message


def test_misses_that_are_printed_alike_are_not_told_apart():
    order = tried()
    for now, is_told in ((0.082, False), (0.13, True)):
        alike = replace(order, sliver_mm=0.08, now_sliver_mm=now)
        (finding,) = order_findings(COATS, alike)
        assert ("a miss shows" in finding.message) is is_told


def test_an_order_that_is_the_best_already_is_left_alone():
    assert tried([COATS[2], COATS[0], COATS[1]], [GROUND, BAR, DOT]) is None
    assert order_findings(COATS, None) == []


def test_windows_stay_last():
    order = tried(last=[False, False, True])
    # Bar and dot alone may change places, which saves 250 of 4000: not worth a word.
    assert order is None


def test_an_order_that_shows_more_of_a_wrong_colour_is_not_advised():
    # Red and black meet: with the ground first their clearings can miss each other.
    shown = [BAR, box(5, 12, 55, 20), FACE.difference(box(5, 5, 55, 20))]
    free, strict = tried(shown=shown, now_sliver_mm=1.0), tried(shown=shown, now_sliver_mm=-1.0)
    assert free is not None
    assert strict is None
