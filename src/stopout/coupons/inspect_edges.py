"""A piece's edges in a scan: laid over the plan by least squares, and how far each stands off.

An edge's offset is the integral, across the edge, of what is seen less what is expected. Blur that
is even to both sides changes no such integral, so that it holds for strokes narrower than the blur
too, if both their edges moved alike.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.coupons.inspect_raster import Grid, coverage
from stopout.coupons.register_discs import edge_spread
from stopout.coupons.register_pose import local_scale
from stopout.errors import CouponError
from stopout.values import FloatArray

__all__ = ["Edges", "Seen", "expected", "fit_edge", "lay_over", "pieces_of", "see"]

Grey = NDArray[np.float32]

_MOST_PIXELS = 30_000_000
_MOST_SAMPLES = 40_000
_MOST_LEVEL_PIXELS = 40_000
# Widths of the strips beside the edges that are looked at, one fit after the other.
_REACHES_MM = (0.5, 0.25, 0.15)
_FAR_MM = 0.1
_LEAST_FOUND = 0.5
# A single edge place wanders with its neighbours over about this length (our own choice).
_TOGETHER_MM = 0.3
_PIECE_MM = 1.0
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edges:
    """A piece's edges against the plan.

    Attributes
    ----------
    matrix : (3, 3) ndarray
        From the piece's mm, as worked, to the scan's px.
    growth_mm : float
        How far the edges stand outside the openings all over.
    growth_sd_mm : float
        Its standard error, from the scatter.
    scale_sd : float
        Standard error of the scale, as a share.
    blur_mm : float
        Standard deviation of the edges' blur.
    points_mm, normals : (n, 2) ndarray
        Places along the outlines, and the way out of the opening.
    offset_mm : (n,) ndarray
        How far the edge stands off there beyond `growth_mm`, outwards positive.
    is_good : (n,) ndarray of bool
        False where no edge was found.
    ring, along_mm : (n,) ndarray
        Which outline, and how far along it.
    profile_mm, profile : (m,) ndarray
        The mean edge in grey levels, by distance.
    """

    matrix: FloatArray
    growth_mm: float
    growth_sd_mm: float
    scale_sd: float
    blur_mm: float
    points_mm: FloatArray
    normals: FloatArray
    offset_mm: FloatArray
    is_good: NDArray[np.bool_]
    ring: NDArray[np.intp]
    along_mm: FloatArray
    profile_mm: FloatArray
    profile: FloatArray

    @property
    def residual_mm(self) -> float:
        """Robust spread of the single places about the fit."""
        return _spread(self.offset_mm[self.is_good])


def lay_over(
    grey: Grey,
    opening: BaseGeometry,
    face: BaseGeometry,
    *,
    matrix: FloatArray,
    growth_mm: float,
    blur_mm: float | None = None,
) -> Edges:
    """Lay the scan over the plan by its edges.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
        The scan.
    opening, face : BaseGeometry
        What should be open, and the piece, in mm as worked.
    matrix : (3, 3) ndarray
        From mm to px, to a few tenths of a mm.
    growth_mm : float
        How far the edges are thought to stand outside the openings; found again.
    blur_mm : float or None
        Of an earlier fit, after which the last step alone is taken; None for all steps.

    Returns
    -------
    Edges

    Raises
    ------
    CouponError
        Where the edges are not found.
    """
    px = 1 / _px_per_mm(matrix, face)
    fit = Edges(
        matrix=matrix,
        growth_mm=growth_mm,
        growth_sd_mm=0.0,
        scale_sd=0.0,
        blur_mm=px if blur_mm is None else blur_mm,
        **_no_samples(),
    )
    if blur_mm is None:
        for reach in _REACHES_MM:
            fit = _step(grey, opening, face, fit, reach, pitch_mm=max(px, 0.04))
    for _ in range(2):
        fit = _step(grey, opening, face, fit, _REACHES_MM[-1], pitch_mm=px)
    return fit


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

    Returns
    -------
    Seen

    Raises
    ------
    CouponError
        Where bare and paint do not differ.
    """
    import cv2

    grid = _grid(face, pitch_mm or 1 / _px_per_mm(matrix, face))
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


