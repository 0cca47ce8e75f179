"""The process sheet as a PDF: typeset offline with an embedded typeface, same input same bytes."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import UTC, datetime
from functools import cache
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from stopout.errors import StopoutError
from stopout.sheet.contents.model import Box, Sheet, Signs
from stopout.sheet.drawings.safety_signs import SIZE_MM, sign_svg
from stopout.typefaces import missing_letters, wide_files

if TYPE_CHECKING:
    import typst

__all__ = ["sheet_pdf", "typeface"]


def sheet_pdf(sheet: Sheet, *, paper: Literal["A4", "Letter"] = "A4", date: str) -> bytes:
    """Typeset a sheet.

    Parameters
    ----------
    sheet : Sheet
        What stands on it.
    paper : {"A4", "Letter"}
        The body is 178 x 239 mm on both, so that pages break alike.
    date : str
        ISO 8601 (`2025-03-14`), printed on every page and recorded as the file's date.

    Returns
    -------
    bytes
        PDF/A-2a and PDF/UA-1, fonts embedded; the same bytes for the same input.

    Raises
    ------
    StopoutError
        If the paper is not one of the two, or the date is not a date.
    """
    if paper not in ("A4", "Letter"):
        raise StopoutError(f"there is no paper {paper!r} here; use A4 or Letter")
    import typst

    data = {
        "paper": paper,
        "date": date,
        "sheet": asdict(sheet),
        "signs": _drawn(sheet),
        "sizes": SIZE_MM,
    }
    text, timestamp = json.dumps(data, ensure_ascii=False), _seconds(date)
    try:
        return _typeset(text, timestamp)
    except typst.TypstError:
        # An archival file may hold no letter without a shape; a name may well hold one.
        lost = missing_letters(text)
        if not lost:
            raise
        return _typeset(text.translate({ord(sign): "\u25a1" for sign in lost}), timestamp)


def _drawn(sheet: Sheet) -> dict[str, str]:
    """The signs of the sheet's boxes as SVG, by code."""
    shown = [block.signs for block in sheet.blocks if isinstance(block, Box | Signs)]
    return {code: sign_svg(code) for pairs in shown for code, _ in pairs}


def _typeset(text: str, timestamp: int) -> bytes:
    import typst

    template, fonts = _ingredients()
    made = typst.compile(
        template,
        font_paths=fonts,
        sys_inputs={"data": text},
        format="pdf",
        timestamp=timestamp,
        # Archival, tagged and accessible: ISO 19005-2 level A and ISO 14289-1.
        pdf_standards=["a-2a", "ua-1"],
    )
    return bytes(made)


def _seconds(date: str) -> int:
    """Midnight UTC of the date, so that the file's own date does not follow the clock."""
    try:
        day = datetime.fromisoformat(date)
    except ValueError:
        raise StopoutError(f"the date {date!r} is not one; write it as 2025-03-14") from None
    return int(day.replace(tzinfo=UTC).timestamp())


@cache
def _ingredients() -> tuple[bytes, typst.Fonts]:
    """The template and the typeface."""
    template = resources.files("stopout.sheet.paper").joinpath("sheet.typ").read_bytes()
    return template, typeface()


@cache
def typeface() -> typst.Fonts:
    """Return the embedded typefaces, whatever fonts the machine has."""
    import fontpkg_barlow
    import typst

    folders = [Path(fontpkg_barlow.__file__).parent / "files"]
    folders += [path.parent for path in wide_files()]
    return typst.Fonts(include_system_fonts=False, font_paths=[str(folder) for folder in folders])
