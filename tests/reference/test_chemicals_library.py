"""Molar masses, formation enthalpies and densities against the `chemicals` library.

It ships the CRC Handbook's tables of aqueous ions and of standard thermodynamic properties, and
the coefficients of Laliberte, J. Chem. Eng. Data 54 (2009) 1725, doi 10.1021/je8008123.
"""

import csv
import re
from pathlib import Path

import chemicals
import pytest

from stopout.etching import bath_strength
from stopout.etching.after import neutraliser_g
from stopout.etching.bath.amounts import ceiling_g_per_l, reagent_g_per_g_metal
from stopout.etching.bath.strength import (
    baume_from_gravity,
    density_g_per_ml,
    gravity_from_baume,
    mixing_rise_k,
    water_density_g_per_ml,
)
from stopout.tables import list_table, load_etchant, load_material, load_pair
from stopout.tables.load import load_species

ELECTROLYTES = Path(chemicals.__file__).parent / "Electrolytes"


def library_rows(name):
    with (ELECTROLYTES / name).open(encoding="utf-8") as file:
        return list(csv.reader(file, delimiter="\t"))


@pytest.fixture(scope="module")
def ions():
    rows = library_rows("CRC Thermodynamic Properties of Aqueous Ions.tsv")
    return {row[1]: row for row in rows[1:]}


ION_NAMES = {
    "aluminium-ion": "Al+3",
    "aluminate-ion": "Al(OH)4-",
    "hydroxide-ion": "OH-",
    "sodium-ion": "Na+",
    "ferric-ion": "Fe+3",
    "ferrous-ion": "Fe+2",
    "cupric-ion": "Cu+2",
    "zinc-ion": "Zn+2",
}


@pytest.mark.parametrize("ident", ION_NAMES)
def test_formation_enthalpies_of_the_ions(ident, ions):
    ours = load_species(ident)
    assert ours.formula == ION_NAMES[ident]
    theirs = float(ions[ours.formula][4]) / 1000.0
    assert ours.formation_kj_per_mol.value == pytest.approx(theirs, abs=0.05)


def test_formation_enthalpies_of_solids_and_water():
    for ident, theirs in (
        ("sodium-hydroxide", chemicals.Hfs("1310-73-2")),
        ("ferric-chloride", chemicals.Hfs("7705-08-0")),
        ("water", chemicals.Hfl("7732-18-5", method="CRC")),
    ):
        assert load_species(ident).formation_kj_per_mol.value == pytest.approx(
            theirs / 1000.0, abs=0.06
        )


@pytest.mark.parametrize("ident", [ident for ident, _ in list_table("species")])
def test_molar_masses_of_the_species(ident):
    species = load_species(ident)
    bare = re.sub(r"[+-]\d*$", "", species.formula)
    theirs = chemicals.elements.molecular_weight(chemicals.elements.nested_formula_parser(bare))
    assert species.molar_mass_g_per_mol.value == pytest.approx(theirs, rel=2e-4)


def test_molar_masses_and_densities_of_metals_and_etchants():
    mass = chemicals.elements.periodic_table
    assert load_material("aluminium").molar_mass_g_per_mol.value == pytest.approx(
        mass["Al"].MW, rel=1e-5
    )
    assert load_material("copper").molar_mass_g_per_mol.value == pytest.approx(
        mass["Cu"].MW, rel=1e-5
    )
    for ident, cas in (("sodium-hydroxide", "1310-73-2"), ("ferric-chloride", "7705-08-0")):
        assert load_etchant(ident).molar_mass_g_per_mol.value == pytest.approx(
            chemicals.MW(cas), rel=1e-4
        )


def test_the_mean_molar_mass_of_brass():
    brass = load_material("brass")
    shares = {name: share.value / 100 for name, share in brass.composition}
    mass = chemicals.elements.periodic_table
    moles = shares["copper"] / mass["Cu"].MW + shares["zinc"] / mass["Zn"].MW
    assert brass.molar_mass_g_per_mol.value == pytest.approx(1 / moles, rel=1e-4)