# --- one step ---------------------------------------------------------------------------------


def _step(
    grey: Grey,
    opening: BaseGeometry,
    face: BaseGeometry,
    fit: Edges,
    reach_mm: float,
    *,
    pitch_mm: float,
) -> Edges:
    blur = max(fit.blur_mm, 0.7 * pitch_mm)
    seen = see(
        grey,
        opening,
        face,
        matrix=fit.matrix,
        growth_mm=fit.growth_mm,
        blur_mm=blur,
        pitch_mm=pitch_mm,
    )
    grown = opening.buffer(fit.growth_mm, quad_segs=12) if fit.growth_mm else opening
    points, normals, ring, along = _samples(grown, seen.grid.pitch_mm)
    reach = max(reach_mm, 3.2 * blur)
    off, is_good = _offsets(seen, points, normals, ring, along, reach=reach, blur_mm=blur)
    if is_good.mean() < _LEAST_FOUND:
        raise CouponError(
            f"only {100 * is_good.mean():.0f} % of the planned edges are seen in the scan; check "
            "that it is this plan's piece and coat, and scan it flat, sharp and evenly lit"
        )
    solved, sd, weight = _solved(points, normals, off, is_good)
    step = float(np.median(np.diff(along)[np.diff(along) > 0]))
    together = np.sqrt(max(max(_TOGETHER_MM, 2.5 * blur) / step, 1.0))
    centre, size = _frame(points)
    change = _correction(solved, centre, size)
    model = _columns(points, normals)
    left = off - model @ solved
    distance, profile = _mean_edge(seen, points, normals, left, weight > 0.3, reach)
    return replace(
        fit,
        matrix=_normed(fit.matrix @ change),
        growth_mm=fit.growth_mm + float(solved[-1]),
        growth_sd_mm=float(sd[-1] * together),
        scale_sd=float(together * np.hypot(sd[1], sd[5]) / 2 / size),
        blur_mm=_fitted_blur(distance, profile, pitch_mm, blur),
        points_mm=points,
        normals=normals,
        offset_mm=left,
        is_good=is_good,
        ring=ring,
        along_mm=along,
        profile_mm=distance,
        profile=profile,
    )


def _no_samples() -> dict[str, NDArray[np.float64] | NDArray[np.intp] | NDArray[np.bool_]]:
    none = np.zeros(0)
    return {
        "points_mm": np.zeros((0, 2)),
        "normals": np.zeros((0, 2)),
        "offset_mm": none,
        "is_good": none.astype(bool),
        "ring": none.astype(np.intp),
        "along_mm": none,
        "profile_mm": none,
        "profile": none,
    }


def _px_per_mm(matrix: FloatArray, face: BaseGeometry) -> float:
    x0, y0, x1, y1 = face.bounds
    middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
    return float(np.sqrt(abs(np.linalg.det(local_scale(matrix, middle)))))


def _grid(face: BaseGeometry, pitch_mm: float) -> Grid:
    x0, y0, x1, y1 = face.bounds
    room = 0.5
    area = (x1 - x0 + 2 * room) * (y1 - y0 + 2 * room)
    pitch = max(pitch_mm, float(np.sqrt(area / _MOST_PIXELS)))
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
    weight, solved = given, np.zeros(columns.shape[1])
    for _ in range(8):
        normal = columns.T @ (columns * weight[:, None]) + ridge
        solved = np.linalg.solve(
            normal + 1e-9 * np.eye(len(normal)), columns.T @ (weight * level)
        )
        off = np.abs(level - columns @ solved)
        scale = max(float(np.median(off[given == 1])) / 0.6745, 0.3)
        weight = given / (1 + (off / (2.5 * scale)) ** 2)
    rows, across = np.mgrid[0 : grid.rows, 0 : grid.columns].astype(np.float32)
    whole = _surface(across.ravel(), rows.ravel(), grid).astype(np.float32)
    paint = (whole @ solved[:6].astype(np.float32)).reshape(raw.shape)
    bare = (whole @ solved[6:].astype(np.float32)).reshape(raw.shape)
    return paint, bare, scale


