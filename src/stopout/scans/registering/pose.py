"""How a coupon may lie in a scan: its discs matched with the round spots that were found."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from stopout.coupons.layout import CouponLayout
from stopout.scans.registering.discs import Spot
from stopout.values import FloatArray

_MOST_SPOTS = 36
_MOST_PAIRS = 5
# How far a disc may lie from where two others and no perspective would have it.
_PERSPECTIVE = 0.10
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


def local_scale(matrix: FloatArray, at_mm: FloatArray) -> FloatArray:
    """(2, 2) derivative of a homography at one point: px for each mm along x and y."""
    step = 1e-4
    around = np.asarray(at_mm, float) + step * np.array([[0, 0], [1, 0], [0, 1]])
    seen = apply(matrix, around)
    result: FloatArray = np.column_stack([seen[1] - seen[0], seen[2] - seen[0]]) / step
    return result


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
        xy = np.array([(spot.x_px, spot.y_px) for spot in chosen])
        size = np.array([spot.radius_px for spot in chosen])
        for matrix, is_mirrored in _starts(centres, radii, xy, size):
            pose = _completed(matrix, centres, radii, xy, size, is_mirrored)
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
    if not seen:
        return []
    most = max(pose.count for pose in seen.values())
    least = most if most <= 3 else most - 1
    best = [pose for pose in seen.values() if pose.count >= least]
    return sorted(best, key=lambda pose: (-pose.count, -_support(pose), pose.misfit))


def _support(pose: Pose) -> float:
    """How distinct the spots are, on average: dirt stands out at few levels of brightness."""
    supports = [spot.support for spot in pose.found if spot is not None]
    return round(sum(supports) / len(supports))


def _starts(
    centres: FloatArray, radii: FloatArray, xy: FloatArray, size: FloatArray
) -> Iterator[tuple[FloatArray, bool]]:
    """Similarities from pairs of marks far apart to pairs of spots of the right sizes."""
    pairs = sorted(
        combinations(range(len(centres)), 2),
        key=lambda pair: -float(np.hypot(*(centres[pair[0]] - centres[pair[1]]))),
    )
    apart_px = np.hypot(*(xy[:, None] - xy[None, :]).transpose(2, 0, 1))
    for i, j in pairs[:_MOST_PAIRS]:
        scale = apart_px / float(np.hypot(*(centres[i] - centres[j])))
        with np.errstate(divide="ignore", invalid="ignore"):
            grown_i = size[:, None] / (scale * radii[i])
            grown_j = size[None, :] / (scale * radii[j])
        fits = np.ones_like(scale, bool)
        for grown in (grown_i, grown_j):
            fits &= (grown > _RADII[0]) & (grown < _RADII[1])
        np.fill_diagonal(fits, False)
        for a, b in np.argwhere(fits):
            for is_mirrored in (False, True):
                two = _similarity(centres[[i, j]], xy[[a, b]], is_mirrored=is_mirrored)
                yield two, is_mirrored


def _completed(
    matrix: FloatArray,
    centres: FloatArray,
    radii: FloatArray,
    xy: FloatArray,
    size: FloatArray,
    is_mirrored: bool,
) -> tuple[tuple[int, ...], FloatArray, float] | None:
    """Match the other marks, fit again, and judge: (spot of each mark or -1, matrix, misfit)."""
    extent = float(np.hypot(*np.ptp(centres, axis=0)))
    matched: tuple[int, ...] = ()
    for reach in (_PERSPECTIVE, 0.03):
        px_per_mm = float(np.sqrt(abs(np.linalg.det(local_scale(matrix, centres.mean(axis=0))))))
        if not np.isfinite(px_per_mm) or px_per_mm <= 0:
            return None
        matched = _nearest(matrix, centres, radii * px_per_mm, xy, size, reach * extent * px_per_mm)
        kept = [k for k, spot in enumerate(matched) if spot >= 0]
        if len(kept) < 2:
            return None
        matrix = fit_matrix(centres[kept], xy[[matched[k] for k in kept]], is_mirrored=is_mirrored)
    seen = apply(matrix, centres[kept])
    off = np.hypot(*(seen - xy[[matched[k] for k in kept]]).T)
    misfit = float(np.sqrt(np.mean(off**2))) / (extent * px_per_mm)
    if misfit > 0.01 or not _is_plausible(matrix, centres, is_mirrored):
        return None
    return matched, matrix, misfit


def _nearest(
    matrix: FloatArray,
    centres: FloatArray,
    radii_px: FloatArray,
    xy: FloatArray,
    size: FloatArray,
    reach_px: float,
) -> tuple[int, ...]:
    apart = np.hypot(*(apply(matrix, centres)[:, None] - xy[None]).transpose(2, 0, 1))
    grown = size[None, :] / radii_px[:, None]
    apart = np.where((grown > _RADII[0]) & (grown < _RADII[1]), apart, np.inf)
    best = apart.argmin(axis=1)
    found = [int(k) if apart[mark, k] <= reach_px else -1 for mark, k in enumerate(best)]
    # Two marks cannot share a spot: the nearer one has it.
    for mark, k in enumerate(found):
        rivals = [m for m, other in enumerate(found) if other == k and k >= 0]
        if len(rivals) > 1 and mark != min(rivals, key=lambda m: apart[m, k]):
            found[mark] = -1
    return tuple(found)


def _is_plausible(matrix: FloatArray, centres: FloatArray, is_mirrored: bool) -> bool:
    """A view that a scanner or a hand-held camera can have: little stretched, never folded."""
    for at in (*centres, centres.mean(axis=0)):
        slope = local_scale(matrix, at)
        turned_over = np.linalg.det(slope) > 0
        if turned_over is not np.bool_(is_mirrored):
            return False
        long, short = np.linalg.svd(slope, compute_uv=False)
        if not long < _MOST_STRETCH * short:
            return False
    return True
