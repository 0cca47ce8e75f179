"""Lands that the etch takes away, against what is drawn, opened and finished by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import Point, box, union_all

from stopout.mask import LocalWidths, land_across, lost_bridges, lost_counters
from stopout.mask.bridges import _ways_across
from stopout.mask.surroundings import Surroundings

NOWHERE = LocalWidths(at_mm=np.empty((0, 2)), width_mm=np.empty(0), length_mm=np.empty(0))


def lost(target, opening, excess, *, land=NOWHERE, n_filled=0, undercut=0.10):
    return lost_bridges(
        target,
        opening,
        target.union(excess),
        excess,
        land=lambda: land,
        n_filled=n_filled,
        undercut_mm=undercut,
    )


@pytest.mark.parametrize(("left", "right"), [(0.03, 0.05), (-0.02, 0.04), (0.0, -0.03)])
def test_a_bridge_is_measured_along_the_line_across_it(left, right):
    """Two fields 0.1 mm apart, each opened so far behind its drawn edge; negative is over it.

    The resist is 0.1 + left + right wide; each side comes out 0.1 less that beyond its edge.
    """
    fields = union_all([box(0, 0, 1, 1), box(1.1, 0, 2.1, 1)])
    opening = union_all([box(0, 0, 1 - left, 1), box(1.1 + right, 0, 2.1, 1)])
    (bridge,) = lost(fields, opening, box(1, 0, 1.1, 1))
    assert bridge.at_mm == pytest.approx((1.05, 0.5), abs=0.05)
    assert bridge.drawn_mm == pytest.approx(0.1)
    assert bridge.resist_mm == pytest.approx(0.1 + left + right)
    assert sorted(bridge.over_mm) == pytest.approx(sorted((0.1 - left, 0.1 - right)))


def test_a_bridge_that_the_beam_itself_clears_has_no_resist():
    fields = union_all([box(0, 0, 1, 1), box(1.1, 0, 2.1, 1)])
    (bridge,) = lost(fields, box(0, 0, 2.1, 1), box(1, 0, 1.1, 1))
    assert bridge.resist_mm == pytest.approx(0.0, abs=1e-9)
    assert bridge.over_mm == pytest.approx((0.15, 0.15))


def test_what_opens_from_beside_is_as_far_behind_as_it_is():
    """Left the nearest opening's corner stands 0.03 mm behind the edge and some way up along it."""
    fields = union_all([box(0, 0, 1, 1), box(1.1, 0, 2.1, 1)])
    opening = union_all([box(0, 0.54, 0.97, 1), box(1.12, 0, 2.1, 1)])
    (bridge,) = lost(fields, opening, box(1, 0, 1.1, 1))
    up = 0.54 - bridge.at_mm[1]
    assert bridge.resist_mm == pytest.approx(0.1 + math.hypot(0.03, up) + 0.02)


def test_without_an_opening_near_all_its_width_and_the_undercut_are_resist():
    fields = union_all([box(0, 0, 1, 1), box(1.1, 0, 2.1, 1)])
    (bridge,) = lost(fields, box(8, 8, 9, 9), box(1, 0, 1.1, 1))
    assert (bridge.resist_mm, *bridge.over_mm) == pytest.approx((0.3, 0.0, 0.0))


def test_each_pair_of_parts_has_one_bridge_and_the_narrowest_comes_first():
    """However narrow between parts; a sliver along one part alone is none."""
    three = union_all([box(0, 0, 1, 1), box(1.1, 0, 2.1, 1), box(2.105, 0, 3, 1)])
    excess = union_all([box(1, 0.2, 1.1, 0.6), box(2.1, 0.1, 2.105, 0.9), box(0, 1, 1, 1.02)])
    # Nor is what touches no part at all.
    found = lost(three, three, union_all([excess, box(8, 0, 9, 1)]))
    assert [bridge.drawn_mm for bridge in found] == pytest.approx([0.005, 0.1])
    assert found[1].at_mm == pytest.approx((1.05, 0.4), abs=0.05)


# A room of land that is reached from outside by a channel 0.1 mm wide; perhaps a counter beside.
ROOM, CHANNEL, COUNTER = box(1, 1, 2, 2), box(1.45, 0, 1.55, 1), box(2.4, 1, 2.5, 1.1)
ALONG = np.array([[1.5, 0.2], [1.5, 0.4], [1.5, 0.7], [1.5, 1.5]])
WIDTHS = LocalWidths(
    at_mm=ALONG, width_mm=np.array([0.11, 0.10, 0.12, 1.0]), length_mm=np.full(4, 0.2)
)


