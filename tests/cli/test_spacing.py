"""`stopout spacing`: the table, the choice, the picture, and what is refused."""

from __future__ import annotations

import io
import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from cli.shop_files import process, run

SPOT = ("--spot", "0.17mm", "--spot-means", "1/e2")
DIODE = (*SPOT, "--spot-y", "0.12 mm", "--step", "0.0125mm")


def as_json(capsys, monkeypatch, *words):
    status, out, err = run(capsys, monkeypatch, "spacing", *words, "--json")
    assert status == 0, err
    return json.loads(out), err


# The rule of the design: min(0.85 D, 1.1566 w), rounded down to whole steps.
@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (SPOT, 0.85 * 0.085 * 1.177410),
        ((*SPOT, "--step", "0.0125mm"), 0.075),
        ((*SPOT, "--mark", "0.10mm", "--step", "0.0125mm"), 0.075),
        ((*DIODE, "--mark", "0.10mm", "--mark-y", "0.087mm"), 0.0625),
        ((*DIODE, "--mark", "0.10mm"), 0.0625),
        ((*SPOT, "--dose-ratio", "3"), 1.156612 * 0.085),
        ((*SPOT, "--dose-ratio", "1.2"), 0.85 * 0.0513280),
        (("--spot", "0.17mm", "--spot-means", "fwhm"), 0.85 * 0.17),
        (("--spot", "170um", "--spot-means", "d4sigma"), 0.85 * 0.085 * 1.177410),
        (DIODE, 0.0625),  # 1.1566 x 0.06 = 0.0694, in steps of 0.0125
        ((*DIODE, "--line-direction", "y"), 0.075),
        ((*SPOT, "--profile", "uniform"), 0.85 * 0.17),
        ((*SPOT, "--profile", "uniform", "--mark", "0.10mm"), 0.85 * 0.10),
        (("--spot", "0.2mm", "--spot-means", "d4sigma", "--profile", "uniform"), 0.85 * 0.173205),
    ],
)
def test_the_spacing_is_that_of_the_default_rule(words, expected, capsys, monkeypatch):
    made, _ = as_json(capsys, monkeypatch, *words)
    assert made["spacing_mm"] == pytest.approx(expected, rel=1e-5)
    (chosen,) = [row for row in made["rows"] if row["is_chosen"]]
    assert chosen["spacing_mm"] == made["spacing_mm"]


def test_both_directions_are_told_of_an_elliptical_spot(capsys, monkeypatch):
    made, _ = as_json(capsys, monkeypatch, *DIODE)
    assert made["spacing_by_direction_mm"] == {"x": 0.0625, "y": 0.075}
    assert made["line_direction"] == "x"


def test_one_measured_mark_of_an_elliptical_spot_gives_the_other_by_one_threshold(
    capsys, monkeypatch
):
    made, _ = as_json(capsys, monkeypatch, *DIODE, "--mark", "0.1001mm")
    assert made["mark_across_mm"] == pytest.approx(0.0866, abs=1e-4)


def test_a_pair_that_the_spot_cannot_make_is_told_or_refused(capsys, monkeypatch):
    made, err = as_json(capsys, monkeypatch, *DIODE, "--mark", "0.10mm", "--mark-y", "0.07mm")
    assert "it would be 0.089 x 0.081 mm" in err
    assert any("0.089 x 0.081" in caution for caution in made["cautions"])
    _, err = as_json(capsys, monkeypatch, *DIODE, "--mark", "0.087mm", "--mark-y", "0.10mm")
    assert "exchange --mark and --mark-y" in err
    words = (*DIODE, "--mark", "0.2mm", "--mark-y", "0.05mm")
    status, _, err = run(capsys, monkeypatch, "spacing", *words)
    assert status == 2
    assert "not one that this spot makes" in err


def test_rows_hold_each_column_by_name_with_null_for_what_is_not_there(capsys, monkeypatch):
    made, _ = as_json(capsys, monkeypatch, *DIODE)
    row = made["rows"][-1]
    assert row["leaves_threads"]
    assert row["scallop_mm"] is None
    assert row["time_s_per_cm2"] is None
    timed, _ = as_json(capsys, monkeypatch, *DIODE, "--speed", "20mm/s")
    assert timed["rows"][-1]["time_s_per_cm2"] == pytest.approx(
        timed["rows"][-1]["path_mm_per_cm2"] / 20, rel=1e-5
    )
    assert made["overlap_of"] == "the mark across the lines"


def test_the_printed_table_marks_the_choice_and_gives_its_reason(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "100")
    status, out, err = run(capsys, monkeypatch, "spacing", *DIODE, "--speed", "20mm/s")
    assert status == 0
    (chosen,) = [line for line in out.splitlines() if line.startswith(">")]
    assert chosen.split()[1:3] == ["0.0625", "5"]
    assert "Chosen: 0.0625 mm is 5 motor steps of 0.0125 mm" in " ".join(out.split())
    assert "overlap" in out
    assert "of mark" in out
    assert max(map(len, out.splitlines())) <= 100
    assert "caution: coupon needed" in err


