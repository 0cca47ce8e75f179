"""Paint, calendar, rework, waste, findings and pictures of the sheet."""

from __future__ import annotations

from dataclasses import replace

import pytest
from lxml import etree

from sheet.sheet_jobs import DATE, all_text, files, made, page_texts, squeezed
from stopout.planning.plan import PlacedPiece
from stopout.sheet import with_both_units
from stopout.sheet.contents.card import _beam
from stopout.sheet.contents.hours import hours_and_calendar, spans
from stopout.sheet.contents.numbers import findings
from stopout.sheet.drawings.maps import deviation_map, enlarged
from stopout.sheet.drawings.sketches import bath_sketch, coat_sketch
from stopout.sheet.model import Heading, Sketches, Step, Table
from stopout.sheet.stages.clearing import clearing_steps
from stopout.sheet.stages.hazards import hazard_reference
from stopout.sheet.stages.paint import painted_cm2, wet_paint_ml
from stopout.tables.hazards import all_statements


def sheet_of(name):
    return files(name).sheet


def table_with(blocks, column):
    (table,) = (b for b in blocks if isinstance(b, Table) and column in b.columns)
    return table


def test_a_plate_is_painted_on_both_faces_its_edges_and_the_walls_of_its_holes():
    # Closed form: 12 x 10 mm, 1.5 mm thick, one hole of 1.5 mm, four pieces. The hole is drawn
    # with chords, so its edge is a little short of pi d.
    face = 12 * 10 - 3.14159 * 1.5**2 / 4
    edges = (2 * (12 + 10) + 3.14159 * 1.5) * 1.5
    assert painted_cm2(made("tag")) == pytest.approx(4 * (2 * face + edges) / 100, rel=1e-3)


def test_a_sign_is_painted_on_its_back_alone():
    assert painted_cm2(made("sign")) == pytest.approx(12 * 10 / 100)


def test_wet_paint_is_film_times_area_over_solids():
    # 1 m2 at 25 um is 25 mL of dry coat, 50 mL of paint with half of it solid.
    assert wet_paint_ml(10_000.0, 25.0, 0.5) == pytest.approx(50.0)


def test_the_range_of_the_paint_is_that_of_its_solids():
    row = table_with(sheet_of("tag").everything, "Wet paint on the pieces").rows[0]
    area = painted_cm2(made("tag"))
    least, most = wet_paint_ml(area, 25.0, 0.7), wet_paint_ml(area, 25.0, 0.4)
    assert f"({least:.2g}" in row[3]
    assert f"{most:.2g}" in row[3].replace("0 mL", " mL") or f"{most:.2f}" in row[3]


def test_the_calendar_is_reckoned_from_the_date_of_the_sheet():
    # 24 h for the solvent, 168 h for the full cure: one day and seven after 2025-03-14.
    rows = {row[0]: row[2] for row in table_with(sheet_of("tag").card, "Earliest").rows}
    assert rows["Coat"] == DATE
    assert rows["Clear, 4 pieces"] == "2025-03-15"
    assert rows["Coupon"] == "2025-03-21"


def test_the_coats_of_a_sign_follow_each_other_in_the_calendar():
    days = [row[2] for row in table_with(sheet_of("sign").card, "Earliest").rows]
    assert days[0] == "2025-03-14"
    assert days == sorted(days)
    assert days[-1] >= "2025-03-16"


def test_without_a_date_the_calendar_counts_days():
    rows = table_with(hours_and_calendar(made("tag"), None), "Earliest").rows
    assert [row[2] for row in rows][:3] == ["day 0", "day 1", "day 7"]


def test_the_hours_are_those_of_machine_bath_and_waits():
    # By hand: four clearings with 20 min of extraction each; the coupon half the etch's time; the
    # etch all its batches; the cure of 168 h before them.
    made_tag = made("tag")
    found = {span.what.split(",")[0]: span for span in spans(made_tag)}
    time_s = made_tag.coats[0].clearing.times.time_s
    assert found["Clear"].lasts_s == pytest.approx(4 * (time_s + 1200))
    assert found["Coupon"].lasts_s == pytest.approx(made_tag.etch.time_s / 2)
    assert found["Etch"].lasts_s == pytest.approx(sum(b.time_s for b in made_tag.etch.batches))
    assert found["Etch"].begins_s == pytest.approx(168 * 3600 + made_tag.etch.time_s / 2)


