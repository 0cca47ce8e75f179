"""What a reader does not know is read right, refused, or asked by name; nothing goes silently."""

from __future__ import annotations

import pytest

from stopout.artwork.colours import UnreadPaintError, plain_paint
from stopout.errors import ArtworkError
from stopout.planning.verdict.ranks import SPOILS, rank_of
from stopout.values import Level

RECT = '<rect x="10" y="10" width="20" height="10"/>'
DILATE = '<filter id="f"><feMorphology operator="dilate" radius="2"/></filter>'
SOFT = '<filter id="f"><feGaussianBlur stdDeviation=".05"/></filter>'
TEXT = '<text x="5" y="30" font-family="Barlow" font-size="9" style="{}">abc</text>'


@pytest.mark.parametrize(
    ("body", "name"),
    [
        ('<image width="9" height="9" href="photo.png"/>', "image"),
        ('<image width="9" height="9" href="data:image/svg+xml,x"/>', "image"),
        ('<foreignObject width="5" height="5"/>', "foreignObject"),
        ("<flowRoot><flowPara>lower gate</flowPara></flowRoot>", "flowRoot"),
        ('<hatch id="h"/>', "hatch"),
        (TEXT.format("inline-size:20px"), "inline-size"),
        (TEXT.format("shape-inside:circle(5px)"), "shape-inside"),
        (TEXT.format("text-shadow:1px 1px #000"), "text-shadow"),
        ('<rect style="mask-image:linear-gradient(#000,#fff)" width="9" height="9"/>',
         "mask-image"),
        ('<rect style="-webkit-mask:url(#m)" width="9" height="9"/>', "mask"),
        ('<rect style="clip-path:circle(3px)" width="9" height="9"/>', "clip-path"),
        ('<rect style="offset-path:path(&quot;M0 0H9&quot;)" width="9" height="9"/>',
         "offset-path"),
        ('<rect style="zoom:2" width="9" height="9"/>', "zoom"),
        ("<style>@media (min-width:500px){rect{fill:#fff}}</style>", "@media"),
        ('<style>svg{background:#222}</style>', "background"),
        ("<style>@supports (fill:red){rect{fill:#fff}}</style>", "@supports"),
        ("<style>rect::part(x){fill:#fff} rect:hover(2){fill:#fff}</style>", "selector"),
        (f'{DILATE}<rect filter="url(#f)" x="50" y="30" width="20" height="10"/>', "filter"),
        ('<rect x="50" y="30" width="20" height="10"/><rect x="50" y="30" width="20" height="10" '
         'fill="#fff" style="mix-blend-mode:multiply"/>', "mix-blend-mode"),
    ],
)  # fmt: skip
def test_what_would_change_the_picture_is_asked_and_made_without_on_request(read, body, name):
    with pytest.raises(ArtworkError) as caught:
        read(body + RECT)
    assert f'artwork.leave_out = ["{name}"]' in str(caught.value)
    assert "(line 1)" in str(caught.value)
    drawing = read(body + RECT, leave_out=(name,))
    assert any("as the job says" in finding.message for finding in drawing.findings)


def test_an_effect_that_changes_nothing_dark_is_a_note(read):
    drawing = read(f'{SOFT}<g filter="url(#f)">{RECT}</g>')
    (finding,) = drawing.findings
    assert finding.level is Level.NOTE
    assert "filter" in finding.message
    assert drawing.area_mm2 == pytest.approx(200.0)


@pytest.mark.parametrize(
    "paint",
    ["Canvas", "#12", "blurple", "context-fill", "rgb(from red r g b)",
     "color-mix(in hsl, red, blue)", "url(foo"],
)  # fmt: skip
def test_a_paint_that_cannot_be_worked_out_is_refused_not_black(read, paint):
    with pytest.raises(ArtworkError, match=r"<rect> \(line 1\): fill: "):
        read(f'<rect fill="{paint}" width="9" height="9"/>{RECT}')


@pytest.mark.parametrize(
    ("paint", "plain"),
    [
        ("NONE", "none"),
        ("CurrentColor", "currentColor"),
        ("#CD853F icc-color(acme, 0.1)", "#cd853f"),
        ("hsl(120 100% 25%)", "#008000"),
        # CSS Color 4, section 10.1 and the examples of 9.2 and 9.4: sRGB red in other spaces.
        ("oklch(62.8% 0.2577 29.23)", "#ff0000"),
        ("lab(54.29 80.8 69.89)", "#ff0000"),
        ("color(xyz 0.9505 1 1.089)", "#ffffff"),
        ("color-mix(in srgb, red, blue)", "#800080"),
        ("color-mix(in srgb-linear, white, black)", "#bcbcbc"),
        ("url( '#a' ) White", "url(#a) #ffffff"),
    ],
)
def test_paints_of_css_color_4_in_plain_words(paint, plain):
    assert plain_paint(paint) == plain


