"""The keys of the job file, table by table: form, default and meaning of each.

Values are held as the job holds them (mm, s, W, fractions). Defaults are written as a job file
would write them, so that the schema and the reference page show them so.

Beside each number stand two ranges: the possible, beyond which it is refused, and the usual,
beyond which it is told (`usual.py`). The usual ranges are our own rule: what shops of this kind
have and do, an order of magnitude and more wide, there to catch a slip of the unit and not to
judge a choice.
"""

from __future__ import annotations

from typing import Any

from stopout.job.record import (
    ArtworkRequest,
    Blank,
    Budget,
    Clearing,
    EdgeLight,
    Etch,
    Film,
    Hole,
    JobBath,
    Limits,
    Registration,
    Stencil,
)
from stopout.jobs.forms import (
    ANY_MM,
    FARTHEST,
    Amount,
    AutoOr,
    AxesMeasured,
    Count,
    Dissolved,
    Figure,
    Listed,
    Named,
    OneOf,
    PlaceForm,
    Row,
    ShownPart,
    StrengthForm,
    TextForm,
    WithSpread,
    YesNo,
)
from stopout.jobs.keys.definition import REQUIRED, Key, KeyTable
from stopout.jobs.keys.machine_table import MACHINE
from stopout.jobs.keys.series_tables import PANEL, SERIES
from stopout.jobs.keys.setting_tables import CODE, FRAME, LINE, TEXT

ABOVE_0_MM = Amount("length", above="0 mm", at_most=FARTHEST)
FROM_0_MM = Amount("length", at_least="0 mm", at_most=FARTHEST)
# No optics of such a machine focus below a micrometre; a smaller value is a slip of the unit.
_BEAM = Amount("length", at_least="0.001 mm", at_most="10 mm", usual=("0.01 mm", "1 mm"))
# A coat below a micrometre is no stop to anything, one above a millimetre no paint.
DRY = Amount(
    "length", at_least="1 um", at_most="1000 um", bare="um|mm|mil", usual=("3 um", "300 um")
)
POWER = Amount("fraction", above="0 %", at_most="100 %", usual=("1 %", "100 %"))
SPEED = Amount("speed", at_least="0.01 mm/s", at_most="10000 mm/s", usual=("0.5 mm/s", "1000 mm/s"))
PASSES = Count(100, usual=(1, 20))
SIDE = Amount("length", at_least="1 mm", at_most=FARTHEST, usual=("5 mm", "1500 mm"))
PAINT = Named("resists")
MARK = AxesMeasured(WithSpread(_BEAM))


def _file(
    kinds: str, endings: str, like: str, instead: tuple[tuple[str, str], ...] = ()
) -> TextForm:
    """The name of a file by its endings, small or large: patterns of a schema ignore no case."""
    either = "|".join(
        "".join(f"[{letter}{letter.upper()}]" for letter in ending) for ending in endings.split()
    )
    return TextForm(pattern=rf"\.({either})$", like=like, longest=1000, kind=kinds, instead=instead)


_ARTWORK = _file(
    "file name: SVG, PDF, DXF, PNG, JPEG, TIFF, BMP or WebP",
    "svg png jpg jpeg tif tiff bmp webp pdf dxf",
    "the name of an SVG, PDF, DXF, PNG, JPEG, TIFF, BMP or WebP file",
    (
        *(
            (ending, "it is a program, which is not run: export it as PDF or SVG, and name that")
            for ending in (".eps", ".epsf", ".ps")
        ),
        (".gif", "save it as PNG, and name that"),
    ),
)
_FONT = _file(
    "file names: TTF, OTF, TTC or OTC",
    "ttf otf ttc otc",
    'the name of a font file, such as "tide-house.ttf"',
)
_OUTLINE = _file("file name: SVG", "svg", 'the name of an SVG file, such as "plate-outline.svg"')
_TABLES = _file("file name: TOML", "toml", 'the name of a TOML file, such as "our-tables.toml"')
_LEFT_OUT = TextForm(
    like='a name as the refusal gives it, such as "filter"',
    longest=255,
    kind="names of elements, properties or layers",
)


