"""Nothing is lost: two writers, kill -9 at any moment, a full disk, a newer book, a damaged one."""

from __future__ import annotations

import errno
import os
import random
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import pytest

from cli.shop_files import python
from effort import HANGS_S
from records.maker import bath, clearing, etch, job_record, mixed
from stopout.errors import BookError
from stopout.records import export_book, open_book, open_book_if_any, opening, schema

TESTS = Path(__file__).parents[1]
WRITER = """
import sys
sys.path.insert(0, {tests!r})
from pathlib import Path
from records.maker import job_record
from stopout.records import open_book
book, who = Path(sys.argv[1]), sys.argv[2]
for k in range({count}):
    with open_book(book) as opened:
        done = opened.keep(job_record(name=f"{{who}} {{k}}", bath="lye A", metal_removed_g=0.01))
    print(f"{{who}} {{k}}", flush=True)
"""


def writer(count):
    return WRITER.format(tests=str(TESTS), count=count)


def start(book, who, count):
    source = str(TESTS.parent / "src")
    return subprocess.Popen(
        [sys.executable, "-c", writer(count), str(book), who],
        env={**os.environ, "PYTHONPATH": source},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def made(folder):
    """A book with a bath in it."""
    path = folder / "book.sqlite"
    with open_book(path) as opened:
        opened.keep_all([(bath(), (mixed(),))])
    return path


def names(path):
    with open_book(path) as opened:
        return {entry.record.name for entry in opened.entries("job")}


def is_whole(path):
    """The file passes the engine's own check, and each job has its line in the ledger."""
    connection = sqlite3.connect(path)
    checked = connection.execute("PRAGMA integrity_check").fetchall()
    connection.close()
    with open_book(path) as opened:
        jobs = [entry.record.name for entry in opened.entries("job")]
        lines = [e.note for e in opened.bath("lye A").events if e.kind == "etched"]
    return checked == [("ok",)] and sorted(jobs) == sorted(lines)


def test_two_writers_at_once_lose_nothing(tmp_path):
    book = made(tmp_path)
    both = [start(book, who, 12) for who in ("ann", "ben")]
    for one in both:
        _, err = one.communicate(timeout=HANGS_S)
        assert one.returncode == 0, err
    assert names(book) == {f"{who} {k}" for who in ("ann", "ben") for k in range(12)}
    assert is_whole(book)


def test_two_processes_may_make_the_same_new_book(tmp_path):
    book = tmp_path / "book.sqlite"
    code = writer(0) + "\nwith open_book(book) as opened: opened.keep(job_record(name=who))\n"
    source = str(TESTS.parent / "src")
    both = [
        subprocess.Popen(
            [sys.executable, "-c", code, str(book), who],
            env={**os.environ, "PYTHONPATH": source},
            stderr=subprocess.PIPE,
            text=True,
        )
        for who in ("ann", "ben")
    ]
    for one in both:
        _, err = one.communicate(timeout=HANGS_S)
        assert one.returncode == 0, err
    assert names(book) == {"ann", "ben"}


def test_after_kill_9_at_any_moment_the_book_is_whole_and_all_that_was_confirmed_is_there(
    tmp_path,
):
    book = made(tmp_path)
    chance = random.Random(7)
    confirmed = set()
    for who in range(6):
        one = start(book, f"run{who}", 10_000)
        # However slow the machine is, some records are confirmed; the moment is by chance.
        first = "".join(one.stdout.readline() for _ in range(chance.randrange(2, 8)))
        time.sleep(chance.uniform(0.0, 0.02))
        one.send_signal(signal.SIGKILL)
        rest, _ = one.communicate(timeout=HANGS_S)
        confirmed |= {line for line in (first + rest).splitlines() if line}
        assert is_whole(book)
    there = names(book)
    assert len(confirmed) >= 12
    assert confirmed <= there
    # At most the one that was being kept when the process died, for each of them.
    assert len(there - confirmed) <= 6


def test_a_commit_cut_in_half_is_taken_back_by_whoever_opens_next(tmp_path):
    """A process dies with pages written and the journal still there: the hottest moment."""
    book = made(tmp_path)
    before = book.read_bytes()
    code = """
import os, sqlite3, sys
c = sqlite3.connect(sys.argv[1], isolation_level=None)
c.execute("PRAGMA cache_size = 1"); c.execute("PRAGMA cache_spill = 1")
c.execute("BEGIN IMMEDIATE")
for k in range(400):
    c.execute("INSERT INTO entry (uid, kind, date, content) VALUES (?, 'job', 'x', ?)",
              (str(k), "y" * 4000))
os.kill(os.getpid(), 9)
"""
    done = python(code, book, cwd=tmp_path)
    assert done.returncode == -signal.SIGKILL
    assert (tmp_path / "book.sqlite-journal").exists()
    assert book.read_bytes() != before
    # `plan` only reads, and it is the first to come by.
    with open_book_if_any(book) as opened:
        assert [entry.kind for entry in opened.entries()] == ["bath"]
    assert is_whole(book)


def test_a_disk_that_is_full_is_said_and_the_book_stays_as_it_was(tmp_path):
    book = made(tmp_path)
    with open_book(book) as opened:
        before = export_book(opened)
        pages = opened._connection.execute("PRAGMA page_count").fetchone()[0]
        opened._connection.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(OSError, match="No space left") as told:
            opened.keep_all([(job_record(name=f"{k}", note="n" * 1900), ()) for k in range(50)])
        assert told.value.errno == errno.ENOSPC
        assert told.value.filename == str(book)
        assert export_book(opened) == before
    assert is_whole(book)


def test_a_file_that_may_not_grow_is_said_and_the_book_stays_as_it_was(tmp_path):
    """RLIMIT_FSIZE makes the kernel refuse the write itself, as a full disk does."""
    book = made(tmp_path)
    with open_book(book) as opened:
        before = export_book(opened)
    code = (
        writer(0)
        + """
try:
    with open_book(book) as opened:
        opened.keep_all([(job_record(name=f"{k}", note="n" * 1900), ()) for k in range(50)])
except OSError as error:
    sys.exit(f"told: {error.filename}")
"""
    )
    limit = book.stat().st_size + 4096
    done = subprocess.run(
        [sys.executable, "-c", code, str(book), "x"],
        env={**os.environ, "PYTHONPATH": str(TESTS.parent / "src"), "PYTHONDONTWRITEBYTECODE": "1"},
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit)),
        capture_output=True,
        text=True,
        timeout=HANGS_S,
        check=False,
    )
    assert done.stderr.strip() == f"told: {book}"
    with open_book(book) as opened:
        assert export_book(opened) == before
    assert is_whole(book)


