"""The data tables with a source for every value, and their reader."""

from stopout.tables.beams import emitter_of, emitter_spans, paint_threshold
from stopout.tables.cells import (
    ELECTROLYTIC,
    electrolytes_for,
    load_cell,
    load_electrolyte,
    load_sludge,
)
from stopout.tables.hazards import load_hazards, load_statements
from stopout.tables.load import (
    base_of,
    load_etchant,
    load_finish,
    load_material,
    load_pair,
    load_refusals,
    load_resist,
    load_resists,
)
from stopout.tables.names import canonical, unknown
from stopout.tables.read import overlaid
from stopout.tables.shop import ShopTables, open_shop_tables
from stopout.tables.show import KINDS, ShownRow, list_table, show_entry

__all__ = [
    "ELECTROLYTIC",
    "KINDS",
    "ShopTables",
    "ShownRow",
    "base_of",
    "canonical",
    "electrolytes_for",
    "emitter_of",
    "emitter_spans",
    "list_table",
    "load_cell",
    "load_electrolyte",
    "load_etchant",
    "load_finish",
    "load_hazards",
    "load_material",
    "load_pair",
    "load_refusals",
    "load_resist",
    "load_resists",
    "load_sludge",
    "load_statements",
    "open_shop_tables",
    "overlaid",
    "paint_threshold",
    "show_entry",
    "unknown",
]
