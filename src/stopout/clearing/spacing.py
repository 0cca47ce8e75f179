"""The spacing of fill lines: close enough to leave no threads, no closer.

The default rule trusts no addition of neighbouring doses. With D the mark across the lines and w
the 1/e^2 radius across them, p = min(0.85 D, 1.1566 w) rounded down to whole motor steps. 0.85 D
leaves 15 % overlap (common practice, no source); at p = 1.1566 w the ripple of the summed dose,
2 exp(-pi^2 w^2 / (2 p^2)), is 5 % (Poisson summation of Gaussian lines).
"""

from __future__ import annotations

import math

__all__ = ["RIPPLE_PITCH", "default_spacing_mm", "ripple"]

# p / w at which the ripple amplitude of a sum of Gaussian lines is 5 %: pi / sqrt(2 ln 40).
RIPPLE_PITCH = math.pi / math.sqrt(2 * math.log(2 / 0.05))
_OVERLAP = 0.85


def default_spacing_mm(*, mark_across_mm: float, radius_across_mm: float, step_mm: float) -> float:
    """Return the default spacing of fill lines in mm, in whole motor steps (at least one).

    Parameters
    ----------
    mark_across_mm : float
        Width that one line clears.
    radius_across_mm : float
        1/e^2 radius across the lines.
    step_mm : float
        One motor step.
    """
    widest = min(_OVERLAP * mark_across_mm, RIPPLE_PITCH * radius_across_mm)
    return max(1, math.floor(widest / step_mm + 1e-9)) * step_mm


def ripple(spacing_mm: float, radius_across_mm: float) -> float:
    """Return the relative ripple amplitude of the dose of parallel lines (first harmonic)."""
    return 2 * math.exp(-((math.pi * radius_across_mm / spacing_mm) ** 2) / 2)
