"""What a clear sheet does to the look of what is painted on its back, in air."""

from __future__ import annotations

import math

_RIGHT_ANGLE_DEG = 90.0


def apparent_depth_mm(thickness_mm: float, refractive_index: float) -> float:
    """Return how deep the back seems to lie, looked at straight on: T / n.

    Notes
    -----
    Snell's law for small angles.

    Raises
    ------
    ValueError
        If the index is below 1.
    """
    return thickness_mm / _checked(refractive_index)


def oblique_offset_mm(thickness_mm: float, refractive_index: float, *, view_deg: float) -> float:
    """Return how far aside the point of the back lies that is seen at a point of the front.

    Parameters
    ----------
    thickness_mm : float
        Thickness of the sheet.
    refractive_index : float
        Its index, 1 or more.
    view_deg : float
        Angle of the view from the perpendicular, 0 or more and below 90 deg.

    Raises
    ------
    ValueError
        If the index is below 1 or the angle outside its range.

    Notes
    -----
    T tan(asin(sin v / n)): Snell's law, flat and parallel faces.
    """
    if not 0 <= view_deg < _RIGHT_ANGLE_DEG:
        raise ValueError(f"the view is {view_deg:g} deg off; give 0 or more and less than 90 deg")
    inside = math.asin(math.sin(math.radians(view_deg)) / _checked(refractive_index))
    return thickness_mm * math.tan(inside)


def _checked(refractive_index: float) -> float:
    if not refractive_index >= 1:
        raise ValueError(f"the refractive index is {refractive_index:g}; it must be 1 or more")
    return refractive_index
