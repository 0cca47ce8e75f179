"""The two example jobs as texts, and small edits of them."""

from __future__ import annotations

import re
from pathlib import Path

from stopout.errors import JobError, Mistake
from stopout.job.record import Job
from stopout.jobs import parse_job

DATA = Path(__file__).parent / "data"
PLATE = (DATA / "winch-plate.toml").read_text(encoding="utf-8")
SIGN = (DATA / "hut-sign.toml").read_text(encoding="utf-8")


def read(text: str) -> Job:
    return parse_job(text.encode(), file="job.toml")


def edited(text: str, pattern: str, new: str) -> str:
    """The text with the one place that a pattern matches replaced; lines stay if `new` is one."""
    changed, count = re.subn(pattern, lambda _: new, text, count=1, flags=re.MULTILINE)
    assert count == 1, pattern
    return changed


def mistakes(text: str) -> tuple[Mistake, ...]:
    """The mistakes of a text that must be refused."""
    try:
        read(text)
    except JobError as error:
        return error.mistakes
    raise AssertionError("the job was accepted")


def only_mistake(text: str) -> Mistake:
    found = mistakes(text)
    assert len(found) == 1, found
    return found[0]
