"""Data files -> the frozen records of `stopout.etching`. Only the files asked for are read."""

from __future__ import annotations

from typing import Literal, cast

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
from stopout.values import Grade, Level


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
    return Material(
        ident=ident,
        name=data.text("name"),
        sort=_sort(data),
        base=_base(data, ident),
        density_g_per_cm3=data.sourced("density"),
        molar_mass_g_per_mol=data.maybe_sourced("molar_mass"),
        refractive_index=data.maybe_sourced("refractive_index"),
        softening_degc=data.maybe_sourced("softening"),
        composition=tuple((name, parts.sourced(name)) for name in parts.data) if parts else (),
        advice=data.advice("advice"),
        after_etch=data.advice("after_etch"),
        passes=data.advice("passes"),
        marks=data.advice("marks"),
        frosts=data.advice("frosts"),
        harms=data.advice("harms"),
        hazards=data.texts("hazards"),
    )


@cached
def load_etchant(ident: str) -> Etchant:
    """An etchant by its id. Raises TableError as `load_material` does."""
    data = entry("etchants", ident)
    coefficients, density_source = _density(data)
    points = data.subs("heat_capacity")
    return Etchant(
        ident=ident,
        name=data.text("name"),
        formula=data.text("formula"),
        reagent=data.text("reagent", data.text("name")),
        molar_mass_g_per_mol=data.sourced("molar_mass"),
        density_c=coefficients,
        density_source=density_source,
        max_fraction=data.sourced("max_fraction"),
        ready_made=data.truth("ready_made"),
        anhydrous_fraction=data.maybe_sourced("anhydrous_fraction"),
        companions=tuple(_companion(item) for item in data.subs("companion")),
        solution_kj_per_g=data.maybe_sourced("solution"),
        decomposes_degc=data.maybe_sourced("decomposes"),
        cp_at=tuple(point.number("at") for point in points),
        cp_j_per_g_k=tuple(point.sourced("cp") for point in points),
        neutralisers=tuple(_neutraliser(item) for item in data.subs("neutraliser")),
        mixing=data.advice("mixing"),
        waste=data.advice("waste"),
        neutralising=data.advice("neutralising"),
        hazards=data.texts("hazards"),
        control=load_control(ident),
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
    return Pair(
        material=material,
        etchant=etchant,
        reaction=data.text("reaction"),
        rates=tuple(_rate(item) for item in data.subs("rate")),
        etch_factor=data.sourced("etch_factor"),
        reagent_mol_per_mol=data.sourced("reagent_mol"),
        gas_mol_per_mol=data.sourced("gas_mol"),
        heat_kj_per_mol=data.sourced("heat"),
        capacity_g_per_l=data.sourced("capacity"),
        capacity_end_g_per_l=data.sourced("capacity_end"),
        heat_capacity_kj_per_l_k=data.sourced("heat_capacity"),
        hot_paint_degc=data.sourced("hot_paint"),
        paint_depth_mm=data.sourced("paint_depth"),
        ceilings=pair_ceilings(material_id, etchant_id, material.base),
        capacity_share=data.maybe_sourced("capacity_share"),
        gas=data.text("gas", ""),
        gas_lower_flammable_fraction=data.maybe_sourced("gas_lower_flammable"),
        is_neutralised_in_shop=data.truth("neutralised_in_shop", default=True),
        waste=data.advice("waste"),
        advice=data.advice("advice"),
        hazards=data.texts("hazards"),
    )


@cached
def load_resist(ident: str) -> Resist:
    """A resist or coat by its id. Raises TableError as `load_material` does."""
    data = entry("resists", ident)
    return Resist(
        ident=ident,
        name=data.text("name"),
        thickness_um=data.sourced("thickness"),
        cure_h=data.sourced("cure"),
        beam_h=data.sourced("dry_for_beam"),
        solids=data.sourced("solids"),
        is_diffuser=data.truth("diffuser", default=False),
        is_temporary=data.truth("temporary", default=False),
        thin_coats=data.maybe_sourced("thin_coats"),
        limits=tuple(_resist_limit(item) for item in data.subs("limit")),
        strippers=data.texts("strippers"),
        advice=data.advice("advice"),
        hazards=data.texts("hazards"),
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
    return Refusal(
        code=code,
        materials=data.texts("materials"),
        etchants=data.texts("etchants"),
        resists=data.texts("resists"),
        level=Level(data.choice("level", ("note", "caution", "stop"))),
        message=data.text("message"),
        remedy=data.text("remedy"),
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
    return Finish(
        ident=data.text("finish"),
        sort=_sort(data),
        level=Level(data.choice("level", ("note", "caution", "stop"))),
        message=data.text("message"),
        remedy=data.text("remedy"),
        steps=data.advice("step"),
    )


@cached
def load_species(ident: str) -> Species:
    """A chemical species by its id. Raises TableError as `load_material` does."""
    data = entry("species", ident)
    return Species(
        ident=ident,
        formula=data.text("formula"),
        molar_mass_g_per_mol=data.sourced("molar_mass"),
        formation_kj_per_mol=data.sourced("formation"),
    )


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


def _density(data: TableEntry) -> tuple[tuple[float, float, float, float, float], Advice]:
    """The coefficients of the density correlation and where they come from."""
    density = data.sub("density")
    kind, source, source_id = density.provenance()
    found = cast("tuple[float, float, float, float, float]", density.numbers("c", 5))
    return found, Advice(text="density", kind=kind, source=source, source_id=source_id)


def _companion(data: TableEntry) -> Companion:
    coefficients, density_source = _density(data)
    g_per_g, g_per_l = data.maybe_sourced("g_per_g"), data.maybe_sourced("g_per_l")
    if (g_per_g is None) == (g_per_l is None):
        raise TableError(f"{data.where}: give either g_per_g or g_per_l")
    return Companion(
        ident=data.text("id"),
        name=data.text("name"),
        density_c=coefficients,
        density_source=density_source,
        g_per_g=g_per_g,
        g_per_l=g_per_l,
        stock_fraction=data.maybe_sourced("stock_fraction"),
        hazards=data.texts("hazards"),
    )


@cached
def load_control(ident: str) -> BathControl | None:
    """How a bath is kept, from control.toml; None for one of the shop's own."""
    known = raw_table("control")
    if ident not in known:
        return None
    data = TableEntry(known[ident], where=f"control.toml: {ident}")
    return BathControl(
        test=data.advice("test"),
        correct=data.advice("correct"),
        regenerate=data.advice("regenerate"),
        discard=data.advice("discard"),
    )


def _neutraliser(data: TableEntry) -> Neutraliser:
    return Neutraliser(
        ident=data.text("id"),
        name=data.text("name"),
        g_per_g=data.sourced("g_per_g"),
        end_ph=data.text("end_ph"),
        heat_kj_per_mol=data.sourced("heat"),
        gas_mol_per_mol=data.sourced("gas_mol"),
        metal_heat_kj_per_mol=data.maybe_sourced("metal_heat"),
        stock_fraction=data.maybe_sourced("stock_fraction"),
        stock_g_per_ml=data.maybe_sourced("stock_density"),
        advice=data.advice("advice"),
        hazards=data.texts("hazards"),
    )


def _rate(data: TableEntry) -> RateReference:
    points = data.data.get("points", [])
    return RateReference(
        agitation=data.texts("agitation"),
        um_per_min=data.sourced("rate"),
        temperature_degc=data.number("temperature_degc"),
        strength_g_per_l=data.number("strength_g_per_l"),
        temperature_range_degc=data.span("temperature_range_degc"),
        strength_range_g_per_l=data.span("strength_range_g_per_l"),
        scaled_grade=cast("Grade", data.choice("scaled_grade", ("A", "B", "C", "D"))),
        points=tuple((float(x), float(y)) for x, y in points),
        activation_kj_per_mol=data.maybe_sourced("activation"),
        strength_order=data.maybe_sourced("strength_order"),
    )


def _resist_limit(data: TableEntry) -> ResistLimit:
    verdicts = ("best", "good", "fair", "poor")
    return ResistLimit(
        etchant=data.text("etchant"),
        verdict=cast("Literal['best', 'good', 'fair', 'poor']", data.choice("verdict", verdicts)),
        beyond=Level(data.choice("beyond", ("note", "caution", "stop"))),
        max_degc=data.maybe_sourced("max_temperature"),
        max_time_s=data.maybe_sourced("max_time"),
        basis=data.sub("basis").as_advice() if "basis" in data else None,
    )
