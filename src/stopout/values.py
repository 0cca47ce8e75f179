"""Frozen records that every part of Stopout shares.

Lengths are millimetres, times seconds, powers watts, unless a name says otherwise. Regions are
shapely geometries. Coordinates are *as worked* (as the laser sees the piece): origin at the
blank's lower left, x right, y up, unless a docstring says *as seen*.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from enum import StrEnum
from typing import Any, Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.wording import measurable

# Programs give coordinates in mm to this many decimals: a tenth of a micrometre.
COORDINATE_DECIMALS = 4
# No program holds the beam on within two motor steps for more full-power seconds (ours).
MOST_DWELL_S = 0.5

FloatArray = NDArray[np.float64]
Grey = NDArray[np.float32]
# A rectangle's left, lower, right and upper side.
Box = tuple[float, float, float, float]
Axis = Literal["x", "y"]
AXES: tuple[Axis, Axis] = ("x", "y")
Kind = Literal["given", "measured", "published", "computed", "practice", "memory"]
Grade = Literal["A", "B", "C", "D"]
# How power goes with speed: the program's S words, the control by itself, neither, not known.
PowerWay = bool | Literal["control"] | None


class Level(StrEnum):
    """How much a finding weighs: a stop means that no program is written."""

    NOTE = "note"
    CAUTION = "caution"
    STOP = "stop"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something the plan has to say about the job, with the place and the remedy.

    `kind` parts what one code says of places that come out differently, such as `widened`;
    `size_mm` is the measure that is too small there, and `needs_mm` the size that would do. By
    these findings about one thing are gathered. `thing` names what the place belongs to, where
    whoever found it knows.
    """

    code: str
    level: Level
    message: str
    remedy: str = ""
    at_mm: tuple[float, float] | None = None
    kind: str = ""
    size_mm: float | None = None
    needs_mm: float | None = None
    thing: str = ""

    def __post_init__(self) -> None:
        """Write its numbers as a person could measure them."""
        object.__setattr__(self, "message", measurable(self.message))
        object.__setattr__(self, "remedy", measurable(self.remedy))

    @classmethod
    def stop(cls, code: str, message: str, remedy: str = "", **more: Any) -> Finding:
        """What must not be worked; `more` are further fields."""
        return cls(code=code, level=Level.STOP, message=message, remedy=remedy, **more)

    @classmethod
    def caution(cls, code: str, message: str, remedy: str = "", **more: Any) -> Finding:
        """What may go wrong."""
        return cls(code=code, level=Level.CAUTION, message=message, remedy=remedy, **more)

    @classmethod
    def note(cls, code: str, message: str, remedy: str = "", **more: Any) -> Finding:
        """What is good to know."""
        return cls(code=code, level=Level.NOTE, message=message, remedy=remedy, **more)


