"""A clear sheet lit through one edge: where its marking lies close, and where wide.

The light comes in by an edge and runs inside the sheet until a mark lets it out. What has been let
out is missing farther on, so that the marking must grow denser with the distance from the light.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from stopout.clearing import LineBand
from stopout.etching import Material
from stopout.job.record import EdgeLight, Job
from stopout.outcome import sweep
from stopout.planning.plan import CoatPlan, LightBand, LightPlan
from stopout.values import Finding, Stated

# A band for so much of the artwork, three at least and six at most (our own choice).
_BAND_MM, _LEAST_BANDS, _MOST_BANDS = 15.0, 3, 6
# A coverage that misses its aim by more than this share is told.
_TOLD = 0.15


def share_of_density(distance: float, far: float) -> float:
    """Return the density of marking that keeps it evenly bright, relative to that near the light.

    Parameters
    ----------
    distance : float
        From the marking's near side, 0, to its far side, 1.
    far : float
        The density at the far side, relative to the near side.

    Notes
    -----
    Let light be lost to the marks alone, in proportion to their density c and to the light F that
    is left: dF/dx = -a c F. Even brightness asks for c F = constant, so F falls in a straight line
    and c = 1 / (1 - x (1 - 1/far)). Derived; real sheets lose light at edges and in dirt too.
    """
    return 1 / (1 - distance * (1 - 1 / far))


def lines_along(light: EdgeLight) -> Literal["x", "y"]:
    """Return how the lines run: along the lit edge, so that each is equally far from it."""
    return "x" if light.edge in ("bottom", "top") else "y"


def light_bands(
    target: BaseGeometry, job: Job, light: EdgeLight, mark_mm: tuple[float, float]
) -> tuple[LightBand, ...]:
    """Return the bands of a marking, from near the light to far from it.

    Parameters
    ----------
    target : BaseGeometry
        What is marked, as worked.
    job : Job
        For the blank's size and the motor's step.
    light : EdgeLight
        The lit edge, and how much denser the far side is.
    mark_mm : (float, float)
        Width of one marked line across x and y: at the far side lines lie that far apart.
    """
    near, far = _distances(target, job, light)
    across = mark_mm[1] if lines_along(light) == "x" else mark_mm[0]
    count = min(_MOST_BANDS, max(_LEAST_BANDS, round((far - near) / _BAND_MM)))
    step = job.laser.step_mm
    bands = []
    for k in range(count):
        density = share_of_density((k + 0.5) / count, light.far) / light.far
        spacing = max(1, int(across / density / step + 1e-9)) * step
        bands.append(
            LightBand(
                near_mm=near + k * (far - near) / count,
                far_mm=near + (k + 1) * (far - near) / count,
                spacing_mm=spacing,
                aimed=min(1.0, across / spacing),
            )
        )
    return tuple(bands)


def line_bands(bands: Sequence[LightBand], job: Job, light: EdgeLight) -> list[LineBand]:
    """Return the bands as places across the lines, as worked, in rising order."""
    size, is_turned = _axis(job, light)
    made = []
    for band in bands:
        ends = band.near_mm, band.far_mm
        low, high = sorted(size - end if is_turned else end for end in ends)
        made.append(LineBand(low_mm=low, high_mm=high, spacing_mm=band.spacing_mm))
    return sorted(made, key=lambda band: band.low_mm)


def prove_light(job: Job, light: EdgeLight, coat: CoatPlan, target: BaseGeometry) -> LightPlan:
    """Measure on the written program, if there is one, how much of each band is marked."""
    mark = (coat.mark_mm[0].value, coat.mark_mm[1].value)
    bands = light_bands(target, job, light, mark)
    if coat.program is None:
        return LightPlan(edge=light.edge, far=light.far, bands=bands)
    marked = sweep(coat.moves, mark)
    size, is_turned = _axis(job, light)
    proven = []
    for band in bands:
        low, high = sorted(size - e if is_turned else e for e in (band.near_mm, band.far_mm))
        strip = _strip(low, high, lines_along(light), job)
        drawn = target.intersection(strip)
        covered = None if drawn.area < 1e-6 else marked.intersection(drawn).area / drawn.area
        proven.append(replace(band, covered=covered))
    return LightPlan(edge=light.edge, far=light.far, bands=tuple(proven))


def edge_findings(job: Job, material: Material, plan: LightPlan | None) -> list[Finding]:
    """Findings about a sheet that is marked for light: may it be, and how sure is its density."""
    if not job.route.is_lit:
        return []
    return [*_not_frosted(job, material), *_guess(plan), *_uneven(plan)]


def light_values(plan: LightPlan) -> tuple[Stated, ...]:
    """Return what the plan states of the marking."""
    guess = "common practice, no source: the marking grows denser away from the light"
    spacings = ", ".join(f"{band.spacing_mm:.4g}" for band in plan.bands)
    return (
        Stated(
            name="density at the far side, relative to near the light",
            value=f"{plan.far:g}",
            kind="practice",
            grade="D",
            source=guess,
        ),
        Stated(
            name="spacing of the lines, from near the light to far",
            value=f"{spacings} mm",
            kind="computed",
            grade="D",
            source="even brightness where only marks let light out; whole motor steps",
        ),
    )


def _not_frosted(job: Job, material: Material) -> list[Finding]:
    wavelength_nm = job.laser.wavelength_nm
    if any(item.holds_at(wavelength_nm) for item in material.frosts):
        return []
    known = [*material.harms, *material.marks, *material.passes]
    told = next((item.text for item in known if item.holds_at(wavelength_nm)), None)
    why = told or f"what a beam of {wavelength_nm:g} nm does to it is not in the table"
    return [
        Finding.stop(
            "light-not-frosted",
            f"{material.name}, unpainted, cannot be marked white for light with "
            f"{wavelength_nm:g} nm: {why.split(', as soon as')[0]}",
            "Take cast acrylic and a beam of 9 to 11 um, or paint the back: [[coat]] "
            "tables instead of [light].",
        )
    ]


def _guess(plan: LightPlan | None) -> list[Finding]:
    if plan is None:
        return []
    return [
        Finding.caution(
            "light-guess",
            f"the marking is up to {plan.far:g} times denser away from the light: a starting "
            "guess; sheet, edge and lamp decide how fast the light is used up",
            "Mark the program on an offcut as long as the sign, light it as the sign will "
            "be, in the dark; give light.far more where the far side is dim, less where it glares.",
        )
    ]


def _uneven(plan: LightPlan | None) -> list[Finding]:
    """Tell where outlines alone mark more than the band should have."""
    if plan is None:
        return []
    off = [
        band
        for band in plan.bands
        if band.covered is not None and abs(band.covered / band.aimed - 1) > _TOLD
    ]
    if not off:
        return []
    worst = max(off, key=lambda band: abs((band.covered or 0) / band.aimed - 1))
    return [
        Finding.caution(
            "light-uneven",
            f"between {worst.near_mm:.1f} and {worst.far_mm:.1f} mm from the light "
            f"{100 * (worst.covered or 0):.0f} % of what is drawn is marked, not the "
            f"{100 * worst.aimed:.0f} % that even light asks for: strokes are so thin that "
            "their outlines count for much",
            "Draw bolder strokes, use a finer mark, or accept that the near side is brighter.",
        )
    ]


def _axis(job: Job, light: EdgeLight) -> tuple[float, bool]:
    """Return the blank's size away from the light, and whether distance runs down from it.

    As worked the piece is mirrored: what is lit at its left edge is lit at the right one.
    """
    if light.edge in ("bottom", "top"):
        return job.blank.height_mm, light.edge == "top"
    return job.blank.width_mm, light.edge == ("left" if job.blank.is_back_worked else "right")


def _distances(target: BaseGeometry, job: Job, light: EdgeLight) -> tuple[float, float]:
    """Return how far from the lit edge the marking begins and ends."""
    x0, y0, x1, y1 = target.bounds
    low, high = (y0, y1) if lines_along(light) == "x" else (x0, x1)
    size, is_turned = _axis(job, light)
    return (size - high, size - low) if is_turned else (low, high)


def _strip(low: float, high: float, along: str, job: Job) -> BaseGeometry:
    width, height = job.blank.width_mm, job.blank.height_mm
    return box(0, low, width, high) if along == "x" else box(low, 0, high, height)
