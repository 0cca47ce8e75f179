"""Alloys and the salted sulfate on steel: atoms counted by hand, enthalpies from the CRC tables.

Standard atomic weights of the elements 2021 (IUPAC): Fe 55.845, Cr 51.9961, Ni 58.6934, Mo 95.95,
Al 26.9815, Mg 24.305, Si 28.085, Cu 63.546. Formation enthalpies of ions (CRC Handbook of Chemistry
and Physics, Thermodynamic Properties of Aqueous Ions): Fe+2 -89.1, Cu+2 64.8 kJ/mol. The shares by
weight are nominal, from memory.
"""

import pytest

from stopout.etching import refusals
from stopout.etching.bath.amounts import ceiling_g_per_l
from stopout.tables import base_of, load_material, load_pair, load_refusals

ATOMS = {
    "stainless-316": {
        "Fe": (68.5, 55.845),
        "Cr": (17.0, 51.9961),
        "Ni": (12.0, 58.6934),
        "Mo": (2.5, 95.95),
    },
    "aluminium-6000": {
        "Al": (97.8, 26.9815),
        "Mg": (1.0, 24.305),
        "Si": (0.8, 28.085),
        "Fe": (0.4, 55.845),
    },
}


def moles(ident):
    return {symbol: share / mass for symbol, (share, mass) in ATOMS[ident].items()}


@pytest.mark.parametrize("ident", ATOMS)
def test_the_molar_mass_is_the_mean_over_the_atoms(ident):
    mean = 100.0 / sum(moles(ident).values())
    assert load_material(ident).molar_mass_g_per_mol.value == pytest.approx(mean, abs=0.01)


def test_316_takes_its_ferric_iron_by_the_charge_of_each_metal():
    # Fe to +2, Cr to +3, Ni to +2, Mo to +6; one ferric iron an electron.
    count = moles("stainless-316")
    electrons = 2 * count["Fe"] + 3 * count["Cr"] + 2 * count["Ni"] + 6 * count["Mo"]
    pair = load_pair("stainless-316", "ferric-chloride")
    mean = electrons / sum(count.values())
    assert pair.reagent_mol_per_mol.value == pytest.approx(mean, rel=1e-3)


def test_steel_in_salted_sulfate_by_the_ions():
    pair = load_pair("mild-steel", "copper-sulfate-chloride")
    # Fe + Cu+2 -> Fe+2 + Cu: -89.1 - 64.8.
    assert pair.heat_kj_per_mol.value == pytest.approx(89.1 + 64.8, abs=0.05)
    # 100 g/L of the pentahydrate (249.685 g/mol) dissolve 0.4005 mol/L of iron.
    assert ceiling_g_per_l(pair, 100.0) == pytest.approx(0.4005 * 55.845, rel=1e-3)


@pytest.mark.parametrize(
    ("alloy", "etchant", "code"),
    [
        ("aluminium-6000", "ferric-chloride", "strong-ferric-chloride-on-aluminium"),
        ("aluminium-6000", "cupric-chloride", "acid-chloride-on-light-metal"),
        ("aluminium-6000", "sodium-persulfate", "persulfate-on-aluminium"),
        ("stainless-316", "cupric-chloride", "cupric-chloride-on-steel"),
        ("stainless-316", "copper-sulfate-chloride", "salted-sulfate-on-stainless"),
    ],
)
def test_what_is_refused_for_a_metal_is_refused_for_its_alloys(alloy, etchant, code):
    found = refusals(
        load_refusals(),
        material_id=alloy,
        etchant_id=etchant,
        strength_g_per_l=400.0,
        base_id=base_of(alloy),
    )
    assert code in {finding.code for finding in found}
