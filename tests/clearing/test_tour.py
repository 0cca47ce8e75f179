"""A short way through many items: nearest first, and no turned stretch would still gain."""

from __future__ import annotations

import numpy as np
import pytest

from stopout.clearing.filling.tour import _Tour, nearest_first, shortened, travel_mm

NEAR = 3


def lines(seed, n):
    """Entries and exits of short lines, to be gone either way."""
    rng = np.random.default_rng(seed)
    middle = rng.uniform(0, 30, (n, 1, 2))
    half = rng.uniform(-1.5, 1.5, (n, 1, 2))
    entries = np.concatenate([middle - half, middle + half], axis=1)
    return entries, entries[:, ::-1]


def gains_left(visits, entries, exits, start):
    """What each turned stretch that joins two near ends would still save, by plain arithmetic."""
    begin = np.array([start, *(entries[visit] for visit in visits)])
    end = np.array([start, *(exits[visit] for visit in visits)])
    n = len(begin)
    ends = np.concatenate([end, begin])
    far = np.hypot(*(ends[:, None] - ends[None]).T)
    nearest = np.argsort(far, axis=1)[:, :NEAR]
    near = np.zeros((2 * n, 2 * n), dtype=bool)
    np.put_along_axis(near, nearest, values=True, axis=1)
    near |= near.T
    found = []
    for i in range(n - 1):
        for j in range(i + 2, n):
            new, old = far[i, j], far[i, n + i + 1]
            is_near = near[i, j]
            if j + 1 < n:
                new, old = new + far[n + i + 1, n + j + 1], old + far[j, n + j + 1]
                is_near |= near[n + i + 1, n + j + 1]
            if is_near:
                found.append(old - new)
    return np.array(found)


@pytest.mark.parametrize("seed", range(4))
def test_no_stretch_that_joins_near_ends_gains_by_being_turned(seed):
    entries, exits = lines(seed, 40)
    start = (0.0, 0.0)
    first = [(item, 0) for item in range(40)]
    visits = shortened(first, entries, exits, start)
    assert sorted(item for item, _ in visits) == list(range(40))
    assert travel_mm(visits, entries, exits, start) < 0.5 * travel_mm(first, entries, exits, start)
    assert gains_left(visits, entries, exits, start).max() < 1e-5


def test_travel_is_the_ways_between_and_to_the_first():
    """From (0, 0) 5 to (3, 4), off at (3, 8), 2 on to (3, 10)."""
    entries = np.array([[[3.0, 4.0]], [[3.0, 10.0]]])
    exits = np.array([[[3.0, 8.0]], [[9.0, 10.0]]])
    assert travel_mm([(0, 0), (1, 0)], entries, exits, (0.0, 0.0)) == pytest.approx(7)
    assert travel_mm([(0, 0), (1, 0)], entries, exits, (3.0, 4.0)) == pytest.approx(2)


def plainly_nearest(entries, exits, start):
    """Nearest entry of those left, of equal ones the first."""
    here, left, chosen = np.array(start), entries.copy(), []
    for _ in entries:
        gaps = np.hypot(*(left - here).T).T.round(8)
        item, way = np.unravel_index(int(np.argmin(gaps)), gaps.shape)
        chosen.append((int(item), int(way)))
        left[item] = np.inf
        here = exits[item, way]
    return chosen


@pytest.mark.parametrize("across", [6, 14])
def test_of_equally_near_entries_the_first_is_taken_by_a_tree_too(across):
    """Whether few, that are all looked at, or more than are asked of a tree without replanting."""
    x, y = np.meshgrid(np.arange(across), np.arange(across))
    at = np.column_stack([x.ravel(), y.ravel()]).astype(float)
    entries = np.stack([at, at + np.array([0.5, 0.0])], axis=1)
    entries[::3, 1] = np.inf
    exits = entries[:, ::-1].copy()
    exits[::3] = entries[::3]
    found, end = nearest_first(entries, exits, start_mm=(2.5, 2.5))
    expected = plainly_nearest(entries, exits, (2.5, 2.5))
    assert found == expected
    assert end == tuple(exits[expected[-1]])


def test_the_pairs_that_look_promising_are_those_that_gain_one_by_one():
    entries, exits = lines(7, 60)
    tour = _Tour([(item, 0) for item in range(60)], entries, exits, (0.0, 0.0))
    for _ in range(3):
        gaining = set()
        for item, other in tour._neighbours().tolist():
            one, two = sorted((tour.position[item], tour.position[other]))
            if max(tour._gain_mm(one, two), tour._gain_mm(one - 1, two - 1)) > 1e-6:
                gaining.add((item, other))
        assert set(tour._promising()) == gaining
        assert gaining
        tour.improve()


def test_a_visit_keeps_the_way_that_leaves_where_it_left():
    """Two ways from one entry, to different exits."""
    entries = np.array([[[0.0, 0.0], [0.0, 0.0]], [[3.0, 0.0], [4.0, 0.0]], [[5.0, 0.0]] * 2])
    exits = np.array([[[1.0, 0.0], [2.0, 0.0]], [[4.0, 0.0], [3.0, 0.0]], [[6.0, 0.0], [7.0, 0.0]]])
    visits = [(0, 1), (1, 0), (2, 1)]
    assert _Tour(visits, entries, exits, (0.0, 0.0)).visits() == visits
