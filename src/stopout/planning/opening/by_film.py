"""The opening made without a beam: through a printed film, or cut with a knife."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.errors import PlanError
from stopout.job.record import Coat, Film, Job, Stencil
from stopout.mask import (
    Tie,
    bridge_islands,
    draw_opening,
    islands_of,
    lost_bridges,
    lost_counters,
    make_mask,
    mirror_left_right,
    sharp_corners,
    widen_lands,
)
from stopout.outcome import advance, judge
from stopout.planning.measures.bite import Bite
from stopout.planning.measures.margins import advise, land_margin, needed_land_mm, stroke_margin
from stopout.planning.measures.measuring import (
    drawn_widths,
    land_left,
    measure_opening,
    thinnest_opening,
)
from stopout.planning.plan import NO_MOVES, CoatPlan
from stopout.planning.verdict.drawn import changes_of
from stopout.values import Finding, Level, Measured, Stated
from stopout.wording import counted

# Corner work shorter than two of these is left out.
_NO_CORNER_WORK_MM = 1e6
# The finest stroke that a knife is let follow: our own; what it does well is STROKE_MM.
_KNIFE_MM = 0.3
# Common practice, no source: strokes, islands, corners of a weeded film, and its overlap.
_STROKE_MM, _ISLAND_MM, _CORNER_MM, _OVERLAP_MM = 1.0, 1.5, 0.3, 5.0
# Polyester film base grows by about 0.0008 % for each per cent of relative humidity; with a
# gelatin layer up to twice that (published data of film bases).
_GROWTH_PER_RH = 8e-6
_RH_STEP = 10.0
# How far the dark of a film for a positive resist goes past the plate, and room for the notes.
FILM_MARGIN_MM = 5.0
PAGE_MARGIN_MM = (10.0, 55.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """How a film reads: `on_work` as one looks at it lying on the work, `page` as printed."""

    on_work: Literal["RIGHT", "BACKWARDS"]
    page: Literal["RIGHT", "BACKWARDS"]


def film_dark_is_art(resist_acts: Literal["negative", "positive"], *, letters_opened: bool) -> bool:
    """Tell whether the artwork is dark on the film (a film positive).

    Parameters
    ----------
    resist_acts : {"negative", "positive"}
        Light hardens a negative resist and makes a positive one soluble.
    letters_opened : bool
        True where the artwork itself is opened, False where the ground around it is.
    """
    return (resist_acts == "negative") == letters_opened


def film_is_mirrored(*, is_back_worked: bool, printed_side: Literal["down", "up"]) -> bool:
    """Tell whether the film is printed mirrored, as its printed side is looked at.

    Parameters
    ----------
    is_back_worked : bool
        True where the piece is read through its front.
    printed_side : {"down", "up"}
        Where the print lies as the film lies on the work.
    """
    return is_back_worked != (printed_side == "down")


def film_reading(*, is_back_worked: bool, printed_side: Literal["down", "up"]) -> Reading:
    """Return how a film must read on the work, and on the page.

    Parameters
    ----------
    is_back_worked : bool
        True where the piece is read through its front.
    printed_side : {"down", "up"}
        Where the print lies as the film lies on the work.
    """
    mirrored = film_is_mirrored(is_back_worked=is_back_worked, printed_side=printed_side)
    return Reading(
        on_work="BACKWARDS" if is_back_worked else "RIGHT",
        page="BACKWARDS" if mirrored else "RIGHT",
    )


def film_growth_um(length_mm: float, rh_change: float) -> float:
    """Return how much a film's polyester base grows, without a gelatin layer.

    Parameters
    ----------
    length_mm : float
        The film's length.
    rh_change : float
        Change of relative humidity, in per cent.
    """
    return 1000.0 * length_mm * _GROWTH_PER_RH * rh_change


def film_image(
    drawn: BaseGeometry, face: BaseGeometry, film: Film, *, width_mm: float
) -> BaseGeometry:
    """Return what is dark on the film, as its printed side is looked at.

    Parameters
    ----------
    drawn : BaseGeometry
        The opening as drawn, as worked.
    face : BaseGeometry
        The blank's face, as worked.
    film : Film
        The film and its resist.
    width_mm : float
        The blank's width.
    """
    dark = drawn
    if film.resist_acts == "positive":
        x0, y0, x1, y1 = face.bounds
        m = FILM_MARGIN_MM
        dark = shapely.box(x0 - m, y0 - m, x1 + m, y1 + m).difference(drawn)
    return mirror_left_right(dark, width_mm=width_mm) if film.printed_side == "down" else dark


def plan_film_coat(
    number: int,
    coat: Coat,
    target: MultiPolygon,
    face: BaseGeometry,
    job: Job,
    bite: Bite,
    tell: Callable[[str], None],
) -> CoatPlan:
    """Draw the opening so that growth and etch take it to the target; then go forwards.

    Parameters
    ----------
    number : int
        The coat's, from the viewer's side; 1 on metal.
    coat : Coat
        The resist.
    target : MultiPolygon
        What is to be finished, as worked.
    face : BaseGeometry
        The blank's face, as worked.
    job : Job
        With a film or a stencil.
    bite : Bite
        How the etch goes sideways.
    tell : callable
        Called with a few words at each stage.
    """
    if target.is_empty:
        raise PlanError(
            f"nothing is left to open once {job.artwork.file} is laid on the blank; check the "
            "artwork's size and position, and `dark`"
        )
    growth = 0.0 if job.film is None else job.film.growth_mm
    least = _KNIFE_MM if job.film is None else job.film.smallest_opening_mm
    undercut, limits = bite.undercut.value, job.limits
    reach = undercut + least / 2
    tell("drawing the opening")
    wanted, lands = widen_lands(
        target,
        face,
        needed_mm=needed_land_mm(
            limits.narrowest_land_mm, depth_mm=bite.depth_mm, factor=bite.factor
        ),
        edge_tolerance_mm=limits.edge_tolerance_mm,
        reach_mm=reach,
    )
    smallest = least - 2 * growth
    mask = make_mask(
        wanted,
        undercut_mm=undercut + growth,
        mark_mm=(smallest, smallest),
        too_thin=limits.too_thin,
        edge_tolerance_mm=limits.edge_tolerance_mm,
        narrowest_land_mm=limits.narrowest_land_mm,
        # A film and a knife draw corners sharp: no discs are laid into them.
        step_mm=_NO_CORNER_WORK_MM,
    )
    drawn = draw_opening(wanted, mask, edge_mm=undercut + growth, smallest_mm=smallest)
    if drawn.is_empty:
        raise PlanError(
            f"nothing of {job.artwork.file} is wide enough to be opened: strokes need "
            f"{2 * reach:.3f} mm; draw them wider or etch less deep"
        )
    drawn, ties = _tied(drawn, face, job.stencil)
    tell("predicting the piece")
    opening = advance(drawn, growth)
    finished = advance(opening, undercut)
    outcome = judge(
        target=target,
        opening=opening,
        finished=finished,
        blank=face,
        reach_mm=reach,
        edge_tolerance_mm=limits.edge_tolerance_mm,
    )
    land = land_left(face, finished, 2 * least)
    widths, stroke_mm = drawn_widths(target, face, reach)
    measured = measure_opening(opening, face, least)
    mark = (Measured(value=least), Measured(value=least))
    thinnest = thinnest_opening(mask, measured, stroke_mm, undercut, (least, least))
    return CoatPlan(
        number=number,
        coat=coat,
        target=target,
        opening=opening,
        finished=finished,
        thin_places=mask.thin_places,
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
        stroke=stroke_margin(thinnest, undercut=bite.undercut, mark=mark),
        land=land_margin(land.width_mm, undercut=bite.undercut, mark=mark),
        advice=advise(
            stroke_mm=stroke_mm,
            land_mm=land.width_mm,
            mark_mm=least,
            depth_mm=bite.depth_mm,
            factor=bite.factor,
            edge_tolerance_mm=limits.edge_tolerance_mm,
            narrowest_land_mm=limits.narrowest_land_mm,
        ),
        moves=NO_MOVES,
        mask=measured,
        mark_mm=mark,
        reach_mm=reach,
        clearing=None,
        outcome=outcome,
        finished_land_mm=land.width_mm,
        narrowest_land_at=land.at_mm,
        program=None,
        drawn=drawn,
        bridge_ties=ties,
        changes=changes_of(job, target=target, finished=finished, face=face, reach_mm=reach),
        prints=job.film is not None,
        cuts=job.film is None,
    )


def _tied(
    drawn: MultiPolygon, face: BaseGeometry, stencil: Stencil | None
) -> tuple[MultiPolygon, tuple[Tie, ...]]:
    if stencil is None or not stencil.is_loose:
        return drawn, ()
    return bridge_islands(drawn, face, width_mm=stencil.bridge_mm)


def film_findings(coat: CoatPlan, job: Job, face: BaseGeometry) -> list[Finding]:
    """Findings of a printed film or of a cut one."""
    if job.film is not None:
        return _printed_findings(job, job.film)
    if job.stencil is not None and coat.drawn is not None and coat.coat.shows is not None:
        return _mask_findings(coat, coat.drawn)
    if job.stencil is not None and coat.drawn is not None:
        return _cut_findings(coat, coat.drawn, job.stencil, face)
    return []


def _printed_findings(job: Job, film: Film) -> list[Finding]:
    found = []
    across, up = PAGE_MARGIN_MM
    width = max(job.blank.width_mm, 100.0) + 2 * across
    height = job.blank.height_mm + 2 * across + up
    if film.page_mm[0] < width or film.page_mm[1] < height:
        found.append(
            Finding(
                code="film-page",
                level=Level.STOP,
                message=(
                    f"the film's sheet of {film.page_mm[0]:g} x {film.page_mm[1]:g} mm is too "
                    f"small: plate, scale bar and notes need {width:g} x {height:g} mm"
                ),
                remedy="Give a larger [film] page, or turn it.",
            )
        )
    longest = max(job.blank.width_mm, job.blank.height_mm)
    grows = film_growth_um(longest, _RH_STEP)
    found.append(
        Finding(
            code="film-humidity",
            level=Level.NOTE,
            message=(
                f"{_RH_STEP:g} % more humidity makes {longest:g} mm of film {grows:.1f} um longer, "
                "up to twice that with a gelatin layer"
            ),
            remedy="Let the film lie in the room for some hours and measure its scale bar.",
        )
    )
    if film.printed_side == "up":
        found.append(
            Finding(
                code="film-side-up",
                level=Level.CAUTION,
                message=(
                    "the printed side lies away from the resist: under 0.1 mm of film, light 10 "
                    "degrees off spreads about 11 um under each edge"
                ),
                remedy='Write printed_side = "down", or measure the growth with the film so.',
            )
        )
    if film.growth_mm == 0.0:
        found.append(
            Finding(
                code="growth-unmeasured",
                level=Level.CAUTION,
                message="no growth by exposure and developing is given: edges are drawn for none",
                remedy="Expose a coupon with slots of known width, measure them, give half the "
                "difference as growth.",
            )
        )
    return found


def _mask_findings(coat: CoatPlan, drawn: MultiPolygon) -> list[Finding]:
    """What a sign's mask does not hold, whose pieces stay on the windows (common practice)."""
    pieces = [part for part in drawn.geoms if part.area > 0]
    across = [2 * shapely.maximum_inscribed_circle(part, tolerance=0.05).length for part in pieces]
    if not across:
        return []
    small = min(range(len(across)), key=lambda k: across[k])
    point = pieces[small].representative_point()
    is_small = across[small] < _STROKE_MM
    return [
        Finding(
            code="mask-pieces",
            level=Level.CAUTION if is_small else Level.NOTE,
            message=(
                f"the mask of coat {coat.number} is {len(pieces)} piece(s) of film; the smallest "
                f"is {across[small]:.2f} mm across, and under {_STROKE_MM:g} mm they come off in "
                "weeding (common practice)"
            ),
            remedy="Count them before and after the tape is drawn off.",
            at_mm=(float(point.x), float(point.y)),
        )
    ]


