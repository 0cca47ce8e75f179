"""The bath that a job names, by the shop book's ledger."""

from __future__ import annotations

from dataclasses import replace

import pytest

from jobmaker import make_job
from stopout.job.record import JobBath
from stopout.planning.book.bath import BathState, with_bath

LYE_1 = BathState(
    etchant="sodium-hydroxide",
    litres=2.0,
    dissolved_g_per_l=4.5,
    is_discarded=False,
    last="2026-11-20",
)


def naming(**bath):
    return make_job(bath=JobBath(ident="lye-1", **bath))


def test_metal_and_litres_come_from_the_ledger_and_a_note_says_so():
    job = with_bath(naming(), LYE_1)
    assert (job.bath.dissolved_g_per_l, job.bath.volume_l) == (4.5, 2.0)
    (finding,) = job.findings
    assert (finding.code, finding.level) == ("shop-bath", "note")
    assert "4.5 g/L" in finding.message
    assert "2026-11-20" in finding.message


def test_what_the_job_file_gives_comes_first():
    job = with_bath(naming(dissolved_g_per_l=6.0), LYE_1)
    assert job.bath.dissolved_g_per_l == 6.0
    assert with_bath(naming(volume_l=1.5), LYE_1).bath.volume_l == 1.5


@pytest.mark.parametrize(
    ("state", "said", "level"),
    [
        (None, "no bath 'lye-1'", "caution"),
        (replace(LYE_1, is_discarded=True), "discarded on 2026-11-20", "caution"),
        (replace(LYE_1, etchant="ferric-chloride"), "is ferric-chloride", "stop"),
    ],
)
def test_a_bath_that_cannot_be_meant_gives_nothing_and_is_told(state, said, level):
    job = with_bath(naming(), state)
    assert job.bath.dissolved_g_per_l == 0.0
    (finding,) = job.findings
    assert finding.level == level
    assert said in finding.message
    assert finding.remedy
