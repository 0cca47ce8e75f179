"""The shop's day: tray, batches, ageing, spares, stock, weighing, checks, peak gas, time left."""

import math
import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from effort import tries
from etching.test_amounts import ALUMINIUM, COPPER, PAIRS, planned
from stopout.errors import PlanError
from stopout.etching import (
    BathUse,
    EtchAsked,
    Sludge,
    bath_strength,
    floor_findings,
    mean_depth_mm,
    plan_etch,
    remaining_time,
    undercut_mm,
)
from stopout.etching.bath.ageing import ageing_factor, batches, strength_order, used_bath_factor
from stopout.etching.bath.amounts import ceiling_g_per_l, etch_volume_mm3, sludge_g, stock_l
from stopout.etching.bath.gas import gas_flow, wall_peak_ratio
from stopout.etching.bath.use import fit_tray
from stopout.tables import load_pair, load_sludge
from stopout.values import Measured


def codes(plan):
    return {finding.code: finding for finding in plan.findings}


@pytest.mark.parametrize(("share", "factor"), [(0.16, 1.0897), (0.5, 1.3863)])
def test_the_ageing_factor(share, factor):
    # Closed form of a first-order bath: -ln(1 - x)/x.
    assert ageing_factor(share) == pytest.approx(factor, rel=5e-4)


def test_the_ageing_factor_is_the_time_of_a_bath_stepped_through_in_small_bites():
    # Against a sum: each bite takes 1 / (what is left) as long as the first.
    share, bites = 0.6, 20000
    summed = sum(1 / (1 - share * (n + 0.5) / bites) for n in range(bites)) / bites
    assert ageing_factor(share) == pytest.approx(summed, rel=1e-6)


def test_an_endless_bath_does_not_age_and_an_empty_one_never_ends():
    assert ageing_factor(0.0) == 1.0
    assert math.isinf(ageing_factor(1.0))


def test_the_panels_bath_ages_by_its_load():
    # 2.353 g Al in the poured bath; its lye could dissolve 26.9815 / 39.997 g per g.
    plan = planned(quantity=4)
    x = (plan.pour.end_g_per_l * 39.997 / 26.9815) / 100.0
    assert plan.time_ageing_s == pytest.approx(plan.time_s * -math.log(1 - x) / x, rel=1e-4)


@settings(max_examples=tries(50), deadline=None)
@given(
    pieces=st.integers(1, 40),
    at_once=st.integers(1, 7),
    load=st.floats(0.01, 0.9),
    start=st.floats(0.0, 5.0),
)
def test_batches_take_in_the_mean_as_long_as_all_at_once(pieces, at_once, load, start):
    ceiling, time_s, bath_l = 50.0, 600.0, 2.0
    each_g = load * (ceiling - start) * bath_l / pieces
    found = batches(
        pieces=pieces,
        at_once=at_once,
        metal_per_piece_g=each_g,
        bath_l=bath_l,
        start_g_per_l=start,
        ceiling_g_per_l=ceiling,
        time_s=time_s,
    )
    assert sum(b.pieces for b in found) == pieces
    mean = sum(b.pieces * b.time_s for b in found) / pieces
    assert mean == pytest.approx(time_s * ageing_factor(load), rel=1e-9)
    times = [b.time_s for b in found if b.pieces == at_once]
    assert times == sorted(times)
    assert found[-1].end_g_per_l == pytest.approx(start + pieces * each_g / bath_l)


@pytest.mark.parametrize("coupon_mm2", [0.0, 500.0, 5000.0])
@pytest.mark.parametrize("dissolved", [0.0, 4.0])
def test_each_batch_takes_as_long_as_a_first_order_bath_does(coupon_mm2, dissolved):
    """From s0 to s1 of what its reagent takes, c: time x (c - start) / (s1 - s0) x ln((c - s0) /
    (c - s1)); lye of 100 g/L takes 26.982 / 39.997 of that in aluminium. The coupon goes first.
    """
    use = BathUse(
        coupon_area_mm2=coupon_mm2, dissolved_g_per_l=dissolved, plates_at_once=1, volume_l=0.5
    )
    plan = planned(use=use, quantity=3)
    each, ceiling = plan.metal_per_piece_g / 0.5, 100.0 * 26.982 / 39.997
    coupon = plan.pour.metal_g / 0.5 - 3 * each
    # The coupon loses as much as its area has of a piece's.
    assert coupon == pytest.approx(each * coupon_mm2 / 1200.0, abs=1e-9)
    before = dissolved + coupon
    for batch in plan.batches:
        after = before + each
        share = math.log((ceiling - before) / (ceiling - after)) * (ceiling - dissolved) / each
        assert batch.time_s == pytest.approx(plan.time_s * share, rel=1e-4)
        assert batch.end_g_per_l == pytest.approx(after)
        before = after
    assert plan.pour.end_g_per_l == pytest.approx(before)


