"""How sure one scan is that a spot is what it seems, and no dust on the glass."""

from __future__ import annotations

from typing import Literal

import numpy as np

Certainty = Literal["sure", "open", "dust", "both"]

# Seen brightness over what a spot of bare metal as large would show.
_ALIKE = (0.75, 1.3)
# At this share of the contrast a spot is wide enough to show its own brightness.
_RESOLVED = 0.75
# A thread is several times longer than wide: the share of its box's diagonal squared it fills.
_THREAD = 0.12


def certainty_of_a_spot(
    seen_share: float, area_mm2: float, box_mm: tuple[float, float], blur_mm: float
) -> Certainty:
    """How sure one scan is that a spot is what it seems and no dust.

    Parameters
    ----------
    seen_share : float
        The spot's strongest place, as a share of the contrast between paint and bare.
    area_mm2 : float
        Of bare metal that would send as much light, or of paint that would take as much.
    box_mm : (float, float)
        Sides of the box about it.
    blur_mm : float
        Standard deviation of the blur.

    Returns
    -------
    str
        `sure`, `dust` (more likely than not), or `open`.

    Notes
    -----
    A disc of radius r is seen as 1 - exp(-r^2 / 2 s^2) at its middle, the integral of the Gaussian
    over it.
    """
    length2 = box_mm[0] ** 2 + box_mm[1] ** 2
    if length2 > (8 * blur_mm) ** 2 and area_mm2 < _THREAD * length2:
        return "dust"
    expected = 1 - float(np.exp(-area_mm2 / (2 * np.pi * blur_mm**2)))
    if expected < _RESOLVED:
        return "open"
    low, high = _ALIKE
    return "sure" if low < seen_share / expected < high else "dust"
