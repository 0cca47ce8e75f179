"""Kill -9 while a plan folder is replaced: the old plan or the new one is whole.

The killed process does what `plan --force` does last, again and again over one folder. Every other
time it dies at a step that is counted (an opening, a renaming, a removal), so that it is within the
writing however busy the machine; and else at a moment by the clock.
"""

from __future__ import annotations

import json
import os
import sys

import pytest

from cli.shop_files import lay_out, left, python, run

MOMENTS = int(os.environ.get("STOPOUT_KILLS", "30"))
HARNESS = """
import json, os, random, signal, sys, time
from pathlib import Path
from stopout.folders import write_folder

place, moments = Path(sys.argv[1]), int(sys.argv[2])
rng = random.Random(7)

def files(version):
    text = f"{version}".encode()
    plan = json.dumps({"format": "stopout-plan-1", "version": version}).encode()
    return {"plan.json": plan, **{f"mask-{k}.png": text + b" " * 20_000 for k in range(3)}}

def whole():
    plan = json.loads((place / "plan.json").read_bytes())
    found = {path.name: path.read_bytes().split()[0] for path in place.glob("mask*")}
    sizes = {path.stat().st_size > 20_000 for path in place.glob("mask*")}
    notes = (place / "notes.txt").read_text() == "mine"
    notes &= (place / "scans/a.tif").read_text() == "scan"
    return (
        len(found) == 3
        and set(found.values()) == {str(plan["version"]).encode()}
        and sizes == {True}
        and notes
        and len(list(place.iterdir())) == 6
    )

steps, last = 0, None

def counted(name, _):
    global steps
    if name == "open" or name.startswith(("os.", "shutil.")):
        steps += 1
        if steps == last:
            os.kill(os.getpid(), signal.SIGKILL)

sys.addaudithook(counted)
for version in range(3):
    steps, began = 0, time.monotonic()
    write_folder(place, files(version), replace_with="plan.json")
    takes, each = time.monotonic() - began, steps
(place / "notes.txt").write_text("mine")
(place / "scans").mkdir()
(place / "scans/a.tif").write_text("scan")
seen, broken, dead = set(), 0, 0
for moment in range(moments):
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        version = 1000 * (moment + 1)
        steps, last = 0, rng.randrange(1, 2 * each) if moment % 2 else None
        os.write(writing, b"!")
        while True:
            version += 1
            write_folder(place, files(version), replace_with="plan.json")
    os.read(reading, 1)
    if moment % 2 == 0:
        time.sleep(rng.uniform(0.0, 2.5 * takes))
        os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    broken += not whole()
    seen.add((place / "plan.json").read_bytes())
    # Counted after each: the next run removes what this one has left.
    dead += len(list(place.parent.glob(".*")))
write_folder(place, files(1), replace_with="plan.json")
left = [path.name for path in place.parent.glob(".*")]
print(json.dumps({"broken": broken, "versions": len(seen), "dead": dead, "left": left}))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="it kills by a signal")
def test_at_30_moments_the_old_plan_or_the_new_one_is_whole_and_notes_stay(tmp_path):
    done = python(HARNESS, tmp_path / "tag-plan", MOMENTS, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["broken"] == 0
    # Some of the moments came after a plan had been replaced, else nothing was tried.
    assert found["versions"] > 1
    # Each kill leaves a hidden folder at most, and the next run removes them.
    assert found["dead"] > 0
    assert found["left"] == []


OUTSIDE = '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm"><rect width="20" '
OUTSIDE += 'height="20"/></svg>'


@pytest.mark.parametrize("kind", ["relative", "absolute", "link"])
def test_artwork_outside_the_jobs_folder_asks_for_allow_outside(
    tmp_path, capsys, monkeypatch, kind
):
    home = tmp_path / "job"
    home.mkdir()
    outside = tmp_path / "far.svg"
    outside.write_text(OUTSIDE)
    name = {"relative": "../far.svg", "absolute": str(outside), "link": "near.svg"}[kind]
    if kind == "link":
        (home / "near.svg").symlink_to(outside)
    job = lay_out(home)
    job.write_text(job.read_text().replace('"tag.svg"', f'"{name}"'))
    status, _, said = run(capsys, monkeypatch, "plan", job)
    assert status == 2
    assert "artwork.file" in said
    assert "tag.toml:5" in said
    assert "--allow-outside" in said
    assert left(home) == sorted(path.name for path in home.iterdir())
    status, _, said = run(capsys, monkeypatch, "plan", job, "--allow-outside", "--quiet")
    assert status == 0, said


def test_fonts_outside_the_jobs_folder_are_refused_and_a_missing_one_is_told(
    tmp_path, capsys, monkeypatch
):
    job = lay_out(tmp_path)
    text = job.read_text()
    for name, words in (
        ("../house.ttf", "--allow-outside"),
        ("house.ttf", "cannot be opened"),
    ):
        job.write_text(text.replace('"tag.svg"', f'"tag.svg"\nfonts = ["{name}"]'))
        status, _, said = run(capsys, monkeypatch, "plan", job)
        assert status == 2
        assert words in said
