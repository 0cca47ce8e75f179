"""Sweep, advance and judge together on shapes whose paths and outcomes have closed forms.

Design section 3.2: the path that attains a target T is T less the reach r on every edge; what is
attained is T, save the corners, which stop short of the tip by r (1/sin a - 1).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from outcome.programs_by_hand import distance_to_paths, grid, moves_along
from stopout.outcome import advance, judge, sweep
from stopout.program import read_program, write_program
from stopout.values import Machine

UNDERCUT, SPACING = 0.06, 0.05
DEVICE = Machine(
    spot_mm=(0.17, 0.12),
    spot_means="1/e2",
    wavelength_nm=450.0,
    power_w=5.5,
    top_speed_mm_s=100.0,
    acceleration_mm_s2=800.0,
    step_mm=0.0125,
    bed_mm=(400.0, 400.0),
    cornering_mm=0.01,
    power_word=1000.0,
    beam_on="M3",
    power_follows_speed=True,
)


def outcome_of(target, paths, mark=(0.1, 0.1)):
    """The verdict on paths that have gone through program text."""
    text = write_program(moves_along(*paths), machine=DEVICE, title=["by hand"])
    opening = sweep(read_program(text, machine=DEVICE), mark)
    finished = advance(opening, UNDERCUT)
    verdict = judge(
        target=target,
        finished=finished,
        reach_mm=UNDERCUT + max(mark) / 2,
        edge_tolerance_mm=0.05,
    )
    return opening, verdict


def ring(radius, count=2000):
    angle = np.append(2 * np.pi * np.arange(count) / count, 0.0)
    return np.column_stack([np.cos(angle), np.sin(angle)]) * radius + 10


def rows(inside):
    """Fill rows of a region of beam centres."""
    x0, y0, x1, y1 = inside.bounds
    found = []
    for y in np.arange(y0 + SPACING / 2, y1, SPACING):
        cut = shapely.intersection(inside, shapely.LineString([(x0 - 1, y), (x1 + 1, y)]))
        found += [np.array(p.coords) for p in shapely.get_parts(cut) if p.length > 0]
    return found


def test_a_disc_is_met_within_2_um_all_round():
    path = ring(2 - 0.11)
    _, found = outcome_of(Polygon(ring(2)), [*rows(Polygon(path)), path])
    assert max(found.worst_outside_mm, found.worst_inside_mm) < 0.002
    assert found.area_mm2 == pytest.approx(math.pi * 4, rel=1e-4)
    assert (found.lost, found.merged, found.widened) == (0, 0, 0)


def test_a_ring_keeps_its_hole_and_both_edges():
    target = Polygon(ring(3), [ring(1)])
    outer, inner = ring(3 - 0.11), ring(1 + 0.11)
    _, found = outcome_of(target, [*rows(Polygon(outer, [inner])), outer, inner])
    assert max(found.worst_outside_mm, found.worst_inside_mm) < 0.002
    assert found.merged == 0


def test_a_slot_of_twice_the_reach_is_met_by_a_single_line():
    half = np.linspace(-np.pi / 2, np.pi / 2, 400)
    cap = 0.11 * np.column_stack([np.cos(half), np.sin(half)])
    slot = Polygon(np.vstack([np.add(cap, (12, 10)), np.subtract((8, 10), cap)]))
    opening, found = outcome_of(slot, [[(8, 10), (12, 10)]])
    assert max(found.worst_outside_mm, found.worst_inside_mm) < 0.002
    assert opening.bounds == pytest.approx((7.95, 9.95, 12.05, 10.05), abs=2e-4)


@pytest.mark.parametrize("mark", [(0.10, 0.10), (0.10, 0.06)])
def test_a_rectangle_s_edges_are_met_and_its_corners_stop_short(mark):
    target = box(5, 5, 9, 8)
    dx, dy = (UNDERCUT + axis / 2 for axis in mark)
    inside = box(5 + dx, 5 + dy, 9 - dx, 8 - dy)
    path = np.array(inside.exterior.coords)
    opening, found = outcome_of(target, [*rows(inside), path], mark)
    # The opening is narrower than the artwork by the undercut on each edge.
    inner = (5 + UNDERCUT, 5 + UNDERCUT, 9 - UNDERCUT, 8 - UNDERCUT)
    assert opening.bounds == pytest.approx(inner, abs=2e-4)
    assert found.worst_outside_mm < 0.002
    a, b = mark[0] / 2, mark[1] / 2
    # From the tip to an ellipse about (dx, dy) that the undercut has widened: the nearest of a
    # fine set of its points, less the undercut; for a disc this is 0.414 r.
    angle = np.linspace(0, 2 * np.pi, 100_001)
    off = np.hypot(dx + a * np.cos(angle), dy + b * np.sin(angle)).min() - UNDERCUT
    assert found.worst_inside_mm == pytest.approx(off, abs=0.002)
    if a == b:
        assert off == pytest.approx(0.11 * (math.sqrt(2) - 1), abs=1e-4)


@pytest.mark.parametrize("seed", range(24))
def test_any_filled_polygon_clears_just_the_points_within_the_mark_of_its_lines(seed):
    random = np.random.default_rng(seed)
    mark = [(0.1, 0.07), (0.07, 0.1), (0.1, 0.1)][seed % 3]
    spacing = random.choice([0.03, 0.05, 0.06, 0.09])
    angle = np.sort(random.uniform(0, 2 * np.pi, random.integers(3, 9)))
    radius = random.uniform(0.15, 0.45, len(angle))
    corners = np.column_stack([np.cos(angle), np.sin(angle)]) * radius[:, None] + 0.7
    corners = np.round(np.vstack([corners, corners[:1]]), 4)
    inside = shapely.make_valid(Polygon(corners))
    paths = []
    for at in np.arange(0, 1.4, spacing):
        line = [(0, at), (1.4, at)] if seed % 2 else [(at, 0), (at, 1.4)]
        for part in shapely.get_parts(inside.intersection(shapely.LineString(line))):
            if part.length > 0.001:
                paths.append(np.round(np.array(part.coords), 4))
    paths += [corners] * (seed % 4 != 0)
    opening = sweep(moves_along(*paths), mark)
    points = grid((0, 0), (1.4, 1.4), 0.006)
    stretch = max(mark) / np.asarray(mark)
    margin = distance_to_paths(points, paths, stretch) - max(mark) / 2
    covered = shapely.contains_xy(opening, points[..., 0], points[..., 1])
    assert covered[margin < -3e-4].all()
    assert not covered[margin > 3e-4].any()
