"""How the beam is set for a coat: mark, spacing, power, speed, passes, and the dose ratio."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stopout.clearing import (
    FWHM_PER_RADIUS,
    DwellBeam,
    default_spacing_mm,
    dose_ratio_of,
    radius_mm,
)
from stopout.clearing.beam.dose import DEFAULT_DOSE_RATIO
from stopout.clearing.beam.focus import FocusStep, focus_step
from stopout.clearing.beam.mark import dose_ratios_of_spot, mark_of_spot
from stopout.clearing.beam.spot import GaussianSpot
from stopout.errors import PlanError
from stopout.job.record import Coat, Job
from stopout.values import Measured

# Beam quality M^2 that the focus is calculated with (from memory, no source: the poor end of strong
# diodes, and a good tube or fibre). Light of shorter waves than this comes from a diode.
_DIODE_M2, _OTHER_M2, _DIODE_BELOW_NM = 15.0, 1.3, 1000.0
_JOB_FILE = "job file (measured mark)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Beam:
    """Settings of the beam for one coat.

    `spacing_mm` is by line direction. `dose_ratios` are line dose / threshold line dose across x
    (lines along y) and across y (lines along x). `is_measured` tells whether the mark was
    measured, and `mark_source` where it is from then.
    """

    mark_mm: tuple[Measured, Measured]
    spacing_mm: dict[str, float]
    power: float
    speed_mm_s: float
    passes: int
    dose_ratios: tuple[float, float]
    is_measured: bool
    mark_source: str

    def dose_ratio_along(self, line_direction: str) -> float:
        """Return the dose ratio of lines along y, or of lines along x (as are all others)."""
        return self.dose_ratios[0 if line_direction == "y" else 1]

    @property
    def at_rest(self) -> DwellBeam:
        """What the beam clears at rest, one pass of a dwell for one pass of a line.

        The radius across x is mark / sqrt(2 ln r); lines along y are at the threshold with the
        line dose sqrt(pi/2) wx F, so that F, and E_th = pi wx wy F / 2, follow from r. Where both
        directions tell it a little differently their geometric mean is taken.
        """
        x, y = (
            axis.value / math.sqrt(2 * math.log(ratio))
            for axis, ratio in zip(self.mark_mm, self.dose_ratios, strict=True)
        )
        told = math.sqrt((y / self.dose_ratios[0]) * (x / self.dose_ratios[1]))
        dose = self.power / self.speed_mm_s
        return DwellBeam(radius_mm=(x, y), threshold_s=dose * math.sqrt(math.pi / 2) * told)

    @property
    def line_dose_fraction(self) -> float:
        """Line dose of all passes as a fraction [s/mm]: times full power it is J/mm."""
        return self.passes * self.power / self.speed_mm_s


def beam_for(coat: Coat, job: Job) -> Beam:
    """Return the beam's settings for a coat: its own where given, else the job's.

    A mark that neither gives is the shop book's, else it follows from the spot: both axes from
    one threshold of fluence, the dose ratio being that of the axis with the larger radius.

    Raises
    ------
    PlanError
        If the dose ratio is not above 1, so that nothing would be cleared.
    """
    clearing, radius = job.settings, spot_radius_mm(job)
    mark = coat.mark_mm or clearing.mark_mm
    ratio = clearing.dose_ratio
    book = coat.book_mark if mark is None and ratio is None else None
    if book is not None:
        mark, ratios = book.mark_mm, book.dose_ratios
        across = (mark[0].value / FWHM_PER_RADIUS, mark[1].value / FWHM_PER_RADIUS)
    elif mark is not None:
        ratios = (dose_ratio_of(mark[0].value, radius[0]), dose_ratio_of(mark[1].value, radius[1]))
        across = (mark[0].value / FWHM_PER_RADIUS, mark[1].value / FWHM_PER_RADIUS)
    else:
        dose_ratio = DEFAULT_DOSE_RATIO if ratio is None else ratio
        if dose_ratio <= 1:
            raise PlanError(
                f"clearing.dose_ratio is {dose_ratio:g}: at or under the threshold (1) nothing "
                "is cleared; give more, usually 2",
                at=("clearing", "dose_ratio"),
            )
        ratios = dose_ratios_of_spot(radius, dose_ratio)
        made = mark_of_spot(radius, dose_ratio)
        # The mark goes with the spot: a spot that is a range makes a mark that is one.
        span = job.laser.span("spot")
        share = 0.0 if span is None else (span.high - span.low) / (4 * span.value)
        mark = (
            Measured(value=made[0], sd=share * made[0]),
            Measured(value=made[1], sd=share * made[1]),
        )
        across = radius
    return Beam(
        mark_mm=mark,
        spacing_mm=_spacing(job, mark, across),
        power=clearing.power if coat.power is None else coat.power,
        speed_mm_s=clearing.speed_mm_s if coat.speed_mm_s is None else coat.speed_mm_s,
        passes=clearing.passes if coat.passes is None else coat.passes,
        dose_ratios=ratios,
        is_measured=book is not None or (coat.mark_mm or clearing.mark_mm) is not None,
        mark_source=_JOB_FILE if book is None else book.source,
    )


def spot_radius_mm(job: Job) -> tuple[float, float]:
    """Return the spot's 1/e^2 radii along x and y, as the job gives them."""
    widths, means = job.laser.spot_mm, job.laser.spot_means
    return radius_mm(widths[0], means), radius_mm(widths[1], means)


def beam_quality(wavelength_nm: float) -> float:
    """Return the beam quality M^2 that is taken for a wavelength: the job file gives none."""
    return _DIODE_M2 if wavelength_nm < _DIODE_BELOW_NM else _OTHER_M2


def focus_for(coat: Coat, job: Job) -> FocusStep:
    """Return how far the paint may lie off the focus so that the mark keeps within 5 %."""
    quality = beam_quality(job.laser.wavelength_nm)
    return focus_step(
        GaussianSpot(radius_mm=spot_radius_mm(job)),
        wavelength_nm=job.laser.wavelength_nm,
        dose_ratios=beam_for(coat, job).dose_ratios,
        m2=(quality, quality),
    )


def _spacing(
    job: Job, mark: tuple[Measured, Measured], across: tuple[float, float]
) -> dict[str, float]:
    """Return the spacing by line direction: lines along x lie apart in y, and the reverse."""
    if job.settings.spacing_mm is not None:
        return {"x": job.settings.spacing_mm, "y": job.settings.spacing_mm}
    return {
        along: default_spacing_mm(
            mark_across_mm=mark[axis].value,
            radius_across_mm=across[axis],
            step_mm=job.laser.step_mm,
        )
        for along, axis in (("x", 1), ("y", 0))
    }
