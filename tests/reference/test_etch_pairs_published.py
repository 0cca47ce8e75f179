"""The pairs beyond caustic and copper: heats, demands, ceilings and strengths as published.

Heats by Hess from the CRC Handbook's table of aqueous ions, as the `chemicals` library ships it;
masses from the same library (IUPAC 2021); flammable limits from IEC 60079-20-1:2010 there.
"""

import csv
from dataclasses import replace
from pathlib import Path

import chemicals
import pytest
from scipy import constants

from stopout.etching import bath_strength, companion_stock_g_per_l, rate_um_per_min
from stopout.etching.bath.amounts import (
    capacity_g_per_l,
    ceiling_g_per_l,
    molar_volume_l,
    reagent_g_per_g_metal,
)
from stopout.etching.bath.strength import density_g_per_ml
from stopout.tables import load_etchant, load_hazards, load_material, load_pair
from stopout.tables.load import load_species
from stopout.values import Level

ELECTROLYTES = Path(chemicals.__file__).parent / "Electrolytes"
MASS = {symbol: chemicals.elements.periodic_table[symbol].MW for symbol in ("Fe", "Cr", "Ni")}
COPPER_SHARE = (0.63 / 63.546) / (0.63 / 63.546 + 0.37 / 65.38)


def library(name):
    with (ELECTROLYTES / name).open(encoding="utf-8") as file:
        return list(csv.reader(file, delimiter="\t"))


def heat(reactants, products):
    """What a reaction gives off (Hess)."""
    before, after = (
        sum(n * load_species(ident).formation_kj_per_mol.value for ident, n in named.items())
        for named in (reactants, products)
    )
    return before - after


ION_NAMES = {
    "nickel-ion": "Ni+2",
    "chloride-ion": "Cl-",
    "sulfate-ion": "SO4-2",
    "bisulfate-ion": "HSO4-",
    "persulfate-ion": "S2O8-2",
    "hydrogen-ion": "H+",
}


@pytest.mark.parametrize("ident", ION_NAMES)
def test_formation_enthalpies_of_the_ions(ident):
    rows = {row[1]: row for row in library("CRC Thermodynamic Properties of Aqueous Ions.tsv")}
    theirs = float(rows[ION_NAMES[ident]][4]) / 1000.0
    assert load_species(ident).formation_kj_per_mol.value == pytest.approx(theirs, abs=0.05)


def test_formation_enthalpy_of_cuprous_chloride():
    theirs = chemicals.Hfs("7758-89-6") / 1000.0
    ours = load_species("cuprous-chloride").formation_kj_per_mol.value
    assert ours == pytest.approx(theirs, abs=0.06)


def test_persulfate_heats_fifteen_times_as_much_as_ferric_chloride():
    # CRC ions: -409.1 kJ/mol, 6.438 kJ per gram of copper.
    found = heat({"copper": 1, "persulfate-ion": 1}, {"cupric-ion": 1, "sulfate-ion": 2})
    assert found == pytest.approx(409.1, rel=1e-2)
    for salt in ("sodium-persulfate", "ammonium-persulfate"):
        pair = load_pair("copper", salt)
        assert pair.heat_kj_per_mol.value == pytest.approx(found, abs=0.05)
        assert pair.heat_kj_per_mol.value / 63.546 == pytest.approx(6.438, rel=1e-2)
        zinc = heat({"zinc": 1, "persulfate-ion": 1}, {"zinc-ion": 1, "sulfate-ion": 2})
        brass = COPPER_SHARE * found + (1 - COPPER_SHARE) * zinc
        assert load_pair("brass", salt).heat_kj_per_mol.value == pytest.approx(brass, rel=1e-3)


def test_steel_in_ferric_chloride():
    # CRC ions: -170.3 kJ/mol, 3.050 kJ/g.
    found = heat({"iron": 1, "ferric-ion": 2}, {"ferrous-ion": 3})
    assert found == pytest.approx(170.3, rel=1e-2)
    pair = load_pair("mild-steel", "ferric-chloride")
    assert pair.heat_kj_per_mol.value == pytest.approx(found, abs=0.05)
    assert pair.heat_kj_per_mol.value / 55.845 == pytest.approx(3.050, rel=1e-2)


