"""Words, rules, frames and codes that a job sets, held against fonts, closed forms and readers.

Outlines: fontTools reads the same font files with pens of its own. Arcs: the angle of a letter is
the run to its middle over the radius. Codes: readers that share nothing with the writer (OpenCV
for QR; the system's zbar and dmtx libraries for Code 128 and Data Matrix).
"""

from __future__ import annotations

from dataclasses import replace
from math import atan2, degrees, pi, sqrt

import numpy as np
import pytest
import shapely
from fontTools.pens.areaPen import AreaPen
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont

from stopout.artwork.fonts.book import FontBook
from stopout.artwork.setting.codes import QUIET_MODULES, code_modules, lay_code
from stopout.artwork.setting.fault import SettingError
from stopout.artwork.setting.shapes import frame_region, line_region
from stopout.artwork.setting.text import lay_out
from stopout.artwork.setting.whole import lay_setting, with_setting
from stopout.job.fields import filled, names_in
from stopout.job.record import ArtworkRequest, Blank, Coat, Shows
from stopout.job.setting import Arc, Fit, SetCode, SetFrame, SetLine, SetText, Setting

BOOK = FontBook()
MIDDLE = (40.0, 25.0)
TAG = Blank(material="brass", width_mm=80, height_mm=50, thickness_mm=1.5, worked_side="front")

# Letters stand on a program's 0.1 um: half of it off along each axis, twice for a difference.
GRID_MM = 1.5e-4


def set_text(words, cap_height_mm=5.0, **more):
    return SetText(words=words, cap_height_mm=cap_height_mm, **more)


def boxes(text):
    block = lay_out(text, BOOK, MIDDLE)
    return block, [region.bounds for region in block.regions()]


@pytest.mark.parametrize(
    "font", ["Barlow", "Barlow Condensed Medium", "Barlow Semi Condensed Bold Italic", "Cinzel"]
)
def test_capitals_are_as_high_as_asked_and_glyphs_have_the_fonts_own_area(font):
    block, (bounds, *_) = boxes(set_text("HQ", 7.5, font=font))
    assert bounds[3] - bounds[1] == pytest.approx(7.5, abs=1e-3)
    face = block.glyphs[0].face
    read = TTFont(face.path, fontNumber=face.index)
    if "fvar" in read:
        from fontTools.varLib.instancer import instantiateVariableFont

        read = instantiateVariableFont(read, {"wght": 400})
    glyphs, name = read.getGlyphSet(), read.getBestCmap()
    box = BoundsPen(glyphs)
    glyphs[name[ord("H")]].draw(box)
    per_mm = (box.bounds[3] - box.bounds[1]) / 7.5
    for letter, region in zip("HQ", block.regions(), strict=True):
        pen = AreaPen(glyphs)
        glyphs[name[ord(letter)]].draw(pen)
        # Overlapping contours count twice in the pen, so only plain letters are compared.
        assert region.area == pytest.approx(abs(pen.value) / per_mm**2, rel=0.02)
    table = read["OS/2"].sCapHeight
    assert table == pytest.approx(box.bounds[3] - box.bounds[1], rel=0.03)


def test_letters_stand_where_the_fonts_advances_and_kerning_put_them():
    block, _ = boxes(set_text("HHH", at_mm=(10, 10), anchor="bottom left"))
    face = block.glyphs[0].face
    font = TTFont(face.path)
    advance = font["hmtx"]["H"][0] / font["OS/2"].sCapHeight * 5.0
    for number, glyph in enumerate(block.glyphs):
        assert glyph.at_mm == pytest.approx(complex(10 + number * advance, 10), abs=GRID_MM)
    kerned, _ = boxes(set_text("AV", at_mm=(0, 0), anchor="bottom left"))
    plain = font["hmtx"]["A"][0] / font["OS/2"].sCapHeight * 5.0
    assert kerned.glyphs[1].at_mm.real < plain - 0.05


@pytest.mark.parametrize("anchor", ["top left", "centre", "bottom right"])
@pytest.mark.parametrize("turn", [0.0, 90.0])
def test_the_anchor_of_the_block_lies_at_its_place(anchor, turn):
    text = set_text("HH\nHH", anchor=anchor, at_mm=(30, 20), line_space_mm=9.0, turn_deg=turn)
    block, _ = boxes(text)
    feet = [glyph.at_mm for glyph in block.glyphs]
    way = complex(np.exp(1j * np.radians(turn)))
    local = [(foot - (30 + 20j)) / way for foot in feet]
    wide = 2 * (local[1] - local[0]).real
    expected = {"top left": (0, -5), "centre": (-wide / 2, 2), "bottom right": (-wide, 9)}[anchor]
    assert local[0] == pytest.approx(complex(*expected), abs=GRID_MM)
    assert local[2] - local[0] == pytest.approx(-9j, abs=GRID_MM)


