"""The ways without a beam in the job file: what each needs, and what belongs to another."""

import re

import pytest

from jobs.job_texts import PLATE, edited, mistakes, only_mistake, read
from stopout.job.record import Film, Stencil

# The plate's job without its laser.
BARE = re.sub(r"(?ms)^\[\[?(machine|clearing)[^\n]*\n.*?(?=^\[(?!\[?machine)|\Z)", "", PLATE)
PRINTED = edited(BARE, r"^\[resist\]", '[resist]\nmethod = "printed-film"')
CUT = edited(BARE, r"^\[resist\]", '[resist]\nmethod = "cut-film"')
FILM = '\n[film]\nresist_acts = "positive"\ngrowth = "0.01 mm"\n'


def test_a_printed_film_needs_no_machine_and_no_clearing():
    job = read(PRINTED + FILM)
    assert job.machine is None
    assert job.clearing is None
    assert job.film == Film(resist_acts="positive", growth_mm=0.01)


def test_a_cut_film_needs_no_table_at_all():
    assert read(CUT).stencil == Stencil()
    assert read(CUT + "\n[stencil]\nloose = true\n").stencil == Stencil(is_loose=True)


def test_a_laser_needs_its_machine():
    assert {m.field for m in mistakes(BARE)} == {"machine"}


@pytest.mark.parametrize(
    ("text", "field", "says"),
    [
        (PRINTED, "film", "is missing"),
        (PLATE + FILM, "film", 'is for [resist] method = "printed-film"'),
        (PLATE + "\n[stencil]\n", "stencil", 'is for [resist] method = "cut-film"'),
        (
            PRINTED + FILM + 'smallest_opening = "0.02 mm"\n',
            "film.smallest_opening",
            "must be above 0.02 mm",
        ),
    ],
)
def test_what_is_missing_or_belongs_to_another_way_is_told(text, field, says):
    mistake = only_mistake(text)
    assert mistake.field == field
    assert says in mistake.message
