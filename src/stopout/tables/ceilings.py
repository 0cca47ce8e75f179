"""The ceilings of a bath: read from their own file, over which no shop can lay another."""

from __future__ import annotations

from typing import Any

from stopout.etching.records import BenchCeilings, Ceilings
from stopout.tables.read import TableEntry, builtin_table

CEILING_ENTRIES = (
    ("bench", "what a bench may do at once, whatever the bath"),
    ("any", "a bath that a shop adds in its own tables"),
)

_FILE = "ceilings.toml"


def pair_ceilings(material_id: str, etchant_id: str, base_id: str = "") -> Ceilings:
    """The ceilings of a metal in an etchant; an alloy without its own has those of its base.

    A pair that a shop adds has those of any bath, and never a stronger one than the strongest that
    is built in for the same etchant.
    """
    pairs = builtin_table("ceilings")["pairs"]
    for metal in (material_id, base_id):
        own = pairs.get(metal, {}).get(etchant_id)
        if own is not None:
            return _ceilings(own, f"{_FILE}: pairs.{metal}.{etchant_id}")
    strengths = [held[etchant_id]["strength"] for held in pairs.values() if etchant_id in held]
    found = dict(builtin_table("ceilings")["any"])
    if strengths:
        found["strength"] = max(strengths, key=lambda strength: float(strength["value"]))
    return _ceilings(found, f"{_FILE}: any")


def cell_ceilings(electrolyte_id: str) -> Ceilings:
    """The ceilings of a bath through which a current goes."""
    cells = builtin_table("ceilings")["cells"]
    found = cells.get(electrolyte_id, builtin_table("ceilings")["any"])
    return _ceilings(found, f"{_FILE}: cells.{electrolyte_id}")


def any_ceilings() -> Ceilings:
    """The ceilings of a bath that has none of its own."""
    return _ceilings(builtin_table("ceilings")["any"], f"{_FILE}: any")


def bench_ceilings() -> BenchCeilings:
    """What a bench may do at once, whatever the bath."""
    data = TableEntry(builtin_table("ceilings")["bench"], where=f"{_FILE}: bench")
    return data.record(BenchCeilings)


def _ceilings(found: Any, where: str) -> Ceilings:
    return TableEntry(found, where=where).record(Ceilings, bench=bench_ceilings())
