"""`stopout shop record PLAN_DIR`: typed answers, with their slips, against the page's file."""

from __future__ import annotations

import io
import json
import sys

import pytest

from cli.shop_files import run
from records.maker import bath, mixed
from sheet.sheet_jobs import files
from stopout.job.shop_numbers import BathEvent
from stopout.records import open_book, record_from_bench


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "plan").mkdir()
    (tmp_path / "plan" / "sheet.json").write_bytes(files("tag")["sheet.json"])
    return tmp_path / "plan"


@pytest.fixture
def answer(capsys, monkeypatch, tmp_path, folder):
    """Types the lines and returns status, output and errors."""

    def typed(*lines, name="book.sqlite", of=folder):
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        return run(capsys, monkeypatch, "shop", "record", of, "--book", tmp_path / name)

    return typed


def jobs(path):
    with open_book(path) as book:
        return [entry.record for entry in book.entries("job")]


HEAD = ("2026-11-26", "41", "")
COUPON = ("13:20", "31 30 32")
TAIL = ("52", "Windy", "")
PIECES = (
    *("25", "57 58 59", "24.31", "24.15", "y"),
    *("26", "60; 60", "24.2 g", "24,035", "yes"),
    *("27 min", "0.062 mm 62", "24.28", "24.11", "n"),
    *("26", "61", "24.2", "24.03", "y"),
)


def test_typed_answers_and_the_pages_file_make_the_same_record(answer, tmp_path):
    status, out, err = answer(*HEAD, *COUPON, *PIECES, *TAIL)
    assert status == 0, err
    assert "2.32 um/min" in out
    rows = [
        {"piece": "1", "depth_mm": [0.057, 0.058, 0.059], "time_s": 1500, "before_g": 24.31,
         "after_g": 24.15, "is_good": True},
        {"piece": "2", "depth_mm": [0.06, 0.06], "time_s": 1560, "before_g": 24.2,
         "after_g": 24.035, "is_good": True},
        {"piece": "3", "depth_mm": [0.062, 0.062], "time_s": 1620, "before_g": 24.28,
         "after_g": 24.11, "is_good": False},
        {"piece": "4", "depth_mm": [0.061], "time_s": 1560, "before_g": 24.2,
         "after_g": 24.03, "is_good": True},
    ]  # fmt: skip
    known = dict(json.loads(files("tag")["sheet.json"])["sheet"]["bench"]["known"])
    content = {
        "format": "stopout-record-2", **known, "date": "2026-11-26", "temperature_degc": 41.0,
        "undercut_mm": 0.052, "note": "Windy", "pieces": rows,
        "coupon": {"time_s": 800, "depth_mm": [0.031, 0.03, 0.032]},
    }  # fmt: skip
    path = tmp_path / "record.json"
    path.write_text(json.dumps(content), encoding="utf-8")
    (kept,) = jobs(tmp_path / "book.sqlite")
    with open_book(tmp_path / "book.sqlite") as book:
        # Not a second entry: one form, one digest.
        assert not book.keep(record_from_bench(content, where="file")).is_new
    assert kept.pieces == 3
    assert [row.piece for row in kept.measured] == ["coupon", "1", "2", "3", "4"]


def test_slips_are_asked_again_and_back_keeps_what_was_typed(answer, tmp_path):
    status, out, err = answer(
        "26.11.2026", *HEAD, *COUPON, "soon", "25", "0.058", "back", "", "58", "24.31", "24.15",
        "perhaps", "y", "end", *TAIL,
    )  # fmt: skip
    assert status == 0, err
    for said in ("year-month-day", "'soon' is no time", "0.058 um cannot be", "yes or no"):
        assert said in err
    assert "piece 1: time in the bath, min [25]" in out
    (kept,) = jobs(tmp_path / "book.sqlite")
    assert kept.time_s == 1500
    assert [row.piece for row in kept.measured] == ["coupon", "1"]


def test_answers_that_make_no_record_are_asked_again_with_what_was_typed(answer, tmp_path):
    end = ("end", "", "", "")
    first = (*HEAD, *COUPON, "25", "-", "24.31", "24.15", "y", *end[:-1])
    second = ("", "", "", "", "", "", "58", "", "", "", *end[:-1], "")
    status, out, err = answer(*first, *second)
    assert status == 0, err
    assert "no piece has both a depth and a time" in err
    assert "stands in brackets" in out
    assert jobs(tmp_path / "book.sqlite")[0].depth_mm.value == 0.058


@pytest.mark.parametrize("lines", [HEAD, (*HEAD, *COUPON, *PIECES, "52", "Windy", "no")])
def test_answers_that_end_or_are_not_wanted_leave_no_book(answer, tmp_path, lines):
    status, out, err = answer(*lines)
    assert "nothing was kept" in out + err
    assert status == (2 if lines == HEAD else 0)
    assert not (tmp_path / "book.sqlite").exists()


def test_the_losses_go_into_the_bath_that_is_named(answer, tmp_path):
    with open_book(tmp_path / "book.sqlite") as book:
        book.keep_all([(bath(), (mixed(),))])
        book.keep_event("lye A", BathEvent(kind="etched", at="2026-11-24", metal_g=1.0))
    status, out, err = answer("2026-11-26", "", "lye Z", "lye A", *COUPON, *PIECES, *TAIL)
    assert status == 0, err
    assert "knows no bath 'lye Z'; it knows lye A" in err
    assert "shop book (lye A)" in out
    with open_book(tmp_path / "book.sqlite") as book:
        # 0.16 + 0.165 + 0.17 + 0.17 g by hand.
        assert book.bath("lye A").events[-1].metal_g == pytest.approx(0.665)


def test_minutes_that_make_no_rate_of_such_a_bath_are_told_when_they_are_kept(answer):
    # Seconds typed for minutes would be asked again; one for twenty-five is a time.
    pieces = tuple("1" if line in ("25", "26", "27 min") else line for line in PIECES)
    status, out, err = answer(*HEAD, *COUPON, *pieces, *TAIL)
    assert status == 0, err
    said = " ".join(out.split())
    assert "times above the" in said
    assert "check depth and minutes (stopout shop forget 1 takes the entry out)" in said


@pytest.mark.parametrize(
    ("name", "said"), [("sign", "etches nothing"), ("stopped", "must not have been worked")]
)
def test_a_plan_without_an_etch_has_nothing_to_record(answer, tmp_path, name, said):
    other = tmp_path / name
    other.mkdir()
    (other / "sheet.json").write_bytes(files(name)["sheet.json"])
    status, _, err = answer(of=other)
    assert status == 2
    assert said in err
    assert answer(of=tmp_path)[0] == 2