def _um(length_mm: float) -> float:
    # To the picometre, so that "25 um" is 25.0 and not 25.000000000000004.
    return round(length_mm * 1000, 6)


# A table is read as one: a key in two to five lines, which the formatter would make ten.
# fmt: off

JOB = KeyTable(
    "job",
    "What the job is called and how many pieces it makes.",
    Key("name", REQUIRED, TextForm(),
        "The job's name, as sheet and plan print it", example="Sluice winch plate"),
    Key("revision", "A", TextForm(longest=20), "Its revision"),
    Key("quantity", 1, Count(100_000), "How many pieces are made in one go"),
    Key("spares", 0, Count(100_000, at_least=0),
        "Pieces coated and etched besides, in case one fails; the bath is calculated for them too"),
    is_required=True,
)

ARTWORK = KeyTable(
    "artwork",
    "Which artwork, how large and where. At most one of width, height, scale, resolution.",
    Key("file", None, _ARTWORK,
        "The artwork, from the job file's folder; required unless the job sets words, lines, "
        "frames or codes itself", example="winch-plate.svg"),
    Key("width", None, SIDE,
        "The width of the artwork's box; left out with the other three: the file's own size",
        example="92 mm"),
    Key("height", None, SIDE,
        "The height of the artwork's box", example="52 mm"),
    Key("scale", None,
        Amount("fraction", at_least="0.1 %", at_most="100000 %", usual=("5 %", "2000 %")),
        "The size relative to the file's own", example="100 %"),
    Key("resolution", None,
        Amount("resolution", at_least="1 dpi", at_most="100000 dpi", usual=("72 dpi", "5000 dpi")),
        "Pixels per inch, for raster artwork", example="600 dpi"),
    Key("box", "page", OneOf(("page", "ink")),
        "What width, height and position refer to: the page (viewBox, whole image, crop box) "
        "or what is dark"),
    Key("dark", "recessed", OneOf(("recessed", "raised")),
        "What the dark artwork becomes on metal; raised: the rest of the field is recessed"),
    Key("field", None, ABOVE_0_MM,
        "The margin between the blank's edge and the recessed field; required with raised, "
        "without effect otherwise", example="4 mm"),
    Key("position", "centre", PlaceForm(ANY_MM),
        "Where the lower left of the artwork's box lies, as seen"),
    Key("threshold", "50 %", AutoOr(Amount("fraction", above="0 %", below="100 %")),
        "Dark is where the Rec. 709 luma of the sRGB values over white is below 1 - this; "
        "auto: found from a raster picture's own greys (Otsu), 50 % for drawings"),
    Key("specks", "auto", AutoOr(FROM_0_MM),
        "Specks and pinholes of a raster picture smaller across than this are cleaned away; "
        "auto: two pixels", example="0.1 mm"),
    Key("page", 1, Count(10_000),
        "Which page of a PDF or of a TIFF with several pictures"),
    Key("fonts", [], Listed(_FONT, 50),
        "Font files for lettering in the artwork, from the job file's folder",
        example=["tide-house.ttf"]),
    Key("may_be_cut", False, YesNo(),
        "The blank's edge, the artwork's page or a hole may take of the artwork, or the dark "
        "of it may fill the face to its rim; false: the plan is stopped where they do"),
    Key("leave_out", [], Listed(_LEFT_OUT, 50),
        "Elements and properties of an SVG that cannot be read, and layers of a DXF, that the "
        "piece is made without", example=["filter", "image"]),
    record=ArtworkRequest,
)

HOLE = KeyTable(
    "hole",
    "A round hole through the blank.",
    Key("at", REQUIRED, Row(ANY_MM),
        "Its centre from the blank's lower left, as seen", example=["8 mm", "8 mm"]),
    Key("diameter", REQUIRED,
        Amount("length", at_least="0.01 mm", at_most=FARTHEST, usual=("0.3 mm", "300 mm")),
        "Its diameter", example="3.4 mm"),
    record=Hole, into="holes", is_many=True,
)

