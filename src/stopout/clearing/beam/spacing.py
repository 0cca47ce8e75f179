"""The spacing of fill lines: close enough to leave no threads, no closer.

The default rule trusts no addition of neighbouring doses. With D the mark across the lines and w
the 1/e^2 radius across them, p = min(0.85 D, 1.1566 w) rounded down to whole motor steps. 0.85 D
leaves 15 % overlap (common practice, no source); at p = 1.1566 w the ripple of the summed dose,
2 exp(-pi^2 w^2 / (2 p^2)), is 5 % (Poisson summation of Gaussian lines).

Where a coupon has given an accumulation exponent S (see `stopout.clearing.beam.dose`), unlike doses
d_k at one point are taken to amount to (sum d_k^m)^(1/m), m = 1 / (1 - S): equal ones to
d N^(1 - S), as the incubation law has it; to their sum at S = 0, to their largest at S = 1. That
continuation of the law is ours.
"""

from __future__ import annotations

import math

import numpy as np

from stopout.values import FloatArray

# p / w at which the ripple amplitude of a sum of Gaussian lines is 5 %: pi / sqrt(2 ln 40).
RIPPLE_PITCH = math.pi / math.sqrt(2 * math.log(2 / 0.05))
# Share of the mark that the default rule lets lines lie apart.
OVERLAP_SHARE = 0.85
# A Gaussian line's dose this many radii away is exp(-2 x 6.5^2), nothing.
_REACH_RADII = 6.5
_BISECTIONS = 100


def default_spacing_mm(
    *, mark_across_mm: float, radius_across_mm: float, step_mm: float | None
) -> float:
    """Return the default spacing of fill lines in mm, in whole motor steps (at least one).

    Parameters
    ----------
    mark_across_mm : float
        Width that one line clears.
    radius_across_mm : float
        1/e^2 radius across the lines.
    step_mm : float or None
        One motor step; None rounds nothing.
    """
    widest = widest_default_mm(mark_across_mm=mark_across_mm, radius_across_mm=radius_across_mm)
    if step_mm is None:
        return widest
    return max(1, math.floor(widest / step_mm + 1e-9)) * step_mm


def widest_default_mm(*, mark_across_mm: float, radius_across_mm: float) -> float:
    """Return the default rule's spacing before it is rounded to steps: min(0.85 D, 1.1566 w)."""
    return min(OVERLAP_SHARE * mark_across_mm, RIPPLE_PITCH * radius_across_mm)


def ripple(spacing_mm: float, radius_across_mm: float) -> float:
    """Return the relative ripple amplitude of the dose of parallel lines (first harmonic)."""
    return 2 * math.exp(-((math.pi * radius_across_mm / spacing_mm) ** 2) / 2)


def mean_dose_ratio(spacing_mm: float, radius_across_mm: float, dose_ratio: float) -> float:
    """Return a fill's mean area dose P/(v p) over the area dose that just clears."""
    return dose_ratio * math.sqrt(math.pi / 2) * radius_across_mm / spacing_mm


def accumulated_dose(
    offset_mm: FloatArray, *, spacing_mm: float, radius_across_mm: float, exponent: float
) -> FloatArray:
    """Return what endless parallel Gaussian lines amount to, over the middle dose of one.

    Parameters
    ----------
    offset_mm : ndarray
        Places across the lines; a line runs at 0.
    spacing_mm, radius_across_mm : float
        Line spacing and 1/e^2 radius across the lines.
    exponent : float
        Accumulation exponent S from 0 (doses add) to 1 (the largest counts).
    """
    place = np.asarray(offset_mm, dtype=np.float64)
    near = place - spacing_mm * np.round(place / spacing_mm)
    n = math.ceil(_REACH_RADII * radius_across_mm / spacing_mm) + 1
    lines = spacing_mm * np.arange(-n, n + 1)
    falls = -2 * ((near[..., None] - lines) / radius_across_mm) ** 2
    most = falls.max(axis=-1)
    if exponent >= 1:
        return np.asarray(np.exp(most))
    m = 1 / (1 - exponent)
    # Relative to the nearest line, so that no power underflows.
    return np.asarray(np.exp(most) * np.exp(m * (falls - most[..., None])).sum(axis=-1) ** (1 / m))


