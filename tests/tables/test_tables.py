"""The data: nothing without its unit, kind and source; ids that help when they are wrong."""

import re
import tomllib
from pathlib import Path

import pytest

import stopout.tables as tables
from stopout.errors import TableError
from stopout.etching.records import Advice, Sourced
from stopout.tables.read import TableEntry

DATA = Path(tables.__file__).with_name("data")
FILES = (
    "materials",
    "etchants",
    "pairs",
    "electrolytes",
    "sludge",
    "resists",
    "hazards",
    "first_aid",
    "wear",
    "spills",
    "incidents",
    "control",
    "species",
    "refusals",
    "ceilings",
    "names",
    "finishes",
    "beams",
)
STEPS = {"coating", "clearing", "mixing", "etching", "rinsing", "stripping", "waste"}


def raw(name):
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


def values_in(node, where):
    """Every table of the data that holds a number or a sentence, with its place."""
    if isinstance(node, dict):
        holds_value = "value" in node and not isinstance(node["value"], dict)
        if holds_value or "text" in node or ("source" in node and "kind" in node):
            yield where, node
        for key, inner in node.items():
            yield from values_in(inner, f"{where}.{key}")
    elif isinstance(node, list):
        for n, inner in enumerate(node):
            yield from values_in(inner, f"{where}[{n}]")


ALL_VALUES = [found for name in FILES for found in values_in(raw(name), name)]


def test_no_value_lacks_a_source_entry():
    sources = raw("sources")
    for where, value in ALL_VALUES:
        assert value.get("kind") in ("published", "computed", "practice", "memory"), where
        if value["kind"] in ("practice", "memory"):
            assert "source" not in value, where
        else:
            assert value.get("source") in sources, where


def test_every_source_is_used_and_says_how_it_was_read():
    used = {value.get("source") for _, value in ALL_VALUES} | set(raw("statements")["published"])
    for ident, source in raw("sources").items():
        assert source["text"], ident
        assert source["read"], ident
        # What was read is a part of what the text names; where it was found says nothing.
        assert not re.fullmatch(r"(web |trade )?pages?|excerpts?", source["read"]), ident
        assert "web page" not in source["text"] + source["read"], ident
        assert ident in used, ident


def test_every_entry_of_every_table_loads_and_can_be_shown():
    for kind in tables.KINDS:
        listed = tables.list_table(kind)
        assert listed, kind
        for ident, name in listed:
            rows = tables.show_entry(kind, ident)
            assert rows, ident
            assert name, ident
            for row in rows:
                assert all((row.source, row.value, row.name)), (kind, ident, row)


def test_the_tables_hold_what_they_did():
    # Row counts: a lost entry is noticed. (Pinned here, no outside source.)
    counts = {kind: len(tables.list_table(kind)) for kind in tables.KINDS}
    assert counts["materials"] == 15
    assert counts["etchants"] == 7
    assert counts["pairs"] == 17
    assert counts["resists"] == 8
    assert counts["hazards"] == 38
    assert counts["statements"] == 68


def hazards():
    return tables.load_hazards(tuple(ident for ident, _ in tables.list_table("hazards")))


def test_every_statement_that_a_hazard_names_exists():
    for hazard in hazards():
        codes = (*hazard.statements, *hazard.precautions)
        assert [s.code for s in tables.load_statements(codes)] == list(codes)


def test_every_hazard_says_how_to_guard_against_it_and_where_it_arises():
    for hazard in hazards():
        assert hazard.cautions, hazard.ident
        assert hazard.wear, hazard.ident
        assert set(hazard.arises) <= STEPS, hazard.ident
        assert hazard.arises, hazard.ident
        assert all(re.fullmatch(r"GHS0[1-9]", p) for p in hazard.pictograms), hazard.ident
        assert all(re.fullmatch(r"[WMPEF]0\d\d", s) for s in hazard.signs), hazard.ident
        assert bool(hazard.signal) == bool(hazard.statements), hazard.ident


