"""sheet.json: the sheet kept as data, so that it prints again without planning."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import cache
from typing import TYPE_CHECKING

from stopout.errors import StopoutError
from stopout.planning import Plan
from stopout.sheet.contents.whole import sheet_contents
from stopout.sheet.drawings.pieces import sheet_pictures
from stopout.sheet.model import FORMAT, Sheet
from stopout.sheet.paper.pdf import sheet_pdf
from stopout.sheet.phone.page import sheet_page

if TYPE_CHECKING:
    from pydantic import TypeAdapter


def sheet_files(plan: Plan, *, date: str, statements: Mapping[str, str]) -> dict[str, bytes]:
    """Make the sheet's files for the plan folder.

    Parameters
    ----------
    plan : Plan
        A finished plan, stopped or not.
    date : str
        ISO 8601, printed on every page.
    statements : mapping of str to str
        Texts of the hazard and precautionary statements by code, at least those of the plan's
        hazards.

    Returns
    -------
    dict of str to bytes
        `sheet.pdf` and `sheet-annex.pdf` (A4), `sheet.html` and `sheet.json`.
    """
    pictures = {} if plan.is_stopped else sheet_pictures(plan)
    sheet = sheet_contents(plan, pictures=pictures, statements=statements, date=date)
    return printed_files(sheet, date=date)


def printed_files(sheet: Sheet, *, date: str) -> dict[str, bytes]:
    """Print a sheet for its folder; one that says STOP has no annex.

    Parameters
    ----------
    sheet : Sheet
        As it was laid out.
    date : str
        ISO 8601, printed on every page.
    """
    files = {"sheet.pdf": sheet_pdf(sheet, date=date)}
    if not sheet.is_stop:
        files["sheet-annex.pdf"] = sheet_pdf(sheet, date=date, part="annex")
    return {
        **files,
        "sheet.html": sheet_page(sheet, date=date),
        "sheet.json": sheet_json(sheet, date=date),
    }


def sheet_json(sheet: Sheet, *, date: str) -> bytes:
    """Write a sheet and its date as JSON."""
    content = {"date": date, "sheet": asdict(sheet)}
    return (json.dumps(content, ensure_ascii=False, indent=1) + "\n").encode()


def read_sheet(data: bytes) -> tuple[Sheet, str]:
    """Read what `sheet_json` wrote.

    Returns
    -------
    sheet : Sheet
    date : str
        As it was printed.

    Raises
    ------
    StopoutError
        If the bytes are no sheet of this format.
    """
    from pydantic import ValidationError

    try:
        content = json.loads(data)
        found = content["sheet"]["format"]
    except (ValueError, TypeError, KeyError):
        raise StopoutError("is not a process sheet; plan the job again") from None
    if found != FORMAT:
        raise StopoutError(f"is a sheet of format {found!r}, not {FORMAT!r}; plan the job again")
    try:
        stored = _form().validate_json(data)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"])
        raise StopoutError(f"is damaged at {place} ({first['msg']}); plan the job again") from None
    return stored.sheet, stored.date


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stored:
    date: str
    sheet: Sheet


@cache
def _form() -> TypeAdapter[_Stored]:
    """The schema of what is stored: made of a hundred fields, it takes longer than to read."""
    from pydantic import TypeAdapter

    return TypeAdapter(_Stored)