def valley_dose_ratio(
    spacing_mm: float, radius_across_mm: float, dose_ratio: float, *, exponent: float = 1.0
) -> float:
    """Return dose / threshold midway between two fill lines; under 1 a thread of paint stays.

    Parameters
    ----------
    spacing_mm, radius_across_mm : float
        Line spacing and 1/e^2 radius across the lines.
    dose_ratio : float
        Line dose / threshold line dose of one line.
    exponent : float
        Accumulation exponent S; 1 trusts no addition of neighbouring doses.
    """
    middle = np.array([spacing_mm / 2])
    valley = accumulated_dose(
        middle, spacing_mm=spacing_mm, radius_across_mm=radius_across_mm, exponent=exponent
    )
    return dose_ratio * float(valley[0])


def widest_spacing_mm(
    radius_across_mm: float, dose_ratio: float, *, exponent: float = 1.0
) -> float:
    """Return the spacing at which the valley between lines just reaches the threshold.

    Parameters
    ----------
    radius_across_mm : float
        1/e^2 radius across the lines.
    dose_ratio : float
        Line dose / threshold line dose of one line; at or under 1 the spacing is 0 unless doses
        accumulate.
    exponent : float
        Accumulation exponent S: at 1 the lines just touch, p = D = w sqrt(2 ln r); for two
        neighbours p = w sqrt(2 ln(r 2^(1 - S))).
    """
    if exponent >= 1:
        return radius_across_mm * math.sqrt(2 * math.log(max(dose_ratio, 1.0)))
    low, high = 0.05, math.sqrt(2 * math.log(2 * max(dose_ratio, 1.0))) + 1
    if valley_dose_ratio(low, 1.0, dose_ratio, exponent=exponent) < 1:
        return 0.0
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2
        if valley_dose_ratio(middle, 1.0, dose_ratio, exponent=exponent) >= 1:
            low = middle
        else:
            high = middle
    return low * radius_across_mm


def scallop_mm(spacing_mm: float, cap_radius_mm: float, edge_angle_deg: float = 90.0) -> float:
    """Return how deep the edge of a fill is scalloped where no outline trues it.

    Parameters
    ----------
    spacing_mm : float
        Line spacing, at most twice the cap's radius.
    cap_radius_mm : float
        Radius of the lines' round ends, half the mark.
    edge_angle_deg : float
        Angle between edge and lines: 90 across them; at 0 the edge is a staircase of one spacing.

    Returns
    -------
    float
        Depth of the scallops in mm; infinite where the lines do not touch.

    Notes
    -----
    Between the caps of neighbouring lines R - sqrt(R^2 - s^2/4) with s = p / sin f the distance of
    their centres along the edge; at a slight angle a cap meets its neighbour's flank first. From
    plane geometry.
    """
    p, radius = spacing_mm, cap_radius_mm
    if p > 2 * radius * (1 + 1e-12):
        return math.inf
    angle = math.radians(min(abs(edge_angle_deg), 180 - abs(edge_angle_deg)))
    sin, cos = math.sin(angle), math.cos(angle)
    # tan f >= (s/2) / sqrt(R^2 - s^2/4), cleared of its divisions.
    if (2 * radius * sin) ** 2 >= p**2 and sin * math.sqrt(
        max((2 * radius * sin) ** 2 - p**2, 0.0)
    ) >= p * cos * (1 - 1e-12):
        return radius - math.sqrt(max(radius**2 - (p / sin) ** 2 / 4, 0.0))
    return radius - sin * math.sqrt(max(radius**2 - (p - radius) ** 2, 0.0)) + cos * (p - radius)


def gated_scallop_mm(spacing_mm: float, radius_mm: float, dose_ratio: float) -> float:
    """Return how deep an edge across the lines is scalloped where they are switched on the fly.

    Parameters
    ----------
    spacing_mm : float
        Line spacing.
    radius_mm : float
        1/e^2 radius of a round Gaussian spot.
    dose_ratio : float
        Line dose / threshold line dose.

    Returns
    -------
    float
        Depth in mm without addition of neighbouring doses; infinite where the lines do not touch.

    Notes
    -----
    (w / sqrt 2) (erfinv(2/r exp(s^2/2) - 1) + erfinv(1 - 2/r)), s = p / w: the cleared end lies
    back where the dose is less, so a switched end is blunter than a round one. Written with the
    normal quantile z: (w / 2) (z(1/r exp(s^2/2)) + z(1 - 1/r)).
    """
    if dose_ratio <= 1:
        return math.inf
    valley = math.exp((spacing_mm / radius_mm) ** 2 / 2) / dose_ratio
    if valley >= 1:
        return math.inf
    from statistics import NormalDist

    quantile = NormalDist().inv_cdf
    return radius_mm / 2 * (quantile(valley) + quantile(1 - 1 / dose_ratio))
