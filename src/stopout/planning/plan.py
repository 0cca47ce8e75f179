"""The plan as a record: everything the programs, the pictures, the sheet and plan.json show."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.clearing import DwellRun, ProgramTimes
from stopout.errors import PlanError
from stopout.etching import CEILING, EtchPlan, Finish, Hazard, Material, Pair, Resist
from stopout.job.record import Coat, Job
from stopout.mask import Bridge, LocalWidths, NarrowLand, ThinPlace, Tie
from stopout.outcome import Change, Outcome
from stopout.planning.measures.margins import Margin, Relief
from stopout.planning.signs.front import Front
from stopout.planning.verdict.record import UNMEASURED, Verdict
from stopout.values import Drawing, Finding, Level, Measured, Moves, Stated
from stopout.wording import counted

# What a coat without a program has.
NO_MOVES = Moves(
    x_mm=np.zeros(0),
    y_mm=np.zeros(0),
    rapid=np.zeros(0, dtype=bool),
    speed_mm_s=np.zeros(0),
    power=np.zeros(0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MaskNumbers:
    """Measures of a coat's resist opening, by the definitions of docs/reference/plan-json.md."""

    openings: int
    holes: int
    area_mm2: float
    edge_mm: float
    narrowest_opening_mm: float
    narrowest_land_mm: float
    narrowest_land_at: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearingNumbers:
    """How a coat is cleared and what it takes, for one piece.

    `time_range_s` is the time at both ends of what is not known of the machine, None where it is.
    """

    mark_mm: tuple[Measured, Measured]
    reach_mm: float
    spacing_mm: float
    line_direction: str
    power_fraction: float
    speed_mm_s: float
    passes: int
    outline_speed_mm_s: float
    times: ProgramTimes
    time_one_direction_s: float
    time_other_direction_s: float | None
    area_floor_s: float
    time_range_s: tuple[float, float] | None = None
    dots: DwellRun | None = None
    focus_step_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CoatPlan:
    """One cleared coat: `number` counts the coats from the viewer's side, from 1.

    Regions are as worked, in mm: `target` what is to be finished, `opening` what the written
    program clears (of a draft: what the mask does), `finished` the predicted piece. `widths` are
    those of the target and of the land as drawn, along their medial axes; `bridges` and `counters`
    the lands between openings and the counters of which nothing will be left; `stroke` and `land`
    the thinnest ones with their spread. `mark_mm` is what one place of the beam clears, or the
    smallest opening that a film or a knife makes dependably; `reach_mm` the undercut and half of
    that. `program` is the proven text, None where a finding says stop, no beam clears, or the plan
    is a draft; `drawn` is what stands on the film or is cut, `bridge_ties` what holds a loose
    stencil's islands; `prints` and `cuts` tell that a film or a cut file is written. `changes` are
    the parts of the drawing that a reader finds lost, broken, filled or merged in the predicted
    piece; `stroke_mm` is its narrowest stroke as drawn.
    """

    number: int
    coat: Coat
    target: MultiPolygon
    opening: MultiPolygon
    finished: MultiPolygon
    thin_places: tuple[ThinPlace, ...]
    narrow_lands: tuple[NarrowLand, ...]
    bridges: tuple[Bridge, ...]
    counters: tuple[Bridge, ...]
    widths: tuple[LocalWidths, LocalWidths]
    stroke: Margin
    land: Margin
    advice: Relief
    moves: Moves
    mask: MaskNumbers
    mark_mm: tuple[Measured, Measured]
    reach_mm: float
    clearing: ClearingNumbers | None
    outcome: Outcome
    finished_land_mm: float
    narrowest_land_at: tuple[float, float] | None
    program: str | None
    drawn: MultiPolygon | None = None
    bridge_ties: tuple[Tie, ...] = ()
    changes: tuple[Change, ...] = ()
    stroke_mm: float = 0.0
    prints: bool = False
    cuts: bool = False

    @property
    def lost(self) -> int:
        """How many parts of the drawing are lost, lack a piece or come out broken."""
        kinds = ("gone", "piece gone", "split", "counter opened")
        return len({change.part for change in self.changes if change.kind in kinds})

    @property
    def merged(self) -> int:
        """How many parts run into others, and how many counters fill."""
        joined = sum(len(change.others) for change in self.changes if change.kind == "merged")
        return joined + sum(change.kind == "counter closed" for change in self.changes)

    @property
    def cleared(self) -> ClearingNumbers:
        """How the beam clears it.

        Raises
        ------
        PlanError
            Where no beam does, for the opening is made by a film or a knife; and in a draft.
        """
        if self.clearing is None:
            raise PlanError(f"coat {self.number} has no program of a beam")
        return self.clearing