def test_a_variable_that_names_itself_is_no_paint(read):
    drawing = read(
        "<style>rect{--a:var(--b);--b:var(--a);fill:var(--a)}</style>"
        f'<g fill="#fff">{RECT}</g><circle cx="60" cy="30" r="5"/>'
    )
    assert drawing.area_mm2 == pytest.approx(78.54, abs=0.1)
    with pytest.raises(UnreadPaintError):
        plain_paint("var(--a)")


def test_the_check_sees_the_document_as_it_came(read, monkeypatch):
    # A fault in the rewriting of arcs shows, since the rendering is not given what was rewritten.
    from stopout.artwork.svg import faults

    monkeypatch.setattr(faults, "write_out_arcs", lambda data: data.replace("40", "60"))
    with pytest.raises(ArtworkError, match="second, independent rendering"):
        read('<path d="M20 40L60 40L60 50L20 50Z"/>')


def test_a_pattern_elsewhere_does_not_soften_the_check(read, monkeypatch):
    from stopout.artwork.svg import reading as svg

    original = svg.read_paints
    monkeypatch.setattr(svg, "read_paints", lambda *args, **named: original(*args, **named)[:-1])
    tiles = (
        '<pattern id="p" width="4" height="4" patternUnits="userSpaceOnUse"><circle cx="2" cy="2" '
        'r="1"/></pattern><rect fill="url(#p)" width="20" height="20"/>'
    )
    with pytest.raises(ArtworkError, match="second, independent rendering"):
        read(tiles + '<rect x="60" y="20" width="9" height="9"/>')


@pytest.mark.parametrize(
    "body",
    [
        f'<g shape-rendering="auto" text-rendering="auto">{RECT}</g>',
        '<rect x="10" y="10" width="20" height="10" marker-start="none" style="marker:none"/>',
        '<rect x="80" y="10" width="20.0001" height="10"/>',
        f'<g><svg preserveAspectRatio="defer xMidYMid meet" viewBox="0 0 100 60">{RECT}</svg></g>',
        f'<g><svg preserveAspectRatio="what" viewBox="0 0 100 60">{RECT}</svg></g>',
        f"<style>@media (prefers-color-scheme: dark) {{ rect {{ fill: #fff }} }}</style>{RECT}",
    ],
)
def test_what_is_nothing_is_not_told(read, body):
    drawing = read(body)
    assert [f for f in drawing.findings if f.code != "artwork-unconfirmed"] == []
    assert drawing.area_mm2 == pytest.approx(200.0, rel=1e-4)


def test_one_caution_for_all_lettering_in_a_family_that_was_left_open(read):
    text = '<text x="5" y="{}" font-family="serif" font-size="6">gate</text>'
    drawing = read("".join(text.format(y) for y in (10, 20, 30)))
    (finding,) = drawing.findings
    assert finding.message.startswith("<text> (line 1) and 2 more: the lettering asks for 'serif'")


def test_a_size_in_px_is_told_unless_the_job_gives_one(read):
    head = 'width="100" height="60"'
    (finding,) = read(RECT, root=head).findings
    assert finding.code == "artwork-size-unsure"
    assert "26.46 x 15.88 mm" in finding.message
    assert not read(RECT, root=head, width_mm=100.0).findings


def test_entities_for_namespaces_are_read_and_others_refused(read):
    document = (
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
        '"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd" [{}]>'
        '<svg xmlns="&ns;" width="100mm" height="60mm" viewBox="0 0 100 60">' + RECT + "</svg>"
    )
    assert read(document.format('<!ENTITY ns "http://www.w3.org/2000/svg">')).area_mm2 == (
        pytest.approx(200.0)
    )
    for entity in ('<!ENTITY ns "&lt;">', '<!ENTITY % ns "x">', '<!ENTITY ns SYSTEM "a">'):
        with pytest.raises(ArtworkError, match="entities"):
            read(document.format(entity))


@pytest.mark.parametrize(
    ("body", "words"),
    [("<g>&</g>", "&amp;"), ("<g", "not well-formed"),
     (f'<desc>{"x" * 10_000_100}</desc>', "more than 10 MB")],
)  # fmt: skip
def test_faults_of_the_xml_are_told_in_our_words(read, body, words):
    with pytest.raises(ArtworkError) as caught:
        read(body)
    assert words in str(caught.value)
    assert "xml" not in str(caught.value).replace("XML", "").lower()