def _surface(x: NDArray[np.generic], y: NDArray[np.generic], grid: Grid) -> FloatArray:
    u = np.asarray(x, float) / grid.columns - 0.5
    v = np.asarray(y, float) / grid.rows - 0.5
    return np.column_stack([np.ones(len(u)), u, v, u * u, u * v, v * v])


def _samples(
    region: BaseGeometry, pitch_mm: float
) -> tuple[FloatArray, FloatArray, NDArray[np.intp], FloatArray]:
    """Places at even steps along all outlines: points, outward normals, ring, way along it."""
    rings = shapely.get_rings(shapely.orient_polygons(shapely.get_parts(region)))
    step = max(pitch_mm, float(shapely.length(rings).sum()) / _MOST_SAMPLES)
    points, normals, numbers, ways = [], [], [], []
    for k, ring in enumerate(rings):
        corners = shapely.get_coordinates(ring)
        sides = np.diff(corners, axis=0)
        lengths = np.hypot(*sides.T)
        sides, lengths, starts = sides[lengths > 0], lengths[lengths > 0], corners[:-1][lengths > 0]
        ends = np.cumsum(lengths)
        count = max(int(ends[-1] / step), 8)
        at = (np.arange(count) + 0.5) * ends[-1] / count
        side = np.searchsorted(ends, at)
        share = (at - (ends - lengths)[side]) / lengths[side]
        along = sides[side] / lengths[side][:, None]
        points.append(starts[side] + share[:, None] * sides[side])
        normals.append(np.column_stack([along[:, 1], -along[:, 0]]))
        numbers.append(np.full(count, k, np.intp))
        ways.append(at)
    return tuple(np.concatenate(one) for one in (points, normals, numbers, ways))  # type: ignore[return-value]


