"""After the etch: closed forms of neutralising, rinses and bath control, against the library."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import chemicals
import pytest
from chemicals.reaction import Hfg, Hfl, Hfs

from stopout.etching.after import neutralising_ways, plan_rinses, rinse_share, still_rinse_l
from stopout.etching.bath.amounts import molar_volume_l
from stopout.tables import list_table, load_etchant, load_pair, load_sludge
from stopout.tables.cells import load_electrolyte

# CRC Handbook, Thermodynamic Properties of Aqueous Ions, as the library `chemicals` ships it.
FERRIC, CUPRIC, CALCIUM, SODIUM = -48.5, 64.8, -542.8, -240.1
HYDROXIDE, PROTON = -230.0, 0.0


WATER, CARBON_DIOXIDE, FERRIC_HYDROXIDE = "7732-18-5", "124-38-9", "1309-33-7"
LIME, SODA, BICARBONATE = "1305-62-0", "497-19-8", "144-55-8"
CUPRIC_HYDROXIDE = "20427-59-2"


def formed(*terms):
    """Sum of enthalpies of formation in kJ/mol: numbers for ions, (share, CAS number) of others.

    The library reads 17 tables for it, which is left to the test that asks.
    """
    of = {WATER: Hfl, CARBON_DIOXIDE: Hfg}
    return sum(
        term[0] * of.get(term[1], Hfs)(term[1]) / 1e3 if isinstance(term, tuple) else term
        for term in terms
    )


def way(etchant, ident):
    return next(w for w in load_etchant(etchant).neutralisers if w.ident == ident)


@pytest.mark.parametrize(
    ("etchant", "ident", "terms"),
    [
        (
            "ferric-chloride",
            "calcium-hydroxide",
            (FERRIC, (1.5, LIME), (-1, FERRIC_HYDROXIDE), -1.5 * CALCIUM),
        ),
        (
            "ferric-chloride",
            "sodium-carbonate",
            (
                FERRIC,
                (1.5, SODA),
                (1.5, WATER),
                (-1, FERRIC_HYDROXIDE),
                (-1.5, CARBON_DIOXIDE),
                -3 * SODIUM,
            ),
        ),
        (
            "ferric-chloride",
            "sodium-bicarbonate",
            (FERRIC, (3, BICARBONATE), (-1, FERRIC_HYDROXIDE), (-3, CARBON_DIOXIDE), -3 * SODIUM),
        ),
        (
            "copper-sulfate",
            "sodium-carbonate",
            (
                CUPRIC,
                (1, SODA),
                (1, WATER),
                (-1, CUPRIC_HYDROXIDE),
                (-1, CARBON_DIOXIDE),
                -2 * SODIUM,
            ),
        ),
        ("sodium-hydroxide", "citric-acid", (PROTON, HYDROXIDE, (-1, WATER))),
    ],
)
def test_the_heat_of_neutralising_follows_from_the_formation_enthalpies(etchant, ident, terms):
    given_off = formed(*terms)
    assert way(etchant, ident).heat_kj_per_mol.value == pytest.approx(given_off, abs=0.3)


def test_lime_gives_off_the_111_kj_that_other_tables_make_it():
    # Fe(OH)3 -823.0 kJ/mol (older NBS tables) instead of the library's -832.6.
    heat = way("ferric-chloride", "calcium-hydroxide").heat_kj_per_mol
    assert heat.low == pytest.approx(formed(FERRIC, (1.5, LIME), 823.0, -1.5 * CALCIUM), abs=0.1)


def test_grams_heat_and_gas_stand_to_one_another_as_the_equations_say():
    mass = chemicals.molecular_weight
    atoms = {"H": 1, "Cl": 1}
    acid = way("sodium-hydroxide", "hydrochloric-acid")
    assert acid.g_per_g.value == pytest.approx(mass(atoms) / 39.997, rel=1e-3)
    soda = way("ferric-chloride", "sodium-carbonate")
    # FeCl3 + 1.5 Na2CO3 + 1.5 H2O -> Fe(OH)3 + 1.5 CO2 + 3 NaCl.
    assert soda.gas_mol_per_mol.value == 1.5
    assert way("ferric-chloride", "sodium-bicarbonate").gas_mol_per_mol.value == 3.0


def planned(material, etchant, *, bath_l, g_per_l, metal_g=0.0):
    return neutralising_ways(
        load_pair(material, etchant),
        bath_l=bath_l,
        reagent_g=bath_l * g_per_l,
        metal_g=metal_g,
        sludge=load_sludge(material, etchant),
    )


def by_id(ways):
    return {w.ident: w for w in ways}


def test_strong_ferric_chloride_with_lime_would_rise_by_a_hundred_kelvin_and_is_diluted_for_it():
    # 210 mL of 40 degBe (510 g/L, 3.14 mol/L): 3.14 x 120.5 / 3.6 = 105 K undiluted (97 K with the
    # lower heat); diluted, heat = 15 K x (3.6 x 0.21 + 4.18 x water).
    ways, _ = planned("mild-steel", "ferric-chloride", bath_l=0.21, g_per_l=510.0)
    lime = by_id(ways)["calcium-hydroxide"]
    moles = 0.21 * 510.0 / 162.204
    assert lime.heat_kj == pytest.approx(moles * 120.5, rel=1e-6)
    assert lime.heat_kj / (3.6 * 0.21) == pytest.approx(105.2, abs=0.3)
    assert moles * 110.9 / (3.6 * 0.21) == pytest.approx(97.0, abs=0.3)
    assert lime.rise_k <= 15.0 + 1e-9
    assert lime.rise_k * (3.6 * 0.21 + 4.18 * lime.water_l) == pytest.approx(lime.heat_kj)
    assert lime.portion_rise_k <= 5.0 + 1e-9
    assert lime.portions * lime.portion_g == pytest.approx(lime.amount_g)
    assert lime.gas_l == 0.0


def test_the_carbonates_give_off_24_and_48_litres_and_neither_gas_nor_gel_leaves_the_vessel():
    ways, _ = planned("mild-steel", "ferric-chloride", bath_l=0.21, g_per_l=510.0)
    moles = 0.21 * 510.0 / 162.204
    for ident, per_mol in (("sodium-carbonate", 1.5), ("sodium-bicarbonate", 3.0)):
        found = by_id(ways)[ident]
        assert found.gas_l == pytest.approx(per_mol * moles * molar_volume_l(), rel=1e-9)
        assert found.portion_gas_l <= found.vessel_l - found.liquid_l + 1e-9
        assert found.liquid_l >= 1.5 * found.gel_l - 1e-9
        assert found.rise_k < 0.0
    assert by_id(ways)["sodium-carbonate"].gas_l == pytest.approx(24.2, abs=0.2)
    assert by_id(ways)["sodium-bicarbonate"].gas_l == pytest.approx(48.5, abs=0.3)


def test_acid_is_named_by_mass_and_volume_of_the_solution_as_sold():
    # Fact: 35.76 g of NaOH take 32.60 g of HCl (worked panel); acid of 31 % at 1.154 g/mL.
    ways, _ = planned("aluminium", "sodium-hydroxide", bath_l=0.3576, g_per_l=100.0, metal_g=0.972)
    acid = by_id(ways)["hydrochloric-acid"]
    assert acid.amount_g == pytest.approx(32.60, rel=3e-3)
    assert acid.stock_g == pytest.approx(32.60 / 0.31, rel=3e-3)
    assert acid.stock_ml == pytest.approx(32.60 / 0.31 / 1.154, rel=3e-3)
    assert by_id(ways)["citric-acid"].stock_ml is None


def test_the_acid_of_31_percent_weighs_what_the_correlation_of_laliberte_says():
    from stopout.etching.bath.strength import _density_of

    companion = load_etchant("cupric-chloride").companions[0]
    stock = way("sodium-hydroxide", "hydrochloric-acid").stock_g_per_ml
    assert _density_of([(0.31, companion.density_c)], 20.0) == pytest.approx(stock.value, abs=0.002)


def test_no_way_in_any_bath_of_any_size_passes_15_k_or_its_vessel():
    pairs = [ident.split("/") for ident, _ in list_table("pairs")]
    sizes = (0.02, 0.2, 1.0, 3.0, 10.0, 60.0)
    offered = 0
    for (material, etchant), bath_l in itertools.product(pairs, sizes):
        for g_per_l in (70.0, 250.0, 510.0):
            ways, declined = planned(
                material, etchant, bath_l=bath_l, g_per_l=g_per_l, metal_g=10.0 * bath_l
            )
            names = {w.ident for w in load_pair(material, etchant).neutralisers}
            assert {w.ident for w in (*ways, *declined)} == names
            for found in ways:
                offered += 1
                assert found.rise_k <= 15.0 + 1e-9
                assert found.portion_rise_k <= 5.0 + 1e-9
                assert found.liquid_l < found.vessel_l <= 30.0
                assert found.gas_l <= 100.0
                assert found.gel_l <= found.liquid_l
                assert found.portions <= 40
                assert found.wait_min >= 5.0
                # Water is added for heat, for gel or for gas, and no more than one of them asks.
                room_l = found.liquid_l - found.water_l
                asks = (
                    found.rise_k == pytest.approx(15.0),
                    found.liquid_l == pytest.approx(1.5 * found.gel_l),
                    found.gas_l / 20 == pytest.approx(found.liquid_l),
                )
                assert found.water_l == 0.0 or any(asks)
                assert found.water_l >= 0.0
                # The powder or the acid counts with its volume, the gas with as much room again.
                added_l = found.amount_g if found.stock_ml is None else found.stock_ml
                assert room_l == pytest.approx(bath_l + 1e-3 * added_l)
                wider = 2.0 if found.gas_l > 0 else 1.5
                assert found.vessel_l == pytest.approx(wider * found.liquid_l)
                assert found.portions * found.portion_rise_k == pytest.approx(found.rise_k)
                assert found.portions * found.portion_gas_l == pytest.approx(found.gas_l)
                portioned = found.amount_g if found.stock_g is None else found.stock_g
                assert found.portions * found.portion_g == pytest.approx(portioned)
            for turned_down in declined:
                assert "our own rule" in turned_down.reason
    assert offered > 50
    big, declined = planned("mild-steel", "ferric-chloride", bath_l=10.0, g_per_l=510.0)
    assert big == ()
    assert len(declined) == 3


def mixed(film, volume, lifts, count):
    """Rinses in a row, lift by lift: the instrument beside the closed form."""
    shares = [1.0] + [0.0] * count
    for _ in range(lifts):
        for k in range(1, count + 1):
            shares[k] = (shares[k] * volume + shares[k - 1] * film) / (volume + film)
    return shares[count]


@pytest.mark.parametrize("count", [1, 2, 3])
@pytest.mark.parametrize("lifts", [1, 12, 200])
def test_a_rinse_in_a_row_stands_where_lift_after_lift_brings_it(count, lifts):
    found = rinse_share(0.0012, 0.4, lifts, number=count)
    assert found == pytest.approx(mixed(0.0012, 0.4, lifts, count), rel=1e-9)


def test_one_rinse_follows_1_less_q_to_the_k():
    q = 0.4 / 0.4012
    assert rinse_share(0.0012, 0.4, 30, number=1) == pytest.approx(1 - q**30, rel=1e-9)


def test_two_rinses_stay_at_a_thousandth_and_take_a_tenth_of_the_water_of_one():
    two = still_rinse_l(0.0012, 12, count=2, last_share=1e-3)
    assert still_rinse_l(0.0, 12, count=2, last_share=1e-3) == 0.0
    one = still_rinse_l(0.0012, 12, count=1, last_share=1e-3)
    assert rinse_share(0.0012, two, 12, number=2) == pytest.approx(1e-3, rel=1e-6)
    # For thin films c2 = x^2 / 2, x = lifts d / V: V = lifts d / sqrt(0.002).
    assert two == pytest.approx(12 * 0.0012 / math.sqrt(0.002), rel=0.05)
    assert 2 * two < 0.1 * one


def test_work_with_chromium_or_nickel_has_three_rinses_and_none_of_it_goes_to_a_drain():
    common = {
        "face_mm2": 6000.0,
        "pieces": 4,
        "lifts_each": 3,
        "strength_g_per_l": 100.0,
        "least_l": 0.1,
    }
    kept = plan_rinses(**common, all_kept=True)
    plain = plan_rinses(**common, all_kept=False)
    assert (kept.count, plain.count) == (3, 2)
    assert plain.drag_out_l == pytest.approx(2 * 6000e-6 * 0.1 * 12)
    assert plain.carried_g == pytest.approx(100.0 * plain.drag_out_l)
    assert plain.last_share <= 1e-3 + 1e-9
    assert plain.waste_l == pytest.approx(2 * plain.volume_l)


def test_the_factors_of_the_caustic_titration_follow_from_the_molar_masses():
    # As printed: 8.00 A, less 1.48 for each gram of aluminium: 5 mL taken, 1 mol/L of acid, and
    # Al(OH)4- holds one caustic each.
    assert pytest.approx(8.00, abs=0.005) == 39.997 / 5.0
    assert pytest.approx(1.48, abs=0.005) == 39.997 / 26.9815
    lines = " ".join(line.text for line in load_etchant("sodium-hydroxide").control.test)
    assert "8.00" in lines
    assert "1.48" in lines


def test_no_shop_is_told_to_put_fluoride_into_acid():
    said = " ".join(
        line.text
        for ident, _ in list_table("etchants")
        for line in (*load_etchant(ident).control.test, *load_etchant(ident).control.correct)
    )
    assert "potassium fluoride" not in said


def test_air_and_acid_for_a_gram_of_copper_follow_from_the_equation():
    # Cu + CuCl2 -> 2 CuCl; 2 CuCl + 2 HCl + 0.5 O2 -> 2 CuCl2 + H2O. As printed: 0.92 L of air
    # (20.95 % oxygen) and 3.2 mL of acid of 31 % (1.154 g/mL) a gram.
    assert 0.5 * molar_volume_l() / 63.546 / 0.2095 == pytest.approx(0.92, abs=0.005)
    assert pytest.approx(3.2, abs=0.02) == 2 * 36.461 / 63.546 / 0.31 / 1.154
    lines = " ".join(line.text for line in load_etchant("cupric-chloride").control.regenerate)
    assert "0.92" in lines
    assert "3.2" in lines


def test_every_bath_says_how_it_is_kept_and_when_it_ends():
    for ident, _ in list_table("etchants"):
        control = load_etchant(ident).control
        assert control is not None, ident
        assert control.test, ident
        assert control.correct, ident
        assert control.discard, ident
    for ident, _ in list_table("electrolytes"):
        assert load_electrolyte(ident).control.discard, ident
    words = " ".join(line.text for line in load_etchant("cupric-chloride").control.regenerate)
    assert "No peroxide" in words


def test_persulfate_waste_has_one_way_the_carrier():
    for ident in ("sodium-persulfate", "ammonium-persulfate"):
        said = " ".join(line.text for line in load_etchant(ident).waste)
        assert "react out" not in said
        assert "No scrap of metal" in said
        assert "carrier takes it" in said
    # 250 g/L x 409.1 kJ/mol / 238.104 g/mol = 430 kJ/L.
    assert pytest.approx(430.0, abs=1.0) == 250.0 / 238.104 * 409.1


@pytest.mark.parametrize(
    ("bath_l", "ident", "says"),
    [
        # 510 g of FeCl3 (162.204 g/mol) at 3 and 1.5 mol of CO2 a mole, 24.465 L a mole.
        (1.0, "sodium-bicarbonate", "gives off 231 L of carbon dioxide, more than the 100 L"),
        (1.0, "sodium-carbonate", "gives off 115 L of carbon dioxide, more than the 100 L"),
        # 31.44 mol x 120.5 kJ at 15 K: 36 kJ/K of bath and 51.8 L of water; 3.49 kg of lime.
        (10.0, "calcium-hydroxide", "a vessel of 98 L, more than the 30 L"),
        # The room above the liquid takes a twentieth of 2308 L: twice 115 L.
        (10.0, "sodium-bicarbonate", "a vessel of 231 L, more than the 30 L"),
    ],
)
def test_a_way_that_is_declined_says_by_how_much_it_is_too_large(bath_l, ident, says):
    _, declined = planned("mild-steel", "ferric-chloride", bath_l=bath_l, g_per_l=510.0)
    assert says in by_id(declined)[ident].reason


@pytest.mark.parametrize("ident", ["hydrochloric-acid", "citric-acid"])
def test_acid_on_spent_lye_heats_by_its_caustic_and_by_its_aluminium(ident):
    # 100 g NaOH (39.997 g/mol) and 27 g of aluminium (26.982 g/mol) that give off 20.6 kJ/mol more.
    found, plain = (
        by_id(planned("aluminium", "sodium-hydroxide", bath_l=1.0, g_per_l=100.0, metal_g=grams)[0])
        for grams in (27.0, 0.0)
    )
    each = {"hydrochloric-acid": 68.3, "citric-acid": 55.8}[ident]
    assert plain[ident].heat_kj == pytest.approx(100.0 / 39.997 * each, rel=1e-3)
    more = found[ident].heat_kj - plain[ident].heat_kj
    assert more == pytest.approx(27.0 / 26.982 * 20.6, rel=1e-3)


def test_a_sludge_of_the_metal_alone_makes_a_gel_of_the_metal_alone():
    # 78.003 / 26.982 = 2.891 g of gibbsite a gram; ten litres a dry kilogram (our own rule).
    sludge = replace(load_sludge("aluminium", "sodium-hydroxide"), per_g_reagent=None)
    ways, _ = neutralising_ways(
        load_pair("aluminium", "sodium-hydroxide"),
        bath_l=0.5,
        reagent_g=50.0,
        metal_g=10.0,
        sludge=sludge,
    )
    assert [way.gel_l for way in ways] == pytest.approx([0.2891] * 2, rel=1e-3)


def test_the_gel_is_that_of_the_metal_and_of_the_iron_in_the_bath():
    # Ten litres a dry kilogram (our own rule): 0.659 g of Fe(OH)3 a gram of FeCl3, and for lye,
    # which leaves none of its own, 2.891 g of Al(OH)3 a gram of aluminium.
    iron = planned("copper", "ferric-chloride", bath_l=0.2, g_per_l=510.0, metal_g=10.0)[0]
    assert iron[0].gel_l == pytest.approx(0.01 * (1.535 * 10.0 + 0.659 * 102.0), rel=2e-3)
    lye = planned("aluminium", "sodium-hydroxide", bath_l=0.2, g_per_l=100.0, metal_g=2.0)[0]
    assert lye[0].gel_l == pytest.approx(0.01 * 2.891 * 2.0, rel=2e-3)
    # Sold as a solution of 31 %.
    assert by_id(lye)["hydrochloric-acid"].stock_percent == pytest.approx(31.0)
