"""A shop's own data: whose number is used, and what no shop can take away."""

import re

import pytest

from stopout.errors import TableError
from stopout.etching import rate_um_per_min
from stopout.tables import (
    list_table,
    load_etchant,
    load_hazards,
    load_material,
    load_pair,
    load_refusals,
    load_resist,
    open_shop_tables,
    overlaid,
    show_entry,
)

OURS = """
[sources.our-notes]
text = "Notes of the tide mill's workshop"
read = "our own"

[pairs.copper.ferric-chloride]
hot_paint = { value = 40.0, unit = "degC", kind = "measured", where = "coupon of 3 May" }
hazards = []
advice = [{ text = "Ours smells of the river.", kind = "practice" }]
[[pairs.copper.ferric-chloride.rate]]
agitation = ["tray", "rocked"]
temperature_degc = 30.0
strength_g_per_l = 510.0
temperature_range_degc = [25.0, 35.0]
strength_range_g_per_l = [480.0, 540.0]
scaled_grade = "B"
rate = { value = 1.9, unit = "um/min", kind = "measured", where = "coupon of 3 May" }

[materials.gunmetal]
name = "gunmetal"
sort = "metal"
density = { value = 8.7, unit = "g/cm3", kind = "published", source = "our-notes" }
molar_mass = { value = 66.6, unit = "g/mol", kind = "computed", source = "iupac-2021" }

[[resists.acrylic-lacquer.limit]]
etchant = "sodium-hydroxide"
verdict = "fair"
beyond = "stop"
max_time = { value = 900.0, unit = "s", kind = "measured", where = "coupon of 9 May" }

[refusals.no-gunmetal]
materials = ["gunmetal"]
level = "stop"
message = "our gunmetal holds lead"
remedy = "Take brass."
kind = "practice"
"""


def opened(folder, text):
    path = folder / "our-tables.toml"
    path.write_text(text, encoding="utf-8")
    return open_shop_tables(path)


@pytest.fixture
def ours(tmp_path):
    return opened(tmp_path, OURS)


def tray_rate(degc=30.0):
    pair = load_pair("copper", "ferric-chloride")
    return rate_um_per_min(pair, strength_g_per_l=510.0, temperature_degc=degc)


def test_a_measured_rate_wins_and_names_file_and_coupon(ours):
    before = tray_rate()
    with overlaid(ours.overlay):
        found = tray_rate()
    assert (found.um_per_min, found.kind) == (1.9, "measured")
    assert "our-tables.toml: coupon of 3 May" in found.source
    assert tray_rate() == before
    assert before.um_per_min != 1.9


def test_the_rates_of_other_agitations_stay(ours):
    spray = load_pair("copper", "ferric-chloride").rates[1]
    with overlaid(ours.overlay):
        ways = {rate.agitation: rate for rate in load_pair("copper", "ferric-chloride").rates}
    assert ways[("spray",)] == spray
    assert len(ways) == 3


def test_warnings_grow_and_never_shrink(ours):
    pair = load_pair("copper", "ferric-chloride")
    with overlaid(ours.overlay):
        changed = load_pair("copper", "ferric-chloride")
    assert changed.hazards == pair.hazards
    assert changed.advice[: len(pair.advice)] == pair.advice
    assert changed.advice[-1].text == "Ours smells of the river."
    assert changed.advice[-1].source.startswith("our-tables.toml: common practice")


def test_a_limit_of_one_bath_leaves_the_others(ours):
    with overlaid(ours.overlay):
        limits = {limit.etchant: limit for limit in load_resist("acrylic-lacquer").limits}
    assert limits["sodium-hydroxide"].max_time_s.value == 900.0
    assert limits["ferric-chloride"].max_degc.value == 45.0


def test_a_new_material_is_listed_and_shown_with_its_source(ours):
    with overlaid(ours.overlay):
        assert ("gunmetal", "gunmetal") in list_table("materials")
        row = next(row for row in show_entry("materials", "gunmetal") if row.name == "density")
        assert {rule.code for rule in load_refusals()} >= {"no-gunmetal", "nitric-acid"}
    assert row.source == "our-tables.toml: Notes of the tide mill's workshop"
    with pytest.raises(TableError, match="gunmetal' is refused: bronze is a name"):
        load_material("gunmetal")


