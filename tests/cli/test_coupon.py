"""`stopout coupon`: its folder, its exit statuses, and what is refused."""

from __future__ import annotations

import json

import numpy as np
import pytest
from PIL import Image

from cli.shop_files import JOB, lay_out, left, run
from planning.plain_reading import read_steps
from sheet.sheet_jobs import fullness
from stopout.jobs import read_job

FILES = {
    "coupon.json",
    "scale-bar.svg",
    "clear-1.nc",
    "bounds.nc",
    "mask-1.svg",
    "mask-1.png",
    "preview.png",
    "sheet.pdf",
    "sheet-annex.pdf",
    "sheet.html",
    "sheet.json",
}
SIZE = ("--size", "32x30")


@pytest.fixture
def stopout(capsys, monkeypatch):
    return lambda *argv: run(capsys, monkeypatch, *argv)


@pytest.mark.usefixtures("whole_sheets")
@pytest.mark.parametrize("kind", ["clearing", "etch"])
def test_a_coupon_has_a_folder_of_its_own_beside_the_job(kind, tmp_path, stopout):
    job = lay_out(tmp_path)
    status, out, _ = stopout("coupon", kind, job, *SIZE)
    assert status == 0
    folder = tmp_path / f"tag-coupon-{kind}"
    assert {path.name for path in folder.iterdir()} == FILES
    assert "ready" in out
    data = json.loads((folder / "coupon.json").read_text(encoding="utf-8"))
    assert (data["width_mm"], data["height_mm"]) == (32, 30)
    machine = read_job(job).machine
    text = (folder / "clear-1.nc").read_text(encoding="ascii")
    on = [step for step in read_steps(text, machine) if step.is_on]
    places = np.array([place for step in on for place in (step.a, step.b)])
    assert (places > 1).all()
    assert (places < [31, 29]).all()
    # White (cleared) where a disc is, as worked: y counts from the top in a picture.
    mask = np.asarray(Image.open(folder / "mask-1.png"))
    for mark in data["marks"]:
        x, y = mark["centre_mm"]
        assert mask[round(100 * (30 - y)), round(100 * x)]
    sheet = (folder / "sheet.json").read_text(encoding="utf-8")
    for words in ("1200 dpi", "laser eyewear", "safety data sheet", "clear-1.nc"):
        assert words in sheet
    assert ("Lower the piece into the bath" in sheet) == (kind == "etch")
    blocks = json.loads(sheet)["sheet"]["blocks"]
    boxes = [block["title"] for block in blocks if block["kind"] == "box"]
    # The coupon itself is the first to meet the bath: its dangers stand in full before it.
    assert any("hydrogen" in title for title in boxes) == (kind == "etch")
    assert "from the coupon" not in str(blocks)
    assert "coupon: rate and time" not in str(blocks)
    full = fullness((folder / "sheet.pdf").read_bytes())
    assert len(full) <= (4 if kind == "etch" else 3)
    assert min(full[:-1]) >= 2 / 3


def test_an_earlier_coupon_is_replaced_by_force_only_and_nothing_else_is(tmp_path, stopout):
    job = lay_out(tmp_path)
    folder = tmp_path / "c"
    assert stopout("coupon", "etch", job, "--out", folder, *SIZE)[0] == 0
    before = left(tmp_path)
    status, _, said = stopout("coupon", "etch", job, "--out", folder, *SIZE)
    assert status == 2
    assert "--force" in said
    status, out, _ = stopout("coupon", "etch", job, "--out", folder, *SIZE, "--force", "--json")
    assert status == 0
    assert json.loads(out) == json.loads((folder / "coupon.json").read_text(encoding="utf-8"))
    assert left(tmp_path) == before
    other = tmp_path / "notes"
    other.mkdir()
    (other / "note.txt").write_text("keep", encoding="utf-8")
    status, _, said = stopout("coupon", "etch", job, "--out", other, *SIZE, "--force")
    assert status == 2
    assert "coupon.json" in said
    assert (other / "note.txt").read_text(encoding="utf-8") == "keep"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("clearing",), "24 x 14 mm"),
        (("clearing", "--size", "32"), "width x height"),
        (("clearing", "--size", "0x20"), "more than nothing"),
        (("clearing", "--coat", "2"), "coat 2"),
        (("clearing", "--size", "3 parsecx2"), "parsec"),
    ],
)
def test_what_cannot_be_made_is_refused_in_one_sentence_and_nothing_is_written(
    words, says, tmp_path, stopout
):
    job = lay_out(tmp_path)
    status, out, said = stopout("coupon", words[0], job, *words[1:])
    assert status == 2
    assert out == ""
    assert says in said
    assert len(said.strip().splitlines()) == 1
    assert left(tmp_path) == ["tag.svg", "tag.toml"]


def test_a_stop_writes_the_folder_without_programs_and_a_sheet_that_says_so(tmp_path, stopout):
    job = lay_out(tmp_path, JOB.replace('["400 mm", "400 mm"]', '["20 mm", "20 mm"]'))
    status, out, said = stopout("coupon", "clearing", job, *SIZE)
    assert status == 1
    folder = tmp_path / "tag-coupon-clearing"
    left_out = {"clear-1.nc", "bounds.nc", "sheet-annex.pdf"}
    assert {path.name for path in folder.iterdir()} == FILES - left_out
    assert "STOP" in out
    assert "bed" in said
    assert json.loads((folder / "sheet.json").read_text(encoding="utf-8"))["sheet"]["is_stop"]
