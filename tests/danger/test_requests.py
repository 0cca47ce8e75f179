"""No dangerous request is planned, by whatever door: option, job file, own table or book."""

import json
import re
import shlex
import tomllib
from dataclasses import replace

import pytest
from click.testing import CliRunner
from shapely.geometry import MultiPolygon, box
from typer.main import get_command

from cli.shop_files import JOB
from danger.requests import BATHS, BOOK, JOBS, TABLES
from jobmaker import drawing
from records.maker import etch as coupon
from records.maker import m
from stopout.cli.app import app
from stopout.errors import StopoutError
from stopout.job.shop_numbers import ShopNumbers
from stopout.jobs import parse_job
from stopout.jobs.validate import toml_text
from stopout.library.knowledge import knowledge_for
from stopout.plan_file import summarise
from stopout.planning import plan_job
from stopout.planning.book.bath import BathState, with_bath
from stopout.planning.book.numbers import with_shop_book

# Built once: it takes longer than all that a refusal takes.
COMMAND = get_command(app)
PIECE = {"--area": "24cm^2", "--edge": "800mm", "--depth": "0.06mm", "--size": "100mm,60mm"}
LETTER = MultiPolygon([box(6, 4, 7, 4.6)])
# A bath that is refused is told without one number of a recipe.
RECIPE = ("time_s", "bath_l", "reagent_charge_g", "rate_um_per_min")
# What only has to be mended: the numbers stand beside the stop, and no program is written.
MENDED = {
    "bath-bare",
    "bath-small",
    "bath-spent",
    "tray-small",
    "etch-through",
    "resist-unfit",
    "shop-bath",
}


def test_there_are_at_least_120_and_by_every_door():
    assert len(BATHS) + len(JOBS) + len(BOOK) + len(TABLES) >= 120
    assert all((BATHS, JOBS, BOOK, TABLES))


@pytest.mark.parametrize(("expected", "options"), BATHS)
def test_bath_answers_with_a_refusal(expected, options):
    words = shlex.split(options)
    piece = [word for pair in PIECE.items() if pair[0] not in words for word in pair]
    done = CliRunner().invoke(COMMAND, ["bath", *words, *piece, "--json"])
    if expected.startswith("refused: "):
        assert isinstance(done.exception, StopoutError), done.output
        assert expected.removeprefix("refused: ") in str(done.exception)
        return
    assert done.exit_code == 1, done.output
    found = json.loads(done.stdout)
    stops = {f["code"] for f in found["findings"] if f["level"] == "stop"}
    assert expected in stops
    if expected not in MENDED:
        assert not set(RECIPE) & set(found)


def job_text(changes):
    """The valve tag's job file with the keys of some tables replaced."""
    tables = tomllib.loads(JOB)
    for table, keys in changes.items():
        tables[table] = {**tables.get(table, {}), **keys}
    tables["etch"].pop("rate", None)
    tables["etch"] |= {k: v for k, v in changes.get("etch", {}).items() if k == "rate"}
    lines = []
    for name, keys in tables.items():
        lines.append(f"[{name}]")
        inner = {k: v for k, v in keys.items() if isinstance(v, list) and isinstance(v[0], dict)}
        lines += [f"{key} = {toml_text(value)}" for key, value in keys.items() if key not in inner]
        for key, rows in inner.items():
            for row in rows:
                lines.append(f"[[{name}.{key}]]")
                lines += [f"{k} = {toml_text(v)}" for k, v in row.items()]
    return "\n".join(lines)


def planned(changes, entries=()):
    job = parse_job(job_text(changes).encode(), file="job.toml")
    known = knowledge_for(job)
    if entries:
        job = with_shop_book(job, ShopNumbers(etch=tuple(entries)), known)
    return plan_job(job, drawing(LETTER), known)


def assert_stopped(plan, expected):
    stops = {f.code for f in plan.findings if f.level == "stop"}
    assert expected in stops
    assert all(coat.program is None for coat in plan.coats)
    assert plan.bounds_program is None
    if expected not in MENDED and not expected.endswith("-under-the-beam"):
        assert summarise(plan)["etch"] is None


@pytest.mark.parametrize(("expected", "changes"), JOBS)
def test_a_job_is_not_planned(expected, changes):
    if expected.startswith("refused: "):
        with pytest.raises(StopoutError, match=re.escape(expected.removeprefix("refused: "))):
            planned(changes)
        return
    assert_stopped(planned(changes), expected)


@pytest.mark.parametrize(("expected", "etch", "entry"), BOOK)
def test_a_rate_from_the_book_opens_nothing(expected, etch, entry):
    rate = m(entry["rate"], 0.1)
    fields = {key: value for key, value in entry.items() if key != "rate"}
    assert_stopped(planned({"etch": etch}, [coupon(rate_um_per_min=rate, **fields)]), expected)


def test_a_bath_that_the_ledger_has_as_another_is_not_poured():
    job = parse_job(job_text({"bath": {"id": "tub 1"}}).encode(), file="job.toml")
    ledger = BathState(
        etchant="ferric-chloride",
        litres=2.0,
        dissolved_g_per_l=0.0,
        is_discarded=False,
        last="2026-11-20",
    )
    job = with_bath(job, ledger)
    assert_stopped(plan_job(job, drawing(LETTER), knowledge_for(job)), "shop-bath")


@pytest.mark.parametrize(("words", "text"), TABLES)
def test_an_own_table_opens_nothing(words, text, tmp_path):
    path = tmp_path / "ours.toml"
    path.write_text(text, encoding="utf-8")
    options = ["bath", "--material", "aluminium", "--etchant", "sodium-hydroxide", "--tables"]
    piece = [word for pair in PIECE.items() for word in pair]
    done = CliRunner().invoke(COMMAND, [*options, str(path), *piece])
    assert isinstance(done.exception, StopoutError), done.output
    assert words in str(done.exception)
    assert "ours.toml" in str(done.exception)


def test_what_is_usual_is_planned_all_the_same():
    done = CliRunner().invoke(
        COMMAND,
        ["bath", "--material", "Aluminum", "--etchant", "caustic soda"]
        + [word for pair in PIECE.items() for word in pair],
    )
    assert done.exit_code == 0, done.output
    plan = planned({"blank": {"material": "Aluminum"}, "etch": {"etchant": "lye"}})
    assert plan.job.blank.material == "aluminium"
    assert not plan.is_stopped
    assert replace(plan.job.etch, rate_um_per_min=None).etchant == "sodium-hydroxide"
