"""`stopout shop machine` and its kin: kept once, shown, forgotten, and named by jobs."""

from __future__ import annotations

import json

import pytest

from cli.shop_files import ARTWORK, JOB, run
from stopout.cli.keeping.shop_equipment import asked_figures
from stopout.records import export_book, import_book, open_book


@pytest.fixture
def stopout(capsys, monkeypatch, tmp_path):
    monkeypatch.setenv("STOPOUT_BOOK", str(tmp_path / "book.sqlite"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "tag.toml").write_text(JOB, encoding="utf-8")
    (tmp_path / "tag.svg").write_text(ARTWORK, encoding="utf-8")
    return lambda *argv: run(capsys, monkeypatch, *argv)


def test_a_machine_is_kept_from_a_job_shown_replaced_and_forgotten(stopout, tmp_path):
    add = ("shop", "machine", "add", "bench-laser", "--from", "tag.toml")
    assert stopout(*add)[0] == 0
    assert "is entry 1" in stopout(*add)[1]
    shown = json.loads(stopout("shop", "machine", "show", "bench-laser", "--json")[1])
    assert shown[0]["keys"]["power"] == "5.5 W"
    status, _, err = stopout(*add, "--set", "power=6 W")
    assert (status, "in the book already" in err) == (2, True)
    change = ("shop", "machine", "add", "bench-laser", "--change", "--set", "power=6 W")
    assert stopout(*change)[0] == 0
    assert 'power = "6 W"' in stopout("shop", "machine", "show")[1]
    assert "bench-laser" in stopout("shop", "list")[1]
    assert 'spot_means = "1/e2"' in stopout("shop", "show", "2")[1]
    # An export takes it along, and a namesake with other figures is refused as a whole.
    with open_book(tmp_path / "book.sqlite") as book, open_book(tmp_path / "b.sqlite") as other:
        text = export_book(book)
        import_book(other, text, where="export")
        assert export_book(other) == text
    assert 'power = "6 W"' in stopout("shop", "machine", "forget", "bench-laser")[1]
    assert "no machine is kept yet" in stopout("shop", "machine", "show")[1]


def test_a_figure_that_cannot_be_is_told_with_how_it_is_found_out(stopout):
    status, _, err = stopout("shop", "machine", "add", "bench-laser", "--set", "power=5,5 W")
    assert status == 2
    assert "decimal comma" in err
    assert "power_word: is missing; read in the control's settings" in err
    assert "5.5 W" not in err.replace('"5.5 W"', "")
    status, _, err = stopout("shop", "paint", "add", "epoxy-two-part", "--set", "paint=acrylic")
    assert "give yours a name of its own" in err
    assert "KEY=VALUE" in stopout("shop", "tray", "add", "large", "--set", "size")[2]
    assert "it has: none" in stopout("shop", "tray", "forget", "large")[2]


def test_a_ten_line_job_plans_with_the_shops_figures_and_the_plan_says_whose(stopout, tmp_path):
    stopout("shop", "machine", "add", "bench-laser", "--from", "tag.toml")
    marks = ["power=30 %", "speed=20 mm/s", 'mark=["0.10 mm", "0.087 mm"]']
    dose = [word for mark in marks for word in ("--set", mark)]
    paint = ("--set", "paint=epoxy-two-part", "--set", "machine=bench-laser")
    assert stopout("shop", "paint", "add", "shed-black", *paint, *dose)[0] == 0
    short = """machine = "bench-laser"
resist = "shed-black"
job.name = "Valve tag"
artwork.file = "tag.svg"
blank = { material = "aluminium", width = "24 mm", height = "14 mm", thickness = "1.5 mm", \
worked_side = "front" }
etch = { etchant = "sodium-hydroxide", strength = "100 g/L", temperature = "40 degC", \
depth = "0.06 mm", etch_factor = 1.0 }
"""
    assert len(short.splitlines()) <= 10
    (tmp_path / "short.toml").write_text(short, encoding="utf-8")
    plans = [
        json.loads(stopout("plan", name, "--draft", "--json")[1])
        for name in ("tag.toml", "short.toml")
    ]
    assert plans[0]["coats"] == plans[1]["coats"]
    sources = {value["name"]: value["source"] for value in plans[1]["values"]}
    assert sources["beam spot"] == "the shop's machine bench-laser (shop book, entry 1)"
    assert sources["clearing power"] == "the shop's paint shed-black (shop book, entry 2)"
    assert "stopout shop machine add" in stopout("plan", "short.toml", "--draft", "--no-book")[2]


def test_the_questions_take_what_is_typed_and_say_how_a_figure_is_found(monkeypatch, capsys):
    # Words as people type them; the wavelength is not asked once the kind of laser is known.
    needed = ["diode", "Blue diode", "5 W", "", "100 mm/s", "300x200", "S255", "4", "m3"]
    # Half a pair is told at the end, and everything typed stands in brackets the second time.
    lines = iter([*needed, "0.1x0.12", "-", "end", *[""] * 7, "fwhm", "end"])

    class Typed:
        def readline(self):
            return next(lines) + "\n"

    monkeypatch.setattr("sys.stdin", Typed())
    figures = asked_figures("machine")
    assert figures == {
        "emitter": "blue-diode",
        "power": "5 W",
        "top_speed": "100 mm/s",
        "bed": ["300 mm", "200 mm"],
        "power_word": 255,
        "beam_on": "M3",
        "spot": ["0.1 mm", "0.12 mm"],
        "spot_means": "fwhm",
    }
    said = capsys.readouterr()
    assert "did you mean blue-diode?" in said.err
    assert "this one is needed" in said.err
    assert 'such as "M3"' in said.err
    assert "quotes" not in said.err
    assert "spot_means: is missing" in said.err
    assert "read in the control's settings which number after S" in said.out


def test_pieces_lie_in_the_smallest_of_the_shops_trays_that_takes_them(stopout, tmp_path):
    for name, floor in (("huge", "600"), ("small", "100"), ("right", "200")):
        sides = f'size=["{floor} mm", "{floor} mm"]'
        stopout("shop", "tray", "add", name, "--set", sides)
    # By hand: 24 x 14 mm with 20 mm round each lie four by five in 200 mm, and two by two in 100.
    many = JOB.replace('name = "Valve tag"', 'name = "Valve tag"\nquantity = 20')
    (tmp_path / "tag.toml").write_text(many, encoding="utf-8")
    bath = json.loads(stopout("plan", "tag.toml", "--draft", "--json")[1])["etch"]["bath"]
    assert (bath["tray_mm"], bath["tray_proposed"], bath["plates_at_once"]) == (
        [200.0, 200.0],
        False,
        20,
    )
