"""The keys of the job file, table by table: form, default and meaning of each.

These models are private to this folder. They hold values as the job holds them (mm, s, W,
fractions); `convert.py` hands them on as the frozen records of `planning.job`. Defaults are
written as a job file would write them, so that the schema and the reference page show them so.

Beside each number stand two ranges: the possible, beyond which it is refused, and the usual,
beyond which it is told (`usual.py`). The usual ranges are our own rule: what shops of this kind
have and do, an order of magnitude and more wide, there to catch a slip of the unit and not to
judge a choice.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from stopout.jobs.forms import (
    FARTHEST,
    Amount,
    AutoOr,
    AxesMeasured,
    BathStrength,
    Count,
    Dissolved,
    Figure,
    Listed,
    MotorStep,
    Place,
    Row,
    ShownPart,
    Text,
    WithSpread,
)
from stopout.planning.job import Shows, Strength
from stopout.values import Measured

__all__ = [
    "ArtworkTable",
    "BathTable",
    "BlankTable",
    "ClearingTable",
    "CoatTable",
    "EtchTable",
    "FilmTable",
    "HoleTable",
    "JobFile",
    "JobTable",
    "KeepOutTable",
    "LimitsTable",
    "MachineTable",
    "RegistrationMarkTable",
    "RegistrationTable",
    "ResistTable",
    "StencilTable",
    "Table",
    "TablesTable",
]

_ABOVE_0_MM = Amount("length", above="0 mm", at_most=FARTHEST)
# No optics of such a machine focus below a micrometre; a smaller value is a slip of the unit.
_BEAM = Amount("length", at_least="0.001 mm", at_most="10 mm", usual=("0.01 mm", "1 mm"))

Length = Annotated[float, _ABOVE_0_MM]
_FROM_0_MM = Amount("length", at_least="0 mm", at_most=FARTHEST)
LengthOrZero = Annotated[float, _FROM_0_MM]
AnyLength = Amount("length", at_least=f"-{FARTHEST}", at_most=FARTHEST)
# A coat below a micrometre is no stop to anything, one above a millimetre no paint.
Film = Annotated[
    float,
    Amount(
        "length", at_least="1 um", at_most="1000 um", bare="um|mm|mil", usual=("3 um", "300 um")
    ),
]
Power = Annotated[float, Amount("fraction", above="0 %", at_most="100 %", usual=("1 %", "100 %"))]
Speed = Annotated[
    float,
    Amount("speed", at_least="0.01 mm/s", at_most="10000 mm/s", usual=("0.5 mm/s", "1000 mm/s")),
]
Passes = Annotated[int, Count(100, usual=(1, 20))]
_SIDE = Amount("length", at_least="1 mm", at_most=FARTHEST, usual=("5 mm", "1500 mm"))
Side = Annotated[float, _SIDE]
Name = Annotated[str, Text()]
Ident = Annotated[
    str,
    Text(
        pattern="^[a-z0-9]+(-[a-z0-9]+)*$",
        like='an id of small letters, digits and single hyphens, such as "epoxy-two-part"',
        longest=60,
        kind="id",
    ),
]
Mark = Annotated[tuple[Measured, Measured], AxesMeasured(WithSpread(_BEAM))]

# JSON Schema patterns have no switch for ignoring case.
_ARTWORK_ENDINGS = "|".join(
    "".join(f"[{letter}{letter.upper()}]" for letter in ending)
    for ending in ("svg", "png", "jpg", "jpeg", "tif", "tiff", "bmp", "webp", "pdf")
)
_ARTWORK_FILES = rf"\.({_ARTWORK_ENDINGS})$"


_FONT_FILE = Text(
    pattern=r"\.([tT][tT][fF]|[oO][tT][fF]|[tT][tT][cC]|[oO][tT][cC])$",
    like='the name of a font file, such as "quay-sans.ttf"',
    longest=1000,
    kind="file names: TTF, OTF, TTC or OTC",
)


def _key(meaning: str, default: Any = ..., *, example: Any = None) -> Any:
    """A key of the job file; required where no default is given, None where none is needed."""
    shown = default if example is None else example
    return Field(default, description=meaning, examples=[shown])


class Table(BaseModel):
    """Base of the tables: nothing but the keys named, each assignment validated."""

    model_config = ConfigDict(extra="forbid", strict=True, validate_assignment=True)


class JobTable(Table):
    """What the job is called and how many pieces it makes."""

    name: Name = _key("The job's name, as sheet and plan print it", example="Sluice winch plate")
    revision: Annotated[str, Text(longest=20)] = _key("Its revision", "A")
    quantity: Annotated[int, Count(100_000)] = _key("How many pieces are made in one go", 1)
    spares: Annotated[int, Count(100_000, at_least=0)] = _key(
        "Pieces coated and etched besides, in case one fails; the bath is reckoned for them too", 0
    )


class ArtworkTable(Table):
    """Which artwork, how large and where. At most one of width, height, scale, resolution."""

    file: Annotated[
        str,
        Text(
            pattern=_ARTWORK_FILES,
            like="the name of an SVG, PNG, JPEG, TIFF, BMP, WebP or PDF file",
            longest=1000,
            kind="file name: SVG, PNG, JPEG, TIFF, BMP, WebP or PDF",
        ),
    ] = _key("The artwork, from the job file's folder", example="winch-plate.svg")
    width: Side | None = _key(
        "The width of the artwork's box; left out with the other three: the file's own size",
        None,
        example="92 mm",
    )
    height: Side | None = _key("The height of the artwork's box", None, example="52 mm")
    scale: (
        Annotated[
            float, Amount("fraction", at_least="0.1 %", at_most="100000 %", usual=("5 %", "2000 %"))
        ]
        | None
    ) = _key("The size relative to the file's own", None, example="100 %")
    resolution: (
        Annotated[
            float,
            Amount(
                "resolution", at_least="1 dpi", at_most="100000 dpi", usual=("72 dpi", "5000 dpi")
            ),
        ]
        | None
    ) = _key("Pixels per inch, for raster artwork", None, example="600 dpi")
    box: Literal["page", "ink"] = _key(
        "What width, height and position refer to: the page (viewBox, whole image, crop box) or "
        "what is dark",
        "page",
    )
    dark: Literal["recessed", "raised"] = _key(
        "What the dark artwork becomes on metal; raised: the rest of the field is recessed",
        "recessed",
    )
    field: Length | None = _key(
        "The margin between the blank's edge and the recessed field; required with raised, "
        "without effect otherwise",
        None,
        example="4 mm",
    )
    position: Annotated[tuple[float, float] | None, Place(AnyLength)] = _key(
        "Where the lower left of the artwork's box lies, as seen", "centre"
    )
    threshold: Annotated[float | None, AutoOr(Amount("fraction", above="0 %", below="100 %"))] = (
        _key(
            "Dark is where the Rec. 709 luma of the sRGB values over white is below 1 - this; "
            "auto: found from a raster picture's own greys (Otsu), 50 % for drawings",
            "50 %",
        )
    )
    specks: Annotated[float | None, AutoOr(_FROM_0_MM)] = _key(
        "Specks and pinholes of a raster picture smaller across than this are cleaned away; auto: "
        "two pixels",
        "auto",
        example="0.1 mm",
    )
    page: Annotated[int, Count(10_000)] = _key(
        "Which page of a PDF or of a TIFF with several pictures", 1
    )
    fonts: Annotated[tuple[str, ...], Listed(_FONT_FILE, 50)] = _key(
        "Font files for lettering in the artwork, from the job file's folder",
        [],
        example=["quay-sans.ttf"],
    )


class HoleTable(Table):
    """A round hole through the blank."""

    at: Annotated[tuple[float, float], Row(AnyLength)] = _key(
        "Its centre from the blank's lower left, as seen", example=["8 mm", "8 mm"]
    )
    diameter: Annotated[
        float, Amount("length", at_least="0.01 mm", at_most=FARTHEST, usual=("0.3 mm", "300 mm"))
    ] = _key("Its diameter", example="3.4 mm")


class BlankTable(Table):
    """The piece before work."""

    material: Ident = _key("The material, an id of the materials table", example="aluminium")
    width: Side = _key("The blank's width", example="100 mm")
    height: Side = _key("The blank's height", example="60 mm")
    corner_radius: LengthOrZero = _key("The radius of its corners", "0 mm", example="3 mm")
    outline: (
        Annotated[
            str,
            Text(
                pattern=r"\.[sS][vV][gG]$",
                like='the name of an SVG file, such as "plate-outline.svg"',
                longest=1000,
                kind="file name: SVG",
            ),
        ]
        | None
    ) = _key(
        "A file with the blank's outline, instead of corner_radius",
        None,
        example="plate-outline.svg",
    )
    thickness: Annotated[
        float, Amount("length", at_least="0.005 mm", at_most="500 mm", usual=("0.05 mm", "50 mm"))
    ] = _key("The blank's thickness", example="1.5 mm")
    worked_side: Literal["front", "back"] = _key(
        "The face under the laser: front (metal) or back (clear plastic, read through the front)",
        example="front",
    )
    finish: Literal["bare", "anodised", "lacquered", "filmed"] = _key(
        "What covers the blank as bought", "bare"
    )
    hole: list[HoleTable] = _key("Round holes, any number", [])


class ResistTable(Table):
    """The one coat of resist on metal."""

    paint: Ident = _key("The paint, an id of the resists table", example="epoxy-two-part")
    colour: Name = _key("Its colour", "black")
    thickness: Film | None = _key("The dry thickness; left out: the table's", None, example="25 um")
    method: Literal["laser", "printed-film", "cut-film"] = _key(
        "How the opening is made: cleared by a laser, exposed through a printed film, or cut with "
        "a knife from an adhesive film",
        "laser",
    )


class FilmTable(Table):
    """A printed film and the photoresist under it; with method = "printed-film"."""

    resist_acts: Literal["negative", "positive"] = _key(
        "negative: light hardens the resist; positive: light makes it soluble", example="negative"
    )
    growth: Annotated[
        float, Amount("length", at_least="0 mm", at_most="1 mm", usual=("0 mm", "0.1 mm"))
    ] = _key(
        "How far each edge of an opening moves outwards by exposure and developing, as measured",
        "0 mm",
        example="0.01 mm",
    )
    smallest_opening: Annotated[
        float, Amount("length", at_least="0.001 mm", at_most="10 mm", usual=("0.02 mm", "1 mm"))
    ] = _key("The narrowest opening that the resist makes dependably", "0.1 mm")
    printed_side: Literal["down", "up"] = _key(
        "Which side of the film is printed as it lies on the work: down touches the resist, which "
        "is sharper",
        "down",
    )
    page: Annotated[tuple[float, float], Row(_SIDE)] = _key(
        "Width and height of the film's sheet", ["210 mm", "297 mm"]
    )


class StencilTable(Table):
    """A film cut with a knife; with method = "cut-film"."""

    overrun: Annotated[
        float, Amount("length", at_least="0 mm", at_most="50 mm", usual=("0 mm", "3 mm"))
    ] = _key("How far each cut runs past a corner, so that the corner parts clean", "0.2 mm")
    loose: bool = _key(
        "true: no transfer tape carries the stencil, so islands are held by bridges", False
    )
    bridge: Annotated[
        float, Amount("length", at_least="0.05 mm", at_most="100 mm", usual=("0.3 mm", "10 mm"))
    ] = _key("The width of a loose stencil's bridges", "1 mm")
    margin: LengthOrZero = _key("How far the film reaches past the plate's edge", "5 mm")


class CoatTable(Table):
    """One coat behind clear plastic, in the order of spraying, from the viewer backwards."""

    paint: Ident | None = _key(
        'The paint, an id of the resists table; required unless colour is "clear"',
        None,
        example="acrylic-lacquer",
    )
    colour: Name = _key('Its colour; "clear" in the last coat is a window to light', "black")
    shows: Annotated[Shows, ShownPart()] = _key(
        "What the reader sees in this colour: the dark artwork, chosen shapes, or all that no "
        "other coat claims",
        example="dark",
    )
    thickness: Film | None = _key("The dry thickness; left out: the table's", None, example="25 um")
    power: Power | None = _key("Instead of clearing.power", None, example="30 %")
    speed: Speed | None = _key("Instead of clearing.speed", None, example="20 mm/s")
    passes: Passes | None = _key("Instead of clearing.passes", None, example=1)
    mark: Mark | None = _key("Instead of clearing.mark", None, example=["0.10 mm", "0.087 mm"])


class KeepOutTable(Table):
    """A part of the bed that no motion may enter."""

    box: Annotated[tuple[float, float, float, float], Row(AnyLength, 4)] = _key(
        "Left, bottom, right, top, from the bed's corner",
        example=["0 mm", "0 mm", "20 mm", "15 mm"],
    )


class MachineTable(Table):
    """The laser machine."""

    spot: Annotated[tuple[float, float], Row(_BEAM, or_one=True)] = _key(
        "The beam's full widths along x and y in the sense of spot_means; one value: round",
        example=["0.17 mm", "0.12 mm"],
    )
    spot_means: Literal["1/e2", "fwhm", "d4sigma"] = _key(
        "How the spot's width is meant", example="1/e2"
    )
    wavelength: Annotated[
        float, Amount("wavelength", at_least="100 nm", at_most="20 um", usual=("190 nm", "11 um"))
    ] = _key("The laser's wavelength", example="450 nm")
    power: Annotated[
        float, Amount("power", at_least="1 mW", at_most="2000 W", usual=("0.1 W", "200 W"))
    ] = _key("The optical power at full power", example="5.5 W")
    top_speed: Annotated[
        float,
        Amount("speed", at_least="0.1 mm/s", at_most="20000 mm/s", usual=("5 mm/s", "2000 mm/s")),
    ] = _key("The speed that no move exceeds", example="100 mm/s")
    acceleration: Annotated[
        float,
        Amount(
            "acceleration",
            at_least="1 mm/s^2",
            at_most="1000000 mm/s^2",
            usual=("20 mm/s^2", "50000 mm/s^2"),
        ),
    ] = _key("The acceleration along the path", example="800 mm/s^2")
    cornering: Annotated[
        float, Amount("length", above="0 mm", at_most="10 mm", usual=("0.0005 mm", "1 mm"))
    ] = _key("How far a corner may be rounded at speed", "0.01 mm")
    step: Annotated[
        float,
        MotorStep(
            Amount("length", at_least="0.0001 mm", at_most="1 mm", usual=("0.0005 mm", "0.2 mm"))
        ),
    ] = _key('One motor step, or how many make a length, such as "80 /mm"', example="0.0125 mm")
    bed: Annotated[
        tuple[float, float],
        Row(Amount("length", at_least="1 mm", at_most=FARTHEST, usual=("20 mm", "3000 mm"))),
    ] = _key("The bed's width and depth", example=["400 mm", "400 mm"])
    blank_at: Annotated[tuple[float, float], Row(AnyLength)] | None = _key(
        "The blank's corner from the bed's corner; left out: the blank is centred on the bed, and "
        "the sheet says so",
        None,
        example=["30 mm", "30 mm"],
    )
    power_word: Annotated[float, Figure(at_most=1_000_000)] = _key(
        "The S word that means full power; a fraction of power is that fraction of it", 1000
    )
    beam_on: Annotated[
        str,
        # M0, M1, M2 and M30 stop the program and M5 ends the beam (ISO 6983-1).
        Text(
            pattern=r"^M(?!0*([0125]|30)$)[0-9]{1,3}$",
            like="the code that enables the beam, M and a number but not M0, M1, M2, M5 or M30, "
            'such as "M3"',
            longest=40,
            kind="word-address code",
        ),
    ] = _key("The code that enables the beam; M5 always ends it", "M3")
    power_follows_speed: bool = _key(
        "true: S words follow the planned speed along the path; false: constant S, slower outlines",
        True,
    )
    pointer: Annotated[float, Amount("fraction", at_least="0 %", at_most="100 %")] = _key(
        "The power for tracing the bounds; above a tenth of the threshold dose the plan stops",
        "0 %",
    )
    keep_out: list[KeepOutTable] = _key("Clamps and the like, any number", [])


class ClearingTable(Table):
    """How the resist is cleared."""

    power: Power = _key("The fraction of full power", example="30 %")
    speed: Speed = _key("The speed along the lines", example="20 mm/s")
    passes: Passes = _key("How often each line is run", 1)
    mark: Mark | None = _key(
        "The cleared width along x (of a line along y) and along y as measured; left out: from "
        "the shop book, else from the spot at dose ratio 2",
        None,
        example=["0.10 mm", "0.087 mm"],
    )
    dose_ratio: Annotated[float, Figure(above=1.01, at_most=200, usual=(1.15, 20))] | None = _key(
        "Line dose over threshold line dose across the spot's wider axis, instead of mark",
        None,
        example=2.0,
    )
    spacing: Annotated[
        float | None,
        AutoOr(Amount("length", above="0 mm", at_most="10 mm", usual=("0.002 mm", "0.5 mm"))),
    ] = _key("The distance between lines; auto: by the spacing rule", "auto")
    line_direction: Literal["auto", "x", "y", "crossed"] = _key("How the lines run", "auto")


class EtchTable(Table):
    """The etch; left out for clear plastic."""

    etchant: Ident = _key("The etchant, an id of the etchants table", example="sodium-hydroxide")
    strength: Annotated[Strength, BathStrength()] = _key("The bath's strength", example="100 g/L")
    temperature: Annotated[
        float,
        Amount("temperature", at_least="-20 degC", at_most="150 degC", usual=("5 degC", "95 degC")),
    ] = _key("The bath's temperature", example="40 degC")
    # Below a micrometre nothing is etched that could be told from the plate's own roughness.
    depth: Annotated[
        float, Amount("length", at_least="1 um", at_most="20 mm", usual=("0.005 mm", "1 mm"))
    ] = _key("How deep the metal is bitten", example="0.06 mm")
    etch_factor: (
        Annotated[Measured, WithSpread(Figure(above=0.05, at_most=100, usual=(0.3, 10)), share=0.5)]
        | None
    ) = _key(
        "Depth over undercut per edge as measured; left out: the table's, with its spread",
        None,
        example=[1.0, 0.1],
    )
    rate: (
        Annotated[
            Measured,
            WithSpread(
                Amount(
                    "rate",
                    at_least="0.001 um/min",
                    at_most="2000 um/min",
                    usual=("0.05 um/min", "200 um/min"),
                )
            ),
        ]
        | None
    ) = _key("The etch rate as measured; likewise", None, example="2.3 um/min")
    rise: (
        Annotated[
            float,
            Amount("temperature difference", above="0 K", at_most="100 K", usual=("1 K", "40 K")),
        ]
        | None
    ) = _key(
        "How much the bath may warm; left out: 10 K, or what the bath's ceiling leaves",
        None,
        example="10 K",
    )
    agitation: Literal["tray", "rocked", "bubbled", "spray"] = _key("How the bath is moved", "tray")
    filled: bool = _key(
        "true: the recesses are filled with paint, and too shallow a depth for that is told", False
    )
    electrolyte: Ident | None = _key(
        'With etchant = "electrolytic": the salt whose strength is given',
        None,
        example="sodium-chloride",
    )
    current: (
        Annotated[
            float, Amount("current", at_least="1 mA", at_most="1000 A", usual=("0.05 A", "100 A"))
        ]
        | None
    ) = _key("With a current: that of all the pieces in the bath together", None, example="2 A")
    current_density: (
        Annotated[
            float,
            Amount(
                "current density",
                at_least="0.1 mA/cm^2",
                at_most="10 A/cm^2",
                usual=("5 mA/cm^2", "1 A/cm^2"),
            ),
        ]
        | None
    ) = _key(
        "Instead of current: per open area; both left out: the table's",
        None,
        example="0.1 A/cm^2",
    )
    voltage: Annotated[float, Amount("voltage", above="0 V", at_most="1000 V")] | None = _key(
        "With a current: what the supply shows; left out: the usual voltage's high end",
        None,
        example="3 V",
    )
    efficiency: Annotated[Measured, WithSpread(Figure(at_most=1.5))] | None = _key(
        "Share of the current that dissolves metal as measured; left out: the table's",
        None,
        example=0.9,
    )
    chromate_acknowledged: bool = _key(
        "true: the shop knows that stainless steel under a current leaves chromate, and has a "
        "licensed carrier for it",
        False,
    )


class BathTable(Table):
    """The bath as the shop has it; without it, a fresh bath in a tray that suits one piece."""

    id: Name | None = _key("The shop's name for this bath", None, example="lye-1")
    dissolved: Annotated[float, Dissolved(500)] = _key(
        "Metal that earlier work has left in it", "0 g/L", example="6 g/L"
    )
    volume: (
        Annotated[
            float, Amount("volume", at_least="1 mL", at_most="10000 L", usual=("50 mL", "500 L"))
        ]
        | None
    ) = _key("How much of it there is; left out: as much as the plan asks for", None, example="2 L")
    tray: Annotated[tuple[float, float], Row(_SIDE)] | None = _key(
        "The floor of the tray; left out: 20 mm larger than the pieces all round",
        None,
        example=["200 mm", "150 mm"],
    )
    plates_at_once: Annotated[int, Count(1000)] | None = _key(
        "Pieces in the tray together; left out: as many as lie in the named tray with 20 mm "
        "between them, one without a named tray",
        None,
        example=2,
    )
    stock: Annotated[Strength, BathStrength()] | None = _key(
        "The solution that is diluted to the bath; left out: dry reagent, or the bath as bought",
        None,
        example="42 degBe",
    )
    coupon_area: Annotated[float, Amount("area", at_least="0 mm^2", at_most="1000000 mm^2")] = _key(
        "Cleared area of the coupon that is etched in the same bath", "0 mm^2", example="4 cm^2"
    )
    cooled: bool = _key(
        "true: the vessel is cooled while the etch goes on, so that etch.rise may be more than a "
        "bath without cooling may take",
        False,
    )


class LimitsTable(Table):
    """What the shop accepts."""

    edge_tolerance: Annotated[
        float, Amount("length", at_least="0 mm", at_most="10 mm", usual=("0 mm", "0.3 mm"))
    ] = _key("How far an edge may err either way", "0.05 mm")
    narrowest_land: Annotated[
        float, Amount("length", at_least="0 mm", at_most="50 mm", usual=("0 mm", "2 mm"))
    ] = _key("The narrowest finished land", "0.15 mm")
    too_thin: Literal["widen", "leave-out", "stop"] = _key(
        "What happens to strokes that are too thin to make", "widen"
    )
    viewing_distance: (
        Annotated[
            float, Amount("length", above="0 mm", at_most="100000 cm", usual=("100 mm", "50000 mm"))
        ]
        | None
    ) = _key(
        "From how far the piece is read: its lettering is held against it; left out: it is not",
        None,
        example="150 cm",
    )


class RegistrationMarkTable(Table):
    """A cross cleared with the first coat, where a frame or a screw's head hides it later."""

    at: Annotated[tuple[float, float], Row(AnyLength)] = _key(
        "Its centre from the blank's lower left, as seen", example=["6 mm", "6 mm"]
    )


