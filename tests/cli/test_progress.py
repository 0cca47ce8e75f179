"""What a long run shows: a bar where it is counted, and a line now and then in a log."""

from __future__ import annotations

import io
import threading

from stopout.cli.limits import progress
from stopout.cli.limits.bounded import at_stage, when_interrupted
from stopout.values import Counted


def test_counted_work_has_a_bar_and_other_work_has_none():
    shown = progress.with_bar(Counted("piece 250 of 1000, about 7 min left", 0.25))
    assert shown == "######------------------ piece 250 of 1000, about 7 min left"
    assert progress.with_bar("typesetting the process sheet") == "typesetting the process sheet"


def test_a_log_gets_a_line_of_counted_work_a_minute(monkeypatch, capsys):
    now = [0.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    with progress.progress(show=True) as tell:
        for k in range(1, 181):
            now[0] = float(k)
            tell(Counted(f"piece {k} of 180", k / 180))
        tell("joining")
    assert capsys.readouterr().err.splitlines() == ["piece 61 of 180", "piece 122 of 180"]


def test_a_terminal_gets_one_line_that_is_cleared_and_no_thread(monkeypatch):
    """A process of several threads is not copied: its work would be left to one core."""
    now, terminal, threads = [0.0], Terminal(), threading.active_count()
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    monkeypatch.setattr(progress.sys, "stderr", terminal)
    with progress.progress(show=True) as tell:
        tell("reading the job")
        assert terminal.getvalue() == "", "what is done at once needs no display"
        for k in (1, 2):
            now[0] = 2.0 * k
            tell(Counted(f"piece {k} of 2", k / 2))
            assert threading.active_count() == threads
            assert terminal.line().endswith(f" piece {k} of 2")
    assert terminal.line() == "", "what is printed next begins on an empty line"


class Terminal(io.StringIO):
    """A terminal of one line: what a carriage return leaves of it."""

    def isatty(self):
        return True

    def line(self):
        row = ""
        for words in self.getvalue().split("\r"):
            row = words + row[len(words) :]
        return row.rstrip()


def test_an_interrupt_says_that_pieces_which_are_done_are_kept():
    at_stage("piece 7 of 48")
    assert "the same command goes on" in when_interrupted()
    at_stage("reading the job")
    assert when_interrupted() == "interrupted; nothing was left half-written"


def test_work_that_takes_minutes_tells_what_is_left_of_it(monkeypatch):
    now = [50.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    left = progress._Left()
    told = []
    for share in (0.0, 0.25, 0.9):
        stage = "coat 1: mask" if not share else Counted(f"coat 1: mask, {share:.0%}", share)
        told.append(left.told(stage))
        now[0] += 100.0
    # A quarter in 100 s leaves 300; nine tenths in 200 leave 22, which is not worth telling.
    assert told == ["coat 1: mask", "coat 1: mask, 25%, about 5 min left", "coat 1: mask, 90%"]
    assert told[1].done == 0.25
    assert left.told(Counted("piece 2 of 9, about 7 min left", 0.2)).endswith(" 7 min left")
