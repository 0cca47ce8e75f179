"""Finds round spots in a scan, and takes their centres and the blur of their edges.

Pixel (row, col) has its centre at x = col, y = row, x right and y down, in px.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stopout.values import FloatArray, Grey

_LONGEST_PX = 2200
_LEVELS = 15
_LEAST_RADIUS_PX = 3.5
_MOST_SPOTS = 90
_RAYS = 128
# Bounds of the optics' own blur, and where its search begins.
_LEAST_BLUR_PX, _MOST_BLUR_PX = 0.12, 30.0
_BLUR_STARTS_PX = (0.3, 0.8, 3.0)
_MOST_EDGE_PIXELS = 6000


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A round spot as first found: centre and mean radius in px, brighter or darker than around.

    `support` counts the brightness levels at which it stands out.
    """

    x_px: float
    y_px: float
    radius_px: float
    is_bright: bool
    support: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Disc:
    """A disc whose edge has been followed.

    `radii_px` holds the mean radius and the amplitudes of cos 2t and sin 2t; `inside`,
    `outside` are grey levels.
    """

    x_px: float
    y_px: float
    radii_px: tuple[float, float, float]
    inside: float
    outside: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Blur:
    """Gaussian blur as variances in px^2: mean, and its change with cos 2t and sin 2t.

    `is_at_floor` is true where the edges are as steep as pixels can be: no optics draw so.
    """

    mean_px2: float
    cos_px2: float = 0.0
    sin_px2: float = 0.0
    misfit: float = 0.0
    is_at_floor: bool = False

    def sigma_px(self, x: float, y: float) -> float:
        """Standard deviation of the blur along the direction (x, y)."""
        angle = 2 * np.arctan2(y, x)
        variance = self.mean_px2 + self.cos_px2 * np.cos(angle) + self.sin_px2 * np.sin(angle)
        return float(np.sqrt(max(variance, 0.01)))


def find_spots(grey: Grey) -> list[Spot]:
    """Round spots of either brightness, the most distinct first.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
        The scan.

    Returns
    -------
    list of Spot
        At most ninety of each brightness.
    """
    import cv2

    shrink = max(max(grey.shape) / _LONGEST_PX, 1.0)
    small = grey
    if shrink > 1:
        size = (round(grey.shape[1] / shrink), round(grey.shape[0] / shrink))
        small = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), np.float32)
    small = np.asarray(cv2.GaussianBlur(small, (0, 0), 1.0), np.float32)
    low, high = np.percentile(small[::4, ::4], [0.5, 99.5])
    found: list[tuple[float, Spot]] = []
    for level in np.linspace(low, high, _LEVELS + 2)[1:-1]:
        found += _round_contours(small > level)
    scale_x, scale_y = grey.shape[1] / small.shape[1], grey.shape[0] / small.shape[0]
    return [
        replace(
            spot,
            x_px=(spot.x_px + 0.5) * scale_x - 0.5,
            y_px=(spot.y_px + 0.5) * scale_y - 0.5,
            radius_px=spot.radius_px * (scale_x + scale_y) / 2,
        )
        for spot in _merged(found)
    ]


def _round_contours(mask: NDArray[np.bool_]) -> list[tuple[float, Spot]]:
    """(how far from an ellipse, spot) of each round outline of a mask, holes included."""
    import cv2

    contours, hierarchy = cv2.findContours(
        mask.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE
    )
    found = []
    for contour, (_, _, _, parent) in zip(
        contours, hierarchy[0] if hierarchy is not None else [], strict=True
    ):
        count = len(contour)
        if count < 5 * _LEAST_RADIUS_PX or count > mask.size**0.5:
            continue
        area = cv2.contourArea(contour)
        if area < 0.7 * count**2 / (4 * np.pi):
            continue
        (x, y), (a, b), angle = cv2.fitEllipse(contour)
        if min(a, b) < 2 * _LEAST_RADIUS_PX - 1 or max(a, b) > 1.7 * min(a, b):
            continue
        off = _off_ellipse(contour[:, 0, :].astype(float), (x, y), (a, b), angle)
        radius = float(np.sqrt(a * b)) / 2
        if off * radius > 0.35 + 0.035 * radius:
            continue
        is_bright = bool(parent < 0)
        # An outline runs through the outermost pixels of what is bright.
        radius += 0.5 if is_bright else -0.5
        found.append((off, Spot(x_px=x, y_px=y, radius_px=radius, is_bright=is_bright, support=1)))
    return found


