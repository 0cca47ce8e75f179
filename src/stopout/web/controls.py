"""The controls of the page: made from what defines the job file, in the order of the work."""

from __future__ import annotations

import tomllib
from dataclasses import asdict
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from stopout.errors import JobError

# The sections of the page, in the order in which the work is done; tables of the job file in each.
_SECTIONS = (
    ("Piece", ("job", "blank", "blank.hole")),
    ("Artwork and words", ("artwork", "text", "text.arc", "text.fit", "frame", "line", "code")),
    ("Several pieces", ("series", "series.count", "panel")),
    (
        "Resist or coats",
        ("resist", "coat", "film", "stencil", "registration", "registration.mark", "light"),
    ),
    ("Clearing", ("clearing", "machine", "machine.keep_out")),
    ("Etch", ("etch", "bath")),
    ("Limits and sheet", ("limits", "sheet", "budget", "tables")),
)


@cache
def sections() -> list[dict[str, Any]]:
    """Return the sections with their tables and keys: name, unit, range, help."""
    from stopout.jobs.described.listing import job_keys

    keys = [asdict(key) for key in job_keys()]
    named = {table for _, tables in _SECTIONS for table in tables}
    rest = tuple(dict.fromkeys(key["table"] for key in keys if key["table"] not in named))
    made = []
    for title, tables in (*_SECTIONS, ("More", rest)):
        listed = [
            {"table": table, "keys": [key for key in keys if key["table"] == table]}
            for table in tables
        ]
        made.append({"title": title, "tables": [one for one in listed if one["keys"]]})
    return [section for section in made if section["tables"]]


def values_of(text: str) -> dict[str, Any] | None:
    """Return a job file's values as written; None where it is no TOML."""
    try:
        values: dict[str, Any] = _plain(tomllib.loads(text))
        return values
    except (tomllib.TOMLDecodeError, RecursionError):
        return None


def _plain(value: Any) -> Any:
    """Values that JSON has: dates and the like as text."""
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_plain(one) for one in value]
    return value if isinstance(value, (str, int, float, bool)) else str(value)


def mistakes_of(data: bytes, name: str) -> list[dict[str, Any]]:
    """Return what is wrong with a job file, in the words of the command line."""
    from stopout.errors import JobError
    from stopout.jobs import parse_job

    try:
        parse_job(data, file=name)
    except JobError as fault:
        return told(fault)
    return []


def told(fault: JobError) -> list[dict[str, Any]]:
    """Return the mistakes of a job file as the page takes them."""
    return [
        {"field": one.field, "message": one.message, "line": one.line} for one in fault.mistakes
    ]
