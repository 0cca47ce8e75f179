"""The process sheet as plain records: what is on it, in order, and nothing about how it looks.

Every output (the paper, the page for a phone) shows these blocks; `store` turns them into JSON and
back. Texts are finished: numbers carry their unit, degrees are typeset.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

FORMAT = "stopout-sheet-2"
# Stands for the letter that a stage gets once the whole sheet is laid out.
STAGE = "*"


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What stands at the top of every page."""

    job: str
    revision: str
    quantity: int
    artwork: str
    tool: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """Opens a part of the sheet; `letter` names a stage of the work, empty elsewhere.

    `new_page` asks for a fresh page: the part is looked up rather than worked through.
    """

    text: str
    letter: str = ""
    new_page: bool = False
    kind: Literal["heading"] = "heading"


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Sentences to read. `lines` of more than one make a list."""

    lines: tuple[str, ...]
    kind: Literal["note"] = "note"


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Pairs of label and value; `strong` ones are the orientation that must not be got wrong."""

    rows: tuple[tuple[str, str], ...]
    strong: bool = False
    kind: Literal["facts"] = "facts"


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """One drawing, an SVG whose size in mm is that of the piece.

    `mirrored` says how the orientation letter R stands beside it.
    """

    title: str
    words: str
    svg: str
    width_mm: float
    height_mm: float
    mirrored: bool
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """Drawings side by side at one scale; with `full_size` one at 1:1 and the 100 mm bar."""

    pictures: tuple[Picture, ...]
    full_size: bool = False
    kind: Literal["pictures"] = "pictures"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sketch:
    """A labelled drawing that has its own size on paper, in mm; its words stand in it and below.

    `alt` says for a reader who does not see it what it shows, the labels included.
    """

    title: str
    words: str
    svg: str
    width_mm: float
    height_mm: float
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sketches:
    """Labelled drawings side by side, or one over the whole width."""

    sketches: tuple[Sketch, ...]
    kind: Literal["sketches"] = "sketches"


@dataclass(frozen=True, slots=True, kw_only=True)
class Signs:
    """Safety signs by code, each with its words."""

    signs: tuple[tuple[str, str], ...]
    kind: Literal["signs"] = "signs"


@dataclass(frozen=True, slots=True)
class Need:
    """One thing to have at hand before work begins."""

    name: str
    amount: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What is needed, with amounts, to be ticked off."""

    rows: tuple[Need, ...]
    kind: Literal["needs"] = "needs"


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A hazard, before the steps that meet it.

    Attributes
    ----------
    word : str
        The GHS signal word with its origin, or what stands in its place.
    rank : str
        Which border the box gets: `danger` solid and thick, `warning` double, `notice` dashed.
    lines : tuple of (str, str)
        Label and sentence, in the order hazard, what to do, what never to do.
    signs : tuple of (str, str)
        Code and words of the pictograms and safety signs shown in it.
    """

    word: str
    rank: Literal["danger", "warning", "notice"]
    title: str
    lines: tuple[tuple[str, str], ...]
    signs: tuple[tuple[str, str], ...] = ()
    kind: Literal["box"] = "box"


@dataclass(frozen=True, slots=True, kw_only=True)
class FillIn:
    """A place to write a measured value; the unit is printed beside it.

    `key` names it in a record for the shop book, and is not shown.
    """

    label: str
    unit: str
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One action.

    Attributes
    ----------
    number : int
        Counted through the whole sheet, from 1.
    text : str
        One imperative sentence.
    note : str
        Why, or what to look for.
    sets : tuple of (str, str)
        Label and value, with its unit, that the plan sets.
    measured : tuple of FillIn
        What is written down while working.
    timer_s : int or None
        How long the action lasts.
    optional : bool
        True where the step is taken only if its own words say so.
    act : str
        What the step does to a piece's clock or record, such as `lower` or `weigh-after`; empty
        where it does nothing to them. Not shown: the page for a phone goes by it.
    """

    number: int
    text: str
    note: str = ""
    sets: tuple[tuple[str, str], ...] = ()
    measured: tuple[FillIn, ...] = ()
    timer_s: int | None = None
    timer: str = ""
    optional: bool = False
    act: str = ""
    kind: Literal["step"] = "step"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """A stop before what cannot be undone; work goes on once `signatures` people have signed.

    The number belongs to what is stopped before: the second clearing of a sign has the same hold.
    """

    number: int
    before: str
    checks: tuple[str, ...]
    signatures: int = 1
    kind: Literal["hold"] = "hold"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under column names or under a title; `shares` are the relative widths of the columns.

    `blank_rows` counts further rows to be written in; `hand` asks for rows high enough for that.
    `small` marks a part that is looked up: smaller letters, two columns where it has a title.
    """

    shares: tuple[float, ...]
    rows: tuple[tuple[str, ...], ...]
    columns: tuple[str, ...] = ()
    title: str = ""
    blank_rows: int = 0
    hand: bool = False
    small: bool = False
    kind: Literal["table"] = "table"


