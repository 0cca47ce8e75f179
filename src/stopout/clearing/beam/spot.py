"""The beam's spot and the mark it clears, per axis.

Two models of a spot: a Gaussian ellipse and a uniform rectangle (the near field of a wide-stripe
diode). A line's dose across its track is the line dose (J/mm) times the spot's profile (1/mm),
whose integral across the track is 1 for every spot; so parallel lines a spacing p apart give the
mean area dose P/(v p) whatever the spot.

Across a line of line dose q a Gaussian spot clears the width D with D^2 = 2 w^2 ln(q / q_th), where
w is the 1/e^2 radius across the line and q_th the threshold (J. M. Liu, Opt. Lett. 7 (1982) 196,
from memory, in its scanned form). At a dose ratio of 2 it is the full width at half maximum,
1.17741 w. A uniform strip clears its own width or nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

SpotMeans = Literal["1/e2", "fwhm", "d4sigma"]

# FWHM of a Gaussian in units of its 1/e^2 radius: sqrt(2 ln 2).
FWHM_PER_RADIUS = math.sqrt(2 * math.log(2))
# Four standard deviations of a uniform strip in units of its width: 4 / sqrt(12).
D4SIGMA_PER_SIDE = 4 / math.sqrt(12)


@dataclass(frozen=True, slots=True, kw_only=True)
class GaussianSpot:
    """An elliptical Gaussian spot.

    `radius_mm` are the 1/e^2 radii along x and y. Angles of travel count from the x axis.
    """

    radius_mm: tuple[float, float]

    def radius_across_mm(self, travel_deg: float) -> float:
        """Return the 1/e^2 radius across a line: sqrt(w_x^2 sin^2 t + w_y^2 cos^2 t)."""
        return width_across_mm(self.radius_mm, _direction(travel_deg))

    def radius_along_mm(self, travel_deg: float) -> float:
        """Return the 1/e^2 radius along a line, which sets where a gated line ends."""
        return self.radius_across_mm(travel_deg + 90)

    def mark_across_mm(self, travel_deg: float, dose_ratio: float) -> float:
        """Return the width that a line at this angle clears at this dose ratio, 0 for none."""
        return mark_width_mm(self.radius_across_mm(travel_deg), dose_ratio)


@dataclass(frozen=True, slots=True, kw_only=True)
class UniformSpot:
    """A rectangular spot of even power.

    `side_mm` are its sides along x and y. At a slant its dose across the track is a trapezoid.
    """

    side_mm: tuple[float, float]

    def trapezoid_mm(self, travel_deg: float) -> tuple[float, float]:
        """Return full width A + B and plateau |B - A| of the dose, A = a|sin t|, B = b|cos t|."""
        across, along = self._projected_mm(travel_deg)
        return across + along, abs(along - across)

    def mark_across_mm(self, travel_deg: float, dose_ratio: float) -> float:
        """Return the width cleared at a ratio of peak dose to threshold dose, 0 for none.

        A strip (travel along a side) clears its width at any ratio above 1; the flanks of a
        trapezoid follow the dose.
        """
        full, plateau = self.trapezoid_mm(travel_deg)
        if dose_ratio <= 1:
            return 0.0
        return plateau + (full - plateau) * (1 - 1 / dose_ratio)

    def _projected_mm(self, travel_deg: float) -> tuple[float, float]:
        """Return the sides' shadows across the track."""
        cos, sin = _direction(travel_deg)
        return self.side_mm[0] * abs(sin), self.side_mm[1] * abs(cos)


def _direction(travel_deg: float) -> tuple[float, float]:
    """Return the unit vector of travel; whole quarter turns are exact."""
    quarter = round(travel_deg / 90)
    if travel_deg == 90 * quarter:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[quarter % 4]
    angle = math.radians(travel_deg)
    return math.cos(angle), math.sin(angle)


def radius_mm(width_mm: float, means: SpotMeans) -> float:
    """Return the 1/e^2 radius w of a Gaussian spot from its full width in the stated sense.

    For a Gaussian the D4sigma width equals the 1/e^2 width (ISO 11146); for other spots it does
    not, and the measured mark is the better number.
    """
    if means == "fwhm":
        return width_mm / FWHM_PER_RADIUS
    return width_mm / 2


def side_mm(width_mm: float, means: SpotMeans) -> float:
    """Return the side of a uniform strip from its full width in the stated sense.

    Its full width at half maximum and at 1/e^2 are both the side; its D4sigma is 1.15470 sides.
    """
    return width_mm / D4SIGMA_PER_SIDE if means == "d4sigma" else width_mm


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
