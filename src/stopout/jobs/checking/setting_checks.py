"""What of a job's own words, rules, frames and codes goes with what."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from stopout.job.fields import names_in
from stopout.jobs.keys.definition import GivenTable
from stopout.jobs.lines import Path

_METAL = ("recessed", "raised")
_NO_LIGHT = "is for plates and signs; a sheet lit through its edge is planned by a job of its own"
_ELEMENTS = ("text", "line", "frame", "code")


def setting_faults(tables: GivenTable, raw: dict[str, Any]) -> Iterator[tuple[Path, str]]:
    """Find what an element asks for that this job cannot give.

    Parameters
    ----------
    tables : GivenTable
        The tables as far as they could be read.
    raw : dict
        The values as written.

    Yields
    ------
    (key path, str)
        What is wrong at which key, and what would be right.
    """
    for place, frame in enumerate(getattr(tables, "frame", None) or []):
        yield from _frame(frame, _element(raw, "frame", place), ("frame", place))
    for place, code in enumerate(getattr(tables, "code", None) or []):
        if getattr(code, "height", None) and getattr(code, "kind", "code-128") != "code-128":
            yield ("code", place, "height"), "is for bars; leave it out, module says the size"
    yield from _series(raw)
    for table in _ELEMENTS:
        for place, element in enumerate(getattr(tables, table, None) or []):
            becomes = getattr(element, "as", None)
            if becomes is not None and (wrong := _becomes(becomes, tables, raw)):
                yield (table, place, "as"), wrong


def _series(raw: dict[str, Any]) -> Iterator[tuple[Path, str]]:
    series, panel = raw.get("series"), raw.get("panel")
    if isinstance(series, dict):
        if "rows" in series and "count" in series:
            yield ("series", "count"), "excludes rows, which is given too; keep one of them"
        elif not {"rows", "count"} & series.keys():
            yield (
                ("series", "rows"),
                'is missing; write rows = "tags.csv", or count = { number = 48 }',
            )
        if "light" in raw:
            yield ("series",), _NO_LIGHT
        if "quantity" in (raw.get("job") or {}):
            yield ("job", "quantity"), "is how many rows the series has; leave it out"
        if "count" in series and "rows" not in series:
            yield from _not_counted(raw)
    else:
        asked = {name for _, words in _said(raw) for name in names_in(words)}
        if asked:
            yield (
                ("series",),
                f"is missing for the field {{{min(asked)}}}; write [series] with rows or count, or "
                "{{ and }} where braces are meant",
            )
    if isinstance(panel, dict):
        if "count" in panel and panel.get("fill") is True:
            yield ("panel", "fill"), "excludes count, which is given too; keep one of them"
        if "light" in raw:
            yield ("panel",), _NO_LIGHT
        if "coat" in raw and panel.get("cut_marks") is True:
            yield ("panel", "cut_marks"), "is for plates; leave it out, and cut by the panel's map"


def _not_counted(raw: dict[str, Any]) -> Iterator[tuple[Path, str]]:
    """Find fields that a count does not have."""
    for at, words in _said(raw):
        for name in names_in(words):
            if name != "number":
                yield (
                    at,
                    f"asks for the field {{{name}}}, and a count has {{number}} alone; write rows "
                    "with a file that has it, or {{ and }} where braces are meant",
                )


def _said(raw: dict[str, Any]) -> Iterator[tuple[Path, str]]:
    for table, key in (("text", "words"), ("code", "content")):
        for place, element in enumerate(raw.get(table) or []):
            if isinstance(element, dict) and isinstance(element.get(key), str):
                yield (table, place, key), element[key]


def _element(raw: dict[str, Any], table: str, place: int) -> dict[str, Any]:
    listed = raw.get(table)
    found = listed[place] if isinstance(listed, list) and place < len(listed) else listed
    return found if isinstance(found, dict) else {}


def _frame(frame: Any, given: dict[str, Any], at: Path) -> Iterator[tuple[Path, str]]:
    if "margin" in given and ("at" in given or "size" in given):
        yield (*at, "margin"), "excludes at and size, which are given too; keep one of them"
    elif ("at" in given) != ("size" in given):
        lacks, has = ("size", "at") if "at" in given else ("at", "size")
        yield (*at, lacks), f"is missing; {has} needs it, or give margin alone"
    elif not {"margin", "at", "size"} & given.keys():
        yield (*at, "margin"), 'is missing; write margin = "2 mm", or at and size'
    size, corner = getattr(frame, "corner_size", None), getattr(frame, "corner", None)
    if corner not in (None, "square") and size == 0.0:
        yield (*at, "corner_size"), f'is missing; corner = "{corner}" needs it, such as "4 mm"'


def _becomes(becomes: str, tables: GivenTable, raw: dict[str, Any]) -> str:
    if "coat" not in raw:
        if becomes in _METAL:
            return ""
        return f"'{becomes}' is not one of recessed, raised; colours are for a sign's coats"
    coats = getattr(tables, "coat", None) or []
    colours = [getattr(coat, "colour", "") or "" for coat in coats]
    if becomes.casefold() in [colour.casefold() for colour in colours]:
        return ""
    listed = ", ".join(f'"{colour}"' for colour in colours if colour)
    return f"'{becomes}' is not the colour of one of the coats; they are {listed}"
