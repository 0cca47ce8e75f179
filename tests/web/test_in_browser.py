"""The bench page in a real browser: an edit becomes a line of the file and a new drawing."""

from __future__ import annotations

import asyncio
import shutil
import socket
import sys
import threading
from contextlib import contextmanager
from pathlib import Path

import pytest
import uvicorn
from PIL import Image

from one_chromium import NO_CHROMIUM, visiting
from reading_aids import amiss
from records.maker import etch
from sheet.browser import DESK, SMALL
from stopout.records import open_book
from stopout.web import app as web
from stopout.web import scans
from stopout.web.drafts import Bench, answered
from web.jobs_of import NoBench, folder_in, with_sheet
from web.test_orders import FIRST, put_plan

DEMO = Path(__file__).parents[2] / "demo" / "gauge-number"
pytestmark = NO_CHROMIUM


class Here(Bench):
    """Plans in this process: what is looked at is the page."""

    def warm(self, count=2):
        """Start nothing."""

    async def ask(self, what, asked, early=lambda look: None):
        """Plan on a thread."""
        loop = asyncio.get_running_loop()
        soon = lambda look: loop.call_soon_threadsafe(early, look)  # noqa: E731
        return await asyncio.to_thread(answered, asked, lambda stage: None, soon)

    async def look(self, what, asked):
        """Read a place on a thread."""
        return await asyncio.to_thread(answered, asked, lambda stage: None)


@pytest.fixture
def served(tmp_path, monkeypatch):
    monkeypatch.setattr(web, "Bench", Here)
    shutil.copytree(DEMO, tmp_path / "gauge", ignore=shutil.ignore_patterns("*-plan"))
    with serving(tmp_path) as address:
        yield address, tmp_path / "gauge" / "gauge-number.toml"


