"""Opening a shop book's file, and its failures in one sentence each."""

from __future__ import annotations

import errno
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

from stopout.errors import BookClosedError
from stopout.records import schema

# How long one process waits for another that is writing.
BUSY_S = 10.0
_PRAGMAS = (
    # The folder is synced too when the journal goes: a commit outlives a power cut.
    "PRAGMA synchronous = EXTRA",
    "PRAGMA foreign_keys = ON",
    "PRAGMA trusted_schema = OFF",
    "PRAGMA cell_size_check = ON",
)


def connect(path: Path, mode: Literal["rw", "rwc"]) -> sqlite3.Connection:
    """Open the file and see that it is a whole shop book of a version we know.

    A rollback journal, not a write-ahead log: at rest the book is one file that can be copied,
    and it can be read in a folder that may not be written. A file that is write-protected opens
    for reading.

    Parameters
    ----------
    path : Path
        The book.
    mode : str
        `rw` opens, `rwc` makes it where it is missing.

    Raises
    ------
    BookClosedError
        If it cannot be used.
    OSError
        If the disk fails.
    """
    if path.is_dir():
        raise BookClosedError(f"{path} is a folder; name the shop book's file")
    with told(path):
        connection = sqlite3.connect(
            f"{path.absolute().as_uri()}?mode={mode}",
            uri=True,
            isolation_level=None,
            timeout=BUSY_S,
        )
        try:
            for pragma in _PRAGMAS:
                connection.execute(pragma)
            _check(connection, path)
            if mode == "rwc":
                _bring_forward(connection)
        except BaseException:
            connection.close()
            raise
    return connection


def _check(connection: sqlite3.Connection, path: Path) -> None:
    """Refuse what is no book, is newer, or is damaged."""
    if schema.is_empty(connection):
        return
    if connection.execute("PRAGMA application_id").fetchone()[0] != schema.APPLICATION_ID:
        raise BookClosedError(f"{path} is an SQLite file, but no shop book; name another file")
    version, ours = schema.version_of(connection), len(schema.MIGRATIONS)
    if version > ours:
        raise BookClosedError(
            f"{path} was written by a newer Stopout (book version {version}, this one knows "
            f"{ours}); nothing was changed: use the newer one"
        )
    found = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if found != "ok":
        raise _damaged(path, found)


def _bring_forward(connection: sqlite3.Connection) -> None:
    if schema.version_of(connection) == len(schema.MIGRATIONS):
        return
    with writing(connection):
        # Another process may have done it while this one waited: then no step is due any more.
        schema.bring_forward(connection)


@contextmanager
def writing(connection: sqlite3.Connection) -> Iterator[None]:
    """One writing transaction: all of it or nothing, whatever happens within."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        # A full disk may have ended the transaction already.
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn the engine's errors into sentences about this book."""
    try:
        yield
    except sqlite3.Error as error:
        raise _in_words(error, path) from None


def _in_words(error: sqlite3.Error, path: Path) -> Exception:
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code == sqlite3.SQLITE_FULL:
        return OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path))
    if code == sqlite3.SQLITE_IOERR:
        return OSError(errno.EIO, os.strerror(errno.EIO), str(path))
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return BookClosedError(
            f"{path} has been in use by another process for {BUSY_S:g} s; nothing was changed: "
            "try again when it is done"
        )
    if code == sqlite3.SQLITE_READONLY:
        return BookClosedError(f"{path} or its folder is write-protected; nothing was changed")
    if code in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM, sqlite3.SQLITE_AUTH):
        return BookClosedError(
            f"{path} cannot be opened; see that its folder is there and may be read and written"
        )
    if code == sqlite3.SQLITE_NOTADB:
        return BookClosedError(f"{path} is no shop book (not an SQLite file); name another file")
    return _damaged(path, str(error))


def _damaged(path: Path, what: str) -> BookClosedError:
    return BookClosedError(
        f"{path} is damaged ({' '.join(what.split())}) and was left as it is: set it aside and put "
        "a copy, or an import of an export, in its place"
    )
