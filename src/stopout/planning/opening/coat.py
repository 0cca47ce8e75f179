"""One coat, by whichever route: its lands, how it is opened, and what the etch makes of that."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.errors import PlanError
from stopout.job.record import Coat, Job
from stopout.mask import Narrowest, lost_bridges, lost_counters, reach_mm, widen_lands
from stopout.outcome import advance, judge
from stopout.planning.measures.bite import Bite
from stopout.planning.measures.margins import advise, land_margin, needed_land_mm, stroke_margin
from stopout.planning.measures.measuring import (
    drawn_widths,
    land_left,
    measure_opening,
    thinnest_opening,
)
from stopout.planning.opening.by_beam import BeamOpener
from stopout.planning.opening.by_film import FilmOpener
from stopout.planning.plan import CoatPlan
from stopout.planning.verdict.drawn import changes_of

_Region = TypeVar("_Region", bound=BaseGeometry)


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
    """
    if target.is_empty:
        raise PlanError(
            f"coat {number}: nothing is left to open once {job.artwork.file} is laid on the "
            "blank; check the artwork's size and position, and `dark`"
        )
    opener: BeamOpener | FilmOpener
    opener = BeamOpener.of(number, coat, job, draft) if job.route.has_beam else FilmOpener.of(job)
    sides, undercut, limits = opener.mark_mm, bite.undercut.value, job.limits
    mark = (sides[0].value, sides[1].value)
    reach = reach_mm(undercut, mark)
    # The geometry library works without the interpreter's lock, so two cores are used: what depends
    # on the artwork alone is measured while the mask is planned.
    with ThreadPoolExecutor(max_workers=2) as pool:
        drawn = pool.submit(drawn_widths, _own(target), _own(face), reach)
        tell(f"coat {number}: mask")
        wanted, lands = widen_lands(
            target,
            face,
            needed_mm=needed_land_mm(
                limits.narrowest_land_mm, depth_mm=bite.depth_mm, factor=bite.factor
            ),
            edge_tolerance_mm=limits.edge_tolerance_mm,
            reach_mm=reach,
        )
        made = opener.open(wanted, target, face, undercut, tell)
        opening = made.opening
        finished = advance(opening, undercut)
        tell(f"coat {number}: holding it against the artwork")
        judged = pool.submit(
            judge,
            target=_own(target),
            opening=_own(opening),
            finished=_own(finished),
            blank=_own(face),
            reach_mm=reach,
            edge_tolerance_mm=limits.edge_tolerance_mm,
        )
        # Without an etch the piece is what was opened: its lands are measured once.
        etched = None
        if undercut > 0:
            etched = pool.submit(land_left, _own(face), _own(finished), 2 * min(mark))
        changes = changes_of(job, target=target, finished=finished, face=face, reach_mm=reach)
        measured = measure_opening(opening, face, min(mark))
        outcome = judged.result()
        land = Narrowest(width_mm=measured.narrowest_land_mm, at_mm=measured.narrowest_land_at)
        land = land if etched is None else etched.result()
        widths, stroke_mm = drawn.result()
    return CoatPlan(
        number=number,
        coat=coat,
        target=target,
        opening=opening,
        finished=finished,
        thin_places=made.mask.thin_places,
        narrow_lands=lands,
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
        reach_mm=reach,
        clearing=made.clearing,
        outcome=outcome,
        finished_land_mm=land.width_mm,
        narrowest_land_at=land.at_mm,
        program=made.program,
        drawn=made.drawn,
        bridge_ties=made.bridge_ties,
        changes=changes,
        prints=job.route.opens == "film",
        cuts=job.route.opens == "knife",
    )


def _own(region: _Region) -> _Region:
    """Return a region's like for another thread: one that is being prepared is not shared.

    A prepared region builds its index when it is first asked, and nothing guards that.
    """
    own: _Region = shapely.from_wkb(shapely.to_wkb(region))
    return own
