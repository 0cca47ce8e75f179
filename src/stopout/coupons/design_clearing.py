"""The clearing coupon: single lines at stepped doses, patches at stepped spacings, timing combs.

Ten line doses in geometric steps of 1.29 for each axis, two of them below the expected threshold
and eight from 1.15 to 6.8 times it, three times over: enough for a standard error of 3 % in the
spot and of 3 to 5 % in the threshold where a line is read to 5 um (the straight line of D^2 over
ln dose). The power is stepped at one speed, so that the dwell stays the same. On metal one more
set runs at a second speed: heat that the metal leads away makes the threshold depend on it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from stopout.clearing import mark_width_mm
from stopout.coupons.design import CouponPart, Settings, label, with_labels
from stopout.coupons.layout import Cleared, Comb, DoseLine, SpacingPatch, Tooth
from stopout.units import rounded_down
from stopout.values import AXES, Axis

_STEP, _FIRST_CLEARING = 1.29, 1.15
_N_LEVELS, N_DARK = 10, 2
# Line dose over the expected threshold, level by level: counts and steps are common practice.
DOSE_RATIOS = tuple(_FIRST_CLEARING * _STEP ** (k - N_DARK) for k in range(_N_LEVELS))
_REPEATS = 3
# Lines are measured away from their ends; they are spaced so far that they do not heat each other.
_LINE_MM, _APART_MARKS = 10.0, 5.0
# A search for the threshold: its sets at most, the levels that two of them share, and how many lie
# above the upper bound. Ours.
_MOST_SETS, _OVERLAP, _ABOVE = 3, 2, 6
# Slower than this paint burns on by itself (ours); a weak beam then gives less dose.
_SLOWEST_MM_S = 0.5
# The set that shows what repeated passes do begins lower, for passes may add up.
_NEARLY = 0.9
_PASSES, _PASSES_SHARE = 4, 1 / 1.6
_PATCH_MM = 4.0
_SPACINGS = (0.6, 0.8, 1.0, 1.2, 1.4, 1.6)
_FEW_SPACINGS = (0.8, 1.0, 1.3, 1.6)
_TEETH, _TOOTH_MM = 12, 5.0
_LEAST_PITCH_MM = 0.4
# Labels and lines keep this far apart.
_CLEAR_MM = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """How one set of lines is run; `share` scales its doses, `doses_j_per_mm` replaces them."""

    name: str
    axis: Axis
    speed_mm_s: float
    passes: int = 1
    share: float = 1.0
    doses_j_per_mm: tuple[float, ...] = ()


def clearing_parts(settings: Settings, compactness: int = 0) -> list[CouponPart]:
    """The parts of a clearing coupon, the most important first.

    Parameters
    ----------
    settings : Settings
        The beam at the job's settings and the machine's limits.
    compactness : int
        At 1 there are fewer patches; at 2 also no digits beside the lines.
    """
    is_compact = compactness >= 2
    if settings.search_j_per_mm is not None:
        return [
            replace(_lines(run, settings, is_compact), is_needed=True)
            for run in _search(settings.search_j_per_mm, settings)
        ]
    speed = coupon_speed_mm_s(settings)
    sets = [
        [
            _lines(
                _Run(name=f"{axis.upper()}{k}", axis=axis, speed_mm_s=speed), settings, is_compact
            )
            for axis in AXES
        ]
        for k in range(1, _REPEATS + 1)
    ]
    again = _Run(name="P1", axis="x", speed_mm_s=speed, passes=_PASSES, share=_PASSES_SHARE)
    more = [_lines(again, settings, is_compact)]
    if settings.is_metal:
        other = _Run(name="V1", axis="x", speed_mm_s=_other_speed(speed, settings, DOSE_RATIOS[-1]))
        more.insert(0, _lines(other, settings, is_compact))
    patches = {axis: _patches(axis, settings, compactness) for axis in AXES}
    combs = {axis: _combs(axis, settings) for axis in AXES}
    return [*sets[0], patches["x"], combs["x"], combs["y"], *sets[1], patches["y"], *sets[2], *more]


def threshold_j_per_mm(axis: Axis, settings: Settings) -> float:
    """Expected threshold line dose [J/mm] of a line along an axis, one pass."""
    dose = settings.power_w * settings.power_fraction / settings.speed_mm_s
    return dose / settings.dose_ratio[_across(axis)]


def coupon_speed_mm_s(settings: Settings) -> float:
    """The job's speed, or the fastest at which full power still gives the largest dose.

    Where the power falls short by less than a tenth the speed stays: the strongest line then gets
    full power and a little less dose.
    """
    most = max(threshold_j_per_mm(axis, settings) for axis in AXES) * DOSE_RATIOS[-1]
    fastest = settings.power_w / most
    if fastest >= _NEARLY * settings.speed_mm_s:
        return settings.speed_mm_s
    return rounded_down(fastest)


def expected_width_mm(line: DoseLine, settings: Settings) -> float:
    """The width that a line is expected to clear, 0 where none; passes are not taken to add up."""
    axis: Axis = "x" if line.from_mm[1] == line.to_mm[1] else "y"
    ratio = line.line_dose_j_per_mm / line.passes / threshold_j_per_mm(axis, settings)
    return mark_width_mm(settings.radius_mm[_across(axis)], ratio)


def _search(bounds_j_per_mm: tuple[float, float], settings: Settings) -> list[_Run]:
    """Sets of lines that look for a threshold of which only two bounds are known.

    Each set is one speed and ten powers; its doses begin a little below the highest of the set
    before it, so that one of them has the threshold with levels on both sides of it. Three levels
    lie above the upper bound and one below the lower.
    """
    first, last = bounds_j_per_mm[0] / _STEP, bounds_j_per_mm[1] * _STEP**_ABOVE
    n = _N_LEVELS
    # k sets of n levels overlapping by `_OVERLAP`: k n - (k - 1) _OVERLAP levels in all.
    counts = [k * n - (k - 1) * _OVERLAP for k in range(1, _MOST_SETS + 1)]
    steps = [(last / first) ** (1 / (count - 1)) for count in counts]
    sets = next((k for k, step in enumerate(steps, 1) if step <= _STEP), _MOST_SETS)
    step = max(steps[sets - 1], _STEP)
    runs = []
    for k in range(sets):
        top = last / step ** ((n - _OVERLAP) * k)
        doses = tuple(top / step ** (n - 1 - j) for j in range(n))
        speed = rounded_down(min(settings.power_w / top, settings.top_speed_mm_s))
        speed = max(speed, _SLOWEST_MM_S)
        runs += [
            _Run(name=f"{axis.upper()}{sets - k}", axis=axis, speed_mm_s=speed,
                 doses_j_per_mm=doses)
            for axis in AXES
        ]  # fmt: skip
    return runs[::-1]


def expected_words(line: DoseLine, settings: Settings) -> str:
    """What a line is expected to clear, in words; nothing is expected of a search."""
    if settings.search_j_per_mm is not None:
        return "not known"
    width = expected_width_mm(line, settings)
    return f"{1000 * width:.0f} um" if width > 0 else "not cleared"


def told_lines(lines: Sequence[DoseLine], settings: Settings) -> list[DoseLine]:
    """The lines that a table shows: the first set of each kind, of a search all of them."""
    return [one for one in lines if settings.search_j_per_mm is not None or one.id[1] == "1"]


def _across(axis: Axis) -> int:
    """Index of the axis across a line: 1 (y) for lines along x."""
    return 1 if axis == "x" else 0


def _other_speed(speed_mm_s: float, settings: Settings, dose_ratio: float) -> float:
    """A second speed: twice the first where power and machine allow it, else half of it."""
    dose = max(threshold_j_per_mm(axis, settings) for axis in AXES) * dose_ratio
    twice = 2 * speed_mm_s
    if twice <= settings.top_speed_mm_s and dose * twice <= settings.power_w:
        return twice
    return speed_mm_s / 2


def _lines(run: _Run, settings: Settings, is_compact: bool) -> CouponPart:
    """One set of dose lines with its name above it, and the levels' digits beside the lines."""
    across = _across(run.axis)
    most = DOSE_RATIOS[-1]
    if run.doses_j_per_mm:
        most = max(most, run.doses_j_per_mm[-1] / threshold_j_per_mm(run.axis, settings))
    widest = mark_width_mm(settings.radius_mm[across], most)
    digit = label("0", settings, at_mm=(0.0, 0.0))
    beside = digit.size_mm[_across(run.axis)]
    pitch = _APART_MARKS * widest
    if not is_compact:
        pitch = max(pitch, 1.15 * beside)
    margin = max(widest, 0 if is_compact else beside) / 2
    before = widest if is_compact else digit.size_mm[1 - _across(run.axis)] + _CLEAR_MM
    title = label(run.name, settings, at_mm=(0.0, 0.0))
    long = before + _LINE_MM + widest
    high = 2 * margin + (_N_LEVELS - 1) * pitch
    lines, digits = [], []
    doses = run.doses_j_per_mm or tuple(
        threshold_j_per_mm(run.axis, settings) * ratio * run.share for ratio in DOSE_RATIOS
    )
    for k, wanted in enumerate(doses):
        at = margin + k * pitch
        ends = ((before, at), (before + _LINE_MM, at))
        (x0, y0), (x1, y1) = ends if run.axis == "x" else tuple((y, x) for x, y in ends)
        dose = min(wanted, settings.power_w / run.speed_mm_s)
        lines.append(
            DoseLine(
                id=f"{run.name}-{k}",
                from_mm=(x0, y0),
                to_mm=(x1, y1),
                line_dose_j_per_mm=dose * run.passes,
                # Full power is one to the last digit: a quotient a digit above it is refused.
                power_fraction=min(1.0, dose * run.speed_mm_s / settings.power_w),
                speed_mm_s=run.speed_mm_s,
                passes=run.passes,
            )
        )
        if not is_compact:
            corner = (0.0, at - beside / 2)
            digits.append(
                label(f"{k}", settings, at_mm=corner if run.axis == "x" else corner[::-1])
            )
    size = (long, high) if run.axis == "x" else (high, long)
    named = title.moved(0.0, size[1] + _CLEAR_MM)
    return with_labels(
        CouponPart(
            name=run.name,
            size_mm=(max(size[0], title.size_mm[0]), size[1] + _CLEAR_MM + title.size_mm[1]),
            is_needed=run.name.endswith("1") and run.name[0] in "XY",
            lines=tuple(lines),
        ),
        [named, *digits],
    )