class RegistrationTable(Table):
    """How well the coats of a sign meet."""

    error: Annotated[
        float, Amount("length", at_least="0 mm", at_most="20 mm", usual=("0 mm", "1 mm"))
    ] = _key("How far two clearings may miss each other", example="0.1 mm")
    method: Literal["auto", "one-by-one", "through"] = _key(
        "How the coats are cleared: each by itself once it is dry, or through all coats that are "
        "there; auto: whichever shows less of a wrong colour, else the one that burns less paint",
        "auto",
    )
    mark: list[RegistrationMarkTable] = _key("Crosses to find the sheet's place by", [])


class LightTable(Table):
    """A clear sheet lit through one edge: the beam marks its back, and nothing is painted."""

    edge: Literal["bottom", "top", "left", "right"] = _key(
        "The edge that the light comes in by, as seen", example="bottom"
    )
    far: Annotated[float, Figure(at_most=4)] = _key(
        "How many times denser the marking is at its far side than near the light", 2
    )


class TablesTable(Table):
    """The shop's own data, besides or instead of the built-in tables."""

    file: Annotated[
        str,
        Text(
            pattern=r"\.[tT][oO][mM][lL]$",
            like='the name of a TOML file, such as "our-tables.toml"',
            longest=1000,
            kind="file name: TOML",
        ),
    ] = _key(
        "The shop's own materials, pairs, resists and hazards, from the job file's folder",
        example="our-tables.toml",
    )


class JobFile(Table):
    """A job for Stopout: one piece, its artwork, its coats, the machine and the etch."""

    # Only its tables are validated, one by one: the whole need not be built for that.
    model_config = ConfigDict(defer_build=True)

    job: JobTable = Field()
    artwork: ArtworkTable = Field()
    blank: BlankTable = Field()
    resist: ResistTable | None = Field(None)
    film: FilmTable | None = Field(None)
    stencil: StencilTable | None = Field(None)
    coat: list[CoatTable] = Field([])
    registration: RegistrationTable | None = Field(None)
    light: LightTable | None = Field(None)
    machine: MachineTable | None = Field(None)
    clearing: ClearingTable | None = Field(None)
    etch: EtchTable | None = Field(None)
    bath: BathTable | None = Field(None)
    limits: LimitsTable | None = Field(None)
    tables: TablesTable | None = Field(None)
