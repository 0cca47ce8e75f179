"""`stopout shop`, and `stopout plan` with a shop book: as typed, with its mistakes."""

from __future__ import annotations

import json
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from cli.shop_files import ARTWORK, JOB, lay_out, left, run
from records.maker import bath, clearing, etch, job_record, m, mixed
from remembered import afresh
from stopout.job.shop_numbers import BathEvent
from stopout.records import open_book

RECORD = {
    "format": "stopout-record-1",
    "date": "2026-11-26",
    "name": "Valve tag",
    "material": "aluminium",
    "etchant": "sodium-hydroxide",
    "strength_g_per_l": 100,
    "temperature_degc": 40,
    "agitation": "tray",
    "depth_mm": 0.06,
    "time_s": 1500,
    "bath": "lye A",
    "metal_removed_g": 3.0,
}
UNMEASURED = JOB.replace('mark = ["0.10 mm", "0.087 mm"]\n', "").replace("etch_factor = 1.0\n", "")


@pytest.fixture
def stopout(capsys, monkeypatch):
    return lambda *argv: run(capsys, monkeypatch, *argv)


@pytest.fixture
def book(tmp_path, monkeypatch):
    """A book with one of each in it, named by the environment."""
    path = tmp_path / "shop" / "book.sqlite"
    path.parent.mkdir()
    monkeypatch.setenv("STOPOUT_BOOK", str(path))
    with open_book(path) as opened:
        opened.keep(clearing())
        opened.keep(etch())
        opened.keep_all([(bath(), (mixed(),))])
        opened.keep(job_record(undercut_mm=m(0.05, 0.003)))
    return path


class TestShowing:
    def test_list_gives_a_line_an_entry(self, book, stopout):
        status, out, err = stopout("shop", "list")
        assert (status, err) == (0, "")
        assert [line.split()[:3] for line in out.splitlines()] == [
            ["1", "2026-11-20", "clearing"],
            ["2", "2026-11-21", "etch"],
            ["3", "2026-11-20", "bath"],
            ["4", "2026-11-22", "job"],
        ]
        assert "threshold 0.03 and 0.03 J/mm" in out
        assert "lye A: sodium-hydroxide, 2 L, 0 g/L" in out

    def test_list_as_json(self, book, stopout):
        data = json.loads(stopout("shop", "list", "--json")[1])
        assert data["book"] == str(book)
        assert data["entries"][0] == {"id": 1, "kind": "clearing", "date": "2026-11-20"}

    def test_without_a_book_list_says_so_and_makes_nothing(self, tmp_path, monkeypatch, stopout):
        place = tmp_path / "none" / "book.sqlite"
        monkeypatch.setenv("STOPOUT_BOOK", str(place))
        status, out, _ = stopout("shop", "list")
        assert (status, out) == (0, f"nothing is kept yet in {place}\n")
        for words in (("show", 1), ("export",), ("forget", 1)):
            status, _, err = stopout("shop", *words)
            assert (status, err) == (2, f"nothing is kept yet in {place}\n")
        assert left(tmp_path) == []

    @pytest.mark.usefixtures("whole_pictures")
    @pytest.mark.parametrize(
        ("ident", "words"),
        [
            (1, "  threshold_j_per_mm: 0.03 (sd 0.001) and 0.03 (sd 0.001)"),
            (2, "  etch_factor: 1.2 (sd 0.06)"),
            (3, "  2026-11-20  mixed  2 L"),
            (4, "  undercut_mm: 0.05 (sd 0.003)"),
        ],
    )
    def test_show_gives_every_value_and_draws_the_history(
        self, book, stopout, tmp_path, ident, words
    ):
        picture = tmp_path / "history.png"
        status, out, _ = stopout("shop", "show", ident, "--picture", picture)
        assert status == 0
        assert words in out.splitlines()
        with Image.open(BytesIO(picture.read_bytes())) as drawn:
            assert drawn.width == 1800
            assert (np.asarray(drawn.convert("L")) < 128).mean() > 0.002
        again = picture.read_bytes()
        assert stopout("shop", "show", ident, "--picture", picture)[0] == 0
        assert picture.read_bytes() == again

    def test_show_as_json_is_what_an_import_takes(self, book, stopout):
        data = json.loads(stopout("shop", "show", 3, "--json")[1])
        assert data["kind"] == "bath"
        assert data["ledger"][0]["litres"] == 2.0

    def test_a_picture_replaces_nothing_but_a_picture(self, book, stopout, tmp_path):
        notes = tmp_path / "notes.txt"
        notes.write_text("lye is low")
        status, _, err = stopout("shop", "show", 1, "--picture", notes)
        assert status == 2
        assert "no PNG" in err
        assert notes.read_text() == "lye is low"

    def test_an_unknown_number_is_said(self, book, stopout):
        status, _, err = stopout("shop", "show", 9)
        assert status == 2
        assert "has no entry 9" in err


