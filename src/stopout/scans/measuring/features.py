"""Measures a registered coupon: widths of lines and slots, paint left in patches, late beams."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from stopout.coupons.layout import CouponLayout, DoseLine, Point, Slot
from stopout.errors import CouponError
from stopout.scans.measuring.comb import CombReading, measure_comb
from stopout.scans.measuring.levels import Levels, Reference, fit_levels
from stopout.scans.measuring.room import room_mm
from stopout.scans.measuring.sections import fit_sections
from stopout.scans.measuring.strip import EdgeProfile, Strip, StripFit, fit_strip, take_strip
from stopout.scans.registering.coupon import CouponPose
from stopout.values import AXES, Axis, FloatArray, Grey

_SECTION_MM = 0.5
_WIDEST_STRIP_MM = 0.9
# Below this many standard errors a line has not been seen.
_SEEN = 4.0
# A line wider than this many blurs shows its own contrast whatever the blur's exact shape; below
# that the noise alone would let the fit trade contrast for width, and the shape decides how.
_RESOLVED = 5.0
_LEAST_SECTIONS = 4
_MOST_BLUR = 0.75
_FRESH_CONTRAST_SD = 0.10
# Lines and discs may be cleared a little differently; no scan tells that apart from width.
_CONTRAST_FLOOR = 0.003


@dataclass(frozen=True, slots=True, kw_only=True)
class LineReading:
    """One single line as measured. `axis` is the axis across which its width was taken.

    `width_sd_mm` is the standard error of the reading along this line. A line that was not seen
    has `is_cleared` False, and `bound_mm` is a width that would have been seen.
    """

    id: str
    axis: Axis
    line_dose_j_per_mm: float
    power_fraction: float
    speed_mm_s: float
    passes: int
    width_mm: float
    width_sd_mm: float
    is_cleared: bool
    bound_mm: float
    offset_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotReading:
    """One etched slot: the opening it was given, and the width it has."""

    id: str
    axis: Axis
    opening_mm: float
    width_mm: float
    width_sd_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchReading:
    """One filled patch: the share of its area where paint is left, with its standard error."""

    id: str
    line_direction: Axis
    spacing_mm: float
    left_fraction: float
    left_sd: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measurement:
    """All that a scan shows, before any fit.

    `contrast_error` is how well the contrast of narrow lines is known, as a share: it makes all
    widths wrong together. `off_share` is what the profiles miss the model by, over the contrast.
    `unread` names what could not be read, with the reason.
    """

    lines: tuple[LineReading, ...]
    slots: tuple[SlotReading, ...]
    patches: tuple[PatchReading, ...]
    combs: tuple[CombReading, ...]
    blur_mm: float
    contrast: float
    contrast_error: float
    noise: float
    off_share: float
    unread: tuple[tuple[str, str], ...]


def measure(grey: Grey, layout: CouponLayout, place: CouponPose) -> Measurement:
    """Measure everything on a coupon.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
        The scan, 0 to 255.
    layout : CouponLayout
    place : CouponPose
        Where the coupon lies in the scan.

    Raises
    ------
    CouponError
        Where contrast or sharpness are too poor, or glare covers the lines.
    """
    contrast = float(np.median([disc.inside - disc.outside for _, disc in place.discs]))
    work = _Work(grey=grey, layout=layout, place=place, contrast=contrast)
    features: list[DoseLine | Slot] = [*layout.lines, *layout.slots]
    first = [_first_look(work, feature) for feature in features]
    looks = [look for look in first if isinstance(look, _Look)]
    unread = [
        (feature.id, look)
        for feature, look in zip(features, first, strict=True)
        if isinstance(look, str)
    ]
    noise = float(np.median([look.strip.pixel_sd for look in looks])) if looks else 1.0
    _refuse_faint(contrast, noise)
    _refuse_blurred(work, looks)
    levels = fit_levels(_references(work, looks))
    kept, glared = _without_glare(looks, contrast)
    unread += glared
    if len(kept) < 0.8 * len(features):
        _refuse_unread(unread, len(features))
    offset = _common_offset(kept)
    seconds = [_second_fit(look, levels, offset) for look in kept]
    read = [_second_look(look, known, fit) for look, known, fit in seconds]
    return Measurement(
        lines=tuple(one for one in read if isinstance(one, LineReading)),
        slots=tuple(one for one in read if isinstance(one, SlotReading)),
        patches=_patches(work, levels, looks),
        combs=tuple(
            one for comb in layout.combs if (one := measure_comb(grey, place, comb)) is not None
        ),
        blur_mm=_blur_mm(work),
        contrast=contrast,
        contrast_error=float(
            max(levels.error / np.sqrt(max(len(place.discs), 1)), _CONTRAST_FLOOR)
        ),
        noise=noise,
        off_share=float(np.median([fit.off_share for _, _, fit in seconds])) if seconds else 0.0,
        unread=tuple(unread),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Work:
    grey: Grey
    layout: CouponLayout
    place: CouponPose
    contrast: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Look:
    """A feature with its strip and what a first fit made of it."""

    feature: DoseLine | Slot
    axis: Axis
    strip: Strip
    known: EdgeProfile
    fit: StripFit

    @property
    def middle_mm(self) -> Point:
        x, y = np.add(self.feature.from_mm, self.feature.to_mm) / 2
        return (float(x), float(y))


# --- first look: how wide, and how much contrast where it shows ---------------------------------


def _first_look(work: _Work, feature: DoseLine | Slot) -> _Look | str:
    """The feature's strip and a first fit, or why there is none."""
    run = np.subtract(feature.to_mm, feature.from_mm)
    length = float(np.hypot(*run))
    axis: Axis = "y" if abs(run[0]) >= abs(run[1]) else "x"
    own = feature.opening_mm / 2 if isinstance(feature, Slot) else 0.0
    trim = min(0.2 * length, max(0.8, 1.2 * own))
    room = room_mm(work.layout, feature, reach_mm=2 * _WIDEST_STRIP_MM, trim_mm=trim)
    half = own + min(0.5 * room, _WIDEST_STRIP_MM)
    sections = max(int((length - 2 * trim) / _SECTION_MM), _LEAST_SECTIONS)
    middle = np.add(feature.from_mm, feature.to_mm) / 2
    blur = work.place.blur_mm(middle, np.array([-run[1], run[0]]))
    known = EdgeProfile(
        blur_mm=blur,
        pixel_mm=1 / work.place.px_per_mm,
        contrast=work.contrast,
        contrast_sd=_FRESH_CONTRAST_SD * abs(work.contrast),
    )
    ends = (feature.from_mm, feature.to_mm)
    look: _Look | str = ""
    for _ in range(2):
        strip = take_strip(
            work.grey, work.place, ends, half_mm=half, trim_mm=trim, sections=sections
        )
        if strip is None:
            return "it lies beyond the scan's edge"
        fit = fit_strip(strip, known)
        if fit is None:
            return "no line can be made out there"
        look = _Look(feature=feature, axis=axis, strip=strip, known=known, fit=fit)
        needed = max(abs(fit.width_mm), 2 * own) / 2 + 5 * blur + 0.08
        if needed > 0.9 * half:
            break
        half = needed
    return look


