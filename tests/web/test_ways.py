"""Every way of the server is guarded alike; how far a plan is."""

from __future__ import annotations

import json

import pytest
from starlette.routing import Route
from starlette.testclient import TestClient

from stopout.web import app as web
from stopout.web.drafts import _Run
from web.jobs_of import HOST, NoBench, client_of

JOB = "/api/job/gauge/gauge-number"


def ways(place):
    """Each way with its method, names put in."""
    made = web.make_app(place, hosts={HOST})
    for route in made.app.routes:
        if isinstance(route, Route):
            way = route.path.replace("{job:path}", "gauge/gauge-number").replace("{way}", "undo")
            way = way.replace("{name}", "plan.json").replace("{number:int}", "1")
            yield ("POST" if "POST" in route.methods else "GET"), way


def test_every_way_asks_for_host_token_and_origin(place):
    token = web.new_token()
    made = web.make_app(place, hosts={HOST}, token=token)
    asked = list(ways(place))
    assert len(asked) > 12
    with TestClient(made, base_url=f"http://{HOST}") as client:
        for method, way in asked:
            assert client.request(method, way).status_code == 403, way
            known = {"cookie": f"stopout_bench={token}"}
            other = {**known, "host": "elsewhere.example"}
            assert client.request(method, way, headers=other).status_code == 421, way
            if method == "POST":
                for origin in ("http://elsewhere.example", "null", f"https://{HOST}"):
                    headers = {**known, "origin": origin}
                    assert client.post(way, headers=headers).status_code == 403, way


@pytest.mark.parametrize("job", ["led-out", "..%2Fsecret", "%2e%2e/secret", "nothing", ".hidden"])
def test_no_way_leads_out_of_the_folder(place, job):
    with client_of(place) as client:
        for method, way in ways(place):
            if "gauge" in way:
                answer = client.request(method, way.replace("gauge/gauge-number", job), json={})
                assert answer.status_code in (200, 307, 400, 404), way
                assert "treasure" not in answer.text
                if answer.status_code == 200:
                    assert way.endswith(("/stop", "/stop-reading", "/progress"))


def test_a_plan_in_work_tells_its_stage_and_what_is_left_by_the_last_time(place, monkeypatch):
    monkeypatch.setattr("stopout.web.plans._LOOK_S", 0.01)
    monkeypatch.setattr("stopout.web.plans._PATIENCE_S", 0.05)
    told = [
        {"stage": "reading", "spent_s": 0, "left_s": None},
        {"stage": "reading", "spent_s": 0, "left_s": None},
        {"stage": "writing", "spent_s": 3, "left_s": 4},
        None,
    ]
    monkeypatch.setattr(NoBench, "progress", lambda self, what: told.pop(0) if told else None)
    with client_of(place) as client:
        lines = client.get(f"{JOB}/progress").text.split("\n\n")
        assert [json.loads(line[5:])["stage"] for line in lines[:2]] == ["reading", "writing"]
        assert lines[2].startswith("event: end")
        # Nothing is planned: it ends by itself.
        assert client.get(f"{JOB}/progress").text.startswith("event: end")


def test_what_is_left_is_what_the_last_run_took_from_the_same_point(monkeypatch):
    last = _Run([("reading", 100.0), ("planning", 102.0), ("writing", 110.0)], ended=115.0)
    assert last.left_s("reading", 0.5) == pytest.approx(14.5)
    assert last.left_s("planning", 3.0) == pytest.approx(10.0)
    # A stage that takes longer than it did says nothing of the next ones.
    assert last.left_s("planning", 30.0) == pytest.approx(5.0)
    assert last.left_s("writing", 30.0) == 0.0
    assert last.left_s("another", 1.0) is None
    bench = NoBench()
    assert bench.progress("plan a") is None
    monkeypatch.setattr("stopout.web.drafts.time.monotonic", lambda: 12.0)
    bench.runs["plan a"] = _Run([("", 10.0), ("planning", 12.0)])
    assert bench.progress("plan a") == {"stage": "planning", "spent_s": 2, "left_s": None}
    bench.last["plan a"] = last
    assert bench.progress("plan a")["left_s"] == 13