def test_rework_tells_what_to_do_about_left_paint_a_power_cut_and_a_hot_bath():
    table = table_with(sheet_of("tag").everything, "What to do")
    said = " ".join(" ".join(row) for row in table.rows)
    for words in ("--box", "--from-line", "--points", "clear-1.nc", "above 50", "--from-line N"):
        assert words in said, words
    assert "--coat" not in said
    sign = " ".join(
        " ".join(row) for row in table_with(sheet_of("sign").everything, "What to do").rows
    )
    assert "bath" not in sign.lower()


def test_the_commands_keep_their_two_hyphens_on_paper():
    text = " ".join(page_texts(files("tag")["sheet.pdf"]))
    assert "--from-line" in text


def test_the_bath_goes_into_its_container_before_anything_is_added():
    steps = [s for s in sheet_of("tag").everything if isinstance(s, Step)]
    texts = [step.text for step in steps]
    pour = next(k for k, t in enumerate(texts) if "into its labelled container" in t)
    carry = next(k for k, t in enumerate(texts) if t.startswith("Carry the containers"))
    strip = next(k for k, t in enumerate(texts) if t.startswith("Soak the piece in the stripper"))
    neutral = next(k for k, t in enumerate(texts) if "neutralise" in t)
    # Nobody carries an open bath; no solvent comes near it; nothing is added in the tray.
    assert pour < carry < strip < neutral
    assert "caps on" in texts[carry]
    assert not any(t.startswith("Carry") for t in texts[:pour])
    assert texts[neutral].startswith("If its data sheet and the local code allow it")


def test_a_laser_is_to_be_treated_as_class_4_and_the_sheet_says_why():
    text = all_text("tag")
    assert "Treatasclass4" in text
    assert "above0.5Wcontinuousvisible" in text


def test_the_annex_tells_each_thing_once_with_all_its_findings():
    plan = made("noisy")
    rows = findings(plan)[-1].rows
    assert len(rows) == len(plan.verdict.told) <= len(plan.findings)


def test_a_noisy_scan_does_not_make_a_thick_sheet():
    assert (
        len(page_texts(files("noisy")["sheet.pdf"]))
        <= len(page_texts(files("tag")["sheet.pdf"])) + 3
    )


def test_what_was_recalled_is_marked_in_the_boxes():
    text = " ".join(
        text for part in ("sheet.pdf", "sheet-annex.pdf") for text in page_texts(files("tag")[part])
    )
    assert "[not yet checked]" in text
    assert "[not yet checked against the standard]" in text


def test_each_precaution_is_told_once_for_all_chemicals():
    texts = {s.code: s.text for s in all_statements()}
    blocks = hazard_reference(made("tag"), texts)
    listed = [code for code, _ in blocks[-1].rows]
    assert len(listed) == len(set(listed))
    assert set(listed) == {c for h in made("tag").hazards for c in h.precautions}


@pytest.mark.parametrize("name", ["tag", "brass", "sign", "window"])
def test_every_drawing_is_sound_svg_as_large_as_it_says(name):
    plan = made(name)
    drawings = [coat_sketch(plan)]
    for coat in plan.coats:
        drawings += [deviation_map(plan, coat, widest_mm=86.0), *enlarged(plan, coat)]
    if plan.etch:
        drawings.append(bath_sketch(plan, tray_mm=(52.0, 50.0), bath_mm=17.0))
    for sketch in drawings:
        root = etree.fromstring(sketch.svg)
        assert root.get("width") == f"{sketch.width_mm:g}mm"
        assert sketch.width_mm <= 178
        assert sketch.alt
        for words in root.iter("{http://www.w3.org/2000/svg}text"):
            # 3 mm letters are 8.5 points.
            assert float(words.get("font-size")) >= 2.83
    for name_ in ("<script", "href"):
        assert all(name_ not in sketch.svg for sketch in drawings)


