"""The rate stays within its stated range and says how sure it is."""

import math
from dataclasses import replace

import pytest

from stopout.etching import BathUse, EtchAsked, bath_strength, plan_etch, rate_um_per_min
from stopout.etching.rates.doubt import doubtful_rate, factor_findings
from stopout.tables import list_table, load_pair
from stopout.values import Level, Measured

ALUMINIUM = load_pair("aluminium", "sodium-hydroxide")
COPPER = load_pair("copper", "ferric-chloride")


def rate(pair=ALUMINIUM, strength=100.0, temperature=40.0, agitation="tray"):
    return rate_um_per_min(
        pair, strength_g_per_l=strength, temperature_degc=temperature, agitation=agitation
    )


def codes(findings, level=None):
    return {f.code for f in findings if level is None or f.level == level}


def test_no_rate_of_aluminium_in_caustic_is_better_than_a_starting_guess():
    # The workshop text's "10 %" is an uncertain reading of a scan.
    assert rate(temperature=80.0).grade == "C"
    assert rate(temperature=80.0).kind == "published"
    assert rate(temperature=40.0).grade == "C"
    assert rate(temperature=40.0).kind == "computed"


def test_a_rate_away_from_where_it_was_found_is_called_computed():
    # Within 5 K of 80 degC, and within a tenth of 100 g/L, it is the source's own (our rule).
    assert [rate(temperature=t).kind for t in (76.0, 74.0, 65.0)] == [
        "published",
        "computed",
        "computed",
    ]
    assert rate(temperature=80.0, strength=111.0).kind == "computed"
    assert "to 65 degC with 46 kJ/mol" in rate(temperature=65.0).source
    assert "; to " not in rate(temperature=80.0).source
    assert "to 50 g/L by the power 0.75" in rate(strength=50.0).source


def test_the_span_holds_the_root_of_the_strength_and_the_rapid_rise_above_it():
    # Published to 0.5 mol/L only: the square root; above, "increases rapidly" without a figure.
    # The span is our own: powers 0.5 to 1.5 about 0.75.
    whole, half = rate(), rate(strength=50.0)
    assert half.um_per_min == pytest.approx(whole.um_per_min * 0.5**0.75)
    assert half.high_um_per_min == pytest.approx(whole.high_um_per_min * 0.5**0.5)
    assert half.low_um_per_min == pytest.approx(whole.low_um_per_min * 0.5**1.5)


@pytest.mark.parametrize("name", [name for name, _ in list_table("pairs")])
def test_no_rate_of_the_tables_is_without_a_span(name):
    for reference in load_pair(*name.split("/")).rates:
        for agitation in reference.agitation:
            found = rate_um_per_min(
                load_pair(*name.split("/")),
                strength_g_per_l=reference.strength_g_per_l,
                temperature_degc=reference.temperature_degc,
                agitation=agitation,
            )
            assert found.low_um_per_min < found.um_per_min < found.high_um_per_min


def test_the_range_spans_the_published_activation_energies():
    estimate = rate(temperature=40.0)
    assert estimate.low_um_per_min < estimate.um_per_min < estimate.high_um_per_min


@pytest.mark.parametrize(
    ("temperature", "strength", "code"),
    [
        (15.0, 100.0, "rate-temperature-out-of-range"),
        (95.0, 100.0, "rate-temperature-out-of-range"),
        (40.0, 20.0, "rate-strength-out-of-range"),
        (40.0, 200.0, "rate-strength-out-of-range"),
    ],
)
def test_outside_the_stated_range_there_is_a_stop_and_no_extrapolation(temperature, strength, code):
    estimate = rate(temperature=temperature, strength=strength)
    assert code in codes(estimate.findings, Level.STOP)
    held = rate(
        temperature=min(max(temperature, 20.0), 80.0), strength=min(max(strength, 40.0), 150.0)
    )
    assert estimate.um_per_min == held.um_per_min


def test_nobody_is_sent_to_try_a_hotter_or_stronger_bath():
    for hot_or_strong in (rate(temperature=95.0), rate(strength=300.0)):
        assert "coupon" not in hot_or_strong.findings[0].remedy
    assert "coupon" in rate(temperature=15.0).findings[0].remedy


def test_the_ends_of_the_usual_baume_range_are_inside():
    for degrees in (30.0, 36.0, 38.0, 40.0, 42.0):
        strength = bath_strength(COPPER.etchant, degrees, "degBe").g_per_l
        assert not rate(COPPER, strength).findings


def test_an_agitation_without_a_rate_takes_the_trays_and_says_so():
    estimate = rate(agitation="bubbled")
    assert estimate.um_per_min == rate().um_per_min
    assert "agitation-unknown" in codes(estimate.findings, Level.CAUTION)


def test_spray_is_another_rate_than_a_tray():
    strength = bath_strength(COPPER.etchant, 40.0, "degBe").g_per_l
    assert (
        rate(COPPER, strength, 45.0, "spray").um_per_min
        > 10 * rate(COPPER, strength, 45.0).um_per_min
    )


