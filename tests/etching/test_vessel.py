"""Tray and tank, the gas that leaves the bath, and its peak as the bath warms."""

import math

import pytest

from stopout.etching import EtchAsked, bath_strength, plan_etch
from stopout.etching.bath.amounts import water_vapour_kpa, wet_gas_ratio
from stopout.etching.bath.electrolytic import Current
from stopout.etching.bath.gas import warming_ratio
from stopout.etching.bath.use import USUAL_TRAYS_MM, BathUse, fit_tray, tray_for
from stopout.tables import list_table, load_cell, load_pair
from stopout.values import Level, Measured


@pytest.mark.parametrize(
    ("degc", "kpa"),
    [
        (0.01, 0.61165),
        (20.0, 2.3393),
        (25.0, 3.1699),
        (40.0, 7.3849),
        (60.0, 19.946),
        (80.0, 47.414),
    ],
)
def test_the_vapour_pressure_of_water_is_that_of_the_steam_tables(degc, kpa):
    # Saturation pressure of water, IAPWS-95 (W. Wagner and A. Pruss, J. Phys. Chem. Ref. Data 31
    # (2002) 387), digits from memory.
    assert water_vapour_kpa(degc) == pytest.approx(kpa, rel=2e-3)


def test_wet_gas_at_40_degc_takes_1_13_times_the_room_of_dry_gas_at_25():
    # By hand: 313.15 / 298.15 x 101.325 / (101.325 - 7.385) = 1.0503 x 1.0786.
    assert wet_gas_ratio(40.0) == pytest.approx(1.0503 * 1.0786, rel=1e-3)
    assert wet_gas_ratio(40.0) == pytest.approx(1.13, abs=0.005)


@pytest.mark.parametrize("name", [name for name, _ in list_table("pairs")])
@pytest.mark.parametrize("agitation", ["tray", "bubbled", "spray"])
def test_every_pair_is_reckoned_to_grow_faster_as_it_warms(name, agitation):
    pair = load_pair(*name.split("/"))
    ratio = warming_ratio(pair, temperature_degc=25.0, rise_k=10.0, agitation=agitation)
    assert 1.1 < ratio < 2.5
    known = [r for r in pair.rates if r.activation_kj_per_mol is not None]
    if not known:
        # van 't Hoff's rule of thumb, common practice, no source: twofold for 10 K.
        assert ratio == pytest.approx(2.0)


def cell_plan(**changes):
    pair, cell = load_cell("mild-steel", "sodium-chloride")
    arguments = {
        "strength": bath_strength(pair.etchant, 150.0, "g/L"),
        "temperature_degc": 22.0,
        "depth_mm": 0.06,
        "etch_factor": None,
        "rate_um_per_min": None,
        "rise_k": None,
        "opening_area_mm2": 1200.0,
        "opening_edge_mm": 800.0,
        "opening_parts": 12,
        "opening_holes": 5,
        "quantity": 1,
        "blank_size_mm": (100.0, 60.0),
        "cell": cell,
    }
    return plan_etch(EtchAsked(pair=pair, **(arguments | changes)))


def test_a_piece_under_a_current_hangs_in_a_tank_as_deep_as_it_is_tall():
    pour = cell_plan().pour
    # 100 mm level with 20 mm at both ends; 20 mm behind it, 60 mm to the cathode, 20 mm behind
    # that; 60 mm upright, 20 mm below for sludge, 15 mm of bath above.
    assert pour.hangs
    assert pour.tray_mm == (140.0, 100.0)
    assert pour.cover_mm == 60.0 + 20.0 + 15.0
    assert pour.cover_l == pytest.approx(140 * 100 * 95 * 1e-6)


@pytest.mark.parametrize(
    ("said", "given"),
    [
        ({}, {}),
        ({"current_a": 4.8}, {"current": "4.8 A"}),
        ({"density_a_per_cm2": 0.1}, {"current density": "0.1 A/cm2"}),
        ({"efficiency": Measured(value=0.85)}, {"current efficiency": "0.85"}),
    ],
)
def test_what_the_job_says_of_the_current_is_stated_as_given_and_the_rest_with_its_source(
    said, given
):
    plan = cell_plan(current=Current(**said))
    stated = {one.name: one for one in plan.values}
    told = {"current", "current density", "current efficiency"} & set(stated)
    assert ("current" in told) == ("current_a" in said) != ("current density" in told)
    for name in told:
        one = stated[name]
        if name in given:
            assert (one.value, one.kind, one.source) == (given[name], "given", "job file")
        else:
            assert one.kind != "given"
            assert one.source
            assert one.grade
    assert stated["charge, pieces in the bath together"].kind == "computed"
    # Faraday: the rate is in proportion to the efficiency, its range too.
    electro = plan.electro
    for rate, efficiency in (
        (plan.rate_low_um_per_min, electro.efficiency_low),
        (plan.rate_high_um_per_min, electro.efficiency_high),
    ):
        assert rate / plan.rate_um_per_min == pytest.approx(efficiency / electro.efficiency.value)
    assert ("starting-guess" in {f.code for f in plan.findings}) == ("efficiency" not in said)