def _blur_mm(work: _Work) -> float:
    return float(np.sqrt(work.place.blur.mean_px2)) / work.place.px_per_mm


def _is_resolved(look: _Look) -> bool:
    return look.fit.width_mm > _RESOLVED * look.known.blur_mm


def _references(work: _Work, looks: list[_Look]) -> list[Reference]:
    """Discs and resolved lines: where the contrast shows."""
    references = [
        Reference(
            at_mm=work.layout.marks[k].centre_mm,
            ground=disc.outside,
            contrast=disc.inside - disc.outside,
            sd=0.002 * abs(work.contrast),
        )
        for k, disc in work.place.discs
    ]
    references += [
        Reference(
            at_mm=look.middle_mm,
            ground=look.fit.ground,
            contrast=look.fit.contrast,
            sd=look.fit.contrast_sd * max(look.fit.misfit, 1.0),
        )
        for look in looks
        if _is_resolved(look) and look.fit.contrast_sd < 0.03 * abs(work.contrast)
    ]
    return references


# --- second look: with the contrast known -----------------------------------------------------


def _common_offset(looks: list[_Look]) -> dict[Axis, tuple[float, float]]:
    """How far distinct lines lie from where the layout has them: median and scatter by axis.

    The sides are those of the way from the first end to the last, turned into the axis' own.
    """
    found: dict[Axis, tuple[float, float]] = {}
    for axis in AXES:
        offsets = [
            _side(look) * look.fit.centre_mm
            for look in looks
            if look.axis == axis and look.fit.width_mm > 8 * look.fit.width_sd_mm
        ]
        if len(offsets) < 3:
            found[axis] = (0.0, 0.03)
            continue
        middle = float(np.median(offsets))
        scatter = 1.4826 * float(np.median(np.abs(np.array(offsets) - middle)))
        found[axis] = (middle, min(max(scatter, 0.001), 0.03))
    return found


