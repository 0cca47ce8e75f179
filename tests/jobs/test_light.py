"""The table [light]: what it takes, and what has no place beside it."""

from __future__ import annotations

import re

import pytest

from jobs.job_texts import SIGN, mistakes, only_mistake, read

COATS = re.compile(r"\[\[coat\]\].*?(?=\n\[(?!\[coat\]\]))", re.DOTALL)
REGISTRATION = re.compile(r"\[registration\].*?(?=\n\[|\Z)", re.DOTALL)
LIT = REGISTRATION.sub("", COATS.sub('[light]\nedge = "left"\n', SIGN, count=1))


def test_a_lit_sheet_has_no_coats_and_a_far_side_twice_as_dense_by_default():
    job = read(LIT)
    assert job.light is not None
    assert (job.light.edge, job.light.far) == ("left", 2.0)
    assert [coat.paint for coat in job.coats] == [""]


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ('edge = "left"', 'edge = "left"\nfar = 0.5', "light.far"),
        ('edge = "left"', 'edge = "below"', "light.edge"),
        ("[light]", '[registration]\nerror = "0.1 mm"\n[light]', "registration"),
        ("[light]", '[[coat]]\npaint = "acrylic-lacquer"\nshows = "dark"\n[light]', "coat"),
        ('"back"', '"front"', "light"),
    ],
)
def test_what_has_no_place_beside_a_lit_edge_is_told(old, new, field):
    assert field in {mistake.field for mistake in mistakes(LIT.replace(old, new, 1))}


def test_the_lines_are_not_laid_twice():
    text = LIT.replace("[clearing]", '[clearing]\nspacing = "0.05 mm"', 1)
    assert only_mistake(text).field == "clearing.spacing"


def test_a_sign_is_cleared_by_the_beam_unless_a_stencil_is_given():
    assert read(SIGN).method == "laser"
    assert read(SIGN).route.clears_paint
    bare = "\n[".join(
        part for part in SIGN.split("\n[") if not part.startswith(("machine", "clearing"))
    )
    cut = read(bare + "\n[stencil]\n")
    assert cut.method == "cut-film"
    assert not cut.route.has_beam