def test_a_used_bath_slows_by_its_order_where_that_is_known():
    fresh, used = planned(), planned(use=BathUse(dissolved_g_per_l=4.0))
    left = 1 - 4.0 / (100.0 * 26.982 / 39.997)
    # Order 0.75 in lye, as the tables have it, 1.5 at the most.
    assert used.rate_um_per_min == pytest.approx(fresh.rate_um_per_min * left**0.75, rel=1e-4)
    assert used.rate_low_um_per_min == pytest.approx(
        fresh.rate_low_um_per_min * left**1.5, rel=1e-4
    )
    assert "bath-age-unknown" not in codes(used)
    fresh, used = planned("copper"), planned("copper", use=BathUse(dissolved_g_per_l=10.0))
    left = 1 - 10.0 / ceiling_g_per_l(COPPER, fresh.strength.g_per_l)
    assert used.rate_um_per_min == fresh.rate_um_per_min
    assert used.rate_high_um_per_min == fresh.rate_high_um_per_min
    assert used.rate_low_um_per_min == pytest.approx(fresh.rate_low_um_per_min * left)
    assert "bath-age-unknown" in codes(used)
    assert "bath-age-unknown" not in codes(fresh)


def test_a_weak_bath_is_told_and_a_usual_one_is_not():
    weak = planned("copper", strength=bath_strength(COPPER.etchant, 15.0, "degBe"))
    assert codes(weak)["weak-bath"].level == "caution"
    assert "weak-bath" not in codes(planned("copper"))


@pytest.mark.parametrize("tray_mm", [(203.0, 151.0), (140.0, 100.0), (251.3, 147.9)])
def test_what_is_to_be_poured_is_rounded_up_to_a_millilitre(tray_mm):
    found = codes(planned(use=BathUse(tray_mm=tray_mm, volume_l=0.15), quantity=1))
    told = next(found[code] for code in ("bath-bare", "bath-shallow") if code in found)
    needed = math.prod(tray_mm) * 15e-6
    assert float(re.search(r"Pour ([\d.]+) L", told.remedy)[1]) == pytest.approx(
        math.ceil(1000 * needed - 1e-6) / 1000
    )


def test_a_tray_holds_what_lies_in_it_with_room_all_round():
    # 20 mm between and around: 3 x 120 + 20 = 380 wide, 2 x 80 + 20 = 180 high.
    use = BathUse(tray_mm=(380.0, 180.0))
    assert fit_tray((100.0, 60.0), use, 10).at_once == 6
    assert fit_tray((100.0, 60.0), BathUse(tray_mm=(379.0, 180.0)), 10).at_once == 4
    # The other way round does better in a narrow tray.
    assert fit_tray((100.0, 60.0), BathUse(tray_mm=(340.0, 140.0)), 10).at_once == 4
    assert fit_tray((100.0, 60.0), use, 2).at_once == 2


def test_the_named_tray_decides_the_bath_that_covers():
    # 200 x 150 x 15 mm.
    plan = planned(use=BathUse(tray_mm=(200.0, 150.0)), quantity=1)
    assert plan.bath_cover_l == pytest.approx(0.450)
    assert plan.bath_fill_l >= 0.450 * (1 - 1e-12)


def test_plates_at_once_without_a_tray_lie_side_by_side():
    plan = planned(use=BathUse(plates_at_once=2))
    # 140 mm long, 2 x 60 + 3 x 20 mm wide.
    assert plan.bath_cover_l == pytest.approx(140 * 180 * 15e-6)
    assert [batch.pieces for batch in plan.batches] == [2, 2]


def test_a_tray_that_is_too_small_stops_and_a_tight_one_cautions():
    small = codes(planned(use=BathUse(tray_mm=(90.0, 50.0))))
    assert small["tray-small"].level == "stop"
    tight = codes(planned(use=BathUse(tray_mm=(110.0, 70.0))))
    assert tight["tray-tight"].level == "caution"
    crowded = codes(planned(use=BathUse(tray_mm=(200.0, 150.0), plates_at_once=5), quantity=6))
    assert "at most 4" in crowded["tray-small"].remedy


