"""From the planned coats of pieces to the plan of the panel that they lie on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.clearing import SideBySide
from stopout.errors import PlanError
from stopout.job.record import Hole, Job
from stopout.job.series import Panel, Piece
from stopout.job.setting import Setting
from stopout.planning.knowledge import Knowledge
from stopout.planning.opening.by_beam import written
from stopout.planning.panel.joining import LaidCoat, join_coats, joined_drawing
from stopout.planning.panel.layout import Layout, Place, cut_marks, lay_panels, order_of
from stopout.planning.plan import CoatPlan, Plan
from stopout.planning.road.coats import plan_coats
from stopout.planning.road.whole import plan_job
from stopout.values import Drawing, Finding, Moves

# What is found where a sign's predicted front is held against the artwork's own colours.
_OF_COLOURS = frozenset({"colour-lost", "colour-differs", "sign-tones"})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Together:
    """Pieces, or what pieces have in common, planned together.

    `drawings` are as seen, and `findings` what the blank takes of each. Of a sign's pieces there is
    no coat: their panel is planned whole. `is_whole` tells that what should have been left out of
    them is not.
    """

    drawings: tuple[Drawing, ...]
    findings: tuple[tuple[Finding, ...], ...]
    coat: CoatPlan | None
    pieces: SideBySide
    is_whole: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlannedPart:
    """A part of a piece: what was planned, and as which number of it.

    One that comes again lies so far, in mm as worked, from where it was planned.
    """

    made: Together
    number: int
    shift_mm: Place = (0.0, 0.0)
    comes_again: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlannedPiece:
    """A piece with its drawing as seen, and what the blank takes of it.

    `parts` are those that its one coat consists of, which lie too far apart to meddle: what all
    pieces have in common, shapes that come again, and what is its own.
    """

    piece: Piece
    drawing: Drawing
    parts: tuple[PlannedPart, ...]

    @property
    def findings(self) -> list[Finding]:
        """What the blank takes of it."""
        return [
            finding
            for part in self.parts
            if not part.comes_again
            for finding in part.made.findings[part.number]
        ]


def check_panel(job: Job) -> None:
    """Refuse what pieces side by side cannot be.

    Raises
    ------
    PlanError
        For a head that is lowered between passes.
    """
    if job.clearing is not None and job.clearing.focus_step_mm is not None:
        raise PlanError(
            "clearing.focus_step does not go with a panel: leave one of them out",
            at=("clearing", "focus_step"),
        )


def may_lie_side_by_side(job: Job) -> bool:
    """Tell whether pieces of a job may be planned as one: a film's and a lit sheet's may not."""
    return job.route.has_beam and job.light is None and not job.route.is_sign


def layout_of(job: Job, count: int) -> Layout:
    """Lay a job's pieces on panels.

    Raises
    ------
    PlanError
        If they find no room.
    """
    panel = job.panel or Panel()
    blank = job.blank
    taken: list[tuple[float, float, float, float]] = []
    if job.route.has_beam:
        room = job.laser.bed_mm
        x0, y0 = job.laser.blank_at_mm or (0.0, 0.0)
        room = (room[0] - x0, room[1] - y0)
        taken = [(a - x0, b - y0, c - x0, d - y0) for a, b, c, d in job.laser.keep_outs_mm]
    else:
        room = job.film.page_mm if job.film is not None else (1000.0, 1000.0)
    return lay_panels(count, (blank.width_mm, blank.height_mm), panel, room_mm=room, taken_mm=taken)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JoinedPanel:
    """A panel as one large blank: its job, its drawing, and its coat where pieces were planned."""

    job: Job
    drawing: Drawing
    coat: CoatPlan | None

    def plan(self, knowledge: Knowledge, *, draft: bool, tell: Callable[[str], None]) -> Plan:
        """Plan it: its places are the panel's."""
        coats = None if self.coat is None else [self.coat]
        return plan_job(self.job, self.drawing, knowledge, coats=coats, draft=draft, tell=tell)


def join_panel(
    job: Job,
    pieces: Sequence[PlannedPiece],
    layout: Layout,
    number: int,
    *,
    marks: Together | None = None,
    first: Plan | None = None,
    tell: Callable[[str], None],
) -> JoinedPanel:
    """Join the pieces of one panel.

    Parameters
    ----------
    job : Job
        Of one piece.
    pieces : sequence of PlannedPiece
        Those that lie on this panel, in the order of the layout's places.
    layout : Layout
        Where they lie.
    number : int
        The panel's, from 1.
    marks : Together, optional
        From `plan_marks`.
    first : Plan, optional
        Of the first piece of a series of signs, alone: its colours are held against the artwork's,
        which those of a panel are not, and are the same on all pieces.
    """
    places = layout.places_mm[: len(pieces)]
    whole = panel_job(job, places, layout, number)
    way = order_of(places, (job.panel or Panel()).order)
    tell(f"panel {number}: joining {len(pieces)} pieces")
    here = _laid_coats(pieces, places, way)
    if here and marks is not None:
        here.append(_alone(marks, max(one.rank.max() for one in here) + 1))
    seen = [as_seen(place, job, layout) for place in places]
    drawings = [(piece.drawing, place) for piece, place in zip(pieces, seen, strict=True)]
    if marks is not None:
        drawings.append((marks.drawings[0], (0.0, 0.0)))
    size = (job.blank.width_mm, job.blank.height_mm)
    cut = [
        _laid(finding, piece.piece.number, place, size)
        for piece, place in zip(pieces, places, strict=True)
        for finding in piece.findings
    ]
    if first is not None:
        held = [finding for finding in first.findings if finding.code in _OF_COLOURS]
        cut += [_laid(finding, pieces[0].piece.number, places[0], size) for finding in held]
    return JoinedPanel(
        job=replace(whole, findings=(*whole.findings, *cut)),
        drawing=joined_drawing(drawings, layout.size_mm),
        coat=_joined(here, whole) if here else None,
    )


