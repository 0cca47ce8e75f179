"""Scans dropped in: read by the command, kept with words and picture; the server stays up."""

from __future__ import annotations

import asyncio
import json
import shutil
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from importlib.resources import files

import pytest

from cli.test_inspect import cleared, etched, plan  # noqa: F401
from stopout.web import scans
from web.jobs_of import client_of

JOB = "/api/job/gauge/gauge-number"


def put_plan(place, folder):
    shutil.copytree(folder, place / "gauge" / "gauge-number-plan")


def drop(client, data, name="tag.png", **said):
    fields = {"what": "inspect", **said}
    return client.post(f"{JOB}/scan", files={"file": (name, data)}, data=fields)


def test_a_scan_of_the_piece_is_told_drawn_and_kept_as_the_command_does(
    place,
    plan,  # noqa: F811
    etched,  # noqa: F811
):
    put_plan(place, plan[0])
    book = place / "book.sqlite"
    with client_of(place, book=book) as client:
        assert client.get(f"{JOB}/scans").json()["can_inspect"] is True
        known = {"depth": "0.06mm", "time": "30min", "stage": "etched", "keep": "yes"}
        told = drop(client, etched.read_bytes(), **known).json()
        assert "error" not in told, told
        assert any(line.startswith("undercut: 6") for line in told["words"])
        assert told["kept"]["id"] == 1
        picture = client.get(f"{JOB}/scan/{told['picture']}")
        assert picture.content.startswith(b"\x89PNG")
        assert client.get(f"{JOB}/scans").json()["scans"] == [told]
    kept = place / "gauge" / "gauge-number-scans"
    assert (kept / "tag.png").read_bytes() == etched.read_bytes()
    assert len(json.loads((kept / "tag.json").read_text())["offsets"]) > 20


def test_what_the_command_calls_its_options_has_the_names_of_the_page():
    page = (files("stopout.web") / "page" / "index.html").read_text(encoding="utf-8")
    for option, label in scans._CALLED.items():
        assert f"> {label}<" in page or f">{label}" in page, label
        assert scans._called(f"give --{option} 600dpi") == f'give "{label}" 600dpi'
    typed = "to clear it: stopout rework gauge-plan --box 1,2,3,4; see --tone"
    assert scans._called(typed) == typed.replace("--tone", '"Grey levels"')


@pytest.mark.parametrize(
    ("name", "said", "words"),
    [("tag.svg", {}, "no scan"), ("tag.png", {"what": "rework"}, "one of a coupon"),
        ("tag.png", {"what": "read", "coupon": "../.."}, "no such coupon"),
        ("tag.png", {"resolution": "1; rm -rf"}, "no value"),
        ("tag.png", {"stage": "--book=/x"}, "no value"),
        ("tag.png", {"keep": "yes"}, "--no-book"),
        ("tag.png", {}, "could not be read: made up")],
)  # fmt: skip
def test_what_is_refused_leaves_nothing(place, monkeypatch, plan, name, said, words):  # noqa: F811
    put_plan(place, plan[0])
    made_up = "import sys; sys.exit('could not be read: made up')"
    monkeypatch.setattr(scans, "_RUN", (sys.executable, "-c", made_up))
    with client_of(place) as client:
        answer = drop(client, b"x", name, **said)
        assert answer.status_code == 400
        assert words in answer.json()["error"]
    assert list(place.glob("gauge/gauge-number-scans/*")) == []


@pytest.mark.parametrize("code", ["import os; os.abort()", "print('no json')"])
def test_a_reading_that_crashes_leaves_the_server_up(place, monkeypatch, plan, code):  # noqa: F811
    put_plan(place, plan[0])
    monkeypatch.setattr(scans, "_RUN", (sys.executable, "-c", code))
    with client_of(place) as client:
        answer = drop(client, b"x")
        assert answer.status_code == 400
        assert "could not be read" in answer.json()["error"]
        assert client.get(f"{JOB}/scans").json()["is_reading"] is False
    assert list(place.glob("gauge/gauge-number-scans/*")) == []


def test_a_reading_can_be_stopped_and_only_one_of_a_job_runs(
    place,
    monkeypatch,
    plan,  # noqa: F811
):
    put_plan(place, plan[0])
    monkeypatch.setattr(scans, "_RUN", (sys.executable, "-c", "import time; time.sleep(600)"))
    answers = []
    with client_of(place) as client:
        first = threading.Thread(target=lambda: answers.append(drop(client, b"x")))
        first.start()
        while not client.get(f"{JOB}/scans").json()["is_reading"]:
            time.sleep(0.02)
        assert "being read" in drop(client, b"y").json()["error"]
        assert client.post(f"{JOB}/stop-reading", json={}).json() == {"stopped": True}
        first.join()
        assert answers[0].json() == {"stopped": True}
        assert client.post(f"{JOB}/stop-reading", json={}).json() == {"stopped": False}
    assert list(place.glob("gauge/gauge-number-scans/*")) == []


def test_pictures_are_those_of_the_scans_folder_alone(place):
    folder = place / "gauge" / "gauge-number-scans"
    folder.mkdir()
    (folder / "out.png").symlink_to(place.parent / "secret.toml")
    (folder / "x.html").write_text("<script>")
    with client_of(place) as client:
        for name in ("out.png", "x.html", "..%2Fgauge-number.svg", ".png", "none.png"):
            assert client.get(f"{JOB}/scan/{name}").status_code == 404, name


def test_a_body_that_does_not_come_is_not_waited_for(monkeypatch):
    from stopout.web import guard

    monkeypatch.setattr(guard, "_MOST_S", 0.05)

    async def never():
        await asyncio.Event().wait()

    # On a thread of its own: a browser of other tests may hold this one's loop.
    with ThreadPoolExecutor() as pool:
        told = pool.submit(lambda: asyncio.run(guard._bounded(never)())).result()
    assert told == {"type": "http.disconnect"}
