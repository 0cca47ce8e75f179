"""The beam's spot and the mark it clears, per axis.

Across a line of line dose q the cleared width is D with D^2 = 2 w^2 ln(q / q_threshold), where w is
the 1/e^2 radius across the line (J. M. Liu, Opt. Lett. 7 (1982) 196, in its scanned form). At a
dose ratio of 2 it is the full width at half maximum, 1.17741 w.
"""

from __future__ import annotations

import math
from typing import Literal

__all__ = ["FWHM_PER_RADIUS", "dose_ratio_of", "mark_width_mm", "radius_mm", "width_across_mm"]

# FWHM of a Gaussian in units of its 1/e^2 radius: sqrt(2 ln 2).
FWHM_PER_RADIUS = math.sqrt(2 * math.log(2))


def radius_mm(width_mm: float, means: Literal["1/e2", "fwhm", "d4sigma"]) -> float:
    """Return the 1/e^2 radius w of a Gaussian spot from its full width in the stated sense.

    For a Gaussian the D4sigma width equals the 1/e^2 width (ISO 11146); for other spots it does
    not, and the measured mark is the better number.
    """
    if means == "fwhm":
        return width_mm / FWHM_PER_RADIUS
    return width_mm / 2


def mark_width_mm(radius: float, dose_ratio: float) -> float:
    """Return the width in mm that a line of this dose ratio clears; 0 at or under threshold."""
    if dose_ratio <= 1:
        return 0.0
    return radius * math.sqrt(2 * math.log(dose_ratio))


def dose_ratio_of(width_mm: float, radius: float) -> float:
    """Return the dose ratio at which a line clears this width: the inverse of `mark_width_mm`."""
    return math.exp((width_mm / radius) ** 2 / 2)


def width_across_mm(axes_mm: tuple[float, float], direction: tuple[float, float]) -> float:
    """Return the full width of an ellipse across a direction of travel (a unit vector)."""
    return math.hypot(axes_mm[0] * direction[1], axes_mm[1] * direction[0])
