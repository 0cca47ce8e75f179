"""The place that strays farthest is that of asking every vertex, to the last digit."""

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from effort import tries
from stopout.pictures.piece import deviations
from stopout.pictures.piece.deviations import _deep, _farthest


@settings(max_examples=tries(40), derandomize=True, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 30), st.sampled_from([1, 3, 64]))
def test_the_farthest_place_is_that_of_asking_all(seed, count, at_once):
    rng = np.random.default_rng(seed)
    middles = shapely.points(rng.integers(0, 12, (count, 2)))
    drawn = shapely.union_all(shapely.buffer(middles, rng.choice([0.5, 0.9, 1.4], count)))
    # Some parts are the same but for their place, as a panel's are: then the first of them counts.
    made = shapely.union_all(
        [shapely.buffer(drawn, 0.06), shapely.buffer(middles[0], 2.0), shapely.box(20, 0, 21, 1)]
    )
    much = shapely.difference(made, drawn)
    points = shapely.get_coordinates(_deep(much)[0])
    off = shapely.distance(shapely.boundary(drawn), shapely.points(points))
    before, deviations._AT_ONCE = deviations._AT_ONCE, at_once
    try:
        distance, at = _farthest(much, drawn)
    finally:
        deviations._AT_ONCE = before
    assert (distance, at) == (off.max(), tuple(points[np.argmax(off)]))
