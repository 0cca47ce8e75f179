"""The page for a phone in a real browser: ticks, timers, saving, width, reading aids.

Needs Chromium on the machine; without it these tests are skipped, and say so.
"""

from __future__ import annotations

import json
import re
import shutil

import pytest

from sheet.sheet_jobs import files
from stopout.records import job_record_of

playwright = pytest.importorskip("playwright.sync_api")
axe = pytest.importorskip("axe_playwright_python.sync_playwright")

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PHONE, DESK = {"width": 360, "height": 740}, {"width": 1280, "height": 800}

pytestmark = pytest.mark.skipif(
    CHROMIUM is None, reason="no Chromium on this machine: install the package chromium"
)


@pytest.fixture(scope="module")
def chromium():
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sheets")

    def of(name):
        path = folder / f"{name}.html"
        path.write_bytes(files(name)["sheet.html"])
        return path.as_uri()

    return of


@pytest.fixture
def opened(chromium, address):
    """Opens a page at a size; whatever goes wrong in it or leaves it fails the test."""
    contexts, wrong = [], []

    def open_page(name="tag", size=PHONE, **options):
        context = chromium.new_context(viewport=size, accept_downloads=True, **options)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda said: wrong.append(said.text))
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on(
            "request",
            lambda request: (
                None if request.url.startswith(("file:", "blob:")) else wrong.append(request.url)
            ),
        )
        page.goto(address(name))
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert wrong == []


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("name", ["tag", "sign", "stopped"])
def test_nothing_has_to_be_moved_sideways(opened, name, size):
    page = opened(name, size)
    wide = "document.documentElement.scrollWidth"
    assert page.evaluate(wide) <= size["width"]
    if name != "stopped":
        page.click("#view")
        assert page.evaluate(wide) <= size["width"]


def test_ticks_and_values_survive_a_reload(opened):
    page = opened()
    page.locator("article.step .tick input").nth(2).check()
    page.locator("article.step input[type=text]").first.fill("1.49")
    page.reload()
    assert page.locator("article.step .tick input").nth(2).is_checked()
    assert page.locator("article.step input[type=text]").first.input_value() == "1.49"
    assert not page.locator("article.step .tick input").nth(1).is_checked()


def test_a_hold_lets_nobody_on_until_checked_and_signed(opened):
    page = opened()
    page.click("#view")
    while page.locator(".unit.here .hold").count() == 0:
        page.click("#next")
    assert page.locator("#next").is_disabled()
    for box in page.locator(".unit.here input[type=checkbox]").all():
        box.check()
    assert page.locator("#next").is_disabled()
    for name in page.locator(".unit.here input[type=text]").all():
        name.fill("M. R., 9:15")
    page.click("#next")
    assert page.locator(".unit.here .step").count() == 1
    assert page.locator(".unit:visible").count() == 1


def test_one_step_at_a_time_goes_on_after_a_reload_where_it_was(opened):
    page = opened()
    page.evaluate("document.querySelectorAll('.hold input[type=checkbox]').forEach(b => b.click())")
    for name in page.locator(".hold input[type=text]").all():
        name.fill("M. R.")
    page.click("#view")
    for _ in range(3):
        page.click("#next")
    place = page.locator("#place").inner_text()
    page.reload()
    assert page.locator("#place").inner_text() == place
    assert place.startswith("4 of ")


def test_a_timer_counts_on_through_reload_and_sleep_and_past_its_time(opened):
    page = opened()
    page.clock.install()
    page.reload()
    timer = page.locator(".timer").first
    target = int(timer.get_attribute("data-target"))
    timer.locator(".start").click()
    page.clock.run_for(5000)
    assert timer.locator(".clock").inner_text() in ("0:04", "0:05")
    assert page.locator("#running a").count() == 1
    page.reload()
    # Asleep: no tick of the page's own runs, only the clock goes on.
    page.clock.fast_forward((target + 55) * 1000)
    page.clock.run_for(1000)
    timer = page.locator(".timer").first
    over = timer.locator(".word").inner_text()
    seconds = re.search(r"OVER by (0:59|1:0\d)", over)
    assert seconds, over
    assert "over" in timer.get_attribute("class")
    timer.locator(".start").click()
    page.clock.run_for(60_000)
    assert timer.locator(".word").inner_text() == over.removesuffix(": take it out")
    assert "started" in timer.locator(".log").inner_text()
    assert "stopped" in timer.locator(".log").inner_text()


def test_what_was_written_is_saved_as_json(opened):
    page = opened()
    page.locator("article.step .tick input").first.check()
    page.locator("article.step input[type=text]").first.fill("12.00")
    with page.expect_download() as loading:
        page.click("#save-all")
    saved = json.loads(loading.value.path().read_text(encoding="utf-8"))
    assert saved["format"] == "stopout-bench-1"
    assert saved["values"][0]["value"] == "12.00"
    assert len(saved["ticked"]) == 1
    assert json.loads(page.locator("#text").input_value()) == saved


def test_the_result_is_saved_as_a_record_in_mm_and_seconds(opened):
    page = opened()
    for key, value in (
        ("depth_um", "58,5"), ("depth_sd_um", "2"), ("time_min", "27.5"), ("undercut_um", "61"),
        ("bath", "lye-1"),
    ):  # fmt: skip
        page.fill(f"[data-result={key}]", value)
    with page.expect_download() as loading:
        page.click("#save-record")
    record = json.loads(loading.value.path().read_text(encoding="utf-8"))
    assert record["format"] == "stopout-record-1"
    assert record["depth_mm"] == [0.0585, 0.002]
    assert record["time_s"] == 1650
    assert record["undercut_mm"] == 0.061
    assert record["bath"] == "lye-1"
    assert record["material"] == "aluminium"
    assert record["etchant"] == "sodium-hydroxide"
    # The shop book takes the file as it is.
    kept = job_record_of(json.dumps(record), where="record.json")
    assert kept.depth_mm.value == pytest.approx(0.0585)


def test_a_step_that_is_ticked_stops_its_timer(opened):
    page = opened()
    step = page.locator("article.step:has(.timer)").first
    step.locator(".start").click()
    step.locator(".tick input").check()
    assert "stopped with the step" in step.locator(".log").inner_text()
    assert page.locator("#running a").count() == 0


def test_a_word_where_a_number_is_due_is_told_and_nothing_is_saved(opened):
    page = opened()
    page.on("dialog", lambda dialog: dialog.accept())
    page.fill("[data-result=depth_um]", "about 60")
    page.fill("[data-result=time_min]", "27")
    page.click("#save-record")
    assert "a number is due" in page.locator("#said").inner_text()


@pytest.mark.parametrize(
    ("theme", "walking"), [("light", False), ("dark", True)], ids=["whole-light", "steps-dark"]
)
def test_reading_aids_find_nothing_amiss_and_text_stands_out_seven_to_one(opened, theme, walking):
    """The rules of a published engine, WCAG 2 level AAA contrast (7:1) among them."""
    page = opened("tag", PHONE, color_scheme=theme)
    if walking:
        page.click("#view")
    found = axe.Axe().run(page, options={"rules": {"color-contrast-enhanced": {"enabled": True}}})
    assert [entry["id"] for entry in found.response["violations"]] == []


def test_what_is_pressed_with_gloves_is_large(opened):
    """15 mm at the usual 96 dots per inch are 57 px; ticks are pressed with their whole line."""
    page = opened()
    page.click("#view")
    assert page.locator("#next").bounding_box()["height"] >= 57
    for tick in page.locator(".unit.here .tick").all():
        assert tick.bounding_box()["height"] >= 57
