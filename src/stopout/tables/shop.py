"""A shop's own data file, laid over the built-in tables: what it adds and what it replaces.

Whoever measured a number wins over the handbook, but never over a warning or a ceiling: hazards and
refusals can be added to, not replaced, and `loosening` says what cannot be made weaker. Each value
keeps the file's name, so that plan and sheet show whose number was used.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from stopout.errors import TableError
from stopout.tables import hazards as hazard_table
from stopout.tables import load
from stopout.tables.loosening import refuse_loosening, refuse_nameless_alloys
from stopout.tables.names import NAMED, canonical, refused_name
from stopout.tables.read import FILE_KEY, Overlay, builtin_table, overlaid

_TABLES = ("materials", "etchants", "pairs", "resists", "hazards", "refusals", "sources")
# What warns of harm may be added to and never replaced.
_ADDED_ONLY = ("hazards", "refusals", "sources")
# What is said for the sake of safety grows and never shrinks; where a spent bath goes is settled.
_GROWING = (
    "hazards",
    "advice",
    "after_etch",
    "passes",
    "marks",
    "frosts",
    "harms",
    "mixing",
    "waste",
    "neutralising",
    "strippers",
)
_KEPT = ("neutralised_in_shop", "base", "sort", "formula", "ready_made")
_LONGEST_BYTES = 1_000_000
_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopTables:
    """A shop's own tables, read and validated.

    `replaced` and `added` name what differs from the built-in tables, as `table.id` or deeper;
    `sha256` is that of the file's bytes.
    """

    overlay: Overlay
    replaced: tuple[str, ...]
    added: tuple[str, ...]
    sha256: str


def open_shop_tables(path: Path) -> ShopTables:
    """Read a shop's own tables and check every entry that they touch.

    Parameters
    ----------
    path : Path
        A TOML file with tables named as the built-in ones: `[pairs.copper.ferric-chloride]`.

    Raises
    ------
    TableError
        If the file cannot be read, names what there is none of, replaces a warning, or an entry
        of it does not load.
    """
    data = _bytes(path)
    own = _parsed(data, path.name)
    replaced: list[str] = []
    added: list[str] = []
    touched: set[tuple[str, str]] = set()
    tables = {}
    for name, entries in own.items():
        _check_entries(path.name, name, entries)
        base = builtin_table(name)
        tables[name] = _merged(base, _marked(entries, path.name), name, (replaced, added))
        touched |= {(name, ident) for ident in entries}
        _check_units(path.name, name, entries)
    refuse_nameless_alloys(own, path.name)
    refuse_loosening(own, path.name)
    overlay = Overlay(file=path.name, tables=tables, touched=frozenset(touched))
    with overlaid(overlay):
        _load_all(own, path.name)
    return ShopTables(
        overlay=overlay,
        replaced=tuple(replaced),
        added=tuple(added),
        sha256=hashlib.sha256(data).hexdigest(),
    )


def _bytes(path: Path) -> bytes:
    if not path.is_file():
        raise TableError(f"{path.name}: is not there, or not an ordinary file")
    try:
        with path.open("rb") as stream:
            data = stream.read(_LONGEST_BYTES + 1)
    except OSError as error:
        raise TableError(f"{path.name}: cannot be read ({error.strerror})") from error
    if len(data) > _LONGEST_BYTES:
        raise TableError(f"{path.name}: is larger than a megabyte; this is no table of a shop")
    return data


def _parsed(data: bytes, file: str) -> Mapping[str, Any]:
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise TableError(f"{file}: not valid TOML: {error}") from error


def _check_entries(file: str, table: str, entries: Any) -> None:
    if table not in _TABLES:
        raise TableError(f"{file}: {table} is no table of the shop's; use {', '.join(_TABLES)}")
    if not isinstance(entries, Mapping):
        raise TableError(f"{file}: {table}: expected a table, such as [{table}.our-own]")
    for ident, entry in entries.items():
        _check_name(f"{file}: {table}.{ident}", table, ident, entry)
        if not _ID.fullmatch(ident):
            raise TableError(
                f"{file}: {table}.{ident}: an id has small letters, digits and single hyphens"
            )
        if not isinstance(entry, Mapping):
            raise TableError(f"{file}: {table}.{ident}: expected a table")
        if table in _ADDED_ONLY and ident in builtin_table(table):
            raise TableError(
                f"{file}: {table}.{ident} is built in and cannot be replaced; "
                "add one of your own under another id"
            )
        for key in _keys(entry):
            if key.startswith("_"):
                raise TableError(f"{file}: {table}.{ident}: {key} is not a key of this table")


def _check_name(where: str, table: str, ident: str, entry: Any) -> None:
    """Refuse an entry that is another name of one built in, or of what nobody may add.

    A shop's own id would not be met by the rules that are written for the built-in one.
    """
    if table == "pairs":
        named = [("materials", ident)]
        named += [("etchants", inner) for inner in (entry if isinstance(entry, Mapping) else ())]
    else:
        named = [(table, ident)]
        said = entry if isinstance(entry, Mapping) and ident not in builtin_table(table) else {}
        named += [
            (table, said[key]) for key in ("name", "formula") if isinstance(said.get(key), str)
        ]
    for of, word in named:
        if of not in NAMED:
            continue
        refused = refused_name(of, word)
        if refused is not None and refused.is_barred:
            raise TableError(f"{where}: {word!r} cannot be added: {refused.sentence}")
        meant = canonical(of, word)
        if meant != word and meant in builtin_table(of) and meant != ident:
            raise TableError(f"{where}: {word!r} is {meant} here; give the values under that id")


def _keys(node: Any) -> Iterator[str]:
    if isinstance(node, Mapping):
        for key, inner in node.items():
            yield key
            yield from _keys(inner)
    elif isinstance(node, list):
        for inner in node:
            yield from _keys(inner)


def _marked(node: Any, file: str) -> Any:
    """The same, each value and sentence with the file that it comes from."""
    if isinstance(node, Mapping):
        inner = {key: _marked(value, file) for key, value in node.items()}
        return inner | {FILE_KEY: file} if "kind" in node else inner
    if isinstance(node, list):
        return [_marked(value, file) for value in node]
    return node


def _merged(
    base: Mapping[str, Any], own: Mapping[str, Any], at: str, told: tuple[list[str], list[str]]
) -> dict[str, Any]:
    """Own over base: tables key by key, values, sentences and lists as a whole."""
    merged = dict(base)
    for key, value in own.items():
        if key == FILE_KEY:
            continue
        before, place = base.get(key), f"{at}.{key}"
        if isinstance(before, Mapping) and isinstance(value, Mapping) and "kind" not in value:
            merged[key] = _merged(before, value, place, told)
        elif key in base and key in _KEPT and before != value:
            raise TableError(f"{at}.{key}: is built in and cannot be replaced")
        else:
            merged[key] = _list(key, before, value) if isinstance(before, list) else value
            told[0 if key in base else 1].append(place)
    return merged


def _list(key: str, base: list[Any], own: Any) -> Any:
    """Own over base, item by item where items are told apart, and never less of a warning."""
    if not isinstance(own, list):
        return own
    if key in _GROWING:
        return [*base, *(item for item in own if item not in base)]
    if key == "limit":
        mine = {item.get("etchant") for item in own if isinstance(item, Mapping)}
        return [*own, *(item for item in base if item["etchant"] not in mine)]
    if key == "rate":
        moved = {way for item in own for way in _ways(item)}
        return [*own, *(item for item in base if not moved & set(_ways(item)))]
    return own


def _ways(rate: Any) -> list[str]:
    found = rate.get("agitation", []) if isinstance(rate, Mapping) else []
    return found if isinstance(found, list) else []


def _check_units(file: str, table: str, entries: Mapping[str, Any]) -> None:
    """A value in another unit than the table's would be taken for one in the table's."""
    known: dict[str, set[str]] = {}
    for _, key, unit in _units(builtin_table(table), table):
        known.setdefault(key, set()).add(unit)
    for place, key, unit in _units(entries, table):
        # Amounts per gram name the reagent in their unit.
        allowed = {u for u in known.get(key, set()) if not u.startswith("g per g")}
        if allowed and unit not in allowed:
            raise TableError(
                f"{file}: {place}.unit: {unit!r} is not the table's; use {' or '.join(allowed)}"
            )


def _units(node: Any, at: str) -> Iterator[tuple[str, str, str]]:
    """Place, key and unit of every value."""
    if isinstance(node, Mapping):
        for key, inner in node.items():
            if isinstance(inner, Mapping) and "value" in inner and "unit" in inner:
                yield f"{at}.{key}", key, str(inner["unit"])
            yield from _units(inner, f"{at}.{key}")
    elif isinstance(node, list):
        for n, inner in enumerate(node):
            yield from _units(inner, f"{at}[{n}]")


def _load_all(own: Mapping[str, Any], file: str) -> None:
    """Load every entry touched, so that a mistake is told before any job uses it."""
    for ident in own.get("materials", {}):
        load.load_material(ident)
    for ident in own.get("etchants", {}):
        hazards = load.load_etchant(ident).hazards
        hazard_table.load_hazards(hazards)
        if not hazards:
            raise TableError(
                f"{file}: etchants.{ident}.hazards: name at least one, of `stopout table hazards` "
                "or of your own"
            )
    for material, pairs in own.get("pairs", {}).items():
        for etchant in pairs:
            hazard_table.load_hazards(load.load_pair(material, etchant).hazards)
    for ident in own.get("resists", {}):
        resist = load.load_resist(ident)
        hazard_table.load_hazards((*resist.hazards, *resist.strippers))
    for hazard in hazard_table.load_hazards(tuple(own.get("hazards", {}))):
        hazard_table.load_statements((*hazard.statements, *hazard.precautions))
    load.load_refusals()
