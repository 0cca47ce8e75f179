"""What is unsafe, or could not be read faithfully, is refused in one clear sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from stopout.artwork import open_artwork, open_outline
from stopout.errors import ArtworkError
from stopout.job.record import ArtworkRequest

RECT = '<rect width="10" height="10"/>'
BOMB = (
    '<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa">'
    + "".join(f'<!ENTITY b{k} "{"&a;" * 10}">' for k in range(9))
    + ']><svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><title>&b8;</title></svg>'
)
OUTSIDE = (
    '<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
    '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><text>&x;</text></svg>'
)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (BOMB, ["entities", "plain SVG"]),
        (OUTSIDE, ["entities"]),
        ('<!DOCTYPE svg SYSTEM "file:///etc/x.dtd"><svg xmlns="http://www.w3.org/2000/svg"/>',
         ["DOCTYPE"]),
        ("<svg><rect></svg>", ["line 1", "not well-formed XML"]),
        ("<html/>", ["outermost element is <html>"]),
        ('<svg width="5" height="5"/>', ["namespace"]),
        ('<?xml-stylesheet href="a.css"?><svg xmlns="http://www.w3.org/2000/svg" width="9"/>',
         ["style sheet"]),
    ],
)  # fmt: skip
def test_whole_files_that_are_refused(read, content, words):
    refuse(read, content.encode(), words)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ('<use id="u" href="other.svg#a"/>',
         ['<use id="u">', "'other.svg#a'", "outside this file"]),
        ('<g id="a"><use id="b" href="#a"/></g>', ["uses it in turn"]),
        (f'{RECT}<rect id="w" fill="url(http://example.org/p#x)" width="5" height="5"/>',
         ['<rect id="w">', "outside this file"]),
        ("<style>@import url('a.css');</style>" + RECT, ["<style>", "@import"]),
        ("<style>rect{fill:u\\72l(a.svg#b)}</style>" + RECT, ["<style>", "outside this file"]),
        ('<path id="bent" d="L5 5"/>', ['<path id="bent">', "does not begin with a move"]),
        ('<polyline points="30,5 50,5px 50,25"/>', ["<polyline>", "points", "'px'"]),
        ('<rect id="r" x="NaN" width="5" height="5"/>', ['<rect id="r">', "no number"]),
        ('<g transform="scale(inf)">' + RECT + "</g>", ["<g>", "transform"]),
        ('<text id="name" font-family="Tide House Letters" x="5" y="9">A</text>',
         ["'Tide House Letters'", "Barlow", "convert the lettering to outlines"]),
        ('<text x="5" y="9">A</text>', ["names no font", "convert the lettering to outlines"]),
        ('<text font-family="Barlow" x="5" y="9">\u0e44\u0e17</text>',
         ["characters that no font at hand has ('\u0e44\u0e17')", "outlines"]),
        ("", ["nothing in the artwork is dark", "it is empty"]),
        ('<rect width="9" height="9" fill="#ddd"/>', ["nothing in the artwork is dark"]),
    ],
)  # fmt: skip
def test_content_that_is_refused(read, body, words):
    refuse(read, body, words)


@pytest.mark.parametrize(
    ("root", "words"),
    [
        ('width="50mm" height="30mm" viewBox="0 0 0 60"', ["viewBox", "no area"]),
        ('width="50mm" height="30mm" viewBox="0 0 a 60"', ["viewBox", "four numbers"]),
        ('width="0" height="30mm" viewBox="0 0 9 9"', ["width", "above zero"]),
        ('width="5em" height="30mm" viewBox="0 0 9 9"', ["width", "depends on the reader", "mm"]),
        ('width="wide" height="30mm" viewBox="0 0 9 9"', ["width", "is no length"]),
        ("", ["neither width and height nor a viewBox"]),
        ('width="50mm"', ["only one of width and height"]),
        ('width="100%" viewBox="0 0 9 9"', ["does not say how large"]),
        ('width="9000mm" height="9000mm"', ["5000 mm is the most"]),
    ],
)
def test_pages_that_have_no_size(read, root, words):
    head = f'<svg xmlns="http://www.w3.org/2000/svg" {root}>{RECT}</svg>'
    refuse(read, head, words)


def refuse(read, content, words):
    with pytest.raises(ArtworkError) as caught:
        read(content)
    message = str(caught.value)
    assert message.startswith("winch-plate.svg")
    for word in words:
        assert word in message
    assert "\n" not in message


def test_all_faults_of_a_file_are_told_together(read):
    with pytest.raises(ArtworkError) as caught:
        read('<path id="one" d="9"/><path id="two" d="x"/><use id="three" href="a.svg#b"/>')
    assert str(caught.value).count("\n") == 2


def test_uses_that_multiply_are_refused(read):
    layers = ['<g id="l0"><rect width="1" height="1"/></g>']
    for k in range(1, 10):
        uses = f'<use href="#l{k - 1}"/>' * 10
        layers.append(f'<g id="l{k}">{uses}</g>')
    with pytest.raises(ArtworkError, match="multiply to more than"):
        read(f"<defs>{''.join(layers)}</defs><use href='#l9'/>")


def test_deep_nesting_is_refused(read):
    with pytest.raises(ArtworkError, match="nested deeper than 200 levels"):
        read("<g>" * 250 + RECT + "</g>" * 250)


def test_the_plain_doctype_of_svg_1_1_is_accepted(read):
    drawing = read(
        '<?xml version="1.0" encoding="UTF-8"?><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
        '"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd"><svg '
        f'xmlns="http://www.w3.org/2000/svg" width="50mm" height="30mm">{RECT}</svg>'
    )
    assert drawing.area_mm2 == pytest.approx((10 * 25.4 / 96) ** 2)


def test_links_editors_data_and_metadata_do_no_harm(read):
    drawing = read(
        '<metadata><x xmlns="urn:mill" href="http://example.org/"/></metadata>'
        '<e:page xmlns:e="urn:editor" e:href="file:///x"/>'
        f'<a href="http://example.org/">{RECT}</a>'
    )
    assert drawing.area_mm2 == pytest.approx(100.0)


def test_a_damaged_pdf_is_refused(tmp_path, blank):
    path = tmp_path / "hut-sign.pdf"
    path.write_bytes(b"%PDF-1.7\n")
    with pytest.raises(ArtworkError, match="the PDF cannot be read: damaged"):
        open_artwork(path, ArtworkRequest(file=path.name), blank)


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "empty"), (b"hello", "no artwork file"), (b"\x1f\x8b\x08", "compressed SVG")],
)
def test_files_of_other_kinds_are_refused(tmp_path, blank, content, words):
    path = tmp_path / "tag.svg"
    path.write_bytes(content)
    with pytest.raises(ArtworkError, match=words):
        open_artwork(path, ArtworkRequest(file=path.name), blank)


def test_a_missing_file_and_a_folder_are_refused(tmp_path, blank):
    for path in (tmp_path / "gone.svg", tmp_path):
        with pytest.raises(ArtworkError, match="cannot be opened"):
            open_artwork(path, ArtworkRequest(file=path.name), blank)


def test_an_outline_is_fitted_to_the_blank(tmp_path: Path, blank):
    path = tmp_path / "plate-outline.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 60 40">'
        '<path fill-rule="evenodd" d="M5 5h50v30l-10 -5h-40z M20 10h5v5h-5z"/></svg>'
    )
    outline = open_outline(path, blank)
    assert outline.bounds == pytest.approx((0, 0, 100, 60))
    assert not outline.interiors
    # The low corner of the page's right edge stays low on the right: y goes up.
    assert outline.area == pytest.approx(4 * (50 * 25 + 0.5 * 10 * 5))


def test_an_outline_of_two_shapes_or_wrong_proportions_is_refused(tmp_path: Path, blank):
    path = tmp_path / "plate-outline.svg"
    head = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 60 40">'
    path.write_text(head + '<rect width="5" height="5"/><rect x="9" width="5" height="5"/></svg>')
    with pytest.raises(ArtworkError, match="one dark shape; this file holds 2"):
        open_outline(path, blank)
    path.write_text(head + '<rect width="5" height="5"/></svg>')
    with pytest.raises(ArtworkError, match=r"100\.00 x 100\.00 mm .* 60 mm high"):
        open_outline(path, blank)


@pytest.mark.parametrize(
    ("there", "told"),
    [
        ("gate-plate.svg", "did you mean gate-plate.svg[?]"),
        ("Gate-Plate.SVG", "did you mean Gate-Plate.SVG[?]"),
        ("u\u0308ber.svg", "looks the same is there"),
        ("other.png", "no such file or directory$"),
    ],
)
def test_a_name_that_is_not_there_brings_the_one_most_like_it(tmp_path, blank, there, told):
    (tmp_path / there).write_bytes(b"<svg/>")
    wanted = "\u00fcber.svg" if "ber" in there else "gate-plat.svg"
    with pytest.raises(ArtworkError, match=told):
        open_artwork(tmp_path / wanted, ArtworkRequest(file=wanted), blank)
