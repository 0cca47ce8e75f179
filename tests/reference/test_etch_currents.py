"""Etching by a current against Faraday's law with published constants.

- Faraday constant 96485.33212 C/mol (CODATA 2018), also from scipy.constants;
- molar masses (IUPAC 2021): Al 26.9815, Fe 55.845, Cu 63.546, Zn 65.38, Cr 51.9961, Ni 58.6934;
- densities (CRC Handbook): Al 2.70, Cu 8.96, Fe 7.87, Zn 7.134 (7.14 where that is said);
- charges in chloride: copper +1, iron +2, aluminium +3 (Phys. Chem. Solid State 2023, abstract);
  stainless steel iron +2, chromium +3 (Mount, Howarth, Clifton 2003, abstract), nickel +2.
"""

import pytest
from scipy import constants

from stopout.etching import Current, EtchAsked, bath_strength, plan_etch
from stopout.etching.bath.amounts import dilution_air_l_per_min
from stopout.etching.bath.electrolytic import (
    FARADAY_C_PER_MOL,
    charge_c,
    chlorine_air_l_per_min,
    chlorine_ml_per_min,
    hydrogen_ml_per_min,
)
from stopout.tables import load_cell
from stopout.values import Measured

STRAIGHT_WALLS = Measured(value=1e12)


def panel(metal, electrolyte, **changes):
    """24 cm2 open, 0.15 mm deep, straight walls, one piece."""
    pair, cell = load_cell(metal, electrolyte)
    arguments = {
        "strength": bath_strength(pair.etchant, 10.0, "%"),
        "temperature_degc": 25.0,
        "depth_mm": 0.15,
        "etch_factor": STRAIGHT_WALLS,
        "rate_um_per_min": None,
        "rise_k": 10.0,
        "opening_area_mm2": 2400.0,
        "opening_edge_mm": 0.0,
        "opening_parts": 1,
        "opening_holes": 0,
        "quantity": 1,
        "blank_size_mm": (100.0, 60.0),
        "cell": cell,
    }
    return plan_etch(EtchAsked(pair=pair, **(arguments | changes)))


def test_the_faraday_constant_is_that_of_codata():
    assert pytest.approx(FARADAY_C_PER_MOL, rel=1e-9) == constants.e * constants.N_A


@pytest.mark.parametrize(
    ("molar_mass", "valence", "g_per_ah"),
    [
        (26.9815, 3, 0.33557),
        (63.546, 2, 1.18549),
        (63.546, 1, 2.37099),
        (55.845, 2, 1.04183),
        (55.845, 3, 0.69455),
        (65.38, 2, 1.21971),
    ],
)
def test_grams_per_ampere_hour(molar_mass, valence, g_per_ah):
    assert charge_c(g_per_ah, molar_mass, valence) == pytest.approx(3600.0, rel=5e-4)


@pytest.mark.parametrize(
    ("metal", "electrolyte", "g_per_ah"),
    [
        ("aluminium", "sodium-chloride", 0.33557),
        ("copper", "sodium-chloride", 2.37099),
        ("copper", "copper-sulfate", 1.18549),
        ("mild-steel", "sodium-chloride", 1.04183),
        ("zinc", "sodium-chloride", 1.21971),
        ("zinc", "zinc-sulfate", 1.21971),
        ("brass", "copper-sulfate", 1.19793),
        ("brass", "sodium-chloride", 1.75727),
        ("stainless-304", "sodium-chloride", 0.94189),
    ],
)
def test_the_tables_valences_give_the_electrochemical_equivalents(metal, electrolyte, g_per_ah):
    pair, cell = load_cell(metal, electrolyte)
    molar = pair.material.molar_mass_g_per_mol.value
    assert 3600.0 / charge_c(1.0, molar, cell.valence.value) == pytest.approx(g_per_ah, rel=5e-3)


def test_the_steel_panel():
    # By hand: 0.36 cm3 x 7.87 = 2.8332 g; x 2 F / 55.845 = 9790.0 C; / 0.90 = 10877.8 C;
    # / 4.8 A = 2266.2 s; hydrogen 10877.8 / (2 F) x 24.4654 L/mol = 1.379 L.
    plan = panel(
        "mild-steel",
        "sodium-chloride",
        current=Current(current_a=4.8, efficiency=Measured(value=0.9)),
    )
    assert plan.metal_removed_g == pytest.approx(2.8332, rel=1e-4)
    assert plan.electro.charge_c == pytest.approx(10877.8, rel=1e-4)
    assert plan.electro.charge_ah == pytest.approx(3.022, rel=3e-4)
    assert plan.time_s == pytest.approx(2266.2, rel=3e-3)
    assert plan.gas_l == pytest.approx(1.379, rel=1e-3)
    assert plan.flow.mean_ml_per_min == pytest.approx(36.5, rel=3e-3)
    assert plan.air_l_per_min == pytest.approx(3.61, rel=5e-3)
    assert plan.electro.density_a_per_cm2 == pytest.approx(0.2)
    assert plan.rate_um_per_min == pytest.approx(60e3 * 0.15 / plan.time_s)


def test_the_copper_panel_takes_half_the_time_in_chloride():
    # 3.2256 g; 9795.2 C and 226.7 min at 0.03 A/cm2 with two electrons, half of both with one.
    job = Current(density_a_per_cm2=0.03, efficiency=Measured(value=1.0))
    sulfate = panel("copper", "copper-sulfate", current=job)
    chloride = panel("copper", "sodium-chloride", current=job)
    assert sulfate.electro.charge_c == pytest.approx(9795.2, rel=1e-4)
    assert sulfate.time_s / 60 == pytest.approx(226.7, rel=5e-4)
    assert sulfate.time_s / chloride.time_s == pytest.approx(2.000, rel=1e-9)