def test_zinc_and_aluminium_in_copper_sulfate():
    # CRC ions: -218.7 kJ/mol and 3.345 kJ/g of zinc; -628.2 kJ/mol and 23.28 kJ/g of aluminium.
    zinc = heat({"zinc": 1, "cupric-ion": 1}, {"zinc-ion": 1, "copper": 1})
    assert zinc == pytest.approx(218.7, rel=1e-2)
    assert load_pair("zinc", "copper-sulfate").heat_kj_per_mol.value == pytest.approx(zinc)
    assert zinc / 65.38 == pytest.approx(3.345, rel=1e-2)
    aluminium = heat({"aluminium": 1, "cupric-ion": 1.5}, {"aluminium-ion": 1, "copper": 1.5})
    pair = load_pair("aluminium", "copper-sulfate-chloride")
    assert pair.heat_kj_per_mol.value == pytest.approx(aluminium)
    assert aluminium / 26.9815 == pytest.approx(23.28, rel=1e-2)


def test_cupric_chloride_is_heated_by_its_regeneration():
    # CRC: the etch itself gives 4.8 kJ/mol, its regeneration by air 216.2.
    etch = heat({"copper": 1, "cupric-ion": 1, "chloride-ion": 2}, {"cuprous-chloride": 2})
    air = heat(
        {"cuprous-chloride": 2, "hydrogen-ion": 2, "oxygen": 0.5},
        {"cupric-ion": 2, "chloride-ion": 2, "water": 1},
    )
    assert etch == pytest.approx(4.8, abs=0.1)
    assert air == pytest.approx(216.2, abs=0.1)
    assert load_pair("copper", "cupric-chloride").heat_kj_per_mol.value == pytest.approx(
        etch + air, abs=0.1
    )
    zinc = heat(
        {"zinc": 1, "cupric-ion": 2, "chloride-ion": 2}, {"zinc-ion": 1, "cuprous-chloride": 2}
    )
    brass = COPPER_SHARE * (etch + air) + (1 - COPPER_SHARE) * (zinc + air)
    assert load_pair("brass", "cupric-chloride").heat_kj_per_mol.value == pytest.approx(
        brass, rel=1e-3
    )


def test_stainless_steel_demands_its_ferric_iron():
    # Thesis on stainless foil: 16 % of the ferric iron. 74/18/8: 0.03961 mol Fe+3 per gram, 6.43 g
    # of ferric chloride per gram, 14.1 g of steel per litre of 40 % by weight.
    per_g = 2 * 0.74 / MASS["Fe"] + 3 * 0.18 / MASS["Cr"] + 2 * 0.08 / MASS["Ni"]
    assert per_g == pytest.approx(0.03961, rel=1e-3)
    pair = load_pair("stainless-304", "ferric-chloride")
    assert reagent_g_per_g_metal(pair) == pytest.approx(per_g * 162.204, rel=1e-3)
    strength = bath_strength(pair.etchant, 40.0, "%").g_per_l
    assert capacity_g_per_l(pair, strength) == pytest.approx(14.1, rel=1e-2)
    # Its heat, 3.68 to 3.85 kJ/g; the spread is that of chromium(III)'s formation enthalpy.
    mean = load_material("stainless-304").molar_mass_g_per_mol.value
    shares = 0.74 / MASS["Fe"] + 0.18 / MASS["Cr"] + 0.08 / MASS["Ni"]
    assert mean == pytest.approx(1 / shares, rel=1e-4)
    assert pair.heat_kj_per_mol.value / mean == pytest.approx(3.85, rel=2e-3)
    assert pair.heat_kj_per_mol.low / mean == pytest.approx(3.68, rel=2e-3)


def test_the_balance_of_an_industrial_bath():
    # PCMI Journal 137 (August 2021), p. 32: 2 kg of steel use 11.6 kg of ferric chloride and
    # leave 77 % of what 100 L of 40 degBe hold; 13.6 kg of ferrous chloride are formed.
    pair = load_pair("mild-steel", "ferric-chloride")
    used = 2.0 * reagent_g_per_g_metal(pair)
    assert used == pytest.approx(11.6, rel=5e-3)
    held = bath_strength(pair.etchant, 40.0, "degBe").g_per_l * 100 / 1000
    assert 100 * (1 - used / held) == pytest.approx(77, abs=0.5)
    assert 2.0 / 55.845 * 3 * chemicals.MW("7758-94-3") == pytest.approx(13.6, rel=5e-3)
    assert reagent_g_per_g_metal(pair) == pytest.approx(5.809, rel=1e-3)


def test_persulfate_by_the_gram():
    # Stoichiometry: 3.747 and 3.591 g per gram of copper; 66.7 g/L from 250 g/L of the sodium
    # salt, of which notes on circuit boards get about 40.
    sodium, ammonium = (
        load_pair("copper", salt) for salt in ("sodium-persulfate", "ammonium-persulfate")
    )
    assert reagent_g_per_g_metal(sodium) == pytest.approx(3.747, rel=1e-3)
    assert reagent_g_per_g_metal(ammonium) == pytest.approx(3.591, rel=1e-3)
    assert ceiling_g_per_l(sodium, 250.0) == pytest.approx(66.7, rel=3e-3)
    assert capacity_g_per_l(sodium, 250.0) <= 40.0
    assert sodium.capacity_end_g_per_l.value == 40.0


