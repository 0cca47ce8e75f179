"""A mask knows no left or right, no up or down, no place and no size: it turns with its drawing."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
import shapely
from shapely import Point, box
from shapely.affinity import rotate

from shapes import ALL, glyph_f
from stopout.mask import cleared_by, make_mask

# A stem with two arms, one of them hardly longer than a twig, and a ring beside a bar.
FORK = shapely.union_all(
    [box(0, 0, 0.15, 2), box(0, 1, 1.2, 1.14), rotate(box(0, 0.4, 0.45, 0.53), 30, (0, 0.4))]
)
NEIGHBOURS = shapely.union_all(
    [box(0, 0, 3, 0.4), box(0, 0.52, 3, 0.65), Point(4, 0.3).buffer(0.5, 32)]
).difference(Point(4, 0.3).buffer(0.36, 32))
SHAPES = {
    "thin glyph": glyph_f(height=2.0, stroke=0.16),
    "fork": FORK,
    "neighbours": NEIGHBOURS,
    **{
        name: ALL[name] for name in ("neck", "stub", "needle", "touching corners", "island in hole")
    },
}
WAYS = {
    "mirrored": (np.array([[-1.0, 0.0], [0.0, 1.0]]), (0.0, 0.0)),
    "turned": (np.array([[0.0, -1.0], [1.0, 0.0]]), (0.0, 0.0)),
    "doubled": (np.array([[2.0, 0.0], [0.0, 2.0]]), (0.0, 0.0)),
    "moved": (np.eye(2), (37.0, -11.0)),
}
LENGTHS = {
    "undercut_mm": 0.06,
    "mark_mm": (0.10, 0.07),
    "edge_tolerance_mm": 0.02,
    "narrowest_land_mm": 0.1,
    "step_mm": 0.005,
}


@cache
def planned(name):
    return make_mask(SHAPES[name], **LENGTHS)


def numbers(mask, size):
    """What is told of each thin place, lengths over the size of the drawing."""
    return sorted(
        (
            place.treatment,
            place.joins_parts,
            place.spoils_land,
            place.width_mm / size,
            place.narrowest_mm / size,
            place.expected_mm / size,
            place.length_mm / size,
        )
        for place in mask.thin_places
    )


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", SHAPES)
def test_the_mask_of_a_turned_drawing_is_the_mask_turned(name, way):
    matrix, shift = WAYS[way]
    size = math.sqrt(abs(np.linalg.det(matrix)))

    def turned(shape):
        return shapely.transform(shape, lambda xy: xy @ matrix.T + shift)

    lengths = {key: np.multiply(size, value) for key, value in LENGTHS.items()}
    mark = tuple(np.abs(matrix) @ LENGTHS["mark_mm"])
    plain = planned(name)
    other = make_mask(turned(SHAPES[name]), **lengths | {"mark_mm": mark})
    cleared = turned(cleared_by(plain, LENGTHS["mark_mm"]))
    apart = cleared.symmetric_difference(cleared_by(other, mark)).area
    # Half a micrometre along all its edges.
    assert apart < 1e-3 * max(cleared.length, 1.0)
    assert len(plain.lines.geoms) == len(other.lines.geoms)
    assert other.lines.length == pytest.approx(size * plain.lines.length, abs=0.01 * size)
    for here, there in zip(numbers(plain, 1.0), numbers(other, size), strict=True):
        assert here[:3] == there[:3]
        assert here[3:] == pytest.approx(there[3:], abs=2e-3, rel=0.01)