def _side(look: _Look) -> float:
    """+1 where left of the line's way is the axis' positive side, else -1."""
    run = np.subtract(look.feature.to_mm, look.feature.from_mm)
    return float(np.sign(run[0] if look.axis == "y" else -run[1]))


def _second_fit(
    look: _Look, levels: Levels, offset: dict[Axis, tuple[float, float]]
) -> tuple[_Look, EdgeProfile, StripFit]:
    """Fit again with contrast and centre known."""
    contrast = levels.contrast(look.middle_mm, look.fit.ground)
    middle, scatter = offset[look.axis]
    known = replace(
        look.known,
        contrast=contrast,
        contrast_sd=(0.01 if _is_resolved(look) else 0.0) * abs(contrast),
        centre_mm=_side(look) * middle,
        centre_sd_mm=scatter,
    )
    return look, known, fit_strip(look.strip, known) or look.fit


def _second_look(look: _Look, known: EdgeProfile, fit: StripFit) -> LineReading | SlotReading:
    """The width as the mean of the sections'."""
    widths = fit_sections(look.strip, known, fit)
    width, width_sd, count = _clean_mean(widths)
    if count < _LEAST_SECTIONS:
        width, width_sd = fit.width_mm, fit.width_sd_mm * max(fit.misfit, 1.0)
    width_sd = max(width_sd, fit.width_sd_mm)
    feature = look.feature
    if isinstance(feature, Slot):
        return SlotReading(
            id=feature.id,
            axis=look.axis,
            opening_mm=feature.opening_mm,
            width_mm=width,
            width_sd_mm=width_sd,
        )
    bound = _SEEN * width_sd
    return LineReading(
        id=feature.id,
        axis=look.axis,
        line_dose_j_per_mm=feature.line_dose_j_per_mm,
        power_fraction=feature.power_fraction,
        speed_mm_s=feature.speed_mm_s,
        passes=feature.passes,
        width_mm=width,
        width_sd_mm=width_sd,
        is_cleared=width > bound,
        bound_mm=bound,
        offset_mm=_side(look) * fit.centre_mm,
    )


def _clean_mean(widths: FloatArray) -> tuple[float, float, int]:
    """Mean of the sections without those that dust has spoilt: (mean, standard error, count)."""
    kept = widths[np.isfinite(widths)]
    if not len(kept):
        return 0.0, 0.0, 0
    middle = float(np.median(kept))
    spread = 1.4826 * float(np.median(np.abs(kept - middle)))
    kept = kept[np.abs(kept - middle) <= 3.5 * max(spread, 2e-4)]
    if len(kept) < 2:
        return middle, spread, len(kept)
    return float(kept.mean()), float(kept.std(ddof=1) / np.sqrt(len(kept))), len(kept)


