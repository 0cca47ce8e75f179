"""Pictures of the bench page in a browser, with its cross put to a finding."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

__all__ = ["shot"]

DEMO = Path(__file__).parents[2] / "demo"
MAIN = [sys.executable, "-c", "from stopout.cli import main; main()"]


def shot(job: str, *, width: int, height: int, share: int = 0, finding: int | None = None) -> bytes:
    """Serve a demo job's folder and take its page as PNG; needs Chromium.

    Parameters
    ----------
    job : str
        The job's folder in the demo.
    width, height : int
        Of the window, in pixels.
    share : int
        Where the line between drawn and predicted stands, in hundredths.
    finding : int, optional
        Go to the place of the so-many-th finding that has one.
    """
    from playwright.sync_api import sync_playwright

    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    with tempfile.TemporaryDirectory() as place, sync_playwright() as driver:
        shutil.copytree(DEMO / job, Path(place) / job, ignore=shutil.ignore_patterns("*-plan"))
        told = [*MAIN, "bench", place, "--no-open", "--no-book"]
        run = subprocess.Popen(told, stdout=subprocess.PIPE, text=True)
        browser = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        try:
            page = browser.new_page(viewport={"width": width, "height": height})
            page.set_default_timeout(300_000)
            page.goto(re.search(r"http://\S+", run.stdout.readline())[0])
            page.wait_for_selector("html[data-drawn='1']", state="attached")
            page.locator("#share").fill(str(share))
            if finding is not None:
                page.locator("#told button").nth(finding).click()
                page.wait_for_selector("#at-drawn >> text=mm")
            page.wait_for_timeout(500)
            return bytes(page.screenshot())
        finally:
            browser.close()
            run.terminate()
            run.wait()
