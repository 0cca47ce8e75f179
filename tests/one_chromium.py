"""The one browser that all tests share, and its one page.

To open a page in a context of its own takes five times as long as to show what a test looks at: the
page is kept, and each test finds it empty.
"""

from __future__ import annotations

import shutil
from contextlib import contextmanager

import pytest

from effort import CLICK_S

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
NO_CHROMIUM = pytest.mark.skipif(
    CHROMIUM is None, reason="no Chromium on this machine: install the package chromium"
)


@pytest.fixture(scope="session")
def chromium():
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def tab(chromium):
    """The page of those tests that look at what a server of their own serves, by the real clock."""
    context = chromium.new_context(accept_downloads=True)
    context.set_default_timeout(1000 * CLICK_S)
    return context.new_page()


@contextmanager
def visiting(page, address, size):
    """Show what is served at an address: another for each test, where nothing is kept yet.

    A mistake of a script, of this page or another that the test opens beside it, fails the test.
    """
    wrong, context = [], page.context
    hear = lambda error: wrong.append(str(error.error))  # noqa: E731
    context.on("weberror", hear)
    page.set_viewport_size(size)
    page.goto(address)
    try:
        yield page
    finally:
        # Nothing goes on to ask a server that is to end.
        for other in context.pages[1:]:
            other.close()
        page.goto("about:blank")
        context.set_offline(False)
        context.remove_listener("weberror", hear)
    assert wrong == []