class Counted(str):
    """What is being done, in a few words, and the share of it that is done, from 0 to 1."""

    done: float

    def __new__(cls, words: str, done: float) -> Counted:
        """Give words their share."""
        self = super().__new__(cls, words)
        self.done = done
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A value with its standard deviation (zero where none is known)."""

    value: float
    sd: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """A value as the plan states it, with where it comes from."""

    name: str
    value: str
    kind: Kind
    source: str
    grade: Grade | None = None

    def __post_init__(self) -> None:
        """Write its numbers as a person could measure them."""
        object.__setattr__(self, "value", measurable(self.value))


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A figure that nobody measured: the range that it lies in, and a value to plan with.

    `value` lies between `low` and `high`, in `unit`; `name` is the key that a job file has for it.
    """

    name: str
    value: float
    low: float
    high: float
    unit: str
    kind: Kind
    source: str
    grade: Grade | None = None

    @property
    def words(self) -> str:
        """The range as a reader is told it."""
        return f"{self.low:g} to {self.high:g} {self.unit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """The laser machine, as the job file describes it.

    `spot_mm` are full widths along x and y in the sense of `spot_means`. `blank_at_mm` is the
    blank's corner from the bed's corner; None where the blank is centred on the bed.
    `keep_outs_mm` are boxes (x0, y0, x1, y1) from the bed's corner.

    Attributes
    ----------
    power_follows_speed : bool or "control" or None
        True: the program's S words follow the planned speed. "control": the control scales a
        constant S by its own speed over the commanded one. False: neither. None: not known.
    beam_lag_s, play_mm : (float, float) or None
        Along x and along y: how late the beam goes on and off, and the play of the drive; None
        where not known, which counts as none.
    beam_at_rest : bool
        True where the control is known to keep S as it stands while the head creeps or rests.
    acceleration_scale : float
        What the given acceleration was multiplied with, after a measured run time.
    units_word, feed_word, work_offset, air_on, air_off, beam_off, end_word : str
        Words of its programs, "" for none (see `stopout.program.words`).
    spans : tuple of Span
        The figures that are not known of this machine: its field then holds a value of the range.
    name : str
        What the shop calls it, "" where it keeps it by no name.
    longest_line, decimals, most_lines_per_s
        What its control reads; None for no limit, and for the usual decimals.
    """

    spot_mm: tuple[float, float]
    spot_means: Literal["1/e2", "fwhm", "d4sigma"]
    wavelength_nm: float
    power_w: float
    top_speed_mm_s: float
    acceleration_mm_s2: float
    step_mm: float
    bed_mm: tuple[float, float]
    cornering_mm: float
    power_word: float
    beam_on: str
    blank_at_mm: tuple[float, float] | None = None
    power_follows_speed: PowerWay = None
    beam_lag_s: tuple[float, float] | None = None
    play_mm: tuple[float, float] | None = None
    beam_at_rest: bool = False
    acceleration_scale: float = 1.0
    units_word: Literal["G21", "G20", "G71", "G70"] = "G21"
    feed_word: str = ""
    work_offset: str = ""
    air_on: str = ""
    air_off: str = ""
    beam_off: str = ""
    end_word: str = ""
    line_ending: Literal["lf", "crlf"] = "lf"
    longest_line: int | None = None
    decimals: int | None = None
    most_lines_per_s: float | None = None
    pointer_fraction: float = 0.0
    keep_outs_mm: tuple[tuple[float, float, float, float], ...] = ()
    name: str = ""
    spans: tuple[Span, ...] = ()

    def span(self, name: str) -> Span | None:
        """Return the range of a figure that is not known, None where it was given."""
        return next((span for span in self.spans if span.name == name), None)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moves:
    """A program's motion, one entry a move, from rest at (0, 0).

    Attributes
    ----------
    x_mm, y_mm : (n,) ndarray
        Where each move ends, from the blank's corner.
    rapid : (n,) ndarray of bool
        True for a travel (`G0`), which goes at the machine's top speed with the beam off.
    speed_mm_s : (n,) ndarray
        The commanded speed (feed) of each move; for a travel the machine's top speed.
    power : (n,) ndarray
        Beam power of each move as a fraction of full power, 0 where the beam is off.
    """

    x_mm: FloatArray
    y_mm: FloatArray
    rapid: NDArray[np.bool_]
    speed_mm_s: FloatArray
    power: FloatArray

    def __len__(self) -> int:
        return len(self.x_mm)

    def taken(self, which: slice | NDArray[Any]) -> Moves:
        """Return some of the moves, by their places or a mask."""
        return replace(
            self, **{part.name: getattr(self, part.name)[which] for part in fields(self)}
        )

    @property
    def start_mm(self) -> FloatArray:
        """(n, 2) starting points of the moves."""
        start = np.zeros((len(self), 2))
        start[1:, 0], start[1:, 1] = self.x_mm[:-1], self.y_mm[:-1]
        return start

    @property
    def end_mm(self) -> FloatArray:
        """(n, 2) end points of the moves."""
        return np.column_stack([self.x_mm, self.y_mm])

    @property
    def length_mm(self) -> FloatArray:
        """(n,) lengths of the moves."""
        step = self.end_mm - self.start_mm
        return np.hypot(step[:, 0], step[:, 1])

    def is_dwell(self, *, step_mm: float, line_dose: float) -> NDArray[np.bool_]:
        """Tell which moves are dwells: lit alone, about a motor step long, far over the line dose.

        Parameters
        ----------
        step_mm : float
            One motor step.
        line_dose : float
            Fraction of full power over speed [s/mm] of the program's strokes.
        """
        lit = np.concatenate([[False], self.power > 0, [False]])
        alone = lit[1:-1] & ~lit[:-2] & ~lit[2:]
        short = self.length_mm <= 1.5 * step_mm
        return np.asarray(alone & short & (self.power > 3 * line_dose * self.speed_mm_s))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnShape:
    """One painted shape of the artwork, for coats that are chosen by colour, id or class.

    `fill` is `#rrggbb` in lower case: the colour that is seen there, over what lies below;
    `region` is what stays visible of it after the shapes painted later have covered it, as seen
    on the blank. `is_toned` tells that it is a step of a gradient.
    """

    fill: str
    ident: str
    classes: tuple[str, ...]
    region: BaseGeometry
    is_toned: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ColourPicture:
    """The artwork's own colours *as seen*, from a rendering that the import has no part in.

    Attributes
    ----------
    rgb : (M, N, 3) ndarray of uint8
        sRGB over white; row 0 is the topmost.
    is_painted : (M, N) ndarray of bool
        False where the file paints nothing: the bare page.
    left_mm, top_mm : float
        Where the upper left corner of pixel (0, 0) lies on the blank.
    px_mm : float
        Side of one pixel.
    """

    rgb: NDArray[np.uint8]
    is_painted: NDArray[np.bool_]
    left_mm: float
    top_mm: float
    px_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnGlyph:
    """A letter of live text: its characters, the line of text it stands in, its box as seen.

    `cap_mm` is the cap height that the job sets it in; 0 where artwork does.
    """

    text: str
    line: str
    box_mm: tuple[float, float, float, float]
    cap_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnText:
    """Words that a job sets, as seen, with the measures that rules for lettering speak of.

    `stroke_mm` is how thick the font's I is, `round_mm` how wide its O; `gaps_mm` the least and the
    widest gap between neighbouring letters, None where there are none; `line_mm` from base line to
    base line, 0 for a single line.
    """

    words: str
    cap_mm: float
    stroke_mm: float
    round_mm: float
    gaps_mm: tuple[float, float] | None
    line_mm: float
    box_mm: tuple[float, float, float, float]
    is_raised: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnCode:
    """A code for machines to read, as seen: what it says, its dark modules, its clear zone.

    `is_recessed` tells that its dark modules are what the recess makes on metal.
    """

    content: str
    kind: Literal["qr", "data-matrix", "code-128"]
    module_mm: float
    dark: BaseGeometry
    box_mm: tuple[float, float, float, float]
    quiet_mm: tuple[float, float, float, float]
    is_recessed: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """Artwork laid on the blank: *as seen*, in mm, origin at the blank's lower left.

    `width_mm` and `height_mm` are those of the artwork's box (page or ink, as the job asks);
    `dark` is the region that is dark, as a valid Polygon or MultiPolygon, maybe empty. `picture`
    is an independent rendering of its colours, where the piece is a sign. `beyond_page` is what is
    dark beyond the artwork's own page, whose edge cuts it off, and `glyphs` the letters of its live
    text with their outlines, where the file still knows them; `codes` and `texts`
    what the job sets. `pixel_mm` is how wide a picture's pixels are, nought where there are none,
    and `edge_known_mm` how well its edges are known.
    """

    file: str
    sha256: str
    width_mm: float
    height_mm: float
    dark: BaseGeometry
    shapes: tuple[DrawnShape, ...] = ()
    findings: tuple[Finding, ...] = ()
    beyond_page: BaseGeometry = field(default_factory=MultiPolygon)
    glyphs: tuple[DrawnGlyph, ...] = ()
    picture: ColourPicture | None = None
    codes: tuple[DrawnCode, ...] = ()
    texts: tuple[DrawnText, ...] = ()
    pixel_mm: float = 0.0
    edge_known_mm: float = 0.0

    @property
    def area_mm2(self) -> float:
        """Area of the dark region."""
        return float(self.dark.area)

    @property
    def points(self) -> int:
        """How many vertices the dark region has."""
        return int(shapely.get_num_coordinates(self.dark))
