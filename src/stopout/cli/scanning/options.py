"""What the commands that look at scans are given alike: the scan, its resolution and its tone."""

from __future__ import annotations

from stopout.cli.asked.options import REQUIRED, Option

PNG_START = b"\x89PNG"

SCAN = Option(
    "scan",
    "file",
    "The scan: PNG, JPEG or TIFF.",
    REQUIRED,
    metavar="SCAN",
    is_argument=True,
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