def test_spares_and_the_coupon_make_the_bath_larger_and_the_order_no_heavier():
    plain = planned()
    more = planned(use=BathUse(spares=2, coupon_area_mm2=600.0))
    assert more.metal_removed_g == plain.metal_removed_g
    # 4 pieces of 1200 mm2; 2 spares and half a piece more.
    assert more.pour.metal_g == pytest.approx(plain.pour.metal_g * 6.5 / 4)
    assert more.pour.heat_l == pytest.approx(plain.pour.heat_l * 6.5 / 4)
    assert more.bath_l == plain.bath_l


@settings(max_examples=tries(60), deadline=None)
@given(
    area=st.floats(1.0, 2e4),
    edge=st.floats(0.0, 2e4),
    rise=st.floats(0.5, 60.0),
    dissolved=st.floats(0.0, 12.0),
    spares=st.integers(0, 5),
    quantity=st.integers(1, 20),
    metal=st.sampled_from(list(PAIRS)),
)
def test_the_poured_bath_is_never_under_any_of_its_floors(
    area, edge, rise, dissolved, spares, quantity, metal
):
    use = BathUse(dissolved_g_per_l=dissolved, spares=spares, tray_mm=(150.0, 110.0))
    plan = planned(
        metal,
        opening_area_mm2=area,
        opening_edge_mm=edge,
        rise_k=rise,
        quantity=quantity,
        use=use,
    )
    pair, room = PAIRS[metal][0], 1 + 1e-9
    every_g = plan.metal_per_piece_g * (quantity + spares)
    heat_kj = plan.heat_kj * (quantity + spares) / quantity
    assert plan.bath_fill_l * pair.heat_capacity_kj_per_l_k.value * rise * room >= heat_kj
    usual = pair.capacity_g_per_l.value
    assert dissolved + every_g / plan.bath_fill_l <= usual * room
    assert plan.bath_fill_l * room >= 0.2475  # 150 x 110 x 15 mm
    assert plan.pour.rise_k <= rise * room


def test_a_used_bath_slows_by_the_known_order():
    # 6 g/L Al have taken 6 x 39.997 / 26.9815 = 8.894 g/L of 100 g/L lye; order 0.75 (our guess).
    fresh, used = planned(), planned(use=BathUse(dissolved_g_per_l=6.0))
    factor = (1 - 0.08894) ** 0.75
    assert used.rate_um_per_min == pytest.approx(fresh.rate_um_per_min * factor, rel=1e-4)
    assert used.rate_low_um_per_min < factor * fresh.rate_low_um_per_min
    assert used.time_s > fresh.time_s


def test_where_no_order_is_known_the_rate_is_left_and_the_doubt_is_told():
    fresh, used = planned("copper"), planned("copper", use=BathUse(dissolved_g_per_l=20.0))
    assert used.rate_um_per_min == fresh.rate_um_per_min
    assert used.time_high_s > fresh.time_high_s
    assert codes(used)["bath-age-unknown"].level == "caution"


def test_a_measured_rate_is_taken_as_it_is_in_a_used_bath():
    given_ = Measured(value=2.0)
    plan = planned(rate_um_per_min=given_, use=BathUse(dissolved_g_per_l=6.0))
    assert plan.rate_um_per_min == 2.0


@settings(max_examples=tries(40), deadline=None)
@given(share=st.floats(0.0, 1.0), order=st.floats(0.1, 2.0))
def test_a_used_bath_is_never_faster_than_a_fresh_one(share, order):
    assert 0.0 <= used_bath_factor(share, order) <= 1.0


def test_a_bath_past_its_end_is_a_stop_and_one_past_the_usual_a_caution():
    # Without additives aluminium baths are planned to 15 g/L and finished at 25 g/L.
    spent = codes(planned(use=BathUse(dissolved_g_per_l=26.0)))
    assert spent["bath-spent"].level == "stop"
    full = planned(use=BathUse(dissolved_g_per_l=24.0, volume_l=0.3), quantity=8)
    assert codes(full)["bath-spent"].level == "stop"
    late = planned(use=BathUse(dissolved_g_per_l=16.0))
    assert codes(late)["bath-used-up"].level == "caution"


def test_a_given_volume_is_poured_and_held_against_heat_and_cover():
    plan = planned(use=BathUse(volume_l=0.05))
    assert plan.bath_fill_l == 0.05
    assert codes(plan)["bath-small"].level == "stop"
    # 50 mL over 140 x 100 mm stand 3.6 mm deep.
    assert codes(plan)["bath-bare"].level == "stop"
    assert codes(planned(use=BathUse(volume_l=0.15)))["bath-shallow"].level == "caution"
    enough = codes(planned(use=BathUse(volume_l=2.0)))
    assert not {"bath-small", "bath-shallow"} & set(enough)


