"""DXF drawings against closed forms, from R12 to R2018, as text and binary, and one by hand."""

from __future__ import annotations

import io
import subprocess
import sys
from math import pi
from pathlib import Path

import ezdxf
import pytest

from stopout.artwork import read_artwork
from stopout.errors import ArtworkError
from stopout.job.record import ArtworkRequest, Blank
from stopout.values import Level

BLANK = Blank(
    material="aluminium", width_mm=100.0, height_mm=60.0, thickness_mm=1.0, worked_side="front"
)
PLATE = [(0, 0), (20, 0), (20, 10), (0, 10)]
# A drawing as the DXF reference gives its bare form: group codes and values on lines of their own.
BY_HAND = "\n".join(
    ["0", "SECTION", "2", "ENTITIES",
     "0", "POLYLINE", "8", "PLATE", "66", "1", "70", "1",
     *[line for x, y in PLATE for line in ("0", "VERTEX", "8", "PLATE", "10", f"{x}.0", "20",
                                           f"{y}.0")],
     "0", "SEQEND", "8", "PLATE",
     "0", "CIRCLE", "8", "PLATE", "10", "10.0", "20", "5.0", "40", "3.0",
     "0", "ENDSEC", "0", "EOF", ""]
)  # fmt: skip


def drawn(build, version="R2010", *, units=4, binary=False, folder=None):
    document = ezdxf.new(version)
    if version != "R12":
        document.header["$INSUNITS"] = units
    build(document, document.modelspace())
    if binary:
        path = folder / "plate.dxf"
        document.saveas(path, fmt="bin")
        return path.read_bytes()
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode("utf-8" if version >= "R2007" else "cp1252")


def read(data, **request):
    request = ArtworkRequest(file="plate.dxf", **{"position_mm": (0.0, 0.0), **request})
    return read_artwork(data, request, BLANK, name="plate.dxf")


def plate(document, space):
    if document.dxfversion == "AC1009":
        space.add_polyline2d(PLATE, close=True)
    else:
        space.add_lwpolyline(PLATE, close=True)
    space.add_circle((10, 5), 3)


@pytest.mark.parametrize("version", ["R2000", "R2004", "R2007", "R2010", "R2013", "R2018"])
def test_an_outline_with_a_hole_is_read_from_every_version(version):
    drawing = read(drawn(plate, version))
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((20.0, 10.0))
    assert drawing.area_mm2 == pytest.approx(200 - 9 * pi, rel=1e-4)


def test_r12_and_a_drawing_by_hand_state_no_unit_and_ask_for_the_size():
    for data in (drawn(plate, "R12"), BY_HAND.encode()):
        with pytest.raises(ArtworkError, match=r"does not say how large it is; give artwork.width"):
            read(data)
        assert read(data, width_mm=40.0).area_mm2 == pytest.approx(4 * (200 - 9 * pi), rel=1e-4)


def test_a_binary_drawing_is_the_same(tmp_path):
    text, binary = drawn(plate), drawn(plate, binary=True, folder=tmp_path)
    assert read(text).dark.equals_exact(read(binary).dark, 1e-9)


@pytest.mark.parametrize(("code", "mm"), [(1, 25.4), (4, 1.0), (5, 10.0), (9, 0.0254), (14, 100.0)])
def test_the_unit_of_the_drawing_sets_the_size(code, mm):
    drawing = read(drawn(plate, units=code))
    assert drawing.width_mm == pytest.approx(20 * mm)


def chain(_, space):
    for start, end in [((0, 0), (20, 0)), ((20, 10), (20, 0)), ((0, 10), (20, 10)),
                       ((0, 10), (0, 0.004))]:  # fmt: skip
        space.add_line(start, end)
    space.add_arc((10, 5), 3, 0, 180)
    space.add_line((7, 5), (13, 5))


def hatched(_, space):
    hatch = space.add_hatch(color=2)
    hatch.paths.add_polyline_path(PLATE, is_closed=True, flags=1)
    hatch.paths.add_polyline_path([(7, 5, 1), (13, 5, 1)], is_closed=True, flags=16)