def test_it_says_what_it_replaces_and_what_it_adds(ours):
    assert "pairs.copper.ferric-chloride.rate" in ours.replaced
    assert "materials.gunmetal" in ours.added
    assert re.fullmatch("[0-9a-f]{64}", ours.sha256)


VALUE = '{ value = 40.0, unit = "degC", kind = "measured", where = "coupon" }'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[pairs", "not valid TOML"),
        ("[baths.x]\n", "baths is no table of the shop's; use materials"),
        ("materials = 3\n", "expected a table"),
        ("[materials.Our_Brass]\n", "an id has small letters"),
        ("[hazards.hydrogen]\nname = 'nothing'\n", "is built in and cannot be replaced"),
        ("[refusals.nitric-acid]\nlevel = 'note'\n", "is built in and cannot be replaced"),
        ("[sources.crc-ions]\ntext = 'x'\n", "is built in and cannot be replaced"),
        (
            "[pairs.brass.ferric-chloride]\nneutralised_in_shop = true\n",
            "neutralised_in_shop: is built in and cannot be replaced",
        ),
        (
            f"[pairs.copper.ferric-chloride]\nhot_paint = {VALUE.replace('degC', 'degF')}\n",
            "'degF' is not the table's; use degC",
        ),
        (
            f"[pairs.copper.ferric-chloride]\nhot_paint = {VALUE.replace('coupon', '')}\n",
            "says where it comes from",
        ),
        (
            f"[pairs.copper.ferric-chloride]\nhot_paint = {VALUE.replace('measured', 'published')}",
            "source: missing; name an entry of sources.toml",
        ),
        ("[materials.our-brass]\nname = 'ours'\n", "materials.our-brass.sort: missing"),
        ("[materials.x]\n_file = 'handbook'\n", "_file is not a key of this table"),
        ("[pairs.copper.aqua-vitae]\nreaction = 'x'\n", "unknown etchant 'aqua-vitae'"),
    ],
)
def test_what_a_shop_cannot_write_is_told_in_a_sentence(tmp_path, text, words):
    with pytest.raises(TableError, match=re.escape(words)):
        opened(tmp_path, text)


BATH = """
[etchants.our-pickle]
name = "our pickle"
formula = "NaHSO4"
ready_made = false
molar_mass = { value = 120.06, unit = "g/mol", kind = "memory" }
max_fraction = { value = 0.2, unit = "by weight", kind = "memory" }
hazards = []
[etchants.our-pickle.density]
c = [2000.0, 2000.0, 1.0, 0.0, 0.0]
kind = "memory"
"""


def test_a_bath_of_the_shops_own_names_its_hazards(tmp_path):
    with pytest.raises(TableError, match=r"our-pickle.hazards: name at least one"):
        opened(tmp_path, BATH)
    named = BATH.replace("hazards = []", 'hazards = ["hydrochloric-acid"]')
    with overlaid(opened(tmp_path, named).overlay):
        assert load_etchant("our-pickle").hazards == ("hydrochloric-acid",)


def test_a_file_that_is_not_there_or_too_large_is_told(tmp_path):
    with pytest.raises(TableError, match=r"nowhere\.toml: is not there"):
        open_shop_tables(tmp_path / "nowhere.toml")
    with pytest.raises(TableError, match="larger than a megabyte"):
        opened(tmp_path, "#" * 1_000_001)
    (tmp_path / "latin.toml").write_bytes(b"name = '\xe9'")
    with pytest.raises(TableError, match="not valid TOML"):
        open_shop_tables(tmp_path / "latin.toml")


def test_the_built_in_records_are_the_same_without_a_shop():
    assert load_etchant("ferric-chloride") is load_etchant("ferric-chloride")
    assert load_hazards(("hydrogen",)) == load_hazards(("hydrogen",))
