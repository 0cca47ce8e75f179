"""The keys of the job file, table by table: form, default and meaning of each.

These models are private to this folder. They hold values as the job holds them (mm, s, W,
fractions); `convert.py` hands them on as the frozen records of `job.record`. Defaults are
written as a job file would write them, so that the schema and the reference page show them so.

Beside each number stand two ranges: the possible, beyond which it is refused, and the usual,
beyond which it is told (`usual.py`). The usual ranges are our own rule: what shops of this kind
have and do, an order of magnitude and more wide, there to catch a slip of the unit and not to
judge a choice.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field

from stopout.job.record import Shows, Strength
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
    Named,
    Place,
    Row,
    ShownPart,
    Text,
    WithSpread,
)
from stopout.jobs.machine_table import KeepOutTable, MachineTable
from stopout.jobs.setting_tables import CodeTable, FrameTable, LineTable, TextTable
from stopout.jobs.table import Table
from stopout.values import Measured

__all__ = [
    "ArtworkTable",
    "BathTable",
    "BlankTable",
    "BudgetTable",
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
Material = Annotated[str, Named("materials")]
Etchant = Annotated[str, Named("etchants")]
Electrolyte = Annotated[str, Named("electrolytes")]
Paint = Annotated[str, Named("resists")]
Mark = Annotated[tuple[Measured, Measured], AxesMeasured(WithSpread(_BEAM))]

# JSON Schema patterns have no switch for ignoring case.
_ARTWORK_ENDINGS = "|".join(
    "".join(f"[{letter}{letter.upper()}]" for letter in ending)
    for ending in ("svg", "png", "jpg", "jpeg", "tif", "tiff", "bmp", "webp", "pdf", "dxf")
)
_ARTWORK_FILES = rf"\.({_ARTWORK_ENDINGS})$"


_FONT_FILE = Text(
    pattern=r"\.([tT][tT][fF]|[oO][tT][fF]|[tT][tT][cC]|[oO][tT][cC])$",
    like='the name of a font file, such as "tide-house.ttf"',
    longest=1000,
    kind="file names: TTF, OTF, TTC or OTC",
)

_LEFT_OUT = Text(
    like='a name as the refusal gives it, such as "filter"',
    longest=255,
    kind="names of elements, properties or layers",
)


def _key(meaning: str, default: Any = ..., *, example: Any = None) -> Any:
    """A key of the job file; required where no default is given, None where none is needed."""
    shown = default if example is None else example
    return Field(default, description=meaning, examples=[shown])


class JobTable(Table):
    """What the job is called and how many pieces it makes."""

    name: Name = _key("The job's name, as sheet and plan print it", example="Sluice winch plate")
    revision: Annotated[str, Text(longest=20)] = _key("Its revision", "A")
    quantity: Annotated[int, Count(100_000)] = _key("How many pieces are made in one go", 1)
    spares: Annotated[int, Count(100_000, at_least=0)] = _key(
        "Pieces coated and etched besides, in case one fails; the bath is calculated for them too",
        0,
    )


class ArtworkTable(Table):
    """Which artwork, how large and where. At most one of width, height, scale, resolution."""

    file: (
        Annotated[
            str,
            Text(
                pattern=_ARTWORK_FILES,
                like="the name of an SVG, PDF, DXF, PNG, JPEG, TIFF, BMP or WebP file",
                longest=1000,
                kind="file name: SVG, PDF, DXF, PNG, JPEG, TIFF, BMP or WebP",
            ),
        ]
        | None
    ) = _key(
        "The artwork, from the job file's folder; required unless the job sets words, lines, "
        "frames or codes itself",
        None,
        example="winch-plate.svg",
    )
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
        example=["tide-house.ttf"],
    )
    may_be_cut: bool = _key(
        "The blank's edge, the artwork's page or a hole may take of the artwork, or the dark of it "
        "may fill the face to its rim; false: the plan is stopped where they do",
        False,
    )
    leave_out: Annotated[tuple[str, ...], Listed(_LEFT_OUT, 50)] = _key(
        "Elements and properties of an SVG that cannot be read, and layers of a DXF, that the "
        "piece is made without",
        [],
        example=["filter", "image"],
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

    material: Material = _key(
        "The material: an id of the materials table, or a name for it", example="aluminium"
    )
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

    paint: Paint = _key(
        "The paint: an id of the resists table, or a name for it", example="epoxy-two-part"
    )
    colour: Name = _key("Its colour", "black")
    thickness: Film | None = _key("The dry thickness; default: the table's", None, example="25 um")
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

    paint: Paint | None = _key(
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
    recolour: bool = _key(
        "true: this coat shows on purpose what the artwork has in another colour", False
    )
    thickness: Film | None = _key("The dry thickness; default: the table's", None, example="25 um")
    power: Power | None = _key("Instead of clearing.power", None, example="30 %")
    speed: Speed | None = _key("Instead of clearing.speed", None, example="20 mm/s")
    passes: Passes | None = _key("Instead of clearing.passes", None, example=1)
    mark: Mark | None = _key("Instead of clearing.mark", None, example=["0.10 mm", "0.087 mm"])


class ClearingTable(Table):
    """How the resist is cleared."""

    power: Power | None = _key(
        "The fraction of full power; default: chosen for twice the threshold dose, which is the "
        "shop book's, else published for such paints",
        None,
        example="30 %",
    )
    speed: Speed | None = _key(
        "The speed along the lines; default: chosen likewise", None, example="20 mm/s"
    )
    passes: Passes = _key("How often each line is run", 1)
    mark: Mark | None = _key(
        "The cleared width along x (of a line along y) and along y as measured; default: from "
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
    dots: Literal["auto", "strokes"] = _key(
        "How round dots under 1.5 marks are cleared; auto: by a dwell at each one's middle where "
        "machine.beam_at_rest allows it and that is quicker",
        "auto",
    )
    focus_step: (
        Annotated[
            float,
            Amount("length", above="0 mm", at_most="2 mm", usual=("0.02 mm", "1 mm")),
        ]
        | None
    ) = _key(
        "How far the head is lowered by hand between passes; the program then stops after each "
        "pass, beam off; default: no stop",
        None,
        example="0.2 mm",
    )


class EtchTable(Table):
    """The etch; left out for clear plastic."""

    etchant: Etchant = _key(
        "The etchant: an id of the etchants table, or a name for it", example="sodium-hydroxide"
    )
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
        "Depth over undercut per edge as measured; default: the table's, with its spread",
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
        "How much the bath may warm; default: 10 K, or what the bath's ceiling leaves",
        None,
        example="10 K",
    )
    agitation: Literal["tray", "rocked", "bubbled", "spray"] = _key("How the bath is moved", "tray")
    filled: bool = _key(
        "true: the recesses are filled with paint, and too shallow a depth for that is told", False
    )
    electrolyte: Electrolyte | None = _key(
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
        "Instead of current: per open area; default of both: the table's",
        None,
        example="0.1 A/cm^2",
    )
    voltage: Annotated[float, Amount("voltage", above="0 V", at_most="1000 V")] | None = _key(
        "With a current: what the supply shows; default: the usual voltage's high end",
        None,
        example="3 V",
    )
    efficiency: Annotated[Measured, WithSpread(Figure(at_most=1.5))] | None = _key(
        "Share of the current that dissolves metal as measured; default: the table's",
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
    ) = _key("How much of it there is; default: as much as the plan asks for", None, example="2 L")
    tray: Annotated[tuple[float, float], Row(_SIDE)] | None = _key(
        "The floor of the tray; default: for several pieces the smallest usual tray that takes "
        "them all, for one a tray 20 mm larger all round",
        None,
        example=["200 mm", "150 mm"],
    )
    plates_at_once: Annotated[int, Count(1000)] | None = _key(
        "Pieces in the tray together; default: as many as lie in it with 20 mm between them",
        None,
        example=2,
    )
    stock: Annotated[Strength, BathStrength()] | None = _key(
        "The solution that is diluted to the bath; default: dry reagent, or the bath as bought",
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
        "From how far the piece is read: its lettering is held against it; default: it is not",
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
    placing: LengthOrZero = _key(
        "How far the sheet may lie off its place on the bed: what reaches an edge is cleared past "
        "it by so much",
        "0.5 mm",
    )
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


class SheetTable(Table):
    """What the process sheet asks for."""

    second_name: bool = _key(
        "A second person signs each hold of the sheet as well; left out: whoever does the work "
        "signs alone",
        False,
    )


class BudgetTable(Table):
    """What one run may use of the computer before it is ended."""

    time: Annotated[float, Amount("time", at_least="1 s", at_most="24 h")] = _key(
        "The computing time", "120 s"
    )
    memory: Annotated[float, Amount("memory", at_least="256 MiB", at_most="1024 GiB")] = _key(
        "The memory", "4 GiB"
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
    artwork: ArtworkTable | None = Field(None)
    text: list[TextTable] = Field([])
    line: list[LineTable] = Field([])
    frame: list[FrameTable] = Field([])
    code: list[CodeTable] = Field([])
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
    sheet: SheetTable | None = Field(None)
    tables: TablesTable | None = Field(None)
    budget: BudgetTable | None = Field(None)
