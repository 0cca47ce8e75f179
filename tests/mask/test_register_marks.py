"""Marks to lay films by: outside the face, inside the holes, the same when mirrored."""

from __future__ import annotations

import pytest
from shapely.geometry import Point, box

from stopout.mask import mirror_left_right, register_marks
from stopout.mask.register_marks import LINE_MM

FACE = box(0, 0, 60, 40).difference(Point(6, 6).buffer(2.0))


def test_no_mark_lies_on_the_face_and_all_lie_within_4_mm_of_it():
    marks = register_marks(FACE)
    assert marks.intersection(FACE).area == pytest.approx(0, abs=1e-9)
    assert marks.bounds == pytest.approx((-4.0, -4.0, 64.0, 44.0))


def test_outline_corners_and_hole_are_there():
    marks = register_marks(FACE)
    assert marks.contains(Point(30, -LINE_MM / 2))
    for x, y in ((-2, 0), (62, 40), (0, 42), (60, -2)):
        assert marks.distance(Point(x, y)) == 0
    assert marks.contains(Point(6, 6))
    assert marks.distance(Point(6 + 2.0 - LINE_MM / 2, 6)) < 0.01


def test_a_mirrored_face_has_mirrored_marks():
    turned = register_marks(mirror_left_right(FACE, width_mm=60))
    same = mirror_left_right(register_marks(FACE), width_mm=60)
    assert turned.symmetric_difference(same).area == pytest.approx(0, abs=1e-9)


def test_a_face_without_holes_has_outline_and_corners_only():
    # The outline's strip, and eight strokes of 3 mm; the mitred strip's area in closed form.
    strip = (60 + 2 * LINE_MM) * (40 + 2 * LINE_MM) - 60 * 40
    assert register_marks(box(0, 0, 60, 40)).area == pytest.approx(strip + 8 * 3 * LINE_MM)


@pytest.mark.parametrize(("radius", "has_cross"), [(5.9, False), (6.2, True)])
def test_a_hole_has_a_cross_of_half_its_width_where_its_arms_are_longer_than_thick(
    radius, has_cross
):
    hole = Point(30, 20).buffer(radius * LINE_MM, quad_segs=64)
    cross = register_marks(box(0, 0, 60, 40).difference(hole)).intersection(
        hole.buffer(-1.01 * LINE_MM)
    )
    # Two strokes as long as the radius, which share a square.
    area = (2 * radius - 1) * LINE_MM**2 if has_cross else 0.0
    assert cross.area == pytest.approx(area, rel=1e-3)
