"""What `stopout read` prints: lines for a person, and a summary as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from stopout.clearing.beam.dose import DEFAULT_DOSE_RATIO
from stopout.scans.fitting.clearing import AxisFit, Refused
from stopout.values import AXES

if TYPE_CHECKING:
    from stopout.scans.reading.whole import Reading
    from stopout.values import Measured

_TONES = {"light": "sRGB", "plain": "plain levels"}
_BY = {"told": "as told", "seen": "by its edges", "assumed": "assumed"}
_ALONG = {"x": "y", "y": "x"}


def lines_of(reading: Reading, name: str) -> list[str]:
    """What a person reads at the bench."""
    place, measured = reading.place, reading.measured
    residual = "" if place.residual_mm is None else f", off by {1000 * place.residual_mm:.1f} um"
    rows = [
        f"{name}: {reading.dpi:.0f} dpi by {len(place.discs)} of {len(reading.layout.marks)} discs"
        f"{residual}; turned by {place.rotation_deg:.1f} deg; edges blurred over "
        f"{1000 * measured.blur_mm:.0f} um; {_TONES[reading.tone]} {_BY[reading.tone_by]}"
    ]
    if reading.bar is not None:
        bar = reading.bar
        rows.append(
            f"scale bar: {bar.seen_mm:.2f} mm by the coupon's discs, {bar.told_mm:g} as told "
            f"({100 * bar.error:+.2f} %, standard deviation {100 * bar.sd:.1f})"
        )
    for one in reading.axes:
        rows += _axis_lines(one)
    rows += _setting_lines(reading)
    rows += _etch_lines(reading)
    rows += _patch_lines(reading)
    for timing in reading.timing:
        play = "" if timing.play_mm is None else f", play {_um(timing.play_mm)}"
        rows.append(
            f"along {timing.axis} the beam is late by {timing.delay_ms.value:.3f} ms "
            f"(standard error {timing.delay_ms.sd:.3f}){play}"
        )
    return rows


def summary_of(reading: Reading) -> dict[str, Any]:
    """The same for programs; measured values are [value, standard error]."""
    place, measured = reading.place, reading.measured
    summary: dict[str, Any] = {
        "format": "stopout-reading-1",
        "kind": reading.layout.kind,
        "scan": {
            "dpi": round(reading.dpi, 3),
            "stated_dpi": reading.stated_dpi,
            "scale_error": reading.scale_error,
            "rotation_deg": round(place.rotation_deg, 4),
            "mirrored": place.is_mirrored,
            "cleared_is": "brighter" if place.is_bright else "darker",
            "discs_found": len(place.discs),
            "residual_mm": place.residual_mm,
            "blur_mm": measured.blur_mm,
            "tone": reading.tone,
            "tone_by": reading.tone_by,
            "tone_open": reading.is_tone_open,
            "tone_change": reading.tone_change,
            "bar": None
            if reading.bar is None
            else {
                "seen_mm": reading.bar.seen_mm,
                "told_mm": reading.bar.told_mm,
                "error": [reading.bar.error, reading.bar.sd],
            },
        },
    }
    if reading.layout.kind == "clearing":
        summary |= _clearing_summary(reading)
    if reading.etch is not None:
        summary |= _etch_summary(reading)
    summary["unread"] = [list(item) for item in measured.unread]
    summary["cautions"] = list(reading.cautions)
    return summary


# --- lines ------------------------------------------------------------------------------------


def _axis_lines(one: AxisFit | Refused) -> list[str]:
    if isinstance(one, Refused):
        if not one.has_lines:
            return [f"across {one.axis}: no lines along {_ALONG[one.axis]} on this coupon"]
        return [f"across {one.axis}: refused, for {one.reason}"]
    w0, w1 = one.interval(one.spot_mm)
    t0, t1 = one.interval(one.threshold_j_per_mm)
    passes = " a pass" if one.incubation else ""
    rows = [
        f"across {one.axis}, from {len(one.used)} lines along {_ALONG[one.axis]}:",
        f"  spot {one.spot_mm.value:.4f} mm (1/e2 full width; 95 %: {w0:.4f} to {w1:.4f})",
        f"  threshold {one.threshold_j_per_mm.value:.5f} J/mm{passes} at {one.speed_mm_s:g} mm/s "
        f"(95 %: {t0:.5f} to {t1:.5f})",
        f"  a line's width scatters by {1000 * one.width_sd_mm:.1f} um; {_goodness(one)}",
    ]
    if one.incubation:
        rows.append(
            f"  S {one.incubation.value:.3f} (standard error {one.incubation.sd:.3f}), "
            f"with up to {one.passes_tested} passes"
        )
    if one.conduction_w and one.power_slope_j_per_mm:
        rows.append(
            f"  threshold power {one.power_slope_j_per_mm.value:.4f} J/mm x speed + "
            f"{one.conduction_w.value:.3f} W (standard errors {one.power_slope_j_per_mm.sd:.4f}, "
            f"{one.conduction_w.sd:.3f})"
        )
    outside = [name for name, why in one.left_out if why != "not cleared"]
    if outside:
        rows.append(f"  left out: {', '.join(outside)}")
    return rows


def _setting_lines(reading: Reading) -> list[str]:
    """What to set for twice the threshold, at the speed that it was told for."""
    fits = [one for one in reading.axes if isinstance(one, AxisFit)]
    full = reading.layout.identity.power_w
    if len(fits) < 2 or not full or fits[0].speed_mm_s != fits[1].speed_mm_s:
        return []
    speed = fits[0].speed_mm_s
    share = DEFAULT_DOSE_RATIO * max(one.threshold_j_per_mm.value for one in fits) * speed / full
    if share > 1:
        return []
    return [f"twice the threshold: {100 * share:.3g} % of full power at {speed:g} mm/s"]


def _goodness(one: AxisFit) -> str:
    if one.fit_p is None:
        return "no repeats to test the fit by"
    word = "fits" if one.fit_p >= 0.01 else "fits poorly"
    return f"{word} (lack of fit p = {one.fit_p:.2g})"


def _etch_lines(reading: Reading) -> list[str]:
    etch = reading.etch
    if etch is None:
        return []
    u0, u1 = etch.interval(etch.undercut_mm)
    rows = [
        f"undercut {1000 * etch.undercut_mm.value:.1f} um an edge, from {len(etch.used)} slots "
        f"(95 %: {1000 * u0:.1f} to {1000 * u1:.1f})"
    ]
    if etch.etch_factor is None:
        rows.append("etch factor: give the depth with --depth")
    else:
        f0, f1 = etch.interval(etch.etch_factor)
        rows.append(
            f"etch factor {etch.etch_factor.value:.3f} = depth / undercut an edge "
            f"(95 %: {f0:.3f} to {f1:.3f})"
        )
    if reading.depths is not None:
        depths = reading.depths
        rows.append(
            f"depth {1000 * depths.wide_mm.value:.1f} um in wide openings"
            + (
                f", half of that where {1000 * depths.half_width_mm.value:.0f} um wide"
                if depths.half_width_mm.value
                else "; no change with the width can be told"
            )
        )
    rows += [f"  left out: {name} ({why})" for name, why in etch.left_out]
    return rows


def _patch_lines(reading: Reading) -> list[str]:
    from stopout.scans.reading.whole import spacing_that_clears_mm

    if not reading.measured.patches:
        return []
    rows = []
    for axis in AXES:
        mine = [one for one in reading.measured.patches if one.line_direction == axis]
        if not mine:
            continue
        clear = spacing_that_clears_mm(reading.measured, axis)
        left = ", ".join(
            f"{patch.spacing_mm:g} mm: {100 * patch.left_fraction:.0f} %"
            for patch in sorted(mine, key=lambda one: one.spacing_mm)
        )
        found = "no patch is clear" if clear is None else f"clear up to a spacing of {clear:g} mm"
        rows.append(f"patches of lines along {axis}: {found}; paint left at {left}")
    return rows


def _um(value: Measured) -> str:
    return f"{1000 * value.value:.0f} um (standard error {1000 * value.sd:.0f})"


# --- JSON -------------------------------------------------------------------------------------


def _pair(value: Measured | None) -> list[float] | None:
    return None if value is None else [value.value, value.sd]


def _clearing_summary(reading: Reading) -> dict[str, Any]:
    from stopout.scans.reading.whole import spacing_that_clears_mm

    fits = {one.axis: one for one in reading.axes if isinstance(one, AxisFit)}
    return {
        "spot_mm": {a: _pair(fits[a].spot_mm) if a in fits else None for a in AXES},
        "line_dose_threshold_j_per_mm": {
            a: _pair(fits[a].threshold_j_per_mm) if a in fits else None for a in AXES
        },
        "fits": {a: _fit_summary(one) for a, one in fits.items()},
        "refused": {one.axis: one.reason for one in reading.axes if isinstance(one, Refused)},
        "lines": [
            {
                "id": line.id,
                "across": line.axis,
                "line_dose_j_per_mm": line.line_dose_j_per_mm,
                "speed_mm_s": line.speed_mm_s,
                "passes": line.passes,
                "width_mm": [line.width_mm, line.width_sd_mm],
                "cleared": line.is_cleared,
            }
            for line in reading.measured.lines
        ],
        "patches": [
            {
                "id": p.id,
                "lines_along": p.line_direction,
                "spacing_mm": p.spacing_mm,
                "paint_left": [p.left_fraction, p.left_sd],
            }
            for p in reading.measured.patches
        ],
        "clear_spacing_mm": {
            "x": spacing_that_clears_mm(reading.measured, "x"),
            "y": spacing_that_clears_mm(reading.measured, "y"),
        },
        "timing": [
            {"along": t.axis, "delay_ms": _pair(t.delay_ms), "play_mm": _pair(t.play_mm)}
            for t in reading.timing
        ],
    }


def _fit_summary(one: AxisFit) -> dict[str, Any]:
    return {
        "dof": one.dof,
        "spot_95_mm": list(one.interval(one.spot_mm)),
        "threshold_95_j_per_mm": list(one.interval(one.threshold_j_per_mm)),
        "correlation": one.correlation,
        "speed_mm_s": one.speed_mm_s,
        "incubation": _pair(one.incubation),
        "power_slope_j_per_mm": _pair(one.power_slope_j_per_mm),
        "conduction_w": _pair(one.conduction_w),
        "width_scatter_mm": one.width_sd_mm,
        "lack_of_fit_p": one.fit_p,
        "bend_p": one.bend_p,
        "used": [line.id for line in one.used],
        "left_out": [list(item) for item in one.left_out],
    }


def _etch_summary(reading: Reading) -> dict[str, Any]:
    etch, depths = reading.etch, reading.depths
    assert etch is not None
    return {
        "undercut_mm": _pair(etch.undercut_mm),
        "undercut_95_mm": list(etch.interval(etch.undercut_mm)),
        "etch_factor": _pair(etch.etch_factor),
        "dof": etch.dof,
        "depth_mm": _pair(reading.depth),
        "undercut_by_axis_mm": {axis: _pair(value) for axis, value in etch.by_axis_mm},
        "undercut_change_per_mm": _pair(etch.change_per_mm),
        "undercut_change_p": etch.change_p,
        "depth_by_width": depths
        and {
            "wide_mm": _pair(depths.wide_mm),
            "half_width_mm": _pair(depths.half_width_mm),
            "change_p": depths.change_p,
        },
        "slots": [
            {
                "id": slot.id,
                "across": slot.axis,
                "opening_mm": slot.opening_mm,
                "width_mm": [slot.width_mm, slot.width_sd_mm],
            }
            for slot in reading.measured.slots
        ],
        "left_out": [list(item) for item in etch.left_out],
    }
