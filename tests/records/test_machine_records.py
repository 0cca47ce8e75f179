"""Timing and run times in the shop book, and a book of the first version brought forward."""

from __future__ import annotations

import sqlite3

from planning.test_machine_from_book import run_of, timing
from records.maker import bath, clearing, job_record, mixed
from stopout.records import export_book, import_book, open_book, schema


def test_they_are_kept_read_exported_and_forgotten(tmp_path):
    with open_book(tmp_path / "a.book") as book:
        first, second = book.keep(timing()), book.keep(run_of(0.8))
        assert (book.get(first.ident).kind, book.get(second.ident).kind) == ("timing", "run")
        assert book.numbers().timings[0].delay_ms == timing().delay_ms
        assert book.numbers().runs[0].scale == 0.8
        text = export_book(book)
        book.forget(second.ident)
        assert book.numbers().runs == ()
    with open_book(tmp_path / "b.book") as other:
        import_book(other, text, where="a.json")
        assert export_book(other) == text


def test_a_book_of_the_first_version_keeps_all_its_entries_and_numbers(tmp_path, monkeypatch):
    path = tmp_path / "old.book"
    monkeypatch.setattr(schema, "MIGRATIONS", schema.MIGRATIONS[:1])
    with open_book(path) as book:
        gone = book.keep(clearing(colour="red"))
        book.keep(clearing())
        book.keep_all([(bath(), (mixed(),))])
        book.keep(job_record(bath="lye A", metal_removed_g=0.5))
        last = book.keep(clearing(colour="blue"))
        book.forget(gone.ident)
        book.forget(last.ident)
        before = export_book(book)
    monkeypatch.undo()
    with open_book(path) as book:
        assert export_book(book) == before
        assert schema.version_of(book._connection) == len(schema.MIGRATIONS)
        kept = book.keep(timing())
        assert kept.ident > last.ident
        there = book.bath("lye A")
        assert there is not None
        book.forget(there.ident)
    with sqlite3.connect(path) as connection:
        assert connection.execute("SELECT count(*) FROM bath_event").fetchone() == (0,)