def _looked_up(picture: Grey, grid: Grid, points: FloatArray) -> FloatArray:
    """Values at (n, m, 2) points in mm, between pixels linearly."""
    import cv2

    px = grid.to_px(points.reshape(-1, 2)).astype(np.float32).reshape(points.shape)
    seen = cv2.remap(
        picture, px[..., 0], px[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(seen, float)


def _offsets(
    seen: Seen,
    points: FloatArray,
    normals: FloatArray,
    ring: NDArray[np.intp],
    along: FloatArray,
    *,
    reach: float,
    blur_mm: float,
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """How far outside its place each edge is seen, in mm, and whether there is one."""
    pitch = seen.grid.pitch_mm
    x = np.arange(-np.ceil((reach + _FAR_MM) / pitch), np.ceil((reach + _FAR_MM) / pitch) + 1)
    x = x * pitch
    places = points[:, None] + x[None, :, None] * normals[:, None]
    share = _looked_up(seen.share, seen.grid, places)
    wanted = _looked_up(seen.wanted, seen.grid, places)
    own = _own(seen, places, x, pitch)
    piece = pieces_of(ring, along)
    share = _trued(share, wanted, own & (np.abs(x) > 2.5 * blur_mm), piece)
    near = own & (np.abs(x) <= reach)
    off = ((share - wanted) * near).sum(axis=1) * pitch
    # An edge is there where what is seen goes with what is expected.
    rise = np.where(near, wanted - 0.5, 0.0)
    likeness = (rise * (np.clip(share, -0.5, 1.5) - 0.5)).sum(axis=1) / np.maximum(
        (rise**2).sum(axis=1), 1e-9
    )
    return off, (np.abs(off) < 0.8 * reach) & (likeness > 0.3) & (likeness < 1.7)


def _own(seen: Seen, places: FloatArray, x: FloatArray, pitch: float) -> NDArray[np.bool_]:
    """Which places of each profile are nearer to its own edge than to any other."""
    import cv2

    inside = np.asarray(seen.wanted > 0.5, np.uint8)
    depth = cv2.distanceTransform(inside, cv2.DIST_L2, 5) + cv2.distanceTransform(
        1 - inside, cv2.DIST_L2, 5
    )
    nearest = _looked_up(np.asarray((depth - 0.5) * pitch, np.float32), seen.grid, places)
    is_own = (nearest >= 0.95 * np.abs(x) - 1.2 * pitch) | (np.abs(x) <= 1.2 * pitch)
    middle = len(x) // 2
    right = np.logical_and.accumulate(is_own[:, middle:], axis=1)
    left = np.logical_and.accumulate(is_own[:, middle::-1], axis=1)[:, ::-1]
    return np.concatenate([left[:, :-1], right], axis=1)


def pieces_of(ring: NDArray[np.intp], along: FloatArray) -> NDArray[np.intp]:
    """A number for each mm of outline or so, counted through all outlines.

    Parameters
    ----------
    ring : (n,) ndarray of int
        Which outline, in order.
    along : (n,) ndarray
        How far along it, in mm.

    Returns
    -------
    (n,) ndarray of int
    """
    length = np.zeros(int(ring.max()) + 1)
    np.maximum.at(length, ring, along)
    count = np.maximum(np.rint(length / _PIECE_MM), 1)
    local = np.minimum(along / np.maximum(length[ring], 1e-9) * count[ring], count[ring] - 1)
    first = np.concatenate([[0], np.cumsum(count)[:-1]])
    return np.asarray(first[ring] + np.floor(local), np.intp)


def _trued(
    share: FloatArray, wanted: FloatArray, is_far: NDArray[np.bool_], piece: NDArray[np.intp]
) -> FloatArray:
    """The shares with paint at 0 and bare at 1 as seen away from the edge of each mm of outline."""
    levels = []
    for level in (0.0, 1.0):
        use = is_far & (np.abs(wanted - level) < 0.02) & (np.abs(share - level) < 0.25)
        count = np.bincount(piece, use.sum(axis=1))
        total = np.bincount(piece, ((share - level) * use).sum(axis=1))
        # What few pixels say is drawn towards what the whole piece says.
        levels.append((level + total / (count + 20.0))[piece][:, None])
    paint, bare = levels
    return (share - paint) / np.maximum(bare - paint, 0.3)


# --- least squares ----------------------------------------------------------------------------


def _frame(points: FloatArray) -> tuple[FloatArray, float]:
    low, high = points.min(axis=0), points.max(axis=0)
    return (low + high) / 2, float((high - low).max()) / 2


def _columns(points: FloatArray, normals: FloatArray) -> FloatArray:
    """What shift, stretch, turn, slant, perspective and growth each do to an edge's offset."""
    centre, size = _frame(points)
    x, y = ((points - centre) / size).T
    nx, ny = normals.T
    radial = nx * x + ny * y
    return np.column_stack(
        [nx, nx * x, nx * y, ny, ny * x, ny * y, radial * x, radial * y, np.ones(len(x))]
    )


def _solved(
    points: FloatArray, normals: FloatArray, off: FloatArray, is_good: NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Least squares with Tukey's biweight: coefficients, standard errors, weights."""
    columns = _columns(points, normals)
    weight = is_good.astype(float)
    solved = np.zeros(columns.shape[1])
    # What a few short outlines cannot tell (perspective above all) stays as it is.
    ridge = 1e-6 * max(weight.sum(), 1) * np.eye(len(solved))
    for _ in range(25):
        normal = columns.T @ (columns * weight[:, None]) + ridge
        solved = np.linalg.solve(normal, columns.T @ (weight * off))
        left = off - columns @ solved
        scale = max(_spread(left[is_good]), 1e-4)
        weight = np.where(is_good, np.clip(1 - (left / (4.685 * scale)) ** 2, 0, None) ** 2, 0.0)
    spread = float(np.sqrt((weight * left**2).sum() / max(weight.sum(), 1)))
    sd = spread * np.sqrt(np.diag(np.linalg.inv(normal)))
    return solved, sd, weight


def _correction(solved: FloatArray, centre: FloatArray, size: float) -> FloatArray:
    """The transform that takes planned places to where they are seen."""
    a = solved
    change = np.array(
        [[1 + a[1] / size, a[2] / size, a[0] / size], [a[4] / size, 1 + a[5] / size, a[3] / size]]
    )
    whole = np.vstack([change, [-a[6] / size, -a[7] / size, 1.0]])
    frame = np.array([[1 / size, 0, -centre[0] / size], [0, 1 / size, -centre[1] / size], [0, 0, 1]])
    result: FloatArray = np.linalg.inv(frame) @ whole @ frame
    return result


def _normed(matrix: FloatArray) -> FloatArray:
    result: FloatArray = matrix / matrix[2, 2]
    return result


def _spread(off: FloatArray) -> float:
    """Robust standard deviation."""
    if not len(off):
        return 0.0
    return float(np.median(np.abs(off - np.median(off)))) / 0.6745


def _mean_edge(
    seen: Seen,
    points: FloatArray,
    normals: FloatArray,
    off: FloatArray,
    use: NDArray[np.bool_],
    reach: float,
) -> tuple[FloatArray, FloatArray]:
    """The mean edge in grey levels, inside to the left, of those with room to both sides."""
    pitch = seen.grid.pitch_mm
    some = np.flatnonzero(use)
    some = some[:: max(len(some) // 4000, 1)]
    x = np.arange(-np.ceil(reach / pitch), np.ceil(reach / pitch) + 0.25, 0.5) * pitch
    places = points[some, None] + (x[None] + off[some, None])[..., None] * normals[some, None]
    own = _own(seen, points[some, None] + x[None, :, None] * normals[some, None], x, pitch)
    roomy = own.all(axis=1)
    if roomy.sum() < 20:
        return np.zeros(0), np.zeros(0)
    return x, np.median(_looked_up(seen.raw, seen.grid, places[roomy]), axis=0)


def _fitted_blur(x: FloatArray, profile: FloatArray, pitch: float, before: float) -> float:
    """Standard deviation of the blur, by the mean edge; as before where none is free to see."""
    if not len(x):
        return before
    return fit_edge(x, profile, pitch)[1]


def fit_edge(x: FloatArray, profile: FloatArray, pitch: float) -> tuple[float, float, float]:
    """Fit a blurred step: (place, standard deviation of the blur, misfit over the contrast).

    Parameters
    ----------
    x : ndarray
        Distances, outwards.
    profile : ndarray
        Levels there.
    pitch : float
        Width of a pixel, same unit as `x`.

    Returns
    -------
    (float, float, float)
    """
    from scipy.optimize import least_squares

    inner, outer = float(np.mean(profile[:3])), float(np.mean(profile[-3:]))
    share = (profile - outer) / (inner - outer if abs(inner - outer) > 1e-6 else 1.0)

    def off(chosen: FloatArray) -> FloatArray:
        shape, _ = edge_spread(chosen[0] - x, max(abs(chosen[1]), 0.3 * pitch), pitch)
        return chosen[2] + chosen[3] * shape - share

    found = least_squares(off, [0.0, pitch, 0.0, 1.0], max_nfev=80)
    place, blur, _, gain = found.x
    misfit = float(np.sqrt(np.mean(found.fun**2))) / max(abs(float(gain)), 1e-6)
    return float(place), max(abs(float(blur)), 0.3 * pitch), misfit
