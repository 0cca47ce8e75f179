"""A run that takes too much is ended wherever it is, with one sentence; others do not notice."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from dataclasses import replace

import pytest

from cli.shop_files import SOURCE, lay_out, left, process, run
from effort import HANGS_S
from jobmaker import make_job
from stopout.cli.limits import bounded, budget
from stopout.job.record import Budget

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="there is no other process")
ENV = {**os.environ, "PYTHONPATH": str(SOURCE)}
# A run that does as told inside the budget's child.
STUB = """
import sys
from stopout.cli.limits import bounded
{before}
def work():
    bounded.at_stage("reading the artwork")
    bounded.allow(time_s={time}, memory_gib={memory})
    {act}
    print("done", flush=True)
    sys.exit(7)
bounded.bounded(work)
"""
SPIN = "sum(range(10**12))"  # in C all along: no signal handler of Python's would run
FILL = "kept = [bytearray(2**26) for _ in range(64)]"

# The same in a copy that shares the work; the pipes are closed only once it has ended too.
COPIED = "from stopout.copies import Copy; Copy([lambda: {act}]).made()"


@pytest.fixture
def stopout(capsys, monkeypatch):
    return lambda *argv: run(capsys, monkeypatch, *argv)


def stub(act, *, time_s=60.0, memory=4.0, before=""):
    code = STUB.format(act=act, time=time_s, memory=memory, before=before)
    return [sys.executable, "-c", code]


@pytest.mark.parametrize(
    ("act", "limits", "says"),
    [
        (SPIN, {"time_s": 0.2}, "0.2 s of computing are used up"),
        (FILL, {"memory": 0.25}, "0.25 GiB of memory are used up"),
        (COPIED.format(act=SPIN), {"time_s": 0.2}, "0.2 s of computing are used up"),
        (
            COPIED.format(act="len([bytearray(2**26) for _ in range(64)])"),
            {"memory": 0.25},
            "0.25 GiB of memory are used up",
        ),
    ],
)
def test_what_takes_too_much_is_ended_and_told(act, limits, says):
    done = subprocess.run(
        stub(act, **limits), env=ENV, capture_output=True, text=True, timeout=HANGS_S
    )
    assert done.returncode == 3
    assert done.stdout == ""
    assert f"could not finish: {says}, while reading the artwork" in done.stderr
    assert "trace a photograph" in done.stderr
    assert "[budget]" in done.stderr
    assert done.stderr.count("\n") == 1


def test_what_keeps_within_it_ends_as_it_would():
    done = subprocess.run(stub("pass"), env=ENV, capture_output=True, text=True, timeout=HANGS_S)
    assert (done.returncode, done.stdout, done.stderr) == (7, "done\n", "")


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_an_interruption_ends_it_even_inside_a_library(number):
    # What is spared is only the waiting: first for the child to end by itself, then for it at all.
    waits = "bounded._PATIENCE_S, bounded._LAST_S = 0.1, 0.4"
    act = f'print("begun", flush=True); {SPIN}'
    running = subprocess.Popen(
        stub(act, before=waits), env=ENV, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert running.stdout is not None
    assert running.stdout.readline() == "begun\n"
    time.sleep(0.1)
    running.send_signal(number)
    _, said = running.communicate(timeout=HANGS_S)
    assert running.returncode == 130
    assert "interrupted; nothing was left half-written" in said


def test_a_plan_over_its_budget_writes_nothing(tmp_path):
    job = lay_out(tmp_path)
    job.write_text(job.read_text() + '\n[budget]\nmemory = "256 MiB"\n')
    before = left(tmp_path)
    done = process("plan", job, "--time", "0.1 s", cwd=tmp_path)
    assert done.returncode == 3, done.stderr
    assert "0 s of computing" in done.stderr or "0.1 s" in done.stderr
    assert left(tmp_path) == before


def test_a_coupon_over_its_budget_writes_nothing(tmp_path):
    job = lay_out(tmp_path)
    before = left(tmp_path)
    done = process("--time", "0.1s", "coupon", "clearing", job, cwd=tmp_path)
    assert done.returncode == 3, done.stderr
    assert "0.1 s of computing" in done.stderr
    assert left(tmp_path) == before


@pytest.mark.parametrize("words", [("plan",), ("coupon", "etch", "--size", "32x30")])
def test_a_jobs_own_budget_holds_for_its_plan_and_its_coupons(
    tmp_path, stopout, monkeypatch, words
):
    job = lay_out(tmp_path)
    job.write_text(job.read_text() + '\n[budget]\ntime = "33 s"\n')
    said = []
    monkeypatch.setattr(bounded, "_say", said.append)
    status, _, err = stopout(*words, job)
    assert status == 0, err
    assert "time 33.0" in said


def test_a_large_drawing_has_more_time_unless_its_job_says_how_much(monkeypatch):
    said = []
    monkeypatch.setattr(bounded, "_say", said.append)
    job = make_job()
    assert budget.allow_work(job, 1_000) == ""
    words = budget.allow_work(job, 160_000)
    assert words.startswith("a drawing of 160,000 points: it takes 1 to 8 min of computing")
    assert [float(line.split()[1]) for line in said] == [130.0, 1720.0]
    budget.allow_work(replace(job, budget=Budget(time_s=33.0, memory_gib=1.0)), 160_000)
    assert len(said) == 2


def test_what_the_command_line_says_is_not_changed_by_a_job():
    act = f"bounded.allow(time_s=0.2, is_last=True); bounded.allow(time_s=50.0); {SPIN}"
    done = subprocess.run(stub(act), env=ENV, capture_output=True, text=True, timeout=HANGS_S)
    assert done.returncode == 3
    assert "0.2 s of computing are used up" in done.stderr


@pytest.mark.parametrize("command", ["plan", "coupon", "read", "inspect", "shop", "spacing"])
def test_a_budget_of_nought_is_refused_before_any_command(command, stopout):
    status, _, said = stopout("--memory", "0GiB", command, "anything")
    assert status == 2
    assert "the budget must be above nought" in said
