"""The preview: what stands where, read from its pixels."""

import io
import re
from dataclasses import replace

import numpy as np
import pytest
import resvg_py
import shapely
from PIL import Image
from shapely.geometry import MultiPolygon, Polygon, box

from stopout.pictures import PreviewScene, preview_png
from stopout.pictures.means.colours import material_tint, paint_tint, recess_tint
from stopout.pictures.means.drawing import Frame
from stopout.pictures.piece.panels import INSIDE, OUTSIDE, outcome
from stopout.pictures.piece.preview import preview_svg
from stopout.pictures.piece.scene import CloseUp
from stopout.values import Finding, Level

pytestmark = pytest.mark.usefixtures("whole_pictures")
# An L, heavy on its left side: mirrored, it is heavy on its right.
LETTER = Polygon([(5, 3), (30, 3), (30, 6), (10, 6), (10, 17), (5, 17)])


def _scene(target=LETTER, finished=None, **changes) -> PreviewScene:
    finished = target if finished is None else finished
    scene = PreviewScene(
        title=("Test plate", "revision A"),
        width_mm=40,
        height_mm=20,
        blank=box(0, 0, 40, 20),
        target=target,
        opening=finished.buffer(-0.06),
        finished=finished,
        too_much=finished.difference(target),
        too_little=target.difference(finished),
        material="aluminium",
    )
    return replace(scene, **changes)


def _pixels(scene: PreviewScene) -> np.ndarray:
    return np.array(Image.open(io.BytesIO(preview_png(scene))).convert("RGB"))


def _where(pixels: np.ndarray, tint: str) -> np.ndarray:
    rgb = [int(tint[k : k + 2], 16) for k in (1, 3, 5)]
    return np.argwhere((pixels == rgb).all(axis=2))


def _lean(pixels: np.ndarray, tint: str, *, left: int, right: int) -> float:
    """Where the mean of a tint lies between two columns: 0 left, 1 right."""
    columns = _where(pixels[:, left:right], tint)[:, 1]
    return float(columns.mean()) / (right - left)


def test_it_is_1200_pixels_wide_and_not_empty():
    pixels = _pixels(_scene())
    assert pixels.shape[1] == 1200
    assert 900 < pixels.shape[0] < 3500
    assert len(_where(pixels, recess_tint("aluminium"))) > 10_000


def test_the_same_scene_gives_the_same_bytes():
    assert preview_png(_scene()) == preview_png(_scene())


def test_front_work_shows_both_panels_the_same_way_round():
    pixels = _pixels(_scene())
    seen = _lean(pixels, recess_tint("aluminium"), left=40, right=580)
    worked = _lean(pixels, material_tint("aluminium"), left=620, right=1160)
    assert seen == pytest.approx(worked, abs=0.02)
    assert seen < 0.45


def test_back_work_shows_as_seen_in_mirror_image_of_as_worked():
    scene = _scene(is_back_worked=True)
    pixels = _pixels(scene)
    seen = _lean(pixels, recess_tint("aluminium"), left=40, right=580)
    worked = _lean(pixels, material_tint("aluminium"), left=620, right=1160)
    assert seen == pytest.approx(1 - worked, abs=0.02)
    assert worked < 0.45


def test_a_sign_is_shown_in_its_coats_colours_as_seen():
    seen = shapely.affinity.scale(LETTER, -1, 1, origin=(20, 0))
    view = (("black", box(0, 0, 40, 20).difference(seen)), ("ivory", seen))
    pixels = _pixels(_scene(is_back_worked=True, front_view=view, material="acrylic-cast"))
    assert _lean(pixels, paint_tint("ivory"), left=40, right=580) > 0.55
    assert len(_where(pixels[:, :580], paint_tint("black"))) > 25_000


def test_too_much_and_too_little_differ_in_grey():
    # Rec. 709 luma of the two marks, on a scale of 255.
    def luma(tint):
        red, green, blue = (int(tint[k : k + 2], 16) for k in (1, 3, 5))
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    assert luma(INSIDE) - luma(OUTSIDE) > 60


