"""Quantities: what is read, what is refused and with which hint, and how values are written.

Conversion factors are those of NIST Special Publication 811 (2008): appendix B.8 gives the inch
as 2.54 E+01 mm and the mil as 2.54 E-02 mm (both exact), appendix B.8 and section 4.2.1 the
temperature conversions. Minute and hour are of table 6 there, the litre of the same table.
"""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stopout import units
from stopout.errors import UnitError

EXAMPLES = [
    (quantity.name, unit) for quantity in units.QUANTITIES.values() for unit in quantity.units
]


@pytest.mark.parametrize(
    ("text", "expected_mm"),
    [
        ("1 in", 25.4),
        ("1 mil", 0.0254),
        ("25 um", 0.025),
        ("7 um", 0.007),
        ("3 cm", 30.0),
        ("0.12mm", 0.12),
        (".5 mm", 0.5),
        ("  0.12 mm ", 0.12),
        ("0.12\u00a0mm", 0.12),
        ("-4 mm", -4.0),
        ("1e3 um", 1.0),
    ],
)
def test_lengths_are_read_in_mm_and_rounded_once(text: str, expected_mm: float) -> None:
    assert units.parse_length_mm(text) == expected_mm


@pytest.mark.parametrize("unit", ["um", "\u00b5m", "\u03bcm"])
def test_all_spellings_of_the_micrometre_are_read(unit: str) -> None:
    assert units.parse_length_mm(f"25 {unit}") == 0.025
    assert units.parse_quantity(f"2.3 {unit}/min", "rate")[0] == 2.3


def test_a_thousand_mil_are_an_inch() -> None:
    assert units.parse_length_mm("1000 mil") == units.parse_length_mm("1 in")


@pytest.mark.parametrize(
    ("text", "expected_degc"),
    [("32 degF", 0.0), ("212 degF", 100.0), ("-40 degF", -40.0), ("40 degC", 40.0)],
)
def test_absolute_temperatures_use_the_fixed_points_of_the_scales(
    text: str, expected_degc: float
) -> None:
    assert units.parse_temperature_degc(text) == expected_degc


@pytest.mark.parametrize(
    ("text", "expected_k"), [("10 K", 10.0), ("18 degF", 10.0), ("10 degC", 10.0)]
)
def test_temperature_differences_have_no_zero_point(text: str, expected_k: float) -> None:
    assert units.parse_quantity(text, "temperature difference")[0] == expected_k


def test_the_other_quantities_are_read_in_their_base_units() -> None:
    assert units.parse_time_s("2 h") == 7200
    assert units.parse_time_s("1.5 min") == 90
    assert units.parse_quantity("5500 mW", "power")[0] == 5.5
    assert units.parse_quantity("1200 mm/min", "speed")[0] == 20
    assert units.parse_quantity("800 mm/s^2", "acceleration")[0] == 800
    assert units.parse_quantity("7 %", "fraction")[0] == 0.07
    assert units.parse_quantity("600 dpi", "resolution")[0] == 600
    assert units.parse_quantity("45 deg", "angle")[0] == 45
    assert units.parse_quantity("250 mL", "volume")[0] == 0.25
    assert units.parse_mass_g("1.5 kg") == 1500
    assert units.parse_quantity("10.6 um", "wavelength")[0] == 10600
    assert units.parse_quantity("1 in^2", "area")[0] == 645.16  # 25.4 squared
    assert units.parse_strength("40 degBe") == (40.0, "degBe")
    assert units.parse_strength("10 %") == (10.0, "%")


@pytest.mark.parametrize(
    ("quantity", "value", "hint"),
    [
        ("speed", 20, '20 has no unit; write "20 mm/s"'),
        ("speed", "20", '"20" has no unit; write "20 mm/s"'),
        ("fraction", 30, 'write "30 %"'),
        ("fraction", 0.3, 'write "30 %"'),
        ("fraction", 1, 'write "100 %"'),
        ("wavelength", 450, 'write "450 nm"'),
        ("wavelength", 10.6, 'write "10.6 um"'),
        ("length", "1/4 in", '"1/4 in" is a fraction; write "0.25 in"'),
        ("length", "1 1/2 in", 'write "1.5 in"'),
        ("length", '1/4"', 'write "0.25 in"'),
        ("length", "0,12 mm", '"0,12 mm" has a decimal comma; write "0.12 mm"'),
        ("length", "1,200 mm", 'write "1.200 mm" or "1200 mm"'),
        ("length", "0,120 mm", 'write "0.120 mm"'),
        ("length", "0,5", 'write "0.5 mm"'),
        ("length", "2 m", 'm is not read here; write "2000 mm"'),
        ("length", "5 MM", 'write "5 mm"'),
        ("length", "25 microns", 'write "25 um"'),
        ("temperature", "313.15 K", 'write "40 degC"'),
        ("temperature", "\u22125 degC", 'has a long minus sign; write "-5 degC"'),
        ("acceleration", "800 mm/s\u00b2", 'write "800 mm/s^2"'),
        ("rate", "1 um/s", 'write "60 um/min"'),
        ("strength", "100 kg/L", 'write "100000 g/L"'),
    ],
)
def test_what_is_refused_is_refused_with_what_was_probably_meant(
    quantity: str, value: object, hint: str
) -> None:
    with pytest.raises(UnitError, match=re.escape(hint)) as caught:
        units.parse_quantity(value, quantity)
    assert str(caught.value).count("\n") == 0


