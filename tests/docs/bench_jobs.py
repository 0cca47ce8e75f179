"""Carries out the commands whose output the documents quote, each once, in a folder of its own."""

from __future__ import annotations

import os
import shutil
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from functools import cache
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory

from docs.markdown import ROOT
from stopout.cli import main

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


@dataclass(frozen=True)
class Said:
    """How a command ended, what it printed on both streams, and the plan.json that it wrote."""

    status: int
    text: str
    plan: str | None


def output_of(order: str) -> str:
    """All that a command prints; changes to the job file follow it as `| old -> new`."""
    return carried_out(order).text


@cache
def carried_out(order: str) -> Said:
    """Carry out an order once, in a folder of its own."""
    command, *changes = order.split(" | ")
    with TemporaryDirectory() as place:
        lay_out(Path(place))
        words = command.split()
        job = next((Path(place) / word for word in words if word.endswith(".toml")), None)
        if job is None:
            assert not changes, f"{order}: there is no job file to change"
            return run(words, Path(place))
        text = job.read_text(encoding="utf-8")
        for change in changes:
            old, new = change.split(" -> ")
            assert old in text, f"{job.name} has no {old}"
            text = text.replace(old, new)
        job.write_text(text, encoding="utf-8")
        return run(words, Path(place))


def lay_out(place: Path) -> None:
    """Copy the folders that the documents speak of."""
    for name, source in FOLDERS.items():
        (place / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copytree(source, place / name, ignore=shutil.ignore_patterns("*-plan"))
    shutil.copy(OUR_TABLES, place / "demo")


def run(words: list[str], place: Path) -> Said:
    """Run `stopout ...` in a folder, in this process; both its streams as a terminal shows them."""
    assert words[0] == "stopout"
    both, here, argv = StringIO(), Path.cwd(), sys.argv
    try:
        os.chdir(place)
        sys.argv = words
        with redirect_stdout(both), redirect_stderr(both):
            main()
        status: object = 0
    except SystemExit as end:
        status = end.code or 0
    finally:
        os.chdir(here)
        sys.argv = argv
    plan = next(place.rglob("*-plan/plan.json"), None)
    assert isinstance(status, int)
    return Said(status, both.getvalue(), None if plan is None else plan.read_text("utf-8"))