def _off_ellipse(
    points: FloatArray, centre: tuple[float, float], axes: tuple[float, float], angle_deg: float
) -> float:
    """Root mean square distance of points from an ellipse, as a share of its radius."""
    turn = np.radians(angle_deg)
    x, y = (points - centre).T
    u = (x * np.cos(turn) + y * np.sin(turn)) / (axes[0] / 2)
    v = (-x * np.sin(turn) + y * np.cos(turn)) / (axes[1] / 2)
    return float(np.sqrt(np.mean((np.hypot(u, v) - 1) ** 2)))


def _merged(found: list[tuple[float, Spot]]) -> list[Spot]:
    """One spot of those that lie on each other; the roundest speaks for them."""
    groups: list[list[tuple[float, Spot]]] = []
    for off, spot in sorted(found, key=lambda item: item[0]):
        for group in groups:
            first = group[0][1]
            apart = np.hypot(spot.x_px - first.x_px, spot.y_px - first.y_px)
            is_same = spot.is_bright == first.is_bright and apart < 0.35 * first.radius_px
            if is_same and 0.7 < spot.radius_px / first.radius_px < 1.4:
                group.append((off, spot))
                break
        else:
            groups.append([(off, spot)])
    groups.sort(key=lambda group: (-len(group), group[0][0]))
    spots = []
    for is_bright in (True, False):
        kept = [group for group in groups if group[0][1].is_bright is is_bright][:_MOST_SPOTS]
        for group in kept:
            middle = sorted(spot.radius_px for _, spot in group)[len(group) // 2]
            spots.append(replace(group[0][1], radius_px=middle, support=len(group)))
    return spots


# --- the edge ---------------------------------------------------------------------------------


def refine_disc(grey: Grey, x_px: float, y_px: float, radius_px: float) -> Disc | None:
    """Follow a disc's edge along rays, and take its centre from an ellipse through it.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
        The scan.
    x_px, y_px, radius_px : float
        Where it is and how large, to a fifth of the radius.

    Returns
    -------
    Disc or None
        None where no disc stands out, or where it lies on the scan's edge.

    Notes
    -----
    On each ray the edge lies where a step of the same inner and outer level would have the same
    integral; a symmetric blur does not move it.
    """
    x, y, radii = x_px, y_px, (radius_px, 0.0, 0.0)
    disc: Disc | None = None
    for _ in range(4):
        reach = 1.4 * (radii[0] + np.hypot(radii[1], radii[2])) + 3
        if not (reach <= x < grey.shape[1] - reach and reach <= y < grey.shape[0] - reach):
            return None
        disc = _followed(grey, x, y, radii)
        if disc is None:
            return None
        x, y, radii = disc.x_px, disc.y_px, disc.radii_px
    return disc


def _followed(grey: Grey, x: float, y: float, radii: tuple[float, float, float]) -> Disc | None:
    import cv2

    turn = np.arange(_RAYS) * (2 * np.pi / _RAYS)
    edge = radii[0] + radii[1] * np.cos(2 * turn) + radii[2] * np.sin(2 * turn)
    margin = max(0.35 * radii[0], 3.0)
    step = 0.25
    offsets = np.arange(-margin, margin + step / 2, step)
    rings = edge[:, None] + offsets[None, :]
    profile = cv2.remap(
        grey,
        (x + rings * np.cos(turn)[:, None]).astype(np.float32),
        (y + rings * np.sin(turn)[:, None]).astype(np.float32),
        cv2.INTER_LINEAR,
    ).astype(float)
    tail = max(len(offsets) // 5, 3)
    inner = np.median(profile[:, :tail], axis=1)
    outer = np.median(profile[:, -tail:], axis=1)
    inside, outside = float(np.median(inner)), float(np.median(outer))
    contrast = inside - outside
    if abs(contrast) < 4:
        return None
    share = (profile - outer[:, None]) / np.where(inner == outer, 1e-9, inner - outer)[:, None]
    found = edge + offsets[0] + share.sum(axis=1) * step - step / 2
    # Rays that cross dust, a scratch or another shape have another inner or outer level.
    kept = (np.abs(inner - inside) < 0.35 * abs(contrast)) & (
        np.abs(outer - outside) < 0.35 * abs(contrast)
    )
    waves = np.column_stack(
        [np.ones(_RAYS), np.cos(2 * turn), np.sin(2 * turn), np.cos(turn), np.sin(turn)]
    )
    for _ in range(4):
        if kept.sum() < _RAYS // 2:
            return None
        solved, *_ = np.linalg.lstsq(waves[kept], found[kept], rcond=None)
        off = found - waves @ solved
        spread = 1.4826 * float(np.median(np.abs(off[kept]))) + 1e-6
        kept = np.abs(off) < 4 * spread
    if not 0.6 < solved[0] / radii[0] < 1.6:
        return None
    return Disc(
        x_px=float(x + solved[3]),
        y_px=float(y + solved[4]),
        radii_px=(float(solved[0]), float(solved[1]), float(solved[2])),
        inside=inside,
        outside=outside,
    )


def edge_spread(x: FloatArray, spread: float, pixel: float) -> tuple[FloatArray, FloatArray]:
    """An edge at 0 as it is seen: from 0 to 1, and its slope.

    Parameters
    ----------
    x : ndarray
        Distance from the edge.
    spread : float
        Standard deviation of the whole blur, the pixels' own included, same unit.
    pixel : float
        Width of a pixel, same unit.

    Returns
    -------
    (ndarray, ndarray)

    Notes
    -----
    A Gaussian averaged over a pixel: [J(x + p/2) - J(x - p/2)] / p with J(x) = x Phi(x/g) +
    g phi(x/g), g^2 = spread^2 - p^2/12. Along a slant a pixel's shadow is a trapezoid of the same
    variance, for which the box serves.
    """
    from scipy.special import ndtr

    g = float(np.sqrt(max(spread**2 - pixel**2 / 12, (0.12 * pixel) ** 2)))
    right, left = (x + pixel / 2) / g, (x - pixel / 2) / g
    to_right, to_left = ndtr(right), ndtr(left)
    bell = np.exp(-0.5 * right**2) - np.exp(-0.5 * left**2)
    value = g * (right * to_right - left * to_left + bell / np.sqrt(2 * np.pi)) / pixel
    return value, (to_right - to_left) / pixel


def fit_blur(grey: Grey, discs: list[Disc]) -> Blur:
    """The blur that the discs' edges show, along each direction.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
        The scan.
    discs : list of Disc
        At least one.

    Returns
    -------
    Blur
        Variances in px^2, the pixels' own width included; `misfit` is the root mean square
        difference from a Gaussian edge, as a share of the contrast.
    """
    from scipy.optimize import least_squares

    parts = [edge_pixels(grey, disc) for disc in discs]
    off, angle, share = (np.concatenate(column) for column in zip(*parts, strict=True))
    some = slice(None, None, max(len(off) // _MOST_EDGE_PIXELS, 1))
    off, angle, share = off[some], angle[some], share[some]
    cos2, sin2 = np.cos(2 * angle), np.sin(2 * angle)
    floor = 2 * np.log(_LEAST_BLUR_PX)
    # Far from the right width a single start ends where no pixel says which way to go.
    tries = [
        least_squares(
            lambda chosen: _edge_share(chosen, off, cos2, sin2) - share,
            [2 * np.log(start), 0.0, 0.0, 0.0],
            lambda chosen: _edge_slopes(chosen, off, cos2, sin2),
            bounds=([floor, -0.5, -0.5, -3.0], [2 * np.log(_MOST_BLUR_PX), 0.5, 0.5, 3.0]),
            loss="soft_l1",
            f_scale=0.1,
            max_nfev=60,
        )
        for start in _BLUR_STARTS_PX
    ]
    best = min(tries, key=lambda one: float(one.cost)).x
    optical = float(np.exp(best[0]))
    return Blur(
        mean_px2=optical + 1 / 12,
        cos_px2=optical * float(best[1]),
        sin_px2=optical * float(best[2]),
        misfit=_misfit(off, share - _edge_share(best, off, cos2, sin2)),
        is_at_floor=bool(best[0] < floor + 0.05),
    )


def _edge_share(
    chosen: FloatArray, off: FloatArray, cos2: FloatArray, sin2: FloatArray
) -> FloatArray:
    """How cleared a pixel is at a distance from the edge: a Gaussian averaged over the pixel."""
    from scipy.special import ndtr

    g = np.sqrt(np.exp(chosen[0]) * (1 + chosen[1] * cos2 + chosen[2] * sin2) + 1e-6)
    right, left = (chosen[3] - off + 0.5) / g, (chosen[3] - off - 0.5) / g
    bell = np.exp(-0.5 * right**2) - np.exp(-0.5 * left**2)
    shape: FloatArray = g * (right * ndtr(right) - left * ndtr(left) + bell / np.sqrt(2 * np.pi))
    return shape


def _edge_slopes(
    chosen: FloatArray, off: FloatArray, cos2: FloatArray, sin2: FloatArray
) -> FloatArray:
    """Slopes of `_edge_share` in what is chosen; that in g is [phi(right) - phi(left)]."""
    from scipy.special import ndtr

    optical = np.exp(chosen[0])
    turned = 1 + chosen[1] * cos2 + chosen[2] * sin2
    g = np.sqrt(optical * turned + 1e-6)
    right, left = (chosen[3] - off + 0.5) / g, (chosen[3] - off - 0.5) / g
    bell = np.exp(-0.5 * right**2) - np.exp(-0.5 * left**2)
    by_variance = bell / np.sqrt(2 * np.pi) / (2 * g) * optical
    return np.column_stack(
        [by_variance * turned, by_variance * cos2, by_variance * sin2, ndtr(right) - ndtr(left)]
    )


def _misfit(off: FloatArray, difference: FloatArray) -> float:
    """Root mean square of the mean difference in bins across the edge: noise averages out."""
    which = np.round(off / 0.25).astype(int)
    means = [
        float(np.median(difference[which == k])) for k in np.unique(which) if (which == k).sum() > 8
    ]
    return float(np.sqrt(np.mean(np.square(means)))) if means else 0.0


def edge_pixels(grey: Grey, disc: Disc) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Pixels about a disc's edge: how far outside it, in which direction, and how cleared.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
    disc : Disc

    Returns
    -------
    (ndarray, ndarray, ndarray)
        In px, radians, and from 0 (paint) to 1.
    """
    margin = min(max(0.3 * disc.radii_px[0], 4.0), 12.0)
    reach = int(disc.radii_px[0] * 1.3 + margin + 2)
    x0, y0 = round(disc.x_px) - reach, round(disc.y_px) - reach
    left, top = max(x0, 0), max(y0, 0)
    part = grey[top : y0 + 2 * reach + 1, left : x0 + 2 * reach + 1]
    y, x = np.mgrid[top : top + part.shape[0], left : left + part.shape[1]]
    angle = np.arctan2(y - disc.y_px, x - disc.x_px)
    radius, cos2, sin2 = disc.radii_px
    edge = radius + cos2 * np.cos(2 * angle) + sin2 * np.sin(2 * angle)
    off = np.hypot(y - disc.y_px, x - disc.x_px) - edge
    near = np.abs(off) < margin
    share = (part[near] - disc.outside) / (disc.inside - disc.outside)
    # Uneven light tilts the two levels; the pixels just beyond the edge tell them again.
    inner, outer = share[off[near] < -0.6 * margin], share[off[near] > 0.6 * margin]
    if len(inner) and len(outer):
        low, high = float(np.median(outer)), float(np.median(inner))
        share = (share - low) / max(high - low, 0.1)
    return off[near], angle[near], share.astype(float)
