"""What is kept in a shop book is there again, once, and can be moved and forgotten."""

from __future__ import annotations

import hashlib
import json
import math
import sqlite3

import pytest

from records.maker import bath, clearing, etch, job_record, m, mixed
from stopout.errors import BookError
from stopout.job.shop_numbers import BathEvent
from stopout.records import (
    book_path,
    export_book,
    import_book,
    job_record_of,
    ledger_dissolved_g_per_l,
    ledger_litres,
    open_book,
    open_book_if_any,
)


@pytest.fixture
def book(tmp_path):
    with open_book(tmp_path / "book.sqlite") as opened:
        yield opened


def full(book):
    """A book with one of each."""
    book.keep(clearing(conduction_w=m(0.1, 0.02), incubation=m(0.86, 0.03), passes_tested=4))
    book.keep(etch())
    book.keep_all([(bath(), (mixed(),))])
    book.keep(job_record(bath="lye A", metal_removed_g=3.0, undercut_mm=m(0.05)))
    return book


class TestKeeping:
    @pytest.mark.parametrize("make", [clearing, etch, job_record, bath])
    def test_a_record_comes_back_as_it_was(self, book, make):
        kept = book.keep(make())
        entry = book.get(kept.ident)
        assert kept.is_new
        assert entry.record == make(ident=kept.ident)
        assert entry.date == make().date

    def test_it_is_there_when_the_book_is_opened_again(self, tmp_path):
        with open_book(tmp_path / "book.sqlite") as opened:
            full(opened)
            before = opened.entries()
        with open_book_if_any(tmp_path / "book.sqlite") as again:
            assert again.entries() == before

    def test_the_same_record_again_changes_nothing(self, book):
        first = book.keep(clearing())
        again = book.keep(clearing())
        assert (again.ident, again.is_new) == (first.ident, False)
        assert len(book.entries()) == 1

    def test_another_scan_of_the_same_coupon_is_another_record(self, book):
        book.keep(clearing())
        assert book.keep(clearing(scan_sha256="c" * 64)).is_new

    def test_a_record_is_known_by_what_it_says_and_not_by_what_is_left_at_its_default(self, book):
        """So that a key added later leaves the digests of earlier records as they are."""
        book.keep(bath())
        uid = book._connection.execute("SELECT uid FROM entry").fetchone()[0]
        said = (
            '{"content":{"date":"2026-11-20","etchant":"sodium-hydroxide","name":"lye A"},'
            '"kind":"bath"}'
        )
        assert uid == hashlib.sha256(said.encode()).hexdigest()

    def test_numbers_are_given_out_once(self, book):
        """A note on paper that names entry 2 never comes to mean another one."""
        book.keep(clearing())
        second = book.keep(etch()).ident
        book.forget(second)
        assert book.keep(job_record()).ident > second

    @pytest.mark.parametrize(
        ("record", "words"),
        [
            (clearing(date="20.11.2026"), "date: a date is written year-month-day"),
            (clearing(date="2026-13-01"), "date: a date is written year-month-day"),
            (clearing(thickness_um=0.0), "thickness_um: input should be greater than 0"),
            (clearing(spot_mm=(m(0.1, -0.1), m(0.1))), "spot_mm.0: a standard deviation"),
            (clearing(colour=""), "colour"),
            (etch(etch_factor=m(math.nan)), "etch_factor"),
            (etch(temperature_degc=140.0), "temperature_degc: input should be less than 100"),
            (etch(agitation="stirring"), "agitation"),
            (job_record(time_s=math.inf), "time_s"),
            (job_record(pieces=0), "pieces"),
        ],
    )
    def test_what_cannot_be_is_refused_by_field(self, book, record, words):
        with pytest.raises(BookError, match=words):
            book.keep(record)
        assert book.entries() == ()