def test_copper_sulfate_by_the_gram():
    # Stoichiometry: 100 g/L of the pentahydrate dissolve 7.20 g/L of aluminium, 26.2 of zinc.
    saline = load_pair("aluminium", "copper-sulfate-chloride")
    assert ceiling_g_per_l(saline, 100.0) == pytest.approx(7.20, rel=2e-3)
    assert 2.0 <= capacity_g_per_l(saline, 70.0) < capacity_g_per_l(saline, 100.0) <= 3.5
    assert ceiling_g_per_l(load_pair("zinc", "copper-sulfate"), 100.0) == pytest.approx(
        26.2, rel=2e-3
    )
    carbonate = load_etchant("copper-sulfate").neutralisers[0].g_per_g
    assert carbonate.value == pytest.approx(chemicals.MW("497-19-8") / 249.685, rel=2e-3)


@pytest.mark.parametrize(
    ("ident", "cas", "hydrate"),
    [("copper-sulfate", "7758-98-7", 249.685), ("cupric-chloride", "7447-39-4", 170.482)],
)
def test_hydrates_are_counted_with_their_water(ident, cas, hydrate):
    etchant = load_etchant(ident)
    row = next(row for row in library("Laliberte2009.tsv") if row[1] == cas)
    assert etchant.density_c == tuple(float(value) for value in row[4:9])
    assert etchant.molar_mass_g_per_mol.value == pytest.approx(hydrate, rel=1e-4)
    assert etchant.anhydrous_fraction.value == pytest.approx(chemicals.MW(cas) / hydrate, rel=1e-3)
    # Nothing is denser than the correlation has points for.
    assert etchant.max_fraction.value * etchant.anhydrous_fraction.value <= float(row[11])


@pytest.mark.parametrize(
    ("ident", "cas"),
    [("copper-sulfate-chloride", "7647-14-5"), ("cupric-chloride", "7647-01-0")],
)
def test_companions_have_the_published_densities(ident, cas):
    row = next(row for row in library("Laliberte2009.tsv") if row[1] == cas)
    (companion,) = load_etchant(ident).companions
    assert companion.density_c == tuple(float(value) for value in row[4:9])


def test_densities_of_single_solutes():
    # Handbook densities at 20 degC (CRC, Perry), from memory: copper sulfate 10 % 1.107, salt 10 %
    # 1.0707 and 20 % 1.1478, hydrochloric acid 20 % 1.098.
    copper = load_etchant("copper-sulfate")
    hydrate = 0.10 / copper.anhydrous_fraction.value
    assert density_g_per_ml(copper, hydrate) == pytest.approx(1.107, abs=1e-3)
    (salt,) = load_etchant("copper-sulfate-chloride").companions
    (acid,) = load_etchant("cupric-chloride").companions
    for companion, fraction, density in (
        (salt, 0.10, 1.0707),
        (salt, 0.20, 1.1478),
        (acid, 0.2, 1.098),
    ):
        alone = replace(
            copper, density_c=companion.density_c, anhydrous_fraction=None, companions=()
        )
        assert density_g_per_ml(alone, fraction) == pytest.approx(density, abs=1e-3)


def test_water_and_solutes_make_up_the_bath():
    # Conservation of mass, by hand: density = water + reagent + what is poured besides.
    for ident, value in (("copper-sulfate-chloride", 100.0), ("cupric-chloride", 380.0)):
        etchant = load_etchant(ident)
        strength = bath_strength(etchant, value, "g/L")
        besides = sum(companion_stock_g_per_l(c, value) for c in etchant.companions)
        total = 1000.0 * strength.water_g_per_ml + value + besides
        assert total == pytest.approx(1000.0 * strength.density_g_per_ml, rel=1e-9)
    # Two moles of hydrochloric acid to the litre, as acid of 31 %.
    acid = companion_stock_g_per_l(load_etchant("cupric-chloride").companions[0], 380.0)
    assert acid == pytest.approx(2 * chemicals.MW("7647-01-0") / 0.31, rel=1e-3)


def test_cupric_chloride_is_planned_within_its_usual_gravity():
    # Hobby guide of 2005: specific gravity 1.22 to 1.38.
    pair = load_pair("copper", "cupric-chloride")
    low, high = pair.rates[0].strength_range_g_per_l
    for strength, gravity in ((low, 1.22), (high, 1.38)):
        ours = bath_strength(pair.etchant, strength, "g/L").density_g_per_ml
        assert ours == pytest.approx(gravity, abs=0.02)


