"""Finds an entry of a table by its id, or says what was probably meant."""

from __future__ import annotations

from stopout.errors import TableError
from stopout.tables.names import NAMED, unknown
from stopout.tables.read import TableEntry, place, raw_table

_SINGULAR = {
    "materials": "material",
    "etchants": "etchant",
    "pairs": "pair",
    "resists": "resist",
    "hazards": "hazard",
    "refusals": "refusal",
    "finishes": "finish",
    "species": "species",
    "beams": "beam",
}


def entry(table: str, ident: str) -> TableEntry:
    """One entry of a table.

    Raises
    ------
    TableError
        If the id is unknown, with the nearest known ids.
    """
    known = raw_table(table)
    if ident in known:
        return TableEntry(known[ident], where=place(table, ident))
    if table in NAMED:
        raise unknown(table, ident)
    singular = _SINGULAR.get(table, table)
    raise TableError(f"unknown {singular} {ident!r}; {_hint(ident, tuple(known))}")


def _hint(ident: str, known: tuple[str, ...]) -> str:
    # difflib is only needed for a mistake, and costs more to import than a table to read.
    import difflib

    # A part of the name is a better hint than a name that merely looks alike.
    parts = [name for name in known if ident and f"-{ident}-" in f"-{name}-"]
    near = parts or difflib.get_close_matches(ident, known, n=1, cutoff=0.5)
    if near:
        return f"did you mean {' or '.join(repr(name) for name in near)}?"
    return f"the table has {', '.join(known)}"
