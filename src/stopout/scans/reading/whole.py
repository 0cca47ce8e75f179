"""The road from a scan's grey levels to the shop's numbers: register, measure, fit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from stopout.coupons.layout import CouponLayout
from stopout.errors import CouponError
from stopout.scans.fitting.clearing import AxisFit, Refused, fit_both
from stopout.scans.fitting.common import CommonError, common_errors
from stopout.scans.fitting.etch import DepthFit, EtchFit, fit_depths, fit_etch
from stopout.scans.measuring.comb import TimingFit, against_sense, fit_timing
from stopout.scans.measuring.features import Measurement
from stopout.scans.measuring.tone import ToneBy, Toned, measured_in_tone
from stopout.scans.reading.camera import BarReading, read_bar, straightened
from stopout.scans.registering.coupon import CouponPose, register
from stopout.scans.registering.pose import lying
from stopout.values import Axis, Grey, Measured

# A patch counts as clear below this share of paint, its error included.
_CLEAR = 0.01
# Beyond this the resolution that is stated and the discs contradict each other.
_RESOLUTION_OFF = 0.02
_SCALE_NOTED = 0.002
# Fewer pixels than this tell a line's width from its brightness no more.
_LEAST_DPI = 500.0
# A scan that is stated to have just that much may be a little off.
_DPI_SLACK = 0.98
# At this much perspective it is a photograph, as in an inspection.
_MOST_SLANT = 0.002
# A Gaussian spot at a dose ratio of two clears its full width at half maximum: 1/e^2 width x this.
_MARK_OF_SPOT = 0.5887
_BAR_NOTED = 0.006


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
    place : CouponPose
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
    tone_by : str
        "told", "seen" (by the profiles) or "assumed".
    tone_change : float
        By how much widths would be larger in the other tone, as a share.
    is_tone_open : bool
        True where nothing tells the tone and the numbers hang on it: nothing is to be kept.
    bar : BarReading or None
        The printed scale bar of a photograph.
    cautions : tuple of str
    """

    layout: CouponLayout
    place: CouponPose
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
    tone_by: ToneBy
    tone_change: float
    is_tone_open: bool
    bar: BarReading | None
    cautions: tuple[str, ...]


def read_coupon(
    views: Iterable[tuple[str, Grey]],
    layout: CouponLayout,
    *,
    stated_dpi: float | None,
    depths: Depths | None = None,
    tone: Literal["auto", "plain", "light"] = "auto",
    bar_mm: float | None = None,
) -> Reading:
    """Read a coupon from a scan, or from a photograph with a scale bar beside the coupon.

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
        into light; "auto": whichever the lines' profiles bear out, light where they do not tell,
        with the doubt in all standard deviations.
    bar_mm : float, optional
        Length of the scale bar of a photograph.

    Raises
    ------
    CouponError
        Where the scan or the coupon does not serve, with the reason and what to do.
    """
    grey, place = _best_view(views, layout)
    view = _checked(grey, place, layout, bar_mm)
    toned = measured_in_tone(view.grey, layout, view.place, tone)
    place, measured = toned.place, toned.measured
    _refuse_blur_of_the_mark(measured, layout)
    scale_error, scale_cautions = _scale(view.place, None if view.is_camera else stated_dpi)
    common = common_errors(toned, scale_share=view.scale_share, is_camera=view.is_camera)
    axes = _axes(layout, measured, common)
    etch = depth = depth_fit = None
    if layout.kind == "etch":
        depth, depth_fit = _depth(layout, depths or Depths())
        etch = fit_etch(measured.slots, depth=depth, common=common)
    timing = fit_timing(measured.combs)
    cautions = [*scale_cautions, *view.cautions, *_tone_cautions(toned, layout)]
    cautions += _scan_cautions(place, measured, layout)
    for one in axes:
        if isinstance(one, AxisFit):
            cautions += [f"across {one.axis}: {caution}" for caution in one.cautions]
    cautions += etch.cautions if etch else ()
    cautions += [words for one in timing if (words := against_sense(one))]
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
        timing=timing,
        tone=toned.tone,
        tone_by=toned.by,
        tone_change=toned.change,
        is_tone_open=toned.is_open,
        bar=view.bar,
        cautions=tuple(cautions),
    )


def spacing_that_clears_mm(measured: Measurement, line_direction: Axis) -> float | None:
    """The widest spacing up to which every patch of lines along one axis is clear.

    Parameters
    ----------
    measured : Measurement
    line_direction : str
        "x" or "y": a mark is not as wide across x as across y, so that neither answers for both.

    Returns
    -------
    float or None
        None where not even the closest is clear, or there are none.
    """
    widest: float | None = None
    mine = [one for one in measured.patches if one.line_direction == line_direction]
    for patch in sorted(mine, key=lambda one: one.spacing_mm):
        if patch.left_fraction > _CLEAR + 2 * patch.left_sd:
            break
        widest = patch.spacing_mm
    return widest


def _best_view(views: Iterable[tuple[str, Grey]], layout: CouponLayout) -> tuple[Grey, CouponPose]:
    """The view in which the coupon stands out: luma unless it is faint there."""
    first: CouponError | None = None
    best: tuple[float, Grey, CouponPose] | None = None
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


