"""The sheet's drawings from plainer regions, held to the plain way; holes told by rows."""

from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from effort import tries
from stopout.sheet.drawings.maps import _marks
from stopout.sheet.steps import hole_places


def plain_marks(deviation, other):
    """The same marks from every vertex and the whole of the edge, without trees or thinning."""
    points = shapely.points(shapely.get_coordinates(deviation))
    off = shapely.distance(points, shapely.boundary(other))
    taken = []
    for k in np.argsort(-off, kind="stable"):
        if off[k] >= 0.01 and all(shapely.distance(points[k], points[j]) >= 1 for j in taken):
            taken.append(k)
    return [(points[k], off[k]) for k in taken]


@settings(max_examples=tries(40), deadline=None)
@given(
    places=st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)), unique=True, min_size=1),
    radius=st.floats(0.3, 1.0),
    out=st.floats(0.02, 0.2),
)
def test_marks_of_a_deviation_are_those_of_the_plain_way(places, radius, out):
    target = shapely.union_all(
        shapely.buffer(shapely.points(4.0 * np.array(places)), radius, quad_segs=64)
    )
    first = shapely.points(4.0 * np.array(places[0]))
    finished = shapely.union(target, shapely.buffer(first, radius + out, quad_segs=64))
    stray = shapely.difference(finished, target)
    plain = plain_marks(stray, target)
    for is_round in (False, True):
        found = _marks(stray, target, is_round=is_round)
        # Which of points as far off comes first is left open, and with it how many find room: no
        # two are a millimetre near each other, and none of the plain ones is farther from all of
        # them than that and a chord of the thinned edge.
        at = shapely.points([mark.at_mm for mark in found])
        gaps = shapely.distance(at[:, None], at[None, :])[np.triu_indices(len(at), 1)]
        assert len(gaps) == 0 or gaps.min() >= 1
        assert all(shapely.distance(at, place).min() <= 1.2 for place, _ in plain)
        assert found[0].off_mm == pytest.approx(plain[0][1], abs=0.004)
        assert all(mark.off_mm == pytest.approx(out, abs=0.004) for mark in found)


@settings(max_examples=tries(60), deadline=None)
@given(
    path=st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=2, max_size=6),
    radius=st.floats(0.04, 0.1),
    in_by=st.floats(0.0, 0.03),
)
def test_what_holds_no_disc_of_what_a_mark_swept_has_no_mark_on_the_map(path, radius, in_by):
    line = shapely.LineString(0.1 * np.array(path) + 1e-3 * np.arange(len(path))[:, None])
    finished = shapely.buffer(line, radius, quad_segs=32)
    drawn = shapely.buffer(line, radius - in_by, cap_style="flat", join_style="bevel")
    stray = shapely.difference(finished, drawn)
    found, plain = _marks(stray, drawn, is_round=True), _marks(stray, drawn, is_round=False)
    assert [mark.at_mm for mark in found] == [mark.at_mm for mark in plain]


def holes(*places, diameter=3.0):
    """A plan as far as its holes are asked for."""
    made = [SimpleNamespace(at_mm=place, diameter_mm=diameter) for place in places]
    return SimpleNamespace(job=SimpleNamespace(blank=SimpleNamespace(holes=made)))


def test_holes_of_a_panel_are_told_by_rows_and_a_few_one_by_one():
    rows = [(x, y) for x in (9.5, 52.5, 95.5) for y in (24.0, 47.0, 70.0)]
    assert hole_places(holes(*rows)).replace("\u00a0", " ") == (
        "9 of 3 mm, one at each X 9.5, 52.5, 95.5 and each Y 24, 47, 70 mm"
    )
    # With one of them left out it is no grid: each has its place.
    assert hole_places(holes(*rows[:-1], (100.0, 80.0))).count(" at (") == 9
    assert hole_places(holes((1.0, 2.0))).replace("\u00a0", " ") == "3 mm at (1, 2) mm"
