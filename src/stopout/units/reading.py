"""A strict reader of quantities: one decimal number and one unit (`"0.12 mm"`, `"30 %"`).

Nothing else is read: no arithmetic, no fractions, no decimal comma, no prefix that is not listed.
What is refused is refused with the spelling that was probably meant. Conversions are carried out
in rational arithmetic and rounded once, so that `"25 um"` is the same float as `"0.025 mm"`.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Literal, cast

from stopout.errors import UnitError
from stopout.units.quantities import QUANTITIES, SPELT, Quantity
from stopout.units.writing import format_number, shown

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
    meant = SPELT.get(unit.lower(), "")
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
