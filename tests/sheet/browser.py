"""One Chromium for all tests, with its clock in the test's hand, and pages that must stay whole."""

from __future__ import annotations

import pytest

from effort import CLICK_S
from one_chromium import NO_CHROMIUM  # noqa: F401
from sheet.sheet_jobs import files

SMALL, PHONE, DESK = (
    {"width": 360, "height": 740},
    {"width": 412, "height": 880},
    {"width": 1280, "height": 800},
)
# The clock runs from its setting until it is stopped: an hour apart, on however slow a machine.
SET, MORNING = "2026-11-26T08:00:00", "2026-11-26T09:00:01"


@pytest.fixture(scope="session")
def address(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sheets")

    def of(name):
        path = folder / f"{name}.html"
        path.write_bytes(files(name)["sheet.html"])
        return path.as_uri()

    return of


@pytest.fixture
def opened(chromium, address):
    """Opens a page at a size, its clock standing still until the test moves it.

    Whatever goes wrong in it or leaves it fails the test.
    """
    contexts, wrong = [], []

    def open_page(name="tag", size=SMALL, **options):
        context = chromium.new_context(viewport=size, accept_downloads=True, **options)
        contexts.append(context)
        context.set_default_timeout(1000 * CLICK_S)
        context.clock.install(time=SET)
        context.clock.pause_at(MORNING)
        return of(context, name)

    def of(context, name="tag"):
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

    open_page.another = of
    yield open_page
    for context in contexts:
        context.close()
    assert wrong == []


def later(page, seconds):
    """The clock goes on at once, as over a sleep, then runs long enough to be drawn."""
    page.clock.fast_forward(1000 * seconds - 1000)
    page.clock.run_for(1000)


def sign_what_is_here(page):
    """Tick and sign the hold of the screen, where there is one."""
    for box in page.locator(".unit.here .hold input[type=checkbox]").all():
        box.check()
    for name in page.locator(".unit.here .hold input[type=text]").all():
        name.fill("M. R., 9:15")


def walk_to(page, selector):
    """Open the page at the screen on which something stands, as it opens after a reload."""
    page.evaluate(
        """(selector) => {
            const unit = document.querySelector(`.unit[data-screen] ${selector}`).closest(".unit");
            sessionStorage.setItem("stopout-sheet-" + document.body.dataset.key,
                JSON.stringify({ at: Number(unit.dataset.screen), walking: true }));
        }""",
        selector,
    )
    page.reload()
    assert page.locator(f".unit.here {selector}").count() > 0


def place_of(page):
    """Which screen, of how many."""
    at, most = page.locator("#place").inner_text().split(" of ")
    return int(at), int(most)
