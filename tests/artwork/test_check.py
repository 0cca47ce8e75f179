"""Whole artworks against an independent renderer (resvg), finer than the import's own check."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from stopout.artwork import check
from stopout.artwork.check import render_regions, render_svg
from stopout.artwork.regions.painter import Paint, Painted
from stopout.artwork.scale import MM_PER_INCH, PX_PER_INCH, Page
from stopout.artwork.svg import reading as svg
from stopout.errors import ArtworkError
from stopout.values import Level

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" viewBox="0 0 100 60">'
WHEEL = """
<defs><g id="tooth"><path d="M-1-12h2l.6 3h-3.2z"/></g></defs>
<g transform="translate(22 26)"><circle r="9.5" class="ink"/><circle r="5" fill="#fff"/>
<use href="#tooth"/><use href="#tooth" transform="rotate(45)"/><use href="#tooth"
 transform="rotate(100) scale(1.2)"/><path fill="none" stroke="#000" stroke-width="1.5"
 stroke-linecap="round" d="M-3.5 0h7M0-3.5v7"/></g>"""
LETTERS = """
<text x="40" y="18" font-family="Barlow" font-weight="600" font-size="9">SLUICE 3</text>
<text x="40" y="28" font-family="Barlow" font-size="5" font-style="italic">Winch, <tspan
 font-weight="300" letter-spacing=".3">lower gate</tspan></text>