def test_stock_and_water_hold_the_reagent_and_the_mass_of_the_bath():
    etchant = COPPER.etchant
    bath, stock = (bath_strength(etchant, be, "degBe") for be in (36.0, 42.0))
    litres, water = stock_l(bath, stock, 2.0)
    assert litres * stock.g_per_l == pytest.approx(2.0 * bath.g_per_l)
    # Conservation of mass; water of 20 degC weighs 0.99820 kg/L (Kell 1975).
    mass = litres * stock.density_g_per_ml + water * 0.99820
    assert mass == pytest.approx(2.0 * bath.density_g_per_ml, rel=1e-4)


def test_a_stock_weaker_than_the_bath_is_a_stop():
    stock = bath_strength(COPPER.etchant, 30.0, "degBe")
    assert codes(planned("copper", use=BathUse(stock=stock)))["stock-weak"].level == "stop"
    with pytest.raises(PlanError, match="weaker than the bath"):
        stock_l(bath_strength(COPPER.etchant, 36.0, "degBe"), stock, 1.0)


def test_dry_lye_goes_in_by_portions_of_ten_kelvin():
    # 100 g/L warm by 26.5 K (Laliberte, CRC): three portions.
    plan = planned(quantity=1)
    assert plan.mixing.portions == 3
    assert plan.mixing.hottest_degc == pytest.approx(46.5, abs=0.8)
    # 150 g/L come to 20 + 38.9 degC at once.
    strong = planned(quantity=1, strength=bath_strength(ALUMINIUM.etchant, 150.0, "g/L"))
    assert codes(strong)["mixing-hot"].level == "caution"


def test_the_mean_depth_comes_back_from_the_weight_lost():
    shape = {"opening_area_mm2": 1200.0, "opening_edge_mm": 800.0, "parts": 12, "holes": 5}
    for depth in (0.01, 0.06, 0.3):
        volume = etch_volume_mm3(**shape, depth_mm=depth, undercut_mm=undercut_mm(depth, 1.5))
        found = mean_depth_mm(
            loss_g=volume * 2.7e-3, density_g_per_cm3=2.7, etch_factor=1.5, **shape
        )
        assert found == pytest.approx(depth, rel=1e-9)


@pytest.mark.parametrize(
    ("density", "loss_g", "digit"), [(2.70, 0.270, 1e-3), (8.47, 0.85, 0.01), (7.93, 0.79, 0.01)]
)
def test_ten_square_centimetres_a_tenth_deep(density, loss_g, digit):
    # Geometry: 1000 mm2 x 0.1 mm x density, straight walls; digits as the fact sheet prints them.
    found = mean_depth_mm(
        loss_g=loss_g,
        density_g_per_cm3=density,
        opening_area_mm2=1000.0,
        opening_edge_mm=0.0,
        parts=1,
        holes=0,
        etch_factor=1e12,
    )
    assert found == pytest.approx(0.1, rel=digit / loss_g)


@pytest.mark.parametrize("loss", [0.0, -1.0, math.nan])
def test_no_loss_tells_no_depth(loss):
    with pytest.raises(PlanError, match="tells no depth"):
        mean_depth_mm(
            loss_g=loss,
            density_g_per_cm3=2.7,
            opening_area_mm2=1000.0,
            opening_edge_mm=0.0,
            parts=1,
            holes=0,
            etch_factor=1.0,
        )


def test_the_checks_are_at_half_and_four_fifths_and_earlier_where_the_rate_may_be_twice():
    sure = planned(rate_um_per_min=Measured(value=2.0, sd=0.1)).schedule
    assert [(c.what, c.share) for c in sure] == [("look", 0.5), ("measure", 0.8), ("lift", 1.0)]
    assert sure[1].depth_high_mm == pytest.approx(0.8 * 0.06 * 1.05)
    wild = planned("aluminium", rate_um_per_min=Measured(value=1.0, sd=1.5)).schedule
    # At 2.5 times the rate half the depth is reached at a fifth of the time.
    assert [c.what for c in wild] == ["look", "look", "measure", "lift"]
    assert wild[0].share == pytest.approx(0.2)


