"""PDF pages: plain paths stay vectors, everything else is rendered and traced."""

from __future__ import annotations

import importlib.util
from math import pi
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, box

from stopout.artwork import read_artwork
from stopout.errors import ArtworkError
from stopout.job.record import ArtworkRequest, Blank

_SPEC = importlib.util.spec_from_file_location(
    "hostile_files", Path(__file__).with_name("test_hostile.py")
)
assert _SPEC is not None
assert _SPEC.loader is not None
_HOSTILE = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(_HOSTILE)
pdf = _HOSTILE.pdf

PT = 25.4 / 72
BLANK = Blank(
    material="aluminium", width_mm=60.0, height_mm=40.0, thickness_mm=1.0, worked_side="front"
)
# A circle of radius 20 about (60, 40) as four cubics (closed form: 4/3 tan(pi/8) = 0.5523).
K = 20 * 0.5522847498
DISC = (
    f"80 40 m 80 {40 + K} {60 + K} 60 60 60 c {60 - K} 60 40 {40 + K} 40 40 c "
    f"40 {40 - K} {60 - K} 20 60 20 c {60 + K} 20 80 {40 - K} 80 40 c h f"
).encode()


def read(data, **request):
    return read_artwork(
        data,
        ArtworkRequest(file="a.pdf", **{"position_mm": (0.0, 0.0), **request}),
        BLANK,
        name="a.pdf",
    )


def same(region, wanted, mm=2e-3):
    return shapely.hausdorff_distance(region, wanted) < mm


def test_the_page_carries_its_own_size_of_72_points_to_the_inch():
    drawing = read(pdf(b"10 20 30 40 re f"))
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((120 * PT, 80 * PT))
    assert same(drawing.dark, box(10 * PT, 20 * PT, 40 * PT, 60 * PT))
    assert not drawing.findings


def test_curves_stay_curves():
    drawing = read(pdf(DISC))
    errors = np.abs(
        shapely.distance(shapely.points(shapely.get_coordinates(drawing.dark)), Point(60 * PT,
                                                                                     40 * PT))
        - 20 * PT
    )  # fmt: skip
    # Four cubics bulge by 2.7e-4 of the radius: 1.9 um here; single floats of a point add 1 um.
    assert errors.max() < 0.004
    assert not drawing.findings


@pytest.mark.parametrize(
    ("content", "area_pt2"),
    [
        (b"10 10 60 60 re 20 20 40 40 re f*", 3600 - 1600),
        (b"10 10 60 60 re 20 20 40 40 re f", 3600),
        (b"10 w 20 40 m 80 40 l S", 600),
        (b"10 w 2 J 20 40 m 80 40 l S", 700),
        (b"10 w 1 J 20 40 m 80 40 l S", 600 + 25 * pi),
        (b"4 w [6 4] 0 d 20 40 m 60 40 l S", 4 * 24),
        (b"2 0 0 2 10 10 cm 0 0 20 10 re f", 800),
        (b"0 g 10 10 60 60 re f 1 g 20 20 40 40 re f", 3600 - 1600),
        (b"0.6 g 10 10 60 60 re f 0 g 0 0 10 10 re f", 100),
        (b"20 20 30 30 re W n 10 10 90 20 re f", 300),
        (b"0 0 0 1 k 10 10 30 30 re f", 900),
        (b"q 10 10 20 20 re f Q q 1 0 0 1 40 0 cm 10 10 20 20 re f Q", 800),
    ],
)
def test_paths_fill_stroke_clip_and_paint(content, area_pt2):
    # Areas by hand; ISO 32000-1, chapter 8.5 (fill rules, caps, dashes, clips) and 8.6 (colour).
    drawing = read(pdf(content))
    assert drawing.area_mm2 == pytest.approx(area_pt2 * PT**2, rel=1e-3)
    assert not drawing.findings


