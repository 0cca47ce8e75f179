"""A blank larger than the bed: one stop, and a remedy that is tried out by following it."""

import re

import pytest
from shapely import box

from jobmaker import make_job, plan, plate
from stopout.values import Level

BED = (60.0, 40.0)
FOLLOWERS = {"outside-bed", "bounds-left-out", "blank-centred"}


def planned(size, art, **machine):
    return plan(art, make_job(blank=plate(size), machine={"bed_mm": BED} | machine))


def beyond(made):
    return [f for f in made.findings if f.code == "blank-beyond-bed"]


def test_a_blank_too_long_is_one_stop_without_followers():
    made = planned((80.0, 30.0), box(2, 2, 78, 28))
    (stop,) = beyond(made)
    assert stop.level is Level.STOP
    assert "the blank of 80 x 30 mm does not fit the bed of 60 x 40 mm" in stop.message
    assert "at least 80 x 30 mm" in stop.remedy
    assert not FOLLOWERS & {f.code for f in made.findings}
    assert made.findings[0] == stop
    assert all(coat.program is None for coat in made.coats)


def test_a_blank_that_fits_when_it_is_turned_is_told_to_be_turned():
    (stop,) = beyond(planned((30.0, 55.0), box(2, 2, 28, 53)))
    assert "quarter turn: 55 x 30 mm fits" in stop.remedy
    assert not beyond(planned((55.0, 30.0), box(2, 2, 53, 28)))


def test_a_blank_that_may_stand_out_is_laid_where_all_motion_stays_inside():
    art = box(5, 5, 20, 25)
    (stop,) = beyond(planned((80.0, 30.0), art))
    corner = tuple(float(value) for value in re.findall(r'"([0-9.]+) mm"', stop.remedy))
    followed = planned((80.0, 30.0), art, blank_at_mm=corner)
    assert followed.coats[0].program is not None
    assert not beyond(followed)


@pytest.mark.parametrize("at", [(0.0, 0.0), (30.0, 5.0)])
def test_a_blank_that_fits_keeps_the_proof_of_its_motion(at):
    """A blank of 40 x 30 mm fits a bed of 60 x 40 mm; at (30, 5) its far end lies outside."""
    made = planned((40.0, 30.0), box(5, 5, 38, 25), blank_at_mm=at)
    assert not beyond(made)
    assert any(f.code == "outside-bed" for f in made.findings) == (at[0] > 20)
