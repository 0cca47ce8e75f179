"""The process sheet: what stands on it, then paper. From a plan to what the bench holds."""

from stopout.sheet.contents.amounts import amounts
from stopout.sheet.contents.both_units import with_both_units
from stopout.sheet.contents.whole import sheet_contents, stop_contents
from stopout.sheet.drawings.pieces import sheet_pictures
from stopout.sheet.model import Sheet
from stopout.sheet.paper.film import film_pdf
from stopout.sheet.paper.pdf import Part, sheet_pdf
from stopout.sheet.phone.page import page_policy, sheet_page
from stopout.sheet.store import read_sheet, sheet_files, sheet_json

__all__ = [
    "Part",
    "Sheet",
    "amounts",
    "film_pdf",
    "page_policy",
    "read_sheet",
    "sheet_contents",
    "sheet_files",
    "sheet_json",
    "sheet_page",
    "sheet_pdf",
    "sheet_pictures",
    "stop_contents",
    "with_both_units",
]