def in_blocks(document, space):
    block = document.blocks.new("TOOTH")
    block.add_lwpolyline([(0, 0), (2, 0), (2, 2)], close=True)
    space.add_blockref("TOOTH", (0, 0))
    space.add_blockref("TOOTH", (9, 0), dxfattribs={"xscale": -2, "yscale": 1, "rotation": 30})


def banded(_, space):
    space.add_lwpolyline([(0, 0, 1, 1), (20, 0, 1, 1), (20, 10, 1, 1)], format="xyse")


def weighted(_, space):
    space.add_line((0, 0), (20, 0), dxfattribs={"lineweight": 50})


def bulged(_, space):
    points = [(0, 0, 0), (20, 0, 1), (20, 10, 0), (0, 10, 1)]
    space.add_lwpolyline(points, format="xyb", close=True)


def mirrored(_, space):
    attributes = {"extrusion": (0, 0, -1)}
    space.add_lwpolyline(PLATE, close=True, dxfattribs=attributes)
    space.add_circle((10, 5), 3, dxfattribs=attributes)


def twice(_, space):
    for _ in range(2):
        space.add_lwpolyline(PLATE, close=True)


def crossing(_, space):
    space.add_lwpolyline([(0, 0), (10, 0), (10, 10), (0, 10)], close=True)
    space.add_lwpolyline([(5, 0), (15, 0), (15, 10), (5, 10)], close=True)


def ellipse(_, space):
    space.add_ellipse((0, 0), (10, 0), 0.5)


def wiped(_, space):
    space.add_lwpolyline(PLATE, close=True)
    space.add_wipeout([(5, 2), (9, 2), (9, 6), (5, 6)])


@pytest.mark.parametrize(
    ("build", "area_mm2"),
    [
        (chain, 200 - 4.5 * pi),
        (hatched, 200 - 9 * pi),
        (in_blocks, 2 + 4),
        (banded, 30),
        (weighted, 10 + 0.0625 * pi),
        (bulged, 200 + 25 * pi),
        (mirrored, 200 - 9 * pi),
        (twice, 200),
        (crossing, 150),
        (ellipse, 50 * pi),
        (wiped, 200 - 16),
    ],
)
def test_areas_of_what_is_drawn(build, area_mm2):
    # Areas by hand. A bulge of 1 is a half circle (DXF reference, LWPOLYLINE); the weighted line
    # has 0.5 mm and round ends; outlines drawn twice count once, crossing ones are both areas.
    assert read(drawn(build)).area_mm2 == pytest.approx(area_mm2, rel=2e-4)


def test_a_circle_is_true_to_a_micrometre():
    drawing = read(drawn(lambda _, space: space.add_circle((0, 0), 25)))
    x, y = drawing.dark.exterior.coords.xy
    away = [abs(((a - 25) ** 2 + (b - 25) ** 2) ** 0.5 - 25) for a, b in zip(x, y, strict=True)]
    assert max(away) < 1e-3


def test_lines_that_do_not_close_are_asked_with_their_place():
    def build(document, space):
        plate(document, space)
        space.add_line((0, 20), (20, 20.5), dxfattribs={"layer": "CENTRE LINE"})

    with pytest.raises(ArtworkError) as caught:
        read(drawn(build))
    assert "layer 'CENTRE LINE': 1 line without a width does not close" in str(caught.value)
    assert "20 mm apart, are at (0, 20) and (20, 20.5)" in str(caught.value)
    drawing = read(drawn(build), leave_out=("CENTRE LINE",))
    assert drawing.area_mm2 == pytest.approx(200 - 9 * pi, rel=1e-4)
    # What is left out still counts for the extent, so that nothing moves.
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((20.0, 20.5))
    assert drawing.dark.bounds == pytest.approx((0.0, 0.0, 20.0, 10.0))


