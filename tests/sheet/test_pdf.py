"""The sheet on paper, read back by an independent PDF library."""

from __future__ import annotations

import ctypes
import re
from dataclasses import fields, is_dataclass, replace
from functools import cache

import pypdfium2.raw as pdfium
import pytest

from remembered import afresh, whole_sheets
from sheet.sheet_jobs import DATE, MM_PER_POINT, files, made, page_texts, pages, squeezed
from stopout.library.plan_files import sheet_files
from stopout.sheet import read_sheet, sheet_pdf
from stopout.sheet.model import Box, Step, Table

WORKED = ("tag", "brass", "sign", "window", "panel")
# ISO 216 and ANSI/ASME Y14.1 sheet sizes, mm.
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}


@cache
def printed(name, paper, part="bench"):
    if paper == "A4":
        return files(name)["sheet.pdf" if part == "bench" else "sheet-annex.pdf"]
    return sheet_pdf(files(name).sheet, paper=paper, date=DATE, part=part)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_pages_have_the_size_of_the_paper(paper):
    document, found = pages(printed("tag", paper))
    for page in found:
        size = [side * MM_PER_POINT for side in page.get_size()]
        assert size == pytest.approx(PAPERS[paper], abs=0.05)
    document.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_100_mm_bar_measures_100_mm_by_the_bounds_of_its_object(paper):
    document, found = pages(printed("tag", paper, "annex"))
    widths = []
    for page in found:
        for item in page.get_objects(filter=(pdfium.FPDF_PAGEOBJ_PATH,), max_depth=4):
            left, bottom, right, top = item.get_bounds()
            width, height = (right - left) * MM_PER_POINT, (top - bottom) * MM_PER_POINT
            if abs(width - 100) < 1 and height < 1:
                widths.append(width)
    document.close()
    assert len(widths) == 1
    assert widths[0] == pytest.approx(100.0, abs=0.05)


@pytest.mark.parametrize("name", WORKED)
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_nothing_lies_outside_the_margins(name, paper):
    # 20 mm at the left for the punch, 12 mm elsewhere; a stroke lies half outside its edge, and
    # the library's bounds allow for a whole one.
    document, found = pages(printed(name, paper))
    for number, page in enumerate(found, start=1):
        width, height = page.get_size()
        for item in page.get_objects(max_depth=4):
            left, bottom, right, top = (side * MM_PER_POINT for side in item.get_bounds())
            where = f"page {number}: {left:.1f} {bottom:.1f} {right:.1f} {top:.1f}"
            assert left >= 20 - 0.6, where
            assert right <= width * MM_PER_POINT - 12 + 0.6, where
            assert bottom >= 12 - 0.6, where
            assert top <= height * MM_PER_POINT - 12 + 0.6, where
    document.close()


@pytest.mark.parametrize("name", [*WORKED, "stopped"])
def test_each_page_names_job_revision_quantity_artwork_date_and_its_own_number(name):
    texts, plan = page_texts(files(name)["sheet.pdf"]), made(name)
    for number, text in enumerate(texts, start=1):
        for words in (
            plan.job.name,
            f"revision {plan.job.revision}",
            f"quantity {plan.job.quantity}",
            f"artwork {plan.drawing.sha256[:12]}",
            f"date {DATE}",
            f"page {number} of {len(texts)}",
            "Stopout",
        ):
            assert words in text, (number, words)


def test_the_stop_sheet_is_one_page_that_says_stop_and_sets_nothing():
    for name in ("stopped", "crowded"):
        texts = page_texts(files(name)["sheet.pdf"])
        assert len(texts) == 1
        (text,) = texts
        assert "STOP" in text
        assert "Remedy:" in text
        for word in ("SET", "MEASURED", "TIMER", "clear-1.nc", "SHA", "Stir", "Weigh"):
            assert word not in text, word
        assert len(page_texts(printed(name, "Letter"))) == 1