BLANK = KeyTable(
    "blank",
    "The piece before work.",
    Key("material", REQUIRED, Named("materials"),
        "The material: an id of the materials table, or a name for it", example="aluminium"),
    Key("width", REQUIRED, SIDE, "The blank's width", example="100 mm"),
    Key("height", REQUIRED, SIDE, "The blank's height", example="60 mm"),
    Key("corner_radius", "0 mm", FROM_0_MM,
        "The radius of its corners", example="3 mm"),
    Key("outline", None, _OUTLINE,
        "A file with the blank's outline, instead of corner_radius", example="plate-outline.svg"),
    Key("thickness", REQUIRED,
        Amount("length", at_least="0.005 mm", at_most="500 mm", usual=("0.05 mm", "50 mm")),
        "The blank's thickness", example="1.5 mm"),
    Key("worked_side", REQUIRED, OneOf(("front", "back")),
        "The face under the laser: front (metal) or back (clear plastic, read through the front)",
        example="front"),
    Key("finish", "bare", OneOf(("bare", "anodised", "lacquered", "filmed")),
        "What covers the blank as bought"),
    HOLE,
    record=Blank, is_required=True,
)

RESIST = KeyTable(
    "resist",
    "The one coat of resist on metal.",
    Key("paint", REQUIRED, PAINT,
        "The paint: an id of the resists table, a name for it, or one that the shop keeps",
        example="epoxy-two-part"),
    Key("colour", "black", TextForm(), "Its colour"),
    Key("thickness", None, DRY,
        "The dry thickness; default: the table's", example="25 um", into="thickness_um", turn=_um),
    Key("method", "laser", OneOf(("laser", "printed-film", "cut-film")),
        "How the opening is made: cleared by a laser, exposed through a printed film, or cut "
        "with a knife from an adhesive film"),
    record=dict, short="paint",
)

FILM = KeyTable(
    "film",
    'A printed film and the photoresist under it; with method = "printed-film".',
    Key("resist_acts", REQUIRED, OneOf(("negative", "positive")),
        "negative: light hardens the resist; positive: light makes it soluble", example="negative"),
    Key("growth", "0 mm",
        Amount("length", at_least="0 mm", at_most="1 mm", usual=("0 mm", "0.1 mm")),
        "How far each edge of an opening moves outwards by exposure and developing, as measured",
        example="0.01 mm"),
    Key("smallest_opening", "0.1 mm",
        Amount("length", at_least="0.001 mm", at_most="10 mm", usual=("0.02 mm", "1 mm")),
        "The narrowest opening that the resist makes dependably"),
    Key("printed_side", "down", OneOf(("down", "up")),
        "Which side of the film is printed as it lies on the work: down touches the resist, "
        "which is sharper"),
    Key("page", ["210 mm", "297 mm"], Row(SIDE), "Width and height of the film's sheet"),
    record=Film,
)

STENCIL = KeyTable(
    "stencil",
    'A film cut with a knife; with method = "cut-film".',
    Key("overrun", "0.2 mm",
        Amount("length", at_least="0 mm", at_most="50 mm", usual=("0 mm", "3 mm")),
        "How far each cut runs past a corner, so that the corner parts clean"),
    Key("loose", False, YesNo(),
        "true: no transfer tape carries the stencil, so islands are held by bridges",
        into="is_loose"),
    Key("bridge", "1 mm",
        Amount("length", at_least="0.05 mm", at_most="100 mm", usual=("0.3 mm", "10 mm")),
        "The width of a loose stencil's bridges"),
    Key("margin", "5 mm", FROM_0_MM,
        "How far the film reaches past the plate's edge"),
    record=Stencil,
)

