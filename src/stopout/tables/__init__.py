"""The data tables with a source for every value, and their reader."""

from stopout.tables.load import (
    load_etchant,
    load_finish,
    load_hazards,
    load_material,
    load_pair,
    load_refusals,
    load_resist,
    load_species,
    load_statements,
)
from stopout.tables.show import KINDS, Row, list_table, show_entry

__all__ = [
    "KINDS",
    "Row",
    "list_table",
    "load_etchant",
    "load_finish",
    "load_hazards",
    "load_material",
    "load_pair",
    "load_refusals",
    "load_resist",
    "load_species",
    "load_statements",
    "show_entry",
]
