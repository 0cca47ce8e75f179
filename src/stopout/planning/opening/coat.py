"""One coat, by whichever route: its lands, how it is opened, and what the etch makes of that."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.clearing import ALONE, SideBySide
from stopout.errors import PlanError
from stopout.job.record import Coat, Job
from stopout.mask import NO_WIDTHS, LocalWidths, local_widths
from stopout.planning.measures.bite import Bite
from stopout.planning.measures.margins import Margin, Relief, advise, land_margin, stroke_margin
from stopout.planning.measures.measuring import thinnest_opening
from stopout.planning.memory import Memory, digest_of
from stopout.planning.opening.apart import Beside, each, vertices_of
from stopout.planning.opening.by_beam import BeamOpener
from stopout.planning.opening.by_film import FilmOpener
from stopout.planning.opening.first_look import Glimpse, glimpse_of
from stopout.planning.opening.look import (
    Look,
    Narrow,
    WholeLook,
    are_remembered,
    foreseen,
    look_at,
    seen_together,
)
from stopout.planning.opening.masks import (
    Making,
    Planned,
    making_of,
    masks_of,
    patched,
    planned_together,
)
from stopout.planning.opening.opened import Opened
from stopout.planning.opening.patches import Patch, shared_out, whole_patch
from stopout.planning.plan import CoatPlan
from stopout.values import Measured


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CoatAsked:
    """A coat to open, and on what.

    Attributes
    ----------
    number : int
        The coat's, from the viewer's side; 1 on metal.
    coat : Coat
        The resist, or the coat of paint.
    face : BaseGeometry
        The blank's face, as worked.
    job : Job
        Its route says how the coat is opened.
    bite : Bite
        How the etch goes sideways.
    tell : callable
        Called with a few words at each stage.
    is_draft : bool
        Without a program: the opening is then what the mask's beam centres clear.
    memory : Memory
        What was found of the patches of earlier drawings.
    beside : Narrow, optional
        How narrow another piece of the same panel is: see `seen_together`.
    glimpse : callable or None
        Is given a first look at a draft, where not all of it is remembered.
    pieces : SideBySide
        The pieces that the face is made of, too far apart to act on each other.
    """

    number: int
    coat: Coat
    face: BaseGeometry
    job: Job
    bite: Bite
    tell: Callable[[str], None]
    is_draft: bool
    memory: Memory
    beside: Narrow | None = None
    glimpse: Callable[[Glimpse], None] | None = None
    pieces: SideBySide = ALONE

    def opener(self) -> BeamOpener | FilmOpener:
        """Return what opens the coat."""
        if self.job.route.has_beam:
            return BeamOpener.of(self.number, self.coat, self.job, self.pieces)
        return FilmOpener.of(self.job)

    def making(self) -> Making:
        """Return what decides how it is made."""
        opener = self.opener()
        return making_of(
            self.job, self.bite, opener.mark_mm, growth_mm=opener.growth_mm, step_mm=opener.step_mm
        )


def plan_coat(asked: CoatAsked, target: MultiPolygon) -> CoatPlan:
    """Open one coat so that the etch takes it to the target; then go forwards from the opening.

    Parameters
    ----------
    asked : CoatAsked
        The coat, and on what.
    target : MultiPolygon
        What is to be finished, as worked.

    Raises
    ------
    PlanError
        If nothing is to be opened.
    """
    if target.is_empty:
        raise PlanError(
            f"coat {asked.number}: nothing is left to open once {asked.job.artwork.file} is laid "
            "on the blank; check the artwork's size and position, and `dark`",
            at=("artwork", "file"),
        )
    how = asked.making()
    return _judged(asked, target, how, _opened(asked, target, asked.opener(), how))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Road:
    """A coat once it is opened: what was laid, what was made of it, and what is seen there."""

    planned: Planned
    made: Opened
    seen: WholeLook
    widths: tuple[LocalWidths, LocalWidths]
    sides_mm: tuple[Measured, Measured]


def _opened(
    asked: CoatAsked, target: MultiPolygon, opener: BeamOpener | FilmOpener, how: Making
) -> _Road:
    if not asked.is_draft or asked.job.route.has_beam:
        return _opened_anew(asked, target, opener, how)
    # What a film opens hangs on all of the drawing, and on much of the job, but not on its names.
    job = replace(asked.job, name="", revision="", sha256="", findings=())
    said = repr((job, asked.number, how, asked.beside, asked.pieces))
    return asked.memory.recall(
        ("film's road", digest_of(target, asked.face), said),
        lambda: _opened_anew(asked, target, opener, how),
    )


def _opened_anew(
    asked: CoatAsked, target: MultiPolygon, opener: BeamOpener | FilmOpener, how: Making
) -> _Road:
    face, tell = asked.face, asked.tell
    is_one = asked.pieces.is_one
    # Pieces side by side are looked at in one go: so many calls serve them all.
    patches = patched(target, face, how) if is_one else [whole_patch(target, face)]
    look = asked.glimpse if asked.is_draft else None
    if look is not None and not are_remembered(patches, how, asked.memory):
        look(glimpse_of(asked.coat, target, face, patches, how, asked.memory))
    words = f"coat {asked.number}: mask"
    tell(words)
    masks = masks_of(patches, how, asked.memory, tell, words)
    planned = planned_together(masks, patches)
    made = None
    if asked.is_draft and asked.job.route.has_beam:
        tell(f"coat {asked.number}: predicting the piece")
        looks, widths = foreseen(patches, masks, how, asked.memory)
    else:
        made, looks, patches, widths = _opened_and_seen(
            asked, target, opener, how, planned, patches
        )
    known = asked.memory if made is None else Memory(0)
    seen = seen_together(looks, patches, face, how, known, asked.beside)
    return _Road(
        planned=planned,
        made=made or Opened(mask=planned.mask, opening=seen.opening),
        seen=seen,
        widths=widths,
        sides_mm=opener.mark_mm,
    )


def _opened_and_seen(
    asked: CoatAsked,
    target: MultiPolygon,
    opener: BeamOpener | FilmOpener,
    how: Making,
    planned: Planned,
    patches: list[Patch],
) -> tuple[Opened, list[Look], list[Patch], tuple[LocalWidths, LocalWidths]]:
    """Open a coat and look at what that makes; meanwhile the drawing is measured."""
    face, tell = asked.face, asked.tell
    # How widths are shared out is told of the first piece of a panel.
    measuring = Beside(
        lambda: (NO_WIDTHS, NO_WIDTHS) if asked.beside else local_widths(target, face),
        size=0 if asked.beside else vertices_of(target),
    )
    try:
        made = opener.open(planned, target, face, how.undercut_mm, tell)
        words = f"coat {asked.number}: holding it against the artwork"
        tell(words)
        openings = shared_out(made.opening, patches)
        if openings is None:
            patches, openings = [whole_patch(target, face)], [made.opening]
        looks = each(
            lambda pair: look_at(*pair, how),
            zip(patches, openings, strict=True),
            size=[patch.size for patch in patches],
            tell=tell,
            words=words,
        )
        return made, looks, patches, measuring.result()
    finally:
        measuring.end()


def _judged(asked: CoatAsked, target: MultiPolygon, how: Making, road: _Road) -> CoatPlan:
    """The plan of an opened coat: what is lost and how much room there is."""
    made, seen = road.made, road.seen
    stroke, land, advice = _margins(asked, how, road)
    return CoatPlan(
        number=asked.number,
        coat=asked.coat,
        target=target,
        opening=seen.opening,
        finished=seen.finished,
        thin_places=made.mask.thin_places,
        narrow_lands=road.planned.lands,
        bridges=seen.bridges,
        counters=seen.counters,
        widths=road.widths,
        stroke=stroke,
        land=land,
        advice=advice,
        moves=made.moves,
        mask=seen.numbers,
        mark_mm=road.sides_mm,
        reach_mm=how.reach_mm,
        clearing=made.clearing,
        outcome=seen.outcome,
        finished_land_mm=seen.land.width_mm,
        narrowest_land_at=seen.land.at_mm,
        program=made.program,
        drawn=made.drawn,
        bridge_ties=made.bridge_ties,
        changes=seen.changes,
        stroke_mm=seen.stroke_mm,
        prints=asked.job.route.opens == "film",
        cuts=asked.job.route.opens == "knife",
    )


def _margins(asked: CoatAsked, how: Making, road: _Road) -> tuple[Margin, Margin, Relief]:
    """How much wider the thinnest stroke and land are than they must be, and what would do."""
    bite, limits, seen = asked.bite, asked.job.limits, road.seen
    thinnest = thinnest_opening(
        road.made.mask, seen.numbers, seen.stroke_mm, how.undercut_mm, how.mark_mm
    )
    advice = advise(
        stroke_mm=seen.stroke_mm,
        land_mm=seen.land.width_mm,
        mark_mm=max(how.mark_mm),
        depth_mm=bite.depth_mm,
        factor=bite.factor,
        edge_tolerance_mm=limits.edge_tolerance_mm,
        narrowest_land_mm=limits.narrowest_land_mm,
    )
    return (
        stroke_margin(thinnest, undercut=bite.undercut, mark=road.sides_mm),
        land_margin(seen.land.width_mm, undercut=bite.undercut, mark=road.sides_mm),
        advice,
    )
