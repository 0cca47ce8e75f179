"""The page's answers, asked as a browser and as a hostile client would ask."""

from __future__ import annotations

import asyncio
import shutil
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from stopout.library import plans
from stopout.planning.memory import Memory
from stopout.web import app as web
from stopout.web.drafts import Bench, answered
from stopout.web.place import Place, write_beside
from web.jobs_of import DEMO, HOST, NoBench, client_of, folder_in


@pytest.fixture
def folder(tmp_path):
    return folder_in(tmp_path)


@pytest.fixture
def client(folder, monkeypatch):
    monkeypatch.setattr(web, "Bench", NoBench)
    with client_of(folder) as asked:
        yield asked


def test_the_page_and_its_jobs(client):
    page = client.get("/")
    assert "text/html" in page.headers["content-type"]
    assert "unsafe" not in page.headers["content-security-policy"]
    jobs = client.get("/api/jobs").json()["jobs"]
    assert {one["job"] for one in jobs} == {"alone", "gauge/gauge-number"}
    assert {one["state"] for one in jobs} == {"drawn"}
    for name in ("page.js", "page.css"):
        assert client.get(f"/page/{name}").status_code == 200


def test_controls_come_from_what_defines_the_job_file(client):
    from stopout.jobs.described.listing import job_keys

    made = client.get("/api/sections").json()["sections"]
    shown = {(key["table"], key["name"]) for section in made for table in section["tables"]
             for key in table["keys"]}  # fmt: skip
    assert shown == {(key.table, key.name) for key in job_keys()}


def edit(client, now, key, value, table=("blank",), **more):
    said = {"sha256": now["sha256"], "table": list(table), "key": key, "value": value, **more}
    return client.post("/api/job/alone/edit", json=said)


def test_an_edit_is_written_undone_and_redone(client, folder):
    before = (folder / "alone.toml").read_text()
    now = client.get("/api/job/alone").json()
    after = edit(client, now, "width", "31 mm").json()
    assert after["values"]["blank"]["width"] == "31 mm"
    again = edit(client, after, "height", "17 mm").json()
    assert client.post("/api/job/alone/back/undo", json={}).json()["sha256"] == after["sha256"]
    assert client.post("/api/job/alone/back/undo", json={}).json()["text"] == before
    assert client.post("/api/job/alone/back/redo", json={}).json()["sha256"] == after["sha256"]
    assert client.post("/api/job/alone/back/redo", json={}).json()["sha256"] == again["sha256"]
    assert (folder / "alone.toml").read_text() == again["text"]


def test_mistakes_stand_at_their_key_in_the_words_of_the_command_line(client):
    now = client.get("/api/job/alone").json()
    after = edit(client, now, "width", "3 parsecs").json()
    (mistake,) = after["mistakes"]
    assert mistake["field"] == "blank.width"
    assert "parsecs" in mistake["message"]


def test_two_browsers_on_one_job_lose_no_edit(client, folder):
    one = other = client.get("/api/job/alone").json()
    width, height = (one["values"]["blank"][key] for key in ("width", "height"))
    assert edit(client, one, "width", "31 mm", was=width).status_code == 200
    # Another key of an older text: merged. The same key: told, and nothing is written.
    merged = edit(client, other, "height", "17 mm", was=height)
    assert merged.status_code == 200
    assert merged.json()["values"]["blank"]["width"] == "31 mm"
    assert edit(client, other, "width", "32 mm", was=width).status_code == 409
    path = folder / "alone.toml"
    path.write_text(path.read_text().replace("31 mm", "33 mm"))
    assert client.post("/api/job/alone/back/undo", json={}).status_code == 409
    assert "33 mm" in path.read_text()


@pytest.mark.parametrize(
    "job",
    ["led-out", "../secret", "..%2Fsecret", "%2e%2e/secret", "gauge/../../secret", "/etc/passwd",
        "gauge//gauge-number", "nothing", "con.", ".hidden"],
)  # fmt: skip
def test_no_name_leads_out_of_the_folder(client, job):
    for way in ("", "/files", "/file/plan.json", "/file/..%2F..%2Fsecret.toml"):
        answer = client.get(f"/api/job/{job}{way}")
        assert answer.status_code in (404, 307, 400), (job, way)
        assert "treasure" not in answer.text