def test_the_stainless_panel():
    # 2.8548 g with 7.93 g/cm3; 74/18/8 as Fe+2, Cr+3, Ni+2; 0.8 efficient, 4.8 A: 47.4 min.
    plan = panel(
        "stainless-304",
        "sodium-chloride",
        current=Current(current_a=4.8, efficiency=Measured(value=0.8)),
    )
    assert plan.metal_removed_g == pytest.approx(2.8548, rel=2e-3)
    assert plan.time_s / 60 == pytest.approx(47.4, rel=5e-3)


def test_hydrogen_and_chlorine_per_ampere():
    # 25 degC and 101.325 kPa: 60 s / 2 F x 24.4654 L/mol.
    assert hydrogen_ml_per_min(1.0) == pytest.approx(7.607, rel=2e-3)
    assert dilution_air_l_per_min(0.007607, 0.04) == pytest.approx(0.753, rel=2e-3)
    assert chlorine_ml_per_min(1.0, 0.1) == pytest.approx(0.761, rel=2e-3)
    assert chlorine_air_l_per_min(0.7607) == pytest.approx(1521.0, rel=2e-3)


def test_stainless_in_chloride_is_a_stop_until_chromate_is_acknowledged():
    found = {f.code: f for f in panel("stainless-304", "sodium-chloride").findings}
    assert found["chromate"].level == "stop"
    known = panel(
        "stainless-304", "sodium-chloride", current=Current(is_chromate_acknowledged=True)
    )
    levels = {f.code: f.level for f in known.findings}
    assert "chromate" not in levels
    assert levels["chromate-acknowledged"] == "caution"


@pytest.mark.parametrize(
    ("volts", "code"), [(3.0, None), (6.0, "voltage-lift"), (30.0, "voltage-high")]
)
def test_a_voltage_that_lifts_paint_is_told_and_one_that_can_kill_stops(volts, code):
    found = panel("mild-steel", "sodium-chloride", current=Current(voltage_v=volts)).findings
    told = {f.code for f in found if f.code.startswith("voltage")}
    assert told == ({code} if code else set())


@pytest.mark.parametrize(("amperes", "is_told"), [(1.19, 1), (1.2, 0), (4.8, 0), (4.81, 1)])
def test_the_ends_of_the_usual_density_are_usual(amperes, is_told):
    # 0.05 to 0.2 A/cm2 on 24 cm2.
    plan = panel("mild-steel", "sodium-chloride", current=Current(current_a=amperes))
    assert sum(f.code == "current-density" for f in plan.findings) == is_told


def test_a_current_outside_the_usual_density_is_told_with_the_right_amperes():
    plan = panel("mild-steel", "sodium-chloride", current=Current(current_a=24.0))
    found = next(f for f in plan.findings if f.code == "current-density")
    # 0.05 to 0.2 A/cm2 on 24 cm2.
    assert "1.2 to 4.8 A" in found.remedy


@pytest.mark.parametrize(("past_a", "is_stop"), [(0.0, False), (0.1, True)])
def test_more_amperes_than_a_bench_may_carry_are_a_stop(past_a, is_stop):
    # Our own rule; the tables' number.
    most_a = load_cell("mild-steel", "sodium-chloride")[0].ceilings.bench.current_a.value
    plan = panel("mild-steel", "sodium-chloride", current=Current(current_a=most_a + past_a))
    assert ("ceiling-current" in {f.code for f in plan.findings}) == is_stop


def test_an_efficiency_that_was_measured_bounds_the_time_and_one_of_the_table_by_its_range():
    measured = Current(efficiency=Measured(value=0.8, sd=0.05))
    electro = panel("mild-steel", "sodium-chloride", current=measured).electro
    assert (electro.efficiency_low, electro.efficiency_high) == pytest.approx((0.75, 0.85))
    # However little was known of it, some metal dissolves.
    wild = Current(efficiency=Measured(value=0.8, sd=2.0))
    assert panel("mild-steel", "sodium-chloride", current=wild).electro.efficiency_low > 0.0
    _, cell = load_cell("mild-steel", "sodium-chloride")
    electro = panel("mild-steel", "sodium-chloride").electro
    assert electro.efficiency_low == cell.efficiency.low
    assert electro.efficiency_high == cell.efficiency.high


def test_without_a_voltage_the_heat_is_that_of_the_highest_that_the_sheet_allows():
    for metal, electrolyte in (("mild-steel", "sodium-chloride"), ("copper", "copper-sulfate")):
        plan = panel(metal, electrolyte)
        _, cell = load_cell(metal, electrolyte)
        volts = min(cell.voltage_v.high, cell.lift_v.value)
        assert plan.electro.voltage_v == volts
        assert plan.heat_kj == pytest.approx(volts * plan.electro.charge_c / 1000, rel=1e-9)


def test_chlorine_is_told_in_chloride_only():
    assert "chlorine" in {f.code for f in panel("copper", "sodium-chloride").findings}
    sulfate = panel("copper", "copper-sulfate")
    assert "chlorine" not in {f.code for f in sulfate.findings}
    assert sulfate.gas_l == 0.0


def test_the_supply_has_room_above_the_current_and_the_heat_is_volts_times_charge():
    plan = panel("mild-steel", "sodium-chloride", current=Current(current_a=4.0, voltage_v=4.0))
    assert plan.electro.supply_a == pytest.approx(5.0)
    assert plan.heat_kj == pytest.approx(4.0 * plan.electro.charge_c / 1000, rel=1e-9)
    assert plan.bath_l >= plan.heat_kj / (3.99 * 10.0) * (1 - 1e-9)
