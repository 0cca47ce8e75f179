"""Large work is shared by processes: what is made does not depend on who makes it."""

from __future__ import annotations

import os
import time
from functools import partial

import numpy as np
import pytest
import shapely

from jobmaker import drawing, make_job
from remembered import afresh
from stopout.library.knowledge import knowledge_for
from stopout.planning import plan_job
from stopout.planning.opening import apart


@pytest.fixture
def two_cores(monkeypatch):
    """Everything is large, and there are two cores, though the tests' runner has threads."""
    monkeypatch.setattr(apart, "_LARGE", 1)
    monkeypatch.setattr(apart, "cores", lambda: 2)


def grown(k):
    """A geometry that shows each bit of what was reckoned, and who made it."""
    return os.getpid(), shapely.Point(k / 3, np.sqrt(k)).buffer(1 / (k + 1))


def told_of(*, size, count=9):
    told = []
    made = apart.each(grown, range(count), size=size, tell=told.append, words="growing")
    return made, told


def test_two_processes_make_what_one_makes_bit_for_bit_and_in_the_order_asked(two_cores):
    made, told = told_of(size=[1, 1, 5, 1, 1, 1, 9, 1, 1])
    assert [shape.wkb for _, shape in made] == [grown(k)[1].wkb for k in range(9)]
    # The largest piece is this process's, and the next largest the other's.
    assert made[6][0] == os.getpid()
    assert made[2][0] != os.getpid()
    assert told[-1] == "growing, 100 %"
    assert [word.done for word in told] == sorted(word.done for word in told)


def test_small_work_and_a_single_core_stay_in_this_process(monkeypatch):
    monkeypatch.setattr(apart, "cores", lambda: 2)
    made, told = told_of(size=[1] * 9)
    assert {who for who, _ in made} == {os.getpid()}
    assert not told
    monkeypatch.setattr(apart, "cores", lambda: 1)
    assert {who for who, _ in told_of(size=[10**6] * 9)[0]} == {os.getpid()}


def test_a_mistake_in_another_process_is_told_as_if_it_were_here(two_cores):
    def work(k):
        if k == 2:
            raise ValueError("two will not do")
        return k

    with pytest.raises(ValueError, match="two will not do"):
        apart.each(work, range(3), size=[9, 5, 4])


def test_what_a_process_that_was_ended_did_not_bring_is_made_here(two_cores):
    here = os.getpid()

    def work(k):
        if os.getpid() != here:
            os._exit(9)
        return k * k

    assert apart.each(work, range(5), size=[1] * 5) == [0, 1, 4, 9, 16]
    assert apart.Beside(partial(work, 7), size=5).result() == 49


def test_an_interrupt_ends_the_other_process_and_goes_on_up(two_cores):
    here = os.getpid()

    def work(k):
        if os.getpid() != here:
            time.sleep(600.0)
        raise KeyboardInterrupt

    before = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        apart.each(work, range(2), size=[5, 4])
    measuring = apart.Beside(lambda: time.sleep(600.0), size=5)
    measuring.end()
    # A limit against hangs.
    assert time.monotonic() - before < 300.0


def test_a_plan_is_bit_for_bit_the_same_by_one_process_and_by_two(monkeypatch):
    job = make_job(limits={"edge_tolerance_mm": 0.03, "too_thin": "widen"})
    shapes = [shapely.box(3 * k + 1, 2, 3 * k + 2 + k / 7, 2.13 + k / 3) for k in range(5)]
    dark = shapely.MultiPolygon([*shapes, shapely.Point(5, 8).buffer(1.5)])
    monkeypatch.setattr(apart, "_LARGE", 1)
    made = []
    for count in (1, 2):
        monkeypatch.setattr(apart, "cores", lambda count=count: count)
        with afresh():
            made.append(plan_job(job, drawing(dark), knowledge_for(job)).coats[0])
    one, other = made
    assert one.program == other.program
    assert one.finished.wkb == other.finished.wkb
    assert one.mask == other.mask
    assert one.outcome.too_much.wkb == other.outcome.too_much.wkb
    for widths, again in zip(one.widths, other.widths, strict=True):
        assert np.array_equal(widths.width_mm, again.width_mm)
