"""`stopout read` as typed, with its mistakes, and the round trip from coupon to plan."""

from __future__ import annotations

import json
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from cli.shop_files import ARTWORK, JOB, run
from coupons.scan_renderer import Look, Truth, as_file, clearing_coupon, etch_coupon, render

TRUTH = Truth(width_sd_mm=0.0015)
LOOK = Look(dpi=600, rotation_deg=3)


@pytest.fixture
def stopout(capsys, monkeypatch):
    """The command; what is rendered here holds plain levels, which has to be told."""

    def typed(*argv):
        is_untold = argv[0] == "read" and "--tone" not in argv
        return run(capsys, monkeypatch, *argv, *(("--tone", "plain") if is_untold else ()))

    return typed


def lay(folder, coupon, truth=TRUTH, look=LOOK, name="scan.png", **save):
    folder.mkdir(exist_ok=True)
    (folder / "coupon.json").write_text(json.dumps(coupon))
    data = as_file(render(coupon, truth, look), dpi=look.dpi, **save)
    (folder / name).write_bytes(data)
    return folder / name


@pytest.fixture(scope="module")
def clearing(tmp_path_factory):
    folder = tmp_path_factory.mktemp("clearing")
    return lay(folder, clearing_coupon(repeats=1, symmetric=True)), folder


@pytest.fixture(scope="module")
def etched(tmp_path_factory):
    folder = tmp_path_factory.mktemp("etched")
    truth = Truth(undercut_mm=0.06, width_sd_mm=0.002)
    look = Look(dpi=600, rotation_deg=-3, cleared=60, paint=200)
    return lay(folder, etch_coupon(), truth, look), folder


def test_json_holds_spot_and_threshold_across_both_axes(stopout, clearing):
    scan, folder = clearing
    status, out, _ = stopout("read", scan, "--coupon", folder, "--json")
    told = json.loads(out)
    assert status == 0
    for axis, w in TRUTH.radius_mm.items():
        value, sd = told["spot_mm"][axis]
        assert value == pytest.approx(2 * w, rel=0.06)
        assert 0 < sd < 0.05 * value
        value, sd = told["line_dose_threshold_j_per_mm"][axis]
        assert value == pytest.approx(TRUTH.threshold_j_per_mm[axis], rel=0.08)
    assert told["scan"]["stated_dpi"] == pytest.approx(600, abs=0.1)


def test_json_holds_undercut_and_etch_factor(stopout, etched):
    scan, folder = etched
    depth = ("--depth", "0.06mm+-0.001mm")
    status, out, err = stopout(
        "read", scan, "--coupon", folder, "--json", "--tone", "plain", *depth
    )
    told = json.loads(out)
    assert (status, err) == (0, "")
    assert told["undercut_mm"][0] == pytest.approx(0.06, abs=0.004)
    assert told["etch_factor"][0] == pytest.approx(1.0, abs=0.07)


@pytest.mark.usefixtures("whole_pictures")
def test_the_picture_is_a_png_and_replaces_nothing_else(stopout, clearing, tmp_path):
    scan, folder = clearing
    picture = tmp_path / "fit.png"
    status, out, _ = stopout("read", scan, "--coupon", folder, "--picture", picture)
    assert status == 0
    assert f"picture: {picture}" in out
    with Image.open(picture) as drawn:
        assert drawn.size == (1800, 1080)
    other = tmp_path / "notes.txt"
    other.write_text("mine")
    status, _, err = stopout("read", scan, "--coupon", folder, "--picture", other)
    assert status == 2
    assert "is no PNG" in err
    assert other.read_text() == "mine"


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (("--resolution", "1200"), "dpi"),
        (("--resolution", "3dpi"), "give 50 to 20000 dpi"),
        (("--depth", "0.06mm"), "belongs to an etch coupon"),
        (("--date", "26.11.2026"), "year-month-day"),
    ],
)
def test_mistakes_get_one_sentence(stopout, clearing, argv, words):
    scan, folder = clearing
    status, out, err = stopout("read", scan, "--coupon", folder, *argv)
    assert status == 2
    assert out == ""
    assert words in err
    assert err.count("\n") == 1


def test_an_unknown_pit_is_refused_with_those_there_are(stopout, etched):
    scan, folder = etched
    status, _, err = stopout("read", scan, "--coupon", folder, "--depth", "Z9=0.06mm")
    assert status == 2
    assert "no pit or slot of that name" in err


def test_what_is_no_scan_is_refused(stopout, clearing, tmp_path):
    _, folder = clearing
    cases = {
        "text.png": (b"not a picture", "cannot be read"),
        "cut.png": (clearing[0].read_bytes()[:3000], "cannot be read"),
        "film.gif": (as_file(np.zeros((20, 20), np.uint8), kind="GIF", dpi=None), "GIF file"),
    }
    for name, (data, words) in cases.items():
        (tmp_path / name).write_bytes(data)
        status, _, err = stopout("read", tmp_path / name, "--coupon", folder)
        assert status == 2
        assert words in err
    status, _, err = stopout("read", tmp_path / "none.png", "--coupon", folder)
    assert status == 2
    assert "is not there" in err
    status, _, err = stopout("read", clearing[0], "--coupon", tmp_path)
    assert status == 2
    assert "holds no coupon.json" in err


