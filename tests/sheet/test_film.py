"""The film's page, measured by another library (pypdfium2, which renders and does not typeset)."""

from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
import shapely

from jobmaker import make_job, plan, plate
from stopout.job.record import Film
from stopout.sheet import film_pdf, sheet_contents
from stopout.sheet.model import Step

PIXELS_PER_MM = 20


def planned(**film):
    job = replace(
        make_job(blank=plate((60.0, 40.0))),
        machine=None,
        clearing=None,
        method="printed-film",
        film=Film(**{"resist_acts": "negative", "growth_mm": 0.01, **film}),
    )
    # Left of the middle, so that a mirrored film has it on the right.
    return plan(shapely.box(5, 10, 25, 20), job)


def page(made):
    document = pypdfium2.PdfDocument(film_pdf(made, made.coats[0]))
    picture = document[0].render(scale=PIXELS_PER_MM * 25.4 / 72, grayscale=True).to_numpy()
    return document, picture.reshape(picture.shape[0], -1) < 128


def longest_run_mm(row):
    edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
    return max((edges[1::2] - edges[::2]), default=0) / PIXELS_PER_MM


def test_the_film_is_one_page_of_its_size_with_its_bar_and_artwork_at_true_size():
    document, dark = page(planned())
    assert len(document) == 1
    assert document[0].get_size() == pytest.approx((210 / 25.4 * 72, 297 / 25.4 * 72), abs=0.5)
    runs = [longest_run_mm(row) for row in dark]
    assert max(runs) == pytest.approx(100.0, abs=0.1)
    # The square of 20 x 10 mm less undercut and growth on both edges.
    art = [run for run in runs if 19 < run < 21]
    assert np.median(art) == pytest.approx(20 - 0.14, abs=0.06)
    assert len(art) / PIXELS_PER_MM == pytest.approx(10 - 0.14, abs=0.06)


@pytest.mark.parametrize(("side", "left_mm"), [("down", 60 - 25), ("up", 5)])
def test_the_artwork_is_mirrored_on_the_page_where_its_print_lies_down(side, left_mm):
    _, dark = page(planned(printed_side=side))
    rows = [row for row in dark if 19 < longest_run_mm(row) < 21]
    # The blank's outline and marks stand about the artwork: its run is the longest.
    edges = np.flatnonzero(np.diff(np.concatenate([[0], rows[len(rows) // 2].astype(int), [0]])))
    first = edges[::2][np.argmax(edges[1::2] - edges[::2])] / PIXELS_PER_MM
    assert first - 10 == pytest.approx(left_mm + 0.07, abs=0.06)


def test_the_film_says_which_side_lies_down_and_how_it_must_read():
    document, _ = page(planned())
    words = " ".join(document[0].get_textpage().get_text_bounded().split())
    assert "Lay the printed side DOWN. Text must read RIGHT as you look at the film" in words


def test_the_same_plan_gives_the_same_film():
    made = planned()
    assert film_pdf(made, made.coats[0]) == film_pdf(made, made.coats[0])


def test_the_sheet_exposes_and_develops_and_names_no_laser():
    made = planned()
    sheet = sheet_contents(
        made,
        pictures={"as-seen": "<svg/>", "as-worked-1": "<svg/>"},
        statements={c: "" for h in made.hazards for c in (*h.statements, *h.precautions)},
    )
    steps = [block.text for block in sheet.blocks if isinstance(block, Step)]
    assert "Lay the printed side DOWN." in steps
    assert "Develop until the openings are clear, then as long again." in steps
    assert not any("laser" in f"{block}".lower() for block in sheet.blocks if "Step" in repr(block))
