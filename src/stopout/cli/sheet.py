"""`stopout sheet`: prints the process sheet of a plan folder again, without planning."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from stopout.cli.book import BookOption, NoBookOption, check_book
from stopout.cli.telling import say, say_json
from stopout.errors import StopoutError
from stopout.folders import check_replaceable, write_file

if TYPE_CHECKING:
    from stopout.sheet import Part

_SHEET_FILE = "sheet.json"
_PDF_START = b"%PDF-"
_PAGE_START = b"<!doctype html>"


class _Paper(StrEnum):
    A4 = "A4"
    LETTER = "Letter"


class _Units(StrEnum):
    METRIC = "metric"
    BOTH = "both"


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @app.command()
    def sheet(
        folder: Annotated[Path, typer.Argument(metavar="PLAN_DIR", help="A plan's folder.")],
        paper: Annotated[
            _Paper, typer.Option(help="Size of the paper.", case_sensitive=False)
        ] = _Paper.A4,
        units: Annotated[
            _Units, typer.Option(help="mm and degC alone, or with inches and degF beside them.")
        ] = _Units.METRIC,
        out: Annotated[
            Path | None,
            typer.Option(
                metavar="FILE",
                help="One file to write, .pdf or .html. [sheet.pdf and sheet.html in the folder]",
            ),
        ] = None,
        annex: Annotated[
            bool, typer.Option("--annex", help="Print the annex instead, sheet-annex.pdf.")
        ] = False,
        wall: Annotated[
            bool,
            typer.Option(
                "--wall",
                help="Print the page for the wall instead, sheet-wall.pdf: first aid, spill and "
                "fire for all that the job and the shop book name.",
            ),
        ] = False,
        book: BookOption = None,
        no_book: NoBookOption = False,
        quiet: Annotated[
            bool, typer.Option("--quiet", help="Print nothing but errors and stops.")
        ] = False,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print a summary as JSON on standard output.")
        ] = False,
    ) -> None:
        """Print the process sheet of a plan again, on A4 or Letter, and its page for a phone.

        Example: stopout sheet winch-plate-plan --paper Letter --units both
        """
        check_book(book, no_book=no_book)
        parts = _asked(folder, out, annex=annex, wall=wall)
        targets = list(parts)
        is_stop = _print_sheet(
            folder,
            parts,
            paper="A4" if paper is _Paper.A4 else "Letter",
            both_units=units is _Units.BOTH,
            with_book=wall and not no_book,
            book=book,
        )
        _report(targets, paper.value, is_stop=is_stop, quiet=quiet, as_json=as_json)
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
        starts, kind = ((_PAGE_START,), "HTML") if is_page else ((_PDF_START,), "PDF")
        check_replaceable(target, starts=starts, kind=kind)
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
