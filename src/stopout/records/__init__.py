"""The shop book: calibrations, baths with their ledgers and job records in one SQLite file."""

from stopout.records.forms import RECORD_FORMAT, from_content, job_record_of, to_content
from stopout.records.from_coupon import clearing_record, etch_record
from stopout.records.ledger import ledger_dissolved_g_per_l, ledger_litres
from stopout.records.place import BOOK_VARIABLE, book_path
from stopout.records.store import Entry, Kept, ShopBook, open_book, open_book_if_any
from stopout.records.transfer import BOOK_FORMAT, export_book, import_book

__all__ = [
    "BOOK_FORMAT",
    "BOOK_VARIABLE",
    "RECORD_FORMAT",
    "Entry",
    "Kept",
    "ShopBook",
    "book_path",
    "clearing_record",
    "etch_record",
    "export_book",
    "from_content",
    "import_book",
    "job_record_of",
    "ledger_dissolved_g_per_l",
    "ledger_litres",
    "open_book",
    "open_book_if_any",
    "to_content",
]
