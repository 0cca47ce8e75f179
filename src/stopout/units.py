"""Quantities with units: a strict parser, and the formatting that everybody uses.

A quantity is one decimal number and one unit (`"0.12 mm"`, `"20 mm/s"`, `"30 %"`); nothing else
is read: no arithmetic, no fractions, no decimal comma, no prefix that is not listed. What is
refused is refused with the spelling that was probably meant. Conversions are carried out in
rational arithmetic and rounded once, so that `"25 um"` is the same float as `"0.025 mm"`.

The inch is 25.4 mm exactly, and absolute temperatures convert by degC = (degF - 32) 5/9 (NIST
Special Publication 811, 2008, appendix B.8, which has the fluid ounce, gallon, ounce and pound
too).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Literal, cast

from stopout.errors import UnitError

StrengthUnit = Literal["g/L", "%", "degBe"]

# ASCII digits only: \d would also match the digits of other scripts.
_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?"
_UNSIGNED = _NUMBER.replace("[+-]?", r"\+?", 1)
# A plain space, a no-break space, a thin space or a narrow no-break space, as texts are pasted.
_GAP = "[ \u00a0\u2009\u202f]*"
_WHOLE = re.compile(f"({_NUMBER}){_GAP}([^0-9.,/_ +-].*)?", re.ASCII)
_COMMA = re.compile(r"([+-]?[0-9]+),([0-9]+)(?![0-9,.])(.*)", re.ASCII)
_RATIO = re.compile(r"(?:([0-9]{1,6})[ -])?([0-9]{1,6})/([0-9]{1,6})(?![0-9.])(.*)", re.ASCII)
_LONGEST = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A kind of quantity: its base unit, the units it takes, and those it only recognises.

    `units` maps a unit's name to (factor, offset): base = (number + offset) x factor.
    `foreign` likewise names units that are refused with the converted value as the hint. `also`
    are other spellings that are read. `bare` are the units that people leave out, the likeliest
    first; the base unit where none is named.
    """

    name: str
    unit: str
    example: str
    units: Mapping[str, tuple[Fraction, Fraction]]
    foreign: Mapping[str, tuple[Fraction, Fraction]] = field(default_factory=dict)
    also: Mapping[str, str] = field(default_factory=dict)
    bare: tuple[str, ...] = ()

    @property
    def name_end(self) -> str:
        """The unit as names of values end with it, such as `_mm_s2`; none for a share."""
        plain = self.unit.lower().replace("^", "").replace("/s", "_s").replace("/", "_per_")
        return "" if plain == "%" else f"_{plain}"


def _scale(**factors: str) -> dict[str, tuple[Fraction, Fraction]]:
    return {name: (Fraction(factor), Fraction(0)) for name, factor in factors.items()}


def _scales(factors: Mapping[str, str]) -> dict[str, tuple[Fraction, Fraction]]:
    return {name: (Fraction(factor), Fraction(0)) for name, factor in factors.items()}


_LENGTHS = {"um": "1/1000", "mm": "1", "cm": "10", "in": "127/5", "mil": "127/5000"}

