"""Where a coupon lies in a scan: its discs found, its orientation decided, its scale known."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from stopout.coupons.layout import CouponLayout, DoseLine, Slot
from stopout.errors import CouponError
from stopout.scans.registering.discs import Blur, Disc, find_spots, fit_blur, refine_disc
from stopout.scans.registering.pose import (
    Pose,
    apply,
    disc_centre,
    fit_matrix,
    local_scale,
    lying,
    possible_poses,
    sampled,
)
from stopout.values import FloatArray, Grey

Feature = DoseLine | Slot

# On a scale of 0 to 2: half for lines where they should be, half for their order.
_LEAST_AGREEMENT = 0.75
# Below this difference two orientations show the same, and the one not turned over is taken.
_SAME_AGREEMENT = 0.15
_LEAST_CONTRAST = 20.0
_DARK = 70.0
_MOST_RESIDUAL_MM = 0.15
_MOST_POSES = 40


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CouponPose:
    """The way from the coupon's mm, as worked and y up, to the scan's px.

    Attributes
    ----------
    matrix : (3, 3) ndarray
        Homography from coupon mm to px.
    px_per_mm : float
        Scale at the coupon's middle.
    stretch : float
        How much longer 1 mm is one way than across it there, as a share.
    rotation_deg : float
        How far the coupon's y axis is turned from the scan's upward direction, anticlockwise.
    is_mirrored : bool
        True where the scan shows the coupon turned over from side to side.
    is_bright : bool
        True where what is cleared is brighter than the paint.
    discs : tuple of (int, Disc)
        Each mark that was found, by its place in the layout.
    residual_mm : float or None
        Root mean square distance of the discs from where the fit has them; None where they are
        too few to tell.
    blur : Blur
        Of the discs' edges, in px.
    agreement : float
        0 to 2: how well lines and slots lie, and grow, as the layout says.
    """

    matrix: FloatArray
    px_per_mm: float
    stretch: float
    rotation_deg: float
    is_mirrored: bool
    is_bright: bool
    discs: tuple[tuple[int, Disc], ...]
    residual_mm: float | None
    blur: Blur
    agreement: float

    def to_px(self, points_mm: FloatArray) -> FloatArray:
        """(n, 2) points of the coupon to px."""
        return apply(self.matrix, points_mm)

    def to_mm(self, points_px: FloatArray) -> FloatArray:
        """(n, 2) points of the scan to the coupon's mm."""
        return apply(np.asarray(np.linalg.inv(self.matrix), np.float64), points_px)

    def blur_mm(self, at_mm: FloatArray, across_mm: FloatArray) -> float:
        """Standard deviation of the blur at a place, along a direction given in mm."""
        step = local_scale(self.matrix, at_mm) @ (across_mm / np.hypot(*across_mm))
        return self.blur.sigma_px(step[0], step[1]) / float(np.hypot(*step))


def register(grey: Grey, layout: CouponLayout) -> CouponPose:
    """Find the coupon in a scan.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
        The scan, 0 black to 255 white, row 0 on top.
    layout : CouponLayout
        What to look for.

    Raises
    ------
    CouponError
        Where the discs are not found, are cut off, or the lines do not lie as they should.
    """
    if len(layout.marks) < 2:
        raise CouponError(
            f"coupon.json: it has {len(layout.marks)} registration marks; two at least are needed"
        )
    _refuse_flat(grey)
    poses = possible_poses(find_spots(grey), layout)
    if not poses:
        raise CouponError(_words_without_discs(grey, layout))
    _refuse_cropped(grey, layout, poses[0])
    judged = [_Judged(pose, _agreement(grey, layout, pose)) for pose in poses[:_MOST_POSES]]
    chosen = _chosen(judged)
    if chosen.pose.count < min(len(layout.marks), 3):
        raise CouponError(_words_without_discs(grey, layout))
    if chosen.agreement < _LEAST_AGREEMENT:
        raise CouponError(
            "the discs are there but the lines are not where this coupon has them; check that "
            "the folder given with --coupon is this coupon's, and that its lines were cleared "
            "at all"
        )
    return _refined(grey, layout, chosen)


@dataclass(frozen=True, slots=True)
class _Judged:
    pose: Pose
    agreement: float


def _chosen(judged: list[_Judged]) -> _Judged:
    """The orientation in which the lines lie best; not turned over where there is no telling."""
    best = max(judged, key=lambda one: one.agreement)
    close = [one for one in judged if one.agreement > best.agreement - _SAME_AGREEMENT]
    return min(
        close,
        key=lambda one: (
            one.pose.is_mirrored,
            -one.pose.count,
            round(-one.agreement, 2),
            one.pose.misfit,
        ),
    )


# --- orientation ------------------------------------------------------------------------------


