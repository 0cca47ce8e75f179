"""The job as validated: what the job file says, in mm, s, W, degC, g/L; nothing defaulted away.

`None` means that the job file leaves the value out and that a table, the shop book or a rule
supplies it; the plan then says which. The job file's contract is docs/reference/job-file.md.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from stopout.errors import PlanError
from stopout.job.book_mark import BookMark
from stopout.job.route import Route
from stopout.job.series import Panel, Series
from stopout.job.setting import Setting
from stopout.values import Finding, Machine, Measured

_OPENERS: dict[str, Literal["beam", "film", "knife"]] = {
    "laser": "beam",
    "printed-film": "film",
    "cut-film": "knife",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ArtworkRequest:
    """Which artwork, how large and where. At most one of width, height, scale, resolution.

    `file` is empty where the job draws by its `setting` alone.
    `position_mm` is (left, bottom) of the artwork's box as seen, None for centred.
    `threshold` is a fraction: dark = luma over white below 1 - threshold; None: found from a raster
    picture itself. `specks_mm` is the size below which specks of a raster picture are cleaned away,
    None: two pixels. `page` counts from 1. `fonts` are files from the job file's folder.
    `may_be_cut` says that the blank's edge, its holes and the rim may take of the artwork.
    `leave_out` names elements and properties of an SVG that the piece is made without.
    """

    file: str = ""
    width_mm: float | None = None
    height_mm: float | None = None
    scale: float | None = None
    resolution_dpi: float | None = None
    box: Literal["page", "ink"] = "page"
    dark: Literal["recessed", "raised"] = "recessed"
    field_mm: float | None = None
    position_mm: tuple[float, float] | None = None
    threshold: float | None = 0.5
    specks_mm: float | None = None
    page: int = 1
    fonts: tuple[str, ...] = ()
    may_be_cut: bool = False
    leave_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A round hole, centre as seen."""

    at_mm: tuple[float, float]
    diameter_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """The piece before work. `outline` names an SVG file that replaces the rounded rectangle."""

    material: str
    width_mm: float
    height_mm: float
    thickness_mm: float
    worked_side: Literal["front", "back"]
    corner_radius_mm: float = 0.0
    outline: str | None = None
    finish: Literal["bare", "anodised", "lacquered", "filmed"] = "bare"
    holes: tuple[Hole, ...] = ()

    @property
    def is_back_worked(self) -> bool:
        """True where the piece is worked on the back, so that as worked mirrors as seen."""
        return self.worked_side == "back"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shows:
    """What the reader sees in a coat's colour: the dark artwork, the rest, or chosen shapes."""

    kind: Literal["dark", "rest", "fill", "id", "class"]
    value: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Coat:
    """One coat of paint. A job with `[resist]` has exactly one, with `shows` None.

    `power`, `speed_mm_s`, `passes` and `mark_mm` override the job's clearing for this coat.
    `recolour` tells that it shows on purpose what the artwork has in another colour.
    `book_mark` is the shop book's, where neither gives a mark or a dose ratio.
    """

    paint: str
    colour: str = "black"
    thickness_um: float | None = None
    shows: Shows | None = None
    recolour: bool = False
    power: float | None = None
    speed_mm_s: float | None = None
    passes: int | None = None
    mark_mm: tuple[Measured, Measured] | None = None
    book_mark: BookMark | None = None

    @property
    def is_window(self) -> bool:
        """True for a window to light, for which nothing is sprayed."""
        return self.colour == "clear"


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearing:
    """How the resist is cleared. `power` is a fraction of full power.

    `choose_power` and `choose_speed` say that the job leaves these to the plan: the values are then
    placeholders until the threshold is looked up (`stopout.planning.book.dose`).
    """

    power: float
    speed_mm_s: float
    passes: int = 1
    mark_mm: tuple[Measured, Measured] | None = None
    dose_ratio: float | None = None
    spacing_mm: float | None = None
    line_direction: Literal["auto", "x", "y", "crossed"] = "auto"
    dots: Literal["auto", "strokes"] = "auto"
    focus_step_mm: float | None = None
    choose_power: bool = False
    choose_speed: bool = False

    @property
    def is_chosen(self) -> bool:
        """True where the plan chooses the dose."""
        return self.choose_power or self.choose_speed


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """A printed film and the photoresist under it.

    `growth_mm` is how far each edge of an opening moves outwards by exposure and developing;
    `smallest_opening_mm` the narrowest opening that the resist makes dependably.
    """

    resist_acts: Literal["negative", "positive"]
    growth_mm: float = 0.0
    smallest_opening_mm: float = 0.1
    printed_side: Literal["down", "up"] = "down"
    page_mm: tuple[float, float] = (210.0, 297.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stencil:
    """A film cut with a knife: how far cuts run past corners, bridges, how far past the plate."""

    overrun_mm: float = 0.2
    is_loose: bool = False
    bridge_mm: float = 1.0
    margin_mm: float = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Strength:
    """A bath's strength as given: `g/L`, `%` by weight, or `degBe` on the heavy Baume scale."""

    value: float
    unit: Literal["g/L", "%", "degBe"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Etch:
    """The etch. `etch_factor` is depth / undercut per edge.

    The keys from `electrolyte` on are those of an etch by a current (`etchant` is then
    `electrolytic`); `current_a` is that of all the pieces in the bath together.
    `etch_factor_source` and `rate_source` name the entries of the shop book where the values are
    not the job file's own.
    """

    etchant: str
    strength: Strength
    temperature_degc: float
    depth_mm: float
    etch_factor: Measured | None = None
    rate_um_per_min: Measured | None = None
    rise_k: float | None = None
    agitation: Literal["tray", "rocked", "bubbled", "spray"] = "tray"
    is_filled: bool = False
    electrolyte: str | None = None
    current_a: float | None = None
    current_density_a_per_cm2: float | None = None
    voltage_v: float | None = None
    efficiency: Measured | None = None
    is_chromate_acknowledged: bool = False
    etch_factor_source: str | None = None
    rate_source: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class JobBath:
    """The bath as the shop has it: its name, what is in it, how much, the tray, the stock."""

    ident: str = ""
    dissolved_g_per_l: float = 0.0
    volume_l: float | None = None
    tray_mm: tuple[float, float] | None = None
    plates_at_once: int | None = None
    stock: Strength | None = None
    coupon_area_mm2: float = 0.0
    is_cooled: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the shop accepts."""

    edge_tolerance_mm: float = 0.05
    narrowest_land_mm: float = 0.15
    too_thin: Literal["widen", "leave-out", "stop"] = "widen"
    viewing_distance_mm: float | None = None
    raised_rule: Literal["ada-2010"] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeLight:
    """A sheet lit through one edge, as seen: the beam marks the plastic itself.

    `far` is how much denser the marking is to be at its far side than near the light.
    """

    edge: Literal["bottom", "top", "left", "right"]
    far: float = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Registration:
    """How well the clearings of a sign's coats meet.

    `error_mm` is how far two clearings may miss each other, None where nobody knows;
    `placing_mm` how far the sheet itself may lie off its place on the bed; `marks_mm`
    are places, as seen, of crosses to find the sheet's place by, which something later hides.
    """

    error_mm: float | None = None
    placing_mm: float = 0.5
    method: Literal["auto", "one-by-one", "through"] = "auto"
    marks_mm: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What one run may use of the computer; the command line holds it to that."""

    time_s: float = 120.0
    memory_gib: float = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A validated job. `sha256` is that of the job file's bytes.

    `spares` are pieces etched besides the quantity. `tables_file` names the shop's own tables,
    from the job file's folder. `light` is given where the sheet is marked without any paint;
    `coats` then holds one stand-in without a paint. `findings` holds what the reader of the file
    has to say, such as keys without effect. `second_name` asks for two names at each hold of the
    sheet. `budget` is what the run may use. `setting` is what the job sets besides its artwork.
    `series` says by what its pieces differ, and `panel` how several of them lie side by side.
    `whose` names for each key that the job has from the shop book the entry that gave it.
    """

    name: str
    artwork: ArtworkRequest
    blank: Blank
    coats: tuple[Coat, ...]
    sha256: str
    machine: Machine | None = None
    clearing: Clearing | None = None
    method: Literal["laser", "printed-film", "cut-film"] = "laser"
    film: Film | None = None
    stencil: Stencil | None = None
    revision: str = "A"
    quantity: int = 1
    spares: int = 0
    etch: Etch | None = None
    bath: JobBath = field(default_factory=JobBath)
    limits: Limits = field(default_factory=Limits)
    registration: Registration = field(default_factory=Registration)
    light: EdgeLight | None = None
    tables_file: str | None = None
    findings: tuple[Finding, ...] = ()
    second_name: bool = False
    budget: Budget | None = None
    setting: Setting = field(default_factory=Setting)
    series: Series | None = None
    panel: Panel | None = None
    whose: tuple[tuple[str, str], ...] = ()

    def source_of(self, key: str) -> str:
        """Who gave the value of a key of the job file, such as `machine.spot`."""
        return dict(self.whose).get(key, "job file")

    @property
    def route(self) -> Route:
        """What is made, and what opens it."""
        is_sign = self.coats[0].shows is not None
        makes: Literal["plate", "sign", "lit sheet"] = "sign" if is_sign else "plate"
        return Route(
            makes=makes if self.light is None else "lit sheet", opens=_OPENERS[self.method]
        )

    @property
    def laser(self) -> Machine:
        """The laser machine.

        Raises
        ------
        PlanError
            Where the job has none.
        """
        if self.machine is None:
            raise PlanError("the job has no [machine], which clearing with a laser needs")
        return self.machine

    @property
    def settings(self) -> Clearing:
        """How the laser clears.

        Raises
        ------
        PlanError
            Where the job does not say.
        """
        if self.clearing is None:
            raise PlanError("the job has no [clearing], which clearing with a laser needs")
        return self.clearing