QUANTITIES: Mapping[str, Quantity] = {
    quantity.name: quantity
    for quantity in (
        Quantity(
            name="length",
            unit="mm",
            example="0.12 mm",
            units=_scales(_LENGTHS),
            foreign=_scale(m="1000", nm="1/1000000", ft="1524/5"),
            also={"inch": "in", "inches": "in", "thou": "mil"},
            bare=("mm", "in"),
        ),
        Quantity(
            name="area",
            unit="mm^2",
            example="1200 mm^2",
            units=_scales({"mm^2": "1", "cm^2": "100", "in^2": "16129/25"}),
            foreign=_scales({"m^2": "1000000"}),
        ),
        Quantity(
            name="time",
            unit="s",
            example="30 s",
            units=_scale(s="1", min="60", h="3600"),
            foreign=_scale(ms="1/1000"),
        ),
        Quantity(
            name="delay",
            unit="ms",
            example="0.4 ms",
            units=_scale(ms="1", us="1/1000", s="1000"),
        ),
        Quantity(
            name="temperature",
            unit="degC",
            example="25 degC",
            units={
                "degC": (Fraction(1), Fraction(0)),
                "degF": (Fraction(5, 9), Fraction(-32)),
            },
            foreign={"K": (Fraction(1), Fraction(-27315, 100))},
            also={"\u00b0C": "degC", "\u00b0F": "degF", "C": "degC", "F": "degF"},
            bare=("degC", "degF"),
        ),
        Quantity(
            name="temperature difference",
            unit="K",
            example="10 K",
            units=_scales({"K": "1", "degC": "1", "degF": "5/9"}),
        ),
        Quantity(
            name="power",
            unit="W",
            example="10 W",
            units=_scale(W="1", mW="1/1000"),
            foreign=_scale(kW="1000"),
        ),
        Quantity(
            name="speed",
            unit="mm/s",
            example="20 mm/s",
            units=_scales(
                {
                    "mm/s": "1",
                    "mm/min": "1/60",
                    "m/min": "50/3",
                    "in/s": "127/5",
                    "in/min": "127/300",
                }
            ),
            foreign=_scales({"m/s": "1000", "cm/s": "10"}),
            bare=("mm/min", "mm/s"),
        ),
        Quantity(
            name="acceleration",
            unit="mm/s^2",
            example="1000 mm/s^2",
            units=_scales({"mm/s^2": "1", "in/s^2": "127/5"}),
            foreign=_scales({"m/s^2": "1000", "cm/s^2": "10"}),
        ),
        Quantity(name="fraction", unit="%", example="30 %", units=_scales({"%": "1/100"})),
        Quantity(
            name="resolution",
            unit="dpi",
            example="600 dpi",
            units=_scale(dpi="1"),
            foreign=_scales({"px/mm": "127/5", "px/cm": "127/50"}),
        ),
        Quantity(
            name="angle",
            unit="deg",
            example="90 deg",
            units=_scale(deg="1"),
        ),
        # The fluid ounce and gallon of the United States, 231/128 and 231 cubic inches.
        Quantity(
            name="volume",
            unit="L",
            example="2 L",
            units=_scales(
                {
                    "L": "1",
                    "mL": "1/1000",
                    "fl oz": "473176473/16000000000",
                    "gal": "473176473/125000000",
                }
            ),
            also={"floz": "fl oz", "ml": "mL", "l": "L"},
            bare=("L", "mL"),
        ),
        Quantity(
            name="memory",
            unit="GiB",
            example="4 GiB",
            units=_scales(
                {"GiB": "1", "MiB": "1/1024", "GB": "1953125/2097152", "MB": "15625/16777216"}
            ),
        ),
        Quantity(
            name="mass",
            unit="g",
            example="100 g",
            units=_scale(g="1", kg="1000", oz="45359237/1600000", lb="45359237/100000"),
            foreign=_scale(mg="1/1000"),
        ),
        Quantity(
            name="rate",
            unit="um/min",
            example="2.3 um/min",
            units=_scales({"um/min": "1", "mil/min": "127/5"}),
            foreign=_scales({"mm/min": "1000", "um/s": "60", "um/h": "1/60", "mm/h": "50/3"}),
        ),
        Quantity(
            name="wavelength",
            unit="nm",
            example="500 nm",
            units=_scales({"nm": "1", "um": "1000", "mm": "1000000"}),
        ),
        Quantity(
            name="current",
            unit="A",
            example="2 A",
            units=_scale(A="1", mA="1/1000"),
        ),
        Quantity(
            name="current density",
            unit="A/cm^2",
            example="0.1 A/cm^2",
            units=_scales({"A/cm^2": "1", "mA/cm^2": "1/1000"}),
            foreign=_scales({"A/dm^2": "1/100", "A/in^2": "2500/16129"}),
        ),
        Quantity(
            name="voltage",
            unit="V",
            example="3 V",
            units=_scale(V="1"),
            foreign=_scale(mV="1/1000"),
        ),
        # Kept in the unit that was written: the conversion needs the etchant's density.
        Quantity(
            name="strength",
            unit="g/L",
            example="100 g/L",
            units=_scales({"g/L": "1", "%": "1", "degBe": "1"}),
            foreign=_scales({"kg/L": "1000", "mg/L": "1/1000"}),
            also={"\u00b0Be": "degBe", "g/l": "g/L"},
            bare=("%", "g/L", "degBe"),
        ),
    )
}