def test_every_hazard_that_another_table_names_exists():
    for material, _ in tables.list_table("materials"):
        tables.load_hazards(tables.load_material(material).hazards)
    for etchant, _ in tables.list_table("etchants"):
        record = tables.load_etchant(etchant)
        ways = [ident for way in record.neutralisers for ident in way.hazards]
        tables.load_hazards((*record.hazards, *ways))
    for resist, _ in tables.list_table("resists"):
        paint = tables.load_resist(resist)
        tables.load_hazards((*paint.hazards, *paint.strippers))
    for pair, _ in tables.list_table("pairs"):
        tables.load_hazards(tables.load_pair(*pair.split("/")).hazards)


def test_the_clp_classes_are_those_of_the_published_entries():
    # Regulation (EC) 1272/2008, Annex VI: sodium hydroxide H314 (H290 by the supplier).
    # International Chemical Safety Card 0001: hydrogen H220.
    by_id = {hazard.ident: hazard for hazard in hazards()}
    assert by_id["sodium-hydroxide"].statements == ("H290", "H314")
    assert by_id["hydrogen"].statements == ("H220",)
    assert by_id["ferric-chloride"].statements == ("H290", "H302", "H315", "H318")
    # Supplier's safety data sheet for hydrochloric acid, 32 %.
    assert by_id["hydrochloric-acid"].statements == ("H290", "H314", "H335")
    assert by_id["hydrochloric-acid"].signal == "Danger"
    for ident in ("acetone", "isopropanol", "paint-thinner"):
        assert "H225" in by_id[ident].statements


PAIRS = {
    "aluminium": {"sodium-hydroxide", "copper-sulfate-chloride", "ferric-chloride"},
    "copper": {"ferric-chloride", "sodium-persulfate", "ammonium-persulfate", "cupric-chloride"},
    "brass": {"ferric-chloride", "sodium-persulfate", "ammonium-persulfate", "cupric-chloride"},
    "stainless-304": {"ferric-chloride"},
    "mild-steel": {"ferric-chloride"},
    "zinc": {"copper-sulfate"},
}


@pytest.mark.parametrize("metal", PAIRS)
def test_each_metal_has_the_baths_that_a_small_shop_uses(metal):
    for etchant in PAIRS[metal]:
        pair = tables.load_pair(metal, etchant)
        assert pair.rates
        assert pair.advice
        for rate in pair.rates:
            assert rate.um_per_min.grade, (metal, etchant)
            assert rate.um_per_min.low or rate.um_per_min.grade in "AC", (metal, etchant)


def test_a_rate_from_memory_is_never_better_than_a_guess():
    for ident, _ in tables.list_table("pairs"):
        for rate in tables.load_pair(*ident.split("/")).rates:
            if rate.um_per_min.kind in ("memory", "practice"):
                assert rate.um_per_min.grade == "D", ident


def test_each_resist_says_how_it_stands_each_bath():
    baths = [ident for ident, _ in tables.list_table("etchants")]
    for resist, _ in tables.list_table("resists"):
        known = {limit.etchant: limit for limit in tables.load_resist(resist).limits}
        for bath in baths:
            limit = known[bath]
            said = (limit.max_degc, limit.max_time_s, limit.basis)
            assert any(value is not None for value in said), (resist, bath)


def test_a_pair_that_is_not_in_the_table_gets_those_that_are():
    with pytest.raises(TableError, match="copper in sodium hydroxide is not in the table"):
        tables.load_pair("copper", "sodium-hydroxide")


def test_an_unknown_id_gets_the_nearest_one():
    with pytest.raises(TableError, match="unknown material 'aluminum'; did you mean 'aluminium'"):
        tables.load_material("aluminum")
    with pytest.raises(TableError, match="the table has epoxy-two-part"):
        tables.load_resist("xyzzy")
    with pytest.raises(TableError, match="there is no table 'paints'"):
        tables.list_table("paints")


def test_a_plastic_is_not_etched():
    with pytest.raises(TableError, match="not a metal"):
        tables.load_pair("acrylic-cast", "ferric-chloride")