def test_several_pieces_hang_side_by_side():
    pour = cell_plan(quantity=3, use=BathUse(plates_at_once=3)).pour
    assert pour.tray_mm == (3 * 100.0 + 4 * 20.0, 100.0)


def test_a_tank_without_room_for_the_cathode_is_a_stop():
    plan = cell_plan(use=BathUse(tray_mm=(140.0, 90.0)))
    stop = next(f for f in plan.findings if f.code == "tray-small")
    assert stop.level is Level.STOP
    assert "hang" in stop.message
    turned = cell_plan(use=BathUse(tray_mm=(100.0, 140.0)))
    assert "tray-small" not in {f.code for f in turned.findings}


@pytest.mark.parametrize(("litres", "code"), [(1.0, "bath-bare"), (1.25, "bath-shallow")])
def test_a_hanging_piece_that_sticks_out_of_its_bath_is_a_stop(litres, code):
    # 1.0 L stands 71 mm deep: 60 + 20 mm are the top edge. 1.25 L stands 89 mm, short of 95.
    plan = cell_plan(use=BathUse(volume_l=litres, tray_mm=(140.0, 100.0)))
    assert code in {f.code for f in plan.findings}
    assert not math.isclose(plan.bath_fill_l, plan.pour.cover_l)


def test_a_bubbled_bath_hangs_its_pieces_and_a_tray_lays_them_down():
    hung = fit_tray((100.0, 60.0), BathUse(), 1, across_mm=40.0)
    laid = fit_tray((100.0, 60.0), BathUse(), 1)
    assert (hung.hangs, laid.hangs) == (True, False)
    assert (hung.tray_mm, hung.cover_mm) == ((140.0, 40.0), 95.0)
    assert (laid.tray_mm, laid.cover_mm) == ((140.0, 100.0), 15.0)


@pytest.mark.parametrize(
    ("piece_mm", "pieces", "tray_mm", "at_once"),
    [
        # 60 x 25 mm tags need 80 x 45 mm each: (400 - 20) // 80 = 4 by (300 - 20) // 45 = 6, and
        # in 300 x 240 mm no more than (240 - 20) // 80 = 2 by (300 - 20) // 45 = 6.
        ((60.0, 25.0), 20, (400.0, 300.0), 20),
        # (180 - 20) // 32 = 5 by (130 - 20) // 30 = 3.
        ((12.0, 10.0), 4, USUAL_TRAYS_MM[0], 4),
        ((100.0, 60.0), 2, (240.0, 180.0), 2),
        # Twelve of (500 - 20) // 120 = 4 by (400 - 20) // 120 = 3 are the most that any takes.
        ((100.0, 100.0), 30, (500.0, 400.0), 12),
    ],
)
def test_pieces_lie_in_the_smallest_usual_tray_for_all_of_them(piece_mm, pieces, tray_mm, at_once):
    fit = fit_tray(piece_mm, BathUse(), pieces)
    assert (fit.tray_mm, fit.at_once, fit.is_proposed) == (tray_mm, at_once, True)
    # A shop's own tray, one piece, or a piece larger than all trays is left as it is.
    own = fit_tray(piece_mm, BathUse(tray_mm=(700.0, 700.0)), pieces)
    assert (own.tray_mm, own.is_proposed) == ((700.0, 700.0), False)
    assert not fit_tray(piece_mm, BathUse(), 1).is_proposed
    assert fit_tray((470.0, 390.0), BathUse(), pieces).tray_mm == (510.0, 430.0)
    # A quart of bath covers no tray of 400 x 300 mm by 15 mm.
    little = fit_tray(piece_mm, BathUse(volume_l=0.9), pieces)
    assert little.tray_mm[0] * little.tray_mm[1] * 15e-6 <= 0.9
    just = fit_tray(piece_mm, BathUse(volume_l=tray_mm[0] * tray_mm[1] * 15e-6), pieces)
    assert just.tray_mm == tray_mm


