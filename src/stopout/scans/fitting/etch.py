"""Undercut and etch factor from etched slots: W = opening + 2 u, F = depth / u per edge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stopout.errors import CouponError
from stopout.scans.fitting.common import CommonError, effective_dof, shifts_of
from stopout.scans.measuring.features import SlotReading
from stopout.scans.regress import regress, t_tail, t_width
from stopout.values import AXES, Axis, FloatArray, Measured

_LEAST_SLOTS = 3
_LEAST_DEPTHS = 3
_TELLING = 0.01
# Below this a change of the undercut with the width matters to nobody.
_NOTICEABLE_MM = 0.002
# Slots that are narrower than they were opened by more than this belong to another coupon.
_NARROWER_MM = 0.01
# A single slot's width is not known better than this, whatever the scatter of a few says.
_FLOOR_MM = 3e-4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EtchFit:
    """What the slots tell.

    Attributes
    ----------
    undercut_mm : Measured
        Per edge, mean over the slots that entered.
    etch_factor : Measured or None
        Depth over undercut per edge; None where no depth is given.
    by_axis_mm : tuple of (str, Measured)
        The undercut across x and across y, where both were measured.
    change_per_mm : Measured
        How the undercut changes with the opening's width, in mm a mm.
    change_p : float or None
        Probability of so large a change by chance.
    dof : int
    width_sd_mm : float
        Scatter of a single slot's width.
    used : tuple of SlotReading
    left_out : tuple of (str, str)
    cautions : tuple of str
    """

    undercut_mm: Measured
    etch_factor: Measured | None
    by_axis_mm: tuple[tuple[Axis, Measured], ...]
    change_per_mm: Measured
    change_p: float | None
    dof: int
    width_sd_mm: float
    used: tuple[SlotReading, ...]
    left_out: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]

    def interval(self, of: Measured) -> tuple[float, float]:
        """The 95 % interval of one of the values, by Student's t."""
        half = t_width(self.dof) * of.sd
        return of.value - half, of.value + half


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthFit:
    """How deep openings of different widths became.

    `wide_mm` is the depth of wide openings, `half_width_mm` the width c at which an opening loses
    a half in d = wide / (1 + c / width); zero where the data show no change with the width.
    """

    wide_mm: Measured
    half_width_mm: Measured
    change_p: float | None
    scatter_mm: float
    count: int

    def depth_mm(self, opening_mm: float) -> float:
        """The depth of an opening of the given width."""
        return self.wide_mm.value / (1 + self.half_width_mm.value / opening_mm)


def fit_etch(
    slots: Sequence[SlotReading],
    *,
    depth: Measured | None = None,
    common: Sequence[CommonError] = (),
) -> EtchFit:
    """Fit the undercut, and with a depth measured by hand the etch factor.

    Parameters
    ----------
    slots : sequence of SlotReading
    depth : Measured, optional
        Depth of the slots in mm with its standard deviation; left out: no etch factor.
    common : sequence of CommonError
        What all widths have in common: half of each one's mean adds to the undercut's error.

    Raises
    ------
    CouponError
        Where fewer than three slots are left, or they did not widen.

    Notes
    -----
    Each slot gives u = (W - opening) / 2; their mean is the undercut and their scatter, with n - 1
    degrees of freedom, its standard error. A slot that lies off the others by far (a scratch,
    lifted resist) is left out by the median rule. SE(F) = F sqrt((SE(d)/d)^2 + (SE(u)/u)^2).
    """
    kept, left_out = _without_strays(slots)
    if len(kept) < _LEAST_SLOTS:
        raise CouponError(
            f"{len(kept)} slots could be measured; {_LEAST_SLOTS} are needed for an undercut"
        )
    undercuts = np.array([_undercut(slot) for slot in kept])
    opening = np.array([slot.opening_mm for slot in kept])
    scatter = max(float(undercuts.std(ddof=1)), _FLOOR_MM / 2)
    value = float(undercuts.mean())
    names = [slot.id for slot in kept]
    shared = [float(shifts_of(error, names).mean()) / 2 for error in common]
    own = scatter / float(np.sqrt(len(kept)))
    sd = float(np.sqrt(own**2 + np.sum(np.square(shared))))
    if value < -max(3 * sd, _NARROWER_MM):
        raise CouponError(
            f"the slots are {-2000 * value:.0f} um narrower than their openings, which no etch "
            "makes them: check that the folder given with --coupon is this very coupon's"
        )
    if value <= 3 * sd:
        raise CouponError(
            f"the slots did not widen: undercut {1000 * value:.1f} um with a standard error of "
            f"{1000 * sd:.1f} um; check that the piece was etched and that the scan shows its metal"
        )
    undercut = Measured(value=value, sd=sd)
    change, change_p = _change(opening, undercuts)
    by_axis = _by_axis(kept)
    return EtchFit(
        undercut_mm=undercut,
        etch_factor=None if depth is None else _factor(depth, undercut),
        by_axis_mm=by_axis,
        change_per_mm=change,
        change_p=change_p,
        dof=effective_dof(own**2, sd**2, len(kept) - 1),
        width_sd_mm=2 * scatter,
        used=tuple(kept),
        left_out=tuple(left_out),
        cautions=_cautions(change, change_p, opening, by_axis),
    )


