"""The sheet of a sign that is lit from behind."""

from __future__ import annotations

from dataclasses import replace

from lxml import html

from jobmaker import drawing
from sheet.sheet_jobs import COATS, GLYPH, Printed, plain, sign_job
from stopout.job.record import Registration
from stopout.library.knowledge import knowledge_for
from stopout.pictures.means.colours import look_alike, paint_tint
from stopout.planning import plan_job


def sheet_text(last, **changes):
    """The text of the HTML sheet of a sign whose last coat is given."""
    job = replace(sign_job(), coats=(COATS[0], last), **changes)
    page = Printed(plan_job(job, drawing(GLYPH), knowledge_for(job)))["sheet.html"]
    return plain(html.fromstring(page).text_content())


DIFFUSER = replace(COATS[1], paint="diffuser-lacquer", colour="white")
WINDOW = replace(COATS[1], colour="clear")


def test_a_diffuser_is_sprayed_thin_and_judged_against_a_lamp():
    text = sheet_text(DIFFUSER)
    assert "Coat 2 of 2: white diffuser" in text
    assert "Lamp test after each thin coat" in text
    assert "2 (1 to 4)" in text
    assert "to full cover" not in text.replace("then coat to full cover", "")
    assert "more paint behind" not in text


def test_the_crosses_of_a_lit_sign_are_painted_over_at_the_end():
    crosses = Registration(marks_mm=((1.5, 5.0),))
    for last in (DIFFUSER, WINDOW):
        assert "Paint the crosses over" in sheet_text(last, registration=crosses)
        assert "Paint the crosses over" not in sheet_text(last)
    assert "Paint the crosses over" not in sheet_text(COATS[1], registration=crosses)


def test_a_diffuser_is_tinted_between_its_paint_and_the_lamp_and_parts_from_black_in_grey():
    assert paint_tint("white diffuser") not in (paint_tint("white"), paint_tint("diffuser"))
    assert paint_tint("#ffffff diffuser") == paint_tint("white diffuser")
    assert not look_alike(paint_tint("white diffuser"), paint_tint("black"))
