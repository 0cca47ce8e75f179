"""What a printed film, or one cut with a knife, has to say for itself."""

from __future__ import annotations

import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.job.record import Film, Job, Stencil
from stopout.mask import islands_of, sharp_corners
from stopout.planning.opening.by_film import PAGE_MARGIN_MM, film_growth_um
from stopout.planning.plan import CoatPlan
from stopout.values import Finding, Level
from stopout.wording import counted

# Common practice, no source: strokes, islands, corners of a weeded film, and its overlap.
_STROKE_MM, _ISLAND_MM, _CORNER_MM, _OVERLAP_MM = 1.0, 1.5, 0.3, 5.0
_RH_STEP = 10.0


def film_findings(coat: CoatPlan, job: Job, face: BaseGeometry) -> list[Finding]:
    """Findings of a printed film or of a cut one."""
    if job.film is not None:
        return _printed_findings(job, job.film)
    if job.stencil is not None and coat.drawn is not None and job.route.is_sign:
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
            Finding.stop(
                "film-page",
                f"the film's sheet of {film.page_mm[0]:g} x {film.page_mm[1]:g} mm is too "
                f"small: plate, scale bar and notes need {width:g} x {height:g} mm",
                f'Write page = ["{width:g} mm", "{height:g} mm"] or more in [film].',
            )
        )
    longest = max(job.blank.width_mm, job.blank.height_mm)
    grows = film_growth_um(longest, _RH_STEP)
    found.append(
        Finding.note(
            "film-humidity",
            f"{_RH_STEP:g} % more humidity makes {longest:g} mm of film {grows:.1f} um longer, "
            "up to twice that with a gelatin layer",
            "Let the film lie in the room for some hours and measure its scale bar.",
        )
    )
    if film.printed_side == "up":
        found.append(
            Finding.caution(
                "film-side-up",
                "the printed side lies away from the resist: under 0.1 mm of film, light 10 "
                "degrees off spreads about 11 um under each edge",
                'Write printed_side = "down", or measure the growth with the film so.',
            )
        )
    if film.growth_mm == 0.0:
        found.append(
            Finding.caution(
                "growth-unmeasured",
                "no growth by exposure and developing is given: edges are drawn for none",
                "Expose a coupon with slots of known width, measure them, give half the "
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
    found = [*_islands(drawn, face), *_strokes(coat), *_corners(drawn, face)]
    if stencil.margin_mm < _OVERLAP_MM:
        found.append(
            Finding.caution(
                "stencil-margin",
                f"the film goes {stencil.margin_mm:g} mm past the plate's edge; "
                f"{_OVERLAP_MM:g} mm keeps the bath out (common practice)",
                'Write margin = "5 mm".',
            )
        )
    if coat.bridge_ties:
        found.append(
            Finding.note(
                "stencil-bridges",
                f"{len(coat.bridge_ties)} bridges of {stencil.bridge_mm:g} mm hold the loose "
                "stencil's islands and stay unetched; the first spans "
                f"{coat.bridge_ties[0].length_mm:.2f} mm",
                "With transfer tape (loose = false) none are needed.",
                at_mm=coat.bridge_ties[0].at_mm,
            )
        )
    return found


def _islands(drawn: MultiPolygon, face: BaseGeometry) -> list[Finding]:
    islands = islands_of(drawn, face)
    if not islands:
        return []
    small = islands[0]
    return [
        Finding(
            code="stencil-islands",
            level=Level.CAUTION if small.across_mm < _ISLAND_MM else Level.NOTE,
            message=(
                f"{counted(len(islands), 'island of film is', 'islands of film are')} held by "
                f"the transfer tape alone; the smallest is {small.across_mm:.2f} mm across, and "
                f"under {_ISLAND_MM:g} mm they come off (common practice)"
            ),
            remedy="Count them before and after the tape is drawn off.",
            at_mm=small.at_mm,
        )
    ]


def _strokes(coat: CoatPlan) -> list[Finding]:
    if coat.mask.narrowest_opening_mm >= _STROKE_MM - 0.001:
        return []
    return [
        Finding.caution(
            "stencil-stroke",
            f"the narrowest cut stroke is {coat.mask.narrowest_opening_mm:.2f} mm wide; "
            f"under {_STROKE_MM:g} mm they tear in weeding (common practice)",
            "Draw it wider, or use a printed film.",
        )
    ]


def _corners(drawn: MultiPolygon, face: BaseGeometry) -> list[Finding]:
    corners = sharp_corners(drawn, face, radius_mm=_CORNER_MM)
    if not corners:
        return []
    return [
        Finding.note(
            "stencil-corners",
            f"{counted(len(corners), 'corner of film is', 'corners of film are')} sharper "
            f"than a radius of {_CORNER_MM:g} mm and may lift (common practice)",
            "Round them in the artwork, or press them down before the bath.",
            at_mm=corners[0],
        )
    ]
