"""What a long run shows: a bar where it is counted, and a line now and then in a log."""

from __future__ import annotations

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
        left.now_at(stage)
        told.append(left.told())
        now[0] += 100.0
    # A quarter in 100 s leaves 300; nine tenths in 200 leave 22, which is not worth telling.
    assert told == ["coat 1: mask", "coat 1: mask, 25%, about 5 min left", "coat 1: mask, 90%"]
    assert told[1].done == 0.25
    left.now_at(Counted("piece 2 of 9, about 7 min left", 0.2))
    assert left.told().endswith(" 7 min left")


def test_of_the_first_of_many_pieces_nothing_is_concluded(monkeypatch):
    now = [0.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    left = progress._Left()
    left.now_at(Counted("coat 1: mask", 0.0))
    # What is made ready for all of it takes a while: 60 s a fiftieth would be 49 minutes.
    now[0] = 60.0
    left.now_at(Counted("coat 1: mask", 0.02))
    assert left.told() == "coat 1: mask"


def test_a_large_plan_tells_what_is_left_of_all_its_stages(monkeypatch):
    now = [0.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    left = progress._Left()
    said = []
    for at_s, words in ((0.0, "mask"), (60.0, "clearing paths"), (200.0, "")):
        now[0] = at_s
        if words:
            left.now_at(progress.of_all(f"coat 1: {words}", 1))
        said.append(left.told())
    # A tenth in 60 s leaves 540; of these 140 have gone by while paths are laid.
    assert said == [
        "coat 1: mask",
        "coat 1: clearing paths, about 9 min left",
        "coat 1: clearing paths, about 7 min left",
    ]


def test_stages_of_a_large_plan_come_in_the_order_of_their_shares():
    done = [
        progress.of_all(Counted("coat 1: mask, 50 %", 0.5), 2).done,
        progress.of_all("coat 1: holding it against the artwork", 2).done,
        progress.of_all("coat 2: mask", 2).done,
        progress.of_all("drawing the pictures", 2).done,
    ]
    assert done == sorted(set(done))
    assert 0 < done[0] < done[-1] < 1
    assert progress.of_all("joining", 2) == "joining"


def test_a_terminal_gets_one_line_that_renews_itself_and_goes(monkeypatch):
    now, written, before = [0.0], [], {*threading.enumerate()}
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    monkeypatch.setattr(progress.sys.stderr, "isatty", lambda: True, raising=False)
    size = progress.os.terminal_size((30, 24))
    monkeypatch.setattr(progress.os, "get_terminal_size", lambda stream: size)
    monkeypatch.setattr(progress.os, "write", lambda stream, said: written.append(said.decode()))
    monkeypatch.setattr(progress, "at_stage", lambda stage: None)
    with progress.progress(show=True) as tell:
        tell("reading the artwork")
        assert not written
        now[0] = 2.0
        tell(Counted("coat 1: mask, 50 %", 0.5))
        # A second thread would keep the work on one core.
        assert not {*threading.enumerate()} - before
    assert written[0].startswith("\r| ############------------ co")
    assert all(len(line) <= 29 + len("\r\x1b[K") for line in written)
    assert written[-1] == "\r\x1b[K"
