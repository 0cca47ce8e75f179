"""A measured mark held against the spot: trusted, told, stopped."""

from __future__ import annotations

import pytest
from shapely import box

from jobmaker import codes, mark, plan
from stopout.values import Level

SQUARE = box(4, 4, 6, 6)
SPOT = {"spot_mm": (0.17, 0.12)}


@pytest.mark.parametrize(
    ("given", "level", "said"),
    [
        (mark(0.10, 0.087), None, ""),
        (mark(0.10, 0.07), Level.CAUTION, "0.089 x 0.081 mm"),
        (mark(0.14, 0.035), Level.STOP, "a factor of two or more apart"),
    ],
)
def test_a_given_mark_is_trusted_but_a_pair_of_another_spot_is_told(given, level, said):
    made = plan(SQUARE, clearing={"mark_mm": given}, machine=SPOT)
    assert made.coats[0].clearing.mark_mm == given
    found = [f for f in made.findings if f.code == "mark-unlike-spot"]
    assert [f.level for f in found] == ([] if level is None else [level])
    assert all(said in f.message for f in found)


def test_a_pair_given_the_wrong_way_round_is_seen():
    made = plan(SQUARE, clearing={"mark_mm": mark(0.087, 0.10)}, machine=SPOT)
    (found,) = [f for f in made.findings if f.code == "mark-unlike-spot"]
    assert found.remedy.startswith("Exchange the two")
    again = plan(SQUARE, clearing={"mark_mm": mark(0.10, 0.087)}, machine=SPOT)
    assert "mark-unlike-spot" not in codes(again)


def test_lines_of_the_default_mark_touch_both_ways():
    """The winch plate's case: one power and speed, lines each way, no thread at the default."""
    for along in ("x", "y"):
        made = plan(SQUARE, clearing={"mark_mm": None, "line_direction": along}, machine=SPOT)
        clearing = made.coats[0].clearing
        across = clearing.mark_mm[0 if along == "y" else 1].value
        assert clearing.spacing_mm <= 0.85 * across
