"""Paths that end in a ring run on round it."""

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, box

from clearing.winch_rows import MACHINE
from stopout.clearing.motion import corner_speeds
from stopout.clearing.ringed.linking import _Joint, _nearest, _Rings, run_on, spirals
from stopout.clearing.ringed.rings import Ring

LEAD = [[0.0, -2.0], [0.0, -1.0]]
SQUARE = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0], [0.0, 0.0]]


@pytest.mark.parametrize("again", [[], [[0.0, 0.0]]])
def test_a_path_runs_on_round_its_ring_though_its_last_point_comes_twice(again):
    found = run_on(np.array(LEAD + SQUARE + again), 0.25)
    assert np.isfinite(found).all()
    np.testing.assert_allclose(found[-1], [0.25, 0.0])


def test_a_last_point_that_comes_twice_is_no_ring():
    path = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 0.0]])
    np.testing.assert_array_equal(run_on(path, 0.25), path[:2])


def test_a_chord_costs_its_way_and_slowing_down_for_the_turns_at_its_ends():
    """(v - c)^2 / (a v) each, c by the rule of motion for legs as long as the chord."""
    rng = np.random.default_rng(5)
    angle = np.cumsum(rng.uniform(-2.2, 2.2, (3, 400)), axis=0)
    heading, chord, after = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    length, v, a = rng.uniform(0.01, 0.5, 400), 20.0, MACHINE.acceleration_mm_s2
    joint = object.__new__(_Joint)
    joint.machine = MACHINE
    found = joint._cost_s(heading, chord * length[:, None], after, v)
    turns = np.abs((np.diff(angle, axis=0) + np.pi) % (2 * np.pi) - np.pi)
    for k in range(400):
        legs = np.array([heading[k], chord[k], after[k]]) * length[k]
        corners = corner_speeds(
            np.cumsum([(0, 0), *legs], axis=0),
            acceleration_mm_s2=a,
            cornering_mm=MACHINE.cornering_mm,
        )
        slow = (np.maximum(v - corners, 0) ** 2 / (a * v)).sum()
        due = length[k] / v + slow if turns[:, k].max() < np.radians(110) else np.inf
        assert found[k] == pytest.approx(due)
    assert 50 < np.isfinite(found).sum() < 350
    assert joint._cost_s(heading[:1], chord[:1] * 9e-5, heading[:1], v) == np.inf


def test_after_a_place_on_a_ring_comes_the_next_vertex_and_before_it_the_last():
    """On a vertex that vertex is neither; the first comes after the last but one."""
    square = Ring(points_mm=np.array(SQUARE), depth=1.0, area=0, within=-1)
    rings = _Rings([square, square], [2])
    along = np.array([[0.0, 1.0, 1.5, 3.9, 4 - 1e-6, 4.0, np.inf]])
    for ring, first in ((0, 0), (1, 5)):
        after, before, place = rings.after(np.array([ring]), along)
        assert (after - first).tolist() == [[1, 2, 2, 4, 1, 1, 1]]
        assert (before - first).tolist() == [[3, 0, 1, 3, 3, 3, 3]]
        due = [(0, 0), (1, 0), (1, 0.5), (0, 0.1), *[(0, 0)] * 3]
        np.testing.assert_allclose(place[0], due, atol=1e-12)
    here = np.array([(0.3, -0.2), (1.4, 1.4)])
    far, gap = rings.foot(np.array([0, 1]), here)
    assert far.tolist() == pytest.approx([0.3, 2.0])
    assert gap.tolist() == pytest.approx([0.2, 0.4 * np.sqrt(2)])


def test_paths_are_led_on_from_where_they_begin_ring_by_ring_each_once(monkeypatch):
    """From 0 on to 1 and 2, from 3 to 4; 5 is by itself."""
    asked = []
    joint = object.__new__(_Joint)
    monkeypatch.setattr(
        _Joint, "_go_on", lambda self, *pairs: asked.append(list(zip(*pairs, strict=True)))
    )
    joint.join(np.array([-1, 0, 1, -1, 3, -1]))
    assert asked == [[(0, 1), (3, 4)], [(1, 2)]]


def test_a_ring_s_nearest_edge_is_nearest_to_any_of_its_vertices():
    """Asked of every vertex by itself, of rings of no more than are asked."""
    rng = np.random.default_rng(3)
    edges = [Point(*at).buffer(0.5, 3).exterior for at in rng.uniform(0, 20, (12, 2))]
    asked = [LineString(np.cumsum(rng.uniform(-3, 3, (9, 2)), axis=0) + 10) for _ in range(30)]
    lines = [shapely.get_coordinates(line) for line in (*edges, *asked)]
    rings = _Rings([Ring(points_mm=xy, depth=1.0, area=0, within=0) for xy in lines], [42])
    found = _nearest(rings, np.arange(12, 42), np.arange(12))
    due = [
        int(np.argmin([shapely.distance(shapely.points(xy), edge).min() for edge in edges]))
        for xy in lines[12:]
    ]
    assert found.tolist() == due


@pytest.mark.parametrize(("spacings", "paths"), [(1.7, 1), (1.8, 2)])
def test_rings_are_joined_up_to_one_and_three_quarters_of_a_spacing_apart(spacings, paths):
    """Ours: the wider of both spacings, and what a corner's ring stands back."""
    whole, by = box(0, 0, 4, 4), spacings * 0.1
    rings = [
        Ring(
            points_mm=shapely.get_coordinates(whole.buffer(-k * by, join_style="mitre").exterior),
            depth=float(k),
            area=k,
            within=k - 1,
        )
        for k in range(2)
    ]
    (found,) = spirals([rings], np.array([whole]), apart_mm=0.1, machine=MACHINE, speed_mm_s=20.0)
    assert len(found) == paths
