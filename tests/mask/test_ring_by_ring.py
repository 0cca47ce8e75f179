"""Polygons of many holes are offset ring by ring: held to the geometry library's own offset."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from effort import tries
from stopout.mask.offset import _MANY, offset_areas, offset_each
from stopout.mask.regions import meeting, parts_of

_HALF_UM = 0.0005


def screen(seed: int, count: int = 12, gap_mm: float = 1.0) -> shapely.Polygon:
    """A land between dots of many sizes, some of which all but meet, or lie near its rim."""
    rng = np.random.default_rng(seed)
    at = gap_mm * (np.stack(np.meshgrid(range(count), range(count)), -1).reshape(-1, 2) + 0.75)
    dots = shapely.buffer(
        shapely.points(at + rng.uniform(-0.1, 0.1, at.shape)),
        rng.uniform(0.05, 0.6, len(at)) * gap_mm,
        quad_segs=3,
    )
    land = shapely.box(0, 0, count + 0.5, count + 0.5).difference(shapely.union_all(dots))
    return max(parts_of(land), key=shapely.get_num_interior_rings)


def told_apart(region):
    """The parts that are wider than half a micrometre."""
    return [part for part in parts_of(region) if not part.buffer(-_HALF_UM / 2).is_empty]


@given(seed=st.integers(0, 10_000), by_mm=st.floats(-0.4, 0.4).filter(lambda by: abs(by) > 1e-3))
@settings(max_examples=tries(60), deadline=None)
def test_a_land_of_many_holes_is_offset_as_the_library_does(seed, by_mm):
    land = screen(seed)
    plain = shapely.buffer(land, by_mm, quad_segs=8)
    found = offset_each(np.array([land], dtype=object), by_mm, chords=8)[0]
    assert found.is_valid
    apart = shapely.symmetric_difference(found, plain)
    # Nothing that is half a micrometre wide, and in all no more than a square micrometre.
    assert apart.buffer(-_HALF_UM / 2).is_empty
    assert apart.area < 1e-6
    assert len(told_apart(found)) == len(told_apart(plain))


def test_the_land_tried_has_holes_enough():
    assert min(shapely.get_num_interior_rings(screen(seed)) for seed in range(20)) > _MANY


def test_a_hole_that_closes_to_a_ring_leaves_its_island():
    # Nearly a ring, 0.1 mm open, in a land of many holes; what it encloses is 2 mm across.
    open_ring = shapely.Point(6.25, 6.25).buffer(1.5).exterior.buffer(0.4)
    open_ring = open_ring.difference(shapely.box(6.2, 6.25, 6.3, 9))
    dots = shapely.buffer(shapely.points(np.argwhere(np.ones((12, 12))) + 0.75), 0.1)
    away = dots[shapely.distance(dots, open_ring) > 0.5]
    away = away[shapely.distance(away, shapely.Point(6.25, 6.25)) > 2]
    land = shapely.box(0, 0, 12.5, 12.5).difference(shapely.union_all([open_ring, *away]))
    assert shapely.get_num_interior_rings(land) > _MANY
    found = offset_each(np.array([land], dtype=object), -0.1, chords=8)[0]
    plain = shapely.buffer(land, -0.1, quad_segs=8)
    assert sorted(part.area for part in parts_of(found)) == pytest.approx(
        sorted(part.area for part in parts_of(plain)), abs=1e-6
    )
    # A disc of 1.5 - 0.4 - 0.1 mm, by its closed form.
    assert min(part.area for part in parts_of(found)) == pytest.approx(np.pi, rel=0.01)


def test_offsets_that_leave_nothing_leave_nothing():
    gone = offset_each(np.array([screen(3)], dtype=object), -5.0, chords=8)
    assert gone[0].is_empty


@pytest.mark.parametrize("within_mm", [0.0, 0.3])
def test_pairs_that_meet_are_those_that_a_plain_look_finds(within_mm):
    rng = np.random.default_rng(5)
    at = rng.uniform(0, 10, (60, 2))
    parts = np.array([*shapely.buffer(shapely.points(at), 0.4), screen(7)], dtype=object)
    found = {tuple(sorted(pair)) for pair in zip(*meeting(parts, within_mm), strict=True)}
    plain = {
        (i, j)
        for i in range(len(parts))
        for j in range(i + 1, len(parts))
        if shapely.distance(parts[i], parts[j]) <= within_mm
    }
    assert found == plain


@pytest.mark.parametrize("by_mm", [-0.12, 0.05, 0.3])
@pytest.mark.parametrize("join_style", ["round", "bevel"])
def test_areas_of_many_parts_or_holes_are_offset_as_the_library_does(by_mm, join_style):
    land = screen(7)
    dots = shapely.multipolygons(parts_of(shapely.box(0, 0, 13, 13).difference(land)))
    few = shapely.box(20, 0, 21, 1)
    assert shapely.get_num_geometries(dots) > _MANY
    areas = np.array([land, dots, few, shapely.MultiPolygon([few, dots.geoms[0]])], dtype=object)
    found = offset_areas(areas, by_mm, chords=6, join_style=join_style)
    plain = shapely.buffer(areas, by_mm, quad_segs=6, join_style=join_style)
    assert shapely.is_valid(found).all()
    assert shapely.area(shapely.symmetric_difference(found, plain)).max() < 1e-6
    assert [len(told_apart(one)) for one in found] == [len(told_apart(one)) for one in plain]
    assert found[2].equals_exact(plain[2], 0.0)
    assert found[3].equals_exact(plain[3], 0.0)