def _agreement(grey: Grey, layout: CouponLayout, pose: Pose) -> float:
    """How well lines and slots show where the pose has them, and grow as they should: 0 to 2."""
    features = _features(layout)
    if not features:
        return 2.0
    half_mm, contrast = _probe_reach_mm(layout), _contrast(grey, pose)
    widths = np.array([_probed_width(grey, pose, one, half_mm, contrast) for one in features])
    wanted = np.array(
        [
            np.log(one.line_dose_j_per_mm) if isinstance(one, DoseLine) else one.opening_mm
            for one in features
        ]
    )
    kinds = np.array([f"{type(one).__name__}{_axis(one)}" for one in features])
    widths = np.nan_to_num(widths)
    hits, order = [], []
    for kind in np.unique(kinds):
        mine = kinds == kind
        strong = mine & (wanted >= np.median(wanted[mine]))
        hits.append(float(np.mean(widths[strong] > 0.012)))
        if np.ptp(widths[mine]) > 0 and np.ptp(wanted[mine]) > 0:
            order.append(float(np.corrcoef(widths[mine], wanted[mine])[0, 1]))
        else:
            order.append(0.0)
    return float(np.mean(hits) + np.mean(order))


def _features(layout: CouponLayout) -> list[Feature]:
    return [*layout.lines, *layout.slots]


def _axis(feature: Feature) -> str:
    """The axis across which the feature is measured."""
    run = np.abs(np.subtract(feature.to_mm, feature.from_mm))
    return "y" if run[0] >= run[1] else "x"


