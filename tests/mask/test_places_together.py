"""Thin places looked at together are as the plain way finds each by itself, within 0.5 um."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from effort import tries
from mask.plain_beside import spoils_land as plainly_spoils_land
from mask.plain_centre_line import centre_line as plain_centre_line
from stopout.mask.beside import spoils_land
from stopout.mask.centreline import centre_lines
from stopout.mask.offset import dilate, erode, swept
from stopout.mask.regions import as_multipolygon, parts_of
from stopout.mask.residue import strokes_lost
from stopout.mask.surroundings import Surroundings, near_in_own

REACH, TOLERANCE, SLACK = 0.1, 0.05, 0.001
SAME_MM = 0.00055

few = settings(
    max_examples=tries(24),
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)


@st.composite
def drawings(draw):
    """Strokes of one width each, some with a plump end, some that meet, beside and over others."""
    shapes = []
    for _ in range(draw(st.integers(1, 5))):
        points = draw(
            st.lists(
                st.tuples(st.integers(0, 30), st.integers(0, 30)),
                min_size=2,
                max_size=4,
                unique=True,
            )
        )
        width = draw(st.integers(3, 30)) / 100
        cap = draw(st.sampled_from(["flat", "round", "square"]))
        line = shapely.LineString(np.array(points) / 8)
        shapes.append(line.buffer(width / 2, cap_style=cap, quad_segs=8))
        if draw(st.booleans()):
            shapes.append(shapely.Point(line.coords[0]).buffer(0.25, quad_segs=16))
    return shapely.union_all(shapes)


def thin_places(target):
    """What a plain opening loses of strokes, and the beam centres."""
    centres = erode(target, REACH)
    kept = dilate(centres, REACH + SLACK)
    return strokes_lost(target, kept, depth_mm=3 * REACH, slack_mm=SLACK), centres


@few
@given(drawings())
def test_centre_lines_are_those_of_each_place_by_itself(target):
    places, centres = thin_places(target)
    drawn, core = Surroundings(target), Surroundings(centres)
    around = drawn.own_of_each(places, 4 * REACH)
    stop_at = near_in_own(core, drawn, places, 4 * REACH)
    found = centre_lines(places, around, stop_at, reach_mm=REACH, edge_tolerance_mm=TOLERANCE)
    for place, own, stop, line in zip(places, around, stop_at, found, strict=True):
        plain = plain_centre_line(
            place, own, reach_mm=REACH, edge_tolerance_mm=TOLERANCE, stop_at=stop
        )
        assert (line is None) == (plain is None)
        if plain is not None:
            assert shapely.hausdorff_distance(line.lines, plain.lines) < SAME_MM
            assert abs(line.half_width_mm.min() - plain.half_width_mm.min()) < SAME_MM


@few
@given(drawings(), st.sampled_from([0.0, 0.05, 0.15, 0.3]))
def test_land_is_spoilt_as_the_plain_way_finds_it(target, narrowest_land):
    places, _ = thin_places(target)
    lines = shapely.boundary(shapely.buffer(places, -0.01))
    made = np.array(
        [as_multipolygon(parts_of(one)) for one in swept(lines, (0.1, 0.1), 0.05)], dtype=object
    )
    asked = np.arange(len(made)) % 3 != 1
    how = {"edge_tolerance_mm": TOLERANCE, "narrowest_land_mm": narrowest_land}
    found = spoils_land(target, made, asked, **how)
    np.testing.assert_array_equal(found, plainly_spoils_land(target, made, asked, **how))


def test_only_what_lies_in_the_parts_that_a_place_touches_is_near_it():
    """Two parts 0.1 mm apart, a core in each; both places are of the first."""
    box = shapely.box
    drawn, cores = (
        [box(0, 0, 2, 1), box(2.1, 0, 4, 1)],
        [box(0.2, 0.2, 1.8, 0.8), box(2.3, 0.2, 3, 0.8)],
    )
    places = np.array([box(1.8, 0, 2, 0.2), box(1.8, 0.8, 2, 1)])
    found = near_in_own(Surroundings(cores), Surroundings(drawn), places, 0.5)
    expected = [(1.3, 0.2, 1.8, 0.7), (1.3, 0.3, 1.8, 0.8)]
    np.testing.assert_allclose(shapely.bounds(found), expected, rtol=0, atol=1e-9)


@pytest.mark.parametrize("top", [1.7, 3.0])
def test_what_lies_in_a_part_is_of_that_part_though_another_goes_round_it(top):
    """A channel open above, and a post in it: their boxes lie on each other."""
    box = shapely.box
    channel, post = box(0, 0, 4, 3).difference(box(1, 1, 3, 3)), box(1.2, 1.2, 2.8, top)
    places = np.array([box(0.8, 2.0, 1, 2.4), box(1.2, 1.3, 1.4, 1.6)])
    cores = [part.buffer(-0.2) for part in (channel, post)]
    found = near_in_own(Surroundings(cores), Surroundings([channel, post]), places, 0.5)
    assert not shapely.is_empty(found).any()
    assert shapely.within(found, np.array([channel, post])).all()