class TestBaths:
    def test_the_ledger_adds_up(self, book):
        """Closed form: 3 g and 2 g in 2 L are 2.5 g/L; with half a litre more, 2 g/L."""
        book.keep_all([(bath(), (mixed(2.0),))])
        book.keep(job_record(bath="lye A", metal_removed_g=3.0, date="2026-11-21"))
        book.keep_event("lye A", BathEvent(kind="etched", at="2026-11-22T10:00", metal_g=2.0))
        assert ledger_dissolved_g_per_l(book.bath("lye A").events) == pytest.approx(2.5)
        book.keep_event("lye A", BathEvent(kind="topped-up", at="2026-11-23", litres=0.5))
        events = book.bath("lye A").events
        assert ledger_litres(events) == pytest.approx(2.5)
        assert ledger_dissolved_g_per_l(events) == pytest.approx(2.0)

    def test_a_discarded_bath_is_empty_and_a_new_mixing_starts_at_nothing(self, book):
        book.keep_all([(bath(), (mixed(2.0),))])
        book.keep_event("lye A", BathEvent(kind="etched", at="2026-11-22", metal_g=2.0))
        book.keep_event("lye A", BathEvent(kind="discarded", at="2026-11-23"))
        events = book.bath("lye A").events
        assert (ledger_litres(events), ledger_dissolved_g_per_l(events)) == (0.0, 0.0)
        with pytest.raises(BookError, match="is discarded"):
            book.keep(job_record(bath="lye A", metal_removed_g=1.0))
        book.keep_event("lye A", mixed(3.0, at="2026-11-24"))
        book.keep_event("lye A", BathEvent(kind="etched", at="2026-11-25", metal_g=1.5))
        assert ledger_dissolved_g_per_l(book.bath("lye A").events) == pytest.approx(0.5)

    def test_a_job_of_the_day_on_which_the_bath_was_mixed_counts(self, book):
        """The record has a day only; the mixing was at two o'clock, and written down before."""
        book.keep_all([(bath(), (mixed(2.0, at="2026-11-22T14:00:00"),))])
        book.keep(job_record(bath="lye A", metal_removed_g=3.0, date="2026-11-22"))
        assert ledger_dissolved_g_per_l(book.bath("lye A").events) == pytest.approx(1.5)

    def test_a_record_kept_twice_adds_its_metal_once(self, book):
        book.keep_all([(bath(), (mixed(2.0),))])
        for _ in range(2):
            book.keep(job_record(bath="lye A", metal_removed_g=3.0))
        assert ledger_dissolved_g_per_l(book.bath("lye A").events) == pytest.approx(1.5)

    def test_a_forgotten_record_takes_its_metal_back(self, book):
        book.keep_all([(bath(), (mixed(2.0),))])
        ident = book.keep(job_record(bath="lye A", metal_removed_g=3.0)).ident
        book.forget(ident)
        assert ledger_dissolved_g_per_l(book.bath("lye A").events) == 0.0

    def test_a_record_of_an_unknown_bath_is_refused_whole(self, book):
        with pytest.raises(BookError, match="knows no bath 'lye B'"):
            book.keep(job_record(bath="lye B", metal_removed_g=3.0))
        assert book.entries() == ()

    def test_two_baths_of_one_name_are_refused(self, book):
        book.keep(bath())
        with pytest.raises(BookError, match="'lye A' is in the book already, as entry 1"):
            book.keep(bath(date="2026-11-25"))

    def test_a_bath_that_is_forgotten_goes_with_its_ledger(self, book):
        full(book)
        book.forget(book.bath("lye A").ident)
        assert book.bath("lye A") is None
        rows = book._connection.execute("SELECT count(*) FROM bath_event").fetchone()
        assert rows == (0,)


class TestForgetting:
    def test_only_that_entry_goes(self, book):
        full(book)
        before = book.entries()
        gone = book.forget(before[1].ident)
        assert gone == before[1]
        assert [e.ident for e in book.entries()] == [e.ident for e in before if e != gone]

    def test_an_entry_that_is_not_there_is_said(self, book):
        with pytest.raises(BookError, match="has no entry 7"):
            book.forget(7)