@pytest.mark.parametrize("with_counter", [False, True])
def test_a_channel_that_closes_parts_a_room_of_land_from_the_rest(with_counter):
    """One hole more, though a counter that is filled makes one fewer."""
    plate = box(0, 0, 3, 3).difference(union_all([ROOM, CHANNEL]))
    excess = CHANNEL
    if with_counter:
        plate, excess = plate.difference(COUNTER), union_all([CHANNEL, COUNTER])
    (bridge,) = lost(plate, plate, excess, land=WIDTHS, n_filled=int(with_counter))
    assert bridge.drawn_mm == pytest.approx(0.1)
    assert bridge.at_mm == pytest.approx((1.5, 0.4))


@pytest.mark.parametrize(("gap", "count"), [(0.0095, 0), (0.0105, 1)])
def test_a_gap_within_one_part_is_a_land_from_ten_micrometres_on(gap, count):
    """Ours: what is narrower the arithmetic has made."""
    part = box(0, 0, 2, 1).difference(box(1, 0.2, 1 + gap, 2))
    ways = _ways_across(box(1, 0.5, 1 + gap, 0.8), Surroundings([part]))
    assert [way.length for way in ways] == pytest.approx([gap] * count)


def test_parts_that_touch_in_a_corner_have_no_way_across():
    squares = [box(0, 0, 1, 1), box(1, 1, 2, 2)]
    assert _ways_across(box(1, 0.5, 1.5, 1), Surroundings(squares)) == []
    (way,) = _ways_across(box(1, 0.5, 1.5, 1.1), Surroundings([squares[0], box(1, 1.1, 2, 2)]))
    assert way.length == pytest.approx(0.1)


def test_a_land_whose_other_side_is_not_found_is_not_measured():
    """Told to be a thousandth of its width, it is looked for no farther than four times that."""
    plate = box(0, 0, 3, 3).difference(union_all([ROOM, CHANNEL]))
    assert not lost(plate, plate, CHANNEL, land=replace(WIDTHS, width_mm=WIDTHS.width_mm / 1000))


def test_a_channel_filled_from_its_blind_end_parts_nothing():
    plate = box(0, 0, 3, 3).difference(CHANNEL)
    assert not lost(plate, plate, box(1.45, 0.5, 1.55, 1), land=WIDTHS)


def test_a_channel_filled_from_its_blind_end_parts_nothing_beside_one_that_does():
    blind = box(2.6, 0, 2.7, 1)
    plate = box(0, 0, 3, 3).difference(union_all([ROOM, CHANNEL, blind]))
    widths = replace(
        WIDTHS,
        at_mm=np.vstack([ALONG, [[2.65, 0.7]]]),
        width_mm=np.append(WIDTHS.width_mm, 0.1),
        length_mm=np.append(WIDTHS.length_mm, 0.2),
    )
    (bridge,) = lost(plate, plate, CHANNEL | box(2.6, 0.5, 2.7, 1), land=widths)
    assert bridge.at_mm == pytest.approx((1.5, 0.4))


def test_filled_counters_are_measured_across_their_largest_disc():
    """A slit of 0.1 by 0.3 mm and a disc of 0.2 mm, opened 0.03 mm behind the drawn edge."""
    counters = union_all([box(1, 1, 1.1, 1.3), Point(2, 2).buffer(0.1, quad_segs=64)])
    opening = box(0, 0, 3, 3).difference(counters.buffer(0.03, quad_segs=64))
    slit, disc = sorted(
        lost_counters(counters, opening, undercut_mm=0.1), key=lambda found: found.drawn_mm
    )
    assert (slit.drawn_mm, slit.resist_mm) == pytest.approx((0.1, 0.16), abs=1e-3)
    assert slit.over_mm == pytest.approx((0.07, 0.07), abs=1e-3)
    assert slit.at_mm[0] == pytest.approx(1.05, abs=1e-3)
    assert (disc.drawn_mm, disc.resist_mm) == pytest.approx((0.2, 0.26), abs=2e-3)
    assert disc.at_mm == pytest.approx((2, 2), abs=2e-3)


def test_a_land_is_measured_from_its_nearest_edge_to_the_one_opposite():
    fields = union_all([box(0, 0, 1, 1), box(1.1, 0, 2.1, 1)])
    opening = union_all([box(0, 0, 0.97, 1), box(1.15, 0, 2.1, 1)])
    land = land_across((1.04, 0.5), fields, opening, undercut_mm=0.08, longest_mm=0.2)
    assert land.drawn_mm == pytest.approx(0.1)
    assert land.at_mm == pytest.approx((1.05, 0.5))
    assert land.resist_mm == pytest.approx(0.18)
    assert sorted(land.over_mm) == pytest.approx([0.03, 0.05])
    # No land, or one whose other side is farther than is looked.
    for at, longest in (((0.5, 0.5), 0.2), ((1.04, 0.5), 0.05), ((1.05, 3.0), 0.2)):
        how = {"undercut_mm": 0.08, "longest_mm": longest}
        assert land_across(at, fields, opening, **how) is None


def test_nothing_beyond_the_target_is_no_bridge():
    assert lost(box(0, 0, 1, 1), box(0, 0, 1, 1), shapely.MultiPolygon()) == ()
