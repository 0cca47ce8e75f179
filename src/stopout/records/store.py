"""The shop book: what is kept in it, read from it and forgotten. Each change is one transaction."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from dataclasses import dataclass, fields, replace
from pathlib import Path
from types import TracebackType
from typing import Any

from stopout.errors import BookError
from stopout.job.shop_numbers import (
    Bath,
    BathEvent,
    ClearingCalibration,
    Equipment,
    EtchCalibration,
    JobRecord,
    RunTime,
    ShopNumbers,
    Timing,
)
from stopout.records import schema
from stopout.records.forms import (
    Record,
    event_from_content,
    from_content,
    kind_of,
    read_json,
    to_content,
)
from stopout.records.ledger import is_discarded, ledger_litres
from stopout.records.opening import connect, told, writing
from stopout.records.place import book_path


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What became of a record that was handed in: its number, and whether it is new."""

    ident: int
    is_new: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry of the book; `events` is the ledger of a bath, in the order of their time."""

    ident: int
    kind: str
    date: str
    record: Record
    events: tuple[BathEvent, ...] = ()


def open_book(path: Path) -> ShopBook:
    """Open a book for reading and writing; make it where there is none.

    Parameters
    ----------
    path : Path
        From `book_path`. Its folder must be there, unless it is the usual place among user data.

    Raises
    ------
    BookError
        If it cannot be used: damaged, newer, in use, no shop book.
    OSError
        If the disk fails.
    """
    if path == book_path() and not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
    if not path.parent.is_dir():
        raise BookError(f"{path.parent} is not a folder; make it first")
    return ShopBook(connect(path, "rwc"), path)


def open_book_if_any(path: Path) -> ShopBook | None:
    """Open a book for reading; None, and nothing made, where there is none or nothing in it.

    Raises
    ------
    BookError
        If there is one and it cannot be used.
    """
    if not path.exists():
        return None
    connection = connect(path, "rw")
    with told(path):
        version = schema.version_of(connection)
    if version == 0:
        connection.close()
        return None
    if version < len(schema.MIGRATIONS):
        connection.close()
        return open_book(path)
    return ShopBook(connection, path)


class ShopBook:
    """An open shop book. Use it in a `with`; every method is one transaction."""

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self._connection = connection
        self.path = path

    def __enter__(self) -> ShopBook:
        """Return the book itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the book."""
        self.close()

    def close(self) -> None:
        """Close the book; what was kept is kept."""
        self._connection.close()

    def keep(self, record: Record) -> Kept:
        """Keep a record. The same one again changes nothing and gives its number.

        A job record that names a bath adds its metal to that bath's ledger. One with a `record_id`
        takes the place of what was kept under it before: the same work is written down anew.

        Raises
        ------
        BookError
            If a value is not possible, or a bath of that name is in the book already.
        """
        with told(self.path), writing(self._connection):
            return self._keep(record)

    def keep_named(self, record: Equipment, *, replace: bool = False) -> Kept:
        """Keep a machine, a paint, a tray or limits, perhaps in place of one of that name.

        Raises
        ------
        BookError
            If one of that name with other figures is there and is not to be replaced.
        """
        with told(self.path), writing(self._connection):
            there = self._named_ident(record)
            if replace and there is not None:
                self._connection.execute("DELETE FROM entry WHERE ident = ?", (there,))
            return self._keep_one(record)

    def equipment(self) -> tuple[Equipment, ...]:
        """Return what jobs call by a name, in the order in which it was kept."""
        return tuple(e.record for e in self.entries() if isinstance(e.record, Equipment))

    def keep_event(self, bath: str, event: BathEvent) -> bool:
        """Write a line into a bath's ledger; False where the very same line stands there.

        Raises
        ------
        BookError
            If there is no such bath, or it is not mixed.
        """
        with told(self.path), writing(self._connection):
            return self._keep_event(bath, event)

    def keep_all(self, entries: list[tuple[Record, tuple[BathEvent, ...]]]) -> list[Kept]:
        """Keep many records, baths with their ledgers, all or none of them.

        Ledgers are taken as they are: a job record adds no second line here.
        """
        with told(self.path), writing(self._connection):
            kept = []
            for record, events in entries:
                done = self._keep_one(record)
                is_new = done.is_new
                for event in events:
                    assert isinstance(record, Bath)
                    is_new |= self._insert_event(done.ident, record.name, event)
                kept.append(Kept(ident=done.ident, is_new=is_new))
            return kept

    def entries(self, kind: str | None = None) -> tuple[Entry, ...]:
        """Return the entries, of one kind if asked, in the order in which they were kept."""
        with told(self.path):
            self._connection.execute("BEGIN")
            try:
                rows = self._connection.execute(
                    "SELECT ident, kind, date, content FROM entry "
                    "WHERE ?1 IS NULL OR kind = ?1 ORDER BY ident",
                    (kind,),
                ).fetchall()
                return tuple(self._entry(row) for row in rows)
            finally:
                self._connection.execute("ROLLBACK")

    def get(self, ident: int) -> Entry:
        """Return one entry.

        Raises
        ------
        BookError
            If there is none of this number.
        """
        found = next((entry for entry in self.entries() if entry.ident == ident), None)
        if found is None:
            raise BookError(
                f"{self.path} has no entry {ident}; `stopout shop list` shows the numbers"
            )
        return found

    def bath(self, name: str) -> Entry | None:
        """Return the bath of this name with its ledger; None where there is none."""
        return next((e for e in self.entries("bath") if _name(e.record) == name), None)

    def forget(self, ident: int) -> Entry:
        """Take an entry out, and return what it was.

        A bath goes with its ledger, a job record with the line that it wrote into one.

        Raises
        ------
        BookError
            If there is none of this number.
        """
        entry = self.get(ident)
        with told(self.path), writing(self._connection):
            self._connection.execute("DELETE FROM entry WHERE ident = ?", (ident,))
            self._connection.execute(
                "DELETE FROM bath_event WHERE record = ?", (_uid_of(entry.record),)
            )
        return entry

    def numbers(self) -> ShopNumbers:
        """Return everything that bears on plans."""
        records = [entry.record for entry in self.entries()]
        return ShopNumbers(
            clearing=tuple(r for r in records if isinstance(r, ClearingCalibration)),
            etch=tuple(r for r in records if isinstance(r, EtchCalibration)),
            jobs=tuple(r for r in records if isinstance(r, JobRecord)),
            timings=tuple(r for r in records if isinstance(r, Timing)),
            runs=tuple(r for r in records if isinstance(r, RunTime)),
        )

    def _keep(self, record: Record) -> Kept:
        if isinstance(record, JobRecord) and record.record_id:
            self._forget_earlier(record)
        kept = self._keep_one(record)
        if isinstance(record, JobRecord) and record.bath and kept.is_new:
            event = BathEvent(
                kind="etched",
                at=record.date,
                metal_g=record.metal_removed_g or 0.0,
                note=record.name,
                record=_uid_of(record),
            )
            self._keep_event(record.bath, event)
        return kept

    def _forget_earlier(self, record: JobRecord) -> None:
        earlier = self._connection.execute(
            "SELECT uid FROM entry WHERE kind = 'job' AND uid != ? "
            "AND json_extract(content, '$.record_id') = ?",
            (_uid_of(record), record.record_id),
        ).fetchall()
        for row in earlier:
            self._connection.execute("DELETE FROM entry WHERE uid = ?", row)
            self._connection.execute("DELETE FROM bath_event WHERE record = ?", row)

    def _keep_one(self, record: Record) -> Kept:
        kind = kind_of(record)
        # What is written has passed the same gate as what is read.
        content = to_content(from_content(kind, to_content(record), where="the shop book"))
        uid = _uid_of(record)
        row = self._connection.execute("SELECT ident FROM entry WHERE uid = ?", (uid,)).fetchone()
        if row is not None:
            return Kept(ident=int(row[0]), is_new=False)
        if isinstance(record, Bath):
            self._refuse_namesake("bath", record.name, self._bath_ident(record.name))
        if isinstance(record, Equipment):
            self._refuse_namesake(kind, record.name, self._named_ident(record))
        cursor = self._connection.execute(
            "INSERT INTO entry (uid, kind, date, bath, content) VALUES (?, ?, ?, ?, ?)",
            (uid, kind, record.date, _name(record) or None, _canonical(content)),
        )
        assert cursor.lastrowid is not None
        return Kept(ident=cursor.lastrowid, is_new=True)

    def _refuse_namesake(self, kind: str, name: str, there: int | None) -> None:
        if there is not None:
            raise BookError(
                f"a {kind} named {name!r} is in the book already, as entry {there}; name this one "
                "otherwise, or forget that one first"
            )

    def _named_ident(self, record: Equipment) -> int | None:
        row = self._connection.execute(
            "SELECT ident FROM entry WHERE kind = ? AND json_extract(content, '$.name') = ?",
            (record.kind, record.name),
        ).fetchone()
        return None if row is None else int(row[0])

    def _bath_ident(self, name: str) -> int | None:
        row = self._connection.execute("SELECT ident FROM entry WHERE bath = ?", (name,)).fetchone()
        return None if row is None else int(row[0])

    def _keep_event(self, bath: str, event: BathEvent) -> bool:
        ident = self._bath_ident(bath)
        if ident is None:
            raise BookError(
                f"{self.path} knows no bath {bath!r}; begin it with `stopout shop bath`"
            )
        events = self._events(ident)
        if event.kind != "mixed" and ledger_litres(events) <= 0:
            state = "is discarded" if is_discarded(events) else "is not mixed yet"
            raise BookError(
                f"the bath {bath!r} {state}; write down its mixing first, or name no bath"
            )
        if event.kind in ("mixed", "topped-up") and event.litres <= 0:
            raise BookError(f"how many litres were {event.kind}? give a volume above zero")
        return self._insert_event(ident, bath, event)

    def _insert_event(self, ident: int, bath: str, event: BathEvent) -> bool:
        checked = event_from_content(to_content(event), where="the shop book")
        cursor = self._connection.execute(
            "INSERT OR IGNORE INTO bath_event (uid, bath, at, record, content) "
            "VALUES (?, ?, ?, ?, ?)",
            (
                _uid({"bath": bath, "content": _said(checked)}),
                ident,
                event.at,
                event.record,
                _canonical(to_content(checked)),
            ),
        )
        return cursor.rowcount > 0

    def _events(self, ident: int) -> tuple[BathEvent, ...]:
        rows = self._connection.execute(
            "SELECT ident, content FROM bath_event WHERE bath = ? "
            # A record has a day and no hour: within a day the order of writing down counts.
            "ORDER BY substr(at, 1, 10), ident",
            (ident,),
        ).fetchall()
        where = f"{self.path}: ledger of entry {ident}"
        return tuple(
            replace(event_from_content(read_json(content, where=where), where=where), ident=number)
            for number, content in rows
        )

    def _entry(self, row: tuple[int, str, str, str]) -> Entry:
        ident, kind, date, content = row
        where = f"{self.path}: entry {ident}"
        record = from_content(kind, read_json(content, where=where), where=where)
        return Entry(
            ident=ident,
            kind=kind,
            date=date,
            record=replace(record, ident=ident),
            events=self._events(ident) if kind == "bath" else (),
        )


def _name(record: Record) -> str:
    return record.name if isinstance(record, Bath) else ""


def _canonical(content: Any) -> str:
    return json.dumps(
        content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )


def _uid_of(record: Record) -> str:
    """What tells one record from another: the digest of all that it says.

    What stands at its default is left out, so that a key that is added later, with a default,
    leaves the digests of earlier records as they are.
    """
    checked = from_content(kind_of(record), to_content(record), where="the shop book")
    return _uid({"kind": kind_of(record), "content": _said(checked)})


def _said(record: Record | BathEvent) -> dict[str, Any]:
    content = to_content(record)
    at_default = {f.name for f in fields(record) if getattr(record, f.name) == f.default}
    return {name: value for name, value in content.items() if name not in at_default}


def _uid(content: Any) -> str:
    return hashlib.sha256(_canonical(content).encode()).hexdigest()