@settings(max_examples=tries(40), deadline=None)
@given(depth=st.floats(0.01, 0.5), share=st.floats(0.05, 1.0), after=st.floats(30.0, 20000.0))
def test_the_time_left_is_in_proportion(depth, share, after):
    left = remaining_time(depth_mm=depth, measured_depth_mm=share * depth, after_s=after)
    assert left.total_s == pytest.approx(after / share, rel=1e-9)
    assert left.remaining_s == pytest.approx(after / share - after, rel=1e-6, abs=1e-6)


def test_a_measurement_carries_its_error_into_the_time():
    # 40 of 60 um after 15 min: 7.5 min more; 35 or 45 um: 10.7 or 5 min.
    left = remaining_time(depth_mm=0.06, measured_depth_mm=0.04, after_s=900.0, error_mm=0.005)
    assert left.remaining_s == pytest.approx(450.0)
    assert left.rate_um_per_min == pytest.approx(40.0 / 15.0)
    assert left.remaining_low_s == pytest.approx(300.0)
    assert left.remaining_high_s == pytest.approx(900.0 * 25 / 35)
    done = remaining_time(depth_mm=0.06, measured_depth_mm=0.07, after_s=900.0)
    assert done.remaining_s == 0.0
    with pytest.raises(PlanError, match="tells no rate"):
        remaining_time(depth_mm=0.06, measured_depth_mm=0.0, after_s=900.0)


def test_the_wall_peak_is_the_slope_of_the_volume_over_its_mean():
    # Against a difference quotient of the volume itself.
    shape = {"opening_area_mm2": 1200.0, "opening_edge_mm": 800.0, "parts": 12, "holes": 5}

    def volume(depth):
        return etch_volume_mm3(**shape, depth_mm=depth, undercut_mm=depth / 0.8)

    depth, step = 0.2, 1e-6
    slope = (volume(depth + step) - volume(depth - step)) / (2 * step)
    ratio = wall_peak_ratio(**shape, undercut_mm=depth / 0.8)
    assert ratio == pytest.approx(slope / (volume(depth) / depth), rel=1e-6)


def test_the_peak_flow_reckons_with_warming_walls_and_the_high_rate():
    plan = planned(quantity=1, rate_um_per_min=Measured(value=2.0))
    # 46 kJ/mol from 40 to 50 degC: 1.728 (Trans. IMF 1976); straight walls add nothing.
    straight = planned(
        quantity=1,
        rate_um_per_min=Measured(value=2.0),
        etch_factor=Measured(value=1e9),
    )
    assert straight.flow.peak_ml_per_min == pytest.approx(
        1.728 * straight.flow.mean_ml_per_min, rel=5e-3
    )
    assert plan.flow.peak_ml_per_min > 1.728 * plan.flow.mean_ml_per_min
    assert plan.flow.ventilation_l_per_min == pytest.approx(10 * plan.air_l_per_min)


def test_the_peak_flow_is_what_the_fastest_etch_of_the_open_area_gives_off():
    """2 Al + 2 OH- + 6 H2O = 2 Al(OH)4- + 3 H2: 1.5 mol of hydrogen for a mol of metal.

    IUPAC 2021: Al 26.982 g/mol. CRC Handbook: Al 2.70 g/cm3. CODATA 2018: R T / p = 24.465 L/mol
    at 25 degC and 101.325 kPa. The fastest etch is the given rate and its standard deviation.
    """
    plan = planned(
        quantity=1,
        rate_um_per_min=Measured(value=2.0, sd=0.25),
        etch_factor=Measured(value=1e9),
        rise_k=1e-6,
    )
    area_cm2, fastest_cm_per_min = 12.0, 2.25e-4
    mol_per_min = 1.5 * 2.70 * area_cm2 * fastest_cm_per_min / 26.982
    assert plan.flow.peak_ml_per_min == pytest.approx(24_465 * mol_per_min, rel=2e-3)
    # Air for a quarter of hydrogen's 4 % (IEC 60079-20-1): 99 parts to one of gas, at least three
    # times that for imperfect mixing (our own rule).
    peak_air = 99 * 24.465 * mol_per_min
    assert plan.flow.air_peak_l_per_min == pytest.approx(peak_air, rel=2e-3)
    assert plan.flow.ventilation_l_per_min >= 3 * plan.flow.air_peak_l_per_min * (1 - 1e-9)
    assert plan.flow.safety_factor == pytest.approx(
        plan.flow.ventilation_l_per_min / plan.flow.air_l_per_min
    )


def test_the_flow_is_that_of_the_pieces_in_the_tray_together():
    all_in = planned(quantity=4)
    two = planned(quantity=4, use=BathUse(plates_at_once=2))
    assert two.gas_l == all_in.gas_l
    assert two.flow.mean_ml_per_min == pytest.approx(all_in.flow.mean_ml_per_min / 2)


