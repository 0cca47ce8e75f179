"""`stopout sheet`: prints the process sheet of a plan folder again, without planning."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import typer

from stopout.cli.asked.book import asked_book
from stopout.cli.asked.options import (
    AS_JSON,
    BOOK,
    NO_BOOK,
    QUIET,
    REQUIRED,
    Given,
    Option,
    command,
)
from stopout.cli.speech.telling import say, say_json
from stopout.errors import StopoutError
from stopout.folders import check_replaceable, write_file

if TYPE_CHECKING:
    from stopout.sheet import Part

_SHEET_FILE = "sheet.json"


# fmt: off
_OPTIONS = (
    Option("folder", "folder", "A plan's folder.", REQUIRED, metavar="PLAN_DIR", is_argument=True),
    Option("paper", "choice", "Size of the paper.", "A4", choices=("A4", "Letter")),
    Option("units", "choice", "mm and degC alone, or with inches and degF beside them.", "metric",
           choices=("metric", "both")),
    Option("out", "file", "One file to write, .pdf or .html. [sheet.pdf and sheet.html in the "
           "folder]"),
    Option("annex", "switch", "Print the annex instead, sheet-annex.pdf."),
    Option("wall", "switch", "Print the page for the wall instead, sheet-wall.pdf: first aid, "
           "spill and fire for all that the job and the shop book name."),
    BOOK, NO_BOOK,
    replace(QUIET, help="Print nothing but errors and stops."),
    replace(AS_JSON, help="Print a summary as JSON on standard output."),
)
# fmt: on


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @command(app, *_OPTIONS)
    def sheet(given: Given) -> None:
        """Print the process sheet of a plan again, on A4 or Letter, and its page for a phone.

        Example: stopout sheet winch-plate-plan --paper Letter --units both
        """
        asked_book(given)
        parts = _asked(given.folder, given.out, annex=given.annex, wall=given.wall)
        targets = list(parts)
        is_stop = _print_sheet(
            given.folder,
            parts,
            paper=given.paper,
            both_units=given.units == "both",
            with_book=given.wall and not given.no_book,
            book=given.book,
        )
        _report(targets, given.paper, is_stop=is_stop, quiet=given.quiet, as_json=given.as_json)
        if is_stop:
            raise typer.Exit(1)


def _asked(folder: Path, out: Path | None, *, annex: bool, wall: bool) -> dict[Path, Part]:
    """Return what is to be written, and which part of the sheet each file holds."""
    asked: list[Part] = []
    asked += ["annex"] if annex else []
    asked += ["wall"] if wall else []
    if out is None:
        if not asked:
            return {folder / "sheet.pdf": "bench", folder / "sheet.html": "bench"}
        return {folder / f"sheet-{part}.pdf": part for part in asked}
    if len(asked) > 1:
        raise StopoutError("--out names one file; give --annex or --wall, not both")
    if out.suffix.lower() not in (".pdf", ".html", ".htm"):
        raise StopoutError(f"--out {out}: a sheet is a .pdf or an .html; name such a file")
    if asked and out.suffix.lower() in (".html", ".htm"):
        raise StopoutError(f"the {asked[0]} is paper only; name a .pdf with --out")
    return {out: asked[0] if asked else "bench"}


def _print_sheet(
    folder: Path,
    parts: dict[Path, Part],
    *,
    paper: Literal["A4", "Letter"],
    both_units: bool,
    with_book: bool,
    book: Path | None,
) -> bool:
    """Write the files and tell whether it is a sheet that says STOP."""
    data = _stored(folder)
    for target in parts:
        is_page = target.suffix.lower() in (".html", ".htm")
        check_replaceable(target, kind="HTML" if is_page else "PDF")
    from stopout.sheet import read_sheet, sheet_page, sheet_pdf, with_both_units

    try:
        sheet, date = read_sheet(data)
    except StopoutError as error:
        raise StopoutError(f"{folder / _SHEET_FILE} {error}") from None
    if with_book:
        from stopout.library.wall import with_shop_wall

        sheet, unknown = with_shop_wall(sheet, book)
        for name in unknown:
            say(f"note: not on the wall page: the shop book's {name}", to_stderr=True)
    if both_units:
        sheet = with_both_units(sheet)
    for target, part in parts.items():
        if target.suffix.lower() in (".html", ".htm"):
            write_file(target, sheet_page(sheet, date=date))
        else:
            write_file(target, sheet_pdf(sheet, paper=paper, date=date, part=part))
    return sheet.is_stop


def _stored(folder: Path) -> bytes:
    if not folder.is_dir():
        raise StopoutError(f"{folder} is not a folder; give the folder of a plan")
    path = folder / _SHEET_FILE
    if not path.is_file():
        raise StopoutError(
            f"{folder} holds no {_SHEET_FILE}, so it is not a plan's folder with a sheet; "
            "plan the job again with stopout plan"
        )
    return path.read_bytes()


def _report(targets: list[Path], paper: str, *, is_stop: bool, quiet: bool, as_json: bool) -> None:
    if is_stop:
        say("stop: the plan says STOP; the sheet gives reasons and nothing to set", to_stderr=True)
    if as_json:
        content = {
            "sheet": str(targets[0]),
            "files": [str(target) for target in targets],
            "paper": paper,
            "stopped": is_stop,
        }
        say_json(content)
    elif not quiet:
        for target in targets:
            is_page = target.suffix.lower() in (".html", ".htm")
            say(f"{target}: {'for a phone' if is_page else paper}")