@pytest.mark.parametrize(
    ("style", "words"),
    [("font-stretch:condensed", "narrow or wide family"),
     ("font-feature-settings:smcp", "not read"),
     ("text-transform:full-width", "not read")],
)  # fmt: skip
def test_lettering_that_is_not_set_as_asked_is_refused(read, style, words):
    with pytest.raises(ArtworkError, match=words):
        read(TEXT.format(style))


@pytest.mark.parametrize(
    "body",
    [
        # Found by mutation: a number whose square overflows, and one that the renderer gives up at.
        '<path d="M5 5h1v.2H50zM70,5q10-5 1e308 5t0 20H70M5 30c5-5 10 5 15 0"/>',
        '<pattern id="r" x=".1" y=".05" width=".25" height=".1e38" patternContentUnits='
        '"objectBoundingBox"><rect width=".15" height=".1"/></pattern>'
        '<rect fill="url(#r)" x="65" y="5" width="12" height="50"/>',
    ],
)
def test_numbers_beyond_all_measure_are_refused(read, body):
    with pytest.raises(ArtworkError):
        read(body)


@pytest.mark.parametrize(
    ("body", "told"),
    [
        ('<path d="M50 30h20v10h-20z M0 0h5v5l0z"/>', "'z' is none"),
        ('<path d="M50 30h20v10h-20z M0 0 L nan 5"/>', "'nan 5'"),
        ('<path d="M50 30h20v10h-20z M0 0 L 5"/>', "L takes 2 numbers"),
        ('<path d="M50 30h20v10h-20z M0 0 A5 5 0 2 0 9 9"/>', "arc flag"),
        ('<path d="M50 30h20v10h-20z M0 0 L1e999 0 5 5"/>', "too large"),
        ('<polygon points="50 30 70 30 70 40 50 40 0"/>', "an x without a y"),
        ('<path d="M50 30h20v10h-20z"/><use href="#gone"/>', "'#gone'"),
    ],
)
def test_what_breaks_off_is_drawn_up_to_there_and_told_first(read, body, told):
    # SVG 2, sections 9.5.4 and 5.5: path data are drawn up to the command that breaks them, and
    # for a use of what is not there nothing is drawn.
    drawing = read(body)
    (finding,) = drawing.findings
    assert (finding.code, finding.level) == ("artwork-broken", Level.CAUTION)
    assert "(line 1): " in finding.message
    assert told in finding.message
    assert rank_of(finding.code, finding.level, has_place=False)[0] == SPOILS
    assert drawing.area_mm2 == pytest.approx(212.5 if "v5l" in body else 200.0)


def test_where_nothing_is_left_to_draw_the_break_is_told_too(read):
    with pytest.raises(ArtworkError, match=r"nothing in the artwork is dark(.|\n)*'#gone'"):
        read('<use href="#gone"/>')


WHITE = '<rect x="10" y="10" width="20" height="10" {}/>'


@pytest.mark.parametrize(
    "body",
    [
        # The second of two rectangles is white; what the check rendering does not know of must
        # not make it refuse what is right (Selectors 4; CSS Color 5, section 10).
        "<style>rect:nth-child(3){fill:#fff}</style>" + RECT + WHITE.format(""),
        "<style>rect ~ rect{fill:#fff}</style>" + RECT + WHITE.format(""),
        "<style>:is(rect).r{fill:#fff}</style>" + RECT + WHITE.format('class="r"'),
        RECT + WHITE.format('style="fill:light-dark(#fff, #000)"'),
    ],
)
def test_what_the_check_rendering_does_not_know_is_read_as_a_browser_does(read, body):
    beside = '<rect x="50" y="30" width="5" height="5"/>'
    assert read(f"{body}<g>{beside}</g>").area_mm2 == pytest.approx(25.0)


@pytest.mark.parametrize(
    ("body", "area_mm2"),
    [
        (f'<switch><g systemLanguage="de"/><g systemLanguage="en">{RECT}</g></switch>', 200.0),
        # An element that nobody knows is not drawn, yet what it holds may be used.
        (f'<def><g id="a">{RECT}</g></def><use href="#a"/>', 200.0),
        # Stripes half as wide as their tile in a disc; those of the check drift into its rim.
        ('<pattern id="p" width="4" height="4" patternUnits="userSpaceOnUse" '
         'patternTransform="scale(.8)"><rect width="2" height="4"/></pattern>'
         '<circle cx="40" cy="48" r="9" fill="url(#p)" stroke="#000"/>', 170.0),
    ],
)  # fmt: skip
def test_what_the_check_rendering_draws_otherwise_is_not_refused(read, body, area_mm2):
    assert read(body).area_mm2 == pytest.approx(area_mm2, rel=0.01)