@dataclass(frozen=True, slots=True, kw_only=True)
class Signatures:
    """Lines to sign: what each signature says."""

    rows: tuple[str, ...]
    kind: Literal["signatures"] = "signatures"


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What was measured on the finished pieces, for the shop book.

    Attributes
    ----------
    known : tuple of (str, str or number)
        Fields of the record that the plan knows, by the record's own keys.
    asked : tuple of FillIn
        What is measured, each with its key.
    words : str
        What becomes of it.
    """

    known: tuple[tuple[str, str | int | float], ...]
    asked: tuple[FillIn, ...]
    words: str
    kind: Literal["result"] = "result"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """The whole of a sheet whose plan must not be worked: reasons and remedies."""

    reasons: tuple[tuple[str, str], ...]
    more: str
    after: str
    kind: Literal["stop"] = "stop"


Block = (
    Heading
    | Note
    | Facts
    | Pictures
    | Needs
    | Box
    | Step
    | Hold
    | Table
    | Signatures
    | Signs
    | Sketches
    | Result
    | Stop
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """Pieces that go into the bath together, and so share a clock.

    Attributes
    ----------
    name : str
        Such as `coupon`, `piece 1` or `batch 2`.
    pieces : tuple of str
        Names of the pieces in it.
    time_s : float or None
        Planned time in the bath; None where the reagent would run out.
    checks : tuple of (str, float)
        What is done on the way, and at which share of the time: `look`, `measure`, `lift`.
    """

    name: str
    pieces: tuple[str, ...]
    time_s: float | None
    checks: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchSums:
    """The numbers that the page for a phone does its sums with; nothing of it is printed.

    Attributes
    ----------
    depth_um, rate_um_per_min, undercut_um, loss_g, bath_l, start_g_per_l : float
        Planned: depth, rate, undercut per edge, loss of weight of one piece, bath, and the metal
        dissolved in it before the first piece.
    gauge_share, gauge_um : float
        How far a measured depth may be off: the larger of this share of it and these um.
    clock : str
        `bath` where the clock starts as the piece is lowered, `current` where with the current.
    lanes : tuple of Lane
        In the order in which they go into the bath.
    known : tuple of (str, str or number)
        Fields of the record that the plan knows, by the record's own keys.
    """

    depth_um: float
    rate_um_per_min: float
    undercut_um: float
    loss_g: float
    bath_l: float
    start_g_per_l: float
    gauge_share: float
    gauge_um: float
    clock: Literal["bath", "current"]
    lanes: tuple[Lane, ...]
    known: tuple[tuple[str, str | int | float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A process sheet: what is worked from, what is looked up, and what hangs on the wall.

    Attributes
    ----------
    header : Header
        At the top of every page.
    card : tuple of Block
        The first page: enough for a person who has made the job before.
    blocks : tuple of Block
        The stages in the order of the work, then what may go wrong and the records.
    annex : tuple of Block
        What is looked up: drawings at true size, numbers, values, hazards in full.
    wall : tuple of Block
        First aid, incidents, spills and emergency numbers, for the wall.
    is_stop : bool
        True for the one page that says STOP, which is all there is then.
    has_program : bool
        True where a program runs, whose origin the drawings then show.
    hazards : tuple of str
        Ids of the hazards that the job meets, from which a wall page of the whole shop is made.
    """

    header: Header
    blocks: tuple[Block, ...]
    card: tuple[Block, ...] = ()
    annex: tuple[Block, ...] = ()
    wall: tuple[Block, ...] = ()
    is_stop: bool = False
    has_program: bool = True
    bench: BenchSums | None = None
    hazards: tuple[str, ...] = ()
    format: str = FORMAT

    @property
    def steps(self) -> tuple[Step, ...]:
        """The steps in order."""
        return tuple(block for block in self.blocks if isinstance(block, Step))

    @property
    def everything(self) -> tuple[Block, ...]:
        """All blocks, whatever page they stand on."""
        return (*self.card, *self.blocks, *self.wall, *self.annex)
