"""`stopout new`: a starter job that can be planned as it is."""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from cli.shop_files import left, run
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
