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
    (folder / "empty.html").write_text("<!doctype html><title>Nothing</title>")

    def of(name):
        path = folder / f"{name}.html"
        if not path.exists():
            path.write_bytes(files(name)["sheet.html"])
        return path.as_uri()

    return of


@pytest.fixture(scope="session")
def kept_page(chromium, address):
    """One page for all tests, with what it and others of its context said and asked for amiss."""
    context = chromium.new_context(accept_downloads=True)
    context.set_default_timeout(1000 * CLICK_S)
    wrong = []

    def asked(request):
        if not request.url.startswith(("file:", "blob:")):
            wrong.append(request.url)

    context.on("console", lambda said: wrong.append(said.text))
    context.on("weberror", lambda error: wrong.append(str(error.error)))
    context.on("request", asked)
    page = context.new_page()
    page.goto(address("empty"))
    return page, wrong


@pytest.fixture
def opened(kept_page, address):
    """Opens a page at a size, its clock standing still until the test moves it.

    Nothing is kept from before. Whatever goes wrong in it or leaves it fails the test.
    """
    page, wrong = kept_page
    wrong.clear()

    def open_page(name="tag", size=SMALL, theme="light"):
        page.set_viewport_size(size)
        page.emulate_media(color_scheme=theme)
        page.clock.install(time=SET)
        page.clock.pause_at(MORNING)
        # Once its clock stands still the page of the last test keeps no more.
        page.evaluate("() => { localStorage.clear(); sessionStorage.clear(); }")
        page.goto(address(name))
        return page

    def another(name="tag"):
        other = page.context.new_page()
        other.set_viewport_size(page.viewport_size)
        other.goto(address(name))
        return other

    open_page.another = another
    yield open_page
    for other in page.context.pages[1:]:
        other.close()
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
    """Go to the screen on which something stands, by the way that leads back to a screen."""
    page.evaluate(
        """(selector) => {
            const unit = document.querySelector(`.unit[data-screen] ${selector}`).closest(".unit");
            const state = { at: Number(unit.dataset.screen), walking: true };
            history.replaceState(state, "");
            window.dispatchEvent(new PopStateEvent("popstate", { state }));
        }""",
        selector,
    )
    assert page.locator(f".unit.here {selector}").count() > 0


def place_of(page):
    """Which screen, of how many."""
    at, most = page.locator("#place").inner_text().split(" of ")
    return int(at), int(most)
