"""What a shop's own table may not make weaker: heat, gas, capacity, and the ceilings of a bath."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from stopout.errors import TableError
from stopout.etching.records import Ceilings
from stopout.tables.ceilings import pair_ceilings
from stopout.tables.read import builtin_table

# Values from which heat, gas and the size of the bath follow: a shop may be more careful than the
# table's own range, never less. `least` may not be smaller, `most` not larger.
_LEAST = {"pairs": ("heat", "gas_mol", "reagent_mol"), "etchants": ("solution",)}
_MOST = {
    "pairs": ("heat_capacity", "gas_lower_flammable", "capacity", "capacity_end", "capacity_share"),
    "etchants": ("decomposes", "max_fraction"),
}
# What a metal or a reagent is: another value of these would be another substance. Shares of the
# value by which a shop's own may differ; our own rule.
_SAME = {
    "materials": {"density": 0.03, "molar_mass": 0.03},
    "etchants": {"molar_mass": 0.01, "anhydrous_fraction": 0.01},
}
# Aluminium alloys weigh 2.5 to 2.9 g/cm3 and titanium 4.5; cast zinc 6.6 to 7.2, tin 7.3. From
# memory. Steels and copper alloys are heavier.
_LIGHT_G_PER_CM3, _LIGHT_G_PER_MOL, _LIKE_ZINC_G_PER_CM3 = 5.0, 35.0, (6.2, 7.4)
_HEAVY = 100.0
# Lists and tables that stay as they are built in.
_WHOLE = {"pairs": ("gas", "gas_lower_flammable"), "etchants": ("density", "companion", "cp")}


def refuse_loosening(own: Mapping[str, Any], file: str) -> None:
    """Refuse a shop's own values that would open a bath which the built-in ones close.

    Parameters
    ----------
    own : mapping
        The shop's file as TOML gives it.
    file : str
        Its name, for the message.

    Raises
    ------
    TableError
        Naming the value, the limit, and whose it is.
    """
    for table in ("materials", "etchants"):
        for ident, entry in own.get(table, {}).items():
            _entry(table, entry, builtin_table(table).get(ident), f"{file}: {table}.{ident}")
    for material, pairs in own.get("pairs", {}).items():
        for etchant, entry in pairs.items():
            where = f"{file}: pairs.{material}.{etchant}"
            base = builtin_table("pairs").get(material, {}).get(etchant)
            _entry("pairs", entry, base, where)
            held = own.get("materials", {}).get(material, {})
            alloy_of = str(held.get("base", "")) if isinstance(held, Mapping) else ""
            _within(entry, pair_ceilings(material, etchant, alloy_of), where)


def refuse_nameless_alloys(own: Mapping[str, Any], file: str) -> None:
    """Refuse a shop's own metal that may be one of the reactive ones and does not say so.

    What is refused for aluminium and zinc is written for their ids; an alloy of theirs names them
    as its base, so that it is refused too.

    Raises
    ------
    TableError
        Naming the metal and what it may be.
    """
    for ident, entry in own.get("materials", {}).items():
        if not isinstance(entry, Mapping) or entry.get("sort") != "metal":
            continue
        if ident in builtin_table("materials") or entry.get("base") in ("aluminium", "zinc"):
            continue
        numbers = dict(_values(entry))
        density, mass = numbers.get("density", _HEAVY), numbers.get("molar_mass", _HEAVY)
        where = f"{file}: materials.{ident}"
        if density < _LIGHT_G_PER_CM3 or mass < _LIGHT_G_PER_MOL:
            raise TableError(
                f"{where}: a metal as light as this is an alloy of aluminium (write base = "
                '"aluminium") or magnesium, beryllium or titanium, which are not etched here'
            )
        if _LIKE_ZINC_G_PER_CM3[0] < density < _LIKE_ZINC_G_PER_CM3[1]:
            raise TableError(
                f'{where}: a metal of this density is an alloy of zinc (write base = "zinc") or '
                "of tin, antimony or chromium, which are not etched here"
            )


def _entry(table: str, own: Any, base: Mapping[str, Any] | None, where: str) -> None:
    if base is None or not isinstance(own, Mapping):
        return
    for key in own:
        here = f"{where}.{key}"
        if key in _WHOLE.get(table, ()) and own[key] != base.get(key) and key in base:
            raise TableError(f"{here}: is built in and cannot be replaced")
    for key, value in _values(own):
        if key not in base:
            continue
        here, held = f"{where}.{key}", base[key]
        if key in _LEAST.get(table, ()):
            limit = float(held.get("low", held["value"]))
            if value < limit * (1.0 - 1e-9):
                raise TableError(_less(here, value, limit, "at least"))
        if key in _MOST.get(table, ()):
            limit = float(held.get("high", held["value"]))
            if value > limit * (1.0 + 1e-9):
                raise TableError(_less(here, value, limit, "at most"))
        share = _SAME.get(table, {}).get(key)
        if share is not None and abs(value / float(held["value"]) - 1.0) > share:
            raise TableError(
                f"{here}: {value:g} is not what {held['value']:g} of the built-in table is; "
                "another substance wants an entry of its own"
            )


def _less(where: str, value: float, limit: float, bound: str) -> str:
    return (
        f"{where}: {value:g} would let a bath be smaller, hotter or longer in use than the "
        f"built-in table lets it be; use {bound} {limit:g}, or leave it out"
    )


def _values(own: Mapping[str, Any]) -> Iterator[tuple[str, float]]:
    """Keys and numbers of the values of an entry; what is no number is told elsewhere."""
    for key, value in own.items():
        number = value.get("value") if isinstance(value, Mapping) else None
        if isinstance(number, int | float) and not isinstance(number, bool):
            yield key, float(number)


def _within(own: Any, ceilings: Ceilings, where: str) -> None:
    """Refuse rates for a bath that no rate opens."""
    if not isinstance(own, Mapping):
        return
    warmest = ceilings.temperature_degc.value
    strongest = None if ceilings.strength_g_per_l is None else ceilings.strength_g_per_l.value
    for number, rate in enumerate(_tables(own.get("rate"))):
        for key, most, unit in (
            ("temperature_range_degc", warmest, "degC"),
            ("temperature_degc", warmest, "degC"),
            ("strength_range_g_per_l", strongest, "g/L"),
            ("strength_g_per_l", strongest, "g/L"),
        ):
            top = _top(rate.get(key))
            if most is not None and top is not None and top > most * (1.0 + 1e-3):
                raise TableError(
                    f"{where}.rate[{number}].{key}: {top:g} {unit} is above the ceiling of "
                    f"{most:g} {unit}, which no measured rate lifts; see `stopout table ceilings`"
                )
    paint = own.get("hot_paint")
    top = _top(paint.get("value")) if isinstance(paint, Mapping) else None
    if top is not None and top > warmest:
        raise TableError(
            f"{where}.hot_paint: {top:g} degC is above the ceiling of {warmest:g} degC, which no "
            "number lifts"
        )


def _tables(node: Any) -> list[Mapping[str, Any]]:
    return [item for item in node if isinstance(item, Mapping)] if isinstance(node, list) else []


def _top(node: Any) -> float | None:
    """The largest number of a value or a range; None where it is neither."""
    found = node if isinstance(node, list) else [node]
    numbers = [x for x in found if isinstance(x, int | float) and not isinstance(x, bool)]
    return max(map(float, numbers), default=None)
