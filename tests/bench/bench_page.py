"""From an edit on the bench page to its drawing, in a real browser; and 10,000 hostile requests.

`python tests/bench/bench_page.py` serves the demo's jobs, changes the depth of each back and forth,
and prints the median time from the key to the paint, draft and drawing included.
"""

from __future__ import annotations

import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path

DEMO = Path(__file__).parents[2] / "demo"
MAIN = [sys.executable, "-c", "from stopout.cli import main; main()"]
EDITS = int(sys.argv[1]) if len(sys.argv) > 1 else 15


def serve(folder: Path) -> tuple[subprocess.Popen, str]:
    run = subprocess.Popen(
        [*MAIN, "bench", str(folder), "--no-open", "--no-book"], stdout=subprocess.PIPE, text=True
    )
    line = run.stdout.readline()
    return run, line.split(" at ")[1].strip()


def edits(address: str) -> None:
    from playwright.sync_api import sync_playwright

    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto(address)
        page.wait_for_selector("html[data-drawn]", state="attached", timeout=300_000)
        jobs = page.locator("#job option").evaluate_all("all => all.map((one) => one.value)")
        for job in jobs:
            count = int(page.get_attribute("html", "data-drawn"))
            if page.input_value("#job") != job:
                page.select_option("#job", job)
                count += 1
                page.wait_for_selector(
                    f"html[data-drawn='{count}']", state="attached", timeout=300_000
                )
            key = "#etch-depth" if page.locator("#etch-depth").count() else "#blank-thickness"
            page.locator("#controls details").evaluate_all(
                "all => { for (const one of all) one.open = true; }"
            )
            own, took = page.input_value(key), []
            for number in range(EDITS):
                began = time.monotonic()
                page.fill(key, f"{float(own.split()[0]) * (1.01 + 0.01 * (number % 2)):.4f} mm")
                page.press(key, "Tab")
                count += 1
                page.wait_for_selector(
                    f"html[data-drawn='{count}']", state="attached", timeout=300_000
                )
                took.append(time.monotonic() - began)
            print(
                f"{job}: median {statistics.median(took):.2f} s, worst {max(took):.2f} s "
                f"over {EDITS} edits of {key}"
            )
        browser.close()


def hostile(address: str, count: int = 10_000) -> None:
    """Ask what nobody should ask, and see that the page answers on."""
    draw, began = random.Random(24), time.monotonic()
    parts = ["..", "%2e%2e", "%2f", "etc", "passwd", "api", "job", "a" * 3000, "\\", ":", "~",
             "con", "plan.json", "%00", "file", "edit", "upload", "*", "?"]  # fmt: skip
    answers: dict[str, int] = {}
    for _ in range(count):
        way = "/".join(draw.choices(parts, k=draw.randint(1, 6)))
        body = bytes(draw.randrange(256) for _ in range(draw.randint(0, 200)))
        asked = urllib.request.Request(
            address + way.replace(" ", ""), data=body if draw.random() < 0.5 else None
        )
        if draw.random() < 0.3:
            asked.add_header("Origin", draw.choice(["null", "http://elsewhere.example", "*"]))
        if draw.random() < 0.1:
            asked.add_header("Host", "elsewhere.example")
        try:
            with urllib.request.urlopen(asked, timeout=60) as answer:
                told = str(answer.status)
        except urllib.error.HTTPError as fault:
            told = str(fault.code)
        except (OSError, ValueError) as fault:
            told = type(fault).__name__
        answers[told] = answers.get(told, 0) + 1
    print(f"{count} hostile requests in {time.monotonic() - began:.0f} s: {answers}")
    assert not any(code.startswith("5") for code in answers), answers


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        for job in sorted(DEMO.iterdir()):
            if job.is_dir() and job.name != "sluice-tags":
                kept = shutil.ignore_patterns("*-plan", "*-draft")
                shutil.copytree(job, folder / job.name, ignore=kept)
        run, address = serve(folder)
        try:
            edits(address)
            hostile(address)
        finally:
            run.terminate()
            run.wait()
