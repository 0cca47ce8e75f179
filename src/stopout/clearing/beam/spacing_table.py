"""Candidate spacings of fill lines side by side, the chosen one, and why."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from stopout.clearing.beam.dose import DEFAULT_DOSE_RATIO, ratio_after_passes
from stopout.clearing.beam.mark import dose_ratios_of_spot
from stopout.clearing.beam.spacing import (
    OVERLAP_SHARE,
    RIPPLE_PITCH,
    default_spacing_mm,
    gated_scallop_mm,
    mean_dose_ratio,
    ripple,
    scallop_mm,
    valley_dose_ratio,
    widest_spacing_mm,
)
from stopout.clearing.beam.spot import FWHM_PER_RADIUS, GaussianSpot, UniformSpot, dose_ratio_of
from stopout.errors import PlanError
from stopout.units import format_number

_MM_PER_INCH = 25.4
_MM2_PER_CM2 = 100.0
# The table runs over these shares of the mark, in at most this many rows (ours, for the eye).
_FIRST, _LAST, _MOST_ROWS = 0.4, 1.1, 14
# Below this ratio 1 % of dose changes the mark by over 2 %; above e^2 a mark is wider than the
# 1/e^2 spot, where the wings of a real beam are no longer Gaussian. Limits of our own.
_ERRATIC, _WINGS = 1.25, math.exp(2)
# The marks of a job lie between what 1.01 times the threshold clears and 3000 times: so do these.
_NARROWEST_RADII, _WIDEST_RADII = math.sqrt(2 * math.log(1.01)), math.sqrt(2 * math.log(3000))
# Mark, dose ratio and spot that are given together may disagree by this share.
_DISAGREE = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class FillCase:
    """What a fill is to be spaced for.

    `mark_across_mm` is the measured mark across the lines, None where it follows from the dose
    ratio (2 where that is None too). `dose_ratio` is that of the spot's wider axis; across its
    narrower one the same line dose is more of the threshold. `exponent` is the accumulation
    exponent S, 1 where no addition of doses is trusted; `step_mm` None rounds nothing.
    """

    spot: GaussianSpot | UniformSpot
    line_direction: Literal["x", "y"] = "x"
    mark_across_mm: float | None = None
    dose_ratio: float | None = None
    step_mm: float | None = None
    exponent: float = 1.0
    passes: int = 1
    edge_angle_deg: float = 90.0
    speed_mm_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpacingRow:
    """One candidate spacing.

    `overlap` is 1 - p / D, of the mark D across the lines. `ripple` is the amplitude of the summed
    dose over its mean. `valley_dose_ratio` is dose / threshold midway between lines, and
    `mean_dose_ratio` the mean area dose over the area dose that just clears. Scallops are infinite
    where lines do not touch; `time_s_per_cm2` is without turning, None where no speed is known.
    """

    spacing_mm: float
    steps: int | None
    overlap: float
    ripple: float
    valley_dose_ratio: float
    mean_dose_ratio: float
    scallop_mm: float
    gated_scallop_mm: float | None
    lines_per_inch: float
    path_mm_per_cm2: float
    time_s_per_cm2: float | None
    is_chosen: bool

    @property
    def leaves_threads(self) -> bool:
        """Tell whether paint stays between the lines."""
        return self.valley_dose_ratio < 1 - 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class SpacingTable:
    """The candidates of a case.

    `radius_across_mm` is the 1/e^2 radius across the lines, the spot's or, where mark and dose
    ratio are both given, the one that they make; None for a uniform spot.
    `dose_ratio` is that of all passes; `widest_mm` the spacing whose valley just reaches the
    threshold under the case's accumulation exponent.
    """

    case: FillCase
    mark_across_mm: float
    radius_across_mm: float | None
    dose_ratio: float
    widest_mm: float
    spacing_mm: float
    rows: tuple[SpacingRow, ...]
    reason: str
    cautions: tuple[str, ...]


def spacing_table(case: FillCase) -> SpacingTable:
    """Compare spacings of fill lines and choose one by the default rule.

    Parameters
    ----------
    case : FillCase
        Spot, mark or dose ratio, motor step and what else bears on the choice.

    Raises
    ------
    PlanError
        If nothing would be cleared, or mark and spot do not fit together at all.
    """
    mark, ratio = _mark(case)
    radius = _spot_radius(case)
    if radius is not None and case.mark_across_mm is not None and case.dose_ratio is not None:
        # Both were measured: together they tell the radius better than a data sheet does.
        radius = mark / math.sqrt(2 * math.log(ratio))
    rule_radius = mark / FWHM_PER_RADIUS
    if radius is not None and case.mark_across_mm is None:
        rule_radius = radius
    chosen = default_spacing_mm(
        mark_across_mm=mark, radius_across_mm=rule_radius, step_mm=case.step_mm
    )
    # A uniform strip's mark does not follow the dose: strips have to touch, whatever S.
    widest = mark if radius is None else widest_spacing_mm(radius, ratio, exponent=case.exponent)
    rows = tuple(
        _row(case, spacing, mark, radius, ratio, is_chosen=abs(spacing - chosen) < 1e-9)
        for spacing in _candidates(chosen, mark, widest, case.step_mm)
    )
    return SpacingTable(
        case=case,
        mark_across_mm=mark,
        radius_across_mm=radius,
        dose_ratio=ratio,
        widest_mm=widest,
        spacing_mm=chosen,
        rows=rows,
        reason=_reason(case, chosen, mark, rule_radius, widest),
        cautions=tuple(_cautions(case, rows, mark, ratio, radius)),
    )


def _travel_deg(case: FillCase) -> float:
    return 0.0 if case.line_direction == "x" else 90.0


def _spot_radius(case: FillCase) -> float | None:
    if isinstance(case.spot, UniformSpot):
        return None
    return case.spot.radius_across_mm(_travel_deg(case))


def _mark(case: FillCase) -> tuple[float, float]:
    """Return the mark across the lines and the dose ratio that it stands for, all passes told."""
    given = case.dose_ratio
    if given is not None and given <= 1:
        raise PlanError(
            f"the dose ratio is {given:g}: at or under the threshold (1) nothing is cleared; "
            "give more, usually 2"
        )
    ratio = ratio_after_passes(_ratio_across(case), case.passes, case.exponent)
    mark, radius = case.mark_across_mm, _spot_radius(case)
    if mark is None:
        return case.spot.mark_across_mm(_travel_deg(case), ratio), ratio
    if radius is None or given is not None:
        return mark, ratio
    if not _NARROWEST_RADII * radius <= mark <= _WIDEST_RADII * radius:
        times = format_number(mark / (2 * radius), digits=2)
        raise PlanError(
            f"a mark of {format_number(mark, digits=4)} mm is {times} times as wide as the spot's "
            f"1/e2 width of {2 * radius:.4g} mm: check both, and what the spot's width means"
        )
    return mark, dose_ratio_of(mark, radius)


def _ratio_across(case: FillCase) -> float:
    """Return one pass's dose ratio across the lines: one threshold of fluence sets both axes'."""
    widths = case.spot.side_mm if isinstance(case.spot, UniformSpot) else case.spot.radius_mm
    ratios = dose_ratios_of_spot(widths, case.dose_ratio or DEFAULT_DOSE_RATIO)
    return ratios[1 if case.line_direction == "x" else 0]


def _candidates(chosen: float, mark: float, widest: float, step_mm: float | None) -> list[float]:
    """Return rising spacings around the chosen one, in whole steps where there are any."""
    top = max(_LAST * mark, 1.02 * widest)
    if step_mm is None:
        shares = [k / 10 * mark for k in range(4, math.floor(10 * top / mark) + 1)]
        spacings = [p for p in shares if abs(p - chosen) > 0.005 * mark]
        return sorted([*spacings, chosen])
    kept = round(chosen / step_mm)
    first = min(kept, max(1, math.floor(_FIRST * mark / step_mm)))
    last = max(kept, math.ceil(top / step_mm))
    stride = max(1, math.ceil((last - first + 1) / _MOST_ROWS))
    return [k * step_mm for k in range(first, last + 1) if (k - kept) % stride == 0]


def _row(
    case: FillCase, spacing: float, mark: float, radius: float | None, ratio: float, is_chosen: bool
) -> SpacingRow:
    if radius is None:
        uneven, valley, mean = _strips(spacing, mark, ratio, case.exponent)
        gated = None
    else:
        uneven = ripple(spacing, radius)
        valley = valley_dose_ratio(spacing, radius, ratio, exponent=case.exponent)
        mean = mean_dose_ratio(spacing, radius, ratio)
        gated = gated_scallop_mm(spacing, radius, ratio)
    path = _MM2_PER_CM2 / spacing * case.passes
    return SpacingRow(
        spacing_mm=spacing,
        steps=None if case.step_mm is None else round(spacing / case.step_mm),
        overlap=1 - spacing / mark,
        ripple=uneven,
        valley_dose_ratio=valley,
        mean_dose_ratio=mean,
        scallop_mm=scallop_mm(spacing, mark / 2, case.edge_angle_deg),
        gated_scallop_mm=gated,
        lines_per_inch=_MM_PER_INCH / spacing,
        path_mm_per_cm2=path,
        time_s_per_cm2=None if case.speed_mm_s is None else path / case.speed_mm_s,
        is_chosen=is_chosen,
    )


def _strips(
    spacing: float, side: float, ratio: float, exponent: float
) -> tuple[float, float, float]:
    """Return ripple, valley and mean dose ratio of uniform strips.

    Each point gets floor(b/p) or ceil(b/p) of them; the dose is even only where b/p is whole.
    """
    laps = side / spacing
    whole = math.floor(laps + 1e-9)
    is_even = abs(laps - round(laps)) < 1e-9
    valley = ratio * whole ** (1 - exponent) if whole else 0.0
    return 0.0 if is_even else spacing / (2 * side), valley, ratio * laps


def _reason(case: FillCase, chosen: float, mark: float, rule_radius: float, widest: float) -> str:
    """Say in a sentence or two why this spacing is chosen."""
    lap, even = OVERLAP_SHARE * mark, RIPPLE_PITCH * rule_radius
    if lap <= even:
        why = f"{OVERLAP_SHARE:g} of the mark of {mark:.4g} mm, {lap:.4g} mm"
        other = f" (the spacing of 5 % ripple, {format_number(even, digits=4)} mm, is wider)"
    else:
        why = f"the spacing of 5 % ripple, 1.1566 w = {format_number(even, digits=4)} mm"
        other = f" ({OVERLAP_SHARE:g} of the mark, {format_number(lap, digits=4)} mm, is wider)"
    if isinstance(case.spot, UniformSpot):
        other = ""
    if case.step_mm is None:
        head = f"{chosen:.4g} mm is {why}{other}; no motor step is given, so it is not rounded."
    else:
        steps = round(chosen / case.step_mm)
        head = (
            f"{chosen:.4g} mm is {steps} motor step{'s' if steps > 1 else ''} of "
            f"{format_number(case.step_mm, digits=4)} mm, the most that stay within {why}{other}."
        )
        if chosen > min(lap, even) * (1 + 1e-9):
            head = (
                f"{chosen:.4g} mm is one motor step, the least there is, though wider than {why}."
            )
    if case.exponent >= 1 or isinstance(case.spot, UniformSpot):
        return f"{head} No addition of neighbouring doses is trusted."
    return (
        f"{head} That trusts no addition of neighbouring doses; at S = {case.exponent:g} the "
        f"valley would reach the threshold up to {widest:.4g} mm, for a coupon's patches to show."
    )


def _cautions(
    case: FillCase,
    rows: tuple[SpacingRow, ...],
    mark: float,
    ratio: float,
    radius: float | None,
) -> list[str]:
    told = []
    if case.mark_across_mm is None and case.dose_ratio is None:
        told.append(
            f"coupon needed: the mark of {mark:.4g} mm is calculated from the spot at a dose ratio "
            f"of {DEFAULT_DOSE_RATIO:g} across its wider axis, not measured; measure it and give "
            "--mark"
        )
    if any(row.is_chosen and row.leaves_threads for row in rows):
        told.append(
            "lines one motor step apart leave threads of paint: the mark is narrower than a step; "
            "raise the dose, or widen the spot"
        )
    spot_radius = _spot_radius(case)
    if spot_radius is None or radius is None:
        return told
    if abs(radius / spot_radius - 1) > _DISAGREE:
        told.append(
            f"this mark at this dose ratio makes the spot {2 * radius:.3g} mm wide (1/e2), not "
            f"{format_number(2 * spot_radius, digits=3)} mm as given; check the three"
        )
    if ratio < _ERRATIC:
        share = 1 / (2 * math.log(ratio))
        told.append(
            f"the dose ratio is {ratio:.3g}: so near the threshold 1 % of dose changes the mark by "
            f"{format_number(share, digits=2)} %; aim at 1.65 to 3"
        )
    if ratio > _WINGS:
        told.append(
            f"the dose ratio is {ratio:.3g}: the mark is wider than the 1/e2 spot, where real "
            "beams are no longer Gaussian; check spot and mark, or lower the dose"
        )
    return told
