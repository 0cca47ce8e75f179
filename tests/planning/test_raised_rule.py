"""Raised words against 2010 ADA Standards for Accessible Design, 703.2 and 703.3.

The dimensions in these tests are those of the published table, in mm as printed there.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont

from jobmaker import LYE, make_job, plate
from stopout.artwork.fonts.book import FontBook
from stopout.artwork.setting.whole import lay_setting, with_setting
from stopout.job.setting import SetText, Setting
from stopout.planning.findings.raised_rule import raised_rule_findings
from stopout.values import Drawing

GOOD = SetText(words="MINE 2", cap_height_mm=16.0, font="Barlow", letter_space_mm=1.6)


def said(text=GOOD, depth_mm=0.8, dots=None):
    job = make_job(
        blank=plate((200.0, 80.0)),
        etch=replace(LYE, depth_mm=depth_mm),
        artwork={"dark": "raised", "field_mm": 2.0},
        limits={"raised_rule": "ada-2010"},
    )
    laid = lay_setting(Setting(texts=(text,)), job.blank, job.artwork, (), FontBook())
    drawing = with_setting(None, laid, job.blank, job.artwork)
    if dots is not None:
        drawing = replace(drawing, dark=shapely.union_all([drawing.dark, *dots]))
    return [finding.message for finding in raised_rule_findings(job, drawing)], drawing


def test_words_by_the_rule_are_not_remarked_on_and_no_rule_says_nothing():
    assert said()[0] == []
    job = make_job()
    assert raised_rule_findings(job, Drawing(file="", sha256="", width_mm=1, height_mm=1,
                                             dark=shapely.MultiPolygon())) == []  # fmt: skip


@pytest.mark.parametrize(
    ("change", "section"),
    [
        ({"words": "Mill 2"}, "703.2.2"),
        ({"cap_height_mm": 15.0}, "703.2.5"),
        ({"cap_height_mm": 52.0}, "703.2.5"),
        ({"font": "Barlow Condensed"}, "703.2.4"),
        ({"font": "Barlow Bold"}, "703.2.6"),
        ({"letter_space_mm": -2.0}, "703.2.7"),
        ({"letter_space_mm": 9.0}, "703.2.7"),
        ({"words": "MILL\nTWO", "line_space_mm": 16 * 1.3}, "703.2.8"),
        ({"words": "MILL\nTWO", "line_space_mm": 16 * 1.75}, "703.2.8"),
    ],
)
def test_each_dimension_is_held_against_its_section(change, section):
    told, _ = said(replace(GOOD, **change))
    assert any(f"{section})" in message for message in told), told


def test_lines_within_the_range_are_right():
    for share in (1.35, 1.70):
        told, _ = said(replace(GOOD, words="MILL\nTWO", line_space_mm=16 * share))
        assert not any("703.2.8" in message for message in told)


def test_letters_must_stand_high_enough():
    assert "0.8 mm" in said(depth_mm=0.1)[0][0]


def test_stroke_and_width_are_those_of_the_fonts_own_letters():
    text = said()[1].texts[0]
    path = next(f.path for f in FontBook().faces if f.path.name == "Barlow-Regular.ttf")
    font = TTFont(path)
    glyphs, names = font.getGlyphSet(), font.getBestCmap()
    wide = {}
    for letter in "IO":
        pen = BoundsPen(glyphs)
        glyphs[names[ord(letter)]].draw(pen)
        wide[letter] = (pen.bounds[2] - pen.bounds[0]) * 16.0 / font["OS/2"].sCapHeight
    assert text.stroke_mm == pytest.approx(wide["I"], abs=5e-3)
    assert text.round_mm == pytest.approx(wide["O"], abs=2e-3)


@pytest.mark.parametrize(
    ("across", "apart", "sections"),
    [(1.55, 2.4, 0), (1.2, 2.4, 1), (1.55, 2.0, 1)],
)
def test_dots_of_braille_are_measured(across, apart, sections):
    cells = [(0, 0), (0, 1), (1, 0), (1, 2)]
    dots = [shapely.Point(20 + apart * x, 8 + apart * y).buffer(across / 2, 64) for x, y in cells]
    told, _ = said(dots=dots)
    measured = [m for m in told if "703.3.1" in m and "domed" not in m]
    assert len(measured) == sections
    assert any("domed" in message for message in told)
