"""The bench sheet: how many pages, what its first page says, and no word of another process."""

from __future__ import annotations

import ctypes
import re
from dataclasses import replace
from functools import cache

import pypdfium2.raw as pdfium
import pytest
from shapely.geometry import box

from jobmaker import drawing, make_job, plan
from planning.test_edge_light import marked
from planning.test_film import cut
from sheet.sheet_jobs import (
    COATS,
    DEMO_PLATES,
    DEMO_SIGNS,
    GLYPH,
    Printed,
    files,
    fullness,
    made,
    page_texts,
    pages,
    sign_job,
    squeezed,
)
from sheet.test_bath_day import made as made_bath
from sheet.test_film import planned as planned_film
from stopout.job.record import Registration, Shows, Stencil
from stopout.library.knowledge import knowledge_for
from stopout.planning import plan_job
from stopout.sheet.model import Hold
from stopout.sheet.words import duration, grams, litres
from stopout.values import DrawnShape

PLATES = ("tag", "brass", "panel", "film", "knife", "current")
SIGNS = ("sign", "window")
# Words of each way of working, which stand on no sheet of another.
BEAM = r"(?<!never with a )laser|beam|dose|program|machine's origin|bounds\.nc|eyewear"
PAINT = "spray(?! and vapour)|sprayed|wet paint"
FILM = "exposed?|exposure|develop|developed|developer|printed side|yellow light|film-1"
KNIFE = "knife|weed|stencil|transfer tape|cut file"
BATH = "bath|etch|etched|rinse|rinses|undercut|mordant"
CURRENT = "cathode|supply|volts?|amperes?|current"
BEHIND = "viewer|through the front|window to light|acrylic"
FOREIGN = {
    "film": (BEAM, PAINT, KNIFE, CURRENT, BEHIND),
    "knife": (BEAM, PAINT, FILM, CURRENT, BEHIND),
    "sign": (BATH, FILM, KNIFE, CURRENT),
    "window": (BATH, FILM, KNIFE, CURRENT),
    "masked": (BEAM, BATH, FILM, CURRENT),
    "lit": (BATH, PAINT, FILM, KNIFE, CURRENT),
    "tag": (FILM, KNIFE, CURRENT, BEHIND),
    "brass": (FILM, KNIFE, CURRENT, BEHIND),
    "current": (FILM, KNIFE, BEHIND),
}


SHOWS = (Shows(kind="rest"), Shows(kind="fill", value="#c8102e"))


@cache
def plan_of(name):
    if name == "film":
        return planned_film()
    if name == "lit":
        return marked()
    if name == "knife":
        return plan(GLYPH, cut())
    if name == "masked":
        coats = tuple(replace(coat, shows=shows) for coat, shows in zip(COATS, SHOWS, strict=True))
        job = replace(sign_job(), coats=coats, machine=None, clearing=None, method="cut-film")
        job = replace(job, stencil=Stencil(), registration=Registration(error_mm=0.3))
        shape = DrawnShape(fill="#c8102e", ident="", classes=(), region=box(4, 3, 8, 7))
        return plan_job(job, drawing(shape.region, shapes=(shape,)), knowledge_for(job))
    return made_bath(name) if name == "current" else made(name)


@cache
def printed(name):
    own = ("film", "knife", "masked", "lit", "current")
    return Printed(plan_of(name)) if name in own else files(name)


def bench(name):
    return printed(name)["sheet.pdf"]


@pytest.mark.parametrize("name", [*PLATES, *DEMO_PLATES, "noisy", *SIGNS, *DEMO_SIGNS])
def test_the_bench_sheet_has_few_pages_and_none_but_the_last_is_less_than_two_thirds_full(name):
    full = fullness(bench(name))
    # A plate of one coat and one bath four, a sign of three coats six at most.
    assert len(full) <= (4 if plan_of(name).etch else 6)
    assert min(full[:-1]) >= 2 / 3, full


@pytest.mark.parametrize("name", [*PLATES, *SIGNS])
def test_no_letter_at_the_bench_is_smaller_than_nine_points(name):
    document, found = pages(bench(name))
    for page in found:
        for item in page.get_objects(filter=(pdfium.FPDF_PAGEOBJ_TEXT,), max_depth=4):
            size = ctypes.c_float()
            pdfium.FPDFTextObj_GetFontSize(item, size)
            assert abs(size.value * item.get_matrix().d) >= 8.99
    document.close()


def test_a_person_who_made_the_job_before_works_from_the_first_page():
    first = squeezed(page_texts(bench("tag"))[0])
    tag = made("tag")
    etch, coat = tag.etch, tag.coats[0]
    for words in (
        "As seen",
        "As worked",
        "NOT MIRRORED",
        "RECESSED",
        tag.verdict.headline,
        "clear-1.nc",
        f"{100 * coat.clearing.power_fraction:g} %",
        f"{coat.clearing.speed_mm_s:g} mm/s",
        "Origin",
        litres(etch.bath_fill_l),
        grams(etch.reagent_fill_g),
        f"{etch.temperature_degc:g} °C",
        duration(etch.time_s),
        duration(0.5 * etch.time_s),
        duration(0.8 * etch.time_s),
        "4 in a tray of 180 × 130 mm",
        "1 for 4 pieces",
        "In all",
        "Have ready",
    ):
        assert squeezed(words) in first, words


@pytest.mark.parametrize("name", [n for n in PLATES if n != "panel"])
def test_a_plate_has_three_signed_holds_at_most_and_the_bath_is_one(name):
    sheet = printed(name).sheet
    holds = [block for block in sheet.blocks if isinstance(block, Hold)]
    assert [hold.number for hold in holds] == list(range(1, len(holds) + 1))
    assert len(holds) == {"film": 2, "knife": 1}.get(name, 3)
    assert holds[-1].before.startswith("the bath")
    assert {hold.signatures for hold in holds} == {1}


@pytest.mark.parametrize("name", ["wheel-board", "sluice-board"])
def test_a_sign_cleared_twice_has_three_signed_holds_in_all(name):
    sheet = printed(name).sheet
    holds = [block.before.split(":")[0] for block in sheet.blocks if isinstance(block, Hold)]
    assert holds == ["the beam goes on", "the piece is moved", "the beam goes on"]


def test_a_second_name_is_asked_for_only_where_the_job_wants_one():
    sheet = Printed(plan(GLYPH, replace(make_job(), second_name=True))).sheet
    assert {b.signatures for b in sheet.blocks if isinstance(b, Hold)} == {2}


@pytest.mark.parametrize("name", FOREIGN)
def test_the_sheet_has_no_word_of_another_process(name):
    sheet = printed(name).sheet
    # Drawings and what the page reckons with are no words for a reader; a hazard's own words
    # stand as the table has them.
    said = [
        text
        for block in (*sheet.card, *sheet.blocks)
        if block.kind not in ("pictures", "sketches", "box")
        for text in re.findall(r"'([^']*)'", repr(block).replace('"', "'"))
    ]
    foreign = re.compile(rf"\b(?:{'|'.join(FOREIGN[name])})\b", re.IGNORECASE)
    assert [text for text in said if foreign.search(text)] == []