<text x="96" y="35" text-anchor="end" font-family="Barlow" font-size="4">turn slowly</text>"""
WAVES = """
<clipPath id="w"><rect x="55" y="38" width="40" height="14" rx="3"/></clipPath>
<g clip-path="url(#w)"><rect x="50" y="36" width="50" height="20"/>
<path d="M50 48c5-6 10 6 15 0s10-6 15 0 10 6 15 0" stroke="#fff" stroke-width="1.2" fill="none"/>
</g><path d="M8 44l5 10 5-10 5 10 5-10 5 10" fill="none" stroke="#000" stroke-linejoin="round"/>
<path d="M40 40a9 4 20 1 0 8 4t3 3q2 4-4 4z" fill-rule="evenodd"/>"""
BORDER = """
<style>.line{stroke:#000;stroke-width:.4;fill:none}.dash{stroke-dasharray:2 .8 .3 .8}</style>
<rect class="line" x="2" y="2" width="96" height="56" rx="4"/>
<path class="line dash" d="M4 4h92v52"/>
<polyline class="line" points="10,10 20,12 12,14 22,16" stroke-miterlimit="12"/>
<ellipse class="line" cx="70" cy="15" rx="12" ry="5" transform="rotate(12 70 15)"/>
<line x1="10" x2="90" y1="50" y2="55" stroke="#000" stroke-width=".1"/>"""


@pytest.mark.parametrize("body", [WHEEL, LETTERS, WAVES, BORDER])
def test_whole_artworks_agree_with_resvg_at_30_px_per_mm(read, body):
    drawing = read(HEAD + body + "</svg>")
    unit = MM_PER_INCH / PX_PER_INCH
    page = Page(width=100 / unit, height=60 / unit, mm_per_unit=unit, kind="SVG")
    sized = (
        (HEAD + body + "</svg>")
        .replace("100mm", repr(page.width))
        .replace("60mm", repr(page.height))
    )
    asked = render_svg(sized.encode(), page, px_per_unit=30 * unit, fonts=())
    down = shapely.transform(drawing.dark, lambda xy: (0, 60) + xy * (1, -1))
    ours = render_regions([(down, (0, 0, 0), 1.0)], asked.shape[::-1], px_per_mm=30)
    # Ink differs by less than a sixteenth of a pixel along the outline, where the renderer counts
    # quarters; nowhere by a whole pixel.
    apart = np.abs(asked - ours)
    assert apart.sum() / 900 < drawing.dark.length / 30 * 0.06
    assert np.abs((asked - ours).sum()) / 900 < 0.002 * drawing.area_mm2
    assert np.count_nonzero(apart > 0.9) == 0


@pytest.mark.parametrize("px", [1.5, 3.37, 7.9])
def test_a_page_that_the_renderer_clips_looks_the_same(px):
    # The renderer's own clip is the plain way: a word keeps it.
    page = Page(width=40.3, height=21.7, mm_per_unit=None, kind="SVG")
    body = '<circle cx="34" cy="4" r="14"/><path d="M-3 15h50v12h-50z" fill="#a33"/>'
    size = 'width="40.3" height="21.7" viewBox="0 0 40.3 21.7"'
    document = f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{body}</svg>'
    plain = document.replace("<circle", "<!-- overflow --><circle")
    ours, theirs = (render_svg(one.encode(), page, px_per_unit=px) for one in (document, plain))
    apart = np.abs(ours - theirs)
    # Of a pixel that an edge cuts the renderer counts quarters, otherwise so on a clipped layer.
    assert apart.max() < 0.26
    assert apart[:-1, :-1].mean() < 0.002


def test_a_shape_that_ends_on_the_pages_last_pixel_raises_no_doubt(read):
    # The page ends within a row of pixels; a bowl that just reaches its edge covers part of it.
    bowl = '<path d="M20 5h60v25q0 15.805-30 15.805t-30-15.805z"/>'
    head = HEAD.replace("60mm", "35.805mm").replace("100 60", "100 35.805")
    assert head != HEAD
    body = bowl.replace("15.805", "5.805")
    assert not [f for f in read(head + body + "</svg>").findings if f.code == "artwork-doubtful"]


@pytest.mark.parametrize("colour", ["#d00000", "#707070", "#008000"])
@pytest.mark.parametrize("width", [0.05, 0.09, 0.13])
def test_thin_lines_of_a_middling_colour_raise_no_doubt(read, colour, width):
    lines = "".join(
        f'<path d="M{x} 3l{40 + x / 3} {50 - x / 9}" stroke="{colour}" stroke-width="{width}"/>'
        for x in range(2, 60, 7)
    )
    drawing = read(HEAD + lines + "</svg>")
    assert not [f for f in drawing.findings if f.code == "artwork-doubtful"]


def test_shapes_drawn_many_times_over_raise_no_doubt(read):
    # Their anti-aliased edges add up in any rendering; their outline is the same.
    drawing = read('<circle cx="30" cy="30" r="9.03"/>' * 8)
    assert not drawing.findings
    assert drawing.area_mm2 == pytest.approx(np.pi * 9.03**2, rel=1e-3)


@pytest.fixture
def tampered(monkeypatch):
    """Change what is read, as a fault of the reader would."""

    def run(change):
        original = svg.read_paints
        monkeypatch.setattr(
            svg, "read_paints", lambda *args, **named: change(original(*args, **named))
        )

    return run


PLATE = '<rect x="5" y="5" width="90" height="50"/><path d="M10 30H90" stroke="#fff" {}/>'


@pytest.mark.parametrize("width", [0.1, 0.4])
def test_a_line_that_gets_lost_is_refused_with_its_place(read, tampered, width):
    tampered(lambda paints: paints[:1])
    with pytest.raises(ArtworkError, match=r"holds something .* \(50\.\d, 30\.\d\) mm"):
        read(PLATE.format(f'stroke-width="{width}"'))


def test_a_shape_in_the_wrong_place_is_refused(read, tampered):
    def shift(paints):
        moved = shapely.transform(paints[0].region, lambda xy: np.add(xy, (0.2, 0)))
        return [Paint(region=moved, colour=(0, 0, 0), alpha=1.0, source="")]

    tampered(shift)
    with pytest.raises(ArtworkError, match="second, independent rendering"):
        read('<rect x="5" y="5" width="90" height="50"/>')


def test_a_speck_that_differs_is_told_as_a_doubt(read, tampered):
    tampered(lambda paints: paints[:1])
    drawing = read('<rect width="9" height="9"/><rect x="50" y="20" width=".12" height=".12"/>')
    (finding,) = drawing.findings
    assert (finding.code, finding.level) == ("artwork-doubtful", Level.CAUTION)
    assert finding.at_mm == pytest.approx((50.06, 39.94), abs=0.15)


def test_wrong_darkness_of_see_through_paint_is_refused(read, monkeypatch):
    monkeypatch.setattr(check, "_DIFFERENT", 2.0)
    monkeypatch.setattr(svg, "paint_all", lambda paints, threshold: _all_dark(paints))
    with pytest.raises(ArtworkError, match="holds something"):
        read('<rect width="9" height="9"/><rect x="50" width="9" height="9" opacity=".3"/>')


def _all_dark(paints):
    regions = [paint.region for paint in paints]
    return Painted(dark=shapely.union_all(regions), visible=tuple(paints))
