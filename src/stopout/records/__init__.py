"""The shop book: calibrations, baths with their ledgers and job records in one SQLite file.

The names are looked up on first use: where there is no book, a plan loads nothing of it.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from stopout.records.forms import from_content, to_content
    from stopout.records.from_bench import RECORD_FORMATS, job_record_of, record_from_bench
    from stopout.records.from_coupon import clearing_record, etch_record
    from stopout.records.ledger import is_discarded, ledger_dissolved_g_per_l, ledger_litres
    from stopout.records.place import BOOK_VARIABLE, book_path
    from stopout.records.store import Entry, Kept, ShopBook, open_book, open_book_if_any
    from stopout.records.transfer import BOOK_FORMAT, entry_to_dict, export_book, import_book

__all__ = [
    "BOOK_FORMAT",
    "BOOK_VARIABLE",
    "RECORD_FORMATS",
    "Entry",
    "Kept",
    "ShopBook",
    "book_path",
    "clearing_record",
    "entry_to_dict",
    "etch_record",
    "export_book",
    "from_content",
    "import_book",
    "is_discarded",
    "job_record_of",
    "ledger_dissolved_g_per_l",
    "ledger_litres",
    "open_book",
    "open_book_if_any",
    "record_from_bench",
    "to_content",
]

_HOMES = {
    "forms": ("from_content", "to_content"),
    "from_bench": ("RECORD_FORMATS", "job_record_of", "record_from_bench"),
    "from_coupon": ("clearing_record", "etch_record"),
    "ledger": ("is_discarded", "ledger_dissolved_g_per_l", "ledger_litres"),
    "place": ("BOOK_VARIABLE", "book_path"),
    "store": ("Entry", "Kept", "ShopBook", "open_book", "open_book_if_any"),
    "transfer": ("BOOK_FORMAT", "entry_to_dict", "export_book", "import_book"),
}


def __getattr__(name: str) -> Any:
    for home, names in _HOMES.items():
        if name in names:
            return getattr(import_module(f"{__name__}.{home}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
