"""Codes of the predicted piece, read by libraries that did not write them, over its spread.

OpenCV reads QR, the system's dmtx library Data Matrix and zbar Code 128; the writer is none of
them. The piece is drawn as a phone sees it from 20 cm (our own estimate of 0.06 mm a pixel).
"""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from jobmaker import LYE, make_job, plate
from stopout.artwork.fonts.book import FontBook
from stopout.artwork.setting.whole import lay_setting, with_setting
from stopout.job.setting import SetCode, Setting
from stopout.library.knowledge import knowledge_for
from stopout.planning import plan_job
from stopout.planning.findings.codes import pictured
from stopout.values import Measured

WORD = "SLUICE-0147"


def planned(*codes, is_filled=True, is_draft=False, **changes):
    etch = replace(LYE, is_filled=is_filled)
    job = make_job(blank=plate((60.0, 22.0)), etch=etch, **changes)
    laid = lay_setting(Setting(codes=codes), job.blank, job.artwork, job.coats, FontBook())
    drawing = with_setting(None, laid, job.blank, job.artwork)
    return plan_job(job, drawing, knowledge_for(job), draft=is_draft), drawing


def findings(plan, code):
    return [finding for finding in plan.findings if finding.code == code]


@pytest.fixture(scope="module")
def tag():
    return planned(
        SetCode(content=WORD, module_mm=0.45, at_mm=(11, 11)),
        SetCode(content=WORD, kind="data-matrix", module_mm=0.5, at_mm=(29, 11)),
        SetCode(content="0147", kind="code-128", module_mm=0.3, at_mm=(47, 11), height_mm=6),
    )


@pytest.mark.parametrize("spread_mm", [-0.03, 0.0, 0.03])
def test_codes_of_the_predicted_piece_are_read_by_others(tag, spread_mm):
    import cv2

    plan, drawing = tag
    assert not [finding for finding in plan.findings if finding.code.startswith("code-")]
    made = plan.coats[0].finished.buffer(spread_mm, join_style="mitre")
    qr, matrix, bars = (pictured(made, code.quiet_mm) for code in drawing.codes)
    assert cv2.QRCodeDetector().detectAndDecode(cv2.resize(qr, None, fx=3, fy=3))[0] == WORD
    dmtx = pytest.importorskip("pylibdmtx.pylibdmtx", exc_type=ImportError)
    assert [one.data.decode() for one in dmtx.decode(matrix, max_count=1)] == [WORD]
    zbar = pytest.importorskip("pyzbar.pyzbar", exc_type=ImportError)
    assert [one.data.decode() for one in zbar.decode(bars)] == ["0147"]


def test_a_code_too_small_is_stopped_with_a_size_at_which_it_reads():
    small = SetCode(content=WORD, module_mm=0.16)
    plan, _ = planned(small)
    (stop,) = findings(plan, "code-unreadable")
    size = float(stop.remedy.split('"')[1].split()[0])
    larger, drawing = planned(replace(small, module_mm=size))
    assert not findings(larger, "code-unreadable")
    import cv2

    picture = pictured(larger.coats[0].finished, drawing.codes[0].quiet_mm)
    assert cv2.QRCodeDetector().detectAndDecode(cv2.resize(picture, None, fx=3, fy=3))[0] == WORD


def test_a_code_that_an_end_of_the_spread_spoils_is_stopped_with_a_size_read_at_both():
    dmtx = pytest.importorskip("pylibdmtx.pylibdmtx", exc_type=ImportError)
    sd_mm = 0.12
    rough = {"clearing": {"mark_mm": (Measured(value=0.1, sd=sd_mm),) * 2}}
    small = SetCode(content="147", kind="data-matrix", module_mm=0.3)
    assert not findings(planned(small, is_draft=True)[0], "code-unreadable")
    (stop,) = findings(planned(small, **rough)[0], "code-unreadable")
    size = float(stop.remedy.split('"')[1].split()[0])
    assert size > 0.3
    larger, drawing = planned(replace(small, module_mm=size), **rough)
    assert not findings(larger, "code-unreadable")
    # Two standard deviations of the mark move each edge by one.
    for by_mm in (-sd_mm, sd_mm):
        made = larger.coats[0].finished.buffer(by_mm, join_style="mitre")
        read = dmtx.decode(pictured(made, drawing.codes[0].quiet_mm), max_count=1)
        assert [one.data.decode() for one in read] == ["147"]


def test_what_stands_in_the_clear_zone_and_what_leaves_a_code_bare_is_told():
    near = SetCode(content="1", kind="data-matrix", module_mm=0.8, at_mm=(4.5, 11))
    plan, _ = planned(near, is_filled=False)
    assert "edge" in findings(plan, "code-crowded")[0].message
    assert "etch.filled" in findings(plan, "code-contrast")[0].remedy


def test_a_code_in_raised_work_is_sunk_into_a_panel_of_its_own():
    job = make_job(blank=plate((30.0, 22.0)))
    raised = replace(job.artwork, dark="raised", field_mm=1.0)
    code = SetCode(content="1", kind="data-matrix", module_mm=1.0)
    laid = lay_setting(Setting(codes=(code,)), job.blank, raised, job.coats, FontBook())
    drawing = with_setting(None, laid, job.blank, job.artwork)
    panel = shapely.box(*drawing.codes[0].quiet_mm)
    assert drawing.dark.area == pytest.approx(panel.area - drawing.codes[0].dark.area)


def test_the_picture_is_the_mean_over_each_pixel():
    grey = pictured(shapely.box(0, 0, 0.5, 1), (0, 0, 1, 1), pixel_mm=0.2)[8:-8, 8:-8]
    assert grey.shape == (5, 5)
    assert grey[:, :2].max() == 0
    assert grey[:, 3:].min() == 255
    assert grey[0, 2] == pytest.approx(127, abs=40)


def test_words_too_small_name_a_cap_height_at_which_they_are_whole():
    from stopout.job.setting import SetText

    job = make_job(blank=plate((40.0, 12.0)))

    def told(cap_mm):
        words = SetText(words="VALE", cap_height_mm=cap_mm)
        laid = lay_setting(Setting(texts=(words,)), job.blank, job.artwork, job.coats, FontBook())
        plan = plan_job(job, with_setting(None, laid, job.blank, job.artwork), knowledge_for(job))
        return [one for one in plan.verdict.told if one.code in ("thin-opening", "part-lost")]

    (small,) = told(1.4)
    tall = float(small.remedy.split('cap_height = "')[1].split()[0])
    assert 1.4 < tall < 6
    assert not told(tall)
