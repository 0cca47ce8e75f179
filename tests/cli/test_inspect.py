"""`stopout inspect` as typed, with its mistakes, from a real plan to the shop book."""

from __future__ import annotations

import json
import re
import shutil
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import shapely
from PIL import Image

from cli.shop_files import ARTWORK, JOB, lay_out, run
from coupons.piece_renderer import render_piece
from coupons.scan_renderer import Look, as_file
from stopout.library.planned_piece import read_planned_piece
from stopout.mask import blank_region

BLANK = {"width_mm": 24.0, "height_mm": 14.0}
FACE = shapely.box(0, 0, 24, 14)
LOOK = Look(dpi=600, rotation_deg=3)


@pytest.fixture
def stopout(capsys, monkeypatch):
    return lambda *argv: run(capsys, monkeypatch, *argv)


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    """A plan's folder and its openings."""
    folder = tmp_path_factory.mktemp("plan")
    job = lay_out(folder, JOB, ARTWORK)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.argv", ["stopout", "plan", str(job), "--no-book", "--quiet"])
        from stopout.cli import main

        with pytest.raises(SystemExit):
            main()
    where = folder / "tag-plan"
    return where, read_planned_piece(where, None).intended.opening


def scanned(folder, bare, name, look=LOOK, **more):
    """A scan as scanners write it, encoded as sRGB."""
    file = folder / name
    image = render_piece(bare, look, blank=BLANK, face=FACE, is_srgb=True, **more)
    file.write_bytes(as_file(image, dpi=look.dpi))
    return file


@pytest.fixture(scope="module")
def cleared(plan, tmp_path_factory):
    """A scan whose disc is not cleared, with one pinhole."""
    _, opening = plan
    left = min(opening.geoms, key=lambda part: part.bounds[0])
    return scanned(tmp_path_factory.mktemp("c"), left, "tag.png", pins=[(20, 3, 0.15)])


@pytest.fixture(scope="module")
def etched(plan, tmp_path_factory):
    bare = plan[1].buffer(0.066, quad_segs=32)
    look = Look(dpi=600, rotation_deg=-4, paint=190, cleared=60)
    return scanned(tmp_path_factory.mktemp("e"), bare, "etched.png", look)


def test_the_openings_read_are_those_of_the_mask(plan):
    folder, opening = plan
    stated = json.loads((folder / "plan.json").read_text())
    mask = stated["coats"][0]["mask"]
    assert len(opening.geoms) == mask["openings"]
    assert opening.area == pytest.approx(mask["area_mm2"], abs=1e-3)


def test_the_face_read_is_the_blanks_with_its_holes(plan):
    face = read_planned_piece(plan[0], None).intended.face
    assert face.equals(blank_region(width_mm=24, height_mm=14, corner_radius_mm=0))


@pytest.mark.usefixtures("whole_pictures")
def test_what_is_missing_is_told_drawn_and_can_be_cleared_again(stopout, plan, cleared, tmp_path):
    picture = tmp_path / "faults.png"
    status, out, err = stopout("inspect", cleared, "--plan", plan[0], "--picture", picture)
    assert (status, err) == (1, "")
    assert "missing  all of opening" in out
    assert "pinhole" in out
    with Image.open(picture) as drawn:
        assert drawn.width == 1800
    command = next(row for row in out.splitlines() if "stopout rework" in row).split("stopout ")[1]
    status, out, err = stopout(*command.split(), "--out", tmp_path / "rework.nc")
    assert (status, err) == (0, "")
    assert "with the beam on" in out


def test_json_tells_the_faults_and_the_offsets(stopout, plan, cleared):
    status, out, _ = stopout("inspect", cleared, "--plan", plan[0], "--json")
    told = json.loads(out)
    assert status == 1
    assert [one["kind"] for one in told["faults"]] == ["missing", "pinhole"]
    assert told["faults"][0]["whole"] is True
    # Within a pixel of its 600 dots an inch.
    assert told["faults"][1]["at_mm"] == pytest.approx([20, 3], abs=25.4 / 600)
    assert told["faults"][1]["diameter_mm"] == pytest.approx(0.15, abs=0.015)
    assert (told["stage"], told["undercut_mm"], told["kept"]) == ("cleared", None, None)
    assert len(told["offsets"]) > 20
    assert max(abs(one["offset_mm"]) for one in told["offsets"]) < 0.01


