"""The numbers of rings on the outcome: inside the panel, none upon another."""

import math
import re

import pytest
import shapely

from stopout.pictures.means.drawing import Frame
from stopout.pictures.piece.deviations import OffRing
from stopout.pictures.piece.marks import _letters_at, _numbered, _with_numbers, told_numbers

FRAME = Frame(left_px=80.0, top_px=300.0, px_per_mm=18.0, width_mm=80.0, height_mm=40.0)
# A badge is drawn as a rounded box 32 px high with a white edge of 3 px.
BADGE = re.compile(r'<rect x="([-0-9.]+)" y="([-0-9.]+)" width="([0-9.]+)" height="32"')
LABEL = re.compile(r">([0-9][0-9, –]*)<")


def ring(number, x, y, side=1.0):
    return OffRing(number=number, box_mm=(x, y, x + side, y + side), level="caution", message="")


def boxes(svg):
    found = [tuple(map(float, match)) for match in BADGE.findall(svg)]
    return [(x, y, x + width, y + 32.0) for x, y, width in found]


def apart(a, b):
    return max(a[0] - b[2], b[0] - a[2], a[1] - b[3], b[1] - a[3])


@pytest.mark.parametrize(
    "at",
    [
        [(2.0 + 2.2 * (k % 7), 38.0 - 2.2 * (k // 7)) for k in range(30)],
        [(78.5 * math.cos(k / 10) ** 2, 38.9) for k in range(16)],
    ],
    ids=["a field in the upper corner", "a row along the upper edge"],
)
def test_dozens_of_numbers_stay_inside_the_panel_and_off_each_other(at):
    rings = [ring(k, *place) for k, place in enumerate(at, start=1)]
    svg = _numbered(_with_numbers(rings, FRAME))
    found = boxes(svg)
    assert len(found) > 8
    for box in found:
        assert box[0] >= FRAME.left_px
        assert box[2] <= FRAME.left_px + FRAME.width_px
        assert box[1] >= FRAME.top_px
        assert box[3] <= FRAME.top_px + FRAME.height_px
    for k, box in enumerate(found):
        assert all(apart(box, other) >= 0 for other in found[:k])


def test_rings_that_coincide_are_one_with_all_their_numbers():
    rings = [ring(1, 10, 10), ring(2, 10.2, 10), ring(3, 40, 10), ring(4, 10, 10.1)]
    svg = _numbered(_with_numbers(rings, FRAME))
    assert LABEL.findall(svg) == ["1, 2, 4", "3"]


def test_runs_of_numbers_are_told_by_their_ends():
    assert told_numbers([1, 4, 5, 6, 8, 9]) == "1, 4–6, 8, 9"


@pytest.mark.parametrize("box", [(0, 0, 39.5, 40), (40.5, 0, 80, 40), (0, 0, 80, 19.9)])
def test_letters_beside_a_square_lie_where_nothing_else_does(box):
    middle, made = FRAME.place(40.0, 20.0), shapely.box(*box)
    left, base = _letters_at(middle, "A, B", FRAME, made, [])
    x = (left + 18.0 - FRAME.left_px) / FRAME.px_per_mm
    y = FRAME.height_mm - (base - 11.0 - FRAME.top_px) / FRAME.px_per_mm
    assert not made.buffer(0.3).contains(shapely.Point(x, y))