def test_spray_etching_of_copper_in_cupric_chloride():
    # Process guideline: 1.0 to 1.6 mil/min, 25.4 to 40.6 um/min.
    estimate = rate_um_per_min(
        load_pair("copper", "cupric-chloride"),
        strength_g_per_l=380.0,
        temperature_degc=50.0,
        agitation="spray",
    )
    mil_um = 1e6 * constants.mil
    assert estimate.low_um_per_min == pytest.approx(1.0 * mil_um, rel=1e-3)
    assert estimate.high_um_per_min == pytest.approx(1.6 * mil_um, rel=1e-3)
    assert estimate.grade == "B"


@pytest.mark.parametrize(
    ("metal", "etchant", "strength", "degc"),
    [
        ("aluminium", "copper-sulfate-chloride", 100.0, 40.0),
        ("copper", "sodium-persulfate", 250.0, 55.0),
        ("copper", "ammonium-persulfate", 300.0, 40.0),
        ("stainless-304", "ferric-chloride", 300.0, 45.0),
        ("mild-steel", "ferric-chloride", 510.0, 60.0),
        ("zinc", "copper-sulfate", 100.0, 40.0),
        ("copper", "cupric-chloride", 100.0, 25.0),
    ],
)
def test_no_pair_is_planned_outside_what_its_sources_cover(metal, etchant, strength, degc):
    pair = load_pair(metal, etchant)
    way = pair.rates[0].agitation[0]
    estimate = rate_um_per_min(
        pair, strength_g_per_l=strength, temperature_degc=degc, agitation=way
    )
    assert Level.STOP in {finding.level for finding in estimate.findings}
    (reference,) = (r for r in pair.rates if way in r.agitation)
    low, high = reference.um_per_min.low, reference.um_per_min.high
    assert low * 0.5 <= estimate.um_per_min <= high * 1.5


def test_a_quarter_of_the_lower_flammable_limit_in_grams():
    # IEC 60079-20-1:2010: acetone 2.5 %, isopropanol 2.0 % by volume; at 25 degC 14.84 and
    # 12.28 g/m3.
    for ident, cas, grams in (("acetone", "67-64-1", 14.84), ("isopropanol", "67-63-0", 12.28)):
        (hazard,) = load_hazards((ident,))
        lower = next(x.value.value for x in hazard.limits if x.name == "lower flammable limit")
        moles_per_m3 = 0.25 * lower / 100 * 1000 / molar_volume_l(25.0)
        assert moles_per_m3 * chemicals.MW(cas) == pytest.approx(grams, rel=1e-2)


def test_two_parts_in_a_million_of_hydrogen_chloride():
    # Ideal gas at 25 degC: 2.98 mg/m3. The limit itself: Ontario table, ceiling 2 ppm.
    for ident in ("hydrochloric-acid", "hydrochloric-acid-in-bath"):
        (hazard,) = load_hazards((ident,))
        ppm = next(x.value.value for x in hazard.limits if x.name == "ceiling in air")
        mg = ppm * 1e-6 * 1000 / molar_volume_l(25.0) * chemicals.MW("7647-01-0") * 1000
        assert mg == pytest.approx(2.98, rel=5e-3)


def test_limits_in_air_are_those_of_the_library():
    # Ontario limits as the library ships them [ppm].
    for ident, name, expected in (
        ("chlorine", "eight-hour mean in air", 0.5),
        ("nitric-acid", "eight-hour mean in air", 2.0),
    ):
        (hazard,) = load_hazards((ident,))
        cas = hazard.cas
        ours = next(x.value.value for x in hazard.limits if x.name == name)
        assert ours == expected
        theirs = chemicals.safety.TWA(cas)
        assert theirs[1] == "ppm"
        assert ours == pytest.approx(theirs[0])


@pytest.mark.parametrize(
    ("metal", "cas"),
    [
        ("aluminium", "7429-90-5"),
        ("copper", "7440-50-8"),
        ("mild-steel", "7439-89-6"),
        ("zinc", "7440-66-6"),
    ],
)
def test_densities_of_the_metals(metal, cas):
    # CRC Handbook, Physical Constants of Inorganic Compounds: molar volume as the library ships it.
    volume_cm3 = 1e6 * chemicals.volume.rho_data_CRC_inorg_s_const.at[cas, "Vm"]
    ours = load_material(metal).density_g_per_cm3
    assert ours.value == pytest.approx(chemicals.MW(cas) / volume_cm3, rel=1e-3)
    assert "CRC" in ours.source