# NIST Special Publication 811 (2008), appendix B.8, with the digits as printed there.
@pytest.mark.parametrize(
    ("quantity", "value", "read", "unit"),
    [
        ("length", "1 inch", 25.4, "in"),
        ("length", "2 thou", 0.0508, "mil"),
        ("temperature", "104 °F", 40.0, "degF"),
        ("temperature", "40 °C", 40.0, "degC"),
        ("volume", "1 fl oz", 2.957353e-2, "fl oz"),
        ("volume", "1 gal", 3.785412, "gal"),
        ("mass", "1 oz", 28.34952, "oz"),
        ("mass", "1 lb", 453.5924, "lb"),
        ("speed", "1200 mm/min", 20.0, "mm/min"),
        ("speed", "60 in/min", 25.4, "in/min"),
        ("rate", "1 mil/min", 25.4, "mil/min"),
        ("strength", "100 g/l", 100.0, "g/L"),
    ],
)
def test_units_that_people_write_are_read(quantity, value, read, unit) -> None:
    found, spelt = units.parse_quantity(value, quantity)
    assert found == pytest.approx(read, rel=5e-7)
    assert spelt == unit


def test_a_bare_number_takes_the_unit_that_its_place_suggests() -> None:
    with pytest.raises(UnitError, match='write "25 um"'):
        units.parse_length_mm(25, bare="um")


@pytest.mark.parametrize(
    "value",
    [
        "nan mm",
        "inf mm",
        "-inf mm",
        "0x10 mm",
        "1_000 mm",
        "1e999 mm",
        "5. mm",
        "1+1 mm",
        "1.2.3 mm",
        "5 mm mm",
        "5 foo",
        "5\nmm",
        "\u0663 mm",  # an Arabic-Indic digit three
        "mm",
        "",
        "1/0 in",
        "9" * 100 + " mm",
        math.nan,
        math.inf,
        10**5000,
        True,
        None,
        ["5 mm"],
        {"mm": 5},
    ],
    ids=lambda value: repr(value)[:12] if not isinstance(value, int) else type(value).__name__,
)
def test_anything_but_one_number_and_one_unit_is_refused_in_one_sentence(value: object) -> None:
    with pytest.raises(UnitError) as caught:
        units.parse_length_mm(value)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 200


@given(
    where=st.sampled_from(EXAMPLES),
    number=st.floats(min_value=-1e12, max_value=1e12).filter(lambda x: x == 0 or abs(x) > 1e-12),
)
def test_what_is_written_exactly_reads_back_the_same(where: tuple[str, str], number: float) -> None:
    name, unit = where
    quantity = units.QUANTITIES[name]
    read, spelt = units.parse_quantity(f"{units.format_number(number, digits=None)} {unit}", name)
    assert spelt == unit
    if unit == quantity.unit and name != "fraction":
        assert read == number
    else:
        factor, offset = quantity.units[unit]
        assert read == pytest.approx((number + float(offset)) * float(factor), rel=1e-12, abs=1e-12)


@given(
    number=st.floats(min_value=1e-6, max_value=1e9),
    digits=st.integers(min_value=1, max_value=12),
)
def test_rounding_keeps_the_significant_digits_asked_for(number: float, digits: int) -> None:
    text = units.format_number(number, digits=digits)
    assert float(text) == pytest.approx(number, rel=0.5000001 * 10.0 ** (1 - digits))
    assert "e" not in text.lower()


@given(st.sampled_from(EXAMPLES), st.text(max_size=12))
def test_any_text_is_read_or_refused_and_the_pattern_agrees(
    where: tuple[str, str], text: str
) -> None:
    name, unit = where
    for candidate in (text, f"{text} {unit}", f"5{text}{unit}"):
        stripped = candidate.strip(" \t\u00a0\u2009\u202f")
        matches = re.search(units.quantity_pattern(name), stripped) is not None
        try:
            value, _ = units.parse_quantity(candidate, name)
        except UnitError:
            assert not matches or stripped.endswith("\n")
        else:
            assert matches
            assert math.isfinite(value)


@pytest.mark.parametrize(
    ("time_s", "expected"),
    [
        (0.0, "0 s"),
        (8.54, "8.5 s"),
        (9.96, "10 s"),
        (59.7, "1 min 00 s"),
        (750, "12 min 30 s"),
        (3599.7, "1 h 00 min"),
        (7530, "2 h 06 min"),
        (-750, "-12 min 30 s"),
        (3.6e6, "1000 h"),
    ],
)
def test_durations_are_written_for_a_person(time_s: float, expected: str) -> None:
    assert units.format_duration(time_s) == expected


def test_numbers_are_written_plainly() -> None:
    assert units.format_number(0.123456) == "0.1235"
    assert units.format_number(1747200) == "1747200"
    assert units.format_number(9.99999) == "10"
    assert units.format_number(-0.0) == "0"
    assert units.format_number(1e22) == "1" + "0" * 22


def test_what_a_message_shows_is_one_short_line() -> None:
    assert units.shown("a\nb") == '"a?b"'
    assert len(units.shown("x" * 1000)) < 50
    assert units.shown(float("nan")) == '"nan"'
    assert units.shown(True) == "true"
    assert units.shown({"a": 1}) == "a table"
