"""Quantities with units: a strict reader, the table of units, and plain numbers for people."""

from stopout.units.quantities import QUANTITIES, Quantity
from stopout.units.reading import (
    StrengthUnit,
    parse_length_mm,
    parse_mass_g,
    parse_quantity,
    parse_strength,
    parse_temperature_degc,
    parse_time_s,
    quantity_pattern,
)
from stopout.units.writing import (
    format_duration,
    format_least,
    format_number,
    format_roughly,
    format_rounded,
    rounded_down,
    shown,
    six_digits,
)

__all__ = [
    "QUANTITIES",
    "Quantity",
    "StrengthUnit",
    "format_duration",
    "format_least",
    "format_number",
    "format_roughly",
    "format_rounded",
    "parse_length_mm",
    "parse_mass_g",
    "parse_quantity",
    "parse_strength",
    "parse_temperature_degc",
    "parse_time_s",
    "quantity_pattern",
    "rounded_down",
    "shown",
    "six_digits",
]
