"""What a dwell of the beam clears: one ellipse, as large as its energy makes it."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import MultiPolygon

from stopout.values import FloatArray

# Corners of an ellipse: its chords lie within 40 nm for a dot of 0.25 mm.
_ANGLES = np.linspace(0, 2 * np.pi, 128, endpoint=False)


def dwelt(
    at_mm: FloatArray,
    energy_s: FloatArray,
    *,
    radius_mm: tuple[float, float],
    threshold_s: float,
) -> MultiPolygon:
    """Return what dwells of the beam clear.

    Parameters
    ----------
    at_mm : (n, 2) ndarray
        Where the head is.
    energy_s : (n,) ndarray
        Fraction of full power times the time of each dwell, in s.
    radius_mm : (float, float)
        1/e^2 radii of the spot.
    threshold_s : float
        Such an energy that just clears at rest.

    Notes
    -----
    Full axes w sqrt(2 ln(E / E_th)) (J. M. Liu, Opt. Lett. 7 (1982) 196, from memory), none at or
    under the threshold. The step of a dwell is taken as a point.
    """
    over = np.maximum(energy_s / threshold_s, 1.0)
    size = np.sqrt(2 * np.log(over)) / 2
    circle = np.column_stack([np.cos(_ANGLES), np.sin(_ANGLES)]) * np.asarray(radius_mm)
    made = [shapely.Polygon(at + a * circle) for at, a in zip(at_mm, size, strict=True) if a > 0]
    joined = shapely.union_all(made)
    polygons = [part for part in shapely.get_parts(joined) if part.geom_type == "Polygon"]
    return MultiPolygon(polygons)
