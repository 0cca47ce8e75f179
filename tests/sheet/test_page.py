"""The page for a phone, by an HTML parser: the same words as the paper, nothing from afar."""

from __future__ import annotations

import re

import pytest
from lxml import html

from sheet.sheet_jobs import DATE, Printed, files, squeezed
from sheet.test_bath_day import made as made_bath
from sheet.test_pdf import strings
from stopout.sheet import sheet_page, with_both_units

WORKED = ("tag", "brass", "sign")


def page(name):
    return html.fromstring(files(name)["sheet.html"].decode())


def words(root):
    body = root.find("body")
    for script in body.xpath(".//script"):
        script.drop_tree()
    return squeezed(
        " ".join(text for text in body.itertext() if text)
        + " ".join(element.get("aria-label", "") for element in body.iter("svg"))
    )


@pytest.mark.parametrize("name", [*WORKED, "stopped"])
def test_every_text_of_the_paper_is_on_the_page(name):
    sheet = files(name).sheet
    text = words(page(name))
    for block in sheet.blocks:
        for said in strings(block):
            assert squeezed(said) in text, (block.kind, said)


@pytest.mark.parametrize("name", WORKED)
def test_steps_stand_in_the_order_of_the_sheet_each_with_a_tick(name):
    sheet = files(name).sheet
    found = page(name).xpath("//article[@data-step]")
    assert [int(step.get("data-step")) for step in found] == [s.number for s in sheet.steps]
    for step in found:
        assert len(step.xpath(".//input[@type='checkbox']")) == 1
    # A clock belongs to the pieces, not to the step at which it starts.
    clocked = ("lower", "coupon-etch")
    timed = [step.timer_s for step in sheet.steps if step.timer_s and step.act not in clocked]
    lanes = () if sheet.bench is None else sheet.bench.lanes
    assert len(page(name).xpath("//*[@data-lane]")) == len(lanes)
    assert [int(t.get("data-target")) for t in page(name).xpath("//*[@data-timer]")] == timed


@pytest.mark.parametrize("name", [*WORKED, "stopped"])
def test_nothing_is_fetched_from_anywhere(name):
    text = files(name)["sheet.html"].decode()
    root = page(name)
    assert not root.xpath("//link | //iframe | //img | //script[@src] | //object | //embed")
    assert not re.search(r"url\(\s*['\"]?(?!#)", text)
    for link in root.xpath("//a/@href"):
        assert link.startswith("#")
    # The only addresses are names of XML vocabularies.
    assert set(re.findall(r"https?://[^\"'\s<>]+", text)) <= {"http://www.w3.org/2000/svg"}


@pytest.mark.parametrize("name", WORKED)
def test_every_place_to_type_or_tick_has_a_label_and_a_name_of_its_own(name):
    root = page(name)
    ids = root.xpath("//@id")
    assert len(ids) == len(set(ids))
    labelled = set(root.xpath("//label/@for"))
    fields = root.xpath("//input | //textarea")
    assert len(fields) > 30
    assert {field.get("id") for field in fields} <= labelled


def test_another_date_or_another_sheet_has_another_key():
    sheet, date = files("tag").sheet, DATE
    keys = {
        html.fromstring(sheet_page(entry, date=day).decode()).find("body").get("data-key")
        for entry, day in (
            (sheet, date),
            (sheet, "2025-03-15"),
            (files("brass").sheet, date),
        )
    }
    assert len(keys) == 3


def test_the_same_sheet_gives_the_same_bytes():
    sheet, date = files("tag").sheet, DATE
    assert date == DATE
    assert sheet_page(sheet, date=date) == files("tag")["sheet.html"]


def test_names_that_look_like_markup_are_shown_and_do_nothing():
    from dataclasses import replace

    sheet, date = files("tag").sheet, DATE
    evil = replace(sheet, header=replace(sheet.header, job='<script>x</script>" onload="y'))
    root = html.fromstring(sheet_page(evil, date=date).decode())
    assert len(root.xpath("//script")) == 1
    assert root.find("body").get("onload") is None
    assert root.xpath("//h1")[0].text == '<script>x</script>" onload="y'


def test_the_stopped_sheet_says_stop_and_has_nothing_to_tick_or_set():
    root = page("stopped")
    assert root.xpath("//p[@class='stop-word']")[0].text == "STOP"
    assert not root.xpath("//main//input")
    assert "SET" not in root.find("body").find("main").text_content()


# 1 inch is 25.4 mm exactly; t(degF) = 1.8 t(degC) + 32 (NIST SP 811, appendix B.8).
@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("100\u00a0mm", "100\u00a0mm (3.94\u00a0in)"),
        ("0.06\u00a0mm", "0.06\u00a0mm (0.00236\u00a0in)"),
        ("100 × 60 × 1.5\u00a0mm", "100 × 60 × 1.5\u00a0mm (3.94 × 2.36 × 0.0591\u00a0in)"),
        ("25\u00a0µm", "25\u00a0µm (0.984\u00a0mil)"),
        ("20\u00a0mm/s", "20\u00a0mm/s (0.787\u00a0in/s)"),
        ("at 40\u00a0°C.", "at 40\u00a0°C (104\u00a0°F)."),
        ("\u221210\u00a0°C", "\u221210\u00a0°C (14\u00a0°F)"),
        ("12\u00a0mm²", "12\u00a0mm²"),
        ("4 plates", "4 plates"),
    ],
)
def test_inches_and_fahrenheit_stand_beside_millimetres_and_celsius(given, shown):
    from stopout.sheet.model import Header, Note, Sheet

    header = Header(job="", revision="", quantity=1, artwork="", tool="")
    both = with_both_units(Sheet(header=header, blocks=(Note(lines=(given,)),)))
    assert both.blocks[0].lines == (shown,)


@pytest.mark.parametrize("name", WORKED)
def test_a_sheet_in_both_units_keeps_what_is_written_and_recorded_in_metric(name):
    sheet = files(name).sheet
    both = with_both_units(sheet)
    for before, after in zip(sheet.steps, both.steps, strict=True):
        assert [blank.unit for blank in before.measured] == [blank.unit for blank in after.measured]
        assert before.timer_s == after.timer_s
    results = [block for block in both.blocks if block.kind == "result"]
    assert results == [block for block in sheet.blocks if block.kind == "result"]
    # The record of the paper and that of the phone know the same of the job.
    assert bool(results) is (name != "sign")
    assert all(set(sheet.bench.known) <= set(block.known) for block in results)
    assert name == "sign" or sheet.bench.known


def test_the_winch_plate_has_at_most_25_screens():
    """By its own job file; what is drawn on it adds no step."""
    screens = [
        int(unit.get("data-screen")) for unit in page("winch-plate").xpath("//*[@data-screen]")
    ]
    assert sorted(set(screens)) == list(range(1, max(screens) + 1))
    assert 15 <= max(screens) <= 25


def test_every_piece_has_its_row_and_its_places_though_the_paper_ends_after_eight():
    root = html.fromstring(Printed(made_bath("used"))["sheet.html"].decode())
    pieces = [str(k) for k in range(1, 33)]
    rows = [row.text_content() for row in root.xpath("//tbody/tr/th[@scope='row']")]
    assert [name for name in pieces if name not in rows] == []
    kept = {element.get("data-keep") for element in root.xpath("//input[@data-keep]")}
    for name in pieces:
        assert {f"piece.{name}.before", f"piece.{name}.d3", f"piece.{name}.good"} <= kept