# Spellings of a unit that people write, and the one that is read.
_SPELT: Mapping[str, str] = {
    "micron": "um",
    "microns": "um",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "''": "in",
    "thou": "mil",
    "mils": "mil",
    "sec": "s",
    "secs": "s",
    "second": "s",
    "seconds": "s",
    "minute": "min",
    "minutes": "min",
    "hr": "h",
    "hour": "h",
    "hours": "h",
    "c": "degC",
    "°c": "degC",
    "°": "deg",
    "celsius": "degC",
    "f": "degF",
    "°f": "degF",
    "degrees": "deg",
    "°be": "degBe",
    "be": "degBe",
    "baume": "degBe",
    "watt": "W",
    "watts": "W",
    "mm/sec": "mm/s",
    "mm/s2": "mm/s^2",
    "mm/s²": "mm/s^2",
    "mm/s/s": "mm/s^2",
    "mm2": "mm^2",
    "mm²": "mm^2",
    "cm2": "cm^2",
    "cm²": "cm^2",
    "percent": "%",
    "per cent": "%",
    "ppi": "dpi",
    "litre": "L",
    "litres": "L",
    "micron/min": "um/min",
    "microns/min": "um/min",
}


def parse_quantity(value: object, name: str, *, bare: str = "") -> tuple[float, str]:
    """Read one quantity strictly.

    Parameters
    ----------
    value : object
        What was written; anything but a text of one number and one unit is refused.
    name : str
        A key of `QUANTITIES`.
    bare : str
        The units that a bare number here probably has, separated by `|`; the quantity's own
        where left out.

    Returns
    -------
    float
        The value in the base unit of the quantity (a fraction for `%`).
    str
        The unit as it was written, in its plain spelling (`um` for both micro signs).

    Raises
    ------
    UnitError
        With one sentence: what is wrong and what would be right.

    Examples
    --------
    >>> parse_quantity("25 um", "length")
    (0.025, 'um')
    >>> parse_quantity("0,5 mm", "length")
    Traceback (most recent call last):
        ...
    stopout.errors.UnitError: "0,5 mm" has a decimal comma; write "0.5 mm"
    """
    quantity = QUANTITIES[name]
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        raise UnitError(_no_unit(value, quantity, bare))
    if not isinstance(value, str):
        raise UnitError(f"{shown(value)} is not {_a(quantity)}")
    text = value.strip(" \t\u00a0\u2009\u202f")
    match = _WHOLE.fullmatch(text)
    if match is None or len(text) > _LONGEST:
        raise UnitError(_unreadable(value, text, quantity, bare))
    number, unit = match[1], _plain(match[2] or "")
    unit = quantity.also.get(unit, unit)
    if not unit:
        raise UnitError(_no_unit(number, quantity, bare))
    if unit not in quantity.units:
        raise UnitError(_wrong_unit(value, number, unit, quantity))
    factor, offset = quantity.units[unit]
    return float((Fraction(number) + offset) * factor), unit


def quantity_pattern(name: str, *, signed: bool = True) -> str:
    """The regular expression (ECMA 262 and Python alike) of the texts that are read as `name`."""
    known = (*QUANTITIES[name].units, *QUANTITIES[name].also)
    units = sorted(known, key=lambda unit: (-len(unit), unit))
    spelt = [unit for plain in units for unit in _micro_spellings(plain)]
    number = _NUMBER if signed else _UNSIGNED
    return f"^{number}{_GAP}(?:{'|'.join(re.escape(unit) for unit in spelt)})$"