@pytest.mark.parametrize(
    ("turn", "wanted"),
    [(0, (10, 20, 30, 30)), (90, (20, 90, 30, 110)), (180, (90, 50, 110, 60)),
     (270, (50, 10, 60, 30))],
)  # fmt: skip
def test_a_turned_page_is_read_as_it_is_shown(turn, wanted):
    # ISO 32000-1, table 30: Rotate turns the page clockwise.
    drawing = read(pdf(b"10 20 20 10 re f", extra=b"/Rotate %d" % turn))
    assert drawing.dark.bounds == pytest.approx(tuple(PT * v for v in wanted), abs=1e-3)


def test_the_crop_box_is_the_page():
    drawing = read(pdf(b"10 20 20 10 re f", extra=b"/CropBox [5 10 65 50]"))
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((60 * PT, 40 * PT))
    assert drawing.dark.bounds == pytest.approx(tuple(PT * v for v in (5, 10, 25, 20)), abs=1e-3)


def test_a_box_of_all_pages_is_that_of_each():
    # ISO 32000-1, 7.7.3.4: a page without a box of its own has that of the pages above it.
    drawing = read(pdf(b"10 20 20 10 re f", media="", pages=b"/MediaBox [0 0 120 80] /Rotate 180"))
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((120 * PT, 80 * PT))
    assert drawing.dark.bounds == pytest.approx(tuple(PT * v for v in (90, 50, 110, 60)), abs=1e-3)


NOTE = b"<< /Type /Annot /Subtype %s /Rect [60 10 90 30] >>"


@pytest.mark.parametrize(
    ("content", "extra", "codes", "words"),
    [
        (b"0 w 40 20 m 90 70 l S", b"", ["artwork-broken"], "a line of the PDF has no width"),
        # Around what is filled it is no more than the fill's own edge.
        (b"0 w 60 20 9 9 re B", b"", [], ""),
        (b"", b"/Annots [%s]" % (NOTE % b"/Square"), ["artwork-ignored", "artwork-traced"],
         "shows a note or form field over"),
        (b"", b"/Annots [%s]" % (NOTE % b"/Link"), [], ""),
        (b"BT /F 12 Tf 60 20 Td (7) Tj ET",
         b"/Resources << /Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >> >>",
         ["artwork-ignored", "artwork-traced"], "typeface Helvetica and does not bring it"),
    ],
)  # fmt: skip
def test_what_each_viewer_would_show_otherwise_is_told(content, extra, codes, words):
    drawing = read(pdf(b"10 20 20 10 re f " + content, extra=extra))
    assert [finding.code for finding in drawing.findings] == codes
    assert words in " ".join(finding.message for finding in drawing.findings)


def test_a_mitre_that_the_library_cannot_tell_sends_the_page_to_tracing():
    # A limit of 1 bevels what the default of 10 would leave as a long point.
    drawing = read(pdf(b"1 M 16 w 20 10 m 60 60 l 100 10 l S"))
    assert [finding.code for finding in drawing.findings] == ["artwork-traced"]


def test_lettering_is_rendered_fine_and_traced():
    typst = pytest.importorskip("typst")
    data = typst.compile(
        b"#set page(width: 40mm, height: 24mm, margin: 4mm)\n"
        b"#set text(size: 30pt)\nI#place(dx: 20mm, rect(width: 5mm, height: 5mm, fill: black))"
    )
    drawing = read(data)
    (finding,) = drawing.findings
    assert finding.code == "artwork-traced"
    assert "text" in finding.message
    assert "1200 dpi" in finding.message
    square = max(shapely.get_parts(drawing.dark), key=lambda part: part.area)
    # The renderer moves straight edges outwards to whole pixels of 21 um.
    assert square.area == pytest.approx(25.0, rel=0.02)


@pytest.mark.parametrize(
    ("data", "request_", "words"),
    [
        (b"%PDF-1.7\n", {}, "damaged"),
        (pdf(b"1 1 5 5 re f"), {"page": 4}, r"no page 4; the PDF has 1"),
        (pdf(b""), {}, "nothing in the artwork is dark"),
        (pdf(b"1 1 5 5 re f"), {"resolution_dpi": 300.0}, "a resolution says nothing about a PDF"),
    ],
)
def test_what_cannot_be_read_is_refused(data, request_, words):
    with pytest.raises(ArtworkError, match=words):
        read(data, **request_)
