"""One coat, by whichever route: its lands, how it is opened, and what the etch makes of that."""

from __future__ import annotations

from collections.abc import Callable

from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.errors import PlanError
from stopout.job.record import Coat, Job
from stopout.mask import local_widths, lost_bridges, lost_counters
from stopout.planning.measures.bite import Bite
from stopout.planning.measures.margins import advise, land_margin, stroke_margin
from stopout.planning.measures.measuring import thinnest_opening
from stopout.planning.memory import Memory
from stopout.planning.opening.by_beam import BeamOpener
from stopout.planning.opening.by_film import FilmOpener
from stopout.planning.opening.look import (
    Narrow,
    foreseen,
    look_at,
    making_of,
    masks_of,
    patched,
    planned_together,
    seen_together,
)
from stopout.planning.opening.opened import Opened
from stopout.planning.opening.patches import each, shared_out, whole_patch
from stopout.planning.plan import CoatPlan


def plan_coat(
    number: int,
    coat: Coat,
    target: MultiPolygon,
    face: BaseGeometry,
    job: Job,
    bite: Bite,
    tell: Callable[[str], None],
    *,
    draft: bool = False,
    memory: Memory | None = None,
    beside: Narrow | None = None,
) -> CoatPlan:
    """Open one coat so that the etch takes it to the target; then go forwards from the opening.

    Parameters
    ----------
    number : int
        The coat's, from the viewer's side; 1 on metal.
    coat : Coat
        The resist, or the coat of paint.
    target : MultiPolygon
        What is to be finished, as worked.
    face : BaseGeometry
        The blank's face, as worked.
    job : Job
        Its route says how the coat is opened.
    bite : Bite
        How the etch goes sideways.
    tell : callable
        Called with a few words at each stage.
    draft : bool
        Without a program: the opening is then what the mask's beam centres clear.
    memory : Memory, optional
        What was found of the patches of earlier drawings.
    beside : Narrow, optional
        How narrow another piece of the same panel is: see `seen_together`.
    """
    if target.is_empty:
        raise PlanError(
            f"coat {number}: nothing is left to open once {job.artwork.file} is laid on the "
            "blank; check the artwork's size and position, and `dark`"
        )
    opener: BeamOpener | FilmOpener
    opener = BeamOpener.of(number, coat, job) if job.route.has_beam else FilmOpener.of(job)
    sides, limits = opener.mark_mm, job.limits
    how = making_of(job, bite, sides, growth_mm=opener.growth_mm, step_mm=opener.step_mm)
    undercut, mark = how.undercut_mm, how.mark_mm
    patches, memory = patched(target, face, how), memory or Memory(0)
    tell(f"coat {number}: mask")
    masks = masks_of(patches, how, memory)
    planned = planned_together(masks)
    made = None
    if draft and job.route.has_beam:
        tell(f"coat {number}: predicting the piece")
        looks, widths = foreseen(patches, masks, how, memory)
    else:
        made = opener.open(planned, target, face, undercut, tell)
        tell(f"coat {number}: holding it against the artwork")
        openings = shared_out(made.opening, patches)
        if openings is None:
            patches, openings = [whole_patch(target, face)], [made.opening]
        looks = each(lambda pair: look_at(*pair, how), zip(patches, openings, strict=True))
        widths = local_widths(target, face)
    known = memory if made is None else Memory(0)
    seen = seen_together(looks, patches, face, how, known, beside)
    made = made or Opened(mask=planned.mask, opening=seen.opening)
    opening, finished, outcome = seen.opening, seen.finished, seen.outcome
    measured, land, stroke_mm = seen.numbers, seen.land, seen.stroke_mm
    return CoatPlan(
        number=number,
        coat=coat,
        target=target,
        opening=opening,
        finished=finished,
        thin_places=made.mask.thin_places,
        narrow_lands=planned.lands,
        bridges=lost_bridges(
            target,
            opening,
            finished,
            outcome.too_much,
            land=widths[1],
            n_filled=len(outcome.filled_holes.geoms),
            undercut_mm=undercut,
        ),
        counters=lost_counters(outcome.filled_holes, opening, undercut_mm=undercut),
        widths=widths,
        stroke=stroke_margin(
            thinnest_opening(made.mask, measured, stroke_mm, undercut, mark),
            undercut=bite.undercut,
            mark=sides,
        ),
        land=land_margin(land.width_mm, undercut=bite.undercut, mark=sides),
        advice=advise(
            stroke_mm=stroke_mm,
            land_mm=land.width_mm,
            mark_mm=max(mark),
            depth_mm=bite.depth_mm,
            factor=bite.factor,
            edge_tolerance_mm=limits.edge_tolerance_mm,
            narrowest_land_mm=limits.narrowest_land_mm,
        ),
        moves=made.moves,
        mask=measured,
        mark_mm=sides,
        reach_mm=how.reach_mm,
        clearing=made.clearing,
        outcome=outcome,
        finished_land_mm=land.width_mm,
        narrowest_land_at=land.at_mm,
        program=made.program,
        drawn=made.drawn,
        bridge_ties=made.bridge_ties,
        changes=seen.changes,
        stroke_mm=stroke_mm,
        prints=job.route.opens == "film",
        cuts=job.route.opens == "knife",
    )