def parse_length_mm(value: object, *, bare: str = "") -> float:
    """Read a length (um, mm, cm, in, mil) [mm]."""
    return parse_quantity(value, "length", bare=bare)[0]


def parse_time_s(value: object) -> float:
    """Read a time (s, min, h) [s]."""
    return parse_quantity(value, "time")[0]


def parse_temperature_degc(value: object) -> float:
    """Read a temperature (degC, degF) [degC]; a value in kelvin is refused with the degC."""
    return parse_quantity(value, "temperature")[0]


def parse_mass_g(value: object) -> float:
    """Read a mass (g, kg) [g]."""
    return parse_quantity(value, "mass")[0]


def parse_strength(value: object, *, bare: str = "") -> tuple[float, StrengthUnit]:
    """Read a bath's strength (g/L, % by weight, degBe on the heavy scale), unit kept."""
    number, unit = parse_quantity(value, "strength", bare=bare)
    return number, cast(StrengthUnit, unit)


def format_number(value: float, *, digits: int | None = 4) -> str:
    """Write a number plainly: no exponent, no trailing zeros, whole digits always kept.

    `digits` counts significant digits; None gives the shortest text that reads back exactly.

    Examples
    --------
    >>> format_number(0.123456), format_number(1747200), format_number(-0.0)
    ('0.1235', '1747200', '0')
    """
    value = float(value)
    if not math.isfinite(value):
        return str(value)
    exact = Decimal(repr(value))
    if digits is not None and exact:
        exact = exact.quantize(Decimal(1).scaleb(min(0, exact.adjusted() + 1 - digits)))
    text = f"{exact:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


def format_duration(time_s: float) -> str:
    """Write a time for a person: `8.5 s`, `12 min 30 s`, `2 h 05 min`.

    Under ten seconds to a tenth, under an hour to the second, above to the minute, from a thousand
    hours on to the hour.
    """
    if not math.isfinite(time_s):
        return f"{time_s} s"
    if abs(time_s) < 9.95:
        return f"{format_number(round(time_s, 1))} s"
    sign = "-" if time_s < 0 else ""
    seconds = round(abs(time_s))
    if seconds < 60:
        return f"{sign}{seconds} s"
    if seconds < 3600:
        return f"{sign}{seconds // 60} min {seconds % 60:02d} s"
    minutes = round(abs(time_s) / 60)
    if minutes >= 60_000:
        return f"{sign}{minutes / 60:.0f} h"
    return f"{sign}{minutes // 60} h {minutes % 60:02d} min"


def format_roughly(time_s: float) -> str:
    """Write an uncertain time: to the minute, past an hour to five of them.

    Examples
    --------
    >>> format_roughly(40.0), format_roughly(1034.0), format_roughly(14081.0)
    ('40 s', '17 min', '3 h 55 min')
    """
    minutes = time_s / 60.0
    if minutes < 1.5:
        return format_duration(time_s)
    if round(minutes) < 60:
        return f"{minutes:.0f} min"
    return format_duration(300.0 * round(minutes / 5.0))