def _probe_reach_mm(layout: CouponLayout) -> float:
    """How far to look to either side of a line: not as far as its neighbour."""
    middles = np.array([np.add(one.from_mm, one.to_mm) / 2 for one in _features(layout)])
    if len(middles) < 2:
        return 0.4
    apart = np.hypot(*(middles[:, None] - middles[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    return float(np.clip(0.45 * apart.min(), 0.1, 0.4))


def _probed_width(
    grey: Grey, pose: Pose, feature: Feature, half_mm: float, contrast: float
) -> float:
    """A first rough width: what is cleared across the middle, in mm of full contrast."""
    a, b = np.array(feature.from_mm), np.array(feature.to_mm)
    along = (b - a) / np.hypot(*(b - a))
    across = np.array([-along[1], along[0]])
    if isinstance(feature, Slot):
        half_mm = max(half_mm, feature.opening_mm / 2 + 0.25)
    offsets = np.linspace(-half_mm, half_mm, 33)
    places = a + (b - a) * np.linspace(0.2, 0.8, 25)[:, None]
    points = places[:, None, :] + offsets[None, :, None] * across
    px = apply(pose.matrix, points.reshape(-1, 2)).reshape(*points.shape)
    # Where the pose would have it beyond the scan nothing is seen.
    profile = np.median(sampled(grey, px).astype(float), axis=0)
    ground = np.median(np.concatenate([profile[:5], profile[-5:]]))
    share = np.clip((profile - ground) / contrast, -1, 1.2)
    return float(share.sum() * (offsets[1] - offsets[0]))


def _contrast(grey: Grey, pose: Pose) -> float:
    """Level of what is cleared less that of the paint, signed, by the discs."""
    differences = []
    for spot in pose.found:
        if spot is None:
            continue
        x, y, r = round(spot.x_px), round(spot.y_px), spot.radius_px
        inner = max(int(0.5 * r), 1)
        outer = int(1.3 * r) + 2
        middle = grey[max(y - inner, 0) : y + inner + 1, max(x - inner, 0) : x + inner + 1]
        ring = [
            grey[np.clip(y + dy, 0, len(grey) - 1), np.clip(x + dx, 0, grey.shape[1] - 1)]
            for dx, dy in ((outer, 0), (-outer, 0), (0, outer), (0, -outer))
        ]
        differences.append(float(np.median(middle)) - float(np.median(ring)))
    contrast = float(np.median(differences))
    return contrast if abs(contrast) > 1 else float(np.copysign(1, contrast))


# --- the final fit ----------------------------------------------------------------------------


def _refined(grey: Grey, layout: CouponLayout, chosen: _Judged) -> CouponPose:
    pose = chosen.pose
    discs = [
        (k, disc)
        for k, spot in enumerate(pose.found)
        if spot is not None
        and (disc := refine_disc(grey, spot.x_px, spot.y_px, spot.radius_px)) is not None
    ]
    if len(discs) < min(len(layout.marks), 3):
        raise CouponError(_words_without_discs(grey, layout))
    matrix, residual_px = _fitted(layout, discs, pose)
    lie = lying(matrix, (0.0, 0.0, layout.width_mm, layout.height_mm))
    residual_mm = None if residual_px is None else residual_px / lie.px_per_mm
    if residual_mm is not None and residual_mm > _MOST_RESIDUAL_MM:
        raise CouponError(
            f"the discs miss their places by {1000 * residual_mm:.0f} um (root mean square); at "
            f"most {1000 * _MOST_RESIDUAL_MM:.0f} um is usable: scan the coupon flat, or give the "
            "folder of this very coupon"
        )
    return CouponPose(
        matrix=matrix,
        px_per_mm=lie.px_per_mm,
        stretch=lie.stretch,
        rotation_deg=lie.rotation_deg,
        is_mirrored=pose.is_mirrored,
        is_bright=pose.is_bright,
        discs=tuple(discs),
        residual_mm=residual_mm,
        blur=fit_blur(grey, [disc for _, disc in discs]),
        agreement=chosen.agreement,
    )


def seen_again(grey: Grey, place: CouponPose) -> CouponPose:
    """The registration with its discs' edges and blur taken from other grey levels of the scan."""
    discs = tuple(
        (k, again)
        for k, disc in place.discs
        if (again := refine_disc(grey, disc.x_px, disc.y_px, disc.radii_px[0])) is not None
    )
    if not discs:
        return place
    return replace(place, discs=discs, blur=fit_blur(grey, [disc for _, disc in discs]))


def _fitted(
    layout: CouponLayout, discs: list[tuple[int, Disc]], pose: Pose
) -> tuple[FloatArray, float | None]:
    """The matrix through the discs' true centres, and how far they miss in px."""
    marks = [layout.marks[k] for k, _ in discs]
    mm = np.array([mark.centre_mm for mark in marks], float)
    px = np.array([(disc.x_px, disc.y_px) for _, disc in discs])
    matrix = fit_matrix(mm, px, is_mirrored=pose.is_mirrored)
    for _ in range(2):
        # In perspective the middle of the seen ellipse is not the disc's centre.
        shift = np.array(
            [
                apply(matrix, np.array([mark.centre_mm]))[0]
                - disc_centre(matrix, mark.centre_mm, mark.diameter_mm / 2)
                for mark in marks
            ]
        )
        matrix = fit_matrix(mm, px + shift, is_mirrored=pose.is_mirrored)
    off = np.hypot(*(apply(matrix, mm) - px - shift).T)
    is_affine = bool(np.abs(matrix[2, :2]).max() == 0)
    free = 2 * len(mm) - (4 if len(mm) == 2 else 6 if is_affine else 8)
    if free <= 0:
        return matrix, None
    return matrix, float(np.sqrt(np.sum(off**2) / free))


# --- refusals ---------------------------------------------------------------------------------


def _refuse_flat(grey: Grey) -> None:
    if min(grey.shape) < 100:
        raise CouponError(
            f"the scan has {grey.shape[1]} x {grey.shape[0]} pixels; scan at 1200 dpi, "
            "600 dpi at least"
        )
    low, high = np.percentile(grey[::3, ::3], [0.2, 99.8])
    if high - low < _LEAST_CONTRAST:
        if high < _DARK:
            raise CouponError(
                f"the scan is too dark: its brightest parts reach {high:.0f} of 255; "
                "scan again with more exposure"
            )
        raise CouponError(
            f"the scan shows almost one tone, from {low:.0f} to {high:.0f} of 255; check that the "
            "coupon lies face down, and scan without automatic levels"
        )


def _refuse_cropped(grey: Grey, layout: CouponLayout, pose: Pose) -> None:
    """Refuse where a mark that was not found, or a line, lies beyond the scan's edge."""
    wanted: list[tuple[str, tuple[float, float]]] = [
        (f"the disc at ({mark.centre_mm[0]:g}, {mark.centre_mm[1]:g}) mm", mark.centre_mm)
        for mark, spot in zip(layout.marks, pose.found, strict=True)
        if spot is None
    ]
    if pose.count >= 3:
        for feature in _features(layout):
            wanted += [
                (f"{feature.id} at ({at[0]:.1f}, {at[1]:.1f}) mm", at)
                for at in (feature.from_mm, feature.to_mm)
            ]
    for what, at in wanted:
        x, y = apply(pose.matrix, np.array([at]))[0]
        if not (-2 < x < grey.shape[1] + 1 and -2 < y < grey.shape[0] + 1):
            raise CouponError(
                f"the scan is cropped: {what} lies beyond its edge; scan the whole coupon with "
                "a few mm around it"
            )


def _words_without_discs(grey: Grey, layout: CouponLayout) -> str:
    count = len(layout.marks)
    high = float(np.percentile(grey[::3, ::3], 99.8))
    begin = f"the coupon's {count} registration discs were not all found"
    if high < _DARK:
        return (
            f"{begin}: the scan is too dark, its brightest parts reach {high:.0f} of 255; "
            "scan again with more exposure"
        )
    white = float(np.mean(grey[::3, ::3] > 250))
    if white > 0.35:
        return (
            f"{begin}: {100 * white:.0f} % of the scan is white out; if that is glare on the "
            "coupon, turn it or light it from the side and scan again"
        )
    return (
        f"{begin}; check that this is the coupon of the folder given with --coupon, that the whole "
        "coupon is in the scan, in focus, evenly lit, and that nothing lies on the discs"
    )