@pytest.mark.parametrize("side", ["outside", "inside"])
@pytest.mark.parametrize("line", ["base", "cap"])
def test_letters_on_an_arc_stand_at_the_closed_forms_angles(side, line):
    radius, words = 20.0, "TIDEMILL"
    arc = Arc(radius_mm=radius, side=side, line=line)
    block, _ = boxes(set_text(words, 3.0, arc=arc, at_mm=(0, 0), turn_deg=30))
    straight, _ = boxes(set_text(words, 3.0, at_mm=(0, 0), anchor="bottom left"))
    feet = [glyph.at_mm.real for glyph in straight.glyphs]
    font = TTFont(straight.glyphs[0].face.path)
    last = font["hmtx"]["L"][0] / font["OS/2"].sCapHeight * 3.0
    ends = [*feet[1:], feet[-1] + last]
    over = arc.reads_over
    # The circle carries the base line or the cap line: the base is a cap height off in the latter.
    base = radius if line == "base" else radius + (-3.0 if over else 3.0)
    for glyph, first, end in zip(block.glyphs, feet, ends, strict=True):
        angle = ((first + end) / 2 - ends[-1] / 2) / radius
        turn = np.radians(30) + (-angle if over else angle)
        assert glyph.turn_deg == pytest.approx(degrees(turn), abs=0.1)
        foot = glyph.at_mm + np.exp(1j * turn) * (end - first) / 2
        assert abs(foot) == pytest.approx(base, abs=1e-3)
        place = atan2(foot.imag, foot.real) - (pi / 2 if over else -pi / 2)
        assert degrees(place) == pytest.approx(degrees(turn), abs=0.1)
    outside = [shapely.Point(0, 0).distance(region) for region in block.regions()]
    assert (min(outside) > radius - 0.1) == (side == "outside")


def test_words_keep_to_a_width():
    wide = set_text("VISITORS WELCOME")
    shrunk, bounds = boxes(replace(wide, fit=Fit(width_mm=35)))
    assert bounds[-1][2] - bounds[0][0] == pytest.approx(35, abs=0.7)
    assert shrunk.cap_height_mm < 5
    with pytest.raises(SettingError, match="below the least of 4\\.50 mm"):
        lay_out(replace(wide, fit=Fit(width_mm=30, least_mm=4.5)), BOOK, MIDDLE)
    for way in ("space", "stretch"):
        short = set_text("OPEN", fit=Fit(width_mm=17.5, way=way))
        block, bounds = boxes(short)
        assert bounds[-1][2] - bounds[0][0] == pytest.approx(17.5, abs=1.3), way
        assert block.cap_height_mm == 5
    with pytest.raises(SettingError, match="times as wide as drawn"):
        lay_out(set_text("I", fit=Fit(width_mm=40, way="stretch")), BOOK, MIDDLE)


def test_right_to_left_words_join_and_combining_marks_stay_with_their_letter():
    arabic, bounds = boxes(set_text("سد المد", font="Noto Sans Arabic"))
    assert bounds[0][0] < bounds[-1][0]  # glyphs come in visual order, the last character first
    assert "".join(glyph.text for glyph in reversed(arabic.glyphs)) == "سد المد"
    accented, _ = boxes(set_text("HŌ".replace("Ō", "O\u0304")))
    arc, _ = boxes(set_text("HO\u0304", arc=Arc(radius_mm=20)))
    assert len({round(glyph.turn_deg, 6) for glyph in arc.glyphs}) == 2
    assert len(accented.glyphs) == len(arc.glyphs)


@pytest.mark.parametrize(
    ("text", "key", "words"),
    [
        (set_text("鎮"), "words", "lacks \\(鎮\\)"),
        (set_text("H", font="Nosuch Bold"), "font", "not at hand"),
        (set_text("sluice سد"), "words", "both writing directions"),
        (set_text("  \n "), "words", "are empty"),
        (set_text("LONG WORDS ROUND", 9.0, arc=Arc(radius_mm=5)), "arc", "too small"),
    ],
)
def test_what_cannot_be_set_is_said_with_its_key(text, key, words):
    with pytest.raises(SettingError, match=words) as caught:
        lay_out(text, BOOK, MIDDLE)
    assert caught.value.key == key


def test_rules_and_frames_have_the_areas_of_their_closed_forms():
    line = line_region(SetLine(from_mm=(1, 1), to_mm=(4, 5), width_mm=0.5))
    assert line.area == pytest.approx(2.5)
    assert line.distance(shapely.Point(2.5, 3)) == 0
    w, r = 0.8, 5.0
    areas = {
        "square": 2 * w * (76 + 46) - 4 * w * w,
        # A band of width w about a rounded rectangle: its middle line is as long as this.
        "round": w * (2 * (66 + 36) + 2 * pi * (r - w / 2)),
        "cut": (76 * 46 - 2 * r * r) - (74.4 * 44.4 - 2 * (r - w * (2 - sqrt(2))) ** 2),
        "scooped": None,
    }
    for corner, area in areas.items():
        frame = SetFrame(
            width_mm=w, margin_mm=2, corner=corner, corner_mm=0 if corner == "square" else r
        )
        region = frame_region(frame, (80, 50))
        assert region.is_valid
        assert region.bounds == pytest.approx((2, 2, 78, 48), abs=1e-6)
        if area is not None:
            assert region.area == pytest.approx(area, abs=0.02), corner
        # The inner edge is everywhere w from the outer one.
        outer = shapely.LinearRing(region.exterior.coords)
        far = [outer.distance(shapely.Point(xy)) for xy in region.interiors[0].coords]
        assert far == pytest.approx([w] * len(far), abs=2e-3), corner
    panel = frame_region(SetFrame(at_mm=(10, 10), size_mm=(20, 8)), (80, 50))
    assert panel.area == pytest.approx(160)
    with pytest.raises(SettingError, match="half of the frame's shorter side"):
        frame_region(SetFrame(margin_mm=2, corner="cut", corner_mm=30), (80, 50))


