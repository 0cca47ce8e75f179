"""The safety signs: which there are, that each is drawn, reads in grey and stands large enough."""

from __future__ import annotations

import io

import pypdfium2.raw as pdfium
import pytest
import resvg_py
from lxml import etree, html
from PIL import Image

from sheet.sheet_jobs import MM_PER_POINT, files, made, pages
from stopout.sheet.drawings.safety_signs import SIZE_MM, is_pictogram, sign_codes, sign_svg
from stopout.sheet.model import Box, Signs, Table
from stopout.sheet.words import sign_words, typeset
from stopout.tables import load_hazards
from stopout.tables.read import entries


def drawn(code, side=60):
    svg = sign_svg(code).replace('width="100" height="100"', f'width="{side}" height="{side}"')
    data = bytes(resvg_py.svg_to_bytes(svg_string=svg, background="#ffffff"))
    return Image.open(io.BytesIO(data)).convert("RGB")


def test_every_pictogram_and_sign_of_the_hazards_table_is_drawn_and_named():
    for hazard in load_hazards(tuple(entries("hazards"))):
        for code, words in sign_words((*hazard.pictograms, *hazard.signs)):
            assert code in sign_codes(), code
            assert words, code


@pytest.mark.parametrize("code", sign_codes())
def test_a_sign_is_svg_of_shapes_alone_without_text_or_reference(code):
    root = etree.fromstring(sign_svg(code))
    names = {etree.QName(element).localname for element in root.iter()}
    assert names <= {"svg", "g", "path", "circle", "rect"}
    assert "{" not in sign_svg(code)


# Shares of the field: the square on its point covers half of its box, a disc pi / 4, an equilateral
# triangle of its height about 0.5 (plane geometry).
@pytest.mark.parametrize(("code", "share"), [("GHS05", 0.48), ("M004", 0.72), ("E003", 0.92)])
def test_the_shape_of_a_sign_fills_its_field_as_geometry_says(code, share):
    grey = drawn(code, 200).convert("L")
    corners = [grey.getpixel(at) for at in ((1, 1), (198, 1), (1, 198), (198, 198))]
    assert corners == [255] * 4
    inside = drawn(code, 200)
    coloured = sum(1 for pixel in inside.get_flattened_data() if pixel != (255, 255, 255))
    white_field = 0.3 if code == "GHS05" else 0.0
    assert coloured / 200**2 > (share - white_field - 0.35)
    assert coloured / 200**2 <= share + 0.02


@pytest.mark.parametrize("code", sign_codes())
def test_a_symbol_stands_out_from_its_ground_in_grey(code):
    # The reading limit of WCAG 2.2, 1.4.11: 3 to 1 between symbol and ground.
    def light(value):
        value /= 255
        return value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4

    counts = drawn(code, 200).convert("L").histogram()
    common = sorted(range(256), key=lambda k: -counts[k])[:6]
    lights = sorted(light(k) for k in common if counts[k] > 300)
    assert (lights[-1] + 0.05) / (lights[0] + 0.05) >= 3.0


def test_no_two_signs_look_the_same():
    pictures = {code: drawn(code, 40).convert("L").tobytes() for code in sign_codes()}
    assert len(set(pictures.values())) == len(pictures)


def test_signs_are_large_enough_to_read_over_a_bench():
    # Height = distance / 40 at 0.6 m is 15 mm; a label's pictogram has sides of 10 mm at least
    # (Regulation (EC) 1272/2008, annex I, 1.2.1.4), 14.2 mm from point to point.
    assert SIZE_MM["sign"] >= 600 / 40
    assert SIZE_MM["pictogram"] >= 10 * 2**0.5


@pytest.mark.parametrize("name", ["tag", "brass", "sign", "window"])
def test_each_box_shows_its_pictograms_and_the_annex_names_every_sign(name):
    sheet = files(name).sheet
    for hazard in made(name).hazards:
        title = typeset(hazard.name)
        for box in (b for b in sheet.blocks if isinstance(b, Box) and b.title == title):
            shown = [code for code, _ in box.signs]
            warns = [code for code in hazard.signs if code.startswith("W")]
            assert shown == list(hazard.pictograms or warns)
            assert all(words for _, words in box.signs)
        (full,) = (
            dict(b.rows)
            for b in sheet.annex
            if isinstance(b, Table) and b.title.lower().startswith(title.lower())
        )
        for code in (*hazard.pictograms, *hazard.signs):
            assert code in full["Signs"], code


def test_what_to_wear_and_what_to_run_to_are_shown_as_signs_on_the_wall():
    sheet = files("tag").sheet
    (signs,) = (b for b in sheet.wall if isinstance(b, Signs))
    needed = {c for h in made("tag").hazards for c in h.signs if c.startswith("M")}
    assert {code for code, _ in signs.signs} == {*needed, "E003", "E011", "E012", "F001"}


def test_a_mandatory_sign_on_the_wall_is_fifteen_mm_high():
    # Its disc is 0.96 of the field, as drawn.
    document, found = pages(files("tag")["wall.pdf"])
    sides = []
    for page in found:
        for item in page.get_objects(filter=(pdfium.FPDF_PAGEOBJ_PATH,), max_depth=8):
            left, bottom, right, top = (side * MM_PER_POINT for side in item.get_bounds())
            sides.append((round(right - left, 1), round(top - bottom, 1)))
    document.close()
    discs = [s for s in sides if abs(s[0] - 14.4) < 0.3 and abs(s[1] - 14.4) < 0.3]
    assert discs, "no mandatory sign of 0.96 x 15 mm found"


def test_the_page_draws_the_same_signs_with_a_title_each():
    root = html.fromstring(files("tag")["sheet.html"].decode())
    sheet = files("tag").sheet
    shown = (*sheet.card, *sheet.wall, *sheet.blocks)
    wanted = [pair for b in shown if isinstance(b, Box | Signs) for pair in b.signs]
    found = root.xpath("//ul[@class='signs']/li/svg")
    assert [svg.get("aria-label") for svg in found] == [" ".join(pair) for pair in wanted]
    assert all(svg.xpath("./title/text()") == [svg.get("aria-label")] for svg in found)
    assert sum(is_pictogram(code) for code, _ in wanted) >= 5
