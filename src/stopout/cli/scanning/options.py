"""What the commands that look at scans are given alike, and how they tell what they saw."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Any

from stopout.cli.asked.options import REQUIRED, Given, Option
from stopout.cli.speech.telling import say, say_json

SCAN = Option(
    "scan", "file", "The scan: PNG, JPEG or TIFF.", REQUIRED, metavar="SCAN", is_argument=True
)
RESOLUTION = Option(
    "resolution",
    "resolution",
    "What it was scanned at. [the file's own]",
    least=50.0,
    most=20_000.0,
)
TONE = Option(
    "tone",
    "choice",
    "What the file's grey levels are: light (sRGB, as scanners and cameras write) or plain. [by "
    "the edges, else sRGB]",
    "auto",
    choices=("auto", "plain", "light"),
)


def tell(
    given: Given,
    summary: dict[str, Any],
    lines: Sequence[str],
    *,
    cautions: Sequence[str],
    data: bytes,
    kept: dict[str, object] | None,
) -> None:
    """Print what a scan told, as it was asked for: as JSON with the lines in it, or the lines.

    `data` are the scan's bytes, `kept` the entry of the shop book, if one was made.
    """
    picture = given.picture
    if given.as_json:
        said = {
            "words": lines,
            "scan_sha256": hashlib.sha256(data).hexdigest(),
            "kept": kept,
            "picture": None if picture is None else str(picture),
        }
        say_json({**summary, **said})
    if given.quiet:
        return
    for caution in cautions:
        say(f"caution: {caution}.", to_stderr=True)
    if given.as_json:
        return
    for row in lines:
        say(row)
    if kept is not None:
        say(f"kept as entry {kept['id']} of {kept['book']}")
        if kept["note"]:
            say(f"caution: {kept['note']}.", to_stderr=True)
    if picture is not None:
        say(f"picture: {picture}")