def test_the_sludge_is_the_hydroxide_of_metal_and_iron():
    # Al(OH)3 78.003 / 26.9815; Fe(OH)3 106.867 / 162.204 (IUPAC masses by the chemicals library).
    from chemicals.elements import molecular_weight, nested_formula_parser

    def mass(formula):
        return molecular_weight(nested_formula_parser(formula))

    gibbsite = load_sludge("aluminium", "sodium-hydroxide")
    assert gibbsite.per_g_metal.value == pytest.approx(mass("Al(OH)3") / mass("Al"), rel=5e-4)
    copper = load_sludge("copper", "ferric-chloride")
    assert copper.per_g_metal.value == pytest.approx(mass("Cu(OH)2") / mass("Cu"), rel=5e-4)
    assert copper.per_g_reagent.value == pytest.approx(mass("Fe(OH)3") / mass("FeCl3"), rel=1e-3)
    sulfate = load_sludge("aluminium", "copper-sulfate-chloride")
    wanted = mass("Cu(OH)2") / (mass("CuSO4") + 5 * mass("H2O"))
    assert sulfate.per_g_reagent.value == pytest.approx(wanted, rel=2e-3)
    assert isinstance(copper, Sludge)
    assert sludge_g(copper, metal_g=10.0, reagent_g=100.0) == pytest.approx(15.35 + 65.9, rel=1e-3)
    assert sludge_g(None, metal_g=1.0, reagent_g=1.0) is None


def test_a_plan_states_the_sludge_of_the_metal_and_the_reagent_in_its_bath():
    copper = load_sludge("copper", "ferric-chloride")
    plan = planned("copper", sludge=copper)
    wanted = 1.535 * plan.metal_g_per_l * plan.bath_fill_l + 0.659 * plan.reagent_fill_g
    assert plan.sludge_g == pytest.approx(wanted, rel=1e-3)


def test_how_a_bath_ages_is_read_for_the_way_it_is_moved_else_for_the_tray():
    pair = load_pair("aluminium", "sodium-hydroxide")
    order = pair.rates[0].strength_order
    known = {"tray": replace(order, value=0.5), "spray": replace(order, value=1.5)}
    rates = tuple(
        replace(pair.rates[0], agitation=(way,), strength_order=one) for way, one in known.items()
    )
    for some in (rates, rates[::-1]):
        moved = replace(pair, rates=some)
        assert strength_order(moved, "spray").value == 1.5
        assert strength_order(moved, "tray").value == 0.5
        assert strength_order(moved, "bubbled").value == 0.5
    assert strength_order(replace(pair, rates=()), "tray") is None


def test_what_is_neutralised_elsewhere_has_no_sludge_of_ours():
    plan = planned("brass", sludge=load_sludge("copper", "ferric-chloride"))
    assert plan.sludge_g is None
    assert plan.neutralising == ()


@pytest.mark.parametrize(
    ("depth", "thickness", "filled", "wanted"),
    [
        (0.06, 1.5, False, set()),
        (0.9, 1.5, False, {"thin-floor"}),
        (0.06, 1.5, True, {"shallow-fill"}),
        (0.2, 1.5, True, set()),
        (1.5, 1.5, False, set()),
    ],
)
def test_a_thin_floor_and_a_shallow_fill_are_told(depth, thickness, filled, wanted):
    # 0.18 to 0.51 mm (.007 to .020 in): published depths of a maker of filled plates.
    found = floor_findings(depth_mm=depth, thickness_mm=thickness, is_filled=filled)
    assert {finding.code for finding in found} == wanted


def test_a_spent_bath_has_no_time_rather_than_a_wrong_one():
    plan = planned(use=BathUse(dissolved_g_per_l=70.0, volume_l=0.3))
    assert plan.time_ageing_s is None
    assert all(batch.time_s is None for batch in plan.batches)
    assert codes(plan)["bath-spent"].level == "stop"


def test_the_ceiling_of_the_lye_is_what_the_ageing_reckons_with():
    # 100 g/L x 26.9815 / 39.997 = 67.5 g/L.
    assert ceiling_g_per_l(load_pair("aluminium", "sodium-hydroxide"), 100.0) == pytest.approx(
        67.5, rel=1e-3
    )