def test_the_focus_is_told_where_the_wavelength_is_given(capsys, monkeypatch):
    words = ("--wavelength", "450nm", "--m2", "15")
    made, _ = as_json(capsys, monkeypatch, *SPOT, *words)
    # Depth of focus: twice pi w0^2 / (M^2 lambda).
    assert made["focus"]["depth_mm"] == pytest.approx(2 * 3.36266, rel=1e-4)
    _, out, _ = run(capsys, monkeypatch, "spacing", *SPOT, *words)
    assert "Focus: the mark stays within 5 %" in " ".join(out.split())
    _, out, _ = run(capsys, monkeypatch, "spacing", *SPOT, *words[:2])
    assert "at best" in out


@pytest.mark.usefixtures("whole_pictures")
def test_the_picture_is_a_png_with_paint_and_metal_and_the_same_each_time(
    tmp_path, capsys, monkeypatch
):
    target = tmp_path / "dose.png"
    for _ in range(2):
        status, _, _ = run(capsys, monkeypatch, "spacing", *DIODE, "--picture", target)
        assert status == 0
        data = target.read_bytes()
    again = tmp_path / "again.png"
    run(capsys, monkeypatch, "spacing", *DIODE, "--picture", again)
    assert again.read_bytes() == data
    pixels = np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(int)
    assert pixels.shape[1] == 1800
    # The strip under the curves: paint, metal, paint.
    strip = pixels[918, 170:1720].sum(axis=1)
    dark = strip < 200
    changes = np.flatnonzero(np.diff(dark.astype(int)))
    assert dark[5]
    assert dark[-5]
    cleared = (changes[-1] - changes[0]) / 1550
    # Five lines 0.0625 mm apart of a 0.0866 mm mark clear 0.3366 mm of the width shown.
    shown = 2 * (2 * 0.0625 + 1.5 * 0.06)
    assert cleared == pytest.approx(0.3366 / shown, abs=0.005)


@pytest.mark.usefixtures("whole_pictures")
def test_a_picture_of_threads_shows_them(tmp_path, capsys, monkeypatch):
    target = tmp_path / "threads.png"
    words = (*SPOT, "--mark", "0.05mm", "--step", "0.1mm", "--picture", target)
    status, _, err = run(capsys, monkeypatch, "spacing", *words)
    assert status == 0
    assert "threads of paint" in err
    pixels = np.asarray(Image.open(target).convert("L")).astype(int)
    dark = pixels[918, 170:1720] < 80
    assert np.abs(np.diff(dark.astype(int))).sum() >= 8


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--spot", "0.17", "--spot-means", "1/e2"), '--spot: "0.17" has no unit; write "0.17 mm"'),
        (("--spot", "0,17mm", "--spot-means", "1/e2"), "decimal comma"),
        (
            ("--spot", "-0.17mm", "--spot-means", "1/e2"),
            "--spot: -0.17mm is not possible",
        ),
        ((*SPOT, "--spot-y", "12 lines"), "--spot-y:"),
        (
            (*SPOT, "--dose-ratio", "1"),
            "1 is not possible; give more than 1, at most 1000",
        ),
        ((*SPOT, "--dose-ratio", "nan"), "--dose-ratio 'nan' is not a number"),
        ((*SPOT, "--mark", "2mm"), "12 times as wide as the spot"),
        ((*SPOT, "--step", "0.1nm"), "--step:"),
        ((*SPOT, "--step", "0.000001mm"), "--step: 0.000001mm is not possible"),
        ((*SPOT, "--accumulation", "1.2"), "--accumulation: 1.2 is not possible; give 0 to 1"),
        ((*SPOT, "--passes", "0"), "--passes is 0; give a whole number from 1 to 100"),
        (
            (*SPOT, "--edge-angle", "120deg"),
            "120deg is not possible; give 0 to 90 deg",
        ),
        ((*SPOT, "--speed", "20mm"), "--speed:"),
        ((*SPOT, "--picture", "nowhere/a.png"), "nowhere is not a folder; make it first"),
        (
            (*SPOT, "--wavelength", "450nm", "--m2", "0.5"),
            "--m2: 0.5 is not possible; give 1 to",
        ),
    ],
)
def test_what_cannot_be_read_exits_2_with_one_sentence(words, said, capsys, monkeypatch):
    status, out, err = run(capsys, monkeypatch, "spacing", *words)
    assert (status, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1


def test_a_spot_without_its_meaning_is_refused(capsys, monkeypatch):
    status, _, err = run(capsys, monkeypatch, "spacing", "--spot", "0.17mm")
    assert status == 2
    assert "--spot-means" in err


def test_a_file_that_is_no_png_is_left_alone(tmp_path, capsys, monkeypatch):
    target = tmp_path / "notes.txt"
    target.write_text("tide tables")
    status, _, err = run(capsys, monkeypatch, "spacing", *SPOT, "--picture", target)
    assert status == 2
    assert "is no PNG" in err
    assert target.read_text() == "tide tables"


def test_the_command_works_as_a_process_of_its_own(tmp_path):
    done = process("spacing", *DIODE, "--json", "--picture", "dose.png", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["picture"] == "dose.png"
    assert (tmp_path / "dose.png").is_file()


def test_the_table_quoted_in_the_documents_is_what_is_printed(capsys, monkeypatch):
    page = Path(__file__).parents[2] / "docs" / "how-to" / "choose-the-spacing.md"
    quoted = page.read_text(encoding="utf-8").split("```text\n")[1].split("```")[0]
    _, out, _ = run(capsys, monkeypatch, "spacing", *DIODE, "--speed", "20mm/s")
    for line in quoted.splitlines():
        assert line in out