def fit_depths(openings_mm: Sequence[float], depths_mm: Sequence[float]) -> DepthFit:
    """Fit depths measured by hand in openings of different widths.

    Parameters
    ----------
    openings_mm, depths_mm : sequence of float
        Three pairs or more.

    Raises
    ------
    CouponError
        Where there are too few, or they make no sense.

    Notes
    -----
    1 / d = 1 / d_wide + (c / d_wide) / W: a straight line in 1 / W. The form is our own; it has the
    right ends (a narrow opening etches slowly, a wide one no longer changes), no source.
    """
    width, depth = np.asarray(openings_mm, float), np.asarray(depths_mm, float)
    if len(width) < _LEAST_DEPTHS:
        raise CouponError(
            f"{len(width)} depths are given; {_LEAST_DEPTHS} are needed to tell how depth changes "
            "with the width"
        )
    if depth.min() <= 0 or width.min() <= 0:
        raise CouponError("depths and widths must be above zero")
    mean = Measured(value=float(depth.mean()), sd=float(depth.std(ddof=1) / np.sqrt(len(depth))))
    plain = DepthFit(
        wide_mm=mean,
        half_width_mm=Measured(value=0.0),
        change_p=None,
        scatter_mm=float(depth.std(ddof=1)),
        count=len(depth),
    )
    if float(np.ptp(width)) < 0.2 * float(width.mean()):
        return plain
    # Depths have the same reading error: 1/d has the variance s^2 / d^4.
    fit = regress(np.column_stack([1 / width, np.ones(len(width))]), 1 / depth, depth**4)
    slope, base = float(fit.value[0]), float(fit.value[1])
    chance = t_tail(slope / max(float(fit.sd[0]), 1e-30), fit.dof)
    if chance > _TELLING or slope <= 0 or base <= 0:
        return replace(plain, change_p=chance)
    half = slope / base
    gradient = np.array([1 / base, -slope / base**2])
    return DepthFit(
        wide_mm=Measured(value=1 / base, sd=float(fit.sd[1]) / base**2),
        half_width_mm=Measured(value=half, sd=float(np.sqrt(gradient @ fit.covariance @ gradient))),
        change_p=chance,
        scatter_mm=float(np.sqrt(fit.s2)),
        count=len(depth),
    )


def _undercut(slot: SlotReading) -> float:
    return (slot.width_mm - slot.opening_mm) / 2


def _without_strays(
    slots: Sequence[SlotReading],
) -> tuple[list[SlotReading], list[tuple[str, str]]]:
    """Leave out slots whose undercut lies off the others' median by far."""
    undercuts = np.array([_undercut(slot) for slot in slots])
    if len(slots) < 5:
        return list(slots), []
    middle = float(np.median(undercuts))
    spread = max(1.4826 * float(np.median(np.abs(undercuts - middle))), 0.0015)
    kept, left_out = [], []
    for slot, undercut in zip(slots, undercuts, strict=True):
        if abs(undercut - middle) > 5 * spread:
            off = 1000 * (undercut - middle)
            left_out.append((slot.id, f"its undercut is off the others' by {off:+.0f} um"))
        else:
            kept.append(slot)
    return kept, left_out


def _factor(depth: Measured, undercut: Measured) -> Measured:
    value = depth.value / undercut.value
    share = float(np.hypot(depth.sd / depth.value, undercut.sd / undercut.value))
    return Measured(value=value, sd=value * share)


def _change(opening: FloatArray, undercuts: FloatArray) -> tuple[Measured, float | None]:
    if len(opening) < 4 or float(np.ptp(opening)) < 0.05:
        return Measured(value=0.0), None
    fit = regress(np.column_stack([opening, np.ones(len(opening))]), undercuts)
    sd = max(float(fit.sd[0]), 1e-12)
    value = float(fit.value[0])
    return Measured(value=value, sd=sd), t_tail(value / sd, fit.dof)


def _by_axis(kept: list[SlotReading]) -> tuple[tuple[Axis, Measured], ...]:
    found: list[tuple[Axis, Measured]] = []
    for axis in AXES:
        mine = np.array([_undercut(slot) for slot in kept if slot.axis == axis])
        if len(mine) >= _LEAST_SLOTS:
            sd = float(mine.std(ddof=1) / np.sqrt(len(mine)))
            found.append((axis, Measured(value=float(mine.mean()), sd=sd)))
    return tuple(found) if len(found) == 2 else ()


def _cautions(
    change: Measured,
    change_p: float | None,
    opening: FloatArray,
    by_axis: tuple[tuple[Axis, Measured], ...],
) -> tuple[str, ...]:
    said = []
    span = float(np.ptp(opening))
    if (
        change_p is not None
        and change_p < _TELLING
        and abs(change.value) * span > 2 * _NOTICEABLE_MM
    ):
        more = "wide" if change.value > 0 else "narrow"
        said.append(
            f"the undercut is not the same at all widths: {more} slots have up to "
            f"{1000 * abs(change.value) * span:.0f} um more; where that matters, take the value "
            "of slots as wide as the work's"
        )
    if by_axis:
        (_, x), (_, y) = by_axis
        apart, sd = x.value - y.value, float(np.hypot(x.sd, y.sd))
        if abs(apart) > max(4 * sd, _NOTICEABLE_MM):
            said.append(
                f"the undercut differs by {1000 * abs(apart):.0f} um between the axes: the "
                "openings may not have had the widths of the coupon's plan, or the grain of the "
                "metal shows"
            )
    return tuple(said)
