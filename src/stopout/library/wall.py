"""The wall page of a shop: every substance of its book and of a job, on one page."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from stopout.errors import TableError
from stopout.library.book import book_for_reading

if TYPE_CHECKING:
    from stopout.records import ShopBook
    from stopout.sheet import Sheet


def with_shop_wall(sheet: Sheet, book: Path | None) -> tuple[Sheet, tuple[str, ...]]:
    """Return a sheet whose wall page is that of the whole shop, and what no table knows.

    Parameters
    ----------
    sheet : Sheet
        Of the job at hand; its own substances stay.
    book : Path or None
        The shop book; None for the usual one. Where there is none, the sheet stays as it is.

    Returns
    -------
    sheet : Sheet
    unknown : tuple of str
        What the book names and the tables do not: its hazards are not on the page.

    Raises
    ------
    BookError
        If a book was named and is not there, or cannot be read.
    """
    opened = book_for_reading(book)
    if opened is None or not sheet.hazards:
        return sheet, ()
    with opened:
        idents, unknown = _met_in(opened)
    from stopout.sheet.stages.hazards import wall_page
    from stopout.tables import load_hazards

    both = tuple(dict.fromkeys((*sheet.hazards, *idents)))
    if set(both) == set(sheet.hazards):
        return sheet, unknown
    header = replace(sheet.header, job="The whole shop", revision="", quantity=0, artwork="")
    return replace(sheet, header=header, wall=tuple(wall_page(load_hazards(both)))), unknown


def _met_in(book: ShopBook) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Ids of the hazards of a book's baths, metals, paints and lasers; names that no table has."""
    from stopout.etching import hazard_ids
    from stopout.job.shop_numbers import Bath, ClearingCalibration, EtchCalibration, JobRecord
    from stopout.tables import load_etchant, load_pair, load_resist

    found: list[str] = []
    unknown: list[str] = []
    for entry in book.entries():
        record = entry.record
        try:
            match record:
                case ClearingCalibration():
                    resist = load_resist(record.paint)
                    found += hazard_ids(None, (resist,), wavelength_nm=record.machine.wavelength_nm)
                    found += resist.strippers if record.substrate == "metal" else ()
                case EtchCalibration() | JobRecord() if record.etchant:
                    pair = load_pair(record.material, record.etchant)
                    found += hazard_ids(pair, (), wavelength_nm=None)
                case Bath():
                    found += load_etchant(record.etchant).hazards
        except TableError as error:
            unknown.append(f"entry {entry.ident}: {error}")
    return tuple(dict.fromkeys(found)), tuple(dict.fromkeys(unknown))