def test_a_bath_that_its_etch_would_warm_past_its_decomposition_is_a_stop():
    # Notes on sodium persulfate for circuit boards (2022): 40 to 45 degC and no more.
    hot = sodium_persulfate(rise_k=10.0)
    (found,) = [f for f in hot.findings if f.code == "bath-decomposes"]
    assert found.level == "stop"
    assert "at most 5 K" in found.remedy
    # What the remedy says is enough.
    assert "bath-decomposes" not in codes(sodium_persulfate(rise_k=5.0))


def test_a_bath_so_large_that_it_warms_little_does_not_decompose_whatever_rise_it_may_take():
    allowed = sodium_persulfate(rise_k=10.0, use=BathUse(volume_l=5.0))
    assert allowed.pour.rise_k < 5.0 < allowed.rise_k
    assert "bath-decomposes" not in codes(allowed)


def sodium_persulfate(**changes):
    pair = load_pair("copper", "sodium-persulfate")
    arguments = {
        "strength": bath_strength(pair.etchant, 250.0, "g/L"),
        "temperature_degc": 40.0,
        "depth_mm": 0.1,
        "etch_factor": None,
        "rate_um_per_min": None,
        "opening_area_mm2": 2400.0,
        "opening_edge_mm": 0.0,
        "opening_parts": 1,
        "opening_holes": 0,
        "quantity": 1,
        "blank_size_mm": None,
        "agitation": "rocked",
    }
    return plan_etch(EtchAsked(pair=pair, **(arguments | changes)))


def test_a_decomposing_bath_poured_as_the_remedy_says_warms_by_just_what_it_allows():
    # 45 less 40.5 degC leaves 4.5 K, told as 4: the heat is the same, so V' = V x 10 / 4.
    hot = sodium_persulfate(temperature_degc=40.5, rise_k=10.0)
    remedy = codes(hot)["bath-decomposes"].remedy
    allowed, litres = map(
        float, re.search(r"at most ([\d.]+) K: a bath of ([\d.]+) L", remedy).groups()
    )
    assert allowed == 4.0
    assert litres == pytest.approx(hot.bath_fill_l * 10.0 / 4.0, abs=1e-3)
    followed = sodium_persulfate(
        temperature_degc=40.5, rise_k=4.0, use=BathUse(volume_l=litres), blank_size_mm=(60.0, 50.0)
    )
    assert followed.pour.rise_k == pytest.approx(4.0, rel=2e-3)
    assert not {"bath-decomposes", "bath-small"} & set(codes(followed))
    # With less than a kelvin of room there is no such bath, and none is named.
    assert " L" not in codes(sodium_persulfate(temperature_degc=44.5))["bath-decomposes"].remedy


@pytest.mark.parametrize(("litres", "at_once"), [(0.05, 1), (0.07, 1), (0.1, 2), (0.123, 3)])
def test_a_small_bath_poured_as_the_remedy_says_is_large_enough(litres, at_once):
    small = planned(use=BathUse(volume_l=litres, plates_at_once=at_once))
    told = codes(small)["bath-small"]
    # The same heat in the larger bath: 10 K.
    needed = litres * small.pour.rise_k / 10.0
    (poured,) = re.findall(r"at least ([\d.]+) L", told.remedy)
    assert needed <= float(poured) <= needed + 1e-3
    assert f"warm by {small.pour.rise_k:.3g} K" in told.message
    # One piece, 2.353 / 4 g of aluminium: the heat of those that lie in it together.
    assert small.pour.rise_k * litres == pytest.approx(
        at_once * planned(use=BathUse(volume_l=1.0, plates_at_once=1)).pour.rise_k
    )
    enough = planned(use=BathUse(volume_l=float(poured), plates_at_once=at_once))
    assert "bath-small" not in codes(enough)


@pytest.mark.parametrize(("g_per_l", "is_told"), [(110.0, False), (118.0, True)])
def test_what_lye_warms_to_is_told_above_50_degc_with_its_grams_and_portions(g_per_l, is_told):
    # Nearly in proportion to the strength: 26.5 K at 100 g/L, 38.9 K at 150 (Laliberte, CRC), so
    # 29 K at 110 and 31 K at 118.
    plan = planned(quantity=1, strength=bath_strength(ALUMINIUM.etchant, g_per_l, "g/L"))
    found = codes(plan).get("mixing-hot")
    assert (found is not None) == is_told
    if found:
        # 0.21 L of bath at 118 g/L; 31 K by portions of 10 K are four.
        assert "24.78 g of sodium hydroxide bring 0.21 L" in found.message
        assert "from 20 to 51 degC" in found.message
        assert "in 4 portions or more" in found.remedy
    used = replace_use(g_per_l, dissolved_g_per_l=1.0)
    assert "mixing-hot" not in codes(used), "nothing is mixed anew"


