"""How a coupon may lie in a scan: its discs matched with the round spots that were found."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from stopout.coupons.layout import CouponLayout
from stopout.scans.registering.discs import Spot
from stopout.values import FloatArray, Grey

_MOST_SPOTS = 36
_MOST_PAIRS = 5
# How far a disc may lie from where two others and no perspective would have it.
_PERSPECTIVE = 0.10
# The same where a fit to all of them has it.
_CLOSE = 0.03
# A disc grows by the mark's width, the undercut or a threshold badly chosen.
_RADII = (0.65, 1.7)
_MOST_STRETCH = 1.5
# Twice a triangle's area over the square of the extent, below which its corners count as a line.
_LEAST_TRIANGLE = 0.03


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pose:
    """One way in which the coupon may lie.

    `matrix` takes coupon mm (homogeneous, y up) to px; `found` names the spot of each mark, None
    where it is missing; `misfit` is the root mean square distance as a share of the coupon's size.
    """

    matrix: FloatArray
    found: tuple[Spot | None, ...]
    is_mirrored: bool
    is_bright: bool
    misfit: float

    @property
    def count(self) -> int:
        """How many marks have been found."""
        return sum(spot is not None for spot in self.found)


def apply(matrix: FloatArray, points: FloatArray) -> FloatArray:
    """(n, 2) points through a homography."""
    seen = np.asarray(points, float) @ matrix[:2, :2].T + matrix[:2, 2]
    depth = np.asarray(points, float) @ matrix[2, :2] + matrix[2, 2]
    result: FloatArray = seen / depth[:, None]
    return result


def sampled(grey: Grey, px: FloatArray | Grey, *, is_cubic: bool = False) -> Grey:
    """Levels at places (n, m, 2) in px; beyond the picture those of its rim."""
    import cv2

    x, y = np.moveaxis(np.asarray(px, np.float32), -1, 0)
    how = cv2.INTER_CUBIC if is_cubic else cv2.INTER_LINEAR
    return np.asarray(cv2.remap(grey, x, y, how, borderMode=cv2.BORDER_REPLICATE), np.float32)


def local_scale(matrix: FloatArray, at_mm: FloatArray) -> FloatArray:
    """Derivative of a homography at points (..., 2): (..., 2, 2), px for each mm along x and y."""
    at = np.asarray(at_mm, float)
    depth = (at @ matrix[2, :2] + matrix[2, 2])[..., None, None]
    seen = (at @ matrix[:2, :2].T + matrix[:2, 2])[..., None] / depth
    result: FloatArray = (matrix[:2, :2] - seen * matrix[2, :2]) / depth
    return result


@dataclass(frozen=True, slots=True, kw_only=True)
class Lying:
    """How a thing lies in its view, at the middle of a box (x0, y0, x1, y1) in mm.

    Attributes
    ----------
    px_per_mm : float
        Scale there.
    stretch : float
        How much longer 1 mm is one way than across it, as a share.
    rotation_deg : float
        How far its y axis is turned from the scan's upward direction, anticlockwise.
    slant : float
        How much nearer one half is than the middle, as a share; 0 without perspective.
    """

    px_per_mm: float
    stretch: float
    rotation_deg: float
    slant: float


def lying(matrix: FloatArray, box_mm: tuple[float, float, float, float]) -> Lying:
    """Scale, stretch, turn and slant of a homography at the middle of a box."""
    x0, y0, x1, y1 = box_mm
    middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
    slope = local_scale(matrix, middle)
    long, short = np.linalg.svd(slope, compute_uv=False)
    depth = matrix[2, :2] @ middle + matrix[2, 2]
    return Lying(
        px_per_mm=float(np.sqrt(abs(np.linalg.det(slope)))),
        stretch=float(long / short - 1),
        rotation_deg=float(np.degrees(np.arctan2(-slope[0, 1], -slope[1, 1]))),
        slant=float(np.abs(matrix[2, :2] / depth) @ np.array([x1 - x0, y1 - y0])) / 2,
    )


def disc_centre(matrix: FloatArray, centre_mm: tuple[float, float], radius_mm: float) -> FloatArray:
    """Centre of the ellipse as which a disc is seen; with perspective not the seen centre.

    Notes
    -----
    A conic C seen through H is H^-T C H^-1, and the centre of a conic is the pole of the line at
    infinity (Hartley and Zisserman, Multiple View Geometry, 2nd ed., sections 2.2 and 2.3; from
    memory).
    """
    x, y = centre_mm
    shape = np.array([[1, 0, -x], [0, 1, -y], [-x, -y, x * x + y * y - radius_mm**2]], float)
    back = np.linalg.inv(matrix)
    seen = back.T @ shape @ back
    result: FloatArray = np.linalg.solve(seen[:2, :2], -seen[:2, 2])
    return result


def fit_matrix(points_mm: FloatArray, points_px: FloatArray, *, is_mirrored: bool) -> FloatArray:
    """The transform that fits matched points best.

    Parameters
    ----------
    points_mm, points_px : (n, 2) ndarray
        Two points or more.
    is_mirrored : bool
        Counts where only two points are given.

    Returns
    -------
    (3, 3) ndarray
        A similarity from two points, affine from three or where too many lie on one line, else a
        homography.
    """
    import cv2

    count = len(points_mm)
    if _carry_perspective(points_mm):
        matrix, _ = cv2.findHomography(points_mm, points_px, 0)
        if matrix is not None and np.isfinite(matrix).all():
            return np.asarray(matrix, float)
    matrix = np.eye(3)
    if count >= 3:
        ones = np.column_stack([points_mm, np.ones(count)])
        solved, *_ = np.linalg.lstsq(ones, points_px, rcond=None)
        matrix[:2] = solved.T
        return matrix
    return _similarity(points_mm, points_px, is_mirrored=is_mirrored)


def _carry_perspective(points: FloatArray) -> bool:
    """True where four of the points are there of which no three lie nearly on a line."""
    extent = float(np.hypot(*np.ptp(points, axis=0)))
    for four in combinations(range(len(points)), 4):
        areas = []
        for i, j, k in combinations(four, 3):
            (ax, ay), (bx, by) = points[j] - points[i], points[k] - points[i]
            areas.append(abs(float(ax * by - ay * bx)))
        if min(areas) > _LEAST_TRIANGLE * extent**2:
            return True
    return False


def _similarity(mm: FloatArray, px: FloatArray, *, is_mirrored: bool) -> FloatArray:
    """Turn, size and shift that take two points to two points; y turns over unless mirrored."""
    a, b = mm[:, 0] + 1j * mm[:, 1], px[:, 0] + 1j * px[:, 1]
    # Seen from its worked face, a coupon with y up lies in an image with y down: one reflection.
    if not is_mirrored:
        a = a.conj()
    factor = (b[1] - b[0]) / (a[1] - a[0])
    shift = b[0] - factor * a[0]
    re, im = factor.real, factor.imag
    sign = 1.0 if is_mirrored else -1.0
    return np.array([[re, -im * sign, shift.real], [im, re * sign, shift.imag], [0.0, 0.0, 1.0]])


def possible_poses(spots: list[Spot], layout: CouponLayout) -> list[Pose]:
    """All distinct ways in which the coupon's marks may have become these spots.

    Parameters
    ----------
    spots : list of Spot
        Round spots, the most distinct first.
    layout : CouponLayout

    Returns
    -------
    list of Pose
        Those with the most marks found first, then with one fewer (a spot may be dirt in a disc's
        place), the most distinct and best fitting first; maybe empty.
    """
    centres = np.array([mark.centre_mm for mark in layout.marks], float)
    radii = np.array([mark.diameter_mm for mark in layout.marks], float) / 2
    seen: dict[tuple[object, ...], Pose] = {}
    for is_bright in (True, False):
        chosen = [spot for spot in spots if spot.is_bright is is_bright][:_MOST_SPOTS]
        if len(chosen) < 2:
            continue
        sides = _Sides(
            centres,
            radii,
            np.array([(spot.x_px, spot.y_px) for spot in chosen]),
            np.array([spot.radius_px for spot in chosen]),
        )
        for first, is_mirrored in _first_matches(sides):
            pose = _completed(first, sides, is_mirrored)
            if pose is None:
                continue
            matched, matrix, misfit = pose
            key = (is_bright, is_mirrored, *matched)
            if key not in seen:
                seen[key] = Pose(
                    matrix=matrix,
                    found=tuple(None if k < 0 else chosen[k] for k in matched),
                    is_mirrored=is_mirrored,
                    is_bright=is_bright,
                    misfit=misfit,
                )
    # Most match few marks and need not be looked at: a plausible one with more is there.
    best: list[Pose] = []
    for one in sorted(seen.values(), key=lambda one: -one.count):
        most = best[0].count if best else one.count
        if one.count < (most if most <= 3 else most - 1):
            break
        if _is_plausible(one.matrix, centres, one.is_mirrored):
            best.append(one)
    return sorted(best, key=lambda pose: (-pose.count, -_support(pose), pose.misfit))


def _support(pose: Pose) -> float:
    """How distinct the spots are, on average: dirt stands out at few levels of brightness."""
    supports = [spot.support for spot in pose.found if spot is not None]
    return round(sum(supports) / len(supports))


class _Sides(NamedTuple):
    """What is matched: the marks' centres and radii in mm, the spots' in px."""

    centres: FloatArray
    radii: FloatArray
    xy: FloatArray
    size: FloatArray

    @property
    def extent_mm(self) -> float:
        return float(np.hypot(*np.ptp(self.centres, axis=0)))

    def fitted(self, matched: tuple[int, ...], is_mirrored: bool) -> FloatArray | None:
        """The transform that fits a match, with the spot of each mark or -1; None for too few."""
        kept = [k for k, spot in enumerate(matched) if spot >= 0]
        if len(kept) < 2:
            return None
        spots = self.xy[[matched[k] for k in kept]]
        return fit_matrix(self.centres[kept], spots, is_mirrored=is_mirrored)


def _first_matches(sides: _Sides) -> dict[tuple[tuple[int, ...], bool], None]:
    """What the marks become when two far apart become two spots of the right sizes, told once.

    Returns
    -------
    dict of ((int, ...), bool)
        As keys, in the order in which they come: the spot of each mark or -1, and whether the
        coupon is turned over. Thousands of pairs of spots come down to a few of them.
    """
    centres, radii, xy, size = sides
    pairs = sorted(
        combinations(range(len(centres)), 2),
        key=lambda pair: -float(np.hypot(*(centres[pair[0]] - centres[pair[1]]))),
    )
    apart_px = np.hypot(*(xy[:, None] - xy[None, :]).transpose(2, 0, 1))
    found: dict[tuple[tuple[int, ...], bool], None] = {}
    for i, j in pairs[:_MOST_PAIRS]:
        scale = apart_px / float(np.hypot(*(centres[i] - centres[j])))
        with np.errstate(divide="ignore", invalid="ignore"):
            fits = _is_as_large(size[:, None], scale * radii[i])
            fits &= _is_as_large(size[None, :], scale * radii[j])
        np.fill_diagonal(fits, False)
        ends = np.argwhere(fits)
        both = [
            _matches_of_pairs(sides, (i, j), ends, is_mirrored=is_mirrored)
            for is_mirrored in (False, True)
        ]
        for plain, turned in zip(*both, strict=True):
            found[plain, False] = None
            found[turned, True] = None
    return found


def _is_as_large(size: FloatArray, wanted: FloatArray) -> NDArray[np.bool_]:
    grown = size / wanted
    fits: NDArray[np.bool_] = (grown > _RADII[0]) & (grown < _RADII[1])
    return fits


def _matches_of_pairs(
    sides: _Sides, marks: tuple[int, int], ends: NDArray[np.intp], *, is_mirrored: bool
) -> list[tuple[int, ...]]:
    """The spots of all marks under each similarity that takes two marks to two spots."""
    centres, radii, xy, size = sides
    c, spots = centres[:, 0] + 1j * centres[:, 1], xy[:, 0] + 1j * xy[:, 1]
    # As in `_similarity`.
    c = c if is_mirrored else c.conj()
    first, second = spots[ends].T
    factor = (second - first) / (c[marks[1]] - c[marks[0]])
    seen = factor[:, None] * (c - c[marks[0]]) + first[:, None]
    px_per_mm = np.abs(factor)
    apart = np.abs(seen[:, :, None] - spots)
    fits = _is_as_large(size, px_per_mm[:, None, None] * radii[:, None])
    reach = _PERSPECTIVE * sides.extent_mm * px_per_mm
    return _taken(np.where(fits, apart, np.inf), reach)


def _completed(
    matched: tuple[int, ...], sides: _Sides, is_mirrored: bool
) -> tuple[tuple[int, ...], FloatArray, float] | None:
    """Fit to a first match, match again, and judge: (spot of each mark or -1, matrix, misfit)."""
    (centres, radii, xy, size), extent = sides, sides.extent_mm
    matrix = sides.fitted(matched, is_mirrored)
    if matrix is None:
        return None
    px_per_mm = float(np.sqrt(abs(np.linalg.det(local_scale(matrix, centres.mean(axis=0))))))
    if not np.isfinite(px_per_mm) or px_per_mm <= 0:
        return None
    apart = np.hypot(*(apply(matrix, centres)[:, None] - xy[None]).transpose(2, 0, 1))
    apart = np.where(_is_as_large(size, px_per_mm * radii[:, None]), apart, np.inf)
    (matched,) = _taken(apart[None], np.array([_CLOSE * extent * px_per_mm]))
    matrix = sides.fitted(matched, is_mirrored)
    if matrix is None:
        return None
    kept = [k for k, spot in enumerate(matched) if spot >= 0]
    off = np.hypot(*(apply(matrix, centres[kept]) - xy[[matched[k] for k in kept]]).T)
    misfit = float(np.sqrt(np.mean(off**2))) / (extent * px_per_mm)
    return None if misfit > 0.01 else (matched, matrix, misfit)


def _taken(apart: FloatArray, reach_px: FloatArray) -> list[tuple[int, ...]]:
    """The nearest spot within reach of each mark or -1, for each of (n, marks, spots) distances."""
    best = apart.argmin(axis=2)
    nearest = np.take_along_axis(apart, best[:, :, None], axis=2)[:, :, 0]
    found = np.where(nearest <= reach_px[:, None], best, -1)
    # Two marks cannot share a spot: the nearer one has it.
    is_shared = (found[:, :, None] == found[:, None, :]) & (found >= 0)[:, :, None]
    rank = np.arange(found.shape[1])
    is_nearer = nearest[:, None, :] < nearest[:, :, None]
    is_nearer |= (nearest[:, None, :] == nearest[:, :, None]) & (rank < rank[:, None])
    found[(is_shared & is_nearer).any(axis=2)] = -1
    return [tuple(row) for row in found.tolist()]


def _is_plausible(matrix: FloatArray, centres: FloatArray, is_mirrored: bool) -> bool:
    """A view that a scanner or a hand-held camera can have: little stretched, never folded."""
    at = np.vstack([centres, centres.mean(axis=0)])
    slopes = local_scale(matrix, at)
    if not np.isfinite(slopes).all() or ((np.linalg.det(slopes) > 0) != is_mirrored).any():
        return False
    long, short = np.linalg.svd(slopes, compute_uv=False).T
    return bool((long < _MOST_STRETCH * short).all())
