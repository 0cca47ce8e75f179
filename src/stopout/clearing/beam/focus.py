"""How far the work may stand off the focus, and where the focus goes behind clear plastic.

A beam of waist radius w0 widens as w(z) = w0 sqrt(1 + (z / zR)^2), zR = pi w0^2 / (M^2 lambda)
(ISO 11146; the Rayleigh range). A line at a fixed line dose loses peak dose as 1 / w, so its mark
is D(g) = D0 g sqrt(ln(r / g) / ln r) at a growth g = w / w0 and a dose ratio r in focus: at
r = sqrt(e) the mark is stationary, above it defocus first fattens lines, below it thins them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from stopout.clearing.beam.spot import GaussianSpot

_NM_PER_MM = 1e6
_BISECTIONS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class FocusStep:
    """What the focus has to hold, for a process sheet.

    `tolerance_mm` is how far the paint may lie above or below the focus (either way) before the
    mark differs by more than `change` (a fraction); `rayleigh_mm` the Rayleigh ranges along x and
    y; `depth_mm` the depth of focus, twice the shorter one.
    """

    tolerance_mm: float
    rayleigh_mm: tuple[float, float]
    change: float

    @property
    def depth_mm(self) -> float:
        """Depth of focus: twice the shorter Rayleigh range."""
        return 2 * min(self.rayleigh_mm)


def focus_step(
    spot: GaussianSpot,
    *,
    wavelength_nm: float,
    dose_ratios: tuple[float, float],
    m2: tuple[float, float] = (1.0, 1.0),
    change: float = 0.05,
) -> FocusStep:
    """Return how exactly the height must be set so that the mark keeps its width.

    Parameters
    ----------
    spot : GaussianSpot
        The spot in focus, its waists at one height.
    wavelength_nm : float
        Wavelength in air.
    dose_ratios : (float, float)
        Line dose / threshold line dose in focus across x and across y, above 1.
    m2 : (float, float)
        Beam quality M^2 along x and y. 1 is the ideal beam: the tolerance is then an upper bound.
    change : float
        Largest relative change of the mark.
    """
    ranges = [
        rayleigh_range_mm(radius, wavelength_nm=wavelength_nm, m2=quality)
        for radius, quality in zip(spot.radius_mm, m2, strict=True)
    ]
    growths = [growth_within_mark(ratio, change) for ratio in dose_ratios]
    return FocusStep(
        tolerance_mm=min(
            height_tolerance_mm(z, growth - 1) for z, growth in zip(ranges, growths, strict=True)
        ),
        rayleigh_mm=(ranges[0], ranges[1]),
        change=change,
    )


def rayleigh_range_mm(waist_radius_mm: float, *, wavelength_nm: float, m2: float = 1.0) -> float:
    """Return zR = pi w0^2 / (M^2 lambda), where the spot has grown by sqrt(2)."""
    return math.pi * waist_radius_mm**2 / (m2 * wavelength_nm / _NM_PER_MM)


def height_tolerance_mm(rayleigh_mm: float, growth: float) -> float:
    """Return how far off the focus the spot has grown by this fraction: zR sqrt((1+e)^2 - 1)."""
    return rayleigh_mm * math.sqrt((1 + growth) ** 2 - 1)


def defocused_mark_ratio(growth: float, dose_ratio: float) -> float:
    """Return the mark of a spot grown by this factor over the mark in focus; 0 where none is left.

    The line dose is held; the mark's dose ratio in focus is above 1.
    """
    if growth >= dose_ratio:
        return 0.0
    return growth * math.sqrt(math.log(dose_ratio / growth) / math.log(dose_ratio))


def growth_within_mark(dose_ratio: float, change: float = 0.05) -> float:
    """Return the growth w / w0 up to which the mark stays within a relative change of its width.

    Parameters
    ----------
    dose_ratio : float
        Line dose / threshold line dose in focus, above 1.
    change : float
        Largest relative change of the mark, either way, below 1.

    Raises
    ------
    ValueError
        If the dose ratio is not above 1 or the change not between 0 and 1.
    """
    if dose_ratio <= 1:
        raise ValueError(f"a dose ratio of {dose_ratio:g} clears nothing; give more than 1")
    if not 0 < change < 1:
        raise ValueError(f"the change of the mark is {change:g}; give one between 0 and 1")
    # The mark rises up to this growth and falls from there on.
    top = max(1.0, dose_ratio / math.sqrt(math.e))
    if defocused_mark_ratio(top, dose_ratio) >= 1 + change:
        return _crossing(dose_ratio, 1 + change, low=1.0, high=top, rises=True)
    return _crossing(dose_ratio, 1 - change, low=top, high=dose_ratio, rises=False)


def _crossing(dose_ratio: float, wanted: float, *, low: float, high: float, rises: bool) -> float:
    """Return the growth between two where the mark passes the wanted ratio, by bisection."""
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2
        if (defocused_mark_ratio(middle, dose_ratio) < wanted) == rises:
            low = middle
        else:
            high = middle
    return (low + high) / 2