def strings(value):
    """All texts of a sheet's model that a reader is to see."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for item in value:
            yield from strings(item)
    elif is_dataclass(value):
        for item in fields(value):
            if item.name not in ("kind", "rank", "svg", "alt", "format", "is_stop", "known", "key",
                             "act"):  # fmt: skip
                yield from strings(getattr(value, item.name))


@pytest.mark.parametrize("name", [*WORKED, "stopped"])
def test_every_text_of_the_model_is_on_the_paper(name):
    sheet = files(name).sheet
    text = squeezed(" ".join(page_texts(files(name)["sheet.pdf"]))).replace("-", "")
    for block in (*sheet.card, *sheet.blocks):
        # A box names its signs for those who do not see them; the annex prints their codes.
        if isinstance(block, Box):
            block = replace(block, signs=())
        # What has its row in the record of the pieces has no place beside the step.
        if isinstance(block, Step) and block.act in ("weigh-before", "weigh-after", "depth"):
            block = replace(block, measured=())
        if isinstance(block, Step):
            # Readings of one kind stand behind one name.
            block = replace(
                block,
                measured=tuple(replace(b, label=b.label.rstrip(" 123")) for b in block.measured),
            )
        if isinstance(block, Table) and block.columns == ("What", "What to do"):
            block = replace(block, columns=())
        for words in strings(block):
            # A reader of PDF drops the hyphen at which a line was broken.
            assert squeezed(words).replace("-", "") in text, (block.kind, words)


@pytest.mark.parametrize("name", WORKED)
def test_every_font_is_embedded(name):
    data = files(name)["sheet.pdf"]
    document, found = pages(data)
    named = set()
    for page in found:
        for item in page.get_objects(filter=(pdfium.FPDF_PAGEOBJ_TEXT,), max_depth=4):
            font = pdfium.FPDFTextObj_GetFont(item)
            assert pdfium.FPDFFont_GetIsEmbedded(font) == 1
            buffer = ctypes.create_string_buffer(128)
            pdfium.FPDFFont_GetBaseFontName(font, buffer, 128)
            named.add(buffer.value.decode())
    document.close()
    assert all("Barlow" in name for name in named), named


@pytest.mark.parametrize("name", WORKED)
def test_no_letter_is_smaller_than_eight_points(name):
    document, found = pages(files(name)["sheet.pdf"])
    for page in found:
        for item in page.get_objects(filter=(pdfium.FPDF_PAGEOBJ_TEXT,), max_depth=4):
            size = ctypes.c_float()
            pdfium.FPDFTextObj_GetFontSize(item, size)
            assert abs(size.value * item.get_matrix().d) >= 7.99
    document.close()


def test_the_same_plan_and_date_give_the_same_bytes_whatever_the_clock_says():
    with whole_sheets(), afresh():
        again = sheet_files(made("tag"), date=DATE)
    assert again == {name: files("tag")[name] for name in again}
    sheet, date = read_sheet(again["sheet.json"])
    assert sheet_pdf(sheet, date=date) == again["sheet.pdf"]
    assert sheet_pdf(sheet, date="2025-03-15") != again["sheet.pdf"]


def test_the_file_says_that_it_is_tagged_archival_and_accessible():
    # PDF/A-2a and PDF/UA-1 name themselves in the XMP metadata (ISO 19005-2 6.6.4, ISO 14289-1 5).
    data = files("tag")["sheet.pdf"]
    assert re.search(rb"<pdfaid:part>2</pdfaid:part>", data)
    assert re.search(rb"<pdfuaid:part>1</pdfuaid:part>", data)
    document, _ = pages(data)
    assert document.is_tagged()
    document.close()


def test_degrees_and_micrometres_are_typeset():
    text = " ".join(page_texts(files("tag")["sheet.pdf"]))
    assert "40 °C" in text
    assert "degC" not in text
    assert "degF" not in text
    assert not re.search(r"\d um\b", text)


@pytest.mark.parametrize("date", ["yesterday", "2025-13-01", ""])
def test_a_date_that_is_none_is_refused(date):
    sheet = files("tag").sheet
    with pytest.raises(ValueError, match="2025-03-14"):
        sheet_pdf(sheet, date=date)


def test_an_unknown_paper_is_refused():
    sheet = files("tag").sheet
    with pytest.raises(ValueError, match="A4 or Letter"):
        sheet_pdf(sheet, paper="B5", date=DATE)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("Sluice \u6c34\u8eca plate", "Sluice 水車 plate"),
        ("\u0428\u043b\u044e\u0437 \u03a3", "\u0428\u043b\u044e\u0437 \u03a3"),
        ('x#*_`$"<b>[c]', 'x#*_`$"<b>[c]'),
        ("pawl" * 40, "pawl" * 15),
        ("A plate of the lower gate " * 6, "A plate of the lower gate " * 2),
    ],
)
def test_a_name_of_any_letters_and_length_is_printed_within_the_header(name, said):
    sheet = files("tag").sheet
    header = replace(sheet.header, job=name)
    named = replace(sheet, header=header, card=(), blocks=sheet.blocks[:4])
    text = page_texts(sheet_pdf(named, date=DATE))[0]
    assert squeezed(said) in squeezed(text)
    assert "page 1 of" in text
