"""Codes on signs: as their standards want them, and no lettering; each remedy is typed in."""

from __future__ import annotations

from dataclasses import replace

import pytest

from jobmaker import make_job, plate
from stopout.artwork.fonts.book import FontBook
from stopout.artwork.setting.whole import lay_setting, with_setting
from stopout.job.record import Coat, Shows
from stopout.job.setting import SetCode, SetText, Setting
from stopout.library.knowledge import knowledge_for
from stopout.planning import plan_job

CODES = (
    SetCode(content="SLUICE-0147", module_mm=0.8, at_mm=(14, 16)),
    SetCode(content="0147", kind="code-128", module_mm=0.4, at_mm=(50, 16), height_mm=8),
)
WORDS = SetText(words="RACK 3 HIGH WATER", cap_height_mm=3.0, at_mm=(40, 28))


def planned(ground, modules, codes=CODES, texts=(), *, swapped=False):
    kinds = ("dark", "rest") if swapped else ("rest", "dark")
    coats = tuple(
        Coat(
            paint="acrylic-lacquer", colour=colour, shows=Shows(kind=kind), recolour=kind == "dark"
        )
        for colour, kind in zip((ground, modules), kinds, strict=True)
    )
    blank = plate((80.0, 34.0), material="acrylic-cast", worked_side="back")
    job = make_job(blank=blank, coats=coats, etch=None)
    setting = Setting(codes=codes, texts=texts)
    laid = lay_setting(setting, job.blank, job.artwork, job.coats, FontBook())
    drawing = with_setting(None, laid, job.blank, job.artwork)
    return plan_job(job, drawing, knowledge_for(job), draft=True)


def told(plan, *codes):
    return [finding for finding in plan.findings if finding.code in codes]


def of_codes(plan):
    return [
        (finding.code, finding.level) for finding in told(plan, "code-contrast", "code-inverted")
    ]


def test_black_on_white_codes_of_a_sign_bring_no_word():
    assert not [one for one in planned("white", "black").findings if one.code.startswith("code-")]


def test_grey_on_a_darker_grey_is_told_of_each_code_and_both_remedies_typed_in_end_it():
    plan = planned("#808080", "#a0a0a0")
    assert of_codes(plan) == [("code-contrast", "caution"), ("code-inverted", "caution")] * 2
    faint, inverted = told(plan, "code-contrast", "code-inverted")[:2]
    # IEC 61966-2-1: luminance 0.2159 and 0.3515; WCAG ratio 0.4015 / 0.2659.
    assert "stands out 14 % only (1.5 to 1)" in faint.message
    assert faint.remedy == "Take a lighter paint for coat 2: white would do."
    assert of_codes(planned("#808080", "white")) == [("code-inverted", "caution")] * 2
    assert 'Swap the shows of coats 1 and 2 and write as = "#808080"' in inverted.remedy
    dark = tuple(replace(code, becomes="#808080") for code in CODES)
    assert not of_codes(planned("#808080", "white", dark, swapped=True))


def test_two_light_tints_are_told_to_take_a_dark_one():
    (faint, _) = told(planned("white", "ivory"), "code-contrast")
    assert faint.remedy == "Take a darker paint for coat 2: black would do."
    assert not of_codes(planned("white", "black"))


@pytest.mark.parametrize("modules", ["ivory", "#a0a0a0"])
def test_the_squares_of_a_code_are_no_letters(modules):
    about = ("contrast-low", "letters-distance", "strokes-heavy", "letters-public")
    with_codes = planned("#808080", modules, texts=(WORDS,))
    without = planned("#808080", modules, codes=(), texts=(WORDS,))
    said = [finding.message for finding in told(with_codes, *about)]
    assert said == [finding.message for finding in told(without, *about)]
    assert any("3.0 mm high" in message for message in said)
