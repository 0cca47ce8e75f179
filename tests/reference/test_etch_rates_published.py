"""Etch rates against the publications that they rest on."""

import math

import pytest
from scipy import constants

from stopout.etching import rate_um_per_min
from stopout.etching.rates.rate import arrhenius_ratio
from stopout.tables import load_pair


def aluminium(degc, strength=100.0):
    return rate_um_per_min(
        load_pair("aluminium", "sodium-hydroxide"),
        strength_g_per_l=strength,
        temperature_degc=degc,
    ).um_per_min


def test_the_gas_constant_is_the_codata_one():
    from stopout.etching.rates.rate import GAS_CONSTANT_J_PER_MOL_K

    assert pytest.approx(constants.R, rel=1e-12) == GAS_CONSTANT_J_PER_MOL_K


def test_aluminium_in_caustic_by_arrhenius():
    # Activation energy 46 kJ/mol (11 kcal/mol): Trans. Inst. Metal Finishing 54 (1976),
    # doi 10.1080/00202967.1976.11870366. Anchor 1 mm/h at 80 degC: chemical milling practice.
    assert arrhenius_ratio(46.0, 40.0, 50.0) == pytest.approx(1.728, rel=5e-3)
    assert aluminium(80.0) == pytest.approx(1000.0 / 60.0, rel=1e-4)
    assert aluminium(25.0) == pytest.approx(0.926, rel=1e-2)
    assert aluminium(40.0) == pytest.approx(2.25, rel=5e-3)
    assert 11 * constants.calorie == pytest.approx(46.0, abs=0.1)


def test_aluminium_agrees_with_what_anodisers_lose():
    # Anodising practice: 100 to 150 g/m2 in 8 to 15 min at 49 to 66 degC (two trade pages), so
    # 37 to 56 um, 2.5 to 7 um/min; an independent check of the anchor. Its strength is not stated.
    low, high = 100 / 2.70 / 15, 150 / 2.70 / 8
    assert aluminium(49.0) > low
    assert aluminium(60.0) < high


def test_copper_in_stirred_ferric_chloride():
    # C. Bryce and D. Berk, Ind. Eng. Chem. Res. 34 (1995) 1412-1418 (abstract):
    # 0.2039, 0.3083, 0.3362 mg kg/(cm2 s mol) at 30, 40, 50 degC; at 1 mol/kg and 8.96 g/cm3.
    for degc, k, um_per_min in ((30, 0.2039, 13.65), (40, 0.3083, 20.65), (50, 0.3362, 22.51)):
        # 1 mol/kg for an hour on 1 cm2: k x 3600 mg, so many moles, so many molar volumes deep.
        moles = k * 3.6 / 63.546
        depth_um = moles * (63.546 / 8.96) * 1e4
        assert um_per_min == pytest.approx(depth_um / 60, rel=5e-3)
        from_table = rate_um_per_min(
            load_pair("copper", "ferric-chloride"),
            strength_g_per_l=155.8,
            temperature_degc=degc,
            agitation="stirred",
        )
        assert from_table.um_per_min == pytest.approx(um_per_min, rel=1e-3)
        assert from_table.grade == "A"


def test_the_apparent_activation_energy_of_copper():
    # From the same three rate constants, 30 to 50 degC: 20.4 kJ/mol.
    inverse = 1 / 303.15 - 1 / 323.15
    energy = constants.R * math.log(0.3362 / 0.2039) / inverse / 1000
    assert energy == pytest.approx(20.4, rel=2e-2)
    reference = load_pair("copper", "ferric-chloride").rates[0]
    assert reference.activation_kj_per_mol.value == pytest.approx(energy, rel=2e-2)


def test_spray_rates_are_twice_those_of_cupric_chloride():
    # Process guideline for cupric chloride: 1.0 to 1.6 mil/min; ferric chloride about twice that.
    mil_um = 1e6 * constants.mil
    estimate = spray(45.0)
    assert estimate.low_um_per_min < 2 * 1.0 * mil_um < estimate.high_um_per_min
    # The trade notes below have less at 70 degC: what is planned with lies below both.
    assert estimate.um_per_min < 2 * 1.0 * mil_um
    assert estimate.high_um_per_min == pytest.approx(2 * 1.6 * mil_um, rel=0.03)
    assert estimate.findings == ()


def test_a_hot_spray_takes_about_a_minute_for_a_foil():
    # Trade notes on ferric chloride: 35 um in "a little under a minute" at 70 degC.
    hot = spray(70.0)
    assert hot.low_um_per_min <= 35.0 < hot.high_um_per_min


def spray(degc):
    return rate_um_per_min(
        load_pair("copper", "ferric-chloride"),
        strength_g_per_l=530.0,
        temperature_degc=degc,
        agitation="spray",
    )


def test_a_tray_takes_a_quarter_to_three_quarters_of_an_hour_for_a_foil():
    # Teaching page: 35 um of copper in 15 to 45 min, so 0.8 to 2.3 um/min.
    tray = rate_um_per_min(
        load_pair("copper", "ferric-chloride"), strength_g_per_l=510.0, temperature_degc=40.0
    )
    assert tray.low_um_per_min == pytest.approx(35 / 45, abs=0.05)
    assert tray.high_um_per_min == pytest.approx(35 / 15, abs=0.05)
