"""The coats of a sign planned side by side, each in a process: the same bytes, and a clean end."""

from __future__ import annotations

import multiprocessing
import os
import signal
import time
from functools import partial

import pytest
import shapely

from effort import HANGS_S
from planning.test_front import bytes_of, job_of, planned
from remembered import afresh
from stopout.errors import PlanError
from stopout.job.record import Registration
from stopout.library.cores import on_all_cores
from stopout.planning.road import coats


def where(number, tell):
    tell(f"work {number}")
    return number, os.getpid()


@pytest.mark.parametrize("cores", [1, 2, 3])
def test_works_are_done_side_by_side_and_given_back_in_their_order(cores):
    told: list[str] = []
    made = on_all_cores([partial(where, k) for k in range(5)], told.append, cores)
    assert [number for number, _ in made] == list(range(5))
    assert len({process for _, process in made}) == cores
    assert told == [f"work {k}" for k in range(0, 5, cores)]


def refused(tell):
    raise PlanError("coat 2: nothing is left to open")


def endless(tell):
    time.sleep(HANGS_S)


def interrupted(tell):
    os.kill(os.getpid(), signal.SIGINT)
    time.sleep(HANGS_S)


@pytest.fixture
def heard():
    """An interrupt is heard, also where a shell began the tests in the background."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.parametrize(
    ("works", "fault"),
    [
        ([partial(where, 1), refused], PlanError),
        ([refused, endless], PlanError),
        ([interrupted, endless], KeyboardInterrupt),
    ],
)
def test_a_refusal_or_an_interrupt_ends_every_process(works, fault, heard):
    with pytest.raises(fault):
        on_all_cores(works, print, 2)
    assert multiprocessing.active_children() == []


def test_a_work_whose_process_is_ended_from_outside_is_done_here():
    here = os.getpid()

    def killed_elsewhere(tell):
        if os.getpid() != here:
            os.kill(os.getpid(), signal.SIGKILL)
        return "done"

    assert on_all_cores([partial(where, 1), killed_elsewhere], print, 2)[1] == "done"


def test_a_sign_is_the_same_to_the_byte_on_one_core_or_two(monkeypatch):
    monkeypatch.setattr(coats, "_LARGE", 0)

    def made(cores):
        with afresh():
            return planned(
                job_of(Registration(error_mm=0.1)), do_all=partial(on_all_cores, cores=cores)
            )

    one, two = made(1), made(2)
    assert bytes_of(one) == bytes_of(two)
    for coat, other in zip(one.coats, two.coats, strict=True):
        assert coat.program == other.program is not None
        assert coat.mask == other.mask
        assert coat.clearing == other.clearing
        # On a grid of its own a region would be overlaid otherwise than one that was sent; and a
        # region that tells of none may still have parts that do.
        regions = [coat.target, coat.opening, coat.finished]
        assert shapely.get_precision([*regions, *shapely.get_parts(regions)]).max() == 0
