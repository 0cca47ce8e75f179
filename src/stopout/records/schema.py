"""The tables of a shop book, and how a book of an earlier version is brought forward.

Steps are only ever added at the end: step k brings a book from version k to k + 1. All steps of
one opening run in one transaction, so that a book is at the old version or at the new one.
"""

from __future__ import annotations

import sqlite3

# "STOP" in ASCII: tells a shop book from any other SQLite file.
APPLICATION_ID = 0x53544F50

# `bath` is the name of an entry that is a bath, NULL for any other; `record` the uid of the job
# record that wrote a line of a ledger, "" for none; `content` is JSON.
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        """
        CREATE TABLE entry (
            ident INTEGER PRIMARY KEY AUTOINCREMENT,
            uid TEXT NOT NULL UNIQUE,
            kind TEXT NOT NULL CHECK (kind IN ('clearing', 'etch', 'job', 'bath')),
            date TEXT NOT NULL,
            bath TEXT UNIQUE,
            content TEXT NOT NULL
        ) STRICT
        """,
        """
        CREATE TABLE bath_event (
            ident INTEGER PRIMARY KEY AUTOINCREMENT,
            uid TEXT NOT NULL UNIQUE,
            bath INTEGER NOT NULL REFERENCES entry (ident) ON DELETE CASCADE,
            at TEXT NOT NULL,
            record TEXT NOT NULL,
            content TEXT NOT NULL
        ) STRICT
        """,
        "CREATE INDEX event_of_bath ON bath_event (bath, at)",
    ),
    # Further kinds of entries: which there are, the forms know.
    (
        """
        CREATE TABLE entry_now (
            ident INTEGER PRIMARY KEY AUTOINCREMENT,
            uid TEXT NOT NULL UNIQUE,
            kind TEXT NOT NULL,
            date TEXT NOT NULL,
            bath TEXT UNIQUE,
            content TEXT NOT NULL
        ) STRICT
        """,
        "INSERT INTO entry_now SELECT ident, uid, kind, date, bath, content FROM entry",
        "DELETE FROM sqlite_sequence WHERE name = 'entry_now'",
        "INSERT INTO sqlite_sequence SELECT 'entry_now', seq FROM sqlite_sequence "
        "WHERE name = 'entry'",
        """
        CREATE TABLE event_now (
            ident INTEGER PRIMARY KEY AUTOINCREMENT,
            uid TEXT NOT NULL UNIQUE,
            bath INTEGER NOT NULL REFERENCES entry_now (ident) ON DELETE CASCADE,
            at TEXT NOT NULL,
            record TEXT NOT NULL,
            content TEXT NOT NULL
        ) STRICT
        """,
        "INSERT INTO event_now SELECT ident, uid, bath, at, record, content FROM bath_event",
        "DROP TABLE bath_event",
        "DROP TABLE entry",
        "ALTER TABLE entry_now RENAME TO entry",
        "ALTER TABLE event_now RENAME TO bath_event",
        "CREATE INDEX event_of_bath ON bath_event (bath, at)",
    ),
)


def version_of(connection: sqlite3.Connection) -> int:
    """Return the version of the tables, 0 for a file in which nothing stands yet."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def is_empty(connection: sqlite3.Connection) -> bool:
    """Tell whether nothing stands in the file yet."""
    return connection.execute("SELECT 1 FROM sqlite_schema").fetchone() is None


def bring_forward(connection: sqlite3.Connection) -> None:
    """Run the steps that are due. The caller holds a writing transaction."""
    for step in MIGRATIONS[version_of(connection) :]:
        for statement in step:
            connection.execute(statement)
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