def test_the_bath_is_drawn_open_where_it_gives_off_gas_and_under_a_loose_lid_where_not():
    lye = bath_sketch(made("tag"), tray_mm=(52.0, 50.0), bath_mm=17.0)
    brass = bath_sketch(made("brass"), tray_mm=(52.0, 50.0), bath_mm=17.0)
    assert "no lid" in lye.svg
    assert "never shut" in brass.svg
    assert "face down" in brass.svg
    assert "face up" in lye.svg


def test_the_coats_stand_in_the_section_with_their_films():
    # 20 um each, 1 mm of paper for so many um: the two black edges are as far apart as the film.
    sketch = coat_sketch(made("sign"))
    assert "1 black, 20 µm" in sketch.svg
    assert "2 ivory, 20 µm" in sketch.svg
    assert "light" in coat_sketch(made("window")).svg


def test_the_worst_places_of_the_prediction_are_enlarged():
    plan = made("tag")
    titles = [sketch.title for sketch in enlarged(plan, plan.coats[0])]
    worst = 1000 * plan.coats[0].outcome.worst_inside_mm
    assert any(f"{worst:.0f}" in title and "short" in title for title in titles)
    kinds = [b for b in sheet_of("tag").everything if isinstance(b, Sketches)]
    assert len(kinds) >= 3
    assert any(isinstance(b, Heading) and "predicted" in b.text for b in sheet_of("tag").everything)


def test_the_worked_panel_shows_its_numbers():
    # The fact sheet's worked panel, computed by hand there: 100 x 60 mm, 40 % open, 0.15 mm deep,
    # lye of 100 g/L, 4.0 um/min; CRC enthalpies, 24.4654 L/mol, 4.182 kJ/(L K). Corners that the
    # round mark cannot fill take less than a thousandth of the area.
    text = all_text("panel")
    for words in (
        "0.972 g",  # metal
        "1.50 L of hydrogen",
        "15.0 kJ",
        "0.358 L",  # bath, least for heat
        "1.44 g",  # caustic used up
        "35.8 g",  # caustic in the least bath
        "37 min 30 s",
        "39.9 mL/min",  # 35.25 mL/min dry at 25 degC, 1.133 times that wet at 40
        "3.49 L/min",
        "150 µm",
    ):
        assert squeezed(words) in text, words


def test_inches_stand_in_the_words_of_a_drawing_and_not_in_the_drawing():
    sheet = sheet_of("tag")
    both = with_both_units(sheet)
    for was, now in zip(sheet.everything, both.everything, strict=True):
        if isinstance(was, Sketches):
            assert [s.svg for s in was.sketches] == [s.svg for s in now.sketches]
    said = " ".join(s.words for b in both.everything if isinstance(b, Sketches) for s in b.sketches)
    assert "mil)" in said


def test_a_stopped_page_does_not_call_itself_a_sheet_to_work_from():
    page = files("stopped")["sheet.html"].decode()
    assert "<title>STOP: " in page
    assert "To the reasons" in page
    assert "To the steps" not in page
    assert "process sheet" not in page


def test_each_panel_is_cleared_by_its_own_program_and_the_sheet_says_so():
    tag = made("tag")
    piece = PlacedPiece(number="1", fields=(), panel=1, at_mm=(0.0, 0.0), size_mm=(12.0, 10.0))
    panels = replace(tag, pieces=(piece,), panels=(tag, tag))
    own = "clear-1-panel-2.nc to clear-1-panel-3.nc"
    *_, lift = clearing_steps(panels, panels.coats[0])
    assert f"with its own program, {own}: 4 panels in all" in lift.note
    for blocks in (clearing_steps(panels, panels.coats[0]), _beam(panels)):
        assert own in str(blocks)
        assert "panel-2" not in str(clearing_steps(tag, tag.coats[0])) + str(_beam(tag))
    assert "in the same way: 4 pieces in all" in str(clearing_steps(tag, tag.coats[0]))
