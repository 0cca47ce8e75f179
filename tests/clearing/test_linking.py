"""Paths that end in a ring run on round it."""

import numpy as np
import pytest

from stopout.clearing.ringed.linking import run_on

LEAD = [[0.0, -1.0]]
SQUARE = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0], [0.0, 0.0]]


@pytest.mark.parametrize("again", [[], [[0.0, 0.0]]])
def test_a_path_runs_on_round_its_ring_though_its_last_point_comes_twice(again):
    found = run_on(np.array(LEAD + SQUARE + again), 0.25)
    assert np.isfinite(found).all()
    np.testing.assert_allclose(found[-1], [0.25, 0.0])


def test_a_last_point_that_comes_twice_is_no_ring():
    path = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 0.0]])
    np.testing.assert_array_equal(run_on(path, 0.25), path[:2])
