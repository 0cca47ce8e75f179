"""The `[bath]` table, the spares, and the keys of an etch by a current."""

import pytest

from jobs.job_texts import PLATE, SIGN, edited, mistakes, only_mistake, read
from stopout.job.record import JobBath, Strength
from stopout.jobs.forms.strengths import StrengthForm
from stopout.values import Measured

BATH = """
[bath]
id = "lye-1"
dissolved = "6 g/L"
volume = "2 L"
tray = ["200 mm", "150 mm"]
plates_at_once = 2
stock = "50 %"
coupon_area = "4 cm^2"
"""
ELECTRO = edited(
    edited(PLATE, r"^etchant = .*", 'etchant = "electrolytic"\nelectrolyte = "sodium-chloride"'),
    r"^rate = .*\n",
    "",
)


def test_the_whole_table_is_read_in_the_units_of_the_house():
    assert read(PLATE + BATH).bath == JobBath(
        ident="lye-1",
        dissolved_g_per_l=6.0,
        volume_l=2.0,
        tray_mm=(200.0, 150.0),
        plates_at_once=2,
        stock=Strength(value=50.0, unit="%"),
        coupon_area_mm2=400.0,
    )


def test_without_the_table_the_bath_is_fresh():
    assert read(PLATE).bath == JobBath() == read(PLATE + "\n[bath]\n").bath
    assert read(PLATE).spares == 0
    assert read(edited(PLATE, "^quantity = .*", "quantity = 4\nspares = 2")).spares == 2


def test_the_defaults_of_the_table_are_what_is_taken_where_they_are_left_out():
    written = '\n[bath]\ndissolved = "0 g/L"\ncoupon_area = "0 mm^2"\n'
    assert read(PLATE + written).bath == JobBath()


@pytest.mark.parametrize(
    ("line", "field", "words"),
    [
        ('dissolved = "6 %"', "bath.dissolved", "grams of metal per litre"),
        ("dissolved = 6", "bath.dissolved", "g/L"),
        ('dissolved = "900 g/L"', "bath.dissolved", "from 0 to 500 g/L"),
        ('volume = "0 L"', "bath.volume", "at least 1 mL"),
        ('tray = "200 mm"', "bath.tray", "list of 2"),
        ("plates_at_once = 0", "bath.plates_at_once", "from 1 to 1000"),
        ('coupon_area = "-1 mm^2"', "bath.coupon_area", "at least 0 mm^2"),
        ('colour = "blue"', "bath.colour", "not a key"),
    ],
)
def test_a_mistake_is_told_with_what_would_be_right(line, field, words):
    told = only_mistake(f"{PLATE}\n[bath]\n{line}\n")
    assert told.field == field
    assert words in told.message


def test_a_sign_has_no_bath():
    assert only_mistake(SIGN + '\n[bath]\nid = "lye-1"\n').field == "bath"


def test_an_etch_by_a_current_is_read():
    more = (
        'electrolyte = "sodium-chloride"\ncurrent = "500 mA"\nvoltage = "3 V"\n'
        "efficiency = [0.85, 0.05]\nfilled = true\nchromate_acknowledged = true"
    )
    etch = read(edited(ELECTRO, "^electrolyte = .*", more)).etch
    assert etch.current_a == 0.5
    assert etch.voltage_v == 3.0
    assert etch.efficiency == Measured(value=0.85, sd=0.05)
    assert etch.is_filled
    assert etch.is_chromate_acknowledged
    dense = edited(ELECTRO, "^electrolyte", 'current_density = "50 mA/cm^2"\nelectrolyte')
    assert read(dense).etch.current_density_a_per_cm2 == 0.05


def test_a_salt_that_no_table_has_is_told_with_the_other_mistakes():
    text = edited(edited(ELECTRO, "^electrolyte = .*", 'electrolyte = "x"'), "^depth = .*", "")
    told = {one.field: (one.message, one.line) for one in mistakes(text)}
    assert told.keys() == {"etch.depth", "etch.electrolyte"}
    words, line = told["etch.electrolyte"]
    assert "unknown electrolyte" in words
    assert text.splitlines()[line - 1] == 'electrolyte = "x"'


@pytest.mark.parametrize(
    ("text", "field", "words"),
    [
        (
            edited(PLATE, "^rise = .*", 'current = "1 A"'),
            "etch.current",
            'etchant = "electrolytic"',
        ),
        (edited(ELECTRO, "^electrolyte = .*", ""), "etch.electrolyte", "is missing"),
        (
            edited(ELECTRO, "^electrolyte = .*", 'electrolyte = "brine-x"'),
            "etch.electrolyte",
            "unknown electrolyte 'brine-x'",
        ),
        (
            edited(ELECTRO, "^electrolyte = .*", 'electrolyte = "zinc-sulfate"'),
            "etch.electrolyte",
            "electrolytes for ",
        ),
        (
            edited(ELECTRO, "^strength = .*", 'strength = "90 %"'),
            "etch.strength",
            "stronger than the density data reach",
        ),
        (
            edited(ELECTRO, "^rise = .*", 'current = "1 A"\ncurrent_density = "0.1 A/cm^2"'),
            "etch.current_density",
            "excludes current",
        ),
        (
            edited(ELECTRO, "^rise = .*", 'rate = "2 um/min"'),
            "etch.rate",
            "follows from the current",
        ),
        (
            edited(ELECTRO, "^rise = .*", 'current_density = "10 A/dm^2"'),
            "etch.current_density",
            "0.1 A/cm^2",
        ),
        (edited(ELECTRO, "^rise = .*", "voltage = 3"), "etch.voltage", "V"),
    ],
)
def test_a_current_where_it_does_not_belong_is_told(text, field, words):
    told = next(m for m in mistakes(text) if m.field == field)
    assert words in told.message


def test_a_bath_by_its_name_alone_is_that_bath():
    text = 'bath = "lye-1"\n' + PLATE
    assert read(text).bath == JobBath(ident="lye-1")


@pytest.mark.parametrize(
    ("number", "units"),
    [
        (0.49, ()), (0.5, ("%",)), (4.9, ("%",)), (5, ("%", "g/L")), (29, ("%", "g/L")),
        (30, ("%", "g/L", "degBe")), (50, ("%", "g/L", "degBe")), (51, ("%", "g/L")),
        (60, ("%", "g/L")), (61, ("g/L",)), (1500, ("g/L",)), (1501, ()),
    ],
)  # fmt: skip
def test_a_bare_strength_is_told_the_units_in_which_it_would_be_usual(number, units):
    """Common practice, no source: by weight to a concentrated acid, lye, ferric chloride."""
    assert StrengthForm()._bare(number) == "|".join(units)