COAT = KeyTable(
    "coat",
    "One coat behind clear plastic, in the order of spraying, from the viewer backwards.",
    Key("paint", None, PAINT,
        'The paint, as in [resist]; required unless colour is "clear"',
        example="acrylic-lacquer"),
    Key("colour", "black", TextForm(),
        'Its colour; "clear" in the last coat is a window to light'),
    Key("shows", REQUIRED, ShownPart(),
        "What the reader sees in this colour: the dark artwork, chosen shapes, or all that no "
        "other coat claims", example="dark"),
    Key("recolour", False, YesNo(),
        "true: this coat shows on purpose what the artwork has in another colour"),
    Key("thickness", None, DRY,
        "The dry thickness; default: the table's", example="25 um", into="thickness_um", turn=_um),
    Key("power", None, POWER,
        "Instead of clearing.power", example="30 %"),
    Key("speed", None, SPEED,
        "Instead of clearing.speed", example="20 mm/s"),
    Key("passes", None, PASSES,
        "Instead of clearing.passes", example=1),
    Key("mark", None, MARK,
        "Instead of clearing.mark", example=["0.10 mm", "0.087 mm"]),
    record=dict, into="coats", is_many=True,
)

def clearing_of(**fields: Any) -> Clearing:
    """The record; power and speed that the job leaves to the plan stand at placeholders."""
    return Clearing(
        **{"power": 1.0, "speed_mm_s": 1.0} | fields,
        choose_power="power" not in fields,
        choose_speed="speed_mm_s" not in fields,
    )


CLEARING = KeyTable(
    "clearing",
    "How the resist is cleared.",
    Key("power", None, POWER,
        "The fraction of full power; default: chosen for twice the threshold dose, which is the "
        "shop book's, else published for such paints", example="30 %"),
    Key("speed", None, SPEED,
        "The speed along the lines; default: chosen likewise", example="20 mm/s"),
    Key("passes", 1, PASSES, "How often each line is run"),
    Key("mark", None, MARK,
        "The cleared width along x (of a line along y) and along y as measured; default: from "
        "the shop book, else from the spot at dose ratio 2", example=["0.10 mm", "0.087 mm"]),
    Key("dose_ratio", None, Figure(above=1.01, at_most=200, usual=(1.15, 20)),
        "Line dose over threshold line dose across the spot's wider axis, instead of mark",
        example=2.0),
    Key("spacing", "auto",
        AutoOr(Amount("length", above="0 mm", at_most="10 mm", usual=("0.002 mm", "0.5 mm"))),
        "The distance between lines; auto: by the spacing rule"),
    Key("line_direction", "auto", OneOf(("auto", "x", "y", "crossed")), "How the lines run"),
    Key("dots", "auto", OneOf(("auto", "strokes")),
        "How round dots under 1.5 marks are cleared; auto: by a dwell at each one's middle "
        "where machine.beam_at_rest allows it and that is quicker"),
    Key("focus_step", None,
        Amount("length", above="0 mm", at_most="2 mm", usual=("0.02 mm", "1 mm")),
        "How far the head is lowered by hand between passes; the program then stops after each "
        "pass, beam off; default: no stop", example="0.2 mm"),
    record=clearing_of,
)

