"""Names that people type: one answer each, and a guess that never leads to another chemical."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stopout.errors import TableError
from stopout.tables import canonical, load_etchant, load_material, unknown
from stopout.tables.names import NAMED, names_of, refused_name
from stopout.tables.read import builtin_table

ELEMENTS = [
    *builtin_table("names")["elements"]["metals"],
    *("magnesium", "sodium", "potassium", "calcium", "titanium", "zirconium", "tantalum"),
    *("niobium", "molybdenum", "tungsten", "vanadium", "beryllium", "cadmium", "mercury"),
    *("uranium", "thorium", "lead", "tin", "nickel", "cobalt", "manganese", "silver", "gold"),
    *("platinum", "palladium", "iridium", "chromium"),
]


@pytest.mark.parametrize(
    ("table", "typed", "meant"),
    [
        ("materials", "Aluminum", "aluminium"),
        ("materials", "AL", "aluminium"),
        ("materials", "alluminium", "aluminium"),
        ("materials", "304 stainless", "stainless-304"),
        ("materials", "1.4301", "stainless-304"),
        ("materials", "Cu", "copper"),
        ("materials", "CuZn37", "brass"),
        ("materials", "cold rolled steel", "mild-steel"),
        ("etchants", "lye", "sodium-hydroxide"),
        ("etchants", "Caustic Soda", "sodium-hydroxide"),
        ("etchants", "NaOH", "sodium-hydroxide"),
        ("etchants", "ferric chloride", "ferric-chloride"),
        ("etchants", "FeCl₃", "ferric-chloride"),
        ("etchants", "iron(III) chloride", "ferric-chloride"),
        ("etchants", "copper sulphate", "copper-sulfate"),
        ("etchants", "CuSO4·5H2O", "copper-sulfate"),
        ("etchants", "saline sulphate", "copper-sulfate-chloride"),
        ("etchants", "sodium persulphate", "sodium-persulfate"),
        ("etchants", "(NH4)2S2O8", "ammonium-persulfate"),
        ("etchants", "electro-etching", "electrolytic"),
        ("etchants", "HNO3", "nitric-acid"),
        ("electrolytes", "table salt", "sodium-chloride"),
        ("electrolytes", "NaCl", "sodium-chloride"),
        ("resists", "2K epoxy", "epoxy-two-part"),
        ("resists", "enamel", "alkyd-enamel"),
        ("resists", "nail varnish", "nitrocellulose-lacquer"),
    ],
)
def test_a_household_or_trade_name_is_taken_for_what_it_means(table, typed, meant):
    assert canonical(table, typed) == meant


@pytest.mark.parametrize("table", NAMED)
def test_no_name_has_two_answers(table):
    data = builtin_table("names")
    answers = {ident: [(ident, *names)] for ident, names in data["alias"].get(table, {}).items()}
    for ident in builtin_table(table):
        answers.setdefault(ident, []).append((ident,))
    for ident, entry in data["refused"].items():
        if entry["table"] == table:
            answers[f"refused {ident}"] = [(ident, *entry["names"])]
    # Spelt as they are compared: without hyphens and the like.
    said = {
        ("".join(filter(str.isalnum, name)), answer)
        for answer, lists in answers.items()
        for names in lists
        for name in names
    }
    names = [name for name, _ in said]
    assert not sorted({name for name in names if names.count(name) > 1})


@pytest.mark.parametrize("table", NAMED)
def test_every_name_gives_an_id_or_a_reason(table):
    known = set(builtin_table(table)) | {"electrolytic"}
    for name, ident, _ in names_of(table):
        refused = refused_name(table, name)
        assert (refused is None) == (ident in known), name
        if refused is not None:
            assert refused.message
            assert refused.remedy.endswith("."), name
            assert refused.source
        assert canonical(table, name) == canonical(table, name.upper().replace("-", " "))


@pytest.mark.parametrize("element", ELEMENTS)
def test_no_element_is_guessed_to_be_another(element):
    with pytest.raises(TableError, match="is refused: "):
        load_material(element)


SALTS = [
    (element, ion)
    for element in ELEMENTS
    for ion in ("hydroxide", "persulfate", "chloride", "sulfate", "chlorate")
    if (element, ion) not in {("sodium", "hydroxide"), ("sodium", "persulfate")}
]


@pytest.mark.parametrize(("element", "ion"), SALTS)
def test_no_salt_of_another_element_is_guessed_to_be_one_of_the_table(element, ion):
    with pytest.raises(TableError) as caught:
        load_etchant(f"{element}-{ion}")
    assert "did you mean" not in str(caught.value)


@pytest.mark.parametrize(
    ("table", "typed"),
    [
        ("etchants", "sodium-chlorite"),
        ("etchants", "sodium-hypochlorite"),
        ("etchants", "ferrous chloride"),
        ("etchants", "cuprous chloride"),
        ("etchants", "ammonium perchlorate"),
        ("etchants", "copper sulfite"),
        ("etchants", "sodium hydride"),
        ("etchants", "sodium peroxide"),
        ("etchants", "sodium hydrosulfide"),
        ("etchants", "ferric nitrate"),
        ("materials", "galinstan"),
        ("materials", "aluminium lithium"),
        ("materials", "nickel brass"),
        ("materials", "copper nickel"),
        ("electrolytes", "sodium chlorate"),
        ("electrolytes", "sodium nitrate"),
        ("electrolytes", "zinc sulfide"),
        ("resists", "vinyl paint"),
    ],
)
def test_a_name_near_in_letters_and_far_in_nature_is_no_misspelling(table, typed):
    assert "did you mean" not in str(unknown(table, typed))


@pytest.mark.parametrize(
    ("table", "typed", "meant"),
    [
        ("materials", "aluminiun", "aluminium"),
        ("materials", "mild-stele", "mild-steel"),
        ("etchants", "sodium-hidroxyd", "sodium-hydroxide"),
        ("etchants", "ferric-chlorid", "ferric-chloride"),
        ("resists", "acrilic-lacquer", "acrylic-lacquer"),
    ],
)
def test_a_slip_of_the_finger_is_guessed(table, typed, meant):
    assert f"did you mean {meant!r}?" in str(unknown(table, typed))


@pytest.mark.parametrize(
    ("table", "typed", "meant"),
    [
        ("materials", "magnezium", "magnesium"),
        ("materials", "titaniun", "titanium"),
        ("materials", "galvanised steal", "galvanised-steel"),
        ("etchants", "potasium hydroxide", "potassium-hydroxide"),
        ("etchants", "hydrofloric acid", "hydrofluoric"),
        ("etchants", "perclorate", "perchlorate"),
    ],
)
def test_a_slip_in_a_refused_name_gets_its_reason(table, typed, meant):
    said = str(unknown(table, typed))
    assert "it is refused: " in said
    assert meant in said


@given(word=st.text(max_size=80))
def test_any_word_gets_one_sentence(word):
    for table in NAMED:
        assert isinstance(canonical(table, word), str)
        assert str(unknown(table, word))
