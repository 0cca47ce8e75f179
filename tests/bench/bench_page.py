"""The bench page in a real browser: from an edit to its paint; kills and hostile clients.

    python tests/bench/bench_page.py [edits] [job ...]

Serves the demo's jobs. Of each it changes a word, and the depth to ever new values (the thickness
where nothing is etched), and takes the time in the browser from the input to the frame that shows
its answer: the first look where there is one, and the draft with its findings. A job that takes
long is edited less often. Then it kills a process in the middle of its saves 30 times, lets 30
clients send files at a byte a second, and asks 10,000 times what nobody should ask.
"""

from __future__ import annotations

import random
import re
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import tomllib
import urllib.error
import urllib.request
from pathlib import Path

DEMO = Path(__file__).parents[2] / "demo"
MAIN = [sys.executable, "-c", "from stopout.cli import main; main()"]
EDITS, PATIENCE_S = 15, 15.0
# Waits, in the page, for the counters of what is shown; the frame after the next has it painted.
WATCH = """() => {
  window.painted = {};
  const frame = (what) => requestAnimationFrame(() => requestAnimationFrame(() => {
    window.painted[what] ??= performance.now() - window.began;
    if (what === "data-drawn") document.documentElement.dataset.painted = "yes"; }));
  new MutationObserver((all) => all.forEach(({ attributeName }) => frame(attributeName)))
    .observe(document.documentElement, { attributeFilter: ["data-looked", "data-drawn"] });
}"""
EDIT = """([id, value]) => {
  const field = document.getElementById(id);
  field.value = value;
  delete document.documentElement.dataset.painted;
  window.painted = {}; window.began = performance.now();
  field.dispatchEvent(new Event("change", { bubbles: true }));
}"""
SAVES = """
import sys
from pathlib import Path
from stopout.web.edits import Edit, applied
from stopout.web.place import Place
place = Place(Path(sys.argv[1]))
print("ready", flush=True)
for number in range(10**9):
    now = place.read("job")
    text = applied(now.text, Edit(("job",), "quantity", number % 90 + 1))
    place.write("job", text, over=now.sha256)
"""


def serve(folder: Path) -> tuple[subprocess.Popen, str]:
    run = subprocess.Popen(
        [*MAIN, "bench", str(folder), "--no-open", "--no-book"], stdout=subprocess.PIPE, text=True
    )
    return run, re.search(r"http://\S+", run.stdout.readline())[0]


def edits(address: str, jobs: list[str], count: int) -> None:
    """Change each job again and again, and print how long its pictures took."""
    from playwright.sync_api import sync_playwright

    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.set_default_timeout(300_000)
        for job in jobs:
            page.goto(f"{address}#{job}")
            page.reload()
            page.wait_for_selector("html[data-drawn='1']", state="attached")
            page.evaluate(WATCH)
            depth = "etch-depth" if page.input_value("#etch-depth") else "blank-thickness"
            own = float(page.input_value(f"#{depth}").split()[0])
            share = random.Random(24)
            words = [f"Piece {k}" for k in range(count)]
            depths = [f"{own * share.uniform(0.9, 1.1):.5f} mm" for _ in range(count)]
            for what, key, values in (
                ("a word", "job-name", words),
                (f"another {depth.split('-')[1]}", depth, depths),
            ):
                print(f"{job}, {what}: {took(page, key, values)}", flush=True)
        browser.close()


def took(page, key: str, values: list[str]) -> str:
    """Edit one key; return the medians from the input to the first picture and to the draft."""
    first, whole, until = [], [], time.monotonic() + PATIENCE_S
    for value in values:
        if len(whole) >= 3 and time.monotonic() > until:
            break
        page.evaluate(EDIT, [key, value])
        page.wait_for_selector("html[data-painted]", state="attached")
        painted = page.evaluate("window.painted")
        whole.append(painted["data-drawn"] / 1000)
        first.append(min(painted.values()) / 1000)
    return (
        f"piece {statistics.median(first):.2f} s (worst {max(first):.2f}), with findings "
        f"{statistics.median(whole):.2f} s (worst {max(whole):.2f}), {len(whole)} edits"
    )


