"""A small job on disk, and ways to run the command: in this process, and as one of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path
from types import SimpleNamespace

from effort import HANGS_S
from stopout.cli import main

ARTWORK = """<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="10mm" viewBox="0 0 20 10">
<path d="M2 2h10v2h-8v4h-2z"/><circle cx="15" cy="6" r="2"/>
</svg>
"""
JOB = """[job]
name = "Valve tag"

[artwork]
file = "tag.svg"

[blank]
material = "aluminium"
width = "24 mm"
height = "14 mm"
thickness = "1.5 mm"
worked_side = "front"

[resist]
paint = "epoxy-two-part"

[machine]
spot = ["0.17 mm", "0.12 mm"]
spot_means = "1/e2"
wavelength = "450 nm"
power = "5.5 W"
top_speed = "100 mm/s"
acceleration = "800 mm/s^2"
cornering = "0.01 mm"
step = "0.0125 mm"
bed = ["400 mm", "400 mm"]
power_word = 1000
beam_on = "M3"
power_follows_speed = true

[clearing]
power = "30 %"
speed = "20 mm/s"
mark = ["0.10 mm", "0.087 mm"]

[etch]
etchant = "sodium-hydroxide"
strength = "100 g/L"
temperature = "40 degC"
depth = "0.06 mm"
etch_factor = 1.0
"""
THIN = ARTWORK.replace("<circle", '<rect x="14" y="1" width="4" height="0.05"/><circle')
STOPPED = JOB + '\n[limits]\nedge_tolerance = "0 mm"\ntoo_thin = "stop"\n'
PLAN_FILES = {
    "plan.json",
    "mask-1.svg",
    "mask-1.png",
    "clear-1.nc",
    "bounds.nc",
    "preview.png",
}
SOURCE = Path(__file__).parents[2] / "src"


def lay_out(folder, job=JOB, artwork=ARTWORK):
    """Write the job and its artwork; returns the job file."""
    (folder / "tag.svg").write_text(artwork, encoding="utf-8")
    (folder / "tag.toml").write_text(job, encoding="utf-8")
    return folder / "tag.toml"


def stopped(folder):
    """A job whose plan says stop: a stroke too thin that may not be widened."""
    return lay_out(folder, STOPPED, THIN)


def run(capsys, monkeypatch, *argv):
    """Run the command in this process: (exit status, standard output, standard error)."""
    monkeypatch.setattr(sys, "argv", ["stopout", *map(str, argv)])
    monkeypatch.delenv("STOPOUT_TRACE", raising=False)
    capsys.readouterr()
    try:
        main()
        status = 0
    except SystemExit as end:
        status = end.code or 0
    return status, *capsys.readouterr()


def here(*argv, cwd):
    """Run the command in a folder, in this process; what came of it as `process` tells it."""
    out, err = StringIO(), StringIO()
    before, argv_before = Path.cwd(), sys.argv
    try:
        os.chdir(cwd)
        sys.argv = ["stopout", *map(str, argv)]
        with redirect_stdout(out), redirect_stderr(err):
            main()
        status = 0
    except SystemExit as end:
        status = end.code or 0
    finally:
        os.chdir(before)
        sys.argv = argv_before
    return SimpleNamespace(returncode=status, stdout=out.getvalue(), stderr=err.getvalue())


def process(*argv, cwd, stdout=subprocess.PIPE, **env):
    """Run the command as a process of its own."""
    return _run("-m", "stopout", *argv, cwd=cwd, stdout=stdout, **env)


def python(code, *argv, cwd, stdout=subprocess.PIPE, **env):
    """Run a piece of Python as a process of its own."""
    return _run("-c", code, *argv, cwd=cwd, stdout=stdout, **env)


def _run(*argv, cwd, stdout, **env):
    return subprocess.run(
        [sys.executable, *map(str, argv)],
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(SOURCE), **env},
        stdout=stdout,
        stderr=subprocess.PIPE,
        text=True,
        timeout=HANGS_S,
        check=False,
    )


def left(folder):
    """Everything under a folder, hidden files too."""
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))
