"""Carries out the commands whose output the documents quote, each once, in a folder of its own."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from docs.markdown import ROOT

_STARTERS = ROOT / "src" / "stopout" / "cli" / "starters"
# What a reader of the documents has made by then, by the folder named there.
FOLDERS = {
    "gate-plate": _STARTERS / "plate",
    "my-plate": _STARTERS / "plate",
    "office-sign": _STARTERS / "sign",
    "my-sign": _STARTERS / "sign",
    "demo/winch-plate": ROOT / "demo" / "winch-plate",
}
OUR_TABLES = ROOT / "demo" / "our-tables.toml"


@cache
def output_of(order: str) -> str:
    """All that a command prints; changes to the job file follow it as `| old -> new`."""
    command, *changes = order.split(" | ")
    with TemporaryDirectory() as place:
        lay_out(Path(place))
        words = command.split()
        job = next((Path(place) / word for word in words if word.endswith(".toml")), None)
        if job is None:
            assert not changes, f"{order}: there is no job file to change"
            return run(words, Path(place)).stdout
        text = job.read_text(encoding="utf-8")
        for change in changes:
            old, new = change.split(" -> ")
            assert old in text, f"{job.name} has no {old}"
            text = text.replace(old, new)
        job.write_text(text, encoding="utf-8")
        return run(words, Path(place)).stdout


def lay_out(place: Path) -> None:
    """Copy the folders that the documents speak of."""
    for name, source in FOLDERS.items():
        (place / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copytree(source, place / name, ignore=shutil.ignore_patterns("*-plan"))
    shutil.copy(OUR_TABLES, place / "demo")


def run(words: list[str], place: Path) -> subprocess.CompletedProcess[str]:
    """Run `stopout ...` in a folder; both its streams in `stdout`, as a terminal shows them."""
    assert words[0] == "stopout"
    start = "import sys; from stopout.cli import main; sys.argv[0] = 'stopout'; main()"
    return subprocess.run(
        [sys.executable, "-u", "-c", start, *words[1:]],
        cwd=place,
        env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        timeout=600,
        check=False,
    )