def test_another_site_and_another_host_change_and_read_nothing(client, folder):
    before = (folder / "alone.toml").read_bytes()
    now = client.get("/api/job/alone").json()
    said = {"sha256": now["sha256"], "table": ["blank"], "key": "width", "value": "1 mm"}
    for headers in ({"origin": "http://elsewhere.example"}, {"origin": "null"}, {"origin": ""}):
        assert client.post("/api/job/alone/edit", json=said, headers=headers).status_code == 403
    for host in ("elsewhere.example", "127.0.0.1", "127.0.0.1:9", f"{HOST}.example"):
        assert client.get("/api/jobs", headers={"host": host}).status_code == 421
    assert (folder / "alone.toml").read_bytes() == before


def test_in_the_network_the_address_needs_its_token(folder, monkeypatch):
    monkeypatch.setattr(web, "Bench", NoBench)
    token = web.new_token()
    made = web.make_app(folder, hosts={HOST}, token=token)
    with TestClient(made, base_url=f"http://{HOST}") as client:
        assert client.get("/").status_code == 403
        assert client.get("/?token=" + token[:-1]).status_code == 403
        assert client.get("/?token=" + token).status_code == 200
        # From here on the cookie says it.
        assert client.get("/api/jobs").status_code == 200
        # Any address of this machine by which it is reached, and no other name.
        for host, status in (("192.0.2.7:8417", 200), ("elsewhere.example:8417", 421)):
            client.base_url = "http://192.0.2.7:8417"
            answer = client.get(f"/?token={token}", headers={"host": host})
            assert answer.status_code == status
    with TestClient(web.make_app(folder, hosts={HOST}), base_url="http://192.0.2.7:8417") as client:
        assert client.get("/").status_code == 421
    assert len(token) >= 20
    assert web.new_token() != token


def upload(client, name, data=b"<svg/>", **fields):
    return client.post("/api/job/alone/upload", files={"file": (name, data)}, data=fields)


def test_uploads_are_bounded_named_and_replace_nothing_unasked(client, folder):
    assert upload(client, "logo.svg").json() == {"name": "logo.svg"}
    assert upload(client, "logo.svg", b"other").status_code == 409
    assert (folder / "logo.svg").read_bytes() == b"<svg/>"
    assert upload(client, "logo.svg", b"other", replace="yes").status_code == 200
    for name in ("a.exe", "job.toml", ".svg", "..\\x.svg.toml"):
        assert upload(client, name).status_code in (400, 404), name
    assert upload(client, "../../up.svg").json() == {"name": "up.svg"}
    assert not (folder.parent / "up.svg").exists()
    long = {"content-length": str(10**9)}
    assert client.post("/api/job/alone/upload", content=b"x", headers=long).status_code == 413


def test_requests_that_say_nothing_are_answered(client):
    for body in (b"", b"[]", b"{", b'{"table": 3}', b'{"table": [], "key": 4}', b"[" * 100_000):
        answer = client.post("/api/job/alone/edit", content=body)
        assert answer.status_code == 400, body[:20]


def test_a_new_job_is_made_from_a_starter_and_takes_no_name_that_is_there(client, folder):
    made = client.post("/api/new", json={"name": "bell", "kind": "plate"}).json()
    assert made == {"job": "bell/job"}
    assert (folder / "bell" / "artwork.svg").is_file()
    names = {one["name"] for one in client.get("/api/jobs").json()["jobs"]}
    assert "bell" in names
    for name in ("bell", "../bell", "", "a/b", ".."):
        assert client.post("/api/new", json={"name": name, "kind": "plate"}).status_code == 400


def test_a_new_job_may_be_a_copy_with_the_files_that_it_names(client, folder):
    before = (folder / "gauge" / "gauge-number.toml").read_text()
    (folder / "gauge" / "of-no-use.svg").write_text("<svg/>")
    made = client.post("/api/new", json={"name": "second", "copy": "gauge/gauge-number"})
    assert made.json() == {"job": "second/job"}
    names = {file.name for file in (folder / "second").iterdir()}
    assert names == {"job.toml", "gauge-number.svg"}
    after = (folder / "second" / "job.toml").read_text()
    changed = [line for line in after.splitlines() if line not in before.splitlines()]
    assert changed == ['name = "second"']
    for of in ("led-out", "../secret", "nothing"):
        answer = client.post("/api/new", json={"name": "third", "copy": of})
        assert answer.status_code == 404
    assert not (folder / "third").exists()


