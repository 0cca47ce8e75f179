"""What the bench wrote down, as the book takes it: means by hand, gates, and the old form."""

from __future__ import annotations

import json

import pytest

from stopout.errors import BookError
from stopout.records import from_content, job_record_of, open_book, record_from_bench, to_content

# Three pieces of the winch plate. By hand: means 58, 60 and 62 um, so 60 um; times 25, 26 and
# 27 min, so 26 min; losses 0.16, 0.165 and 0.17 g, so 0.495 g; the seven readings 57, 58, 59, 60,
# 60, 62, 62 have the sum 418 and the sum of squares 24982, so the variance
# (24982 - 418^2 / 7) / 6 = 3.571 and the standard deviation 1.890 um.
PIECES = [
    {"piece": "1", "depth_mm": [0.057, 0.058, 0.059], "time_s": 1500, "before_g": 24.31,
     "after_g": 24.15, "is_good": True},
    {"piece": "2", "depth_mm": [0.060, 0.060], "time_s": 1560, "before_g": 24.2,
     "after_g": 24.035, "is_good": True},
    {"piece": "3", "depth_mm": [0.062, 0.062], "time_s": 1620, "before_g": 24.28,
     "after_g": 24.11, "is_good": False},
]  # fmt: skip
CONTENT = {
    "format": "stopout-record-2",
    "date": "2026-11-26",
    "name": "Sluice winch plate",
    "material": "aluminium",
    "etchant": "sodium-hydroxide",
    "strength_g_per_l": 100.0,
    "temperature_degc": 41.0,
    "agitation": "tray",
    "pieces": PIECES,
    "undercut_mm": 0.05,
}


def read(**changes):
    return job_record_of(json.dumps({**CONTENT, **changes}), where="record.json")


def test_means_come_from_the_pieces_as_by_hand():
    record = read()
    assert record.depth_mm.value == pytest.approx(0.060, abs=1e-9)
    assert record.depth_mm.sd == pytest.approx(0.001890, abs=1e-6)
    assert record.time_s == pytest.approx(1560)
    assert record.metal_removed_g == pytest.approx(0.495)
    assert record.pieces == 2
    assert [row.piece for row in record.measured] == ["1", "2", "3"]


def test_a_piece_that_was_not_weighed_twice_leaves_the_metal_open():
    assert read(pieces=[*PIECES[:2], {"piece": "3", "before_g": 24.2}]).metal_removed_g is None
    assert read(pieces=PIECES[:1], metal_removed_g=0.2).metal_removed_g == 0.2


def test_a_coupon_is_kept_and_counts_in_no_mean():
    record = read(coupon={"depth_mm": [0.2], "time_s": 60, "in_resist_mm": 1.0, "in_metal_mm": 1.1})
    assert record.depth_mm.value == pytest.approx(0.060)
    assert record.measured[0].piece == "coupon"
    assert "1.1 mm in the metal" in record.measured[0].note


def test_steps_left_out_and_done_again_stand_in_the_note():
    steps = [
        {"what": "step 4: Scrub", "word": "done", "at": "2026-11-26T09:00:00Z"},
        {"what": "step 5: Dry", "word": "skipped", "at": "2026-11-26T09:10:00Z"},
        {"what": "step 6: Rinse", "word": "again", "at": "2026-11-26T09:20:00Z"},
    ]
    note = read(work={"steps": steps}, note="Windy").note
    assert note == "Windy. left out: step 5: Dry. done again: step 6: Rinse"


def test_the_book_gives_back_every_piece(tmp_path):
    record = read()
    with open_book(tmp_path / "book.sqlite") as book:
        kept = book.keep(record)
        assert book.keep(record).ident == kept.ident
        found = book.get(kept.ident).record
    assert found.measured == record.measured
    again = from_content("job", json.loads(json.dumps(to_content(found))), where="export")
    assert again == record


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"pieces": [{"piece": "1", "depth_mm": [0.06]}]}, "no piece has both a depth and a time"),
        ({"pieces": [*PIECES, PIECES[0]]}, "piece 1 is there twice"),
        ({"pieces": [{**PIECES[0], "after_g": 24.9}]}, "an etch takes weight away"),
        ({"pieces": [{**PIECES[0], "depth_mm": [-1]}]}, "pieces.0.depth_mm.0"),
        ({"colour": "black"}, "colour: is not a key that a shop book knows"),
        ({"format": "stopout-record-3"}, '"stopout-record-1" or "stopout-record-2"'),
    ],
)
def test_what_is_wrong_is_told_in_a_sentence(changes, said):
    with pytest.raises(BookError, match=r"^record\.json: ") as error:
        read(**changes)
    assert said in str(error.value)


def test_a_file_of_a_job_without_an_etch_is_told_apart():
    content = {key: value for key, value in CONTENT.items() if key != "etchant"}
    with pytest.raises(BookError, match="nothing was etched"):
        record_from_bench(content, where="sign.json")
