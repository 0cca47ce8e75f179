"""A scan laid flat on the piece's own grid, its grey levels turned into shares of bare."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.errors import CouponError
from stopout.scans.inspecting.raster import Grid, coverage
from stopout.scans.registering.pose import lying, sampled
from stopout.values import FloatArray, Grey

_MOST_PIXELS = 30_000_000
_LONGEST_PX = 32_000
_MOST_LEVEL_PIXELS = 12_000
_LEAST_CONTRAST = 15.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """A scan laid flat on the piece's own grid.

    Attributes
    ----------
    grid : Grid
    share : (rows, columns) ndarray of float32
        How bare each pixel is by its brightness: 0 paint, 1 bare.
    wanted : (rows, columns) ndarray of float32
        The same as expected.
    raw : (rows, columns) ndarray of float32
        Grey levels.
    noise : float
        Standard deviation of a pixel's share.
    contrast : float
        Bare less paint in grey levels, signed.
    """

    grid: Grid
    share: Grey
    wanted: Grey
    raw: Grey
    noise: float
    contrast: float


def see(
    grey: Grey,
    opening: BaseGeometry,
    face: BaseGeometry,
    *,
    matrix: FloatArray,
    growth_mm: float,
    blur_mm: float,
    pitch_mm: float | None = None,
) -> Seen:
    """Lay the scan flat on the piece's grid, as shares of bare.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
    opening, face : BaseGeometry
    matrix : (3, 3) ndarray
    growth_mm, blur_mm : float
        Of the edges, as found.
    pitch_mm : float or None
        Of the grid; None: the scan's own pixels.

    Raises
    ------
    CouponError
        Where bare and paint do not differ.
    """
    import cv2

    grid = _grid(face, pitch_mm or 1 / lying(matrix, face.bounds).px_per_mm)
    raw = np.asarray(
        cv2.warpPerspective(
            grey,
            matrix @ grid.matrix(),
            (grid.columns, grid.rows),
            flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        ),
        np.float32,
    )
    wanted = expected(opening, growth_mm, blur_mm, grid)
    paint, bare, noise = _levels(raw, wanted, coverage(face, grid), grid)
    contrast = float(np.median(bare - paint))
    if abs(contrast) < max(_LEAST_CONTRAST, 4 * noise):
        raise CouponError(
            f"what is cleared and the paint differ by {abs(contrast):.0f} of 255 levels only; scan "
            "with more exposure, or against a ground that tells them apart"
        )
    share = np.asarray((raw - paint) / (bare - paint), np.float32)
    return Seen(
        grid=grid,
        share=share,
        wanted=wanted,
        raw=raw,
        noise=noise / abs(contrast),
        contrast=contrast,
    )


def expected(opening: BaseGeometry, growth_mm: float, blur_mm: float, grid: Grid) -> Grey:
    """The openings grown by so much, as a scan with this blur would show them: 0 to 1.

    Parameters
    ----------
    opening : BaseGeometry
    growth_mm : float
        Below zero they shrink.
    blur_mm : float
        Standard deviation, a pixel's own width included.
    grid : Grid

    Returns
    -------
    (rows, columns) ndarray of float32
    """
    import cv2

    grown = opening if growth_mm == 0 else opening.buffer(growth_mm, quad_segs=12)
    sharp = coverage(grown, grid)
    sigma = np.sqrt(max((blur_mm / grid.pitch_mm) ** 2 - 1 / 12, 0.01))
    return np.asarray(cv2.GaussianBlur(sharp, (0, 0), float(sigma)), np.float32)


def looked_up(picture: Grey, grid: Grid, points: FloatArray) -> FloatArray:
    """Values of a picture at points in mm, between pixels linearly.

    Parameters
    ----------
    picture : (rows, columns) ndarray of float32
    grid : Grid
    points : (n, m, 2) ndarray

    Returns
    -------
    (n, m) ndarray
    """
    px = grid.to_px(points.reshape(-1, 2)).reshape(points.shape)
    return np.asarray(sampled(picture, px), float)


def own_places(seen: Seen, places: FloatArray, x: FloatArray, pitch: float) -> NDArray[np.bool_]:
    """Which places of each profile are nearer to its own edge than to any other.

    Parameters
    ----------
    seen : Seen
    places : (n, m, 2) ndarray
        In mm.
    x : (m,) ndarray
        Their distances from the edge, 0 in the middle.
    pitch : float
        Of the grid.

    Returns
    -------
    (n, m) ndarray of bool
    """
    import cv2

    inside = np.asarray(seen.wanted > 0.5, np.uint8)
    depth = cv2.distanceTransform(inside, cv2.DIST_L2, 5) + cv2.distanceTransform(
        1 - inside, cv2.DIST_L2, 5
    )
    nearest = looked_up(np.asarray((depth - 0.5) * pitch, np.float32), seen.grid, places)
    is_own = (nearest >= 0.95 * np.abs(x) - 1.2 * pitch) | (np.abs(x) <= 1.2 * pitch)
    middle = len(x) // 2
    right = np.logical_and.accumulate(is_own[:, middle:], axis=1)
    left = np.logical_and.accumulate(is_own[:, middle::-1], axis=1)[:, ::-1]
    return np.concatenate([left[:, :-1], right], axis=1)


def _grid(face: BaseGeometry, pitch_mm: float) -> Grid:
    x0, y0, x1, y1 = face.bounds
    room = 0.5
    area = (x1 - x0 + 2 * room) * (y1 - y0 + 2 * room)
    longest = max(x1 - x0, y1 - y0) + 2 * room
    pitch = max(pitch_mm, float(np.sqrt(area / _MOST_PIXELS)), longest / _LONGEST_PX)
    return Grid(
        left_mm=x0 - room,
        top_mm=y1 + room,
        pitch_mm=pitch,
        rows=int(np.ceil((y1 - y0 + 2 * room) / pitch)),
        columns=int(np.ceil((x1 - x0 + 2 * room) / pitch)),
    )


def _levels(raw: Grey, wanted: Grey, face: Grey, grid: Grid) -> tuple[Grey, Grey, float]:
    """Levels of paint and of what is bare at each pixel, and the noise of a pixel.

    Both change over the piece as a second-degree surface; places that fit neither count little.
    """
    inside = np.flatnonzero(face.ravel() > 0.999)
    some = inside[:: max(len(inside) // _MOST_LEVEL_PIXELS, 1)]
    y, x = np.divmod(some, grid.columns)
    e, level = wanted.ravel()[some].astype(float), raw.ravel()[some].astype(float)
    surface = _surface(x, y, grid)
    columns = np.column_stack([surface * (1 - e)[:, None], surface * e[:, None]])
    # Levels of pixels that an edge crosses hang on where the edge is.
    given = np.where(np.abs(e - 0.5) < 0.45, 0.1, 1.0)
    ridge = 1e-4 * len(some) * np.diag(np.tile([0, 0.1, 0.1, 1, 1, 1], 2))
    weight, solved = given * _first_weights(level, e), np.zeros(columns.shape[1])
    for _ in range(8):
        normal = columns.T @ (columns * weight[:, None]) + ridge
        solved = np.linalg.solve(normal + 1e-9 * np.eye(len(normal)), columns.T @ (weight * level))
        off = np.abs(level - columns @ solved)
        scale = max(float(np.median(off[given == 1])) / 0.6745, 0.3)
        weight = given / (1 + (off / (2.5 * scale)) ** 2)
    paint, bare = (_surface_of(part, grid) for part in (solved[:6], solved[6:]))
    return paint, bare, scale


def _first_weights(level: FloatArray, e: FloatArray) -> FloatArray:
    """What may be trusted before anything is fitted: openings may be missing, paint may be off.

    Paint is the median of what should be painted; bare is what of the openings differs most.
    """
    painted, opened = level[e < 0.05], level[e > 0.95]
    if len(painted) < 20 or len(opened) < 20:
        return np.ones(len(level))
    paint = float(np.median(painted))
    bare = max(np.percentile(opened, [15, 85]), key=lambda one: abs(one - paint))
    off = level - paint - (bare - paint) * e
    weights: FloatArray = 1 / (1 + (off / (0.15 * abs(bare - paint) + 2.0)) ** 4)
    return weights


def _surface(x: NDArray[np.generic], y: NDArray[np.generic], grid: Grid) -> FloatArray:
    u = np.asarray(x, float) / grid.columns - 0.5
    v = np.asarray(y, float) / grid.rows - 0.5
    return np.column_stack([np.ones(len(u)), u, v, u * u, u * v, v * v])


def _surface_of(a: FloatArray, grid: Grid) -> Grey:
    """The same for all pixels of the grid, with these coefficients."""
    u = np.arange(grid.columns, dtype=np.float32)[None] / grid.columns - np.float32(0.5)
    v = np.arange(grid.rows, dtype=np.float32)[:, None] / grid.rows - np.float32(0.5)
    c = a.astype(np.float32)
    return np.asarray((c[0] + c[1] * u + c[3] * u * u) + (c[2] * v + c[5] * v * v) + c[4] * v * u)
