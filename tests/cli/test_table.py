"""`stopout table`: every value with unit, kind, grade and source, for reading and as JSON."""

from __future__ import annotations

import json
import re

import pytest

from cli.shop_files import run
from stopout.tables import KINDS, list_table, show_entry


@pytest.fixture(autouse=True)
def as_wide_as_the_tables(monkeypatch):
    """Lines of a hundred letters."""
    monkeypatch.setenv("COLUMNS", "100")


def plain(text):
    return " ".join(text.split())


@pytest.mark.parametrize("kind", KINDS)
def test_each_table_lists_its_entries_with_their_names(kind, capsys, monkeypatch):
    status, out, _ = run(capsys, monkeypatch, "table", kind)
    assert status == 0
    for ident, name in list_table(kind):
        assert re.search(rf"^{re.escape(ident)} ", out, re.MULTILINE)
        assert plain(name) in plain(out)


@pytest.mark.parametrize(
    ("kind", "ident"),
    [
        ("materials", "brass"),
        ("etchants", "sodium-hydroxide"),
        ("pairs", "copper/ferric-chloride"),
        ("resists", "acrylic-lacquer"),
        ("hazards", "hydrogen"),
    ],
)
def test_an_entry_shows_every_value_with_unit_grade_and_source(kind, ident, capsys, monkeypatch):
    status, out, _ = run(capsys, monkeypatch, "table", kind, ident)
    assert status == 0
    shown = plain(out)
    for row in show_entry(kind, ident):
        assert plain(f"{row.name}: {row.value} {row.unit}") in shown
        assert plain(row.source) in shown
        if row.grade:
            assert f"grade {row.grade}" in shown
    assert max(map(len, out.splitlines())) <= 100


def test_the_json_of_an_entry_holds_the_same_rows(capsys, monkeypatch):
    status, out, _ = run(capsys, monkeypatch, "table", "materials", "aluminium", "--json")
    assert status == 0
    found = json.loads(out)
    assert (found["table"], found["id"]) == ("materials", "aluminium")
    rows = show_entry("materials", "aluminium")
    assert [row["value"] for row in found["rows"]] == [row.value for row in rows]
    assert set(found["rows"][0]) == {"name", "value", "unit", "kind", "grade", "source"}


def test_the_json_of_a_table_lists_ids_and_names(capsys, monkeypatch):
    status, out, _ = run(capsys, monkeypatch, "table", "pairs", "--json")
    assert status == 0
    entries = json.loads(out)["entries"]
    assert {"id": "aluminium/sodium-hydroxide", "name": "aluminium in sodium hydroxide"} in entries


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("metals",), "there is no table 'metals'"),
        (("resists", "epoxi-two-part"), "did you mean 'epoxy-two-part'?"),
        (("etchants", "cupric-chlorid"), "did you mean 'cupric-chloride'?"),
        (("pairs", "zinc/ferric-chloride"), "is not in the table; etchants for zinc"),
        (("pairs", "--tables", "nowhere.toml"), "nowhere.toml: is not there"),
    ],
)
def test_what_is_unknown_exits_2_with_the_tables_sentence(words, said, capsys, monkeypatch):
    status, out, err = run(capsys, monkeypatch, "table", *words)
    assert (status, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1