def etched(**changes):
    arguments = {
        "strength": bath_strength(ALUMINIUM.etchant, 100.0, "g/L"),
        "temperature_degc": 40.0,
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
    return plan_etch(EtchAsked(**({"pair": ALUMINIUM} | arguments | changes)))


def test_a_rate_of_grade_c_or_d_is_called_a_starting_guess():
    plan = etched()
    assert "starting-guess" in codes(plan.findings, Level.CAUTION)
    found = next(f for f in plan.findings if f.code == "starting-guess")
    assert "etch a coupon first" in found.message


def test_a_given_rate_is_stated_as_given_and_needs_no_range():
    plan = etched(rate_um_per_min=Measured(value=2.3, sd=0.2), temperature_degc=15.0)
    stated = next(v for v in plan.values if v.name == "etch rate")
    assert (stated.kind, stated.source) == ("given", "job file")
    assert stated.value.startswith("2.3 um/min")
    assert not codes(plan.findings, Level.STOP)
    assert plan.time_low_s < plan.time_s < plan.time_high_s


def test_every_stated_value_says_where_it_comes_from():
    for value in etched().values:
        assert value.source.strip(), value
        assert value.value.strip(), value
        # What was left out is our own rule, and nobody gave it.
        assert (value.kind == "given") == (value.source == "job file"), value


COMPUTED_BY_HAND = {
    # 16.67 um/min x exp(-46000 / 8.3145 x (1 / 313.15 - 1 / 353.15)) = 2.254 um/min; 5 g/L of
    # aluminium take 5 / 26.98 x 40.00 = 7.41 of 100 g/L of lye, and 0.9259^0.75 = 0.944 is left.
    "etch rate": ("2.127 um/min (", "5 g/L dissolved: x 0.944 for the reagent used up"),
    "undercut": ("0.06 mm", "depth / etch factor"),
    "etch time": ("28.21 min", "depth / rate"),
    "bath that covers": ("0.21 L", "(width + 40 mm) x (height + 40 mm) x 15 mm"),
    "strength": ("100 g/L", "given as 100 g/L"),
}


def test_the_computed_values_of_a_used_bath_stand_with_their_own_formulas():
    use = BathUse(dissolved_g_per_l=5.0, volume_l=2.0)
    stated = {value.name: value for value in etched(use=use).values}
    for name, (value, how) in COMPUTED_BY_HAND.items():
        assert stated[name].kind == "computed"
        assert stated[name].value.startswith(value), name
        assert how in stated[name].source, name
    # No better than a fresh bath's, and one step farther from what the sources have seen.
    assert stated["etch rate"].grade == "C"
    assert "volume" in stated["metal removed"].source
    assert "capacity" in stated["bath"].source


def test_a_rate_corrected_for_use_is_no_better_than_a_starting_guess():
    known = ALUMINIUM.rates[0]
    value = replace(known.um_per_min, grade="B")
    sure = replace(ALUMINIUM, rates=(replace(known, um_per_min=value),))
    for use, grade in ((BathUse(), "B"), (BathUse(dissolved_g_per_l=5.0, volume_l=2.0), "C")):
        plan = etched(pair=sure, temperature_degc=80.0, use=use)
        stated = next(value for value in plan.values if value.name == "etch rate")
        assert stated.grade == grade


def test_what_no_law_is_known_for_changes_nothing():
    """Without an order for strength or an energy for warmth, the reference rate stands."""
    reference = replace(ALUMINIUM.rates[0], strength_order=None, activation_kj_per_mol=None)
    found = rate(replace(ALUMINIUM, rates=(replace(reference, points=()),)), 50.0, 70.0)
    at_reference = rate(strength=reference.strength_g_per_l, temperature=80.0)
    assert found.um_per_min == at_reference.um_per_min
    assert found.low_um_per_min == at_reference.low_um_per_min
    assert found.high_um_per_min == at_reference.high_um_per_min


def test_the_same_etch_is_planned_the_same_twice():
    assert etched() == etched()


@pytest.mark.parametrize("wrong", [{"depth_mm": 0.0}, {"rise_k": -1.0}, {"quantity": 0}])
def test_an_impossible_number_is_refused_in_one_sentence(wrong):
    from stopout.errors import PlanError

    with pytest.raises(PlanError, match="not possible"):
        etched(**wrong)


def test_hydrogen_is_a_caution_with_its_flow_and_its_air():
    found = next(f for f in etched().findings if f.code == "gas")
    assert found.level == Level.CAUTION
    assert "hydrogen" in found.message
    assert "never a lid" in found.remedy
    assert "ten times" in found.remedy


class TestDoubt:
    """A slip of ten in depth, minutes or unit moves a rate tenfold: no range of the tables does."""

    @pytest.mark.parametrize("name", [name for name, _ in list_table("pairs")])
    def test_what_the_tables_hold_themselves_is_not_doubted_and_ten_times_beyond_is(self, name):
        pair = load_pair(*name.split("/"))
        for reference in pair.rates:
            bath = {
                "strength_g_per_l": reference.strength_g_per_l,
                "temperature_degc": reference.temperature_degc,
                "agitation": reference.agitation[0],
                "is_fresh": True,
            }
            stated = reference.um_per_min
            low, high = stated.low or stated.value, stated.high or stated.value
            for value in (low, stated.value, high, 2 * high, low / 2):
                assert doubtful_rate(pair, value, **bath) == ""
            assert " 10 times above" in doubtful_rate(pair, 10 * high, **bath)
            assert " 10 times below" in doubtful_rate(pair, low / 10, **bath)
            assert doubtful_rate(pair, low / 10, **(bath | {"is_fresh": False})) == ""

    def test_a_plan_doubts_the_rate_and_the_factor_it_was_given(self):
        # The table has some 2 um/min for this bath: 60 is a rate an hour.
        slip = etched(rate_um_per_min=Measured(value=60.0), etch_factor=Measured(value=9.0))
        assert {"rate-doubtful", "factor-doubtful"} <= codes(slip.findings, Level.CAUTION)
        sane = etched(rate_um_per_min=Measured(value=2.0), etch_factor=Measured(value=1.1))
        assert not {"rate-doubtful", "factor-doubtful"} & codes(sane.findings)

    @pytest.mark.parametrize(
        ("factor", "is_told"), [(3.5, False), (3.6, True), (0.35, False), (0.34, True)]
    )
    def test_a_factor_more_than_twice_beyond_the_published_range_is_doubted(self, factor, is_told):
        # Aluminium in lye: 0.7 to 1.75 (from memory, as in the table).
        plan = etched(etch_factor=Measured(value=factor))
        assert ("factor-doubtful" in codes(plan.findings)) == is_told

    def test_a_doubtful_number_is_taken_out_where_it_came_from(self):
        for where, way in (("shop book", "shop forget"), ("job file", "left out")):
            (told,) = factor_findings(ALUMINIUM, Measured(value=9.0), where=where)
            assert where in told.remedy
            assert way in told.remedy

    def test_a_used_bath_may_be_slow(self):
        used = etched(rate_um_per_min=Measured(value=0.2), use=BathUse(dissolved_g_per_l=6.0))
        assert "rate-doubtful" not in codes(used.findings)
        fresh = etched(rate_um_per_min=Measured(value=0.2))
        assert "rate-doubtful" in codes(fresh.findings)


@pytest.mark.parametrize("name", [name for name, _ in list_table("pairs")])
def test_a_rate_has_its_own_grade_where_it_was_found_and_another_where_it_is_reckoned(name):
    pair = load_pair(*name.split("/"))
    for reference in pair.rates:
        laws = {"strength": reference.strength_g_per_l, "agitation": reference.agitation[0]}
        here = rate(pair, temperature=reference.temperature_degc, **laws)
        low, high = reference.temperature_range_degc
        assert here.grade == reference.um_per_min.grade
        for degc in (low, high):
            if abs(degc - reference.temperature_degc) > 5.1:
                assert rate(pair, temperature=degc, **laws).grade == reference.scaled_grade


@pytest.mark.parametrize(("share", "is_said"), [(1.0095, False), (1.0105, True), (0.9895, True)])
def test_a_strength_read_to_a_hundredth_is_the_one_that_was_found(share, is_said):
    """Where no dependence on the strength is known; a reading of a hydrometer errs by as much."""
    (first, *_) = COPPER.rates
    reference = replace(
        first, strength_order=None, strength_range_g_per_l=(0.0, 2 * first.strength_g_per_l)
    )
    pair = replace(COPPER, rates=(reference,))
    found = rate(
        pair,
        strength=share * first.strength_g_per_l,
        temperature=first.temperature_degc,
        agitation=first.agitation[0],
    )
    assert ("as it stands, no dependence" in found.source) == is_said


def test_away_from_where_it_was_found_a_rate_spans_what_its_energies_leave_open():
    """Arrhenius's law at either end: 30 to 60 kJ/mol about 46 from 80 to 40 degC, by hand."""
    (first, *_) = ALUMINIUM.rates
    energy = replace(first.activation_kj_per_mol, value=46.0, low=30.0, high=60.0)
    pair = replace(ALUMINIUM, rates=(replace(first, activation_kj_per_mol=energy),))
    laws = {"strength": first.strength_g_per_l, "agitation": first.agitation[0]}
    base = first.um_per_min
    assert first.temperature_degc == 80
    found = rate(pair, temperature=40.0, **laws)
    kelvin = (1 / 313.15 - 1 / 353.15) / 8.314462618
    due = [math.exp(-1000 * e * kelvin) for e in (60.0, 46.0, 30.0)]
    ends = [base.low or base.value, base.value, base.high or base.value]
    rates = [found.low_um_per_min, found.um_per_min, found.high_um_per_min]
    assert rates == pytest.approx([end * one for end, one in zip(ends, due, strict=True)], rel=1e-6)
