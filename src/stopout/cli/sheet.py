"""`stopout sheet`: prints the process sheet of a plan folder again, without planning."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from stopout.cli.output import check_replaceable, write_file
from stopout.errors import StopoutError

if TYPE_CHECKING:
    from stopout.planning import Plan

__all__ = ["register", "sheet_files"]

_SHEET_FILE = "sheet.json"
_PDF_START = b"%PDF-"


class _Paper(StrEnum):
    A4 = "A4"
    LETTER = "Letter"


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @app.command()
    def sheet(
        folder: Annotated[Path, typer.Argument(metavar="PLAN_DIR", help="A plan's folder.")],
        paper: Annotated[
            _Paper, typer.Option(help="Size of the paper.", case_sensitive=False)
        ] = _Paper.A4,
        out: Annotated[
            Path | None,
            typer.Option(metavar="FILE", help="Where to write. [sheet.pdf in the plan's folder]"),
        ] = None,
        quiet: Annotated[
            bool, typer.Option("--quiet", help="Print nothing but errors and stops.")
        ] = False,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print a summary as JSON on standard output.")
        ] = False,
    ) -> None:
        """Print the process sheet of a plan again, on A4 or Letter.

        Example: stopout sheet winch-plate-plan --paper Letter
        """
        target = out if out is not None else folder / "sheet.pdf"
        is_stop = _print_sheet(folder, target, "A4" if paper is _Paper.A4 else "Letter")
        _report(target, paper.value, is_stop=is_stop, quiet=quiet, as_json=as_json)
        if is_stop:
            raise typer.Exit(1)


def sheet_files(plan: Plan, *, date: str) -> dict[str, bytes]:
    """Make `sheet.pdf` and `sheet.json` of a plan, with the statements of its hazards.

    Parameters
    ----------
    plan : Plan
        A finished plan, stopped or not.
    date : str
        ISO 8601, printed on every page.

    Raises
    ------
    TableError
        If the table lacks a statement that one of the plan's hazards names.
    """
    from stopout import sheet
    from stopout.tables import load_statements

    codes = [code for h in plan.hazards for code in (*h.statements, *h.precautions)]
    statements = {entry.code: entry.text for entry in load_statements(tuple(codes))}
    return sheet.sheet_files(plan, date=date, statements=statements)


def _print_sheet(folder: Path, target: Path, paper: Literal["A4", "Letter"]) -> bool:
    """Write the PDF and tell whether it is a sheet that says STOP."""
    data = _stored(folder)
    check_replaceable(target, starts=(_PDF_START,), kind="PDF")
    from stopout.sheet import read_sheet, sheet_pdf

    try:
        sheet, date = read_sheet(data)
    except StopoutError as error:
        raise StopoutError(f"{folder / _SHEET_FILE} {error}") from None
    write_file(target, sheet_pdf(sheet, paper=paper, date=date))
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


def _report(target: Path, paper: str, *, is_stop: bool, quiet: bool, as_json: bool) -> None:
    if is_stop:
        typer.echo("stop: the plan says STOP; the sheet gives reasons and nothing to set", err=True)
    if as_json:
        import json

        typer.echo(json.dumps({"sheet": str(target), "paper": paper, "stopped": is_stop}, indent=2))
    elif not quiet:
        typer.echo(f"{target}: {paper}")
