"""Hazards, first aid and wear: every route of every entry, and what a merge may not lose."""

from __future__ import annotations

import itertools
import re

import pytest

from stopout import tables
from stopout.errors import TableError
from stopout.etching import ROUTES, aid_lines, incidents_of, spill_lines, wear_strictest
from stopout.etching.safety import aid_strictest, never_mixed
from stopout.tables import load_hazards
from stopout.tables.hazards import all_statements
from stopout.tables.read import entries

ALL = load_hazards(tuple(ident for ident, _ in tables.list_table("hazards")))
BY_ID = {hazard.ident: hazard for hazard in ALL}
CORROSIVE = [h for h in ALL if {"H314", "H318"} & set(h.statements)]
named = pytest.mark.parametrize("hazard", ALL, ids=lambda hazard: hazard.ident)


@named
def test_every_hazard_has_first_aid_for_every_route_with_a_source_or_the_honest_mark(hazard):
    for route in ROUTES:
        advice = hazard.first_aid.by(route).advice
        assert len(advice.text) >= len("Does not arise."), route
        assert advice.source_id or advice.source == "common practice, no source", route


@named
def test_every_hazard_says_what_is_done_with_what_has_got_out(hazard):
    assert hazard.spill
    for line in hazard.spill:
        assert line.source_id or line.source == "common practice, no source"
        # The sheet puts what is spilt before the colon, in a column of its own.
        what, colon, do = line.text.partition(": ")
        assert colon, line.text
        assert what
        assert do


@named
def test_a_route_is_left_out_only_where_the_thing_cannot_take_it(hazard):
    is_liquid_or_solid = set(hazard.arises) & {"mixing", "stripping", "coating"}
    if is_liquid_or_solid:
        for route in ROUTES:
            assert hazard.first_aid.by(route).rank > 0, (hazard.ident, route)


@pytest.mark.parametrize("hazard", CORROSIVE, ids=lambda hazard: hazard.ident)
def test_what_damages_eyes_asks_for_lids_open_lenses_out_and_a_doctor(hazard):
    # NIOSH Pocket Guide, First Aid Procedures, "Eye: Irrigate immediately": large amounts of
    # water, lifting the lids, medical attention immediately. GHS P338: lenses out, if easy.
    text = hazard.first_aid.eyes.advice.text
    assert "lids held open" in text
    assert "lenses out" in text
    assert re.search("hospital|Doctor at once", text, re.IGNORECASE)
    if hazard.ident not in ("chlorine", "hydrogen-chloride"):
        assert int(re.search(r"(\d+) min", text)[1]) >= 15


def test_lye_on_the_skin_asks_for_longer_water_than_acid_and_for_a_doctor():
    # US DOE, DOE-HDBK-1015, corrosives: alkalies are washed off for 1 to 2 hours, or until
    # medical help arrives; American Heart Association: burns by chemicals at least 15 min.
    lye = BY_ID["sodium-hydroxide"].first_aid.skin.advice.text
    acid = BY_ID["hydrochloric-acid"].first_aid.skin.advice.text
    minutes = [int(re.search(r"(\d+) min", text)[1]) for text in (lye, acid)]
    assert minutes[0] >= 60 > minutes[1] >= 15
    assert lye.endswith("Doctor.")
    assert acid.endswith("Doctor.")
    assert "Nothing on it to neutralise it" in lye


def test_nobody_is_made_to_vomit():
    for hazard in ALL:
        aid = hazard.first_aid.swallowed
        if aid.rank > 1:
            assert "no vomiting" in aid.advice.text.lower()
            assert "Poison centre at once" in aid.advice.text


def test_chromate_nickel_lead_and_thinner_warn_whoever_is_pregnant():
    # H360D, H360FD, H360Df, H361d: the unborn child.
    for hazard in ALL:
        if any(code.startswith(("H360", "H361")) for code in hazard.statements):
            assert "pregnant" in " ".join(line.text for line in hazard.cautions), hazard.ident