def test_a_book_of_a_newer_version_is_left_alone(tmp_path):
    book = made(tmp_path)
    with sqlite3.connect(book) as connection:
        connection.execute(f"PRAGMA user_version = {len(schema.MIGRATIONS) + 1}")
    connection.close()
    before = book.read_bytes()
    for opening_ in (open_book, open_book_if_any):
        with pytest.raises(BookError, match="written by a newer Stopout"):
            opening_(book)
    assert book.read_bytes() == before


class TestAnOlderBook:
    NEXT = ("ALTER TABLE entry ADD COLUMN hand TEXT NOT NULL DEFAULT ''",)

    def test_is_brought_forward_with_all_that_is_in_it(self, tmp_path, monkeypatch):
        book = made(tmp_path)
        with open_book(book) as opened:
            before = export_book(opened)
        monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, self.NEXT))
        with open_book_if_any(book) as opened:
            assert export_book(opened) == before
            assert schema.version_of(opened._connection) == len(schema.MIGRATIONS)
            opened.keep(clearing())

    def test_stays_at_its_version_when_a_step_fails(self, tmp_path, monkeypatch):
        book = made(tmp_path)
        before = book.read_bytes()
        steps = (*schema.MIGRATIONS, self.NEXT, ("ALTER TABLE no_such ADD COLUMN x",))
        monkeypatch.setattr(schema, "MIGRATIONS", steps)
        with pytest.raises(BookError):
            open_book(book)
        assert book.read_bytes() == before

    def test_a_new_book_and_one_brought_forward_have_the_same_tables(self, tmp_path, monkeypatch):
        old = made(tmp_path)
        monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, self.NEXT))
        new = tmp_path / "new.sqlite"
        tables = []
        for path in (old, new):
            with open_book(path) as opened:
                rows = opened._connection.execute("SELECT name, sql FROM sqlite_schema ORDER BY 1")
                tables.append(rows.fetchall())
        assert tables[0] == tables[1]


