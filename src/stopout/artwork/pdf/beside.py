"""What a PDF page shows over its drawing, and letters of typefaces that it does not bring."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from typing import Any

from stopout.values import Finding

# Forms within forms, beyond which a page is refused; bytes of a typeface's name (ours).
DEEPEST = 20
_LONGEST = 200


def beside_the_drawing(page: Any, items: Iterator[Any]) -> Iterator[Finding]:
    """Tell of notes and form fields, and of typefaces that are not brought.

    Parameters
    ----------
    page : pypdfium2.PdfPage
        The page.
    items : iterator
        Handles of its objects.
    """
    if count := _notes(page):
        what = "a note or form field" if count == 1 else f"{count} notes and form fields"
        yield Finding.caution(
            "artwork-ignored",
            f"the PDF page shows {what} over its drawing, and what is dark of it counts",
            remedy="Take it off the page where it does not belong to the artwork.",
        )
    if lent := sorted(set(_lent(items, 0))):
        yield Finding.caution(
            "artwork-ignored",
            f"the PDF names the typeface {', '.join(lent)[:80]} and does not bring it; its letters "
            "are drawn in a similar one",
            remedy="Save the PDF with its fonts embedded, or its lettering as outlines.",
        )


def within(form: Any) -> Iterator[Any]:
    """The handles of a form's objects."""
    import pypdfium2.raw as raw

    for index in range(raw.FPDFFormObj_CountObjects(form)):
        yield raw.FPDFFormObj_GetObject(form, index)


def _notes(page: Any) -> int:
    """How much is laid over the drawing, hidden ones and mere links left out."""
    import pypdfium2.raw as raw

    found = 0
    for index in range(raw.FPDFPage_GetAnnotCount(page.raw)):
        note = raw.FPDFPage_GetAnnot(page.raw, index)
        is_shown = not raw.FPDFAnnot_GetFlags(note) & raw.FPDF_ANNOT_FLAG_HIDDEN
        kinds = (raw.FPDF_ANNOT_LINK, raw.FPDF_ANNOT_POPUP)
        found += is_shown and raw.FPDFAnnot_GetSubtype(note) not in kinds
        raw.FPDFPage_CloseAnnot(note)
    return found


def _lent(items: Iterator[Any], depth: int) -> Iterator[str]:
    """The names of the typefaces of lettering that the file does not hold."""
    import pypdfium2.raw as raw

    for item in items:
        kind = raw.FPDFPageObj_GetType(item)
        if kind == raw.FPDF_PAGEOBJ_FORM and depth < DEEPEST:
            yield from _lent(within(item), depth + 1)
        elif kind == raw.FPDF_PAGEOBJ_TEXT:
            font = raw.FPDFTextObj_GetFont(item)
            if font and raw.FPDFFont_GetIsEmbedded(font) == 0:
                name = ctypes.create_string_buffer(_LONGEST)
                raw.FPDFFont_GetBaseFontName(font, name, _LONGEST)
                yield name.value.decode("utf-8", "replace") or "of no name"
