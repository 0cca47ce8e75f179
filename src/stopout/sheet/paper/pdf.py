"""The process sheet as a PDF: typeset offline with an embedded typeface, same input same bytes."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict
from datetime import UTC, datetime
from functools import cache
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from stopout.errors import StopoutError
from stopout.sheet.drawings.safety_signs import SIZE_MM, sign_svg
from stopout.sheet.model import Block, Box, Sheet, Signs
from stopout.typefaces import missing_letters, wide_files

if TYPE_CHECKING:
    import typst

Part = Literal["bench", "annex", "wall"]
_TITLES = {"bench": "process sheet", "annex": "annex", "wall": "wall page"}
# Room above and below a step or a line [mm], the usual first, and pages that need no saving.
_AIR_MM = (0.6, 0.45)
_USUAL_PAGES = {"bench": 4, "wall": 1}
# Its head with them, so many letters on the last page are what tighter lines may save: 15 mm.
_FEW_LETTERS = 300


def sheet_pdf(
    sheet: Sheet, *, paper: Literal["A4", "Letter"] = "A4", date: str, part: Part = "bench"
) -> bytes:
    """Typeset a part of a sheet.

    Parameters
    ----------
    sheet : Sheet
        What stands on it.
    paper : {"A4", "Letter"}
        20 mm are left for the punch, 12 mm at the other edges.
    date : str
        ISO 8601 (`2025-03-14`), printed on every page and recorded as the file's date.
    part : {"bench", "annex", "wall"}
        What is worked from, what is looked up, or what hangs on the wall. A sheet that says STOP
        is the same page whatever part is asked for.

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
    blocks = {"bench": sheet.blocks, "annex": sheet.annex, "wall": sheet.wall}[part]
    if sheet.is_stop:
        part, blocks = "bench", sheet.blocks
    card = sheet.card if part == "bench" else ()
    data = {
        "paper": paper,
        "date": date,
        "part": part,
        "title": _TITLES[part],
        "zero": sheet.has_program,
        "sheet": {"header": asdict(sheet.header)},
        "card": [asdict(block) for block in card],
        "blocks": [asdict(block) for block in blocks],
        "signs": _drawn((*card, *blocks)),
        "sizes": SIZE_MM,
    }
    if part in _USUAL_PAGES and not sheet.is_stop:
        return _roomiest(data, _seconds(date), _USUAL_PAGES[part])
    return _printed("annex", data | {"air": _AIR_MM[0]}, _seconds(date))


def _roomiest(data: dict[str, Any], timestamp: int, usual_pages: int) -> bytes:
    """A sheet with the usual air between its steps, or less where that saves a page."""
    made: dict[int, bytes] = {}
    for air_mm in _AIR_MM:
        pdf = _printed("bench", data | {"air": air_mm}, timestamp)
        pages, letters = _pages(pdf)
        made.setdefault(pages, pdf)
        # A last page of a few lines is worth saving too.
        if pages <= usual_pages and letters >= _FEW_LETTERS:
            break
    return made[min(made)]


def _pages(pdf: bytes) -> tuple[int, int]:
    """How many pages there are, and how many letters stand on the last."""
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    try:
        return len(document), document[len(document) - 1].get_textpage().count_chars()
    finally:
        document.close()


def _printed(layout: str, data: dict[str, Any], timestamp: int) -> bytes:
    """Typeset; letters that no typeface here has become empty squares."""
    import typst

    text = json.dumps(data, ensure_ascii=False)
    try:
        return _typeset(layout, text, timestamp)
    except typst.TypstError:
        # An archival file may hold no letter without a shape; a name may well hold one.
        lost = missing_letters(text)
        if not lost:
            raise
        shown = text.translate({ord(sign): "\u25a1" for sign in lost})
        return _typeset(layout, shown, timestamp)


def _drawn(blocks: Iterable[Block]) -> dict[str, str]:
    """The signs of the boxes as SVG, by code."""
    shown = [block.signs for block in blocks if isinstance(block, Box | Signs)]
    return {code: sign_svg(code) for pairs in shown for code, _ in pairs}


def _typeset(layout: str, text: str, timestamp: int) -> bytes:
    import typst

    made = typst.compile(
        _template(layout),
        font_paths=typeface(),
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
def _template(layout: str) -> bytes:
    """What all pages share, then the layout of these."""
    folder = resources.files("stopout.sheet.paper")
    parts = (folder.joinpath(f"{name}.typ").read_bytes() for name in ("common", layout))
    return b"\n".join(parts)


@cache
def typeface() -> typst.Fonts:
    """Return the embedded typefaces, whatever fonts the machine has."""
    import fontpkg_barlow
    import typst

    folders = [Path(fontpkg_barlow.__file__).parent / "files"]
    folders += [path.parent for path in wide_files()]
    return typst.Fonts(include_system_fonts=False, font_paths=[str(folder) for folder in folders])