def kills(folder: Path, count: int = 30) -> None:
    """Kill a process in the middle of its saves; the job file is whole each time."""
    shutil.copy(DEMO / "gauge-number" / "gauge-number.toml", folder / "job.toml")
    draw, saved = random.Random(24), set()
    for _ in range(count):
        run = subprocess.Popen(
            [sys.executable, "-c", SAVES, str(folder)], stdout=subprocess.PIPE, text=True
        )
        run.stdout.readline()
        time.sleep(draw.uniform(0.02, 0.15))
        run.send_signal(signal.SIGKILL)
        run.wait()
        saved.add(tomllib.loads((folder / "job.toml").read_text())["job"].get("quantity"))
    left = [item.name for item in folder.iterdir() if item.name != "job.toml"]
    print(f"killed in its saves {count} times: the file whole each time, {len(saved)} states met, "
          f"{len(left)} unfinished files beside it")  # fmt: skip


def slow(address: str, job: str, count: int = 30, seconds: float = 8.0) -> None:
    """Send files at a byte a second, and see how the page answers meanwhile."""
    host, port = re.search(r"//([^:/]+):(\d+)", address).groups()
    head = (
        f"POST /api/job/{job}/upload HTTP/1.1\r\nHost: {host}:{port}\r\nOrigin: "
        f"http://{host}:{port}\r\nContent-Type: multipart/form-data; boundary=x\r\n"
        "Content-Length: 40000000\r\n\r\n--x\r\n"
        'Content-Disposition: form-data; name="file"; filename="slow.svg"\r\n\r\n'
    )
    held, answers = [], []
    for _ in range(count):
        held.append(socket.create_connection((host, int(port)), timeout=5))
        held[-1].sendall(head.encode())
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        for one in held:
            one.sendall(b"-")
        began = time.monotonic()
        urllib.request.urlopen(address + "api/jobs", timeout=30).read()
        answers.append(time.monotonic() - began)
        time.sleep(1)
    for one in held:
        one.close()
    print(f"{count} uploads at a byte a second: the page answers in "
          f"{statistics.median(answers):.2f} s meanwhile (worst {max(answers):.2f})")  # fmt: skip


def hostile(address: str, count: int = 10_000) -> None:
    """Ask what nobody should ask, and see that the page answers on."""
    draw, began = random.Random(24), time.monotonic()
    parts = ["..", "%2e%2e", "%2f", "etc", "passwd", "api", "job", "a" * 3000, "\\", ":", "~",
             "con", "plan.json", "%00", "file", "edit", "upload", "at", "*", "?"]  # fmt: skip
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


def main(count: int, names: list[str]) -> None:
    """Serve the demo's jobs, or those named, and measure."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "jobs"
        for job in sorted(DEMO.iterdir()):
            # Forty tags take minutes; `tests/bench/run` has them.
            if job.is_dir() and job.name != "sluice-tags" and (not names or job.name in names):
                kept = shutil.ignore_patterns("*-plan", "*-draft")
                shutil.copytree(job, folder / job.name, ignore=kept)
        jobs = [f"{job.parent.name}/{job.stem}" for job in sorted(folder.glob("*/*.toml"))]
        # The demo plate first: it is what the page is measured by.
        jobs.sort(key=lambda one: not one.startswith("winch-plate"))
        run, address = serve(folder)
        try:
            edits(address, jobs, count)
            slow(address, jobs[0])
            hostile(address, 10_000 if count >= EDITS else 1000)
        finally:
            run.terminate()
            run.wait()
        (Path(place) / "saves").mkdir()
        kills(Path(place) / "saves")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else EDITS, sys.argv[2:])
