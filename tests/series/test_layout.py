"""Where pieces lie on a panel: a grid of closed forms."""

from __future__ import annotations

import pytest

from stopout.errors import PlanError
from stopout.job.series import Panel
from stopout.planning.panel.layout import cut_marks, lay_panels, order_of

BED = {"room_mm": (400.0, 300.0)}


def test_as_many_as_fit_and_no_panel_larger_than_they_need():
    layout = lay_panels(10, (60, 40), Panel(), **BED)
    # 5 + n 60 + (n - 1) 3 + 5 <= 400: six columns; two rows for ten pieces.
    assert layout.size_mm == (6 * 60 + 5 * 3 + 10, 2 * 40 + 3 + 10)
    assert layout.n_panels == 1
    assert layout.places_mm[0] == (5.0, 48.0)
    assert layout.places_mm[6] == (5.0, 5.0)
    assert list(layout.on(0)) == list(range(10))


def test_more_than_one_panel_takes_go_on_the_next():
    layout = lay_panels(48, (60, 40), Panel(count=(5, 4)), **BED)
    assert layout.n_panels == 3
    assert [len(layout.on(n)) for n in range(3)] == [20, 20, 8]


def test_clamps_take_places_and_nothing_lies_under_them():
    layout = lay_panels(6, (60, 40), Panel(), **BED, taken_mm=[(0, 0, 20, 20)])
    assert len(layout.places_mm) == 5
    assert (5.0, 5.0) not in layout.places_mm


@pytest.mark.parametrize(
    ("panel", "words"),
    [(Panel(size_mm=(50, 50)), "need a panel of"), (Panel(count=(7, 1)), "448 x 50 mm")],
)
def test_what_finds_no_room_is_said_with_the_size_that_it_needs(panel, words):
    with pytest.raises(PlanError, match=words):
        lay_panels(7, (60, 40), panel, **BED)


def test_the_beam_goes_to_and_fro_and_apart_leaves_every_second_for_later():
    places = lay_panels(6, (60, 40), Panel(count=(3, 2)), **BED).places_mm
    way = order_of(places, "near")
    assert [places[k] for k in way[:3]] == [(5.0, 5.0), (68.0, 5.0), (131.0, 5.0)]
    assert [places[k][0] for k in way[3:]] == [131.0, 68.0, 5.0]
    assert sorted(order_of(places, "apart")) == list(range(6))
    assert order_of(places, "apart")[:2] == [way[0], way[2]]


def test_cut_marks_stand_in_the_margin_in_line_with_the_pieces():
    layout = lay_panels(4, (60, 40), Panel(count=(2, 2)), **BED)
    boxes = cut_marks(layout, (60, 40), 5.0)
    wide, high = layout.size_mm
    upright = [box for box in boxes if box[3] - box[1] > box[2] - box[0]]
    assert sorted({(box[0] + box[2]) / 2 for box in upright}) == pytest.approx([5, 65, 68, 128])
    assert len(boxes) == 16
    for x0, y0, x1, y1 in boxes:
        assert 0 < x0 < x1 < wide
        assert 0 < y0 < y1 < high
        assert x1 < 5 or x0 > wide - 5 or y1 < 5 or y0 > high - 5
    with pytest.raises(PlanError, match="margin"):
        cut_marks(layout, (60, 40), 1.0)