def test_a_shops_tables_are_no_job(client, folder):
    (folder / "our-tables.toml").write_text("[[pair]]\nname = 'x'\n")
    assert "our-tables" not in {one["job"] for one in client.get("/api/jobs").json()["jobs"]}


@pytest.mark.parametrize("at", [None, [1], [1, "2"], [True, 1], [1e9, 0], {"x": 1}])
def test_a_place_is_two_numbers(client, at):
    assert client.post("/api/job/alone/at", json={"at": at}).status_code == 400


def test_a_draft_and_a_plan_answer_in_plain_data(tmp_path, monkeypatch):
    # Whatever this process has drafted before: of what is known there is no first look.
    monkeypatch.setattr(plans, "_MEMORY", Memory())
    shutil.copytree(DEMO / "gauge-number", tmp_path / "g", ignore=shutil.ignore_patterns("*-plan"))
    path = tmp_path / "g" / "gauge-number.toml"
    stages, early = [], []
    asked = {"path": str(path), "book": None, "draft": True}
    made = answered(asked, stages.append, early.append)["view"]
    assert made["draft"]
    (look,) = (one["glimpse"] for one in early)
    for view in (look, made):
        assert set(view["ways"]) == {"seen", "worked", "finished"}
        named = {one["shape"] for way in view["ways"].values() for side in way.values()
                 for one in side}  # fmt: skip
        assert named == set(view["shapes"])
    # What the page has is not sent again; the first look showed the drawing itself already.
    again = answered({**asked, "has": [*look["shapes"]]}, stages.append)["view"]
    assert set(again["shapes"]) == set(made["shapes"]) - set(look["shapes"])
    assert len(again["shapes"]) < len(made["shapes"])
    assert stages
    assert not (tmp_path / "g" / "gauge-number-plan").exists()
    path.write_text(path.read_text().replace("gauge-number.svg", "gone.svg"))
    told = answered({"path": str(path), "book": None, "draft": True}, stages.append)
    assert told["mistakes"][0]["field"] == "artwork.file"


class FakeWorker:
    """A process that answers when it is told to."""

    def __init__(self):
        self.answers, self.sent, self.is_ended = [], [], False
        self.process = self.pipe = self
        self.pid, self.holds = None, ""

    def interrupt(self):
        self.end()

    def send(self, asked):
        self.sent.append(asked)

    def poll(self, seconds):
        if self.is_ended:
            raise EOFError
        return bool(self.answers)

    def recv(self):
        return self.answers.pop(0)

    def is_alive(self):
        return not self.is_ended

    def end(self):
        self.is_ended = True


def test_a_newer_edit_ends_the_older_draft():
    class Fakes(Bench):
        def warm(self, count=2):
            while len(self.spare) < count:
                self.spare.append(FakeWorker())

    async def both():
        bench = Fakes()
        older = asyncio.create_task(bench.ask("draft a", {"n": 1}))
        await asyncio.sleep(0)
        first = bench.busy["draft a"]
        newer = asyncio.create_task(bench.ask("draft a", {"n": 2}))
        await older
        assert first.is_ended
        while "draft a" not in bench.busy:
            await asyncio.sleep(0)
        bench.busy["draft a"].answers.append({"view": 2})
        return await older, await newer

    # On a thread of its own: a browser of other tests may hold this one's loop.
    with ThreadPoolExecutor() as pool:
        assert pool.submit(lambda: asyncio.run(both())).result() == (None, {"view": 2})


def test_a_save_that_is_killed_leaves_the_old_file(tmp_path, monkeypatch):
    path = tmp_path / "job.toml"
    path.write_bytes(b"[job]")

    def dies(self, target):
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "replace", dies)
    with pytest.raises(KeyboardInterrupt):
        write_beside(path, b"new")
    assert path.read_bytes() == b"[job]"
    assert [item.name for item in tmp_path.iterdir()] == ["job.toml"]
    assert Place(tmp_path).jobs() == ["job"]
