"""Groups that links make, held to the numerical library's own."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from stopout.links import linked


@pytest.mark.parametrize("share", [0.0, 0.3, 0.5, 1.0, 3.0])
def test_groups_are_those_of_the_numerical_library(share):
    rng = np.random.default_rng(7)
    for count in (1, 2, 30, 1000):
        one, other = rng.integers(0, count, (2, int(share * count)))
        links = coo_array((np.ones(len(one)), (one, other)), shape=(count, count))
        assert linked(count, one, other).tolist() == connected_components(links, False)[1].tolist()


def test_a_chain_in_any_order_is_one_group_and_nothing_is_none():
    way = np.random.default_rng(8).permutation(500)
    assert not linked(500, way[1:], way[:-1]).any()
    assert linked(0, [], []).tolist() == []