def pixels(modules, quiet, px=6):
    grid = np.pad(~modules if modules.shape[0] > 1 else ~np.repeat(modules, 40, axis=0), quiet,
                  constant_values=True)  # fmt: skip
    return np.kron(grid, np.ones((px, px), dtype=bool)).astype(np.uint8) * 255


def test_codes_say_their_content_to_readers_that_did_not_write_them():
    import cv2

    word = "SLUICE-0147"
    qr = pixels(code_modules(word, "qr"), QUIET_MODULES["qr"])
    assert cv2.QRCodeDetector().detectAndDecode(qr)[0] == word
    dmtx = pytest.importorskip("pylibdmtx.pylibdmtx", exc_type=ImportError)
    matrix = pixels(code_modules(word, "data-matrix"), 4)
    assert [found.data.decode() for found in dmtx.decode(matrix, max_count=1)] == [word]
    zbar = pytest.importorskip("pyzbar.pyzbar", exc_type=ImportError)
    bars = pixels(code_modules(word, "code-128"), QUIET_MODULES["code-128"])
    assert [found.data.decode() for found in zbar.decode(bars)] == [word]


def test_modules_are_joined_and_the_clear_zone_is_the_standards():
    laid = lay_code(SetCode(content="SLUICE-0147", module_mm=0.5), MIDDLE)
    dark = code_modules("SLUICE-0147", "qr")
    assert laid.dark.area == pytest.approx(dark.sum() * 0.25)
    # No edge between equal modules: the outline is as long as the modules' edges that differ.
    padded = np.pad(dark, 1)
    edges = (padded[1:] != padded[:-1]).sum() + (padded[:, 1:] != padded[:, :-1]).sum()
    assert laid.dark.length == pytest.approx(0.5 * edges)
    assert laid.quiet_mm[0] == pytest.approx(laid.box_mm[0] - 4 * 0.5)
    with pytest.raises(SettingError, match="cannot be written"):
        code_modules("x" * 3000, "data-matrix")


def test_elements_lie_over_artwork_and_become_what_they_are_told():
    panel = SetFrame(at_mm=(10, 10), size_mm=(60, 30))
    words = set_text("OPEN", becomes="raised")
    laid = lay_setting(
        Setting(frames=(panel,), texts=(words,)), TAG, ArtworkRequest(file=""), (), BOOK
    )
    drawing = with_setting(None, laid, TAG, ArtworkRequest())
    letters = shapely.union_all([item.region for item in laid if item.table == "text"])
    assert drawing.dark.area == pytest.approx(1800 - letters.area, abs=1e-3)
    assert [glyph.text for glyph in drawing.glyphs] == list("OPEN")
    assert {glyph.line for glyph in drawing.glyphs} == {"OPEN"}


def test_on_a_sign_words_take_a_coats_colour_and_another_renderer_sees_them():
    sign = replace(TAG, worked_side="back")
    coats = (
        Coat(paint="p", colour="gold", shows=Shows(kind="fill", value="#d9a514")),
        Coat(paint="p", colour="black", shows=Shows(kind="rest")),
    )
    setting = Setting(texts=(set_text("MILL", 12.0, becomes="Gold"),))
    laid = lay_setting(setting, sign, ArtworkRequest(file=""), coats, BOOK)
    drawing = with_setting(None, laid, sign, ArtworkRequest())
    assert [shape.fill for shape in drawing.shapes] == ["#d9a514"]
    gold = (drawing.picture.rgb == (0xD9, 0xA5, 0x14)).all(axis=2)
    seen_mm2 = gold.sum() * drawing.picture.px_mm**2
    assert seen_mm2 == pytest.approx(laid[0].region.area, rel=0.01)
    with pytest.raises(SettingError, match="'gold', 'black'") as caught:
        lay_setting(
            Setting(texts=(set_text("X", becomes="red"),)),
            sign,
            ArtworkRequest(file=""),
            coats,
            BOOK,
        )
    assert caught.value.at == ("text", 0, "as")


def test_fields_are_named_in_braces_and_doubled_braces_stand_for_themselves():
    assert names_in("Sluice {number} of {place}, {number}") == ("number", "place")
    assert filled("{{{number}}} of {place}", {"number": "04", "place": "mill"}) == "{04} of mill"
    with pytest.raises(KeyError, match="place"):
        filled("{place}", {})
