"""Hazards, first aid, protective wear, spills, incidents and statements: data files -> records."""

from __future__ import annotations

from dataclasses import replace

from stopout.errors import TableError
from stopout.etching.records import Advice
from stopout.etching.safety import ROUTES, Aid, FirstAid, Hazard, Incident, Limit, Statement, Wear
from stopout.tables.find import entry
from stopout.tables.read import TableEntry, cached, raw_table, source_words

_UNCHECKED = "not yet checked against the standard"
# What a first aid or a spill of a shop's own hazard has, which names no entry of ours.
_OWN_RANK = 3


def load_hazards(idents: tuple[str, ...]) -> tuple[Hazard, ...]:
    """Hazards by their ids, in that order, each once.

    Raises
    ------
    TableError
        If an id is unknown, or an entry lacks a source, a route of first aid or a spill.
    """
    return tuple(_hazard(ident) for ident in dict.fromkeys(idents))


def load_statements(codes: tuple[str, ...]) -> tuple[Statement, ...]:
    """Hazard and precautionary statements by their codes, in that order, each once.

    Raises
    ------
    TableError
        If a code is not in the table.
    """
    known = _statements()
    missing = [code for code in codes if code not in known]
    if missing:
        raise TableError(f"statements.toml: no statement {missing[0]!r}")
    return tuple(known[code] for code in dict.fromkeys(codes))


def all_statements() -> tuple[Statement, ...]:
    """Every statement of the table, in the order of its code."""
    return tuple(statement for _, statement in sorted(_statements().items()))


@cached
def _hazard(ident: str) -> Hazard:
    data = entry("hazards", ident)
    return data.record(
        Hazard,
        ident=ident,
        short=data.text("short", data.text("name")),
        signal=data.choice("signal", ("Danger", "Warning", "")),
        classification=_classification(data),
        first_aid=_first_aid(data),
        spill=_spill(data),
        wear=_wear(data),
        limits=tuple(
            Limit(name=item.text("name"), value=item.sourced("value"))
            for item in data.subs("limit")
        ),
        incidents=_incidents(ident),
    )


def _classification(data: TableEntry) -> Advice:
    """The class; one that was recalled says that nobody has held it against the standard yet."""
    found = data.sub("classification").as_advice()
    return replace(found, source=_UNCHECKED) if found.kind == "memory" else found


def _first_aid(data: TableEntry) -> FirstAid:
    aid = data.sub("first_aid")
    aid.only(set(ROUTES))
    return FirstAid(**{route: _aid(aid, route) for route in ROUTES})


def _aid(data: TableEntry, route: str) -> Aid:
    """An entry of first_aid.toml by its id, or a sentence of the shop's own."""
    if isinstance(data.data.get(route), str):
        known = TableEntry(raw_table("first_aid")[route], where=f"first_aid.toml: {route}")
        named = _named(data, known, data.text(route), f"first_aid.{route}")
        return Aid(advice=_advice(named), rank=int(named.number("rank")))
    return Aid(advice=data.sub(route).as_advice(), rank=_OWN_RANK)


def _spill(data: TableEntry) -> tuple[Advice, ...]:
    """Entries of spills.toml by their ids, or sentences of the shop's own; at least one."""
    listed = data.data.get("spill", [])
    if isinstance(listed, list) and listed and all(isinstance(item, str) for item in listed):
        known = TableEntry(raw_table("spills"), where="spills.toml")
        return tuple(_advice(_named(data, known, ident, "spill")) for ident in listed)
    if not listed:
        raise TableError(f"{data.where}.spill: missing; say what is done with what has got out")
    return data.advice("spill")


def _wear(data: TableEntry) -> tuple[Wear, ...]:
    known = TableEntry(raw_table("wear"), where="wear.toml")
    idents = data.texts("wear")
    if not idents:
        raise TableError(f"{data.where}.wear: missing; name what is worn")
    items = []
    for ident in idents:
        item = _named(data, known, ident, "wear")
        rank = int(item.number("rank"))
        items.append(Wear(ident=ident, part=item.text("part"), rank=rank, advice=_advice(item)))
    return tuple(items)


def _incidents(ident: str) -> tuple[Incident, ...]:
    found = []
    for number, (name, raw) in enumerate(raw_table("incidents").items()):
        data = TableEntry(raw, where=f"incidents.toml: {name}")
        if ident in data.texts("when"):
            steps = data.advice("do")
            title = data.text("title")
            found.append(Incident(ident=name, number=number, title=title, steps=steps))
    return tuple(found)


def _named(data: TableEntry, known: TableEntry, ident: str, key: str) -> TableEntry:
    if ident not in known:
        raise TableError(
            f"{data.where}.{key}: {ident!r} is not known; one of {', '.join(known.data)}"
        )
    return known.sub(ident)


def _advice(data: TableEntry) -> Advice:
    """The sentence of an entry that holds more than its sentence."""
    kind, source, source_id = data.provenance()
    return Advice(text=data.text("text"), kind=kind, source=source, source_id=source_id)


@cached
def _statements() -> dict[str, Statement]:
    table = raw_table("statements")
    found = {
        code: Statement(code=code, text=text, kind="memory", source=_UNCHECKED)
        for code, text in table["memory"].items()
    }
    for ident, texts in table["published"].items():
        words = source_words(ident, "statements.toml: published")
        for code, text in texts.items():
            found[code] = Statement(code=code, text=text, kind="published", source=words)
    return found
