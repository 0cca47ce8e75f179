"""The search for a coupon's poses as it was first written: one pair of spots after another.

It is slow and plain, and what the tests hold the reader's search against.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from stopout.scans.registering.pose import (
    _MOST_PAIRS,
    _MOST_SPOTS,
    _MOST_STRETCH,
    _PERSPECTIVE,
    _RADII,
    Pose,
    _similarity,
    _support,
    apply,
    fit_matrix,
)

__all__ = ["plain_poses"]


def plain_poses(spots, layout):
    """All distinct ways in which the marks may have become these spots, best first."""
    centres = np.array([mark.centre_mm for mark in layout.marks], float)
    radii = np.array([mark.diameter_mm for mark in layout.marks], float) / 2
    seen = {}
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


def _starts(centres, radii, xy, size):
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


def _completed(matrix, centres, radii, xy, size, is_mirrored):
    extent = float(np.hypot(*np.ptp(centres, axis=0)))
    matched = ()
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


def _nearest(matrix, centres, radii_px, xy, size, reach_px):
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


def _is_plausible(matrix, centres, is_mirrored):
    for at in (*centres, centres.mean(axis=0)):
        slope = local_scale(matrix, at)
        turned_over = np.linalg.det(slope) > 0
        if turned_over is not np.bool_(is_mirrored):
            return False
        long, short = np.linalg.svd(slope, compute_uv=False)
        if not long < _MOST_STRETCH * short:
            return False
    return True


def local_scale(matrix, at_mm):
    step = 1e-4
    around = np.asarray(at_mm, float) + step * np.array([[0, 0], [1, 0], [0, 1]])
    seen = apply(matrix, around)
    return np.column_stack([seen[1] - seen[0], seen[2] - seen[0]]) / step
