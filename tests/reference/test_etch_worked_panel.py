"""The worked aluminium panel: 100 x 60 mm, 40 % open, 0.15 mm deep, in sodium hydroxide.

Straight walls (no undercut), 100 g/L, a given rate of 4.0 um/min. Every figure follows by hand
from the published values named beside it:

- atomic mass of aluminium 26.9815 (IUPAC 2021), density 2.70 g/cm3 (CRC Handbook);
- gas constant 8.314462618 J/(mol K) (CODATA 2018), ideal gas at 25 degC and 101.325 kPa;
- formation enthalpies (CRC Handbook, Thermodynamic Properties of Aqueous Ions):
  Al(OH)4- -1502.5, OH- -230.0, water -285.8 kJ/mol;
- density and heat capacity of 100 g/L at 25 degC (Laliberte, J. Chem. Eng. Data 54 (2009) 1725):
  1.0973 g/mL x 3.811 J/(g K) = 4.182 kJ/(L K);
- lower flammable limit of hydrogen 4 % (IEC 60079-20-1:2010), a quarter of it planned with.
"""

import pytest
from scipy import constants

from stopout.etching import EtchAsked, bath_strength, plan_etch, undercut_mm
from stopout.etching.after import neutraliser_g
from stopout.etching.bath.amounts import dilution_air_l_per_min, molar_volume_l
from stopout.tables import load_etchant, load_pair
from stopout.values import Measured

STRAIGHT_WALLS = Measured(value=1e12)


@pytest.fixture(scope="module")
def panel():
    pair = load_pair("aluminium", "sodium-hydroxide")
    return plan_etch(
        EtchAsked(
            pair=pair,
            strength=bath_strength(pair.etchant, 100.0, "g/L"),
            temperature_degc=40.0,
            depth_mm=0.15,
            etch_factor=STRAIGHT_WALLS,
            rate_um_per_min=Measured(value=4.0),
            rise_k=10.0,
            opening_area_mm2=100.0 * 60.0 * 0.40,
            opening_edge_mm=0.0,
            opening_parts=1,
            opening_holes=0,
            quantity=1,
            blank_size_mm=(100.0, 60.0),
        )
    )


def test_metal_removed(panel):
    assert panel.metal_removed_g == pytest.approx(0.9720, rel=1e-3)
    assert panel.metal_removed_g / 26.9815 == pytest.approx(0.036025, rel=1e-3)


def test_hydrogen(panel):
    assert panel.gas_l == pytest.approx(1.3220, rel=1e-3)
    assert panel.gas_l / panel.metal_removed_g == pytest.approx(1.3601, rel=3e-3)


def test_heat(panel):
    assert panel.heat_kj == pytest.approx(14.954, rel=1e-3)


def test_bath(panel):
    assert panel.bath_l == pytest.approx(0.3576, rel=1e-3)


def test_reagent(panel):
    assert panel.reagent_g == pytest.approx(1.4409, rel=2e-3)
    assert panel.reagent_charge_g == pytest.approx(35.76, rel=1e-3)
    assert panel.metal_g_per_l == pytest.approx(2.72, rel=2e-3)


def test_time_and_flow(panel):
    assert panel.time_s == pytest.approx(37.5 * 60.0)
    assert panel.flow.mean_ml_per_min == pytest.approx(35.25, rel=5e-3)
    assert panel.air_l_per_min == pytest.approx(3.490, rel=1e-2)
    assert dilution_air_l_per_min(0.03525, 0.04) == pytest.approx(99 * 0.03525)


def test_molar_volumes():
    # Ideal gas with the CODATA constant, against scipy.constants.
    for degc, litres in ((25.0, 24.465), (20.0, 24.055), (0.0, 22.414)):
        assert molar_volume_l(degc) == pytest.approx(litres, rel=5e-4)
        by_scipy = 1000 * constants.R * (degc + constants.zero_Celsius) / constants.atm
        assert molar_volume_l(degc) == pytest.approx(by_scipy, rel=1e-9)


def test_undercut_by_the_etch_factor():
    # Etch factor = depth / undercut per edge: Allen, Horne and Stevens (PCMI, 1982).
    assert undercut_mm(0.15, 1.0) == pytest.approx(0.150)
    assert undercut_mm(0.15, 1.5) == pytest.approx(0.100)
    assert undercut_mm(0.15, 3.0) == pytest.approx(0.050)


def test_acid_for_the_spent_bath_follows_the_caustic_charged(panel):
    # Stoichiometry: one HCl, a third of a citric acid, per NaOH; IUPAC masses.
    acids = {n.ident: n for n in load_etchant("sodium-hydroxide").neutralisers}
    assert panel.reagent_charge_g / 39.997 == pytest.approx(0.8941, rel=3e-3)
    hydrochloric = neutraliser_g(acids["hydrochloric-acid"], panel.reagent_charge_g)
    citric = neutraliser_g(acids["citric-acid"], panel.reagent_charge_g)
    assert hydrochloric == pytest.approx(32.60, rel=3e-3)
    assert citric == pytest.approx(57.26, rel=3e-3)


def test_hydrogen_of_a_square_centimetre_a_tenth_deep():
    # Closed form: 3 H2 for 2 Al, dry at 20 degC and 101.325 kPa: 36.1 mL.
    grams = 2.70 * 100.0 * 0.1 * 1e-3
    assert 1.5 * grams / 26.9815 * 1000 * molar_volume_l(20.0) == pytest.approx(36.1, abs=0.2)
