"""Etching by a current, and what falls out of spent baths: data files -> records."""

from __future__ import annotations

from dataclasses import replace

from stopout.errors import TableError
from stopout.etching.bath.amounts import Sludge
from stopout.etching.bath.electrolytic import Cell
from stopout.etching.records import Etchant, Pair, Sourced
from stopout.tables.ceilings import cell_ceilings
from stopout.tables.load import density_of, load_control, load_material, load_pair
from stopout.tables.names import unknown
from stopout.tables.read import TableEntry, cached, raw_table

# The id that the job file gives as its etchant.
ELECTROLYTIC = "electrolytic"
_NO_REAGENT = Sourced(
    value=0.0, unit="mol/mol", kind="computed", source="the current dissolves the metal"
)
_NOT_YET = Sourced(value=0.0, unit="kJ/mol", kind="computed", source="follows from the current")


@cached
def load_electrolyte(ident: str) -> Etchant:
    """An electrolyte as a bath's content; its id is that of the route, `electrolytic`.

    Raises
    ------
    TableError
        If the id is unknown (with those that are known), or the entry lacks a source.
    """
    data = _electrolyte(ident)
    return data.record(
        Etchant,
        ident=ELECTROLYTIC,
        reagent=data.text("name"),
        ready_made=False,
        control=load_control(f"cell-{ident}"),
        **density_of(data),
    )


@cached
def load_cell(material_id: str, electrolyte_id: str) -> tuple[Pair, Cell]:
    """A metal dissolving in an electrolyte: as a pair without rates, and as a cell.

    Heat and gas of the pair are those of no current yet; `etching.cell_pair` fills them in.

    Raises
    ------
    TableError
        If an id is unknown, or this metal is not etched in this electrolyte.
    """
    material, etchant = load_material(material_id), load_electrolyte(electrolyte_id)
    if material.sort != "metal":
        raise TableError(f"{material.name} is not a metal: no current dissolves it")
    data = _electrolyte(electrolyte_id)
    metals = data.sub("metal")
    if material_id not in metals:
        known = ", ".join(electrolytes_for(material_id)) or "none"
        raise TableError(
            f"{material.name} in {etchant.name} is not in the table of electrolytes; "
            f"electrolytes for {material.name}: {known}"
        )
    metal = metals.sub(material_id)
    plates_out = metal.truth("plates_out", default=False)
    flammable = load_pair("aluminium", "sodium-hydroxide").gas_lower_flammable_fraction
    pair = data.record(
        Pair,
        material=material,
        etchant=etchant,
        reaction=metal.text("reaction"),
        rates=(),
        reagent_mol_per_mol=_NO_REAGENT,
        gas_mol_per_mol=replace(_NOT_YET, unit="mol/mol"),
        heat_kj_per_mol=_NOT_YET,
        ceilings=cell_ceilings(electrolyte_id),
        gas="" if plates_out else "hydrogen",
        gas_lower_flammable_fraction=None if plates_out else flammable,
        is_neutralised_in_shop=False,
        waste=(),
        hazards=metal.texts("hazards"),
    )
    cell = data.record(
        Cell,
        electrolyte=electrolyte_id,
        valence=metal.sourced("valence"),
        density_a_per_cm2=data.sourced("current_density"),
        lift_v=data.sourced("lift_voltage"),
        plates_out=plates_out,
        makes_chromate=metal.truth("makes_chromate", default=False),
    )
    return pair, cell


def metals_of(electrolyte_id: str) -> tuple[str, ...]:
    """Ids of the metals that are etched in an electrolyte."""
    return tuple(_electrolyte(electrolyte_id).sub("metal").data)


def electrolytes_for(material_id: str) -> tuple[str, ...]:
    """Ids of the electrolytes in which a metal is etched."""
    return tuple(
        ident for ident, data in raw_table("electrolytes").items() if material_id in data["metal"]
    )


@cached
def load_sludge(material_id: str, etchant_id: str) -> Sludge | None:
    """What falls out of the spent bath when it is neutralised; None where it is not known."""
    metals = TableEntry(raw_table("sludge")["metals"], where="sludge.toml: metals")
    reagents = TableEntry(raw_table("sludge")["reagents"], where="sludge.toml: reagents")
    if material_id not in metals or etchant_id not in reagents:
        return None
    return Sludge(
        per_g_metal=metals.sourced(material_id), per_g_reagent=reagents.sourced(etchant_id)
    )


def _electrolyte(ident: str) -> TableEntry:
    known = raw_table("electrolytes")
    if ident not in known:
        raise unknown("electrolytes", ident)
    return TableEntry(known[ident], where=f"electrolytes.toml: {ident}")