def test_deviations_are_marked_where_they_are():
    # A whole edge 0.1 mm out, far too thin for one pixel of the outcome to be lost among others.
    scene = _scene(finished=LETTER.union(box(30, 3, 30.1, 6)))
    frame = Frame(left_px=0, top_px=0, px_per_mm=25, width_mm=40, height_mm=20)
    svg = '<svg xmlns="http://www.w3.org/2000/svg" width="1000" height="500">'
    svg += outcome(scene, frame, (), ()) + "</svg>"
    png = resvg_py.svg_to_bytes(svg_string=svg, dpi=96, background="#fff")
    pixels = np.array(Image.open(io.BytesIO(png)).convert("RGB"))
    rows, columns = _where(pixels, OUTSIDE).T
    assert len(columns) > 3 * 25
    assert np.abs(columns / 25 - 30.05).max() < 0.12
    assert np.abs((500 - rows) / 25 - 4.5).max() < 1.6


@pytest.mark.parametrize(("apart_mm", "letters"), [(0.5, ["A, B"]), (5.0, ["A", "B"])])
def test_each_enlargement_has_its_letter_in_the_outcome(apart_mm, letters):
    frame = Frame(left_px=0, top_px=0, px_per_mm=25, width_mm=40, height_mm=20)
    places = [CloseUp(at_mm=(10 + x, 8), caption="") for x in (0, apart_mm)]
    drawn = outcome(_scene(), frame, (), places)
    # Each is written twice, the first time as the white round it.
    assert re.findall(r">([AB](?:,\sB)?)</text>", drawn)[::2] == letters


def test_findings_with_marks_of_xml_do_not_break_the_picture():
    finding = Finding(code="x", level=Level.STOP, message="a < b & c > d", at_mm=(10, 10))
    assert _pixels(_scene(findings=(finding,), title=("<A & B>",))).shape[1] == 1200


def test_a_stop_is_written_at_the_head_of_the_sheet():
    head = slice(100, 150), slice(30, 1160)
    words = {"headline": "STOPPED for 1 reason; no program is written", "verdict": ("No.",)}
    stopped = _pixels(_scene(state="stopped", **words))
    assert len(_where(stopped[head], OUTSIDE)) > 150
    ready = _pixels(_scene(state="ready", **words))
    assert len(_where(ready[head], OUTSIDE)) == 0


def test_what_the_verdict_says_is_not_said_again_below_and_has_the_same_number():
    told = Finding(code="x", level=Level.CAUTION, message="A bar is wide", at_mm=(10, 10))
    other = Finding(code="y", level=Level.NOTE, message="A dot is near", at_mm=(20, 20))
    words = {"headline": "READY", "verdict": ("A bar is wide.",), "state": "ready"}
    scene = _scene(findings=(told, other), verdict_in_full=("A bar is wide.",), **words)
    svg = preview_svg(scene)
    assert svg.count("A bar is wide.") == 1
    assert svg.count("A dot is near.") == 1
    # Number 1 stands at the ring and at the verdict's line, number 2 at the ring and in the list.
    assert [len(re.findall(rf">{number}</text>", svg)) for number in (1, 2)] == [2, 2]


def test_a_verdict_names_its_own_rings_which_are_numbered_as_they_are_told():
    told = Finding(code="x", level=Level.CAUTION, message="A bar is wide", at_mm=(10, 10))
    between = replace(told, code="y", message="A dot is near", at_mm=(20, 10))
    again = replace(told, code="z", at_mm=(30, 10))
    words = {"headline": "READY", "verdict": ("A bar is wide.",), "state": "ready"}
    findings = (told, between, again)
    svg = preview_svg(_scene(findings=findings, verdict_in_full=("A bar is wide.",), **words))
    assert ">1, 2</text>" in svg
    assert len(re.findall(">3</text>", svg)) == 2


@pytest.mark.parametrize("size", [(300, 10), (10, 60), (0.8, 0.5), (400, 400)])
def test_blanks_of_any_shape_fit(size):
    width, height = size
    scene = _scene(target=MultiPolygon(), finished=MultiPolygon())
    scene = replace(scene, width_mm=width, height_mm=height, blank=box(0, 0, width, height))
    assert _pixels(scene).shape[0] < 2400


def test_many_findings_are_cut_short_with_a_word_where_the_rest_is():
    finding = Finding(code="x", level=Level.NOTE, message="something " * 40)
    few = _pixels(_scene(findings=(finding,) * 14))
    many = _pixels(_scene(findings=(finding,) * 400))
    assert 0 < many.shape[0] - few.shape[0] < 60