class TestMoving:
    def test_export_and_import_carry_everything_to_another_book(self, book, stopout, tmp_path):
        copy, other = tmp_path / "copy.json", tmp_path / "other.sqlite"
        assert stopout("shop", "export", copy)[0] == 0
        assert stopout("shop", "import", copy, "--book", other)[1] == "4 new, 0 there already\n"
        assert stopout("shop", "import", copy, "--book", other)[1] == "0 new, 4 there already\n"
        assert stopout("shop", "export", "--book", other)[1] == copy.read_text()

    def test_an_export_overwrites_nothing(self, book, stopout, tmp_path):
        copy = tmp_path / "copy.json"
        copy.write_text("older")
        status, _, err = stopout("shop", "export", copy)
        assert status == 2
        assert "exists already" in err
        assert copy.read_text() == "older"

    def test_what_is_forgotten_is_printed_and_can_be_brought_back(self, book, stopout, tmp_path):
        before = stopout("shop", "export")[1]
        _, out, _ = stopout("shop", "forget", 2)
        assert len(stopout("shop", "list")[1].splitlines()) == 3
        (tmp_path / "back.json").write_text(out)
        stopout("shop", "import", tmp_path / "back.json")
        now = json.loads(stopout("shop", "export")[1])["entries"]
        assert sorted(map(str, now)) == sorted(map(str, json.loads(before)["entries"]))

    def test_a_forgotten_record_comes_back_with_its_line_in_the_ledger(
        self, book, stopout, tmp_path
    ):
        with open_book(book) as opened:
            ident = opened.keep(job_record(name="A", bath="lye A", metal_removed_g=3.0)).ident
        (tmp_path / "back.json").write_text(stopout("shop", "forget", ident)[1])
        assert "2 L, 0 g/L" in stopout("shop", "show", 3)[1]
        assert stopout("shop", "import", tmp_path / "back.json")[0] == 0
        assert "2 L, 1.5 g/L" in stopout("shop", "show", 3)[1]

    @pytest.mark.parametrize(
        ("content", "words"),
        [(b"{", "not JSON"), (b"\xff\xfe", "not UTF-8"), (b"{}", "format"), (None, "no file")],
    )
    def test_a_strange_file_is_refused(self, book, stopout, tmp_path, content, words):
        file = tmp_path / "x.json"
        if content is not None:
            file.write_bytes(content)
        before = book.read_bytes()
        for order in ("import", "record"):
            status, _, err = stopout("shop", order, file)
            assert status == 2
            assert words in err
            assert len(err.splitlines()) == 1
        assert book.read_bytes() == before


class TestRecording:
    def record(self, tmp_path, **changes):
        file = tmp_path / "record.json"
        file.write_text(json.dumps(RECORD | changes))
        return file

    def test_a_job_is_kept_and_its_metal_goes_into_the_bath(self, book, stopout, tmp_path):
        status, out, _ = stopout("shop", "record", self.record(tmp_path))
        assert status == 0
        assert out == "kept as entry 5: Valve tag: 0.06 mm in 25 min at 40 degC, 2.4 um/min\n"
        assert "2 L, 1.5 g/L of metal dissolved" in stopout("shop", "show", 3)[1]
        assert "is entry 5 already" in stopout("shop", "record", self.record(tmp_path))[1]

    def test_metal_that_is_not_given_is_said(self, book, stopout, tmp_path):
        _, out, _ = stopout("shop", "record", self.record(tmp_path, metal_removed_g=None))
        assert "nothing was added to the bath 'lye A'" in out

    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"material": "aluminuim-sheat"}, "aluminium"),
            ({"bath": "lye B"}, "lye B"),
            ({"depth_mm": -1}, "depth_mm"),
        ],
    )
    def test_a_mistake_is_named_and_nothing_kept(self, book, stopout, tmp_path, changes, words):
        status, _, err = stopout("shop", "record", self.record(tmp_path, **changes))
        assert status == 2
        assert words in err
        assert len(stopout("shop", "list")[1].splitlines()) == 4


