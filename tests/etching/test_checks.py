"""Refusals, and resists that are too warm or too long in a bath."""

from dataclasses import replace

import pytest

from stopout.errors import PlanError
from stopout.etching import (
    Remedies,
    bath_strength,
    check_depth,
    check_finish,
    check_resist,
    hazard_ids,
    rate_um_per_min,
    refusals,
)
from stopout.etching.findings.checks import check_pair_use
from stopout.tables import (
    list_table,
    load_etchant,
    load_finish,
    load_pair,
    load_refusals,
    load_resist,
    load_resists,
)
from stopout.values import Level


def refused(material, etchant, strength, unit):
    g_per_l = bath_strength(load_etchant(etchant), strength, unit).g_per_l
    return refusals(
        load_refusals(), material_id=material, etchant_id=etchant, strength_g_per_l=g_per_l
    )


def test_strong_ferric_chloride_on_aluminium_is_a_stop_with_a_reason_and_a_remedy():
    stops = [
        f for f in refused("aluminium", "ferric-chloride", 40.0, "degBe") if f.level == Level.STOP
    ]
    assert len(stops) == 1
    assert "runs away" in stops[0].message
    assert "sodium hydroxide" in stops[0].remedy


def test_weak_ferric_chloride_on_aluminium_is_only_a_caution():
    found = refused("aluminium", "ferric-chloride", 15.0, "degBe")
    assert {f.level for f in found} == {Level.CAUTION}


def test_other_pairs_are_not_refused():
    assert refused("copper", "ferric-chloride", 40.0, "degBe") == ()
    assert refused("aluminium", "sodium-hydroxide", 100.0, "g/L") == ()


def test_a_cured_epoxy_stands_warm_caustic_for_an_hour():
    resist = load_resist("epoxy-two-part")
    assert check_resist(resist, "sodium-hydroxide", temperature_degc=50.0, time_s=3600.0) == ()
    found = check_resist(resist, "sodium-hydroxide", temperature_degc=60.0, time_s=7200.0)
    assert {f.code for f in found} == {"resist-temperature", "resist-time"}
    assert {f.level for f in found} == {Level.CAUTION}
    assert "50 % of the depth" in next(f for f in found if f.code == "resist-time").remedy


@pytest.mark.parametrize(
    ("minutes", "level"), [(61, Level.CAUTION), (180, Level.CAUTION), (181, Level.STOP)]
)
def test_past_three_times_a_time_known_at_least_a_resist_is_not_trusted(minutes, level):
    # Our own rule, no source: the hour of two-part epoxy in lye is a lower bound.
    (found,) = check_resist(
        load_resist("epoxy-two-part"),
        "sodium-hydroxide",
        temperature_degc=40.0,
        time_s=60.0 * minutes,
        time_high_s=60.0 * 600,
    )
    assert (found.code, found.level) == ("resist-time", level)
    assert ("our own rule" in found.message) == (level is Level.STOP)


def test_acrylic_lacquer_in_caustic_beyond_its_limit_is_a_stop():
    found = check_resist(
        load_resist("acrylic-lacquer"), "sodium-hydroxide", temperature_degc=40.0, time_s=1800.0
    )
    assert {f.level for f in found} == {Level.STOP}


def test_a_resist_that_the_table_does_not_know_in_a_bath_is_a_caution():
    found = check_resist(
        load_resist("acrylic-lacquer"), "nothing-known", temperature_degc=20.0, time_s=60.0
    )
    assert [f.code for f in found] == ["resist-unknown"]


def test_an_etch_through_the_blank_is_a_stop():
    assert check_depth(0.06, 1.5) == ()
    assert [f.level for f in check_depth(0.5, 0.5)] == [Level.STOP]


def test_a_hot_bath_and_a_deep_etch_are_cautions():
    pair = load_pair("aluminium", "sodium-hydroxide")
    most = {"temperature_degc": pair.hot_paint_degc.value, "depth_mm": pair.paint_depth_mm.value}
    assert check_pair_use(pair, **most) == ()
    found = check_pair_use(pair, temperature_degc=70.0, depth_mm=0.5)
    assert {f.code for f in found} == {"hot-bath", "deep-etch"}


def test_the_hazards_of_a_job_name_the_beam_the_bath_and_its_gas():
    pair, resists = load_pair("aluminium", "sodium-hydroxide"), (load_resist("epoxy-two-part"),)
    ids = hazard_ids(pair, resists, wavelength_nm=450.0)
    assert {"laser-450nm", "sodium-hydroxide", "hydrogen", "paint-thinner"} <= set(ids)
    lacquer = (load_resist("acrylic-lacquer"),)
    assert "sodium-hydroxide" not in hazard_ids(None, lacquer, wavelength_nm=450.0)


