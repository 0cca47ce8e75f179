"""Volumes, baths and undercut against closed forms, and the laws of proportion."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from effort import tries
from stopout.errors import PlanError
from stopout.etching import (
    EtchAsked,
    bath_strength,
    plan_etch,
    resist_values,
    table_etch_factor,
    undercut_mm,
)
from stopout.etching.bath.amounts import (
    bath_cover_l,
    capacity_g_per_l,
    ceiling_g_per_l,
    etch_volume_mm3,
)
from stopout.etching.bath.strength import mixing_rise_k
from stopout.tables import load_pair, load_resist
from stopout.values import Measured

ALUMINIUM = load_pair("aluminium", "sodium-hydroxide")
COPPER = load_pair("copper", "ferric-chloride")
BRASS = load_pair("brass", "ferric-chloride")
PAIRS = {
    "aluminium": (ALUMINIUM, (100.0, "g/L"), 40.0),
    "copper": (COPPER, (40.0, "degBe"), 40.0),
    "brass": (BRASS, (40.0, "degBe"), 40.0),
}


def planned(metal="aluminium", **changes):
    pair, strength, temperature_degc = PAIRS[metal]
    arguments = {
        "strength": bath_strength(pair.etchant, *strength),
        "temperature_degc": temperature_degc,
        "depth_mm": 0.06,
        "etch_factor": None,
        "rate_um_per_min": None,
        "rise_k": 10.0,
        "opening_area_mm2": 1200.0,
        "opening_edge_mm": 800.0,
        "opening_parts": 12,
        "opening_holes": 5,
        "quantity": 4,
        "blank_size_mm": (100.0, 60.0),
    }
    return plan_etch(EtchAsked(pair=pair, **(arguments | changes)))


def test_a_disc_etches_to_the_volume_of_its_turned_quarter_ellipse():
    # Closed form: integral over the depth of pi (R + u sqrt(1 - z^2))^2.
    radius, u, d = 3.0, 0.2, 0.15
    by_hand = math.pi * d * (radius**2 + 2 * radius * u * math.pi / 4 + u**2 * 2 / 3)
    volume = etch_volume_mm3(
        opening_area_mm2=math.pi * radius**2,
        opening_edge_mm=2 * math.pi * radius,
        parts=1,
        holes=0,
        depth_mm=d,
        undercut_mm=u,
    )
    assert volume == pytest.approx(by_hand, rel=1e-12)


def test_a_ring_has_no_corner_term():
    # Two circles of radii 5 and 3: the outer grows, the inner shrinks, and pi u^2 cancels.
    u, d = 0.2, 0.15
    area, edge = math.pi * (25 - 9), 2 * math.pi * 8
    outer = math.pi * d * (25 + 10 * u * math.pi / 4 + u**2 * 2 / 3)
    inner = math.pi * d * (9 - 6 * u * math.pi / 4 + u**2 * 2 / 3)
    volume = etch_volume_mm3(
        opening_area_mm2=area, opening_edge_mm=edge, parts=1, holes=1, depth_mm=d, undercut_mm=u
    )
    assert volume == pytest.approx(outer - inner, rel=1e-12)


def test_the_volume_agrees_with_offset_polygons_summed_over_the_depth():
    # Against GEOS: an L-shaped opening with a square hole, widened layer by layer.
    from shapely.geometry import Polygon

    shape = Polygon(
        [(0, 0), (10, 0), (10, 4), (4, 4), (4, 9), (0, 9)], [[(1, 1), (3, 1), (3, 3), (1, 3)]]
    )
    u, d, layers = 0.3, 0.2, 400
    depths = [(n + 0.5) / layers for n in range(layers)]
    summed = sum(
        shape.buffer(u * math.sqrt(1 - z * z), quad_segs=32).area * d / layers for z in depths
    )
    volume = etch_volume_mm3(
        opening_area_mm2=shape.area,
        opening_edge_mm=shape.length,
        parts=1,
        holes=1,
        depth_mm=d,
        undercut_mm=u,
    )
    # Steiner's formula takes every corner as convex; the inward corners differ by (1 - pi/4) u^2.
    assert volume == pytest.approx(summed, rel=2e-3)


def test_the_cover_bath_is_a_box_forty_wider_and_fifteen_deep():
    assert bath_cover_l((100.0, 60.0)) == pytest.approx(0.210)  # 140 x 100 x 15 mm


def test_an_etch_factor_of_zero_is_refused_with_a_sentence():
    with pytest.raises(PlanError, match="depth / undercut per edge"):
        undercut_mm(0.1, 0.0)


def test_the_table_factor_less_two_deviations_is_the_low_end():
    for pair in (ALUMINIUM, COPPER, BRASS):
        factor = table_etch_factor(pair)
        assert factor.value - 2 * factor.sd == pytest.approx(pair.etch_factor.low)


def test_the_spread_of_the_undercut_is_depth_times_sd_over_the_factor_squared():
    plan = planned(depth_mm=0.12, etch_factor=Measured(value=1.5, sd=0.2))
    assert plan.undercut_mm == pytest.approx(0.08)
    assert plan.undercut_spread_mm == pytest.approx(0.12 * 0.2 / 1.5**2)


def test_a_weak_bath_is_never_planned_past_four_fifths_of_its_reagent():
    weak = capacity_g_per_l(COPPER, 100.0)
    assert weak == pytest.approx(0.8 * ceiling_g_per_l(COPPER, 100.0))
    assert capacity_g_per_l(COPPER, 510.0) == COPPER.capacity_g_per_l.value


@pytest.mark.parametrize("pair", [COPPER, BRASS])
def test_thirty_degrees_baume_is_no_weak_bath(pair):
    # 30 to 42 degBe is what copper and brass are usually etched in: common practice, no source.
    strength = bath_strength(pair.etchant, 30.0, "degBe").g_per_l
    assert capacity_g_per_l(pair, strength) == pair.capacity_g_per_l.value


def test_every_value_of_the_etch_is_stated_with_what_its_source_leaves_open():
    stated = {value.name: value for value in planned("aluminium", rise_k=None).values}
    # The value is published, its range is from memory: the source must say so.
    assert "range from memory" in stated["etch factor"].source
    assert stated["lower flammable limit of hydrogen"].value.startswith("0.04")
    assert "default" in stated["rise that the bath may take"].source
    # 36.461 / 39.997 (IUPAC standard atomic weights).
    assert stated["neutralised by hydrochloric acid"].value.startswith("0.912")
    assert not any(value.name.startswith("neutralised") for value in planned("brass").values)


def test_another_rise_than_the_default_is_a_given_one():
    stated = {value.name: value for value in planned("aluminium", rise_k=5.0).values}
    assert (
        stated["rise that the bath may take"].kind,
        stated["rise that the bath may take"].value,
    ) == ("given", "5 K")


def test_a_resist_is_stated_with_film_cure_and_what_it_stands():
    resist, lye = load_resist("epoxy-two-part"), ALUMINIUM.etchant
    names = [value.name for value in resist_values(resist, etchant=lye, of=" of coat 1")]
    assert names == [
        "thickness of coat 1",
        "cure of coat 1",
        "warmest for two-part epoxy paint in sodium hydroxide",
        "longest for two-part epoxy paint in sodium hydroxide",
    ]
    film, cure = resist_values(resist, thickness_um=30.0)
    assert (film.kind, film.value) == ("given", "30 um")
    assert cure.name == "cure"


sizes = st.floats(10.0, 5000.0)


@settings(max_examples=tries(40), deadline=None)
@given(area=sizes, edge=sizes, times=st.integers(2, 50), metal=st.sampled_from(list(PAIRS)))
def test_amounts_scale_with_the_quantity(area, edge, times, metal):
    one = planned(metal, opening_area_mm2=area, opening_edge_mm=edge, quantity=1)
    many = planned(metal, opening_area_mm2=area, opening_edge_mm=edge, quantity=times)
    for name in AMOUNTS:
        assert getattr(many, name) == pytest.approx(times * getattr(one, name), rel=1e-9)
    assert many.time_s == one.time_s
    assert many.metal_per_piece_g == one.metal_per_piece_g


@settings(max_examples=tries(40), deadline=None)
@given(scale=st.floats(1.1, 10.0), metal=st.sampled_from(list(PAIRS)))
def test_amounts_scale_with_the_size_of_the_drawing(scale, metal):
    # Area by the square, edge and undercut by the first power, with the depth: volume by the cube.
    small = planned(metal)
    large = planned(
        metal,
        opening_area_mm2=1200.0 * scale**2,
        opening_edge_mm=800.0 * scale,
        depth_mm=0.06 * scale,
    )
    for name in AMOUNTS[1:]:
        assert getattr(large, name) == pytest.approx(scale**3 * getattr(small, name), rel=1e-9)


@settings(max_examples=tries(40), deadline=None)
@given(times=st.floats(1.1, 20.0))
def test_time_goes_with_depth_and_with_one_over_rate(times):
    plan = planned(rate_um_per_min=Measured(value=2.0))
    faster = planned(rate_um_per_min=Measured(value=2.0 * times))
    deeper = planned(rate_um_per_min=Measured(value=2.0), depth_mm=0.06 * times)
    assert faster.time_s == pytest.approx(plan.time_s / times)
    assert deeper.time_s == pytest.approx(plan.time_s * times)
    assert faster.metal_removed_g == plan.metal_removed_g


@settings(max_examples=tries(60), deadline=None)
@given(
    area=st.floats(0.0, 1e5),
    edge=st.floats(0.0, 1e5),
    rise=st.floats(0.5, 80.0),
    metal=st.sampled_from(list(PAIRS)),
)
def test_the_bath_is_never_under_any_of_its_floors(area, edge, rise, metal):
    plan = planned(metal, opening_area_mm2=area, opening_edge_mm=edge, rise_k=rise)
    pair = PAIRS[metal][0]
    room = 1 + 1e-12
    assert plan.bath_l * pair.heat_capacity_kj_per_l_k.value * rise * room >= plan.heat_kj
    assert plan.bath_l * pair.capacity_g_per_l.value * room >= plan.metal_removed_g
    assert plan.bath_fill_l >= max(plan.bath_l, plan.bath_cover_l)
    assert plan.reagent_charge_g == pytest.approx(plan.strength.g_per_l * plan.bath_l)
    assert plan.reagent_charge_g * room >= plan.reagent_g


AMOUNTS = (
    "etched_area_mm2",
    "metal_removed_g",
    "gas_l",
    "heat_kj",
    "bath_l",
    "reagent_g",
    "reagent_charge_g",
)


def test_a_thin_solution_warms_by_its_heat_over_the_first_heat_capacity_of_the_table():
    lye = ALUMINIUM.etchant
    first, heat = lye.cp_j_per_g_k[0].value, lye.solution_kj_per_g.value
    for grams in (1.0, 10.0, 50.0):
        assert grams / (grams + 1000.0) < lye.cp_at[0]
        wanted = 1000.0 * grams * heat / ((grams + 998.2) * first)
        assert mixing_rise_k(lye, grams, 1.0) == pytest.approx(wanted, rel=1e-3)