@pytest.mark.parametrize(
    ("mode", "kind", "words"),
    [
        ("1", "PNG", "scan in grey"),
        ("F", "TIFF", "8 or 16"),
        ("I", "TIFF", "8 or 16"),
        ("RGBA", "PNG", "without transparency"),
        ("LA", "PNG", "without transparency"),
    ],
)
def test_pixels_that_are_no_light_are_refused_with_the_way_out(
    stopout, clearing, tmp_path, mode, kind, words
):
    levels = Image.open(clearing[0]).convert("L")
    if mode in ("RGBA", "LA"):
        levels = levels.convert(mode)
        levels.putalpha(128)
    elif mode == "I":
        levels = Image.fromarray(np.asarray(levels).astype(np.int32) * 16_843_009 // 2)
    scan = tmp_path / "scan.img"
    levels.convert(mode).save(scan, format=kind, dpi=(1200, 1200))
    status, out, err = stopout("read", scan, "--coupon", clearing[1])
    assert (status, out) == (2, "")
    assert words in err
    assert err.count("\n") == 1


def test_a_small_file_that_unpacks_to_a_huge_picture_is_refused_before_it_does(
    stopout, clearing, tmp_path
):
    out = BytesIO()
    Image.new("1", (20_000, 20_000)).save(out, format="PNG", compress_level=1)
    bomb = tmp_path / "bomb.png"
    bomb.write_bytes(out.getvalue())
    status, _, err = stopout("read", bomb, "--coupon", clearing[1])
    assert status == 2
    assert "million pixels" in err


@pytest.mark.parametrize(
    ("name", "save"),
    [("scan.jpg", {"kind": "JPEG", "quality": 85}), ("scan.tif", {"kind": "TIFF"})],
)
def test_jpeg_and_tiff_are_read_as_well(stopout, clearing, tmp_path, name, save):
    coupon = json.loads((clearing[1] / "coupon.json").read_text())
    scan = lay(tmp_path / "here", coupon, name=name, **save)
    status, out, _ = stopout("read", scan, "--coupon", tmp_path / "here", "--json")
    assert status == 0
    assert json.loads(out)["spot_mm"]["x"][0] == pytest.approx(0.17, rel=0.06)


def test_a_coupon_without_identity_is_not_kept(stopout, clearing, tmp_path):
    scan, folder = clearing
    book = tmp_path / "book.sqlite"
    status, _, err = stopout("read", scan, "--coupon", folder, "--keep", "--book", book)
    assert status == 2
    assert "identity" in err


def test_from_coupon_over_scan_and_book_to_the_plan(stopout, tmp_path):
    """The mark that the plan uses is the one that the coupon's true spot and threshold give."""
    (tmp_path / "tag.svg").write_text(ARTWORK)
    job = tmp_path / "tag.toml"
    job.write_text(JOB.replace('mark = ["0.10 mm", "0.087 mm"]\n', ""))
    coupon, book = tmp_path / "coupon", tmp_path / "book.sqlite"
    status, _, err = stopout(
        "coupon", "clearing", job, "--out", coupon, "--size", "40x32", "--quiet"
    )
    assert status == 0, err
    truth = Truth(
        radius_mm={"x": 0.078, "y": 0.066},
        threshold_j_per_mm={"x": 0.030, "y": 0.026},
        width_sd_mm=0.0015,
    )
    layout = json.loads((coupon / "coupon.json").read_text())
    scan = tmp_path / "scan.png"
    scan.write_bytes(as_file(render(layout, truth, LOOK), dpi=LOOK.dpi))
    status, out, err = stopout("read", scan, "--coupon", coupon, "--keep", "--book", book)
    assert status == 0, err
    assert "kept as entry 1" in out
    status, _, err = stopout("plan", job, "--out", tmp_path / "plan", "--book", book)
    assert status == 0, err
    plan = json.loads((tmp_path / "plan" / "plan.json").read_text())
    dose = 0.30 * 5.5 / 20
    for k, axis in enumerate("xy"):
        ratio = dose / truth.threshold_j_per_mm[axis]
        mark = truth.radius_mm[axis] * np.sqrt(2 * np.log(ratio))
        assert plan["coats"][0]["clearing"]["mark_mm"][k] == pytest.approx(mark, rel=0.03)
    outcome = plan["coats"][0]["outcome"]
    assert outcome["lost"] == outcome["merged"] == 0
    assert outcome["worst_outside_mm"] <= 0.0501


def test_the_wrong_folder_gets_the_right_words(stopout, clearing, etched, tmp_path):
    (tmp_path / "plan.json").write_text("{}")
    status, _, err = stopout("read", clearing[0], "--coupon", tmp_path)
    assert status == 2
    assert "is a plan's folder, not a coupon's" in err
    status, out, err = stopout("read", clearing[0], "--coupon", etched[1])
    assert (status, out) == (2, "")
    assert "coupon" in err
    assert "--coupon" in err
    assert err.count("\n") == 1, "no warning of a library beside it"