# --- patches ----------------------------------------------------------------------------------


def _patches(work: _Work, levels: Levels, looks: list[_Look]) -> tuple[PatchReading, ...]:
    if not work.layout.patches:
        return ()
    grounds = [
        Reference(at_mm=work.layout.marks[k].centre_mm, ground=0.0, contrast=disc.outside, sd=0.5)
        for k, disc in work.place.discs
    ]
    grounds += [
        Reference(at_mm=look.middle_mm, ground=0.0, contrast=look.fit.ground, sd=0.5)
        for look in looks
    ]
    paint = fit_levels(grounds)
    found = []
    for patch in work.layout.patches:
        x0, y0, x1, y1 = patch.box_mm
        inset = 0.18 * min(x1 - x0, y1 - y0)
        centre = ((x0 + x1) / 2, (y0 + y1) / 2)
        ends = ((x0 + inset, centre[1]), (x1 - inset, centre[1]))
        strip = take_strip(
            work.grey, work.place, ends, half_mm=(y1 - y0) / 2 - inset, trim_mm=0.0, sections=8
        )
        if strip is None:
            continue
        ground = paint.contrast(centre, 0.0)
        contrast = levels.contrast(centre, ground)
        parts = [
            np.average(strip.level[strip.section == k], weights=strip.count[strip.section == k])
            for k in range(strip.sections)
        ]
        share = 1 - (np.array(parts) - ground) / contrast
        own = float(share.std(ddof=1)) / np.sqrt(len(share))
        found.append(
            PatchReading(
                id=patch.id,
                line_direction=patch.line_direction,
                spacing_mm=patch.spacing_mm,
                left_fraction=float(np.clip(share.mean(), 0, 1)),
                left_sd=float(np.hypot(own, levels.error)),
            )
        )
    return tuple(found)


# --- refusals ---------------------------------------------------------------------------------


def _refuse_faint(contrast: float, noise: float) -> None:
    if abs(contrast) < 15 or abs(contrast) < 3 * noise:
        raise CouponError(
            f"paint and cleared parts differ by {abs(contrast):.0f} of 255 grey levels with a "
            f"noise of {noise:.0f}; scan with more exposure, without filters, the coupon's face "
            "down and dry"
        )


def _refuse_blurred(work: _Work, looks: list[_Look]) -> None:
    blur = _blur_mm(work)
    widest = max((look.fit.width_mm for look in looks), default=0.0)
    if widest > 0 and blur > _MOST_BLUR * widest:
        raise CouponError(
            f"the scan is blurred: edges are spread over {1000 * blur:.0f} um (standard "
            f"deviation) and the widest line is {1000 * widest:.0f} um; lay the coupon flat on "
            "the glass, clean the glass, and scan at 1200 dpi"
        )


def _without_glare(
    looks: list[_Look], contrast: float
) -> tuple[list[_Look], list[tuple[str, str]]]:
    """Leave out lines whose surrounding paint is as bright as what is cleared."""
    if not looks:
        return [], []
    paint = float(np.median([look.fit.ground for look in looks]))
    kept, lost = [], []
    for look in looks:
        if (look.fit.ground - paint) / contrast > 0.6:
            lost.append((look.feature.id, "glare lies on it"))
        else:
            kept.append(look)
    return kept, lost


def _refuse_unread(unread: list[tuple[str, str]], total: int) -> None:
    reasons = [reason for _, reason in unread]
    most = max(set(reasons), key=reasons.count)
    remedy = (
        "turn the coupon or light it from the side, and scan again"
        if "glare" in most
        else "scan the whole coupon again, and check that the folder given with --coupon is its own"
    )
    names = ", ".join(name for name, reason in unread if reason == most)[:60]
    raise CouponError(f"{len(unread)} of {total} lines cannot be read ({names}: {most}); {remedy}")