def _cut_findings(
    coat: CoatPlan, drawn: MultiPolygon, stencil: Stencil, face: BaseGeometry
) -> list[Finding]:
    """What a weeded film does not hold; its limits are common practice, no source."""
    found = []
    islands = islands_of(drawn, face)
    if islands:
        small = islands[0]
        found.append(
            Finding(
                code="stencil-islands",
                level=Level.CAUTION if small.across_mm < _ISLAND_MM else Level.NOTE,
                message=(
                    f"{counted(len(islands), 'island of film is', 'islands of film are')} held by "
                    "the transfer tape alone; the "
                    f"smallest is {small.across_mm:.2f} mm across, and under {_ISLAND_MM:g} mm "
                    "they come off (common practice)"
                ),
                remedy="Count them before and after the tape is drawn off.",
                at_mm=small.at_mm,
            )
        )
    if coat.mask.narrowest_opening_mm < _STROKE_MM - 0.001:
        found.append(
            Finding(
                code="stencil-stroke",
                level=Level.CAUTION,
                message=(
                    f"the narrowest cut stroke is {coat.mask.narrowest_opening_mm:.2f} mm wide; "
                    f"under {_STROKE_MM:g} mm they tear in weeding (common practice)"
                ),
                remedy="Draw it wider, or use a printed film.",
            )
        )
    corners = sharp_corners(drawn, face, radius_mm=_CORNER_MM)
    if corners:
        found.append(
            Finding(
                code="stencil-corners",
                level=Level.NOTE,
                message=(
                    f"{counted(len(corners), 'corner of film is', 'corners of film are')} sharper "
                    "than a radius of "
                    f"{_CORNER_MM:g} mm and may lift (common practice)"
                ),
                remedy="Round them in the artwork, or press them down before the bath.",
                at_mm=corners[0],
            )
        )
    if stencil.margin_mm < _OVERLAP_MM:
        found.append(
            Finding(
                code="stencil-margin",
                level=Level.CAUTION,
                message=(
                    f"the film goes {stencil.margin_mm:g} mm past the plate's edge; "
                    f"{_OVERLAP_MM:g} mm keeps the bath out (common practice)"
                ),
                remedy='Write margin = "5 mm".',
            )
        )
    if coat.bridge_ties:
        found.append(
            Finding(
                code="stencil-bridges",
                level=Level.NOTE,
                message=(
                    f"{len(coat.bridge_ties)} bridges of {stencil.bridge_mm:g} mm hold the loose "
                    "stencil's islands and stay unetched; the first spans "
                    f"{coat.bridge_ties[0].length_mm:.2f} mm"
                ),
                remedy="With transfer tape (loose = false) none are needed.",
                at_mm=coat.bridge_ties[0].at_mm,
            )
        )
    return found


def film_values(coat: CoatPlan, job: Job) -> tuple[Stated, ...]:
    """State what the opening is drawn by."""
    reach = Stated(
        name="reach",
        value=f"{coat.reach_mm:.4g} mm",
        kind="computed",
        source="undercut + half the smallest opening",
    )
    if job.film is None:
        return (
            Stated(
                name="finest stroke of the knife",
                value=f"{_KNIFE_MM:g} mm",
                kind="practice",
                source="our own limit; strokes of 1 mm and more weed well",
            ),
            reach,
        )
    return (
        Stated(
            name="growth by exposure and developing",
            value=f"{job.film.growth_mm:g} mm per edge",
            kind="given",
            source="job file",
        ),
        Stated(
            name="smallest opening",
            value=f"{job.film.smallest_opening_mm:g} mm",
            kind="given",
            source="job file, or its default of 0.1 mm",
        ),
        reach,
    )
