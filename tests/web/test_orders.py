"""Jobs by their state, what was ordered, what they take together, and the book's history."""

from __future__ import annotations

import hashlib
import json

import pytest

from cli.shop_files import run
from records.maker import bath, clearing, etch, job_record, mixed
from records.test_from_bench import CONTENT
from stopout.records import open_book
from stopout.web.totals import Price, totals_of

JOB = "/api/job/gauge/gauge-number"
# By hand: 90 min and 30 min of clearing, 27.5 min of bath, 5 and 2.5 mL, 108 g.
FIRST = {
    "clearing_s": 5400.0,
    "bath_s": 1650.0,
    "paints": [{"paint": "epoxy-two-part", "colour": "black", "wet_ml": 5.0}],
    "reagents": [{"etchant": "sodium-hydroxide", "reagent_g": 108.0}],
}
SECOND = {
    "clearing_s": 1800.0,
    "bath_s": None,
    "paints": [{"paint": "epoxy-two-part", "colour": "ivory", "wet_ml": 2.5}],
    "reagents": [],
}


def listed(client, job="gauge/gauge-number"):
    return {one["job"]: one for one in client.get("/api/jobs").json()["jobs"]}[job]


def say(client, key, value, was="", status=200):
    answer = client.post(f"{JOB}/order", json={"key": key, "value": value, "was": was})
    assert answer.status_code == status, answer.text
    return answer.json()


def put_plan(place, amounts, state="ready", job="gauge/gauge-number"):
    path = place / f"{job}.toml"
    folder = path.with_name(f"{path.stem}-plan")
    folder.mkdir(exist_ok=True)
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    told = {"job": {"job_sha256": digest}, "verdict": {"state": state}, "amounts": amounts}
    (folder / "plan.json").write_text(json.dumps(told))


def test_a_job_goes_from_drawn_to_done(client, place):
    assert listed(client)["state"] == "drawn"
    put_plan(place, None, state="stopped")
    assert (listed(client)["state"], listed(client)["is_stopped"]) == ("drawn", True)
    put_plan(place, FIRST)
    assert listed(client)["state"] == "planned"
    job = place / "gauge" / "gauge-number.toml"
    before = job.read_bytes()
    job.write_bytes(before + b"\n# changed\n")
    now = listed(client)
    assert (now["state"], now["is_older"], now["amounts"]) == ("drawn", True, None)
    job.write_bytes(before)
    for state, date in (("curing", "2026-11-20"), ("etched", "2026-11-21"), ("done", "2026-11-23")):
        say(client, state, date)
        assert (listed(client)["state"], listed(client)["since"]) == (state, date)
    say(client, "done", "", was="2026-11-23")
    assert listed(client)["state"] == "etched"
    assert job.read_bytes() == before


def test_what_was_ordered_stands_beside_the_job_and_is_no_job_itself(client, place):
    say(client, "customer", "the tide mill's volunteers")
    say(client, "words", 'deep enough "to feel"\nthrough gloves')
    say(client, "due", "2026-12-01")
    file = place / "gauge" / "gauge-number.order.toml"
    file.write_text(file.read_text() + "# by hand\nshelf = 3\n")
    say(client, "customer", "the mill", was="the tide mill's volunteers")
    assert "# by hand\nshelf = 3\n" in file.read_text()
    assert "due = 2026-12-01" in file.read_text()
    kept = listed(client)["order"]
    assert kept == {"customer": "the mill", "words": 'deep enough "to feel"\nthrough gloves',
                    "due": "2026-12-01"}  # fmt: skip
    jobs = client.get("/api/jobs").json()["jobs"]
    assert {one["job"] for one in jobs} == {"alone", "gauge/gauge-number"}


def test_two_browsers_on_one_order_overwrite_nothing(client):
    say(client, "customer", "one")
    assert "changed elsewhere" in say(client, "customer", "other", status=409)["error"]
    assert listed(client)["order"]["customer"] == "one"


