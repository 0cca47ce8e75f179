"""A piece's edges in a scan: laid over the plan by least squares, and how far each stands off.

An edge's offset is the integral, across the edge, of what is seen less what is expected. Blur that
is even to both sides changes no such integral, so that it holds for strokes narrower than the blur
too, if both their edges moved alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.errors import CouponError
from stopout.scans.inspecting.profile import edge_sites, fit_edge, mean_edge
from stopout.scans.inspecting.seen import Seen, looked_up, own_places, see
from stopout.scans.registering.pose import lying
from stopout.values import FloatArray, Grey

# Pictures are looked up at fewer than 2^15 places a side.
_MOST_SAMPLES = 30_000
# Widths of the strips beside the edges that are looked at, one fit after the other.
_REACHES_MM = (0.5, 0.25, 0.15)
_FAR_MM = 0.1
_LEAST_FOUND = 0.5
# A single edge place wanders with its neighbours over about this length (our own choice).
_TOGETHER_MM = 0.3
_PIECE_MM = 1.0


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
    scale_sd, slant_sd : float
        Standard errors of the scale, as a share, and of how much nearer the rim is than the middle.
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
    sites_mm : (k, m, 2) ndarray
        Places across edges that stand free, in the frame before the last correction.
    profile_mm, profile : (m,) ndarray
        The mean edge there in grey levels, by distance outwards.
    """

    matrix: FloatArray
    growth_mm: float
    growth_sd_mm: float
    scale_sd: float
    slant_sd: float
    blur_mm: float
    points_mm: FloatArray
    normals: FloatArray
    offset_mm: FloatArray
    is_good: NDArray[np.bool_]
    ring: NDArray[np.intp]
    along_mm: FloatArray
    sites_mm: FloatArray
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

    Raises
    ------
    CouponError
        Where the edges are not found.
    """
    px = 1 / lying(matrix, face.bounds).px_per_mm
    steps = [(_REACHES_MM[-1], px)] * 2
    if blur_mm is None:
        steps = [*((reach, max(px, 0.04)) for reach in _REACHES_MM), *steps]
    at = _At(matrix, growth_mm, px if blur_mm is None else blur_mm)
    for reach, pitch in steps:
        fit = _step(grey, opening, face, at, reach, pitch_mm=pitch)
        at = _At(fit.matrix, fit.growth_mm, fit.blur_mm)
    return fit


class _At(NamedTuple):
    """Where a step begins: as in `Edges`."""

    matrix: FloatArray
    growth_mm: float
    blur_mm: float


# --- one step ---------------------------------------------------------------------------------


def _step(
    grey: Grey,
    opening: BaseGeometry,
    face: BaseGeometry,
    at: _At,
    reach_mm: float,
    *,
    pitch_mm: float,
) -> Edges:
    blur = max(at.blur_mm, 0.7 * pitch_mm)
    seen = see(
        grey,
        opening,
        face,
        matrix=at.matrix,
        growth_mm=at.growth_mm,
        blur_mm=blur,
        pitch_mm=pitch_mm,
    )
    grown = opening.buffer(at.growth_mm, quad_segs=12) if at.growth_mm else opening
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
    distance, sites = edge_sites(
        seen, points, normals, left, weight > 0.3, max(3.2 * blur, 4 * pitch_mm)
    )
    profile = mean_edge(grey, at.matrix, sites)
    return Edges(
        matrix=_normed(at.matrix @ change),
        growth_mm=at.growth_mm + float(solved[-1]),
        growth_sd_mm=float(sd[-1] * together),
        scale_sd=float(together * np.hypot(sd[1], sd[5]) / 2 / size),
        slant_sd=float(together * (sd[6] + sd[7]) / size),
        blur_mm=_fitted_blur(distance, profile, pitch_mm, blur),
        points_mm=points,
        normals=normals,
        offset_mm=left,
        is_good=is_good,
        ring=ring,
        along_mm=along,
        sites_mm=sites,
        profile_mm=distance,
        profile=profile,
    )


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
    share = looked_up(seen.share, seen.grid, places)
    wanted = looked_up(seen.wanted, seen.grid, places)
    own = own_places(seen, places, x, pitch)
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
    trued: FloatArray = (share - paint) / np.maximum(bare - paint, 0.3)
    return trued


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
        # By the nearer third: a third of all strokes may be too wide and still not count.
        scale = max(float(np.quantile(np.abs(left[is_good]), 0.3)) / 0.3853, 1e-4)
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
    frame = np.array(
        [[1 / size, 0, -centre[0] / size], [0, 1 / size, -centre[1] / size], [0, 0, 1]]
    )
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


def _fitted_blur(x: FloatArray, profile: FloatArray, pitch: float, before: float) -> float:
    """Standard deviation of the blur, by the mean edge; as before where none is free to see."""
    if not len(x):
        return before
    return fit_edge(x, profile, pitch)[1]
