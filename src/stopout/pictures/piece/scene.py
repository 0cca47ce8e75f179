"""What the preview shows: regions, numbers and findings of one plan, gathered by the caller."""

from __future__ import annotations

from dataclasses import dataclass, field

import shapely
from shapely.geometry.base import BaseGeometry

from stopout.values import ColourPicture, Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseUp:
    """A place worth enlarging: where, as worked, one plain line about it, and how wide a window."""

    at_mm: tuple[float, float]
    caption: str
    span_mm: float = 0.9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CoatScene:
    """A cleared coat of a sign, as worked: its number, its colour, and what is cleared."""

    number: int
    colour: str
    opening: BaseGeometry
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PreviewScene:
    """Everything the preview shows of a plan. Regions are as worked, in mm, unless said otherwise.

    Attributes
    ----------
    title : tuple of str
        The headline, then lines under it (revision, material, process).
    width_mm, height_mm : float
        Size of the blank.
    blank : BaseGeometry
        The blank with its holes.
    target, opening, finished : BaseGeometry
        T, the swept openings O, and the predicted finished region P.
    too_much, too_little : BaseGeometry
        P minus T, and T minus P.
    lost, widened : BaseGeometry
        What is missing from the outcome altogether, and what is beyond the tolerance.
    is_back_worked : bool
        True where the piece is read through its front and as worked mirrors as seen.
    has_beam : bool
        False where a film or a knife opens the resist.
    is_draft : bool
        True where no program has been laid: the prediction comes from the mask.
    numbers : tuple of (str, str)
        A few labels with their values, in the order in which they are to stand.
    findings : tuple of Finding
        Listed below the pictures; those with a place are ringed and numbered.
    front_view : tuple of (str, BaseGeometry)
        For a sign: colour name and region, *as seen*, of each coat that shows. Empty on metal.
    tints : tuple of str
        The tint of each of these coats; empty takes them from the colours' names.
    drawn : ColourPicture or None
        A sign's artwork as it is drawn, *as seen*.
    coats : tuple of CoatScene
        A sign's cleared coats, where there are several.
    missed_view : tuple of (str, BaseGeometry)
        As `front_view`, where one clearing misses the others; empty where none can.
    missed_note : str
        What the miss is, in words.
    material : str
        Material id; chooses the tint of bare metal or plastic.
    resist_colour : str
        Colour of the coat under the laser.
    lit_edge : str
        For a sheet marked without paint: the edge that the light comes in by, as seen.
    edge_tolerance_mm : float
        Drawn as a band about the artwork's edge in the enlargements; 0 draws none.
    outcome_of : str
        Which coat the outcome is of, such as ": coat 2", where there are several.
    headline, verdict, state : str, tuple of str, str
        The verdict in a few words, its lines, and `ready`, `look` or `stopped`.
    verdict_in_full : tuple of str
        For each line the finding in full, which is told there and not again below.
    worst, thinnest : CloseUp or None
        What the two enlargements show; None: found from the regions.
    least_stroke_mm : float
        No stroke of the target is thinner, as measured.
    """

    title: tuple[str, ...]
    width_mm: float
    height_mm: float
    blank: BaseGeometry
    target: BaseGeometry
    opening: BaseGeometry
    finished: BaseGeometry
    too_much: BaseGeometry
    too_little: BaseGeometry
    lost: BaseGeometry = field(default_factory=shapely.MultiPolygon)
    widened: BaseGeometry = field(default_factory=shapely.MultiPolygon)
    is_back_worked: bool = False
    has_beam: bool = True
    is_draft: bool = False
    numbers: tuple[tuple[str, str], ...] = ()
    findings: tuple[Finding, ...] = ()
    front_view: tuple[tuple[str, BaseGeometry], ...] = ()
    tints: tuple[str, ...] = ()
    drawn: ColourPicture | None = None
    coats: tuple[CoatScene, ...] = ()
    missed_view: tuple[tuple[str, BaseGeometry], ...] = ()
    missed_note: str = ""
    material: str = ""
    resist_colour: str = "black"
    lit_edge: str = ""
    edge_tolerance_mm: float = 0.0
    outcome_of: str = ""
    headline: str = ""
    verdict: tuple[str, ...] = ()
    verdict_in_full: tuple[str, ...] = ()
    state: str = "ready"
    worst: CloseUp | None = None
    thinnest: CloseUp | None = None
    least_stroke_mm: float = 0.0