def enthalpy(reactants, products):
    """Products less reactants (Hess)."""

    def side(named):
        return sum(n * load_species(ident).formation_kj_per_mol.value for ident, n in named.items())

    return side(products) - side(reactants)


def test_reaction_enthalpies():
    # By Hess from the CRC values above, per mole of metal.
    caustic = enthalpy(
        {"aluminium": 1, "hydroxide-ion": 1, "water": 3}, {"aluminate-ion": 1, "hydrogen": 1.5}
    )
    assert caustic == pytest.approx(-415.1, rel=1e-2)
    pair = load_pair("aluminium", "sodium-hydroxide")
    assert pair.heat_kj_per_mol.value == pytest.approx(-caustic, abs=0.05)
    assert pair.heat_kj_per_mol.value / 26.9815 == pytest.approx(15.385, rel=1e-3)

    copper = enthalpy({"copper": 1, "ferric-ion": 2}, {"cupric-ion": 1, "ferrous-ion": 2})
    assert copper == pytest.approx(-16.4, rel=5e-2)
    assert load_pair("copper", "ferric-chloride").heat_kj_per_mol.low == pytest.approx(-copper)

    aluminium = enthalpy({"aluminium": 1, "ferric-ion": 3}, {"aluminium-ion": 1, "ferrous-ion": 3})
    assert aluminium == pytest.approx(-652.8, abs=0.1)
    # PCMI Journal 131 (2018): 164.8 kcal per mole.
    heat = load_pair("aluminium", "ferric-chloride").heat_kj_per_mol
    assert heat.value == pytest.approx(164.8 * 4.184, abs=0.1)
    assert heat.low == pytest.approx(-aluminium, abs=0.1)

    zinc = enthalpy({"zinc": 1, "ferric-ion": 2}, {"zinc-ion": 1, "ferrous-ion": 2})
    assert zinc == pytest.approx(-235.1, abs=0.1)
    share = (0.63 / 63.546) / (0.63 / 63.546 + 0.37 / 65.38)
    brass = load_pair("brass", "ferric-chloride").heat_kj_per_mol
    assert brass.low == pytest.approx(-(share * copper + (1 - share) * zinc), rel=1e-3)
    # Planned with the larger: copper as PCMI Journal 131 has it, a sixteenth of aluminium's.
    assert brass.value == pytest.approx(share * 164.8 * 4.184 / 16 - (1 - share) * zinc, rel=1e-3)
    assert brass.low / load_material("brass").molar_mass_g_per_mol.value == pytest.approx(
        1.49, rel=5e-3
    )


def test_the_heat_of_dissolving_caustic():
    heat = enthalpy({"sodium-hydroxide": 1}, {"sodium-ion": 1, "hydroxide-ion": 1})
    assert heat == pytest.approx(-44.3, rel=1e-2)
    solution = load_etchant("sodium-hydroxide").solution_kj_per_g
    assert solution.value == pytest.approx(-heat / 39.997, rel=1e-2)


def test_caustic_warms_its_water():
    # 1.108 kJ/g and heat capacities of Laliberte 2009, adiabatic; into 1 L of water.
    etchant = load_etchant("sodium-hydroxide")
    for grams, rise in ((50, 13.4), (100, 26.5), (150, 38.9), (200, 50.5)):
        assert mixing_rise_k(etchant, grams, 1.0) == pytest.approx(rise, rel=3e-2)
    assert mixing_rise_k(load_etchant("ferric-chloride"), 100, 1.0) is None


@pytest.mark.parametrize("ident", ["sodium-hydroxide", "ferric-chloride"])
def test_density_coefficients_are_those_of_the_publication(ident):
    cas = {"sodium-hydroxide": "1310-73-2", "ferric-chloride": "7705-08-0"}[ident]
    row = next(row for row in library_rows("Laliberte2009.tsv") if row[1] == cas)
    assert load_etchant(ident).density_c == tuple(float(value) for value in row[4:9])


