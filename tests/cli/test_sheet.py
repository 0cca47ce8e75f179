"""`stopout sheet`: the sheet again, on either paper, without planning."""

from __future__ import annotations

import json

import pytest

from cli.shop_files import run
from records.maker import bath, clearing, job_record
from sheet.sheet_jobs import files, page_texts
from stopout.folders import sealed
from stopout.records import open_book


@pytest.fixture
def folder(tmp_path):
    """A plan's folder with its sheet."""
    place = tmp_path / "tag-plan"
    place.mkdir()
    for name in ("sheet.pdf", "sheet-annex.pdf", "sheet.html", "sheet.json"):
        data = files("tag")[name]
        (place / name).write_bytes(sealed(data) if name.endswith((".pdf", ".html")) else data)
    return place


def test_the_sheet_is_printed_again_byte_for_byte(folder, capsys, monkeypatch):
    before = (folder / "sheet.pdf").read_bytes()
    page = (folder / "sheet.html").read_bytes()
    (folder / "sheet.pdf").unlink()
    (folder / "sheet.html").unlink()
    status, out, _ = run(capsys, monkeypatch, "sheet", folder)
    assert status == 0
    assert (folder / "sheet.pdf").read_bytes() == before
    assert (folder / "sheet.html").read_bytes() == page
    assert out == f"{folder / 'sheet.pdf'}: A4\n{folder / 'sheet.html'}: for a phone\n"
    assert {item.name for item in folder.iterdir()} == {
        "sheet-annex.pdf",
        "sheet.html",
        "sheet.json",
        "sheet.pdf",
    }


def test_annex_and_wall_page_are_printed_where_they_are_asked_for(folder, capsys, monkeypatch):
    before = (folder / "sheet-annex.pdf").read_bytes()
    (folder / "sheet-annex.pdf").unlink()
    (folder / "sheet.pdf").unlink()
    status, out, _ = run(capsys, monkeypatch, "sheet", folder, "--annex", "--wall")
    assert status == 0
    assert (folder / "sheet-annex.pdf").read_bytes() == before
    (wall,) = page_texts((folder / "sheet-wall.pdf").read_bytes())
    assert "Emergency number" in wall
    assert "Poison centre" in wall
    assert not (folder / "sheet.pdf").exists()
    assert out.count("A4") == 2


def test_the_wall_page_holds_for_all_that_the_shop_book_names(
    folder, tmp_path, capsys, monkeypatch
):
    book = tmp_path / "book.sqlite"
    with open_book(book) as kept:
        kept.keep(bath(etchant="ferric-chloride"))
        kept.keep(clearing(paint="acrylic-lacquer"))
        kept.keep(job_record(material="brass", etchant="ferric-chloride"))
    status, _, err = run(capsys, monkeypatch, "sheet", folder, "--wall", "--book", book)
    assert (status, err) == (0, "")
    (wall,) = page_texts((folder / "sheet-wall.pdf").read_bytes())
    # What the job meets, and besides what the book's bath, metal and paint bring.
    bought = ("Ferric chloride solution", "Lead in brass", "Acrylic lacquer")
    assert [name for name in ("Sodium hydroxide", *bought) if name not in wall] == []
    assert "The whole shop" in wall
    assert "Valve tag" not in wall
    status, _, _ = run(capsys, monkeypatch, "sheet", folder, "--wall", "--no-book")
    (wall,) = page_texts((folder / "sheet-wall.pdf").read_bytes())
    assert "Valve tag" in wall
    assert "Lead in brass" not in wall


def test_one_file_holds_one_part(folder, tmp_path, capsys, monkeypatch):
    both = ("--annex", "--wall", "--out", tmp_path / "x.pdf")
    page, text = ("--wall", "--out", tmp_path / "x.html"), ("--out", tmp_path / "x.txt")
    for words in (both, page, text):
        status, _, err = run(capsys, monkeypatch, "sheet", folder, *words)
        assert status == 2
        assert err.count("\n") <= 2
    assert not list(tmp_path.glob("x.*"))


def test_letter_goes_to_the_file_that_is_asked_for(folder, tmp_path, capsys, monkeypatch):
    target = tmp_path / "letter.pdf"
    status, out, _ = run(
        capsys, monkeypatch, "sheet", folder, "--paper", "Letter", "--out", target, "--json"
    )
    assert status == 0
    assert json.loads(out) == {
        "sheet": str(target),
        "files": [str(target)],
        "paper": "Letter",
        "stopped": False,
    }
    letter, a4 = (page_texts(pdf) for pdf in (target.read_bytes(), files("tag")["sheet.pdf"]))
    # The paper is shorter: at most one page more.
    assert len(a4) <= len(letter) <= len(a4) + 1
    assert "Have ready" in letter[0]


def test_a_stopped_plan_prints_its_one_page_and_exits_1(tmp_path, capsys, monkeypatch):
    (tmp_path / "sheet.json").write_bytes(files("stopped")["sheet.json"])
    status, _, err = run(capsys, monkeypatch, "sheet", tmp_path, "--quiet")
    assert status == 1
    assert "STOP" in err
    assert len(page_texts((tmp_path / "sheet.pdf").read_bytes())) == 1


def test_a_folder_without_a_sheet_is_refused_in_one_sentence(tmp_path, capsys, monkeypatch):
    status, out, err = run(capsys, monkeypatch, "sheet", tmp_path)
    assert (status, out) == (2, "")
    assert "holds no sheet.json" in err
    assert "plan the job again" in err
    assert err.count("\n") == 1
    assert not list(tmp_path.iterdir())


def test_a_place_that_is_no_folder_is_refused(tmp_path, capsys, monkeypatch):
    status, _, err = run(capsys, monkeypatch, "sheet", tmp_path / "nowhere")
    assert status == 2
    assert "is not a folder" in err


def test_a_damaged_sheet_is_refused_by_its_name(tmp_path, capsys, monkeypatch):
    (tmp_path / "sheet.json").write_bytes(b"{}")
    status, _, err = run(capsys, monkeypatch, "sheet", tmp_path)
    assert status == 2
    assert err == f"{tmp_path / 'sheet.json'} is not a process sheet; plan the job again\n"


def test_nothing_but_an_earlier_pdf_is_written_over(folder, tmp_path, capsys, monkeypatch):
    kept = tmp_path / "letter-to-the-millers.pdf"
    kept.write_text("Dear millers")
    status, _, err = run(capsys, monkeypatch, "sheet", folder, "--out", kept)
    assert status == 2
    assert "is no PDF" in err
    assert kept.read_text() == "Dear millers"
    status, _, err = run(capsys, monkeypatch, "sheet", folder, "--out", tmp_path / "no" / "x.pdf")
    assert status == 2
    assert "is not a folder" in err


def test_an_unknown_paper_is_refused(folder, capsys, monkeypatch):
    status, _, err = run(capsys, monkeypatch, "sheet", folder, "--paper", "B5")
    assert status == 2
    assert "letter" in err.casefold()