def test_the_chromate_entry_holds_what_a_sodium_chromate_label_holds():
    # Supplier's sheet of sodium chromate solution, label elements.
    printed = {"H301", "H312", "H314", "H330", "H334", "H340", "H350", "H372"}
    ours = set(BY_ID["chromate-in-bath"].statements)
    assert printed <= ours
    assert "H360FD" in ours
    said = " ".join(line.text for line in BY_ID["chromate-in-bath"].cautions)
    assert "Colour does not tell it" in said
    assert "strip" in said


def test_nothing_about_a_class_says_from_memory():
    for hazard in ALL:
        assert "from memory" not in hazard.classification.source
    for statement in all_statements():
        assert "from memory" not in statement.source
    assert BY_ID["acetone"].classification.source == "not yet checked against the standard"


def test_a_merge_of_first_aid_says_each_sentence_once_and_leaves_no_hazard_out():
    lines = aid_lines(ALL)
    assert len({(line.route, line.aid.advice.text) for line in lines}) == len(lines)
    for route in ROUTES:
        mine = [line for line in lines if line.route == route]
        ranks = [line.aid.rank for line in mine]
        assert ranks == sorted(ranks, reverse=True)
        served = set(itertools.chain.from_iterable(line.hazards for line in mine))
        assert served == {h.short for h in ALL if h.first_aid.by(route).rank > 0}


def test_the_wall_gets_the_strictest_of_each_route():
    pair = (BY_ID["citric-acid"], BY_ID["sodium-hydroxide"])
    strictest = {line.route: line.aid for line in aid_strictest(pair)}
    assert strictest["skin"] == BY_ID["sodium-hydroxide"].first_aid.skin
    assert set(strictest) == set(ROUTES)


def test_what_is_worn_against_two_covers_each():
    for pair in itertools.combinations(ALL, 2):
        worn = {item.part: item.rank for item in wear_strictest(pair)}
        assert len(worn) == len(wear_strictest(pair))
        for hazard in pair:
            for item in hazard.wear:
                assert worn[item.part] >= item.rank


def test_merged_lists_say_nothing_twice_and_lose_nothing():
    never = [line.text for line in never_mixed(ALL)]
    spills = [line.text for line in spill_lines(ALL)]
    assert len(set(never)) == len(never)
    assert len(set(spills)) == len(spills)
    assert set(never) == {line.text for hazard in ALL for line in hazard.never_mix}
    assert set(spills) == {line.text for hazard in ALL for line in hazard.spill}


def test_each_bath_of_the_table_knows_its_fire_its_fume_and_its_runaway():
    def titles(*idents):
        return {incident.ident for incident in incidents_of(load_hazards(idents))}

    lye = titles("sodium-hydroxide", "caustic-mist", "hydrogen")
    assert {"bath-fire", "extraction-fails", "bath-runs-away"} <= lye
    assert "chlorine-smell" in titles("chlorine", "electrolysis-current")
    assert "chlorine-smell" in titles("sodium-persulfate")
    assert "beam-fire" in titles("laser-450nm")
    assert titles("acetone") == set()


def test_every_incident_names_hazards_that_there_are():
    met = {incident.ident for hazard in ALL for incident in hazard.incidents}
    assert met == set(entries("incidents"))


def test_a_hazard_of_the_shops_own_without_a_route_or_a_spill_is_refused(tmp_path):
    own = tmp_path / "own.toml"
    words = """[hazards.our-pickle]
name = "our pickle"
cas = ""
signal = ""
classification = { text = "unknown", kind = "practice" }
arises = ["etching"]
wear = ["goggles"]
"""
    for rest, missing in (
        ('first_aid = { eyes = "corrosive", skin = "corrosive", breathed = "dust" }', "swallowed"),
        (
            'first_aid = { eyes = "corrosive", skin = "corrosive", breathed = "dust", '
            'swallowed = "corrosive" }',
            "spill: missing",
        ),
        (
            'first_aid = { eyes = "sand", skin = "corrosive", breathed = "dust", '
            'swallowed = "corrosive" }',
            "'sand' is not known",
        ),
    ):
        own.write_text(words + rest, encoding="utf-8")
        with pytest.raises(TableError, match=missing):
            tables.open_shop_tables(own)