ETCH = KeyTable(
    "etch",
    "The etch; left out for clear plastic.",
    Key("etchant", REQUIRED, Named("etchants"),
        "The etchant: an id of the etchants table, or a name for it", example="sodium-hydroxide"),
    Key("strength", REQUIRED, StrengthForm(), "The bath's strength", example="100 g/L"),
    Key("temperature", REQUIRED,
        Amount("temperature", above="0 degC", below="100 degC", usual=("5 degC", "95 degC")),
        "The bath's temperature", example="40 degC"),
    # Below a micrometre nothing is etched that could be told from the plate's own roughness.
    Key("depth", REQUIRED,
        Amount("length", at_least="1 um", at_most="20 mm", usual=("0.005 mm", "1 mm")),
        "How deep the metal is bitten", example="0.06 mm"),
    Key("etch_factor", None,
        WithSpread(Figure(above=0.05, at_most=100, usual=(0.3, 10)), share=0.5),
        "Depth over undercut per edge as measured; default: the table's, with its spread",
        example=[1.0, 0.1]),
    Key("rate", None,
        WithSpread(Amount("rate", at_least="0.001 um/min", at_most="2000 um/min",
                          usual=("0.05 um/min", "200 um/min"))),
        "The etch rate as measured; likewise", example="2.3 um/min"),
    Key("rise", None,
        Amount("temperature difference", above="0 K", at_most="100 K", usual=("1 K", "40 K")),
        "How much the bath may warm; default: 10 K, or what ceiling and resist leave",
        example="10 K"),
    Key("agitation", "tray", OneOf(("tray", "rocked", "bubbled", "spray")),
        "How the bath is moved"),
    Key("filled", False, YesNo(),
        "true: the recesses are filled with paint, and too shallow a depth for that is told",
        into="is_filled"),
    Key("electrolyte", None, Named("electrolytes"),
        'With etchant = "electrolytic": the salt whose strength is given',
        example="sodium-chloride"),
    Key("current", None,
        Amount("current", at_least="1 mA", at_most="1000 A", usual=("0.05 A", "100 A")),
        "With a current: that of all the pieces in the bath together", example="2 A"),
    Key("current_density", None,
        Amount("current density", at_least="0.1 mA/cm^2", at_most="10 A/cm^2",
               usual=("5 mA/cm^2", "1 A/cm^2")),
        "Instead of current: per open area; default of both: the table's", example="0.1 A/cm^2"),
    Key("voltage", None, Amount("voltage", above="0 V", at_most="1000 V"),
        "With a current: what the supply shows; default: the usual voltage's high end",
        example="3 V"),
    Key("efficiency", None, WithSpread(Figure(at_most=1.5)),
        "Share of the current that dissolves metal as measured; default: the table's", example=0.9),
    Key("chromate_acknowledged", False, YesNo(),
        "true: the shop knows that stainless steel under a current leaves chromate, and has a "
        "licensed carrier for it", into="is_chromate_acknowledged"),
    record=Etch,
)

BATH = KeyTable(
    "bath",
    "The bath as the shop has it; without it, a fresh bath in a tray that suits one piece.",
    Key("id", None, TextForm(),
        "The shop's name for this bath", example="lye-1", into="ident"),
    Key("dissolved", "0 g/L", Dissolved(500),
        "Metal that earlier work has left in it", example="6 g/L", into="dissolved_g_per_l"),
    Key("volume", None,
        Amount("volume", at_least="1 mL", at_most="10000 L", usual=("50 mL", "500 L")),
        "How much of it there is; default: as much as the plan asks for", example="2 L"),
    Key("tray", None, Row(SIDE),
        "The floor of the tray, or the name of one of the shop's; default: the smallest of the "
        "shop's trays that takes the pieces; without one, for several pieces the smallest usual "
        "tray that takes them all, for one a tray 20 mm larger all round",
        example=["200 mm", "150 mm"]),
    Key("plates_at_once", None, Count(1000),
        "Pieces in the tray together; default: as many as lie in it with 20 mm between them",
        example=2),
    Key("stock", None, StrengthForm(),
        "The solution that is diluted to the bath; default: dry reagent, or the bath as bought",
        example="42 degBe"),
    Key("coupon_area", "0 mm^2", Amount("area", at_least="0 mm^2", at_most="1000000 mm^2"),
        "Cleared area of the coupon that is etched in the same bath", example="4 cm^2"),
    Key("cooled", False, YesNo(),
        "true: the vessel is cooled while the etch goes on, so that etch.rise may be more than "
        "a bath without cooling may take", into="is_cooled"),
    record=JobBath, short="id",
)

