"""The sheet of a used bath, a diluted one, batches, and an etch by a current."""

from dataclasses import replace
from functools import cache

import pytest

from jobmaker import LYE, make_job, plan, plate
from sheet.sheet_jobs import GLYPH, Printed
from stopout.job.record import JobBath, Strength
from stopout.sheet.contents.amounts import amounts
from stopout.sheet.model import Table
from stopout.sheet.words import litres
from stopout.values import Measured

CHLORIDE = replace(
    LYE,
    etchant="ferric-chloride",
    strength=Strength(value=36.0, unit="degBe"),
    temperature_degc=25.0,
    etch_factor=None,
)
CURRENT = replace(
    LYE,
    etchant="electrolytic",
    electrolyte="copper-sulfate",
    strength=Strength(value=20.0, unit="%"),
    temperature_degc=20.0,
)
USED = JobBath(ident="lye-1", dissolved_g_per_l=6.0, tray_mm=(150.0, 110.0))
STOCK = JobBath(stock=Strength(value=42.0, unit="degBe"))
JOBS = {
    "used": lambda: make_job(bath=USED, quantity=30, spares=2),
    "stock": lambda: make_job(etch=CHLORIDE, bath=STOCK, blank=plate(material="copper")),
    "steel": lambda: make_job(
        etch=replace(CHLORIDE, strength=Strength(value=40.0, unit="degBe"), temperature_degc=45.0),
        blank=plate(material="stainless-304"),
    ),
    "current": lambda: make_job(etch=CURRENT, blank=plate(material="copper"), quantity=2),
}


@cache
def made(name):
    return plan(GLYPH, JOBS[name]())


@cache
def sheet(name):
    return laid_out(made(name))


def laid_out(planned):
    return Printed(planned).sheet


def test_what_an_etch_by_a_current_takes_is_its_salt():
    told = amounts(made("current"))
    assert [one["etchant"] for one in told["reagents"]] == ["copper-sulfate"]


def place(name, start):
    return next(i for i, step in enumerate(sheet(name).steps) if step.text.startswith(start))


@pytest.mark.parametrize("name", JOBS)
def test_the_job_is_planned_without_a_stop(name):
    assert not made(name).is_stopped, [f.message for f in made(name).findings]


def test_a_used_bath_is_measured_out_by_its_name_and_not_mixed():
    used = sheet("used").steps[place("used", "Measure out the bath lye-1")]
    assert "6.00 g/L of aluminium already" in used.note.replace("\u00a0", " ")
    assert "INTO" not in str([step.text for step in sheet("used").steps])


def test_pieces_and_spares_go_in_batches_with_their_own_times():
    tables = [
        b for b in sheet("used").blocks if isinstance(b, Table) and b.columns[:1] == ("Batch",)
    ]
    etch = made("used").etch
    # 12 x 10 mm tags with 20 mm round each: 4 x 3 of them lie in 150 x 110 mm.
    assert [batch.pieces for batch in etch.batches] == [12, 12, 8]
    if etch.batches[-1].time_s >= 1.03 * etch.batches[0].time_s:
        assert len(tables[0].rows) == 3
    assert "32 pieces, 2 of them spare," in str(sheet("used").blocks)


def test_stock_goes_into_cold_water_never_the_other_way():
    water, stock = place("stock", "Measure cold water"), place("stock", "Stir the stock")
    assert water < stock
    step = sheet("stock").steps[stock]
    assert "never water onto it" in step.note
    assert "mL" in dict(step.sets)["stock"]


def test_the_current_is_set_before_the_piece_goes_in_and_switched_on_after():
    hang, clamp = place("current", "Hang the cathode"), place("current", "Fix an insulated wire")
    set_, lower = (
        place("current", "Set the supply to constant"),
        place("current", "Lower the piece"),
    )
    on, lift = place("current", "Switch the current on"), place("current", "Lift the piece out")
    assert hang < clamp < set_ < lower < on < lift
    electro = made("current").etch.electro
    sets = dict(sheet("current").steps[set_].sets)
    assert float(sets["current"].split("\u00a0")[0]) == pytest.approx(electro.current_a, rel=5e-3)
    assert "Switch off before every lift" in sheet("current").steps[on].note
    assert "starts with the current" in sheet("current").steps[lower].note


def test_a_coupon_under_a_current_asks_for_its_own_amperes_and_gives_the_efficiency_back():
    coupon = place("current", "Set the supply to the coupon's")
    assert coupon < place("current", "Etch the coupon for half")
    assert "efficiency" in sheet("current").steps[place("current", "Work out the rate")].note


def test_what_a_current_needs_is_on_the_list():
    assert "Isolated supply of constant current" in str(sheet("current").everything)


def test_the_time_is_told_as_a_range_and_the_air_with_its_factor():
    assert "may take from" in str(sheet("used").blocks)
    # Once a coupon was etched its time is nearer than the range of the guess.
    assert "may take from" not in sheet("used").steps[place("used", "Lower the piece")].note
    air = sheet("used").steps[place("used", "Start the extraction, open tray")].note
    assert "up to" in air
    assert "times that is set" in air


def test_the_sludge_is_told_where_the_bath_may_be_neutralised():
    assert "of dry sludge falls out" in str(sheet("stock").blocks)
    assert "of dry sludge falls out" not in str(sheet("current").everything)


def test_spares_are_cleared_and_recorded_like_the_others():
    text = str(sheet("used").everything)
    assert "30 pieces and 2 spare" in text
    assert "32 pieces in all" in text


def test_the_half_time_look_asks_to_measure_where_the_fast_end_would_be_through_before_the_next():
    rate = Measured(value=2.3, sd=0.8)
    doubtful = plan(GLYPH, make_job(etch=replace(LYE, rate_um_per_min=rate)))
    assert doubtful.etch.time_low_s < 0.8 * doubtful.etch.time_s
    looks = [
        next(s for s in steps if s.text.startswith("Look at the piece after half")).note
        for steps in (laid_out(doubtful).steps, sheet("used").steps)
    ]
    assert "Measure now: at the fast end" in looks[0]
    # A coupon has told the rate by then.
    assert "Measure now" not in looks[1]


def test_two_still_rinses_stand_before_running_water_and_are_poured_into_containers():
    steps, etch = sheet("stock").steps, made("stock").etch
    dip = steps[place("stock", "Dip the piece in still rinses 1 and 2")]
    assert place("stock", "Dip the piece") < place("stock", "Rinse the piece in running water")
    assert dip.sets == (("each of 2", litres(etch.rinses.volume_l)),)
    pour = steps[place("stock", "Pour the bath into its labelled container")]
    assert ("still rinses", litres(etch.rinses.waste_l)) in pour.sets


def test_steel_with_chromium_and_nickel_sends_nothing_to_a_drain_and_asks_for_strips():
    texts = [step.text for step in sheet("steel").steps]
    assert any("still rinses 1, 2 and 3" in text for text in texts)
    assert not any("running water" in text for text in texts)
    assert any("chromate strip" in text for text in texts)