@pytest.mark.parametrize(
    ("wavelength_nm", "beam"),
    [
        (400.0, "laser-450nm"),
        (500.0, "laser-450nm"),
        (532.0, "laser-other"),
        (1064.0, "laser-other"),
        (10600.0, "laser-other"),
        (355.0, "laser-other"),
    ],
)
def test_the_numbers_of_a_blue_beam_are_for_a_blue_beam_only(wavelength_nm, beam):
    ids = hazard_ids(None, (), wavelength_nm=wavelength_nm)
    assert ids == (beam,)


def test_what_a_neutraliser_can_do_is_counted_where_one_is_offered():
    lye = hazard_ids(load_pair("aluminium", "sodium-hydroxide"), (), wavelength_nm=450.0)
    assert {"hydrochloric-acid", "citric-acid"} <= set(lye)
    copper = hazard_ids(load_pair("copper", "ferric-chloride"), (), wavelength_nm=450.0)
    assert {"sodium-carbonate", "carbon-dioxide", "slaked-lime"} <= set(copper)
    brass = hazard_ids(load_pair("brass", "ferric-chloride"), (), wavelength_nm=450.0)
    assert not {"sodium-carbonate", "carbon-dioxide", "slaked-lime"} & set(brass)


def test_a_resist_is_held_against_the_longest_time_that_the_rate_leaves_open():
    resist, lye = load_resist("epoxy-two-part"), load_etchant("sodium-hydroxide")
    (found,) = check_resist(resist, lye, temperature_degc=40.0, time_s=1800.0, time_high_s=5400.0)
    assert (found.code, found.level) == ("resist-time", Level.CAUTION)
    assert "takes 30 min and may take up to 90 min" in found.message
    quick = check_resist(resist, lye, temperature_degc=40.0, time_s=1800.0, time_high_s=3600.0)
    assert quick == ()


def test_the_long_end_of_the_time_is_never_more_than_a_caution():
    resist, lye = load_resist("acrylic-lacquer"), load_etchant("sodium-hydroxide")
    (found,) = check_resist(resist, lye, temperature_degc=25.0, time_s=600.0, time_high_s=9000.0)
    assert found.level == Level.CAUTION
    (found,) = check_resist(resist, lye, temperature_degc=25.0, time_s=1300.0)
    assert found.level == Level.CAUTION
    assert "20 to 25 min" in found.message
    (found,) = check_resist(resist, lye, temperature_degc=25.0, time_s=1600.0)
    assert found.level == Level.STOP


@pytest.mark.parametrize("bath", ["sodium-hydroxide", load_etchant("sodium-hydroxide")])
def test_messages_name_the_etchant_as_people_do(bath):
    found = check_resist(load_resist("acrylic-lacquer"), bath, temperature_degc=60.0, time_s=9000.0)
    assert len(found) == 2
    for finding in found:
        assert "in sodium hydroxide" in finding.message
        assert "sodium-hydroxide" not in finding.message
    assert "may get as warm as 60 degC" in found[0].message


def test_eighteen_degrees_baume_is_the_last_strength_that_is_not_refused():
    # D. M. Allen, PCMI Journal 131 (2018): 13.7 to 18 degBe without an additive, 20 degBe with
    # persulfate in it, which is not planned.
    assert Level.STOP not in {
        f.level for f in refused("aluminium", "ferric-chloride", 18.0, "degBe")
    }
    assert Level.STOP in {f.level for f in refused("aluminium", "ferric-chloride", 18.5, "degBe")}


@pytest.mark.parametrize("degrees", [8.0, 18.0])
def test_the_published_baths_for_aluminium_lie_within_the_range_of_the_rate(degrees):
    # The same paper: baths of 8 to 18 degBe without an additive.
    pair = load_pair("aluminium", "ferric-chloride")
    strength = bath_strength(pair.etchant, degrees, "degBe").g_per_l
    estimate = rate_um_per_min(pair, strength_g_per_l=strength, temperature_degc=40.0)
    assert estimate.findings == ()


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (0.0, "g/L", "above zero"),
        (float("nan"), "%", "above zero"),
        # CRC Handbook (from memory): sodium hydroxide of 50 % weighs 1.525 g/mL, ours 0.6 % less.
        (90.0, "%", r"at most 50 % by weight \(7[56]\d g/L\)"),
        (2000.0, "g/L", "at most 50 %"),
        (150.0, "degBe", "heavy Baume scale"),
    ],
)
def test_an_impossible_strength_is_refused_with_what_would_be_right(value, unit, words):
    with pytest.raises(PlanError, match=words):
        bath_strength(load_etchant("sodium-hydroxide"), value, unit)