class TestTransfer:
    def test_an_export_fills_another_book_with_the_same(self, book, tmp_path):
        text = export_book(full(book))
        with open_book(tmp_path / "other.sqlite") as other:
            kept = import_book(other, text, where="x.json")
            assert all(one.is_new for one in kept)
            assert export_book(other) == text
            assert [e.record for e in other.entries()] == [e.record for e in book.entries()]
            again = import_book(other, text, where="x.json")
            assert not any(one.is_new for one in again)
            assert export_book(other) == text

    def test_the_same_entries_give_the_same_text(self, book, tmp_path):
        with open_book(tmp_path / "other.sqlite") as other:
            assert export_book(full(book)) == export_book(full(other))

    def test_an_import_adds_only_what_is_missing(self, book, tmp_path):
        text = export_book(full(book))
        with open_book(tmp_path / "other.sqlite") as other:
            other.keep(etch())
            kept = import_book(other, text, where="x.json")
            assert [one.is_new for one in kept] == [True, False, True, True]

    @pytest.mark.parametrize(
        ("spoil", "words"),
        [
            (lambda d: d | {"format": "stopout-book-2"}, 'use "stopout-book-1"'),
            (lambda d: d | {"entries": {}}, "must be a list"),
            (lambda d: d | {"entries": [*d["entries"], 3]}, "entry 5: an object"),
            (lambda d: d | {"entries": [*d["entries"], {"kind": "tea", "content": {}}]}, "tea"),
            (
                lambda d: d | {"entries": [*d["entries"], {**d["entries"][0], "colour": 1}]},
                "entry 5: colour is not a key",
            ),
            (
                lambda d: d | {"entries": [*d["entries"], {**d["entries"][1], "ledger": [{}]}]},
                "only a bath has one",
            ),
            (
                lambda d: (
                    d
                    | {
                        "entries": [
                            *d["entries"],
                            {"kind": "etch", "content": {**d["entries"][1]["content"], "depth": 1}},
                        ]
                    }
                ),
                "entry 5: depth: is not a key",
            ),
            (
                lambda d: (
                    d
                    | {
                        "entries": [
                            *d["entries"],
                            {
                                "kind": "bath",
                                "content": {**d["entries"][2]["content"], "date": "2026-11-29"},
                            },
                        ]
                    }
                ),
                "is in the book already",
            ),
        ],
    )
    def test_a_spoilt_import_changes_nothing(self, book, tmp_path, spoil, words):
        data = json.loads(export_book(full(book)))
        with open_book(tmp_path / "other.sqlite") as other:
            with pytest.raises(BookError, match=words):
                import_book(other, json.dumps(spoil(data)), where="x.json")
            assert other.entries() == ()

    @pytest.mark.parametrize("text", ["", "[]", "{", "null", '{"format": NaN}', "[" * 100_000])
    def test_what_is_no_object_is_refused_in_a_sentence(self, book, text):
        with pytest.raises(BookError, match=r"^x.json"):
            import_book(book, text, where="x.json")


RECORD = {
    "format": "stopout-record-1",
    "date": "2026-11-26",
    "name": "Valve tag",
    "material": "aluminium",
    "etchant": "sodium-hydroxide",
    "strength_g_per_l": 100,
    "temperature_degc": 41.5,
    "agitation": "tray",
    "depth_mm": [0.058, 0.003],
    "time_s": 1620,
}


class TestRecords:
    def test_a_measured_value_stands_alone_or_with_its_standard_deviation(self):
        record = job_record_of(json.dumps(RECORD | {"undercut_mm": 0.05}), where="r.json")
        assert record.depth_mm == m(0.058, 0.003)
        assert record.undercut_mm == m(0.05)
        assert record.temperature_degc == 41.5

    @pytest.mark.parametrize(
        ("change", "words"),
        [
            ({"format": "stopout-plan-1"}, 'a record says "stopout-record-1"'),
            ({"time_s": "27 min"}, "time_s"),
            ({"time": 3}, "time: is not a key"),
            ({"depth_mm": [0.058]}, "depth_mm"),
            ({"depth_mm": [0.058, 0.1, 0.2]}, "depth_mm"),
            ({"depth_mm": "0.06 mm"}, "depth_mm"),
            ({"pieces": True}, "pieces"),
        ],
    )
    def test_what_is_wrong_is_named(self, change, words):
        with pytest.raises(BookError, match=words):
            job_record_of(json.dumps(RECORD | change), where="r.json")

    def test_all_mistakes_are_told_together(self):
        spoilt = {k: v for k, v in RECORD.items() if k not in ("date", "etchant")}
        with pytest.raises(BookError) as told:
            job_record_of(json.dumps(spoilt), where="r.json")
        assert str(told.value).splitlines() == [
            "r.json: date: is missing",
            "r.json: etchant: is missing",
        ]


def test_the_book_is_one_file_at_rest(tmp_path):
    with open_book(tmp_path / "book.sqlite") as opened:
        full(opened)
    assert [path.name for path in tmp_path.iterdir()] == ["book.sqlite"]
    journal = sqlite3.connect(tmp_path / "book.sqlite").execute("PRAGMA journal_mode").fetchone()
    assert journal == ("delete",)


class TestThePlace:
    def test_is_where_it_is_told_else_the_variable_else_user_data(self, monkeypatch, tmp_path):
        monkeypatch.setenv("STOPOUT_BOOK", str(tmp_path / "a.sqlite"))
        assert book_path(tmp_path / "b.sqlite") == tmp_path / "b.sqlite"
        assert book_path() == tmp_path / "a.sqlite"
        monkeypatch.delenv("STOPOUT_BOOK")
        monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
        monkeypatch.setenv("HOME", str(tmp_path))
        place = book_path()
        assert place.name == "shop-book.sqlite"
        assert tmp_path in place.parents
        assert not any(tmp_path.iterdir())
        with open_book(place) as opened:
            opened.keep(bath())
        assert place.is_file()

    def test_reading_makes_nothing(self, tmp_path):
        assert open_book_if_any(tmp_path / "none" / "book.sqlite") is None
        assert not any(tmp_path.iterdir())