class TestADamagedBook:
    @pytest.mark.parametrize(
        ("spoil", "words"),
        [
            (lambda data: b"Dear diary, " * 300, "not an SQLite file"),
            (lambda data: data[:3000], "damaged"),
            (lambda data: data[:4096] + b"\xff" * (len(data) - 4096), "damaged"),
            (lambda data: data[:8192] + bytes(len(data) - 8192), "damaged"),
        ],
    )
    def test_is_said_in_one_sentence_and_left_as_it_is(self, tmp_path, spoil, words):
        book = made(tmp_path)
        with open_book(book) as opened:
            opened.keep(etch())
        spoilt = spoil(book.read_bytes())
        book.write_bytes(spoilt)
        for opening_ in (open_book, open_book_if_any):
            with pytest.raises(BookError, match=words) as told:
                opening_(book)
            assert "\n" not in str(told.value)
            assert str(book) in str(told.value)
        assert book.read_bytes() == spoilt

    def test_an_entry_that_no_longer_makes_sense_is_named(self, tmp_path):
        book = made(tmp_path)
        with sqlite3.connect(book) as connection:
            connection.execute("UPDATE entry SET content = '{\"date\": 3}'")
        connection.close()
        with open_book(book) as opened, pytest.raises(BookError, match="entry 1: date"):
            opened.entries()

    def test_an_entry_that_is_no_json_is_named(self, tmp_path):
        book = made(tmp_path)
        with sqlite3.connect(book) as connection:
            connection.execute("UPDATE entry SET content = '{'")
        connection.close()
        with open_book(book) as opened, pytest.raises(BookError, match="entry 1"):
            opened.entries()

    def test_another_programs_file_is_refused(self, tmp_path):
        other = tmp_path / "other.sqlite"
        with sqlite3.connect(other) as connection:
            connection.execute("CREATE TABLE tea (cups)")
        connection.close()
        before = other.read_bytes()
        for opening_ in (open_book, open_book_if_any):
            with pytest.raises(BookError, match="no shop book"):
                opening_(other)
        assert other.read_bytes() == before


def test_an_empty_file_such_as_a_killed_beginning_leaves_is_a_book_with_nothing_in_it(tmp_path):
    book = tmp_path / "book.sqlite"
    book.touch()
    assert open_book_if_any(book) is None
    assert book.stat().st_size == 0
    with open_book(book) as opened:
        opened.keep(bath())


def test_a_book_in_use_is_said_after_a_while(tmp_path, monkeypatch):
    book = made(tmp_path)
    monkeypatch.setattr(opening, "BUSY_S", 0.05)
    other = sqlite3.connect(book, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with open_book(book) as opened:
        with pytest.raises(BookError, match="in use by another process"):
            opened.keep(clearing())
        # It can be read all the while.
        assert len(opened.entries()) == 1
    other.close()


def test_a_writer_waits_for_one_that_began_before_and_both_are_kept(tmp_path, monkeypatch):
    """Held open with pages to write: whoever read first and wrote then would be turned away."""
    book = made(tmp_path)
    monkeypatch.setattr(opening, "BUSY_S", HANGS_S)
    other = sqlite3.connect(book, isolation_level=None, check_same_thread=False, timeout=HANGS_S)
    other.execute("BEGIN IMMEDIATE")
    other.execute("DELETE FROM bath_event")
    ended = []

    def end():
        time.sleep(0.3)
        other.execute("COMMIT")
        ended.append(True)

    with open_book(book) as opened:
        thread = threading.Thread(target=end)
        thread.start()
        assert opened.keep(clearing()).is_new
        thread.join()
        assert ended == [True]
        assert [entry.kind for entry in opened.entries()] == ["bath", "clearing"]
        assert opened.bath("lye A").events == ()
    other.close()


@pytest.mark.parametrize("place", ["folder", "file"])
def test_a_folder_or_nothing_in_the_place_is_said(tmp_path, place):
    path = tmp_path if place == "folder" else tmp_path / "no" / "book.sqlite"
    with pytest.raises(BookError, match="folder"):
        open_book(path)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become somebody else")
def test_a_folder_that_may_not_be_written_is_said_and_the_book_can_be_read(tmp_path):
    # The folder of pytest's own is closed to others.
    folder = Path(tempfile.mkdtemp())
    try:
        book = made(folder)
        book.chmod(0o444)
        folder.chmod(0o555)
        code = """
import os, sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from records.maker import clearing
from stopout.errors import BookError
from stopout.records import open_book, open_book_if_any
import stopout.records.forms
os.setuid(65534)
with open_book_if_any(Path(sys.argv[1])) as opened:
    print(len(opened.entries()))
for path in (Path(sys.argv[1]), Path(sys.argv[1]).with_name("new.sqlite")):
    try:
        with open_book(path) as opened:
            opened.keep(clearing())
    except BookError as error:
        print(str(error).replace(str(path), path.name))
"""
        done = python(code, book, TESTS, cwd=tmp_path)
        assert done.stderr == ""
        assert done.stdout.splitlines() == [
            "1",
            "book.sqlite or its folder is write-protected; nothing was changed",
            "new.sqlite cannot be opened; see that its folder is there and may be read and written",
        ]
    finally:
        folder.chmod(0o755)
        shutil.rmtree(folder)