def replace_use(g_per_l, **fields):
    return planned(
        quantity=1,
        strength=bath_strength(ALUMINIUM.etchant, g_per_l, "g/L"),
        use=BathUse(**fields),
    )


@pytest.mark.parametrize(("litres", "told"), [(0.2, "0.2"), (12.341, "12.341"), (0.21009, "0.211")])
def test_what_is_poured_to_cover_is_never_rounded_down(litres, told):
    # A tray whose floor times 15 mm is that many litres.
    tray = BathUse(tray_mm=(200.0, litres * 1e6 / 15.0 / 200.0))
    found = codes(planned(quantity=1, use=tray, blank_size_mm=(100.0, 30.0)))["bath-cover"]
    assert found.remedy.startswith(f"Pour {told} L")


def test_what_covers_is_told_only_where_it_decides_and_with_its_litres_and_grams():
    # 140 x 100 x 15 mm are 0.21 L, 21 g of lye at 100 g/L.
    told = codes(planned(quantity=1))["bath-cover"]
    assert "it takes 0.21 L to cover" in told.message
    assert told.remedy.startswith("Pour 0.21 L that hold 21 g of sodium hydroxide")
    much = planned(quantity=1, opening_area_mm2=6000.0, depth_mm=0.2)
    assert much.pour.decided_by == "heat"
    assert "bath-cover" not in codes(much)


def test_the_longest_time_is_that_of_the_last_batch_that_the_bath_can_etch():
    # The lye could dissolve 67.5 g/L: with 55 in it, the last of eight pieces finds none left.
    plan = planned(quantity=8, use=BathUse(volume_l=0.1, plates_at_once=1, dissolved_g_per_l=55.0))
    times = [batch.time_s for batch in plan.batches]
    assert times[-1] is None
    known = [time for time in times if time is not None]
    assert plan.longest_s == pytest.approx(plan.time_high_s * max(known) / plan.time_s)
    assert plan.longest_s > plan.time_high_s


def test_the_gas_is_told_wet_and_with_all_of_its_air():
    # At 40 degC the gas leaves the bath 1.133 times as large (Wagner and Pruss 2002).
    plan = planned(quantity=1)
    found = codes(plan)["gas"]
    numbers = [float(one) for one in re.findall(r"([\d.]+) (?:L|mL/min)", found.message)]
    flow = plan.flow
    dry = (plan.gas_l, flow.mean_ml_per_min, flow.peak_ml_per_min)
    assert numbers == pytest.approx([1.133 * one for one in dry], rel=5e-3)
    (air,) = re.findall(r"at least ([\d.]+) L/min", found.remedy)
    # 99 parts of air to one of hydrogen, ten times the mean or three times the peak.
    wanted = 99e-3 * max(10 * flow.mean_ml_per_min, 3 * flow.peak_ml_per_min)
    # Followed to the letter it is enough.
    assert wanted <= float(air) <= 1.01 * wanted


@pytest.mark.parametrize(
    ("peak", "air", "times"), [(1.0, 990.0, 10.0), (3.0, 990.0, 10.0), (5.0, 1485.0, 15.0)]
)
def test_the_air_is_ten_times_the_mean_and_never_less_than_three_times_the_peak(peak, air, times):
    """A litre of hydrogen a minute and 99 of air are a quarter of 4 % (IEC 60079-20-1)."""
    flow = gas_flow(ALUMINIUM, gas_l=2.0, time_s=120.0, peak_ratio=peak)
    assert flow.air_l_per_min == pytest.approx(99.0)
    assert flow.air_peak_l_per_min == pytest.approx(99.0 * peak)
    assert flow.ventilation_l_per_min == pytest.approx(air)
    assert flow.safety_factor == pytest.approx(times)


@pytest.mark.parametrize(("past_g_per_l", "is_spent"), [(-1e-6, False), (1e-3, True)])
def test_a_bath_is_finished_at_its_limit_and_not_before(past_g_per_l, is_spent):
    # Aluminium baths are finished at 25 g/L (as in the table).
    metal_g = planned().pour.metal_g
    use = BathUse(volume_l=1.0, dissolved_g_per_l=25.0 + past_g_per_l - metal_g)
    found = codes(planned(use=use)).get("bath-spent")
    assert (found is not None) == is_spent
    if found:
        assert "it is finished at 25 g/L" in found.message