def test_layers_stand_as_classes_with_their_colours():
    def build(document, space):
        document.layers.add("GOLD LETTERS", color=2)
        space.add_lwpolyline(PLATE, close=True)
        space.add_circle((40, 5), 5, dxfattribs={"layer": "GOLD LETTERS"})

    drawing = read(drawn(build))
    gold = next(shape for shape in drawing.shapes if "GOLD-LETTERS" in shape.classes)
    assert gold.fill == "#ffff00"
    assert gold.region.area == pytest.approx(25 * pi, rel=2e-4)
    assert drawing.area_mm2 == pytest.approx(200 + 25 * pi, rel=2e-4)
    assert any("pens" in finding.message for finding in drawing.findings)


def test_artwork_within_the_outline_of_its_plate_is_told_and_the_remedy_shows_it():
    def build(document, space):
        document.layers.add("ART")
        space.add_lwpolyline(PLATE, close=True, dxfattribs={"layer": "EDGE"})
        space.add_circle((10, 5), 3, dxfattribs={"layer": "ART"})

    drawing = read(drawn(build))
    assert drawing.area_mm2 == pytest.approx(200.0)
    (told,) = [f for f in drawing.findings if f.code == "layer-covered"]
    assert "layer 'EDGE'" in told.message
    assert "layer 'ART'" in told.message
    assert 'artwork.leave_out = ["EDGE"]' in told.remedy
    mended = read(drawn(build), leave_out=("EDGE",))
    assert mended.area_mm2 == pytest.approx(9 * pi, rel=2e-4)
    assert not [f for f in mended.findings if f.code == "layer-covered"]


@pytest.mark.parametrize("radius", [5.0, 6.0])
def test_layers_that_share_an_edge_or_leave_it_hide_nothing(radius):
    def build(document, space):
        space.add_lwpolyline(PLATE, close=True, dxfattribs={"layer": "EDGE"})
        space.add_circle((10, 5), radius, dxfattribs={"layer": "ART"})

    assert not [f for f in read(drawn(build)).findings if f.code == "layer-covered"]


def test_lettering_is_outlined_and_its_other_font_told():
    drawing = read(drawn(lambda _, space: space.add_text("SLUICE", height=5)))
    (finding,) = [f for f in drawing.findings if f.level is Level.CAUTION]
    assert "the lettering in txt is set in 'Barlow'" in finding.message
    # The height of a text is that of its capitals (DXF reference, TEXT); S and C overshoot.
    assert drawing.height_mm == pytest.approx(5.0, rel=0.04)


def blocks_of_blocks(document, space):
    """Twelve blocks, each of four of the one before: 16 million circles in a few kB."""
    document.blocks.new("B0").add_circle((0, 0), 1)
    for k in range(1, 13):
        block = document.blocks.new(f"B{k}")
        for place in range(4):
            block.add_blockref(f"B{k - 1}", (3 * place, 0))
    space.add_blockref("B12", (0, 0))


def a_grid(document, space):
    """One block in 30,000 rows of 30,000."""
    document.blocks.new("A").add_circle((0, 0), 1)
    rows = {"row_count": 30_000, "column_count": 30_000, "row_spacing": 1, "column_spacing": 1}
    space.add_blockref("A", (0, 0), dxfattribs=rows)


def far_away(_, space):
    """At 1e15 mm the next number is an eighth of a millimetre away."""
    space.add_circle((1e15, 0), 3)
    space.add_circle((1e15 + 20, 0), 3)


