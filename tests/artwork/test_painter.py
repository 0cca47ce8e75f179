"""See-through paint over paint: every place has the colour that all paints there make in order."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from effort import tries
from stopout.artwork.regions import painter
from stopout.artwork.regions.painter import WHITE, Paint, paint_all

WHOLE = st.integers(0, 8)
GREYS = st.sampled_from([0.0, 60.0, 128.0, 255.0])
RECTANGLES = st.lists(
    st.tuples(WHOLE, WHOLE, WHOLE, WHOLE, GREYS, st.sampled_from([1.0, 1.0, 0.5, 0.25])),
    min_size=1,
    max_size=14,
)


@pytest.mark.parametrize("covers", [2, 64])
@given(drawn=RECTANGLES)
@settings(
    max_examples=tries(60),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_each_place_has_the_colour_that_source_over_gives_there(monkeypatch, covers, drawn):
    # Compositing and Blending Level 1, section 5.1, place by place.
    monkeypatch.setattr(painter, "_MOST_COVERS", covers)
    paints = [
        Paint(
            region=shapely.box(a, b, a + c + 1, b + d + 1),
            colour=(grey, grey, grey),
            alpha=alpha,
            source=f"p{k}",
        )
        for k, (a, b, c, d, grey, alpha) in enumerate(drawn)
    ]
    seen = paint_all(paints, threshold=0.5).visible
    for x, y in np.argwhere(np.ones((17, 17))) + 0.5:
        colour, top = WHITE[0], None
        for paint in paints:
            if paint.region.contains(shapely.Point(x, y)):
                colour, top = paint.alpha * paint.colour[0] + (1 - paint.alpha) * colour, paint
        here = [face for face in seen if face.region.contains(shapely.Point(x, y))]
        assert [face.source for face in here] == ([] if top is None else [top.source])
        if here and any(paint.alpha < 1.0 for paint in paints):
            assert here[0].colour[0] == pytest.approx(colour)
