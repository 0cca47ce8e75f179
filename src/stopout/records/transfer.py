"""A whole book as JSON, out and in: for copies, for another machine, for reading by eye."""

from __future__ import annotations

import json
from typing import Any

from stopout.errors import BookError
from stopout.job.shop_numbers import Bath, BathEvent
from stopout.records.forms import Record, event_from_content, from_content, read_json, to_content
from stopout.records.store import Entry, Kept, ShopBook

BOOK_FORMAT = "stopout-book-1"


def export_book(book: ShopBook) -> str:
    """Return everything in the book as JSON text; the same entries give the same text."""
    entries = [entry_to_dict(entry) for entry in book.entries()]
    data = {"format": BOOK_FORMAT, "entries": entries}
    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def entry_to_dict(entry: Entry) -> dict[str, Any]:
    """Return one entry as an export holds it."""
    data: dict[str, Any] = {"kind": entry.kind, "content": to_content(entry.record)}
    if entry.kind == "bath":
        data["ledger"] = [to_content(event) for event in entry.events]
    return data


def import_book(book: ShopBook, text: str, *, where: str) -> list[Kept]:
    """Add the entries of an export; those that the book has already are left alone.

    Parameters
    ----------
    book : ShopBook
        Open for writing.
    text : str
        What `export_book` gave.
    where : str
        The file's name, for errors.

    Returns
    -------
    list of Kept
        One for each entry of the file.

    Raises
    ------
    BookError
        If the file is not an export, or an entry is wrong; the book is then as it was.
    """
    data = read_json(text, where=where)
    if data.get("format") != BOOK_FORMAT:
        raise BookError(f'{where}: "format" is {data.get("format")!r}; use "{BOOK_FORMAT}"')
    rows = data.get("entries")
    if not isinstance(rows, list):
        raise BookError(f'{where}: "entries" must be a list')
    return book.keep_all([_parsed(row, f"{where}: entry {k}") for k, row in enumerate(rows, 1)])


def _parsed(row: Any, where: str) -> tuple[Record, tuple[BathEvent, ...]]:
    if not isinstance(row, dict):
        raise BookError(f'{where}: an object with "kind" and "content" is due')
    strange = sorted(set(row) - {"kind", "content", "ledger"})
    if strange:
        raise BookError(f"{where}: {strange[0]} is not a key that a shop book knows")
    record = from_content(str(row.get("kind")), row.get("content"), where=where)
    ledger = row.get("ledger", [])
    if not isinstance(ledger, list) or (ledger and not isinstance(record, Bath)):
        raise BookError(f"{where}: a ledger is a list, and only a bath has one")
    return record, tuple(
        event_from_content(event, where=f"{where}: ledger line {k}")
        for k, event in enumerate(ledger, 1)
    )