class TestABath:
    def test_its_life_is_written_down_line_by_line(self, book, stopout):
        begin = ("shop", "bath", "lye B", "mixed", "--litres", "2L")
        status, _, err = stopout(*begin)
        assert status == 2
        assert "--etchant" in err
        status, out, _ = stopout(*begin, "--etchant", "sodium-hydroxide", "--date", "2026-11-20")
        assert (status, out) == (0, "lye B: 2 L, 0 g/L of metal dissolved\n")
        dated = ("--date", "2026-11-21")
        assert "1.5 g/L" in stopout("shop", "bath", "lye B", "etched", "--metal", "3g", *dated)[1]
        later = ("--date", "2026-11-22")
        out = stopout("shop", "bath", "lye B", "topped-up", "--litres", "500 mL", *later)[1]
        assert out == "lye B: 2.5 L, 1.2 g/L of metal dissolved\n"
        out = stopout("shop", "bath", "lye B", "discarded")[1]
        assert out == "lye B: 0 L, 0 g/L of metal dissolved\n"

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (("mixed",), "--litres"),
            (("etched",), "--metal"),
            (("etched", "--metal", "3"), "3"),
            (("boiled",), "kind"),
            (("discarded", "--date", "yesterday"), "date"),
            (("topped-up", "--litres", "0 L"), "0.001 to 10000 L"),
            (("topped-up", "--litres", "100000000 L"), "0.001 to 10000 L"),
            (("etched", "--metal", "0.0000001 g"), "0.001 to 1000000 g"),
        ],
    )
    def test_a_mistake_is_named(self, book, stopout, words, said):
        status, _, err = stopout("shop", "bath", "lye A", *words)
        assert status == 2
        assert said in err


class TestPlanning:
    def test_a_plan_takes_the_shops_numbers_and_says_so(self, book, stopout, tmp_path):
        job = lay_out(tmp_path, UNMEASURED, ARTWORK)
        status, _, err = stopout("plan", job, "--all")
        assert status == 0
        plan = json.loads((tmp_path / "tag-plan" / "plan.json").read_text())
        root = np.sqrt(2 * np.log(0.0825 / 0.030))
        assert plan["coats"][0]["clearing"]["mark_mm"] == pytest.approx(
            [0.08 * root, 0.055 * root], abs=1e-5
        )
        measured = {v["name"]: v["source"] for v in plan["values"] if v["kind"] == "measured"}
        assert set(measured) == {"mark", "etch rate", "etch factor"}
        assert measured["mark"] == "shop book: clearing coupon 1 of 2026-11-20"
        assert "etch coupon 2 of 2026-11-21 and job record 4 of 2026-11-22" in measured["etch rate"]
        assert err.count("from the shop book") == 3

    def test_the_same_book_gives_the_same_plan(self, book, stopout, tmp_path):
        job = lay_out(tmp_path, UNMEASURED, ARTWORK)
        plans, before = [], book.read_bytes()
        for _ in range(2):
            with afresh():
                stopout("plan", job, "--force", "--quiet")
            plans.append((tmp_path / "tag-plan" / "plan.json").read_bytes())
        assert plans[0] == plans[1]
        assert book.read_bytes() == before

    def test_with_no_book_the_plan_is_that_of_the_tables_and_no_book_is_made(
        self, book, stopout, tmp_path, monkeypatch
    ):
        job = lay_out(tmp_path, UNMEASURED, ARTWORK)
        stopout("plan", job, "--no-book", "--quiet", "--out", tmp_path / "a")
        place = tmp_path / "nowhere" / "book.sqlite"
        monkeypatch.setenv("STOPOUT_BOOK", str(place))
        _, _, err = stopout("plan", job, "--out", tmp_path / "b")
        assert not place.parent.exists()
        assert "shop book" not in err
        read = [(tmp_path / name / "plan.json").read_bytes() for name in ("a", "b")]
        assert read[0] == read[1]

    def test_a_book_that_is_named_must_be_there(self, stopout, tmp_path):
        job = lay_out(tmp_path, UNMEASURED, ARTWORK)
        status, _, err = stopout("plan", job, "--book", tmp_path / "typo.sqlite")
        assert status == 2
        assert "there is no shop book" in err
        assert left(tmp_path) == ["tag.svg", "tag.toml"]

    def test_a_damaged_book_stops_the_plan_before_anything_is_written(self, stopout, tmp_path):
        job = lay_out(tmp_path, UNMEASURED, ARTWORK)
        (tmp_path / "book.sqlite").write_bytes(b"Dear diary, " * 300)
        status, _, err = stopout("plan", job, "--book", tmp_path / "book.sqlite")
        assert status == 2
        assert "no shop book" in err
        assert not (tmp_path / "tag-plan").exists()

    def test_a_book_and_none_exclude_each_other(self, book, stopout, tmp_path):
        job = lay_out(tmp_path, UNMEASURED, ARTWORK)
        status, _, err = stopout("plan", job, "--book", book, "--no-book")
        assert status == 2
        assert "exclude each other" in err

    def test_another_colour_is_not_used_silently(self, book, stopout, tmp_path):
        red = UNMEASURED.replace('paint = "epoxy', 'colour = "red"\npaint = "epoxy')
        _, _, err = stopout("plan", lay_out(tmp_path, red, ARTWORK), "--all")
        assert "clearing coupon 1 of 2026-11-20 is not used for the resist: colour black" in err
        assert "the width that the beam clears, is not measured" in " ".join(err.split())