def _patches(axis: Axis, settings: Settings, compactness: int) -> CouponPart:
    """A row of filled squares, each with its spacing in um below it."""
    base = settings.spacing_mm[0 if axis == "x" else 1]
    steps = base / settings.step_mm
    spacings = sorted(
        {max(1, round(steps * share)) for share in (_FEW_SPACINGS if compactness else _SPACINGS)}
    )
    below = settings.letter_mm + settings.mark_mm[1] + _CLEAR_MM
    texts = [f"{1000 * n * settings.step_mm:.4g}" for n in spacings]
    labels = [label(text, settings, at_mm=(0.0, 0.0)) for text in texts]
    pitch = max(_PATCH_MM, *(one.size_mm[0] for one in labels)) + 1.0
    title = label(f"{axis.upper()}P", settings, at_mm=(0.0, 0.0))
    left = title.size_mm[0] + _CLEAR_MM
    patches = []
    for k, n in enumerate(spacings):
        corner = (left + k * pitch, below)
        spacing = n * settings.step_mm
        across = _across(axis)
        rows = math.floor((_PATCH_MM - settings.mark_mm[across]) / spacing + 1e-9) + 1
        high = (rows - 1) * spacing + settings.mark_mm[across]
        far = (_PATCH_MM, high) if axis == "x" else (high, _PATCH_MM)
        patches.append(
            SpacingPatch(
                id=f"{axis.upper()}P-{k}",
                box_mm=(*corner, corner[0] + far[0], corner[1] + far[1]),
                spacing_mm=round(spacing, 6),
                line_direction=axis,
            )
        )
    placed = [one.moved(left + k * pitch, 0.0) for k, one in enumerate(labels)]
    return with_labels(
        CouponPart(
            name=f"{axis.upper()}P",
            size_mm=(left + len(spacings) * pitch, below + _PATCH_MM),
            patches=tuple(patches),
        ),
        [title.moved(0.0, below), *placed],
    )