def stops(material, etchant=None, resists=()):
    found = refusals(
        load_refusals(),
        material_id=material,
        etchant_id=etchant,
        strength_g_per_l=None,
        resist_ids=resists,
    )
    return {finding.code for finding in found if finding.level is Level.STOP}


@pytest.mark.parametrize(
    ("material", "etchant", "code"),
    [
        ("zinc", "ferric-chloride", "ferric-chloride-on-zinc"),
        ("zinc", "sodium-hydroxide", "caustic-on-zinc"),
        ("zinc", "nitric-acid", "nitric-acid"),
        ("stainless-304", "nitric-acid", "nitric-acid"),
        ("aluminium", "cupric-chloride", "acid-chloride-on-light-metal"),
        ("glass", "hydrofluoric-acid", "fluoride-bath"),
        ("stainless-304", "chromic-acid", "chromate-bath"),
        ("copper", "mercuric-chloride", "mercury-or-silver-catalyst"),
        ("copper", "hydrochloric-acid", "hydrochloric-acid-bath"),
    ],
)
def test_what_no_small_shop_should_do_is_a_stop_known_to_the_tables_or_not(material, etchant, code):
    assert stops(material, etchant) == {code}


def test_pvc_never_goes_under_the_beam_as_sheet_or_as_film():
    assert stops("pvc") == {"pvc-under-the-beam"}
    assert stops("copper", "ferric-chloride", ("vinyl-film",)) == {"vinyl-under-the-beam"}


def test_solvent_paint_on_polystyrene_is_a_caution():
    found = refusals(
        load_refusals(),
        material_id="polystyrene",
        etchant_id=None,
        strength_g_per_l=None,
        resist_ids=("acrylic-lacquer",),
    )
    assert [(f.code, f.level) for f in found] == [("solvent-paint-on-polystyrene", Level.CAUTION)]


def test_the_pairs_of_the_table_are_refused_only_where_one_rule_says_so():
    for ident, _ in list_table("pairs"):
        assert stops(*ident.split("/")) == set(), ident


def remedies(pair, *, degc, time_s, strength=100.0, rise_k=5.0, agitation="tray"):
    return Remedies(
        pair=pair,
        strength_g_per_l=strength,
        temperature_degc=degc,
        rise_k=rise_k,
        agitation=agitation,
        depth_mm=0.06,
        time_s=time_s,
        others=load_resists(),
    )


def test_an_etch_that_outlasts_its_resist_is_told_how_shallow_how_warm_and_which_other():
    pair = load_pair("aluminium", "sodium-hydroxide")
    at_20 = rate_um_per_min(pair, strength_g_per_l=100.0, temperature_degc=20.0).um_per_min
    time_s = 60.0 * 20.0 / at_20
    found = check_resist(
        load_resist("acrylic-lacquer"),
        pair.etchant,
        temperature_degc=25.0,
        time_s=time_s,
        remedies=Remedies(
            pair=pair,
            strength_g_per_l=100.0,
            temperature_degc=20.0,
            rise_k=5.0,
            agitation="tray",
            depth_mm=0.02,
            time_s=time_s,
            others=load_resists(),
        ),
    )
    (finding,) = (f for f in found if f.code == "resist-time")
    assert finding.level is Level.STOP
    depth_um = int(20 * 1500 / time_s)
    assert f"tch at most {depth_um / 1000:g} mm deep" in finding.remedy
    # A share beside the depth, each rounded down by itself, would not agree with it.
    assert "%" not in finding.remedy
    # Warmer by whole degrees until it is done in 25 min: by Arrhenius with 46 kJ/mol, 20 um.
    degc = next(
        t
        for t in range(20, 60)
        if 1200 / rate_um_per_min(pair, strength_g_per_l=100.0, temperature_degc=t).um_per_min
        <= 1500
    )
    assert degc <= 25
    assert f"warm the bath to {degc} degC" in finding.remedy
    assert "two-part epoxy paint" in finding.remedy


def test_no_remedy_goes_past_the_limits_of_resist_rate_or_paint():
    pair = load_pair("aluminium", "sodium-hydroxide")
    lacquer = load_resist("acrylic-lacquer").limits[0]
    long = remedies(pair, degc=20.0, time_s=36_000.0)
    assert long.warmer(lacquer, 1500.0) == []
    persulfate = load_pair("copper", "sodium-persulfate")
    warm = remedies(persulfate, degc=40.0, time_s=7200.0, strength=250.0)
    limit = next(
        x for x in load_resist("acrylic-lacquer").limits if x.etchant == "sodium-persulfate"
    )
    assert warm.warmer(limit, 2700.0) == []