def test_no_test_sees_the_book_of_whoever_runs_it(stopout, tmp_path):
    from stopout.records import book_path

    assert book_path().name == "no-shop-book.sqlite"
    assert not book_path().exists()


def test_a_coupon_is_laid_out_about_what_the_book_knows(book, stopout, tmp_path, monkeypatch):
    from stopout.errors import CouponError
    from stopout.planning.coupon import road as coupon

    job, seen = lay_out(tmp_path, UNMEASURED, ARTWORK), []

    def see(kind, wanted, knowledge, *, outline):
        seen.append(wanted)
        raise CouponError("seen enough")

    monkeypatch.setattr(coupon, "plan_coupon", see)
    for words in (("clearing",), ("etch",), ("clearing", "--book", tmp_path / "typo.sqlite")):
        assert stopout("coupon", words[0], job, *words[1:])[0] == 2
    clearing_job, etch_job = seen
    assert "clearing coupon 1 of 2026-11-20" in clearing_job.coats[0].book_mark.source
    assert "etch coupon 2 of 2026-11-21" in etch_job.etch.rate_source


def test_a_plan_takes_the_metal_of_the_bath_it_names_from_the_ledger(book, tmp_path, stopout):
    with open_book(book) as opened:
        opened.keep_event("lye A", BathEvent(kind="etched", at="2026-11-24", metal_g=5.0))
    folder = tmp_path / "job"
    folder.mkdir()
    job = lay_out(folder, JOB + '\n[bath]\nid = "lye A"\n')
    status, _, err = stopout("plan", job, "--all", "--out", tmp_path / "plan")
    assert status == 0, err
    assert "2.5 g/L of metal in 2 L by the shop book" in err
    plan = json.loads((tmp_path / "plan" / "plan.json").read_text())
    assert plan["etch"]["time_s"] > 0
    assert any(found["code"] == "shop-bath" for found in plan["findings"])


def test_a_line_before_a_bath_was_mixed_is_refused_for_it_would_count_for_nothing(book, stopout):
    before = book.read_bytes()
    status, _, err = stopout(
        "shop", "bath", "lye A", "etched", "--metal", "1.2g", "--date", "2001-01-01"
    )
    assert status == 2
    assert "was first mixed on" in err
    assert book.read_bytes() == before


def test_more_metal_than_any_bath_holds_is_refused_and_nothing_is_written(book, stopout):
    before = book.read_bytes()
    status, _, err = stopout("shop", "bath", "lye A", "etched", "--metal", "2kg")
    assert status == 2
    assert "1000 g/L" in err
    assert "check the number" in err
    assert book.read_bytes() == before


def test_a_run_time_by_the_clock_is_kept_and_the_next_plan_takes_it(tmp_path, capsys, monkeypatch):
    lay_out(tmp_path)
    book = ("--book", tmp_path / "shop.book")
    assert run(capsys, monkeypatch, "plan", tmp_path / "tag.toml", "--quiet", "--no-book")[0] == 0
    first = json.loads((tmp_path / "tag-plan" / "plan.json").read_text())
    planned = first["coats"][0]["clearing"]["time_s"]
    took = f"{1.2 * planned / 60:.4f} min"
    order = ("shop", "timed", tmp_path / "tag-plan", "--took", took, *book)
    status, out, err = run(capsys, monkeypatch, *order)
    assert status == 0, err
    assert "acceleration and corners 0." in out
    assert "Valve tag" in run(capsys, monkeypatch, "shop", "list", *book)[1]
    again = ("plan", tmp_path / "tag.toml", "--quiet", "--force", *book)
    assert run(capsys, monkeypatch, *again)[0] == 0
    second = json.loads((tmp_path / "tag-plan" / "plan.json").read_text())
    # The clock takes in the way home, which the plan's time leaves out; and a slower machine may
    # clear a part another way.
    assert second["coats"][0]["clearing"]["time_s"] == pytest.approx(1.2 * planned, rel=0.05)
    assert second["machine"]["acceleration_scale"] < 1
    status, _, err = run(capsys, monkeypatch, *order[:3], "--took", "1 s", *book)
    assert status == 2
    assert "no time of this program" in err