def _combs(axis: Axis, settings: Settings) -> CouponPart:
    """Two combs at two speeds: a delay shifts the teeth by speed, a backlash does not."""
    ratio = settings.dose_ratio[_across(axis)]
    speeds = (settings.speed_mm_s, _other_speed(settings.speed_mm_s, settings, ratio))
    pitch = max(4 * max(settings.mark_mm), _LEAST_PITCH_MM)
    deep = (_TEETH - 1) * pitch + max(settings.mark_mm)
    title = label(f"{axis.upper()}C", settings, at_mm=(0.0, 0.0))
    offset = max(settings.mark_mm) / 2
    combs, far = [], 0.0
    for k, speed in enumerate(speeds):
        start = offset + k * (deep + 1.0)
        teeth = []
        for j in range(_TEETH):
            ends = ((offset, start + j * pitch), (offset + _TOOTH_MM, start + j * pitch))
            first, last = ends if j % 2 == 0 else ends[::-1]
            if axis == "y":
                first, last = first[::-1], last[::-1]
            teeth.append(Tooth(from_mm=first, to_mm=last))
        combs.append(
            Comb(
                id=f"{axis.upper()}C-{k}",
                axis=axis,
                speed_mm_s=speed,
                power_fraction=min(1.0, settings.power_fraction * speed / settings.speed_mm_s),
                teeth=tuple(teeth),
            )
        )
        far = start + deep
    wide = _TOOTH_MM + 2 * offset
    size = (wide, far) if axis == "x" else (far, wide)
    box = (0.0, 0.0, *size)
    return with_labels(
        CouponPart(
            name=f"{axis.upper()}C",
            size_mm=(max(size[0], title.size_mm[0]), size[1] + _CLEAR_MM + title.size_mm[1]),
            combs=tuple(combs),
            other=(Cleared(box_mm=box, what=f"timing combs along {axis}"),),
        ),
        [title.moved(0.0, size[1] + _CLEAR_MM)],
    )
