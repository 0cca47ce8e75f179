"""What a clear sheet does to the look of what is painted on its back, in air."""

from __future__ import annotations

import math

__all__ = [
    "apparent_depth_mm",
    "critical_angle_deg",
    "oblique_offset_mm",
    "two_face_transmission",
]

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


def critical_angle_deg(refractive_index: float) -> float:
    """Return the angle inside the sheet beyond which no light leaves it: asin(1 / n).

    Raises
    ------
    ValueError
        If the index is below 1.
    """
    return math.degrees(math.asin(1 / _checked(refractive_index)))


def two_face_transmission(refractive_index: float) -> float:
    """Return the share of light that passes both faces of a sheet that absorbs none: (1 - R)^2.

    R = ((n - 1) / (n + 1))^2 is Fresnel's reflection straight on. Light that goes to and fro
    inside is left out; with it the share would be (1 - R) / (1 + R): 92.54 %, not 92.40 %, at 1.49.

    Raises
    ------
    ValueError
        If the index is below 1.
    """
    index = _checked(refractive_index)
    reflected = ((index - 1) / (index + 1)) ** 2
    return (1 - reflected) ** 2


def _checked(refractive_index: float) -> float:
    if not refractive_index >= 1:
        raise ValueError(f"the refractive index is {refractive_index:g}; it must be 1 or more")
    return refractive_index