@pytest.mark.parametrize(
    ("use", "across_mm", "tray_mm", "fits", "most"),
    [
        # Two of 60 x 100 mm side by side: 2 x 60 + 3 x 20 by 100 + 2 x 20.
        (BathUse(plates_at_once=2), 0.0, (180.0, 140.0), 2, 2),
        (BathUse(plates_at_once=3), 0.0, (260.0, 140.0), 3, 3),
        # (260 - 20) // 80 = 3 by (270 - 20) // 120 = 2; touching 260 // 60 = 4 by 270 // 100 = 2.
        (BathUse(tray_mm=(260.0, 270.0)), 0.0, (260.0, 270.0), 6, 8),
        # Hung with 100 mm level: (260 - 20) // 120 = 2; touching 260 // 100 = 2, 300 // 100 = 3.
        (BathUse(tray_mm=(260.0, 50.0)), 40.0, (260.0, 50.0), 2, 2),
        (BathUse(tray_mm=(300.0, 40.0)), 40.0, (300.0, 40.0), 2, 3),
        # Hung across the better way round, and nowhere where neither side leaves room across.
        (BathUse(tray_mm=(150.0, 500.0)), 40.0, (150.0, 500.0), 4, 5),
        (BathUse(tray_mm=(500.0, 39.0)), 40.0, (500.0, 39.0), 0, 0),
    ],
)
def test_a_tall_piece_lies_as_a_wide_one_turned(use, across_mm, tray_mm, fits, most):
    tall = fit_tray((60.0, 100.0), use, 9, across_mm=across_mm)
    wide = fit_tray((100.0, 60.0), use, 9, across_mm=across_mm)
    assert (tall.fits, tall.most) == (wide.fits, wide.most) == (fits, most)
    assert tall.tray_mm == tray_mm
    assert sorted(wide.tray_mm) == sorted(tray_mm)
    assert tall.at_once == max(use.plates_at_once or fits, 1)
    assert (tall.cover_mm - tall.bare_mm, tall.bare_mm) == (
        (15.0, 80.0) if across_mm else (7.0, 8.0)
    )


# Sizes of photographic paper that trays are made for [cm]: common practice, no source.
@pytest.mark.parametrize("paper_cm", [(13, 18), (18, 24), (24, 30), (30, 40), (40, 50)])
def test_a_tray_of_the_trade_takes_a_piece_40_mm_smaller_than_its_paper(paper_cm):
    narrow, long = (10.0 * side for side in paper_cm)
    assert tray_for((narrow - 40, long - 40), 1, None) == ((long, narrow), 1)
    assert tray_for((long - 40, narrow - 40), 1, None) == ((long, narrow), 1)
    larger = tray_for((narrow - 39, long - 40), 1, None)
    assert larger is None or larger[0][0] > long
    # 15 mm of bath over its floor, and not a drop less.
    cover_l = narrow * long * 15e-6
    assert tray_for((narrow - 40, long - 40), 1, cover_l * 1.001) is not None
    assert tray_for((narrow - 40, long - 40), 1, cover_l * 0.999) is None


@pytest.mark.parametrize("pieces", [1, 2, 5])
def test_where_the_size_of_a_piece_is_not_known_nothing_is_said_of_how_it_lies(pieces):
    fit = fit_tray(None, BathUse(plates_at_once=2), pieces)
    assert (fit.tray_mm, fit.at_once) == ((0.0, 0.0), min(2, pieces))
    assert fit_tray(None, BathUse(tray_mm=(200.0, 150.0)), pieces).at_once == 1


def test_twenty_tags_in_one_tray_are_one_batch():
    pair = load_pair("aluminium", "sodium-hydroxide")
    plan = plan_etch(
        EtchAsked(
            pair=pair,
            strength=bath_strength(pair.etchant, 100.0, "g/L"),
            temperature_degc=40.0,
            depth_mm=0.06,
            etch_factor=None,
            rate_um_per_min=None,
            rise_k=None,
            opening_area_mm2=300.0,
            opening_edge_mm=200.0,
            opening_parts=4,
            opening_holes=0,
            quantity=20,
            blank_size_mm=(60.0, 25.0),
        )
    )
    assert [batch.pieces for batch in plan.batches] == [20]
    assert [f.code for f in plan.findings].count("tray-proposed") == 1
    # 400 x 300 mm under 15 mm of bath.
    assert plan.pour.cover_l == pytest.approx(1.8)
    # By its definition in plan.json, of one piece with 20 mm all round.
    assert plan.bath_cover_l == pytest.approx(100 * 65 * 15e-6)
