"""The road from a scan's grey levels to the shop's numbers: register, measure, fit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from stopout.coupons.fit_clearing import AxisFit, Refused, fit_axis
from stopout.coupons.fit_etch import DepthFit, EtchFit, fit_depths, fit_etch
from stopout.coupons.layout import CouponLayout
from stopout.coupons.measure import Measurement, measure
from stopout.coupons.measure_comb import TimingFit, fit_timing
from stopout.coupons.register import Registration, register, seen_again
from stopout.errors import CouponError
from stopout.values import Measured

__all__ = ["Depths", "Reading", "read_coupon", "spacing_that_clears_mm"]

Grey = NDArray[np.float32]

# A patch counts as clear below this share of paint, its error included.
_CLEAR = 0.01
# Beyond this the resolution that is stated and the discs contradict each other.
_RESOLUTION_OFF = 0.02
_SCALE_NOTED = 0.002
# Rolled-up errors of the discs' own places, as a share of the scale.
_SCALE_FLOOR = 3e-4
# Light is taken where it brings the profiles this much nearer to the model.
_TONE_GAIN = 0.85
_TONE_PLAIN = 1.1
# A model that misses by more than this tells nothing about the tone.
_TONE_TRUSTED = 0.012
_TONE_MATTERS = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Depths:
    """Depths measured by hand: one for all, or by the name of a pit or slot."""

    everywhere: Measured | None = None
    by_id: Mapping[str, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """All that a scan of a coupon told.

    Attributes
    ----------
    layout : CouponLayout
    place : Registration
    measured : Measurement
    dpi : float
        Pixels an inch as the discs have them.
    stated_dpi : float or None
        As the file or the person stated.
    scale_error : float or None
        How much larger the coupon is in the scan than the stated resolution has it, as a share.
    axes : tuple of (AxisFit or Refused)
        Across x, then y; empty for an etch coupon.
    etch : EtchFit or None
    depth : Measured or None
        The depth that goes with the undercut.
    depths : DepthFit or None
        How depth changes with the width.
    timing : tuple of TimingFit
    tone : str
        "plain" or "light": whether grey levels were taken as they are, or turned back into light.
    cautions : tuple of str
    """

    layout: CouponLayout
    place: Registration
    measured: Measurement
    dpi: float
    stated_dpi: float | None
    scale_error: float | None
    axes: tuple[AxisFit | Refused, ...]
    etch: EtchFit | None
    depth: Measured | None
    depths: DepthFit | None
    timing: tuple[TimingFit, ...]
    tone: Literal["plain", "light"]
    cautions: tuple[str, ...]


def read_coupon(
    views: Iterable[tuple[str, Grey]],
    layout: CouponLayout,
    *,
    stated_dpi: float | None,
    depths: Depths | None = None,
    tone: Literal["auto", "plain", "light"] = "auto",
) -> Reading:
    """Read a coupon from a scan.

    Parameters
    ----------
    views : iterable of (str, (M, N) ndarray of float32)
        Grey levels 0 to 255 to try in turn; the first in which the coupon is found serves, unless
        a later one shows far more contrast.
    layout : CouponLayout
        From coupon.json.
    stated_dpi : float or None
        What the file or the person says.
    depths : Depths, optional
        For an etch coupon.
    tone : str
        "plain": grey levels go with the light; "light": they are sRGB-encoded and are turned back
        into light; "auto": whichever the lines' profiles bear out, plain where they do not tell.

    Returns
    -------
    Reading

    Raises
    ------
    CouponError
        Where the scan or the coupon does not serve, with the reason and what to do.
    """
    grey, place = _best_view(views, layout)
    toned = _measured(grey, layout, place, tone)
    place, measured = toned.place, toned.measured
    scale_error, scale_cautions = _scale(place, stated_dpi)
    width_error = float(np.hypot(measured.contrast_error, _SCALE_FLOOR))
    axes = _axes(layout, measured, width_error)
    etch = depth = depth_fit = None
    if layout.kind == "etch":
        depth, depth_fit = _depth(layout, depths or Depths())
        etch = fit_etch(measured.slots, depth=depth, width_error=_SCALE_FLOOR)
    cautions = [*scale_cautions, *toned.cautions, *_scan_cautions(place, measured, layout)]
    for one in axes:
        if isinstance(one, AxisFit):
            cautions += [f"across {one.axis}: {caution}" for caution in one.cautions]
    cautions += etch.cautions if etch else ()
    if depth is not None and depth.sd == 0:
        cautions.append(
            "the depth is given without its error, so the etch factor's leaves it out; give it as "
            "0.06mm+-0.002mm, or several depths"
        )
    return Reading(
        layout=layout,
        place=place,
        measured=measured,
        dpi=place.px_per_mm * 25.4,
        stated_dpi=stated_dpi,
        scale_error=scale_error,
        axes=axes,
        etch=etch,
        depth=depth,
        depths=depth_fit,
        timing=fit_timing(measured.combs),
        tone=toned.tone,
        cautions=tuple(cautions),
    )


def spacing_that_clears_mm(measured: Measurement) -> float | None:
    """The widest spacing up to which every patch is clear; None where not even the closest is."""
    widest: float | None = None
    for patch in sorted(measured.patches, key=lambda one: one.spacing_mm):
        if patch.left_fraction > _CLEAR + 2 * patch.left_sd:
            break
        widest = patch.spacing_mm
    return widest


def _best_view(
    views: Iterable[tuple[str, Grey]], layout: CouponLayout
) -> tuple[Grey, Registration]:
    """The view in which the coupon stands out: luma unless it is faint there."""
    first: CouponError | None = None
    best: tuple[float, Grey, Registration] | None = None
    for _, grey in views:
        try:
            place = register(grey, layout)
        except CouponError as error:
            first = first or error
            continue
        contrast = abs(float(np.median([disc.inside - disc.outside for _, disc in place.discs])))
        if best is None or contrast > 1.5 * best[0]:
            best = (contrast, grey, place)
        if contrast > 60:
            break
    if best is None:
        raise first or CouponError("the scan holds no picture")
    return best[1], best[2]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Toned:
    place: Registration
    measured: Measurement
    tone: Literal["plain", "light"]
    cautions: tuple[str, ...] = ()


def _measured(
    grey: Grey, layout: CouponLayout, place: Registration, tone: Literal["auto", "plain", "light"]
) -> _Toned:
    """Measure in the tone that is asked for, or that the profiles of the lines bear out.

    Blur mixes light. Where the file holds sRGB-encoded levels a narrow line reads too wide unless
    the levels are turned back into light first; where it holds plain levels, doing so would read
    it too narrow. Area and height of a narrow line's profile belong together, and the edges of
    the discs are symmetric, in the right tone only.
    """
    if tone == "light":
        return _in_light(grey, layout, place)
    plain = _Toned(place=place, measured=measure(grey, layout, place), tone="plain")
    if tone == "plain":
        return plain
    try:
        light = _in_light(grey, layout, place)
    except CouponError:
        return plain
    # Lines and discs together: either alone errs where pixels and lines run in step.
    gain = light.measured.off_share / max(plain.measured.off_share, 1e-9)
    gain *= light.place.blur.misfit / max(plain.place.blur.misfit, 1e-9)
    if gain < _TONE_GAIN and light.measured.off_share < _TONE_TRUSTED:
        return light
    if gain < _TONE_PLAIN:
        change = _wider(plain.measured) / max(_wider(light.measured), 1e-9) - 1
        what = "widths are" if plain.measured.lines else "the undercut is"
        if abs(change) > _TONE_MATTERS:
            return replace(
                plain,
                cautions=(
                    "the lines do not tell whether the file's grey levels are plain or sRGB; they "
                    f"are taken as plain, else {what} about {100 * change:.0f} % less: "
                    "scan at a higher resolution, or say --tone light where the scanner is known",
                ),
            )
    return plain


def _in_light(grey: Grey, layout: CouponLayout, place: Registration) -> _Toned:
    light = to_light(grey)
    there = seen_again(light, place)
    return _Toned(place=there, measured=measure(light, layout, there), tone="light")


def _wider(measured: Measurement) -> float:
    """Sum of the widths of what was cleared, and of what slots have widened."""
    lines = sum(line.width_mm for line in measured.lines if line.is_cleared)
    return lines + sum(slot.width_mm - slot.opening_mm for slot in measured.slots)


def to_light(grey: Grey) -> Grey:
    """Grey levels 0 to 255 of sRGB as light, 0 to 255.

    Parameters
    ----------
    grey : ndarray of float32

    Returns
    -------
    ndarray of float32

    Notes
    -----
    IEC 61966-2-1: linear below 0.04045, then ((x + 0.055) / 1.055)^2.4.
    """
    share = np.clip(grey / np.float32(255), 0, 1)
    low = share / np.float32(12.92)
    high = ((share + np.float32(0.055)) / np.float32(1.055)) ** np.float32(2.4)
    return np.asarray(255 * np.where(share <= 0.04045, low, high), np.float32)


def _axes(
    layout: CouponLayout, measured: Measurement, width_error: float
) -> tuple[AxisFit | Refused, ...]:
    if layout.kind != "clearing":
        return ()
    if not layout.lines:
        raise CouponError("coupon.json: it has no lines, so that there is nothing to fit")
    axes = (
        fit_axis(measured.lines, "x", width_error=width_error),
        fit_axis(measured.lines, "y", width_error=width_error),
    )
    if all(isinstance(one, Refused) for one in axes):
        reasons = "; ".join(
            f"across {one.axis}: {one.reason}" for one in axes if isinstance(one, Refused)
        )
        raise CouponError(f"the lines carry neither spot nor threshold: {reasons}")
    return axes


def _scale(place: Registration, stated_dpi: float | None) -> tuple[float | None, list[str]]:
    if stated_dpi is None:
        return None, []
    dpi = place.px_per_mm * 25.4
    error = dpi / stated_dpi - 1
    if abs(error) > _RESOLUTION_OFF:
        return error, [
            f"the scan is stated to have {stated_dpi:.0f} dpi, by the discs it has {dpi:.0f}: it "
            "was resized, or is a photograph; the discs count"
        ]
    if abs(error) > _SCALE_NOTED:
        return error, [
            f"the coupon is {100 * abs(error):.2f} % {'larger' if error > 0 else 'smaller'} in the "
            "scan than its resolution has it: the scanner, or the machine's steps; the discs count"
        ]
    return error, []


def _scan_cautions(place: Registration, measured: Measurement, layout: CouponLayout) -> list[str]:
    said = []
    lost = len(layout.marks) - len(place.discs)
    if lost:
        said.append(f"{lost} of {len(layout.marks)} discs could not be read")
    if len(place.discs) < 4:
        said.append(
            f"with {len(place.discs)} discs perspective cannot be corrected: take a flatbed scan"
        )
    if place.is_mirrored:
        said.append(
            "the scan shows the coupon turned over from side to side; it has been read that way"
        )
    levels = np.array([[disc.inside, disc.outside] for _, disc in place.discs])
    if (np.median(levels, axis=0) > 253.5).any():
        said.append(
            "the brightest parts are white out: widths may read too large; scan a little darker"
        )
    if measured.unread:
        names = ", ".join(name for name, _ in measured.unread)
        said.append(f"not read: {names} ({measured.unread[0][1]})")
    return said


# --- depths -----------------------------------------------------------------------------------


def _depth(layout: CouponLayout, depths: Depths) -> tuple[Measured | None, DepthFit | None]:
    """The depth that goes with the undercut, and how depth changes with the width."""
    given = dict(depths.by_id or {})
    if not given:
        return depths.everywhere, None
    widths = _widths(layout)
    unknown = [name for name in given if name not in widths]
    if unknown:
        some = ", ".join(list(widths)[:12])
        raise CouponError(
            f"--depth {unknown[0]}: the coupon has no pit or slot of that name; it has {some}"
        )
    values = list(given.values())
    if len(given) < 3:
        depth = float(np.mean(values))
        sd = float(np.std(values, ddof=1)) if len(values) > 1 else 0.0
        return depths.everywhere or Measured(value=depth, sd=sd), None
    fit = fit_depths([widths[name] for name in given], values)
    if depths.everywhere is not None:
        return depths.everywhere, fit
    # The undercut is the mean over the slots; so is the depth that goes with it.
    openings = [slot.opening_mm for slot in layout.slots] or [1.0]
    depth = float(np.mean([fit.depth_mm(opening) for opening in openings]))
    share = fit.wide_mm.sd / fit.wide_mm.value
    return Measured(value=depth, sd=depth * share), fit


def _widths(layout: CouponLayout) -> dict[str, float]:
    """Opening widths of whatever a depth can be measured in, by name."""
    widths = {slot.id: slot.opening_mm for slot in layout.slots}
    for pit in layout.pits:
        x0, y0, x1, y1 = pit.box_mm
        widths[pit.id] = min(abs(x1 - x0), abs(y1 - y0))
    return widths