def test_where_no_rate_is_known_no_warmth_is_a_remedy():
    lacquer = load_resist("acrylic-lacquer").limits[0]
    pair = load_pair("aluminium", "sodium-hydroxide")
    # The last whole degree below those for which the table has a rate.
    degc = next(t for t in range(60) if rate_is_known(pair, t + 1.0))
    assert not rate_is_known(pair, degc)
    assert remedies(pair, degc=float(degc), time_s=36_000.0).warmer(lacquer, 1500.0) == []


def rate_is_known(pair, degc):
    found = rate_um_per_min(pair, strength_g_per_l=100.0, temperature_degc=degc).findings
    return all(one.level is not Level.STOP for one in found)


def test_a_depth_named_as_a_remedy_is_reached_in_time():
    pair = load_pair("aluminium", "sodium-hydroxide")
    found = remedies(pair, degc=20.0, time_s=7000.0)
    depth_mm = found.depth_for(1500.0, 7000.0)
    assert depth_mm / 0.06 * 7000.0 <= 1500.0
    assert depth_mm == pytest.approx(0.06 * 1500 / 7000, abs=1e-3)


@pytest.mark.parametrize("times_s", [(7200.0, 14400.0), (7200.0, 7200.0)])
def test_a_depth_that_leaves_a_caution_of_the_slowest_rate_says_so(times_s):
    resist, bath = load_resist("epoxy-two-part"), load_etchant("sodium-hydroxide")
    entry = next(one for one in resist.limits if one.etchant == bath.ident)
    assert entry.max_time_s is not None
    lasts_s = entry.max_time_s.value

    def found(share):
        return check_resist(
            resist,
            bath,
            temperature_degc=20.0,
            time_s=share * times_s[0],
            time_high_s=share * times_s[1],
        )

    (over,) = found(1.0)
    is_left = bool(found(lasts_s / times_s[0]))
    assert ("until then it may take longer" in over.remedy) == is_left


def test_a_resist_that_the_bath_eats_is_a_stop_at_any_time():
    found = check_resist(
        load_resist("nitrocellulose-lacquer"),
        load_etchant("sodium-persulfate"),
        temperature_degc=20.0,
        time_s=60.0,
    )
    assert [(f.code, f.level) for f in found] == [("resist-unfit", Level.STOP)]
    assert found[0].message.startswith("nitrocellulose lacquer in sodium persulfate does not hold")
    assert "common practice, no source" in found[0].message
    assert found[0].remedy == "Use another resist."


def test_a_hard_ground_on_aluminium_in_salt_and_sulfate_lasts_minutes():
    # A printmaking studio's test (2018): worn after 5 min, lifted by 15.
    bath = load_etchant("copper-sulfate-chloride")
    ground = load_resist("hard-ground")
    (stop,) = check_resist(ground, bath, temperature_degc=20.0, time_s=900.0)
    assert (stop.code, stop.level) == ("resist-time", Level.STOP)
    assert check_resist(ground, bath, temperature_degc=20.0, time_s=240.0) == ()


@pytest.mark.parametrize("finish", ["anodised", "lacquered", "filmed"])
@pytest.mark.parametrize("sort", ["metal", "plastic", "glass"])
def test_each_finish_says_what_comes_off_first(finish, sort):
    entry = load_finish(finish, sort)
    (finding,) = check_finish(entry)
    assert finding.code == "finish"
    assert finding.level in (Level.NOTE, Level.CAUTION)
    assert entry.steps
    assert check_finish(load_finish("bare", sort)) == ()


@pytest.mark.parametrize(("most_degc", "is_warmed"), [(None, True), (45.0, False), (60.0, True)])
def test_no_warmth_is_a_remedy_past_what_the_resist_stands_the_rise_included(most_degc, is_warmed):
    """From 40 degC half as fast again takes 10 K by Arrhenius with 46 kJ/mol, and 5 K of rise."""
    limit = load_resist("acrylic-lacquer").limits[0]
    most = None if most_degc is None else replace(limit.max_degc, value=most_degc)
    pair = load_pair("aluminium", "sodium-hydroxide")
    pair = replace(pair, hot_paint_degc=replace(pair.hot_paint_degc, value=70.0))
    found = remedies(pair, degc=40.0, time_s=3000.0).warmer(replace(limit, max_degc=most), 2000.0)
    assert bool(found) == is_warmed