@contextmanager
def serving(folder, **options):
    """Serve a folder on a free port."""
    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    # Who asks before the server is there waits.
    listener.listen()
    host = f"127.0.0.1:{listener.getsockname()[1]}"
    made = web.make_app(folder, hosts={host}, **options)
    server = uvicorn.Server(uvicorn.Config(made, log_level="error"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
    thread.start()
    try:
        yield f"http://{host}/"
    finally:
        server.should_exit = True
        thread.join()


def drawn(page, times):
    page.wait_for_selector(f"html[data-drawn='{times}']", state="attached")


def test_an_edit_becomes_a_line_of_the_file_and_a_drawing(tab, served):
    address, job = served
    with visiting(tab, address, DESK) as page:
        edits_become_lines(page, job)


def edits_become_lines(page, job):
    before = job.read_text()
    drawn(page, 1)
    for size in (DESK, SMALL):
        page.set_viewport_size(size)
        assert amiss(page)[0] == [], size
        wide = page.evaluate_handle("document.documentElement").get_property("scrollWidth")
        assert wide.json_value() <= size["width"]
    page.set_viewport_size(DESK)
    paths = page.locator("#view path").count()
    assert paths >= 3
    page.evaluate(
        "for (const one of document.querySelectorAll('#controls details')) one.open = true"
    )
    page.fill("#job-revision", "B")
    page.press("#job-revision", "Tab")
    drawn(page, 2)
    assert 'revision = "B"' in job.read_text()
    assert [line for line in before.splitlines() if line not in job.read_text().splitlines()] in (
        [],
        ['revision = "A"'],
    )
    page.fill("#blank-width", "4 parsecs")
    page.press("#blank-width", "Tab")
    drawn(page, 3)
    assert "parsecs" in page.inner_text("#blank-width-wrong")
    assert page.get_attribute("#blank-width", "aria-invalid") == "true"
    page.click("#undo")
    drawn(page, 4)
    # A list of two has two fields, and is written once both are filled.
    page.evaluate(
        "for (const one of document.querySelectorAll('#controls details')) one.open = true"
    )
    for at, words in (("#film-page", "200 mm"), ("#film-page-2", "280 mm")):
        page.fill(at, words)
        page.press(at, "Tab")
    drawn(page, 5)
    assert 'page = ["200 mm", "280 mm"]' in job.read_text()
    page.focus("#view")
    whole = page.get_attribute("#view", "viewBox")
    for key in ("+", "ArrowRight"):
        page.keyboard.press(key)
    assert page.get_attribute("#view", "viewBox") != whole
    page.keyboard.press("0")
    assert page.get_attribute("#view", "viewBox") == whole
    # The cross reads its place: where the middle of the plate is.
    page.wait_for_selector("#at-drawn >> text=wide")
    assert page.inner_text("#at-place").endswith("mm")
    assert "mm (" in page.inner_text("#at-made")
    page.keyboard.press("Enter")
    assert page.inner_text("#near")
    page.focus("#share")
    assert not page.is_visible("#before path >> nth=0")
    page.keyboard.press("End")
    assert page.is_visible("#before path >> nth=0")
    page.click("#plan")
    page.wait_for_selector("#files a")
    with page.expect_download() as saved:
        page.click("#files a >> text=film-1.pdf")
    assert Path(saved.value.path()).read_bytes().startswith(b"%PDF")


class NoPlan(NoBench):
    """Plans nothing, and says so."""

    async def ask(self, what, asked, early=None):
        return {"mistakes": [{"field": "", "message": "is not planned here", "line": None}]}


def changed(page, key, value):
    field = page.locator(f"#{key}")
    field.evaluate("(one) => { for (let box = one; box; box = box.parentElement) box.open = true }")
    field.fill(value)
    field.press("Tab")


def test_two_pages_on_one_job_lose_no_edit(tab, tmp_path, monkeypatch):
    monkeypatch.setattr(web, "Bench", NoPlan)
    place = folder_in(tmp_path)
    job = place / "alone.toml"
    with serving(place) as address, visiting(tab, f"{address}#alone", DESK) as one:
        other = one.context.new_page()
        other.set_viewport_size(DESK)
        other.goto(f"{address}#alone")
        for page in (one, other):
            drawn(page, 1)
        changed(one, "job-name", "One")
        drawn(one, 2)
        # The other page has not seen that yet; its edit of another key is merged.
        changed(other, "blank-width", "61 mm")
        drawn(other, 2)
        assert other.input_value("#job-name") == "One"
        # And of the same key it is told, and shown what is there.
        changed(one, "blank-width", "62 mm")
        one.wait_for_selector("#said >> text=changed elsewhere")
        drawn(one, 3)
        assert one.input_value("#blank-width") == "61 mm"
        text = job.read_text()
        assert 'name = "One"' in text
        assert 'width = "61 mm"' in text


def test_a_record_waits_in_the_browser_for_the_connection_and_arrives_once(
    tab, tmp_path, monkeypatch
):
    monkeypatch.setattr(web, "Bench", NoBench)
    place, book = folder_in(tmp_path), tmp_path / "book.sqlite"
    with_sheet(place)
    with (
        serving(place, book=book) as address,
        visiting(tab, f"{address}sheet/gauge/gauge-number", SMALL) as page,
    ):
        page.click("#view")
        page.locator(".lane[data-lane='1'] .act").click()
        page.locator(".lane[data-lane='1'] .lift").click()
        page.locator("[data-keep='piece.1.d1']").fill("58")
        page.context.set_offline(True)
        page.locator("#keep .save").click()
        page.wait_for_selector("#said >> text=No connection")
        page.locator("[data-keep='piece.1.d1']").fill("60")
        page.locator("#keep .save").click()
        page.context.set_offline(False)
        page.wait_for_selector("#said >> text=Kept in the shop book as entry 1")
        page.locator("#keep .save").click()
        page.wait_for_selector("#said >> text=In the shop book already, as entry 1")
        left = page.evaluate("Object.keys(localStorage).filter(n => n.includes('waiting'))")
        assert left == []
    with open_book(book) as opened:
        (entry,) = opened.entries()
    assert entry.record.depth_mm.value == 0.06


# What the command would do with a scan: it draws a picture and tells its words.
MADE_UP = """
import json, sys
from pathlib import Path
from PIL import Image
Image.new("L", (40, 20)).save(Path(sys.argv[-1]))
fault = {"kind": "missing", "at_mm": [17.0, 6.0]}
print(json.dumps({"words": ["taken as cleared", "   1  missing  all of opening 2"],
                  "cautions": [], "faults": [fault], "kept": None}))
"""


@pytest.mark.usefixtures("whole_pictures")
def test_orders_and_scans_by_the_page_itself(tab, tmp_path, monkeypatch):
    monkeypatch.setattr(web, "Bench", NoBench)
    monkeypatch.setattr(scans, "_RUN", (sys.executable, "-c", MADE_UP))
    place, book = folder_in(tmp_path), tmp_path / "book.sqlite"
    put_plan(place, FIRST)
    with open_book(book) as opened:
        opened.keep(etch())
    with serving(place, book=book) as address, visiting(tab, f"{address}shop", DESK) as page:
        page.locator("#jobs details[data-job='gauge/gauge-number'] summary").click()
        page.locator("[id='gauge/gauge-number-customer']").fill("the mill")
        page.locator("[id='gauge/gauge-number-curing-today']").click()
        page.wait_for_selector("#jobs >> text=coat curing since")
        page.locator("#book summary").first.click()
        page.wait_for_selector("#book img")
        assert "2 h 00 min" not in page.inner_text("#totals")
        assert "1 h 30 min" in page.inner_text("#totals")
        for size in (DESK, SMALL):
            page.set_viewport_size(size)
            assert amiss(page)[0] == [], size
            wide = page.evaluate("document.documentElement.scrollWidth")
            assert wide <= size["width"]
        page.click("#jobs a[href='/#gauge%2Fgauge-number']")
        page.set_input_files("#scan-file", DEMO / "gauge-number.svg")
        page.click("#scan-go")
        page.wait_for_selector("#scan-said >> text=is no scan")
        picture = tmp_path / "piece.png"
        Image.new("L", (9, 9)).save(picture)
        page.set_input_files("#scan-file", picture)
        page.click("#scan-go")
        page.wait_for_selector("#scan-list .fault >> text=all of opening 2")
        assert page.locator("#scan-list img").count() == 1
        assert amiss(page)[0] == []
    said = (place / "gauge" / "gauge-number.order.toml").read_text()
    assert 'customer = "the mill"' in said
    assert "curing = 20" in said