def _laid(finding: Finding, number: str, place: Place, size_mm: Place) -> Finding:
    """Carry a finding of a piece to its place, within the piece; without one it names the piece."""
    if finding.at_mm is None:
        return replace(finding, message=f"piece {number}: {finding.message}")
    x, y = (min(max(at, 0.0), side) for at, side in zip(finding.at_mm, size_mm, strict=True))
    return replace(finding, at_mm=(x + place[0], y + place[1]))


def _laid_coats(
    pieces: Sequence[PlannedPiece], places: Sequence[Place], way: Sequence[int]
) -> list[LaidCoat]:
    """Return the coats of pieces at their places, each with all that was planned together.

    What is common comes first: where it lies with what is a piece's own, so does its program.
    """
    rank = np.empty(len(pieces), dtype=np.intp)
    rank[list(way)] = np.arange(len(pieces))
    n_levels = max(len(piece.parts) for piece in pieces)
    found: dict[int, tuple[Together, list[tuple[int, int, PlannedPart]]]] = {}
    for level in range(n_levels):
        for k in way:
            for part in pieces[k].parts[level : level + 1]:
                found.setdefault(id(part.made), (part.made, []))[1].append((k, level, part))
    corners = np.array(places)
    laid = []
    for made, where in found.values():
        if made.coat is None:
            continue
        at = [k for k, _, _ in where]
        laid.append(
            LaidCoat(
                coat=made.coat,
                pieces=made.pieces,
                piece=np.array([part.number for _, _, part in where], dtype=np.intp),
                place_mm=corners[at] + [part.shift_mm for _, _, part in where],
                own=np.array(at),
                rank=n_levels * rank[at] + np.array([level for _, level, _ in where]),
            )
        )
    return laid


def _alone(part: Together, rank: int) -> LaidCoat:
    """Return a coat that lies where it was planned, as the beam comes to it."""
    assert part.coat is not None
    return LaidCoat(
        coat=part.coat,
        pieces=part.pieces,
        piece=np.zeros(1, dtype=np.intp),
        place_mm=np.zeros((1, 2)),
        rank=np.array([rank]),
        own=np.array([-1]),
    )


def _joined(coats: Sequence[LaidCoat], job: Job) -> CoatPlan:
    """Join the coats of pieces where they lie, with one program."""
    first = coats[0].coat
    passes = 1 if first.clearing is None else first.clearing.passes

    def program(moves: Moves) -> tuple[str | None, Moves]:
        text, read, _ = written(first.number, moves, passes, job)
        return text, read

    return join_coats(coats, job, program)


def plan_loose(
    job: Job,
    piece: PlannedPiece,
    count: int,
    knowledge: Knowledge,
    *,
    outline: BaseGeometry | None,
    draft: bool,
    tell: Callable[[str], None],
) -> Plan:
    """Plan the first of so many loose pieces: what holds for each of them, and the bath for all."""
    own = replace(job, quantity=count, spares=0, findings=(*job.findings, *piece.findings))

    laid = _laid_coats([piece], [(0.0, 0.0)], [0])
    coats = [_joined(laid, own)] if laid else None
    return plan_job(
        own, piece.drawing, knowledge, outline=outline, coats=coats, draft=draft, tell=tell
    )


def plan_marks(job: Job, layout: Layout, knowledge: Knowledge, *, draft: bool) -> Together | None:
    """Plan the cut marks of a panel; None where none are asked for."""
    panel = job.panel or Panel()
    if not panel.has_marks:
        return None
    whole = panel_job(job, layout.places_mm, layout, 1)
    whole = replace(whole, artwork=replace(job.artwork, dark="recessed", field_mm=None))
    boxes = cut_marks(layout, (job.blank.width_mm, job.blank.height_mm), panel.margin_mm)
    width, height = layout.size_mm
    drawing = Drawing(
        file="", sha256="", width_mm=width, height_mm=height,
        dark=MultiPolygon([shapely.box(*box) for box in boxes]),
    )  # fmt: skip
    coat, alone, _ = plan_coats(whole, [drawing], knowledge, draft=draft)
    return Together(drawings=(drawing,), findings=((),), coat=coat, pieces=alone)


def as_seen(place: Place, job: Job, layout: Layout) -> Place:
    """Return the lower left corner of a piece as its panel is seen, from that as it is worked."""
    if not job.blank.is_back_worked:
        return place
    return (layout.size_mm[0] - place[0] - job.blank.width_mm, place[1])


def panel_job(job: Job, places: Sequence[Place], layout: Layout, number: int) -> Job:
    """The job of a whole panel: its blank is the panel, its holes those of all pieces."""
    holes = tuple(
        Hole(at_mm=(hole.at_mm[0] + x, hole.at_mm[1] + y), diameter_mm=hole.diameter_mm)
        for x, y in (as_seen(place, job, layout) for place in places)
        for hole in job.blank.holes
    )
    blank = replace(
        job.blank,
        width_mm=layout.size_mm[0],
        height_mm=layout.size_mm[1],
        corner_radius_mm=0.0,
        outline=None,
        holes=holes,
    )
    title = f"{job.name}, panel {number} of {layout.n_panels}" if layout.n_panels > 1 else job.name
    return replace(
        job,
        name=title,
        blank=blank,
        quantity=layout.n_panels,
        spares=0,
        setting=Setting(),
        panel=None,
        series=None,
    )
