"""Records of the bench sheet arrive in the shop book: once each, and none is lost on the way."""

from __future__ import annotations

import json
import sqlite3

import pytest

from cli.shop_files import run
from records.maker import bath, mixed
from records.test_from_bench import CONTENT, PIECES
from stopout.records import open_book
from web.jobs_of import client_of, with_sheet

JOB = "/api/job/gauge/gauge-number"
ONE, OTHER = "0123456789abcdef", "fedcba9876543210"


def record(saved="2026-11-26T10:00:00.000Z", record_id=ONE, **changes):
    return {**CONTENT, "record_id": record_id, "work": {"saved": saved}, **changes}


def send(client, content):
    answer = client.post(f"{JOB}/record", json=content)
    assert answer.status_code == 200, answer.text
    assert answer.json()["has"] == content["record_id"]
    return answer.json()["words"]


def kept(book):
    with open_book(book) as opened:
        return opened.entries("job")


def test_a_record_is_in_the_book_and_beside_the_plan_however_often_it_is_sent(client, place, book):
    assert "Kept in the shop book as entry 1" in send(client, record())
    assert "already" in send(client, record())
    (entry,) = kept(book)
    assert entry.record.depth_mm.value == pytest.approx(0.060)
    file = place / "gauge" / "gauge-number-records" / f"{ONE}.json"
    assert json.loads(file.read_text()) == record()


def test_the_file_carried_by_hand_as_well_makes_no_second_entry(
    client, place, book, capsys, monkeypatch
):
    send(client, record())
    file = place / "gauge" / "gauge-number-records" / f"{ONE}.json"
    assert "already" in run(capsys, monkeypatch, "shop", "record", file, "--book", book)[1]
    assert len(kept(book)) == 1


def test_saved_anew_it_takes_its_own_place_in_book_and_bath(client, book):
    with open_book(book) as opened:
        opened.keep_all([(bath(), (mixed(),))])
        name = opened.entries("bath")[0].record.name
        before = len(opened.bath(name).events)
    send(client, record(bath=name))
    later = record("2026-11-26T11:00:00.000Z", bath=name, pieces=PIECES[:2])
    send(client, later)
    assert "later one" in send(client, record(bath=name))
    (entry,) = kept(book)
    assert len(entry.record.measured) == 2
    with open_book(book) as opened:
        events = opened.bath(name).events
    assert len(events) == before + 1
    assert events[-1].metal_g == pytest.approx(0.325)


def test_two_browsers_lose_no_record(client, book):
    send(client, record(pieces=PIECES[:1]))
    send(client, record(record_id=OTHER, pieces=PIECES[1:]))
    assert [len(one.record.measured) for one in kept(book)] == [1, 2]


@pytest.mark.parametrize(
    ("changes", "words"),
    [({"pieces": []}, "no piece has both"), ({"bath": "lye Z"}, "knows no bath"),
        ({"material": "cheese"}, "cheese")],
)  # fmt: skip
def test_what_the_book_does_not_take_stays_beside_the_plan(client, place, book, changes, words):
    said = send(client, record(**changes))
    assert words in said
    assert (place / "gauge" / "gauge-number-records" / f"{ONE}.json").is_file()
    assert not book.exists() or kept(book) == ()


def test_a_book_in_use_is_tried_again_and_the_answers_are_safe_meanwhile(
    client, place, book, monkeypatch
):
    monkeypatch.setattr("stopout.records.opening.BUSY_S", 0.1)
    with open_book(book):
        pass
    other = sqlite3.connect(book, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    answer = client.post(f"{JOB}/record", json=record())
    assert answer.status_code == 400
    assert "in use" in answer.json()["error"]
    assert (place / "gauge" / "gauge-number-records" / f"{ONE}.json").is_file()
    other.execute("ROLLBACK")
    other.close()
    assert "Kept" in send(client, record())


def test_without_a_book_or_an_etch_the_answers_stay_beside_the_plan(place):
    with client_of(place) as client:
        assert "--no-book" in send(client, record())
    bare = {key: one for key, one in record().items() if key in ("format", "record_id", "work")}
    with client_of(place, book=place / "none.sqlite") as client:
        assert "Nothing was etched" in send(client, bare)
    assert not (place / "none.sqlite").exists()


@pytest.mark.parametrize("ident", ["", "../../x", "a/b", "ABCDEFGH", "x" * 41, 7, None])
def test_an_id_is_no_path(client, place, ident):
    assert client.post(f"{JOB}/record", json=record(record_id=ident)).status_code == 400
    assert not (place / "gauge" / "gauge-number-records").exists()


def test_records_do_not_follow_a_link_out_of_the_folder(client, place, tmp_path):
    (place / "gauge" / "gauge-number-records").symlink_to(tmp_path)
    assert client.post(f"{JOB}/record", json=record()).status_code == 404
    assert not (tmp_path / f"{ONE}.json").exists()


def test_the_sheet_that_is_served_is_made_of_its_data_and_runs_nothing_of_a_file(client, place):
    plan = with_sheet(place)
    (plan / "sheet.html").write_text("<script>alert(1)</script>")
    page = client.get("/sheet/gauge/gauge-number")
    assert f'data-sends-to="{JOB}/record"' in page.text
    assert "alert(1)" not in page.text
    # A phone may keep it, and comes back to it without the bench; all else is asked for anew.
    assert page.headers["cache-control"] == "private, no-cache"
    assert client.get("/page/sending.js").headers["cache-control"] == "no-store"
    policy = page.headers["content-security-policy"]
    assert "unsafe" not in policy
    assert "connect-src 'self'" in policy
    assert page.text.count('src="') == 1
    assert client.get("/page/sending.js").status_code == 200
    # To other devices' cameras only where they are let in.
    assert client.get(f"{JOB}/code").status_code == 404
    told = client.get(f"{JOB}/files").json()
    assert told["is_for_phones"] is False
    assert told["sheet"] is False
    (plan / "plan.json").write_text('{"job": {"job_sha256": "0"}, "verdict": {"state": "ready"}}')
    told = client.get(f"{JOB}/files").json()
    assert (told["sheet"], told["is_current"], told["state"]) == (True, False, "ready")
    assert [one["kind"] for one in told["files"]] == ["sheet", "data", "data", "data"]


def test_other_devices_get_a_code_of_the_sheets_address(place):
    with_sheet(place)
    with client_of(place, address="http://192.0.2.7:8417/?token=abc") as client:
        assert client.get(f"{JOB}/files").json()["is_for_phones"] is True
        made = client.get(f"{JOB}/code")
    assert made.headers["content-type"] == "image/svg+xml"
    assert made.text.count("<path") == 2