def test_densities_of_the_solutions():
    # Laliberte 2009 at 20 degC.
    caustic = ((0.02, 1.0202), (0.05, 1.0532), (0.10, 1.1085), (0.20, 1.2187), (0.50, 1.5163))
    ferric = ((0.10, 1.0848), (0.20, 1.1824), (0.30, 1.2925), (0.40, 1.4162), (0.45, 1.4834))
    for ident, table in (("sodium-hydroxide", caustic), ("ferric-chloride", ferric)):
        for fraction, density in table:
            assert density_g_per_ml(load_etchant(ident), fraction) == pytest.approx(
                density, abs=1e-4
            )


def test_density_of_water_against_the_iapws_formulation():
    for degc in (5.0, 20.0, 25.0, 50.0, 80.0):
        theirs = chemicals.iapws.iapws95_rho(degc + 273.15, 101_325.0) / 1000.0
        assert water_density_g_per_ml(degc) == pytest.approx(theirs, abs=2e-5)


def test_strengths_in_all_their_units():
    ferric = bath_strength(load_etchant("ferric-chloride"), 40.0, "%")
    assert ferric.density_g_per_ml == pytest.approx(1.416, rel=5e-3)
    assert ferric.g_per_l == pytest.approx(566.5, rel=5e-3)
    assert ferric.mol_per_l == pytest.approx(3.492, rel=5e-3)
    caustic = bath_strength(load_etchant("sodium-hydroxide"), 10.0, "%")
    assert caustic.density_g_per_ml == pytest.approx(1.1085, rel=3e-3)
    assert caustic.mol_per_l == pytest.approx(2.772, rel=3e-3)
    by_litre = bath_strength(load_etchant("sodium-hydroxide"), 100.0, "g/L")
    assert 100 * by_litre.fraction == pytest.approx(9.10, rel=2e-3)


def test_the_heavy_baume_scale():
    # Its definition: 145 - 145 / SG at 60/60 degF.
    for degrees, gravity in ((38, 1.3551), (40, 1.3810), (42, 1.4078)):
        assert gravity_from_baume(degrees) == pytest.approx(gravity, rel=5e-4)
        assert baume_from_gravity(gravity_from_baume(degrees)) == pytest.approx(degrees)


def test_molarity_of_ferric_chloride_by_degrees():
    # PCMI Journal 143 (August 2024), Table 6: 38 degBe 2.91 mol/L, 44.5 degBe 3.70 mol/L.
    etchant = load_etchant("ferric-chloride")
    assert bath_strength(etchant, 38.0, "degBe").mol_per_l == pytest.approx(2.91, rel=1.5e-2)
    assert bath_strength(etchant, 44.5, "degBe").mol_per_l == pytest.approx(3.70, rel=1.5e-2)
    # PCMI Journal 137 (August 2021): SG 1.38 is 505 g/L.
    assert bath_strength(etchant, 40.0, "degBe").g_per_l == pytest.approx(505, rel=1.5e-2)


@pytest.mark.parametrize("unit", ["g/L", "%", "degBe"])
def test_a_strength_comes_back_from_each_of_its_units(unit):
    etchant = load_etchant("ferric-chloride")
    first = bath_strength(etchant, 38.0 if unit != "g/L" else 470.0, unit)
    for value, other in (
        (first.g_per_l, "g/L"),
        (100 * first.fraction, "%"),
        (first.deg_baume, "degBe"),
    ):
        again = bath_strength(etchant, value, other)
        assert again.g_per_l == pytest.approx(first.g_per_l, rel=1e-9)


def test_reagent_per_gram_by_stoichiometry():
    # Balanced reactions and IUPAC masses: grams of FeCl3 per gram of metal.
    assert reagent_g_per_g_metal(load_pair("copper", "ferric-chloride")) == pytest.approx(
        5.105, rel=1e-3
    )
    assert reagent_g_per_g_metal(load_pair("aluminium", "ferric-chloride")) == pytest.approx(
        18.035, rel=1e-3
    )
    # Brass 63/37: 2 (0.63/63.546 + 0.37/65.38) mol Fe+3 per gram.
    brass = 2 * (0.63 / 63.546 + 0.37 / 65.38) * 162.204
    assert reagent_g_per_g_metal(load_pair("brass", "ferric-chloride")) == pytest.approx(
        brass, rel=1e-3
    )