GOOD = {"value": 2.7, "unit": "g/cm3", "kind": "published", "source": "crc-elements"}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"source": None}, "density.source: missing; name an entry of sources.toml"),
        ({"source": "nowhere"}, "'nowhere' is not an entry of sources.toml"),
        ({"unit": None}, "density.unit: missing"),
        ({"kind": None}, "density.kind: missing"),
        ({"kind": "hearsay"}, "'hearsay' is none of"),
        ({"kind": "practice"}, "a value of kind practice has none"),
        ({"value": "2.7"}, "density.value: missing; expected a number"),
        ({"value": float("inf")}, "expected a number"),
        ({"low": 3.0}, "outside its own range"),
        ({"grade": "E"}, "'E' is none of A, B, C, D"),
        ({"lo": 2.0}, "not a key of this table"),
    ],
)
def test_a_value_without_unit_kind_or_source_does_not_load(change, words):
    value = {k: v for k, v in (GOOD | change).items() if v is not None}
    entry = TableEntry({"density": value}, where="materials.toml: aluminium")
    with pytest.raises(TableError, match=re.escape(words)):
        entry.sourced("density")


def test_a_complete_value_loads_with_its_source_in_words():
    entry = TableEntry({"density": GOOD}, where="materials.toml: aluminium")
    value = entry.sourced("density")
    assert isinstance(value, Sourced)
    assert "CRC Handbook" in value.source
    assert value.source_id == "crc-elements"


def test_memory_and_practice_say_so():
    acrylic = tables.load_material("acrylic-cast")
    assert acrylic.density_g_per_cm3.source == "from memory, to be verified"
    practice = [a for a in acrylic.advice if a.kind == "practice"]
    assert all(isinstance(a, Advice) and a.source == "common practice, no source" for a in practice)


def test_the_reference_page_holds_what_the_data_hold():
    # To write it anew: python -c "from stopout.tables.page import tables_page; \
    # print(tables_page(), end='')" > docs/reference/tables.md
    page = Path(tables.__file__).parents[3] / "docs" / "reference" / "tables.md"
    from stopout.tables.page import tables_page

    assert page.read_text(encoding="utf-8") == tables_page()


def test_advice_with_numbers_of_one_wavelength_says_for_which_lasers_it_holds():
    for material, _ in tables.list_table("materials"):
        for advice in tables.load_material(material).advice:
            assert not re.search(r"\d nm", advice.text), advice.text
            if "beam" in advice.text and "protective film" not in advice.text:
                assert advice.wavelength_nm or "cast sheet" in advice.text, advice.text


def test_a_band_of_wavelengths_holds_from_its_low_end_to_below_its_high_end():
    entry = TableEntry(
        {"text": "Mind the bed.", "kind": "practice", "wavelength_nm": [380.0, 780.0]}, where="x"
    )
    advice = entry.as_advice()
    assert [advice.holds_at(nm) for nm in (379.0, 380.0, 450.0, 780.0)] == [
        False,
        True,
        True,
        False,
    ]
    backwards = TableEntry(dict(entry.data) | {"wavelength_nm": [780.0, 380.0]}, where="x")
    with pytest.raises(TableError, match="the low end comes first"):
        backwards.as_advice()


def test_the_beam_of_another_laser_gets_no_numbers_of_a_blue_one():
    (beam,) = tables.load_hazards(("laser-other",))
    worn = tuple(item.advice for item in beam.wear)
    words = " ".join(line.text for line in (*beam.cautions, *worn, beam.classification))
    assert "450" not in words
    assert "optical density" not in words
    assert "rated by the laser's supplier for this wavelength" in words
    assert not any("permissible exposure" in limit.name for limit in beam.limits)


def test_a_name_of_two_things_is_told_apart_and_not_guessed():
    with pytest.raises(TableError, match="persulfate may be of sodium, ammonium or potassium"):
        tables.load_etchant("persulfate")


def test_half_a_pair_gets_the_whole_ones():
    with pytest.raises(TableError, match="zinc/copper-sulfate"):
        tables.show_entry("pairs", "zinc")