# --- a scan, or a photograph --------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _View:
    """The picture that is measured, and what its scale is worth."""

    grey: Grey
    place: CouponPose
    is_camera: bool
    scale_share: float = 0.0
    bar: BarReading | None = None
    cautions: tuple[str, ...] = ()


def _checked(grey: Grey, place: CouponPose, layout: CouponLayout, bar_mm: float | None) -> _View:
    """Refuse what cannot be read; take a lens' distortion out of a photograph."""
    slant = lying(place.matrix, (0.0, 0.0, layout.width_mm, layout.height_mm)).slant
    is_camera = bar_mm is not None or slant > _MOST_SLANT
    _refuse_coarse(place, is_camera=is_camera)
    if not is_camera:
        _refuse_steep(place)
        return _View(grey=grey, place=place, is_camera=False)
    if bar_mm is None:
        raise CouponError(
            f"it is a photograph, or the coupon was not flat on the glass: one side is "
            f"{200 * slant:.1f} % nearer than the other; scan it flat, or lay the printed scale "
            "bar beside it, photograph both, and give --bar with its length"
        )
    grey, left = straightened(grey, layout, place)
    place = register(grey, layout)
    _refuse_steep(place)
    bar = read_bar(grey, layout, place, bar_mm)
    share = float(np.hypot(np.hypot(left, bar.sd), bar.error))
    said = [
        "a photograph: the camera's own curve and lens are in the ranges; a scan is several "
        "times closer"
    ]
    if abs(bar.error) > _BAR_NOTED:
        said.append(
            f"the scale bar comes out {100 * bar.error:+.1f} % by the coupon's discs: its height, "
            "its print, or the machine's steps; the discs count, and the ranges hold it"
        )
    return _View(
        grey=grey, place=place, is_camera=True, scale_share=share, bar=bar, cautions=tuple(said)
    )


def _refuse_coarse(place: CouponPose, *, is_camera: bool) -> None:
    dpi = place.px_per_mm * 25.4
    if dpi >= _DPI_SLACK * _LEAST_DPI:
        return
    what, remedy = "scan", "scan at 1200 dpi, 600 dpi at least"
    if is_camera:
        what, remedy = "photograph", "go nearer, so that coupon and bar fill the picture"
    raise CouponError(
        f"the {what} has {dpi:.0f} pixels an inch by the coupon's discs; {_LEAST_DPI:.0f} is the "
        f"least that tells a line's width: {remedy}"
    )


def _refuse_steep(place: CouponPose) -> None:
    if place.blur.is_at_floor:
        raise CouponError(
            "the edges are steeper than any optics draw them: the picture was sharpened or "
            "resized, which moves edges; save it again with sharpening, resizing and "
            "enhancement off"
        )


def _refuse_blur_of_the_mark(measured: Measurement, layout: CouponLayout) -> None:
    """Refuse where a line as wide as the mark is seen as a blur and nothing else."""
    identity = layout.identity
    spots = [one for one in (identity.spot_x_mm, identity.spot_y_mm) if one]
    if not spots or layout.kind != "clearing":
        return
    mark = _MARK_OF_SPOT * min(spots)
    if measured.blur_mm > mark:
        raise CouponError(
            f"the scan is blurred: edges are spread over {1000 * measured.blur_mm:.0f} um "
            f"(standard deviation), more than the mark's {1000 * mark:.0f} um; lay the coupon flat "
            "on the glass, clean the glass, and scan at 1200 dpi"
        )


def _tone_cautions(toned: Toned, layout: CouponLayout) -> list[str]:
    said = []
    if toned.is_cut:
        said.append(
            "black or white is cut off, as an automatic contrast leaves it, and the ranges are "
            "wide for it: scan again with automatic levels off"
        )
    if not toned.is_open:
        return said
    what = "widths are" if layout.kind == "clearing" else "the undercut is"
    return [
        *said,
        "the scan does not tell whether its grey levels are sRGB, as most scanners write, or "
        f"plain; taken as sRGB, else {what} about {abs(100 * toned.change):.0f} % "
        f"{'more' if toned.change > 0 else 'less'}; the ranges hold both, and nothing is kept: "
        "scan at a higher resolution, or say --tone light (sRGB) or --tone plain where the "
        "scanner is known",
    ]


def _axes(
    layout: CouponLayout, measured: Measurement, common: tuple[CommonError, ...]
) -> tuple[AxisFit | Refused, ...]:
    if layout.kind != "clearing":
        return ()
    if not layout.lines:
        raise CouponError("coupon.json: it has no lines, so that there is nothing to fit")
    axes = fit_both(measured.lines, common=common)
    if all(isinstance(one, Refused) for one in axes):
        reasons = "; ".join(
            f"across {one.axis}: {one.reason}" for one in axes if isinstance(one, Refused)
        )
        raise CouponError(
            f"the lines carry neither spot nor threshold: {reasons}; if that is not what the "
            "coupon looks like, the folder given with --coupon is another coupon's"
        )
    return axes


def _scale(place: CouponPose, stated_dpi: float | None) -> tuple[float | None, list[str]]:
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


def _scan_cautions(place: CouponPose, measured: Measurement, layout: CouponLayout) -> list[str]:
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
