"""The shop's own equipment: kept by name in the shop book, named by jobs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from stopout.errors import BookError
from stopout.library.book import book_for_keeping, book_for_reading

if TYPE_CHECKING:
    from stopout.job.shop_numbers import Equipment
    from stopout.records import Kept


def shop_equipment(book: Path | None) -> tuple[Equipment, ...]:
    """Return what a shop book keeps by name; nothing where there is no book.

    Parameters
    ----------
    book : Path or None
        The book; None for none.

    Raises
    ------
    BookError
        If there is one and it cannot be used.
    """
    opened = None if book is None else book_for_reading(book)
    if opened is None:
        return ()
    with opened:
        return opened.equipment()


def keep_equipment(
    kind: str,
    name: str,
    keys: dict[str, Any],
    *,
    date: str,
    book: Path | None = None,
    note: str = "",
    in_place: bool = False,
) -> Kept:
    """Keep a machine, a paint, a tray or limits under a name.

    Parameters
    ----------
    kind : str
        machine, paint, tray or limits.
    name : str
        What jobs call it.
    keys : dict
        Its figures as a job file writes them.
    date : str
        Year-month-day.
    book : Path, optional
        The shop book, made where there is none; left out, the usual one.
    note : str
        Where the figures are from.
    in_place : bool
        Whether one of that name may go.

    Raises
    ------
    BookError
        Naming each figure that is missing or wrong, and how it is found out.
    """
    from stopout.jobs.equipment import equipment_mistakes
    from stopout.records import from_content

    faults = [f"{fault.field}: {fault.message}" for fault in equipment_mistakes(kind, keys)]
    if kind == "paint":
        faults += _taken(name)
    if kind == "price" and not faults:
        faults += _unpriced(name, keys)
    if faults:
        raise BookError("\n".join([f"the {kind} {name!r} is not kept:", *faults]))
    content = {"date": date, "kind": kind, "name": name, "keys": keys, "note": note}
    record: Any = from_content(kind, content, where=f"the {kind} {name!r}")
    with book_for_keeping(book) as opened:
        return opened.keep_named(record, replace=in_place)


def _taken(name: str) -> list[str]:
    """Whether a paint's name is one by which the tables know another."""
    from stopout.errors import TableError
    from stopout.tables import canonical, load_resist

    try:
        load_resist(canonical("resists", name))
    except TableError:
        return []
    return [f"name: {name} is a paint of the tables; give yours a name of its own"]


_BY_TIME = ("clearing", "bath")


def _unpriced(name: str, keys: dict[str, Any]) -> list[str]:
    """Whether nothing is counted under a price's name, or not by its measure."""
    fits = ("min", "h") if name in _BY_TIME else _sold_by(name)
    if not fits:
        return [
            f"name: nothing is counted as {name}; it is clearing, bath, or the id of a paint, an "
            "etchant or an electrolyte, as stopout table lists them"
        ]
    return [] if keys["per"] in fits else [f"per: {name} is counted per {' or '.join(fits)}"]


def _sold_by(name: str) -> tuple[str, ...]:
    from stopout.errors import TableError
    from stopout.tables import load_electrolyte, load_etchant, load_resist

    by_mass = ("g", "kg")
    tables = ((load_resist, ("mL", "L")), (load_etchant, by_mass), (load_electrolyte, by_mass))
    for load, fits in tables:
        try:
            load(name)
        except TableError:
            continue
        return fits
    return ()
