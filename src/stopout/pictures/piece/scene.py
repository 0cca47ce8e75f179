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

    The title is the headline, then lines under it (revision, material, process); `numbers` are a
    few labels with their values; findings with a place are ringed and numbered. The blank has its
    holes; target, opening and finished are T, O and P, too much and too little P - T and T - P,
    `lost` what is missing altogether and `widened` what is beyond the tolerance, which is drawn as
    a band about the artwork's edge in the enlargements (0 draws none). A back-worked piece is read
    through its front and mirrored; without a beam a film or a knife opens the resist; a draft's
    prediction comes from the mask.

    Of a sign `front_view` is colour name and region, *as seen*, of each coat that shows, `tints`
    the tint of each (empty takes them from the names), `drawn` its artwork as drawn, *as seen*, and
    `coats` the cleared ones where there are several. `missed_view` is the front view where one
    clearing misses the others, and `missed_note` says what the miss is; empty where none can. The
    edge that light comes in by, of a sheet marked without paint, is as seen.

    `outcome_of` names the coat that the outcome is of, such as ": coat 2", where there are several.
    `verdict_in_full` has for each line of the verdict the finding in full, which is told there and
    not again below; `state` is `ready`, `look` or `stopped`. The enlargements show `worst` and
    `thinnest`, or are found from the regions where they are None; no stroke of the target is
    thinner than `least_stroke_mm`, as measured.
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