LIMITS = KeyTable(
    "limits",
    "What the shop accepts.",
    Key("name", None, TextForm(longest=60),
        "Limits that the shop keeps by this name; what stands beside it wins", example="ours"),
    Key("edge_tolerance", "0.05 mm",
        Amount("length", at_least="0 mm", at_most="10 mm", usual=("0 mm", "0.3 mm")),
        "How far an edge may err either way"),
    Key("narrowest_land", "0.15 mm",
        Amount("length", at_least="0 mm", at_most="50 mm", usual=("0 mm", "2 mm")),
        "The narrowest finished land"),
    Key("too_thin", "widen", OneOf(("widen", "leave-out", "stop")),
        "What happens to strokes that are too thin to make"),
    Key("viewing_distance", None,
        Amount("length", above="0 mm", at_most="100000 cm", usual=("100 mm", "50000 mm")),
        "From how far the piece is read: its lettering is held against it; default: it is not",
        example="150 cm"),
    Key("raised_rule", None, OneOf(("ada-2010",)),
        "The rule that raised words are held against: 2010 ADA Standards, 703.2 and 703.3. Whether "
        "it applies the authority on the place says", example="ada-2010"),
    record=Limits, short="name",
)

REGISTRATION_MARK = KeyTable(
    "mark",
    "A cross cleared with the first coat, where a frame or a screw's head hides it later.",
    Key("at", REQUIRED, Row(ANY_MM),
        "Its centre from the blank's lower left, as seen", example=["6 mm", "6 mm"]),
    record=lambda at_mm: at_mm, into="marks_mm", is_many=True,
)

REGISTRATION = KeyTable(
    "registration",
    "How well the coats of a sign meet.",
    Key("error", REQUIRED,
        Amount("length", at_least="0 mm", at_most="20 mm", usual=("0 mm", "1 mm")),
        "How far two clearings may miss each other", example="0.1 mm"),
    Key("placing", "0.5 mm", FROM_0_MM,
        "How far the sheet may lie off its place on the bed: what reaches an edge is cleared "
        "past it by so much"),
    Key("method", "auto", OneOf(("auto", "one-by-one", "through")),
        "How the coats are cleared: each by itself once it is dry, or through all coats that "
        "are there; auto: whichever shows less of a wrong colour, else the one that burns less "
        "paint"),
    REGISTRATION_MARK,
    record=Registration,
)

LIGHT = KeyTable(
    "light",
    "A clear sheet lit through one edge: the beam marks its back, and nothing is painted.",
    Key("edge", REQUIRED, OneOf(("bottom", "top", "left", "right")),
        "The edge that the light comes in by, as seen", example="bottom"),
    Key("far", 2, Figure(at_most=4),
        "How many times denser the marking is at its far side than near the light"),
    record=EdgeLight,
)

SHEET = KeyTable(
    "sheet",
    "What the process sheet asks for.",
    Key("second_name", False, YesNo(),
        "A second person signs each hold of the sheet as well; left out: whoever does the work "
        "signs alone"),
)

BUDGET = KeyTable(
    "budget",
    "What one run may use of the computer before it is ended.",
    Key("time", "120 s", Amount("time", at_least="1 s", at_most="24 h"), "The computing time"),
    Key("memory", "4 GiB", Amount("memory", at_least="256 MiB", at_most="1024 GiB"), "The memory"),
    record=Budget,
)

TABLES = KeyTable(
    "tables",
    "The shop's own data, besides or instead of the built-in tables.",
    Key("file", REQUIRED, _TABLES,
        "The shop's own materials, pairs, resists and hazards, from the job file's folder",
        example="our-tables.toml", into="tables_file"),
)

JOB_FILE = KeyTable(
    "",
    "A job for Stopout: one piece, its artwork, its coats, the machine and the etch.",
    JOB, ARTWORK, TEXT, LINE, FRAME, CODE, SERIES, PANEL, BLANK, RESIST, FILM, STENCIL, COAT,
    REGISTRATION, LIGHT, MACHINE, CLEARING, ETCH, BATH, LIMITS, SHEET, TABLES, BUDGET,
)
