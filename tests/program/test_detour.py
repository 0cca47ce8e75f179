"""Travels round keep-outs: checked against closed forms and, by geometry, against shapely."""

from __future__ import annotations

import math

import numpy as np
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from effort import tries
from program.winch_machine import ROW, machine, moves
from stopout.program import prove, round_keep_outs

AT_CORNER = (0.0, 0.0)


def led(rows, *boxes, bed=(100.0, 100.0)):
    return round_keep_outs(
        moves(*rows), machine=machine(keep_outs_mm=boxes, bed_mm=bed), blank_at_mm=AT_CORNER
    )


def test_a_travel_goes_round_the_nearer_side_half_a_millimetre_off():
    rows = [(10, 20, True, 100, 0), (50, 20, True, 100, 0)]
    way = led(rows, (20.0, 10.0, 40.0, 25.0))
    assert way.end_mm.tolist() == [[10, 20], [19.5, 25.5], [40.5, 25.5], [50, 20]]
    assert way.rapid.all()
    # In closed form: two slanted legs and the straight one.
    assert way.length_mm[1:].sum() == math.hypot(9.5, 5.5) * 2 + 21


def test_a_travel_passes_between_two_clamps_by_a_corner_of_each():
    """A slalom: over the first, which reaches the bed's lower edge, and under the second."""
    rows = [(5, 20, True, 100, 0), (95, 20, True, 100, 0)]
    way = led(rows, (20.0, 0.0, 30.0, 60.0), (60.0, 100.0, 70.0, 10.0))
    assert way.end_mm.tolist() == [
        [5, 20], [19.5, 60.5], [30.5, 60.5], [59.5, 9.5], [70.5, 9.5], [95, 20]
    ]  # fmt: skip
    legs = [(14.5, 40.5), (11, 0), (29, 51), (11, 0), (24.5, 10.5)]
    assert way.length_mm[1:].sum() == math.fsum(math.hypot(*leg) for leg in legs)
    # The other way about, and with the blank elsewhere on the bed, it is the same way.
    back = led([(95, 20, True, 100, 0), (5, 20, True, 100, 0)], (20, 0, 30, 60), (60, 10, 70, 100))
    assert back.end_mm[-6:].tolist() == way.end_mm[::-1].tolist()
    moved = round_keep_outs(
        moves((0, 0, True, 100, 0), (90, 0, True, 100, 0)),
        machine=machine(keep_outs_mm=((20, 0, 30, 60), (60, 10, 70, 100)), bed_mm=(100.0, 100.0)),
        blank_at_mm=(5.0, 20.0),
    )
    assert np.add(moved.end_mm, (5, 20)).tolist() == way.end_mm.tolist()
    assert set(moved.speed_mm_s.tolist()) == {100.0}


def test_travels_that_enter_nothing_and_cuts_stay_as_they_are():
    rows = [*ROW, (60, 5, True, 100, 0)]
    assert led(rows, (20.0, 10.0, 40.0, 25.0)).end_mm.tolist() == moves(*rows).end_mm.tolist()
    cut = [(10, 20, True, 100, 0), (50, 20, False, 20, 0)]
    assert len(led(cut, (20.0, 10.0, 40.0, 25.0))) == 2
    assert len(led(cut)) == 2


def test_a_travel_along_the_border_of_a_clamp_or_of_no_clamp_goes_straight():
    for rows in ([(10, 25, True, 100, 0), (50, 25, True, 100, 0)], [(40, 5, True, 100, 0),
                 (40, 90, True, 100, 0)]):  # fmt: skip
        assert led(rows, (20.0, 10.0, 40.0, 25.0)).end_mm.tolist() == moves(*rows).end_mm.tolist()
    assert len(led([], (20.0, 10.0, 40.0, 25.0))) == 0


def test_a_travel_squeezes_through_where_half_a_millimetre_is_too_much():
    rows = [(10, 20, True, 100, 0), (50, 20, True, 100, 0)]
    way = led(rows, (20.0, 0.0, 30.0, 99.8))
    assert len(way) == 4
    assert way.y_mm.max() == 99.85


def test_where_there_is_no_way_the_travel_is_left_for_the_proof_to_refuse():
    rows = [(10, 20, True, 100, 0), (50, 20, True, 100, 0)]
    wall = (20.0, 0.0, 30.0, 100.0)
    assert len(led(rows, wall)) == 2
    assert len(led(rows, wall, (60.0, 60.0, 70.0, 70.0))) == 2
    codes = prove(
        led(rows, wall),
        machine=machine(keep_outs_mm=(wall,), bed_mm=(100.0, 100.0)),
        blank_at_mm=AT_CORNER,
    )
    assert [problem.code for problem in codes] == ["keep-out"]


spot = st.tuples(st.integers(0, 100), st.integers(0, 100))
clamp = st.tuples(st.integers(1, 80), st.integers(1, 80), st.integers(3, 25), st.integers(3, 25))


@settings(max_examples=tries(150), deadline=None)
@given(st.lists(spot, min_size=1, max_size=5), st.lists(clamp, min_size=1, max_size=4))
def test_no_travel_enters_a_clamp_where_its_ends_are_free(spots, clamps):
    boxes = tuple((float(x), float(y), float(x + w), float(y + h)) for x, y, w, h in clamps)
    solid = [shapely.box(*box) for box in boxes]
    spots = [at for at in spots if not any(b.buffer(1).covers(shapely.Point(at)) for b in solid)]
    assume(spots)
    rows = [(*at, True, 100.0, 0.0) for at in spots]
    way = led(rows, *boxes, bed=(120.0, 120.0))
    straight = moves(*rows)
    lines = shapely.linestrings(np.stack([way.start_mm, way.end_mm], axis=1))
    # To run along a clamp's edge is not to enter it.
    within = np.array([b.buffer(-1e-4) for b in solid])
    inside = shapely.intersection(lines[:, None], within[None, :])
    entered = (shapely.length(inside) > 1e-3).any()
    # Clamps that meet may shut a place in; a lane is left along the edges of the bed.
    walls = shapely.get_parts(shapely.union_all([b.buffer(0.06) for b in solid]))
    if not any(len(wall.interiors) for wall in walls):
        assert not entered
    assert way.length_mm.sum() >= straight.length_mm.sum() - 1e-9
    # Every place is still visited, in order.
    visited = iter(way.end_mm.tolist())
    assert all(list(map(float, at)) in visited for at in spots)
