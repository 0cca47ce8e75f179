"""The bench page in a real browser: an edit becomes a line of the file and a new drawing."""

from __future__ import annotations

import asyncio
import shutil
import socket
import threading
from pathlib import Path

import pytest
import uvicorn

from effort import CLICK_S
from one_chromium import NO_CHROMIUM
from sheet.browser import DESK, SMALL
from stopout.web import app as web
from stopout.web.drafts import Bench, answered

axe = pytest.importorskip("axe_playwright_python.sync_playwright")
DEMO = Path(__file__).parents[2] / "demo" / "gauge-number"
pytestmark = NO_CHROMIUM


class Here(Bench):
    """Plans in this process: what is looked at is the page."""

    def warm(self, count=2):
        """Start nothing."""

    async def ask(self, what, asked):
        """Plan on a thread."""
        return await asyncio.to_thread(answered, asked, lambda stage: None)


@pytest.fixture
def served(tmp_path, monkeypatch):
    monkeypatch.setattr(web, "Bench", Here)
    shutil.copytree(DEMO, tmp_path / "gauge", ignore=shutil.ignore_patterns("*-plan"))
    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    host = f"127.0.0.1:{listener.getsockname()[1]}"
    made = web.make_app(tmp_path, hosts={host})
    server = uvicorn.Server(uvicorn.Config(made, log_level="error"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
    thread.start()
    yield f"http://{host}/", tmp_path / "gauge" / "gauge-number.toml"
    server.should_exit = True
    thread.join()


def drawn(page, times):
    page.wait_for_selector(f"html[data-drawn='{times}']", state="attached")


def test_an_edit_becomes_a_line_of_the_file_and_a_drawing(chromium, served):
    address, job = served
    before = job.read_text()
    context = chromium.new_context(viewport=DESK, accept_downloads=True)
    context.set_default_timeout(1000 * CLICK_S)
    page, wrong = context.new_page(), []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.goto(address)
    drawn(page, 1)
    for size in (DESK, SMALL):
        page.set_viewport_size(size)
        found = axe.Axe().run(page)
        assert found.response["violations"] == [], size
        wide = page.evaluate_handle("document.documentElement").get_property("scrollWidth")
        assert wide.json_value() <= size["width"]
    page.set_viewport_size(DESK)
    paths = page.locator("#view path").count()
    assert paths >= 3
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
    page.focus("#view")
    whole = page.get_attribute("#view", "viewBox")
    for key in ("+", "ArrowRight"):
        page.keyboard.press(key)
    assert page.get_attribute("#view", "viewBox") != whole
    page.keyboard.press("0")
    assert page.get_attribute("#view", "viewBox") == whole
    page.click("#plan")
    page.wait_for_selector("#files a")
    with page.expect_download() as saved:
        page.click("#files a >> text=film-1.pdf")
    assert Path(saved.value.path()).read_bytes().startswith(b"%PDF")
    assert wrong == []
    context.close()