@dataclass(frozen=True, slots=True, kw_only=True)
class LightBand:
    """One band of the marking, from its near side to its far side, as distances from the light.

    `aimed` and `covered` are shares of the artwork's area in this band that lie under a mark: as
    meant, and as the written program makes it; None before there is one, or where none is drawn.
    """

    near_mm: float
    far_mm: float
    spacing_mm: float
    aimed: float
    covered: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LightPlan:
    """How a sheet is marked for the light through one edge, as seen: bands from near to far."""

    edge: Literal["bottom", "top", "left", "right"]
    far: float
    bands: tuple[LightBand, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedPiece:
    """A piece of a series or panel: its number, its fields, and where it lies as worked.

    `panel` counts from 1; `at_mm` and `size_mm` are its lower left corner there, and its size.
    """

    number: str
    fields: tuple[tuple[str, str], ...]
    panel: int
    at_mm: tuple[float, float]
    size_mm: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """A whole plan; of several pieces that of their first panel, taken as one blank.

    `pieces` are those of all panels, and `panels` the plans of the further ones. Loose pieces
    (`are_loose`) are blanks of their own: the plan is then that of one piece, and `panels` are all.

    `face` is the blank's face as worked, holes cut out; `shown` the region that each coat of a
    sign is to show, as worked, in the order of the coats (empty for a plate); `front` what its
    reader will see, as predicted; `light` how a sheet without paint is marked. `is_draft` tells
    that it ends with the prediction: no program is written or proven, and no remedy is tried.
    """

    job: Job
    drawing: Drawing
    material: Material
    resists: tuple[Resist, ...]
    pair: Pair | None
    hazards: tuple[Hazard, ...]
    face: BaseGeometry
    shown: tuple[BaseGeometry, ...]
    front: Front | None
    light: LightPlan | None = None
    coats: tuple[CoatPlan, ...]
    etch: EtchPlan | None
    blank_at_mm: tuple[float, float]
    bounds_program: str | None
    finish: Finish | None
    refusal_codes: frozenset[str]
    findings: tuple[Finding, ...]
    verdict: Verdict
    values: tuple[Stated, ...]
    is_draft: bool = False
    pieces: tuple[PlacedPiece, ...] = ()
    panels: tuple[Plan, ...] = ()
    are_loose: bool = False

    @property
    def is_panel(self) -> bool:
        """True where several pieces lie on one blank, which the job's quantity counts."""
        return bool(self.pieces) and not self.are_loose

    @property
    def blank_called(self) -> str:
        """What one blank is called that goes through the beam and the bath as one."""
        return "panel" if self.is_panel else "piece"

    @property
    def told_count(self) -> str:
        """What is made: panels with the pieces on them, or pieces."""
        pieces = f"{counted(len(self.pieces), 'piece')} on " if self.is_panel else ""
        return f"{pieces}{counted(self.job.quantity, self.blank_called)}"

    @property
    def numbered_panels(self) -> tuple[tuple[int, Plan], ...]:
        """The panels with files of their own, each with its number: loose pieces have all there."""
        return tuple(enumerate(self.panels, start=1 if self.are_loose else 2))

    def panel_file(self, name: str, panel: int) -> str:
        """Return what a file is called on a panel: those of the plan itself are plain."""
        stem, dot, ending = name.rpartition(".")
        is_plain = panel == 1 and not self.are_loose
        return name if is_plain else f"{stem}-panel-{panel}{dot}{ending}"

    @property
    def is_bath_refused(self) -> bool:
        """True where the chemistry itself says stop: nothing may then read as its recipe."""
        return any(
            finding.level is Level.STOP
            and (
                finding.code in {*self.refusal_codes, "chromate", "voltage-high"}
                or finding.code.startswith(("rate-", CEILING))
            )
            for finding in self.findings
        )

    @property
    def headline(self) -> str:
        """The verdict in a few words; a draft says that it is one."""
        return f"DRAFT: {self.verdict.headline}" if self.is_draft else self.verdict.headline

    @property
    def full_headline(self) -> str:
        """The same, and what is not measured yet, where there is anything to make."""
        if self.verdict.state == "stopped" or not self.verdict.unmeasured:
            return self.headline
        return (
            f"{self.headline}; {self.not_measured} not measured in this shop yet: do a test piece "
            "first"
        )

    @property
    def not_measured(self) -> str:
        """What is not the shop's own, where the verdict says that anything is not."""
        open_codes = UNMEASURED.intersection(one.code for one in self.verdict.told)
        machine = self.job.machine
        open_figures = {span.name for span in machine.spans} if machine is not None else set()
        if open_codes == {"machine-unmeasured"} and not open_figures & {"spot", "power"}:
            return "the machine's motion"
        return "mark" if self.etch is None else "mark or etch"

    @property
    def is_stopped(self) -> bool:
        """True where a finding says stop: no program may be written."""
        return any(finding.level is Level.STOP for finding in self.findings)


def file_names(coat: CoatPlan, *, is_draft: bool = False) -> dict[str, str | None]:
    """Return the names of a coat's files; no program of a stopped plan, none at all of a draft."""
    if is_draft:
        return dict.fromkeys(("mask_svg", "mask_png", "program"))
    number = coat.number
    names: dict[str, str | None] = {
        "mask_svg": f"mask-{number}.svg",
        "mask_png": f"mask-{number}.png",
        "program": f"clear-{number}.nc" if coat.program is not None else None,
    }
    if coat.drawn is not None:
        names["film"] = f"film-{number}.pdf" if coat.prints else None
        names["cut"] = f"cut-{number}.svg" if coat.cuts else None
    return names