@pytest.mark.parametrize(
    ("build", "words"),
    [
        (blocks_of_blocks, "16777216 entities"),
        (a_grid, "900000000 entities"),
        (far_away, "no finer than 0.12 mm"),
        (lambda d, s: s.add_text("\u0e44", height=5), "has the characters \u0e44"),
        (lambda d, s: s.add_text("\u0637\u0627", height=5), "right to left"),
        (lambda d, s: (d.styles.add("X", font="house.ttf"),
                       s.add_text("A", height=5, dxfattribs={"style": "X"})), "set in house.ttf"),
        (lambda d, s: (plate(d, s), s.add_3dface([(0, 0), (1, 0), (1, 1)])), "a face in space"),
        (lambda d, s: s.add_hatch().set_pattern_fill("ANSI31") or
         s[-1].paths.add_polyline_path(PLATE, is_closed=True), "hatch of lines without a width"),
        (lambda d, s: s.add_point((1, 1)), "no outline"),
        (lambda d, s: (plate(d, s), d.add_xref_def("gate.dxf", "GATE"),
                       s.add_blockref("GATE", (0, 0), dxfattribs={"layer": "F"})),
         "layer 'F' holds a drawing that lies in another file"),
    ],
)  # fmt: skip
def test_what_is_not_read_is_refused(build, words):
    with pytest.raises(ArtworkError, match=words):
        read(drawn(build))


def test_what_is_not_to_be_seen_is_no_matter():
    def with_hidden(document, space):
        plate(document, space)
        document.layers.add("OFF").off()
        document.layers.add("COLD").freeze()
        for layer in ("OFF", "COLD", "FACE"):
            space.add_3dface([(0, 0), (1, 0), (1, 1)], dxfattribs={"layer": layer})
        space.add_circle((5, 5), 3, dxfattribs={"layer": "OFF"})
        space.add_circle((5, 5), 3, dxfattribs={"invisible": 1})
        document.styles.add("X", font="house.ttf")
        space.add_text("A", height=5, dxfattribs={"style": "X", "layer": "FACE"})

    drawing = read(drawn(with_hidden), leave_out=("FACE",))
    assert drawing.area_mm2 == pytest.approx(read(drawn(plate)).area_mm2)
    assert "off or frozen were left out: COLD, OFF" in drawing.findings[-1].message


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"%!PS-Adobe-3.0 EPSF-3.0\n", "PostScript files are programs.*export the drawing as PDF"),
        (b"\xc5\xd0\xd3\xc6....", "EPS files are programs"),
        (b"AC1032\0\0", "save it as DXF"),
        (BY_HAND[:200].encode(), "breaks off"),
        (BY_HAND.replace("10.0", "1x.0", 1).encode(), "holds damaged values"),
        (
            BY_HAND.replace("POLYLINE", "POLYL").encode(),
            "layer 'PLATE' holds a loose piece of a polyline",
        ),
    ],
)
def test_other_files_are_told_what_to_do(data, words):
    with pytest.raises(ArtworkError, match=words):
        read(data, width_mm=20.0)


def test_the_library_keeps_its_words_to_itself(capfd):
    with pytest.raises(ArtworkError, match="damaged"):
        read(BY_HAND.replace("10.0", "1x.0", 1).encode(), width_mm=20.0)
    assert capfd.readouterr() == ("", "")


def test_nothing_is_scanned_or_kept_in_the_home_folder(tmp_path):
    (tmp_path / "a.dxf").write_text(BY_HAND)
    program = (
        "from pathlib import Path; from stopout.artwork import open_artwork\n"
        "from stopout.job.record import ArtworkRequest, Blank\n"
        "blank = Blank(material='aluminium', width_mm=9.0, height_mm=9.0, thickness_mm=1.0, "
        "worked_side='front')\n"
        "open_artwork(Path('a.dxf'), ArtworkRequest(file='a.dxf', width_mm=5.0), blank)"
    )
    source = str(Path(__file__).parents[2] / "src")
    environment = {"HOME": str(tmp_path), "PYTHONPATH": source, "PATH": ""}
    subprocess.run([sys.executable, "-c", program], cwd=tmp_path, env=environment, check=True)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.dxf"]


def test_what_is_no_entity_at_all_is_passed_over():
    def with_a_circle(document, space):
        plate(document, space)
        space.add_circle((5, 5), 1)

    data = drawn(with_a_circle)
    broken = data.replace(b"\nCIRCLE\r\n", b"\n35\r\n").replace(b"\nCIRCLE\n", b"\n35\n")
    assert broken != data
    assert read(broken).dark.area > 0
