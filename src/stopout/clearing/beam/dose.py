"""Dose and threshold: what power, speed and passes do to the mark.

The threshold power of a moving line is P_th = a v + b: on plastic b is nil and a the threshold
line dose; on metal b is the power that the metal leads away at any speed, so that equal P / v is
not equal result. Two or more speeds give both numbers.

N identical passes count as N^(1 - S) of one (the incubation law of Y. Jee, M. F. Becker and
R. M. Walser, J. Opt. Soc. Am. B 5 (1988) 648, made for short pulses on metal; for paint under a
continuous beam S is a number fitted to a coupon, good within the passes that were tried): S = 1,
further passes do nothing; S = 0, doses add in full.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

# Clears the full width at half maximum, with a margin of 15 % on the width over the fastest fill
# (common practice, no source).
DEFAULT_DOSE_RATIO = 2.0
# At fixed power the area cleared in a time goes as sqrt(2 ln r) / r: most at sqrt(e).
FASTEST_DOSE_RATIO = math.sqrt(math.e)


@dataclass(frozen=True, slots=True, kw_only=True)
class Threshold:
    """The least power that clears a line: P_th = a v + b.

    `line_dose_j_per_mm` is a [J/mm]; `conduction_w` is b [W], 0 where nothing leads heat away.
    """

    line_dose_j_per_mm: float
    conduction_w: float = 0.0

    def power_w(self, speed_mm_s: float) -> float:
        """Return the threshold power at a speed."""
        return self.line_dose_j_per_mm * speed_mm_s + self.conduction_w

    def dose_ratio(self, power_w: float, speed_mm_s: float, *, duty: float = 1.0) -> float:
        """Return (mean) power / threshold power at this speed.

        `duty` is the share of the time that the beam is on where it is pulsed; it counts as mean
        power only while the pulses fall well under a spot radius apart.
        """
        return duty * power_w / self.power_w(speed_mm_s)

    def speed_mm_s(self, power_w: float, dose_ratio: float) -> float:
        """Return the speed at which this power has the dose ratio; 0 where no speed has."""
        spare = power_w / dose_ratio - self.conduction_w
        return max(0.0, spare / self.line_dose_j_per_mm)


def peak_dose_j_per_mm2(line_dose: float, radius_across_mm: float) -> float:
    """Return the area dose in the middle of a Gaussian line, sqrt(2/pi) q / w [J/mm^2].

    The spot's size along the line cancels.
    """
    return math.sqrt(2 / math.pi) * line_dose / radius_across_mm


def threshold_line_dose_j_per_mm(area_dose: float, radius_across_mm: float) -> float:
    """Return the line dose whose middle just reaches an area dose [J/mm^2]: sqrt(pi/2) w F."""
    return math.sqrt(math.pi / 2) * radius_across_mm * area_dose


def incubation_factor(passes: int, exponent: float) -> float:
    """Return threshold after N passes / threshold of one: N^(S - 1)."""
    return float(passes ** (exponent - 1))


def ratio_after_passes(dose_ratio: float, passes: int, exponent: float) -> float:
    """Return the dose ratio that N identical passes amount to: r N^(1 - S)."""
    return dose_ratio / incubation_factor(passes, exponent)


def gated_end_mm(radius_along_mm: float, dose_ratio: float) -> float:
    """Return how far beyond the switching point a line switched on the fly is cleared.

    Parameters
    ----------
    radius_along_mm : float
        1/e^2 radius of the spot along the line.
    dose_ratio : float
        Line dose / threshold line dose, above 1.

    Returns
    -------
    float
        Length in mm on the line's axis, negative where the cleared end stays behind the
        switching point (dose ratios under 2): shift the switching points outwards by minus this.

    Raises
    ------
    ValueError
        If the dose ratio is not above 1: nothing is cleared then.

    Notes
    -----
    At the end the dose falls as erfc, so the edge lies at (w / sqrt 2) erfinv(1 - 2 / r); with
    the normal quantile z that is (w / 2) z(1 - 1 / r).
    """
    if dose_ratio <= 1:
        raise ValueError(f"a dose ratio of {dose_ratio:g} clears nothing; give more than 1")
    from statistics import NormalDist

    return radius_along_mm / 2 * NormalDist().inv_cdf(1 - 1 / dose_ratio)
