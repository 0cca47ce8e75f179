"""Small helpers on regions, on squares."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely import GeometryCollection, LineString, MultiPolygon, Point, box

from stopout.mask.regions import (
    chords_of,
    clip_each,
    count_holes,
    gathered,
    meeting,
    mirror_left_right,
    parts_of,
    parts_of_each,
    scale_y,
    united,
)
from stopout.mask.residue import _n_contacts, _n_runs

HOLED = box(0, 0, 4, 4).difference(box(1, 1, 2, 3))


@pytest.mark.parametrize(("within", "count"), [(0.0, 0), (0.9, 0), (1.1, 2), (4.1, 4)])
def test_each_pair_that_lies_within_a_distance_is_found_once_on_every_side(within, count):
    """Gaps of 1 mm beside and above, of 4 mm to the other pair (two ways), 4.12 across."""
    parts = [box(5, 0, 6, 1), box(0, 0, 1, 1), box(5, 2, 6, 3), box(-2, 0, -1, 1)]
    for order in ([0, 1, 2, 3], [3, 2, 1, 0], [1, 2, 0, 3]):
        one, other = meeting(np.array(parts, dtype=object)[order], within)
        pairs = {frozenset((order[i], order[j])) for i, j in zip(one, other, strict=True)}
        assert len(pairs) == len(one)
        near = {frozenset((1, 3)), frozenset((0, 2))}
        far = {frozenset((0, 1))}
        assert pairs == (set() if within < 1 else near if within < 4 else near | far)


def test_of_no_regions_there_are_no_parts():
    parts, owner = parts_of_each([])
    assert (len(parts), len(owner)) == (0, 0)


def test_what_touches_meets_at_no_distance():
    one, other = meeting(np.array([box(0, 0, 1, 1), box(1, 0, 2, 1), HOLED], dtype=object), 0.0)
    assert {(i, j) for i, j in zip(one.tolist(), other.tolist(), strict=True)} == {
        (0, 1),
        (0, 2),
        (1, 2),
    }


def test_parts_are_polygons_that_have_an_area_however_deep_they_stand():
    speck, line = box(9, 9, 9.00009, 9.00009), LineString([(0, 0), (1, 1)])
    deep = GeometryCollection([GeometryCollection([HOLED, line]), speck, Point(1, 1)])
    assert [part.area for part in parts_of([deep, box(5, 5, 6, 6)])] == [14, 1]
    parts, owner = parts_of_each(np.array([MultiPolygon(), deep, box(5, 5, 6, 6)], dtype=object))
    assert [part.area for part in parts] == [14, 1]
    assert owner.tolist() == [1, 2]


def test_parts_are_gathered_and_united_owner_by_owner():
    parts, owner = np.array([box(0, 0, 2, 2), box(1, 0, 3, 2), HOLED], dtype=object), [0, 0, 2]
    found = gathered(parts, np.array(owner), 4)
    assert [len(one.geoms) for one in found] == [2, 0, 1, 0]
    assert [one.area for one in united(parts, np.array(owner), 4)] == [6, 0, 14, 0]
    assert [one.area for one in united(parts[:0], np.array([], dtype=np.intp), 2)] == [0, 0]


def test_holes_chords_and_mirrors_are_counted_and_laid_out_by_hand():
    assert count_holes(np.array([HOLED, box(0, 0, 1, 1)], dtype=object)) == 1
    chords = chords_of(np.array([HOLED, LineString([(8, 0), (9, 0), (9, 2)])], dtype=object))
    assert len(chords) == 10
    assert shapely.length(chords).sum() == pytest.approx(16 + 6 + 3)
    assert mirror_left_right(box(1, 0, 3, 2), width_mm=10).bounds == (7, 0, 9, 2)
    assert scale_y(box(1, 1, 2, 2), 3.0).bounds == (1, 3, 2, 6)


def test_each_polygon_is_cut_off_at_its_own_rectangle_and_stays_whole_within():
    shapes = np.array([HOLED, HOLED, box(0, 0, 4, 4)], dtype=object)
    frames = np.array([(-1, -1, 9, 9), (0, 0, 1.5, 4), (3, -1, 9, 2)], dtype=float)
    found = clip_each(shapes, frames)
    assert found[0] is HOLED
    assert [one.area for one in found] == [14, 5, 2]
    assert shapely.is_valid(found).all()
    # A hole's edge along the rectangle; and one that meets a notch's corner, along it too.
    notched = box(0, 0, 3, 3).difference(shapely.union_all([box(1, 1, 2, 2), box(2, 0, 3, 1)]))
    shapes, frames = np.array([HOLED, notched, HOLED]), [(0, 0, 2.0, 4), (1, 0, 3, 3), (0, 0, 9, 9)]
    found = clip_each(shapes, np.array(frames))
    assert shapely.is_valid(found).all()
    whole = shapely.intersection(shapes, shapely.box(*np.transpose(frames)))
    assert shapely.area(found).tolist() == shapely.area(whole).tolist()


@pytest.mark.parametrize("side", range(4))
def test_a_loss_that_touches_on_one_side_has_one_contact_there_whichever_it_is(side):
    lost = np.array([box(0, 0, 1, 1)], dtype=object)
    beside = [box(1, 0, 2, 1), box(-1, 0, 0, 1), box(0, 1, 1, 2), box(0, -1, 1, 0)]
    for more, count in (([], 1), ([beside[(side + 1) % 4]], 2)):
        kept = shapely.STRtree([beside[side], *more])
        # Two that meet at a corner touch it along one stretch.
        found = _n_contacts(lost, kept, 0.001)[0]
        assert found in ({1, 2} if count == 2 else {1})
    opposite = shapely.STRtree([beside[side], beside[side ^ 1]])
    assert _n_contacts(lost, opposite, 0.001)[0] == 2


def test_only_parts_of_one_owner_meet_where_owners_are_told():
    row = np.array([box(k, 0, k + 1, 1) for k in range(4)], dtype=object)
    one, other = meeting(row, 0.0, owner=np.array([0, 0, 1, 1]))
    assert sorted(zip(one.tolist(), other.tolist(), strict=True)) == [(0, 1), (2, 3)]


@pytest.mark.parametrize("seed", range(12))
def test_runs_of_edges_are_counted_round_each_ring_as_one_counts_them_by_hand(seed):
    """A plate of 9 edges with a hole of 7, and one of 5 edges; a dot lies on some of the edges."""
    rng = np.random.default_rng(seed)
    turns = [np.linspace(0, 2 * np.pi, n, endpoint=False) for n in (9, 7, 5)]
    outer, inner, other = (np.column_stack([np.cos(t), np.sin(t)]) for t in turns)
    lost = np.array([shapely.Polygon(5 * outer, [2 * inner]), shapely.Polygon(other)])
    kept, runs = [], []
    for plate in lost:
        dots, count = [Point(50, 50)], 0
        for ring in (plate.exterior, *plate.interiors):
            edges = [LineString(pair) for pair in pairwise(ring.coords)]
            on = (rng.random(len(edges)) < rng.choice([0.1, 0.5, 0.9, 1])).tolist()
            dots += [edges[k].interpolate(0.5, normalized=True) for k in np.flatnonzero(on)]
            count += all(on) + sum(on[k] and not on[k - 1] for k in range(len(on)))
        kept.append(shapely.union_all(shapely.buffer(dots, 0.01)))
        runs.append(count)
    assert _n_runs(lost, np.array(kept), 0.001).tolist() == runs
