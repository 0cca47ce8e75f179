"""A photograph instead of a scan: its lens, and a printed scale bar beside the coupon.

The coupon's own discs take perspective out; what they cannot show is how true the machine's own
millimetres are, which for a scan the stated resolution shows. A bar of known length in the same
plane does so for a photograph.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from stopout.coupons.layout import CouponLayout
from stopout.errors import CouponError
from stopout.scans.registering.coupon import CouponPose
from stopout.scans.registering.discs import Disc, Spot, find_spots, refine_disc
from stopout.scans.registering.pose import apply, fit_matrix, local_scale
from stopout.values import FloatArray, Grey

# Diameter of the black discs at the bar's ends.
BAR_DISC_MM = 3.0
_DISC_SIZES = (0.6, 1.6)
_BAR_OFF = 0.08
# A bar half a mm nearer to a lens 250 mm away looks 0.2 % longer; as much for its print and for
# measuring it by a rule (our own estimate, without a source).
_BAR_SD = 0.003
_BAR_REFUSED = 0.015
# Discs are found to this many pixels at best, those of a lens' own errors included.
_DISC_SD_PX = 0.06
_MOST_LENS = 0.06


@dataclass(frozen=True, slots=True, kw_only=True)
class BarReading:
    """The bar as the coupon's own mm have it, and how much longer that is than it was said to be.

    `error` is a share, above zero where the coupon's mm are too short; `sd` its own standard
    deviation.
    """

    seen_mm: float
    told_mm: float
    error: float
    sd: float


def straightened(grey: Grey, layout: CouponLayout, place: CouponPose) -> tuple[Grey, float]:
    """Take a lens' radial distortion out, as far as the discs tell it.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
    layout : CouponLayout
    place : CouponPose
        Found in these levels.

    Returns
    -------
    (ndarray, float)
        The straight picture (the same one where no distortion shows), and the standard deviation
        of the scale that is left over the coupon, as a share.

    Notes
    -----
    One radial term about the picture's middle, x_seen = x (1 + k r^2) with r in half diagonals
    (D. C. Brown, Close-range camera calibration, Photogrammetric Engineering 37, 855 (1971), from
    memory). Five discs leave two values over a homography: one for k, one to judge by.
    """
    import cv2
    from scipy.optimize import minimize_scalar

    centre = np.array([grey.shape[1] - 1, grey.shape[0] - 1]) / 2
    half = float(np.hypot(*centre))
    mm = np.array([layout.marks[k].centre_mm for k, _ in place.discs], float)
    px = np.array([(disc.x_px, disc.y_px) for _, disc in place.discs])
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * [layout.width_mm, layout.height_mm]
    reach = float(np.hypot(*(place.to_px(corners) - centre).T).max()) / half
    if len(mm) < 5:
        # Nothing tells; what phones leave uncorrected at the picture's rim (our own estimate).
        return grey, 0.01 * reach**2

    def missed(k: float) -> float:
        flat = _undone(px, centre, half, k)
        matrix = fit_matrix(mm, flat, is_mirrored=place.is_mirrored)
        return float(np.sum((apply(matrix, mm) - flat) ** 2))

    best = float(minimize_scalar(missed, bounds=(-_MOST_LENS, _MOST_LENS), method="bounded").x)
    step = 0.01
    curve = (missed(best + step) + missed(best - step) - 2 * missed(best)) / step**2
    sd = float(np.sqrt(2 / max(curve, 1e-12))) * _DISC_SD_PX
    if abs(best) < 2 * sd:
        return grey, float(np.hypot(best, sd)) * reach**2
    camera = np.array([[half, 0, centre[0]], [0, half, centre[1]], [0, 0, 1.0]])
    flat = cv2.undistort(grey, camera, np.array([best, 0, 0, 0.0]))
    return np.asarray(flat, np.float32), 2 * sd * reach**2


def read_bar(grey: Grey, layout: CouponLayout, place: CouponPose, bar_mm: float) -> BarReading:
    """Find the bar beside the coupon and measure it by the coupon's own mm.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
    layout : CouponLayout
    place : CouponPose
    bar_mm : float
        From the middle of one of its end discs to that of the other, as measured on the print.

    Raises
    ------
    CouponError
        Where it is not found, or its length and the coupon's differ too much.
    """
    discs = [
        (found, disc)
        for found in find_spots(grey)
        if not found.is_bright
        and _may_be_end(found, place, layout)
        and (disc := refine_disc(grey, found.x_px, found.y_px, found.radius_px)) is not None
    ]
    seen = [_mm(disc, place) for _, disc in discs]
    lengths = [float(np.hypot(*(seen[i] - seen[j]))) for i, j in combinations(range(len(seen)), 2)]
    near = [length for length in lengths if abs(length / bar_mm - 1) < _BAR_OFF]
    if not near:
        raise CouponError(
            f"the scale bar is not found: two black discs of {BAR_DISC_MM:g} mm, {bar_mm:g} mm "
            "apart, on white beside the coupon; lay the bar at the height of the coupon's face, "
            "all of it in the picture, and give with --bar what a rule says from disc to disc"
        )
    length = min(near, key=lambda one: abs(one - bar_mm))
    error = length / bar_mm - 1
    if abs(error) > _BAR_REFUSED:
        raise CouponError(
            f"by the coupon's own discs the scale bar is {length:.2f} mm long and not "
            f"{bar_mm:g} mm, {100 * abs(error):.1f} % off: measure the printed bar from disc to "
            "disc, lay it at the height of the coupon's face, and check the machine's steps "
            "against a rule"
        )
    return BarReading(seen_mm=length, told_mm=bar_mm, error=error, sd=_BAR_SD)


def _undone(px: FloatArray, centre: FloatArray, half: float, k: float) -> FloatArray:
    """Places without the lens' distortion, to second order in it."""
    off = (px - centre) / half
    flat = off
    for _ in range(4):
        flat = off / (1 + k * (flat**2).sum(axis=1))[:, None]
    result: FloatArray = centre + half * flat
    return result


def _may_be_end(spot: Spot, place: CouponPose, layout: CouponLayout) -> bool:
    """A disc of the bar's size that lies beside the coupon."""
    at = place.to_mm(np.array([[spot.x_px, spot.y_px]]))[0]
    x, y = float(at[0]), float(at[1])
    if -1 < x < layout.width_mm + 1 and -1 < y < layout.height_mm + 1:
        return False
    slope = local_scale(place.matrix, at)
    radius_mm = spot.radius_px / float(np.sqrt(abs(np.linalg.det(slope))))
    return _DISC_SIZES[0] < 2 * radius_mm / BAR_DISC_MM < _DISC_SIZES[1]


def _mm(disc: Disc, place: CouponPose) -> FloatArray:
    result: FloatArray = place.to_mm(np.array([[disc.x_px, disc.y_px]]))[0]
    return result
