"""The table of quantities: each one's base unit, the units it takes, and exact factors.

The inch is 25.4 mm exactly, and absolute temperatures convert by degC = (degF - 32) 5/9 (NIST
Special Publication 811, 2008, appendix B.8, which has the fluid ounce, gallon, ounce and pound
too).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction


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


def _scales(factors: str) -> dict[str, tuple[Fraction, Fraction]]:
    """Factors to the base unit by unit, written `um 1/1000, mm 1`."""
    each = (part.rsplit(" ", 1) for part in factors.split(", "))
    return {unit: (Fraction(factor), Fraction(0)) for unit, factor in each}


# A table is read as one: a quantity in a line or two.
# fmt: off
QUANTITIES: Mapping[str, Quantity] = {
    quantity.name: quantity
    for quantity in (
        Quantity(name="length", unit="mm", example="0.12 mm",
                 units=_scales("um 1/1000, mm 1, cm 10, in 127/5, mil 127/5000"),
                 foreign=_scales("m 1000, nm 1/1000000, ft 1524/5"),
                 also={"inch": "in", "inches": "in", "thou": "mil"}, bare=("mm", "in")),
        Quantity(name="area", unit="mm^2", example="1200 mm^2",
                 units=_scales("mm^2 1, cm^2 100, in^2 16129/25"),
                 foreign=_scales("m^2 1000000")),
        Quantity(name="time", unit="s", example="30 s", units=_scales("s 1, min 60, h 3600"),
                 foreign=_scales("ms 1/1000")),
        Quantity(name="delay", unit="ms", example="0.4 ms",
                 units=_scales("ms 1, us 1/1000, s 1000")),
        Quantity(name="temperature", unit="degC", example="25 degC",
                 units={"degC": (Fraction(1), Fraction(0)),
                        "degF": (Fraction(5, 9), Fraction(-32))},
                 foreign={"K": (Fraction(1), Fraction(-27315, 100))},
                 also={"\u00b0C": "degC", "\u00b0F": "degF", "C": "degC", "F": "degF"},
                 bare=("degC", "degF")),
        Quantity(name="temperature difference", unit="K", example="10 K",
                 units=_scales("K 1, degC 1, degF 5/9")),
        Quantity(name="power", unit="W", example="10 W", units=_scales("W 1, mW 1/1000"),
                 foreign=_scales("kW 1000")),
        Quantity(name="speed", unit="mm/s", example="20 mm/s",
                 units=_scales("mm/s 1, mm/min 1/60, m/min 50/3, in/s 127/5, in/min 127/300"),
                 foreign=_scales("m/s 1000, cm/s 10"), bare=("mm/min", "mm/s")),
        Quantity(name="acceleration", unit="mm/s^2", example="1000 mm/s^2",
                 units=_scales("mm/s^2 1, in/s^2 127/5"),
                 foreign=_scales("m/s^2 1000, cm/s^2 10")),
        Quantity(name="fraction", unit="%", example="30 %", units=_scales("% 1/100")),
        Quantity(name="resolution", unit="dpi", example="600 dpi", units=_scales("dpi 1"),
                 foreign=_scales("px/mm 127/5, px/cm 127/50")),
        Quantity(name="angle", unit="deg", example="90 deg", units=_scales("deg 1")),
        # The fluid ounce and gallon of the United States, 231/128 and 231 cubic inches.
        Quantity(name="volume", unit="L", example="2 L",
                 units=_scales("L 1, mL 1/1000, fl oz 473176473/16000000000, "
                               "gal 473176473/125000000"),
                 also={"floz": "fl oz", "ml": "mL", "l": "L"}, bare=("L", "mL")),
        Quantity(name="memory", unit="GiB", example="4 GiB",
                 units=_scales("GiB 1, MiB 1/1024, GB 1953125/2097152, MB 15625/16777216")),
        Quantity(name="mass", unit="g", example="100 g",
                 units=_scales("g 1, kg 1000, oz 45359237/1600000, lb 45359237/100000"),
                 foreign=_scales("mg 1/1000")),
        Quantity(name="rate", unit="um/min", example="2.3 um/min",
                 units=_scales("um/min 1, mil/min 127/5"),
                 foreign=_scales("mm/min 1000, um/s 60, um/h 1/60, mm/h 50/3")),
        Quantity(name="wavelength", unit="nm", example="500 nm",
                 units=_scales("nm 1, um 1000, mm 1000000")),
        Quantity(name="current", unit="A", example="2 A", units=_scales("A 1, mA 1/1000")),
        Quantity(name="current density", unit="A/cm^2", example="0.1 A/cm^2",
                 units=_scales("A/cm^2 1, mA/cm^2 1/1000"),
                 foreign=_scales("A/dm^2 1/100, A/in^2 2500/16129")),
        Quantity(name="voltage", unit="V", example="3 V", units=_scales("V 1"),
                 foreign=_scales("mV 1/1000")),
        # Kept in the unit that was written: the conversion needs the etchant's density.
        Quantity(name="strength", unit="g/L", example="100 g/L",
                 units=_scales("g/L 1, % 1, degBe 1"), foreign=_scales("kg/L 1000, mg/L 1/1000"),
                 also={"\u00b0Be": "degBe", "g/l": "g/L"}, bare=("%", "g/L", "degBe")),
    )
}
# fmt: on

# Spellings of a unit that people write, and the one that is read.
SPELT: Mapping[str, str] = {
    spelt: unit
    for unit, spellings in {
        "um": ("micron", "microns"),
        "in": ("inch", "inches", '"', "''"),
        "mil": ("thou", "mils"),
        "s": ("sec", "secs", "second", "seconds"),
        "min": ("minute", "minutes"),
        "h": ("hr", "hour", "hours"),
        "degC": ("c", "°c", "celsius"),
        "deg": ("°", "degrees"),
        "degF": ("f", "°f"),
        "degBe": ("°be", "be", "baume"),
        "W": ("watt", "watts"),
        "mm/s": ("mm/sec",),
        "mm/s^2": ("mm/s2", "mm/s²", "mm/s/s"),
        "mm^2": ("mm2", "mm²"),
        "cm^2": ("cm2", "cm²"),
        "%": ("percent", "per cent"),
        "dpi": ("ppi",),
        "L": ("litre", "litres"),
        "um/min": ("micron/min", "microns/min"),
    }.items()
    for spelt in spellings
}