def shown(value: object) -> str:
    """What was written, shortened, as a message shows it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, (list, tuple)):
        return f"a list of {len(value)}"
    if isinstance(value, str):
        # Control characters would break the one line that a message has.
        clean = "".join(c if c.isprintable() else "?" for c in value)
        return f'"{clean}"' if len(clean) <= 40 else f'"{clean[:37]}..."'
    text = str(value) if not isinstance(value, int) or abs(value) < 10**30 else "a huge number"
    return text if len(text) <= 40 else f"{text[:37]}..."


def _plain(unit: str) -> str:
    """The unit with either micro sign (U+00B5, U+03BC) as a plain u."""
    return unit.replace("\u00b5", "u").replace("\u03bc", "u")


def _micro_spellings(unit: str) -> tuple[str, ...]:
    if unit.startswith("um"):
        return unit, f"\u00b5{unit[1:]}", f"\u03bc{unit[1:]}"
    return (unit,)


def _a(quantity: Quantity) -> str:
    article = "an" if quantity.name[0] in "aeiou" else "a"
    units = ", ".join(quantity.units)
    like = f'write a number and a unit ({units}), such as "{quantity.example}"'
    return f"{article} {quantity.name}; {like}"


def _no_unit(number: object, quantity: Quantity, bare: str) -> str:
    """The sentence for a number without a unit, with the reading that was probably meant."""
    text = shown(number).strip('"')
    if re.fullmatch(_NUMBER, text) is None or len(text) > _LONGEST:
        return f"{shown(number)} is not {_a(quantity)}"
    units = _bare_units(quantity, bare)
    if quantity.name == "fraction" and 0 < Fraction(text) <= 1:
        text = _decimal(Fraction(text) * 100)
    elif quantity.name == "wavelength" and Fraction(text) < 50:
        units = ("um",)
    readings = [f'"{text} {unit}"' for unit in units]
    either = " or ".join(filter(None, [", ".join(readings[:-1]), readings[-1]]))
    return f"{shown(number)} has no unit; write {either}"


def _bare_units(quantity: Quantity, bare: str) -> tuple[str, ...]:
    return tuple(bare.split("|")) if bare else (quantity.unit,)


def _likely_unit(unit: str, quantity: Quantity, bare: str = "") -> str:
    """The unit of the quantity that a person who wrote `unit` probably meant, or nothing."""
    if unit in quantity.units:
        return unit
    if not unit:
        return _bare_units(quantity, bare)[0]
    meant = _SPELT.get(unit.lower(), "")
    if meant in quantity.units:
        return meant
    folded = [known for known in quantity.units if known.lower() == unit.lower()]
    return folded[0] if folded else ""


def _wrong_unit(value: str, number: str, unit: str, quantity: Quantity) -> str:
    if meant := _likely_unit(unit, quantity):
        return f'{shown(value)} is not read; write "{number} {meant}"'
    if unit in quantity.foreign:
        factor, offset = quantity.foreign[unit]
        converted = _decimal((Fraction(number) + offset) * factor)
        return f'{shown(value)}: {unit} is not read here; write "{converted} {quantity.unit}"'
    return (
        f"{shown(value)}: the unit {shown(unit)} is not one of {', '.join(quantity.units)}; "
        f'write it like "{quantity.example}"'
    )


def _unreadable(value: str, text: str, quantity: Quantity, bare: str) -> str:
    """The sentence for a text that is not a number and a unit."""

    def like(number: str, rest: str) -> str:
        unit = _plain(rest.strip())
        return f'"{number} {_likely_unit(unit, quantity, bare) or quantity.unit}"'

    if len(text) <= _LONGEST:
        if comma := _COMMA.fullmatch(text):
            whole, decimals, rest = comma.groups()
            hint = f"write {like(f'{whole}.{decimals}', rest)}"
            # "1,200" may be a thousand with a separator: both readings are offered.
            if len(decimals) == 3 and whole.lstrip("+-0"):
                hint += f" or {like(whole + decimals, rest)}"
            return f"{shown(value)} has a decimal comma; {hint}"
        if (ratio := _RATIO.fullmatch(text)) and int(ratio[3]) > 0:
            number = int(ratio[1] or 0) + Fraction(int(ratio[2]), int(ratio[3]))
            return f"{shown(value)} is a fraction; write {like(_decimal(number), ratio[4])}"
        if text.startswith("\u2212"):
            return f'{shown(value)} has a long minus sign; write "-{text[1:]}"'
    return f"{shown(value)} is not {_a(quantity)}"


def _decimal(number: Fraction) -> str:
    """A rational number as a plain decimal of at most seven significant digits."""
    return format_number(float(number), digits=7)
