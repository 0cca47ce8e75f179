"""The opening made without a beam: through a printed film, or cut with a knife."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.errors import PlanError
from stopout.job.record import Film, Job, Stencil
from stopout.mask import Tie, bridge_islands, draw_opening, mirror_left_right
from stopout.outcome import advance
from stopout.planning.opening.masks import Planned
from stopout.planning.opening.opened import Opened
from stopout.planning.plan import CoatPlan
from stopout.values import Measured, Stated

# Corner work shorter than two of these is left out.
_NO_CORNER_WORK_MM = 1e6
# The finest stroke that a knife is let follow: our own; what it does well is STROKE_MM.
_KNIFE_MM = 0.3
# Polyester film base grows by about 0.0008 % for each per cent of relative humidity; with a
# gelatin layer up to twice that (published data of film bases).
_GROWTH_PER_RH = 8e-6
# How far the dark of a film for a positive resist goes past the plate, and room for the notes.
FILM_MARGIN_MM = 5.0
PAGE_MARGIN_MM = (10.0, 55.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmReading:
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


def film_reading(*, is_back_worked: bool, printed_side: Literal["down", "up"]) -> FilmReading:
    """Return how a film must read on the work, and on the page.

    Parameters
    ----------
    is_back_worked : bool
        True where the piece is read through its front.
    printed_side : {"down", "up"}
        Where the print lies as the film lies on the work.
    """
    mirrored = film_is_mirrored(is_back_worked=is_back_worked, printed_side=printed_side)
    return FilmReading(
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


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmOpener:
    """A printed film and light, or a knife: the opening is drawn, and no beam goes over it.

    `mark_mm` is the smallest opening that it makes dependably; each edge grows by `growth_mm`.
    """

    job: Job
    mark_mm: tuple[Measured, Measured]
    growth_mm: float

    @classmethod
    def of(cls, job: Job) -> FilmOpener:
        """Return what opens the coats of a job."""
        least = Measured(value=_KNIFE_MM if job.film is None else job.film.smallest_opening_mm)
        growth = 0.0 if job.film is None else job.film.growth_mm
        return cls(job=job, mark_mm=(least, least), growth_mm=growth)

    @property
    def step_mm(self) -> float:
        """A film and a knife draw corners sharp: no discs are laid into them."""
        return _NO_CORNER_WORK_MM

    def open(
        self,
        planned: Planned,
        target: MultiPolygon,
        face: BaseGeometry,
        undercut_mm: float,
        tell: Callable[[str], None],
    ) -> Opened:
        """Draw the opening so that growth and etch take it to the target, and predict it.

        Raises
        ------
        PlanError
            Where nothing of the target can be opened.
        """
        mask, wanted, least = planned.mask, planned.wanted, self.mark_mm[0].value
        edge, smallest = undercut_mm + self.growth_mm, least - 2 * self.growth_mm
        drawn = draw_opening(wanted, mask, edge_mm=edge, smallest_mm=smallest)
        if drawn.is_empty:
            raise PlanError(
                f"nothing of {self.job.artwork.file} is wide enough to be opened: strokes need "
                f"{2 * (undercut_mm + least / 2):.3f} mm; draw them wider or etch less deep",
                at=("artwork", "file"),
            )
        drawn, ties = _tied(drawn, face, self.job.stencil)
        tell("predicting the piece")
        opening = advance(drawn, self.growth_mm)
        return Opened(mask=mask, opening=opening, drawn=drawn, bridge_ties=ties)


def _tied(
    drawn: MultiPolygon, face: BaseGeometry, stencil: Stencil | None
) -> tuple[MultiPolygon, tuple[Tie, ...]]:
    if stencil is None or not stencil.is_loose:
        return drawn, ()
    return bridge_islands(drawn, face, width_mm=stencil.bridge_mm)


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
