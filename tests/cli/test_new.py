"""`stopout new`: a starter job that can be planned as it is."""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from cli.shop_files import ARTWORK, left, run
from stopout import read_job as with_shop
from stopout.cli.app import app
from stopout.jobs import read_job


@pytest.fixture
def stopout(capsys, monkeypatch):
    return lambda *argv: run(capsys, monkeypatch, *argv)


@pytest.mark.parametrize("kind", ["plate", "sign"])
def test_a_starter_job_is_made_and_says_what_comes_next(tmp_path, stopout, kind):
    folder = tmp_path / f"my-{kind}"
    status, out, _ = stopout("new", kind, folder)
    assert status == 0
    assert left(folder) == ["artwork.svg", "job.toml"]
    assert f"stopout plan {folder / 'job.toml'}" in out


@pytest.mark.parametrize("kind", ["plate", "sign"])
def test_the_starter_job_is_valid_and_plans_as_it_is(tmp_path, stopout, kind):
    folder = tmp_path / kind
    stopout("new", kind, folder)
    job = read_job(folder / "job.toml")
    assert job.blank.is_back_worked == (kind == "sign")
    status, out, err = stopout("plan", folder / "job.toml", "--json")
    assert status == 0, err
    data = json.loads(out)
    assert data["orientation"]["mirrored"] == (kind == "sign")
    assert (data["etch"] is None) == (kind == "sign")
    assert data["coats"][0]["outcome"]["lost"] == 0
    assert data["coats"][0]["outcome"]["merged"] == 0
    assert (folder / "job-plan" / "clear-1.nc").is_file()


def test_an_existing_folder_is_refused_and_left_alone(tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "job.toml").write_text("mine", encoding="utf-8")
    result = CliRunner().invoke(app, ["new", "plate", str(tmp_path / "mine")])
    assert result.exit_code != 0
    assert "exists" in str(result.exception)
    assert (tmp_path / "mine" / "job.toml").read_text("utf-8") == "mine"


def test_the_refusal_has_status_2(tmp_path, stopout):
    (tmp_path / "mine").mkdir()
    status, _, err = stopout("new", "sign", tmp_path / "mine")
    assert status == 2
    assert "exists already" in err


def test_an_unknown_kind_is_refused_with_the_kinds_there_are(tmp_path, stopout):
    status, _, err = stopout("new", "badge", tmp_path / "x")
    assert status == 2
    assert "badge" in err
    assert left(tmp_path) == []


@pytest.fixture
def shop(stopout, tmp_path, monkeypatch):
    """A shop book with a machine and a paint that it clears."""
    monkeypatch.setenv("STOPOUT_BOOK", str(tmp_path / "book.sqlite"))
    stopout("new", "plate", tmp_path / "first")
    stopout("shop", "machine", "add", "bench-laser", "--from", tmp_path / "first" / "job.toml")
    figures = ["paint=epoxy-two-part", "machine=bench-laser", "power=30 %", "speed=20 mm/s"]
    sets = [word for figure in figures for word in ("--set", figure)]
    stopout("shop", "paint", "add", "shed-black", *sets)
    return tmp_path


def test_every_answer_is_an_option_and_the_shops_figures_are_named(stopout, shop):
    drawing = shop / "tag.svg"
    drawing.write_text(ARTWORK, encoding="utf-8")
    words = ("--name", "Sluice tag", "--material", "brass", "--width", "60mm", "--drawn", "52 mm")
    named = ("--machine", "bench-laser", "--paint", "shed-black", "--artwork", drawing)
    status, out, err = stopout("new", "plate", shop / "tag", *words, *named)
    assert (status, err) == (0, "")
    assert "an example's" not in out
    text = (shop / "tag" / "job.toml").read_text("utf-8")
    assert "\n[clearing]" not in text
    assert "450 nm" not in text
    assert left(shop / "tag") == ["job.toml", "tag.svg"]
    job = with_shop(shop / "tag" / "job.toml", book=shop / "book.sqlite").job
    assert (job.name, job.blank.material, job.blank.width_mm) == ("Sluice tag", "brass", 60.0)
    assert (job.settings.power, job.laser.power_w) == (0.3, 5.3)


def test_an_answer_that_cannot_be_leaves_no_folder(stopout, shop):
    for words in (("--width", "60"), ("--machine", "none-such"), ("--artwork", "none.svg")):
        status, _, err = stopout("new", "plate", shop / "tag", *words)
        assert status == 2
        assert words[1] in err
        assert not (shop / "tag").exists()


def test_on_a_terminal_what_no_option_gives_is_asked(stopout, shop, monkeypatch):
    answers = iter(["Sluice tag", "-", "", "60", "60 mm", "", "", "52 mm", *[""] * 6])

    class Terminal:
        def isatty(self):
            return True

        def readline(self):
            return next(answers) + "\n"

    monkeypatch.setattr("sys.stdin", Terminal())
    status, out, err = stopout("new", "plate", shop / "asked")
    assert status == 0
    assert 'write "60 mm"' in err
    assert "kept: bench-laser" in out
    text = (shop / "asked" / "job.toml").read_text("utf-8")
    assert 'name = "bench-laser"' in text
    assert 'paint = "shed-black"' in text