def test_the_copper_ceiling_of_ferric_chloride():
    # 530 g/L dissolves 103.8 g/L by stoichiometry; trade notes see it slow past "about 100".
    pair = load_pair("copper", "ferric-chloride")
    assert ceiling_g_per_l(pair, 530.0) == pytest.approx(103.8, rel=3e-3)
    assert ceiling_g_per_l(load_pair("aluminium", "sodium-hydroxide"), 100.0) == pytest.approx(
        67.5, rel=3e-3
    )
    assert ceiling_g_per_l(load_pair("aluminium", "ferric-chloride"), 203.0) == pytest.approx(
        11.3, rel=1e-2
    )


def test_carbonate_for_a_litre_of_ferric_chloride():
    # Stoichiometry, IUPAC masses: 1.5 Na2CO3 per FeCl3; 566.5 g FeCl3 in a litre of 40 %.
    neutralisers = {n.ident: n for n in load_etchant("ferric-chloride").neutralisers}
    assert neutraliser_g(neutralisers["sodium-carbonate"], 566.5) == pytest.approx(555.2, rel=5e-3)
    for ident, formula, moles in (
        ("sodium-carbonate", "Na2CO3", 1.5),
        ("sodium-bicarbonate", "NaHCO3", 3.0),
        ("calcium-hydroxide", "Ca(OH)2", 1.5),
    ):
        mass = chemicals.elements.molecular_weight(
            chemicals.elements.nested_formula_parser(formula)
        )
        per_g = moles * mass / chemicals.MW("7705-08-0")
        assert neutralisers[ident].g_per_g.value == pytest.approx(per_g, rel=1e-3)


def test_flammable_limits_of_the_standard():
    # IEC 60079-20-1:2010.
    from stopout.tables import load_hazards

    for ident, cas in (
        ("hydrogen", "1333-74-0"),
        ("acetone", "67-64-1"),
        ("isopropanol", "67-63-0"),
    ):
        (hazard,) = load_hazards((ident,))
        lower = next(x.value for x in hazard.limits if x.name == "lower flammable limit")
        assert lower.value == pytest.approx(100 * chemicals.LFL(CASRN=cas), abs=0.05)


def test_copper_and_brass_panels():
    # The same panel (0.36 cm3) of copper: 3.2256 g, 2.19 kJ with PCMI Journal 131's figure,
    # 0.061 L by heat for 10 K at 3.6 kJ/(L K); of brass at 8.47 g/cm3 and 1.76 kJ/g
    # (copper with that figure, zinc from the ions): 5.36 kJ.
    from stopout.etching import EtchAsked, plan_etch
    from stopout.values import Measured

    for metal, grams, heat_kj in (("copper", 3.2256, 2.19), ("brass", 3.0492, 5.36)):
        pair = load_pair(metal, "ferric-chloride")
        plan = plan_etch(
            EtchAsked(
                pair=pair,
                strength=bath_strength(pair.etchant, 40.0, "degBe"),
                temperature_degc=40.0,
                depth_mm=0.15,
                etch_factor=Measured(value=1e12),
                rate_um_per_min=None,
                rise_k=10.0,
                opening_area_mm2=2400.0,
                opening_edge_mm=0.0,
                opening_parts=1,
                opening_holes=0,
                quantity=1,
                blank_size_mm=(100.0, 60.0),
            )
        )
        assert plan.metal_removed_g == pytest.approx(grams, rel=1e-3)
        assert plan.heat_kj == pytest.approx(heat_kj, rel=5e-3)
        assert plan.bath_l == pytest.approx(max(heat_kj / 36.0, grams / 50.0), rel=5e-3)
        assert plan.gas_l == 0.0
        assert plan.air_l_per_min is None
