"""`stopout schema`: a JSON Schema on standard output."""

from __future__ import annotations

import json

from typer.testing import CliRunner

from cli.shop_files import process, run
from stopout.cli.app import app
from stopout.jobs import job_schema


def test_the_schema_is_valid_json_and_the_library_s_own(capsys, monkeypatch):
    status, out, err = run(capsys, monkeypatch, "schema")
    assert (status, err) == (0, "")
    assert json.loads(out) == job_schema()


def test_it_says_which_draft_it_is_and_names_every_table():
    data = json.loads(CliRunner().invoke(app, ["schema"]).output)
    assert "json-schema.org" in data["$schema"]
    tables = {"job", "artwork", "blank", "resist", "machine", "clearing", "etch", "limits"}
    assert tables | {"coat", "registration"} <= data["properties"].keys()
    assert data["additionalProperties"] is False


def test_it_is_quick_enough_to_be_asked_for_by_an_editor(tmp_path):
    """None of the heavy libraries may be loaded for it."""
    code = process("schema", cwd=tmp_path, PYTHONPROFILEIMPORTTIME="1")
    assert code.returncode == 0
    loaded = {line.rsplit("|", 1)[-1].strip() for line in code.stderr.splitlines() if "|" in line}
    assert loaded
    assert not loaded & {"scipy", "cv2", "PIL.Image", "wasmtime", "typst"}
