"""Data files -> the frozen records of `stopout.etching`. Only the files asked for are read."""

from __future__ import annotations

from typing import Any, Literal, cast

from stopout.errors import TableError
from stopout.etching.records import (
    Advice,
    BathControl,
    Companion,
    Etchant,
    Finish,
    Material,
    Neutraliser,
    Pair,
    RateReference,
    Refusal,
    Resist,
    ResistLimit,
    Species,
)
from stopout.tables.ceilings import pair_ceilings
from stopout.tables.find import entry
from stopout.tables.read import TableEntry, cached, entries, place, raw_table


@cached
def load_material(ident: str) -> Material:
    """A blank's material by its id.

    Raises
    ------
    TableError
        If the id is unknown, or the entry lacks a source.
    """
    data = entry("materials", ident)
    parts = data.sub("composition") if "composition" in data else None
    return data.record(
        Material,
        ident=ident,
        sort=_sort(data),
        base=_base(data, ident),
        composition=tuple((name, parts.sourced(name)) for name in parts.data) if parts else (),
    )


@cached
def load_etchant(ident: str) -> Etchant:
    """An etchant by its id. Raises TableError as `load_material` does."""
    data = entry("etchants", ident)
    points = data.subs("heat_capacity")
    return data.record(
        Etchant,
        ident=ident,
        reagent=data.text("reagent", data.text("name")),
        companions=tuple(_companion(item) for item in data.subs("companion")),
        cp_at=tuple(point.number("at") for point in points),
        cp_j_per_g_k=tuple(point.sourced("cp") for point in points),
        neutralisers=tuple(_neutraliser(item) for item in data.subs("neutraliser")),
        control=load_control(ident),
        **density_of(data),
    )


@cached
def load_pair(material_id: str, etchant_id: str) -> Pair:
    """A metal in an etchant.

    Raises
    ------
    TableError
        If either id is unknown, the material is not a metal, or the pair is not in the table.
    """
    material, etchant = load_material(material_id), load_etchant(etchant_id)
    if material.sort != "metal":
        raise TableError(
            f"{material.name} is not a metal and is not etched; leave out [etch] and paint its "
            'back: worked_side = "back" with [[coat]] tables'
        )
    found = raw_table("pairs").get(material_id, {})
    if etchant_id not in found:
        known = ", ".join(found) or "none"
        raise TableError(
            f"{material.name} in {etchant.name} is not in the table; "
            f"etchants for {material.name}: {known}"
        )
    data = TableEntry(found[etchant_id], where=f"{place('pairs', material_id)}.{etchant_id}")
    return data.record(
        Pair,
        material=material,
        etchant=etchant,
        rates=tuple(_rate(item) for item in data.subs("rate")),
        ceilings=pair_ceilings(material_id, etchant_id, material.base),
        gas_lower_flammable_fraction=data.maybe_sourced("gas_lower_flammable"),
    )


@cached
def load_resist(ident: str) -> Resist:
    """A resist or coat by its id. Raises TableError as `load_material` does."""
    data = entry("resists", ident)
    return data.record(
        Resist,
        ident=ident,
        beam_h=data.sourced("dry_for_beam"),
        limits=tuple(_resist_limit(item) for item in data.subs("limit")),
    )


def load_resists() -> tuple[Resist, ...]:
    """Every resist of the table, in the order of its file."""
    return tuple(load_resist(ident) for ident in entries("resists"))


@cached
def load_refusals() -> tuple[Refusal, ...]:
    """All combinations that are refused or held to a strength."""
    return tuple(load_refusal(code) for code in entries("refusals"))


@cached
def load_refusal(code: str) -> Refusal:
    """One refusal by its code. Raises TableError as `load_material` does."""
    data = entry("refusals", code)
    kind, source, _ = data.provenance()
    above = data.maybe_sourced("above")
    return data.record(
        Refusal,
        code=code,
        kind=kind,
        source=source,
        above_g_per_l=None if above is None else above.value,
    )


@cached
def load_finish(ident: str, sort: Literal["metal", "plastic", "glass"]) -> Finish | None:
    """What covers a blank of this sort of material as bought; None for a bare one.

    Raises
    ------
    TableError
        If the table has no such finish for this sort of material.
    """
    if ident == "bare":
        return None
    return load_finish_entry(f"{ident}-{sort}")


@cached
def load_finish_entry(ident: str) -> Finish:
    """A finish by its entry, `finish-sort`. Raises TableError as `load_material` does."""
    data = entry("finishes", ident)
    return data.record(
        Finish, ident=data.text("finish"), sort=_sort(data), steps=data.advice("step")
    )


@cached
def load_species(ident: str) -> Species:
    """A chemical species by its id. Raises TableError as `load_material` does."""
    return entry("species", ident).record(Species, ident=ident)


def base_of(ident: str) -> str:
    """The metal of which a material is an alloy; empty for any other, and for one not known."""
    found = raw_table("materials").get(ident, {}).get("base", "")
    return found if isinstance(found, str) else ""


def _base(data: TableEntry, ident: str) -> str:
    base = data.text("base", "")
    known = raw_table("materials").get(base, {})
    if base and (base == ident or known.get("sort") != "metal" or "base" in known):
        raise TableError(
            f"{data.where}.base: {base!r} is no metal of the table with no base itself"
        )
    return base


def _sort(data: TableEntry) -> Literal["metal", "plastic", "glass"]:
    found = data.choice("sort", ("metal", "plastic", "glass"))
    return cast("Literal['metal', 'plastic', 'glass']", found)


def density_of(data: TableEntry) -> dict[str, Any]:
    """The fields of a record for the density correlation: its coefficients and its source."""
    density = data.sub("density")
    kind, source, source_id = density.provenance()
    told = Advice(text="density", kind=kind, source=source, source_id=source_id)
    return {"density_c": density.numbers("c", 5), "density_source": told}


def _companion(data: TableEntry) -> Companion:
    g_per_g, g_per_l = data.maybe_sourced("g_per_g"), data.maybe_sourced("g_per_l")
    if (g_per_g is None) == (g_per_l is None):
        raise TableError(f"{data.where}: give either g_per_g or g_per_l")
    return data.record(Companion, ident=data.text("id"), **density_of(data))


@cached
def load_control(ident: str) -> BathControl | None:
    """How a bath is kept, from control.toml; None for one of the shop's own."""
    known = raw_table("control")
    if ident not in known:
        return None
    return TableEntry(known[ident], where=f"control.toml: {ident}").record(BathControl)


def _neutraliser(data: TableEntry) -> Neutraliser:
    return data.record(
        Neutraliser, ident=data.text("id"), stock_g_per_ml=data.maybe_sourced("stock_density")
    )


def _rate(data: TableEntry) -> RateReference:
    points = tuple((float(x), float(y)) for x, y in data.data.get("points", []))
    return data.record(RateReference, um_per_min=data.sourced("rate"), points=points)


def _resist_limit(data: TableEntry) -> ResistLimit:
    return data.record(
        ResistLimit,
        verdict=data.choice("verdict", ("best", "good", "fair", "poor")),
        max_degc=data.maybe_sourced("max_temperature"),
        basis=data.sub("basis").as_advice() if "basis" in data else None,
    )
