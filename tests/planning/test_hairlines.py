"""A drawing of outlines alone is told; its remedies, filled or of a width, end that."""

import shapely
from shapely import Point, box

from jobmaker import make_job, plan

SHAPES = shapely.union_all([Point(3, 5).buffer(1.8), box(6, 2, 11, 8)])


def told(region):
    return [one for one in plan(region, make_job()).verdict.told if one.code == "hairlines"]


def outlined(width_mm):
    return SHAPES.boundary.buffer(width_mm / 2, cap_style="flat", join_style="mitre")


def test_outlines_alone_are_told_first_and_filled_shapes_or_drawn_lines_are_not():
    for width_mm in (0.005, 0.02, 0.045):
        assert "hairlines" in [one.code for one in told(outlined(width_mm))]
    assert told(SHAPES) == told(outlined(0.3)) == []


def test_one_hairline_beside_what_is_filled_is_no_drawing_of_outlines():
    assert told(shapely.union_all([box(6, 2, 11, 8), box(1, 9, 11, 9.02)])) == []