@pytest.mark.parametrize(
    ("key", "value"),
    [("price", "1"), ("due", "soon"), ("due", "2026-13-01"), ("customer", "x" * 201),
        ("words", 3), (["due"], "2026-12-01")],
)  # fmt: skip
def test_an_order_takes_what_it_knows(client, place, key, value):
    say(client, key, value, status=400)
    assert not (place / "gauge" / "gauge-number.order.toml").exists()


def test_an_order_that_is_damaged_or_led_out_is_left_alone(client, place):
    file = place / "gauge" / "gauge-number.order.toml"
    file.write_text("customer = [")
    assert listed(client)["order"] == {}
    say(client, "customer", "one", status=400)
    assert file.read_text() == "customer = ["
    file.unlink()
    file.symlink_to(place.parent / "secret.toml")
    say(client, "customer", "one", status=404)


def test_a_record_that_arrives_says_etched(client, place):
    client.post(f"{JOB}/record", json={**CONTENT, "record_id": "0123456789abcdef"})
    assert listed(client)["order"] == {"etched": "2026-11-26"}


def test_totals_and_costs_are_as_by_hand():
    prices = {
        "clearing": Price(amount=24.0, currency="EUR", per="h"),
        "epoxy-two-part": Price(amount=40.0, currency="EUR", per="L"),
        "sodium-hydroxide": Price(amount=5.0, currency="tokens", per="kg"),
        # By another measure than what is counted.
        "bath": Price(amount=1.0, currency="EUR", per="kg"),
    }
    told = totals_of([FIRST, SECOND], prices)
    rows = {row["name"]: (row["amount"], row["unit"], row["cost"]) for row in told["rows"]}
    assert rows == {
        "clearing": (120.0, "min", pytest.approx(48.0)),
        "bath": (27.5, "min", None),
        "epoxy-two-part": (7.5, "mL", pytest.approx(0.3)),
        "sodium-hydroxide": (108.0, "g", pytest.approx(0.54)),
    }
    assert told["sums"] == {"EUR": pytest.approx(48.3), "tokens": pytest.approx(0.54)}
    assert told["unpriced"] == ["bath"]


def test_without_a_price_no_sum_of_money_is_told(client, place, book, capsys, monkeypatch):
    put_plan(place, FIRST)
    told = client.get("/api/totals?state=planned").json()
    assert (told["jobs"], told["counted"], told["sums"], told["unpriced"]) == (1, 1, {}, [])
    assert client.get("/api/totals?state=done").json()["rows"] == []
    assert client.get("/api/totals?state=sold").status_code == 400

    def price(name, per):
        figures = ["amount=4.5", "currency=EUR", f"per={per}"]
        options = [word for one in figures for word in ("--set", one)]
        return run(capsys, monkeypatch, "shop", "price", "add", name, *options, "--book", book)

    assert price("sodium-hydroxide", "kg")[0] == 0
    assert price("sodium-chloride", "kg")[0] == 0
    assert "per mL or L" in price("epoxy-two-part", "kg")[2]
    assert "nothing is counted as tea" in price("tea", "kg")[2]
    told = client.get("/api/totals").json()
    assert told["sums"] == {"EUR": pytest.approx(0.486)}
    assert (told["jobs"], told["counted"]) == (2, 1)


def test_the_books_entries_and_their_history_are_those_of_the_command(client, book):
    assert client.get("/api/book").json()["entries"] == []
    assert client.get("/api/book/1/history").status_code == 400
    with open_book(book) as opened:
        for one in (etch(), job_record(), clearing()):
            opened.keep(one)
        opened.keep_all([(bath(), (mixed(),))])
    entries = client.get("/api/book").json()["entries"]
    assert [one["id"] for one in entries] == [2, 1, 4, 3]
    assert "Valve tag: 0.06 mm in 30 min" in entries[0]["words"]
    picture = client.get("/api/book/2/history")
    assert picture.content.startswith(b"\x89PNG")
    assert client.get("/api/book/9/history").status_code == 400
    assert client.get("/shop").status_code == 200