def test_an_undercut_goes_into_the_book_and_the_next_plan_takes_it(stopout, plan, etched, tmp_path):
    book = tmp_path / "book.sqlite"
    keep = ("--keep", "--depth", "0.06mm", "--time", "27 min", "--date", "2026-11-20")
    status, out, err = stopout(
        "inspect", etched, "--plan", plan[0], "--book", book, *keep, "--json"
    )
    assert (status, err) == (0, "")
    told = json.loads(out)
    assert told["undercut_mm"][0] == pytest.approx(0.066, abs=0.004)
    assert told["kept"] == {"id": 1, "is_new": True, "book": str(book), "note": ""}
    status, out, _ = stopout("shop", "show", "1", "--book", book, "--json")
    content = json.loads(out)["content"]
    assert content["undercut_mm"] == pytest.approx(told["undercut_mm"], abs=1e-6)
    assert content["time_s"] == 27 * 60
    job = lay_out(tmp_path, JOB.replace("etch_factor = 1.0\n", ""))
    status, _, _ = stopout("plan", job, "--book", book, "--out", tmp_path / "next", "--quiet")
    assert status == 0
    planned = json.loads((tmp_path / "next" / "plan.json").read_text())
    assert planned["undercut_mm"] == pytest.approx(0.066, abs=0.004)


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (("--resolution", "600"), "dpi"),
        (("--tolerance", "-1um"), "more than nothing"),
        (("--depth", "0.06mm"), "give --keep with it"),
        (("--keep", "--depth", "0.06mm"), "give --depth and --time"),
        (("--coat", "2"), "does not clear coat 2"),
        (("--date", "26.11.2026"), "year-month-day"),
        (("--resolution", "1200dpi"), "the resolution is not right"),
    ],
)
def test_mistakes_get_one_sentence(stopout, plan, cleared, argv, words):
    status, out, err = stopout("inspect", cleared, "--plan", plan[0], *argv)
    assert (status, out) == (2, "")
    assert words in err
    assert err.count("\n") == 1


def test_a_cleared_piece_keeps_nothing(stopout, plan, cleared, tmp_path):
    book = tmp_path / "book.sqlite"
    keep = ("--keep", "--depth", "0.06mm", "--time", "27 min", "--book", book)
    status, _, err = stopout("inspect", cleared, "--plan", plan[0], *keep)
    assert status == 2
    assert "nothing is kept" in err
    assert not book.exists()


def test_a_scan_without_its_resolution_is_refused(stopout, plan, cleared, tmp_path):
    bare = BytesIO()
    with Image.open(cleared) as image:
        Image.fromarray(np.asarray(image)).save(bare, format="PNG")
    file = tmp_path / "untold.png"
    file.write_bytes(bare.getvalue())
    status, _, err = stopout("inspect", file, "--plan", plan[0])
    assert status == 2
    assert "does not say its resolution" in err


def test_a_mirrored_piece_and_edges_all_off_end_with_status_1_and_come_first(
    stopout, plan, tmp_path
):
    look = Look(dpi=600, rotation_deg=3, is_mirrored=True)
    scan = scanned(tmp_path, plan[1].buffer(0.03), "wrong.png", look)
    told = ("inspect", scan, "--plan", plan[0], "--stage", "cleared")
    status, out, _ = stopout(*told)
    assert status == 1
    first, second = out.splitlines()[:2]
    assert "MIRRORED" in first
    assert re.search(r"all edges (29|30|31) um too wide", second)
    status, _, err = stopout(*told, "--moved", scan)
    assert status == 2
    assert "move it by 5 mm" in err


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda f: (f / "plan.json").unlink(), "holds no plan.json"),
        (lambda f: (f / "mask-1.svg").unlink(), "is missing"),
        (lambda f: (f / "mask-1.svg").write_text("<svg/>"), "shows no openings"),
        (lambda f: changed(f, lambda data: data.pop("blank")), "earlier versions"),
        (lambda f: changed(f, lambda data: data.update(coats=7)), "is damaged"),
    ],
)
def test_a_folder_that_is_no_whole_plan_is_refused(stopout, plan, cleared, tmp_path, spoil, words):
    folder = Path(shutil.copytree(plan[0], tmp_path / "plan"))
    spoil(folder)
    status, _, err = stopout("inspect", cleared, "--plan", folder)
    assert status == 2
    assert words in err
    assert err.count("\n") == 1


def changed(folder, change):
    data = json.loads((folder / "plan.json").read_text())
    change(data)
    (folder / "plan.json").write_text(json.dumps(data))
