"""The mean edge of a scan: its blur, and whether it is as even as blur in plain light makes it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stopout.scans.inspecting.seen import Seen, own_places
from stopout.scans.registering.discs import edge_spread
from stopout.scans.registering.pose import apply, sampled
from stopout.values import FloatArray, Grey


def edge_sites(
    seen: Seen,
    points: FloatArray,
    normals: FloatArray,
    off: FloatArray,
    use: NDArray[np.bool_],
    reach: float,
) -> tuple[FloatArray, FloatArray]:
    """Distances, and places at these across the edges that have room to both sides.

    Parameters
    ----------
    seen : Seen
    points, normals : (n, 2) ndarray
        Edges as planned, and outwards.
    off : (n,) ndarray
        How far outside they are seen.
    use : (n,) ndarray of bool
        Those that count.
    reach : float
        Greatest distance, in mm.

    Returns
    -------
    ((m,) ndarray, (k, m, 2) ndarray)
        Nothing where fewer than twenty edges stand free.
    """
    pitch = seen.grid.pitch_mm
    some = np.flatnonzero(use)
    some = some[:: max(len(some) // 4000, 1)]
    x = np.arange(-np.ceil(reach / pitch), np.ceil(reach / pitch) + 0.25, 0.5) * pitch
    own = own_places(seen, points[some, None] + x[None, :, None] * normals[some, None], x, pitch)
    some = some[own.all(axis=1)]
    if len(some) < 20:
        return np.zeros(0), np.zeros((0, 0, 2))
    return x, points[some, None] + (x[None] + off[some, None])[..., None] * normals[some, None]


def mean_edge(grey: Grey, matrix: FloatArray, sites_mm: FloatArray) -> FloatArray:
    """The median level over many edges, by distance from each; straight from the scan.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
    matrix : (3, 3) ndarray
        From mm to px.
    sites_mm : (k, m, 2) ndarray
        Maybe none.

    Returns
    -------
    (m,) ndarray
    """
    if not sites_mm.size:
        return np.zeros(0)
    px = apply(matrix, sites_mm.reshape(-1, 2)).reshape(sites_mm.shape)
    return np.asarray(np.median(sampled(grey, px, is_cubic=True), axis=0), float)


def fit_edge(x: FloatArray, profile: FloatArray, pitch: float) -> tuple[float, float, float]:
    """Fit a blurred step: (place, standard deviation of the blur, unevenness).

    The unevenness is that part of the misfit, over the contrast, which is alike on both sides of
    the edge: a blur that is even to both sides, Gaussian or not, leaves none of it.

    Parameters
    ----------
    x : ndarray
        Distances, outwards.
    profile : ndarray
        Levels there.
    pitch : float
        Width of a pixel, same unit as `x`.
    """
    from scipy.optimize import least_squares

    inner, outer = float(np.mean(profile[:3])), float(np.mean(profile[-3:]))
    share = (profile - outer) / (inner - outer if abs(inner - outer) > 1e-6 else 1.0)

    def off(chosen: FloatArray) -> FloatArray:
        shape, _ = edge_spread(chosen[0] - x, max(abs(chosen[1]), 0.3 * pitch), pitch)
        left: FloatArray = chosen[2] + chosen[3] * shape - share
        return left

    found = least_squares(off, [0.0, pitch, 0.0, 1.0], max_nfev=80)
    place, blur, _, gain = found.x
    blur = max(abs(float(blur)), 0.3 * pitch)
    beside = np.linspace(0, min(3 * blur, float(x[-1]) - abs(float(place))), 40)
    alike = np.interp(place + beside, x, found.fun) + np.interp(place - beside, x, found.fun)
    uneven = float(np.sqrt(np.mean((alike / 2) ** 2))) / max(abs(float(gain)), 1e-6)
    return float(place), blur, uneven
