"""A plan folder without a beam: what the other commands say of it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from cli.shop_files import run
from stopout.library.planned_piece import read_planned_piece

DEMO = Path(__file__).parents[2] / "demo" / "gauge-number"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("film")
    shutil.copytree(DEMO, place / "job", ignore=shutil.ignore_patterns("*-plan"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("STOPOUT_BOOK", str(place / "none.sqlite"))
        patch.setattr(
            "sys.argv",
            ["stopout", "plan", str(place / "job" / "gauge-number.toml"), "--quiet"],
        )
        from stopout.cli import main

        with pytest.raises(SystemExit) as ended:
            main()
    assert ended.value.code == 0
    return place / "job" / "gauge-number-plan"


def test_again_says_that_no_beam_clears_this_plan(folder, capsys, monkeypatch):
    status, _, err = run(capsys, monkeypatch, "rework", folder, "--box", "1,1,4,4")
    assert status == 2
    assert "without a beam (printed-film)" in err


def test_a_piece_opened_by_film_can_be_inspected(folder):
    piece = read_planned_piece(folder, None)
    assert piece.intended.mark_mm > 1
    assert len(piece.intended.opening.geoms) == 2
