"""What a clearing takes, what it can never go under, and what would make it faster.

Floors, all for one piece: the kinematic one is the beam-on path at the clearing speed; the area one
is the cleared area over mark x speed, as if lines only touched; the dose one is the energy of the
fill, area x P / (v p), at the laser's full power. Holding the line dose, the path can be run no
faster than full power or the machine's top speed allow: whichever is less binds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from stopout.clearing.beam.dose import FASTEST_DOSE_RATIO, Threshold
from stopout.clearing.beam.spacing import default_spacing_mm
from stopout.clearing.beam.spot import FWHM_PER_RADIUS
from stopout.clearing.moving.program_times import ProgramTimes
from stopout.units import format_duration, format_number
from stopout.values import Machine

# Changes that would save less are not worth a line on the sheet (ours).
_WORTH_S, _WORTH_SHARE = 1.0, 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeCase:
    """The numbers of a planned coat that its time table needs.

    `area_mm2` and `edge_mm` are those of the resist opening; `mark_across_mm` is the mark across
    the fill lines. `dose_ratio` is line dose / threshold line dose of the fill lines; `threshold`
    adds, where it was measured, how the threshold power goes with speed.
    """

    times: ProgramTimes
    time_one_direction_s: float
    time_other_direction_s: float | None
    line_direction: str
    area_mm2: float
    edge_mm: float
    mark_across_mm: float
    spacing_mm: float
    power_fraction: float
    speed_mm_s: float
    passes: int
    dose_ratio: float
    machine: Machine
    threshold: Threshold | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeRow:
    """One time: a short name for keys (`plan`, `one-direction`, ...), what it is, seconds."""

    key: str
    name: str
    time_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Quicker:
    """One change and what it would bring.

    `time_s` is the calculated time of the changed plan: negative `saves_s` means that it is slower.
    `is_planned` is True where the time comes from a plan; where it is False the time is estimated
    from totals. A plan made anew at another speed may choose rings where this one has lines, or
    the reverse, so an estimate is no strict bound either way.
    """

    key: str
    change: str
    time_s: float
    saves_s: float
    is_planned: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeTable:
    """The times of a coat.

    `binds` names what keeps the beam-on path from being run faster at this line dose: the laser's
    full `power` or the machine's `top-speed`; `limit_speed_mm_s` is the speed it allows.
    `on_share` is the share of the plan's time that the beam-on path would take at full clearing
    speed; the rest goes to travel, runs-up, turns and slow corners.
    """

    rows: tuple[TimeRow, ...]
    binds: Literal["power", "top-speed"]
    limit_speed_mm_s: float
    on_share: float
    reason: str
    quicker: tuple[Quicker, ...]


def time_table(case: TimeCase) -> TimeTable:
    """Set a plan's time beside its floors and say what would make it faster.

    Parameters
    ----------
    case : TimeCase
        From a coat's numbers. A stopped plan may clear nothing.
    """
    times, machine = case.times, case.machine
    limit, binds = _limit(case)
    on_share = times.time_floor_s / times.time_s if times.time_s > 0 else 1.0
    return TimeTable(
        rows=_rows(case, limit),
        binds=binds,
        limit_speed_mm_s=limit,
        on_share=on_share,
        reason=_reason(case, limit, binds, on_share),
        quicker=tuple(
            entry
            for entry in (
                _other_direction(case),
                _one_step_wider(case),
                _fastest_ratio(case),
                _more_power(case, limit, machine),
            )
            if entry is not None
        ),
    )


def _limit(case: TimeCase) -> tuple[float, Literal["power", "top-speed"]]:
    """Return the fastest speed at the plan's dose, and what sets it."""
    top = case.machine.top_speed_mm_s
    if case.threshold is None:
        at_full = case.speed_mm_s / case.power_fraction
    else:
        at_full = case.threshold.speed_mm_s(case.machine.power_w, case.dose_ratio)
    # The plan itself shows that its own speed can be had.
    at_full = max(at_full, case.speed_mm_s)
    return (at_full, "power") if at_full < top else (top, "top-speed")


def _rows(case: TimeCase, limit: float) -> tuple[TimeRow, ...]:
    length = case.times.cleared_length_mm
    area_dose = case.power_fraction * case.machine.power_w / (case.speed_mm_s * case.spacing_mm)
    rows = [
        TimeRow(key="plan", name="this plan", time_s=case.times.time_s),
        TimeRow(
            key="one-direction",
            name="line by line in one direction",
            time_s=case.time_one_direction_s,
        ),
        TimeRow(
            key="kinematic-floor",
            name="beam-on path at the clearing speed",
            time_s=case.times.time_floor_s,
        ),
        TimeRow(
            key="area-floor",
            name="area cleared by lines that only touch",
            time_s=case.passes * case.area_mm2 / (case.mark_across_mm * case.speed_mm_s),
        ),
        TimeRow(
            key="dose-floor",
            name="energy of the fill at full power",
            time_s=dose_floor_s(
                case.passes * case.area_mm2,
                area_dose_j_per_mm2=area_dose,
                power_w=case.machine.power_w,
            ),
        ),
        TimeRow(
            key="limit-floor",
            name=f"beam-on path at {format_number(limit, digits=4)} mm/s, the most at this dose",
            time_s=length / limit,
        ),
    ]
    if case.time_other_direction_s is not None:
        other = _other(case.line_direction)
        rows.insert(
            1,
            TimeRow(
                key="other-direction",
                name=f"lines along {other}",
                time_s=case.time_other_direction_s,
            ),
        )
    return tuple(rows)


def _other(direction: str) -> str:
    return "x" if direction == "y" else "y"


def _reason(
    case: TimeCase, limit: float, binds: Literal["power", "top-speed"], on_share: float
) -> str:
    what = (
        f"full power ({format_number(case.machine.power_w)} W)"
        if binds == "power"
        else f"the top speed ({format_number(case.machine.top_speed_mm_s)} mm/s)"
    )
    path = format_duration(case.times.time_floor_s)
    if limit <= case.speed_mm_s * 1.001:
        head = f"At this line dose {what} binds: the beam-on path takes at least {path}."
    else:
        head = (
            f"The clearing speed of {format_number(case.speed_mm_s)} mm/s keeps the beam-on path "
            f"at {path}; at this line dose {what} would bind at "
            f"{format_number(limit, digits=4)} mm/s."
        )
    return (
        f"{head} Travel, runs-up, turns and slow corners take {100 * (1 - on_share):.0f} % of "
        "the time."
    )


def _entry(
    case: TimeCase, key: str, change: str, time_s: float, *, is_planned: bool = False
) -> Quicker | None:
    """Return a change with its time; None where it hardly matters or an estimate gains nothing.

    A planned time is told even where it is longer: that the choice was tried is worth knowing.
    """
    saves = case.times.time_s - time_s
    gain = abs(saves) if is_planned else saves
    if gain < max(_WORTH_S, _WORTH_SHARE * case.times.time_s):
        return None
    return Quicker(key=key, change=change, time_s=time_s, saves_s=saves, is_planned=is_planned)


def _other_direction(case: TimeCase) -> Quicker | None:
    if case.time_other_direction_s is None:
        return None
    change = f"fill lines along {_other(case.line_direction)} instead of {case.line_direction}"
    return _entry(case, "direction", change, case.time_other_direction_s, is_planned=True)


def _fill_share(case: TimeCase) -> float:
    """Return the share of the path that is fill: the opening inset by half a mark, over spacing."""
    if case.times.cleared_length_mm <= 0:
        return 0.0
    inset = max(0.0, case.area_mm2 - case.edge_mm * case.mark_across_mm / 2)
    return min(1.0, case.passes * inset / case.spacing_mm / case.times.cleared_length_mm)


def _one_step_wider(case: TimeCase) -> Quicker | None:
    """Return what the default spacing would bring, or one motor step more where it is in use."""
    step = case.machine.step_mm
    wider = default_spacing_mm(
        mark_across_mm=case.mark_across_mm,
        radius_across_mm=case.mark_across_mm / FWHM_PER_RADIUS,
        step_mm=step,
    )
    change = f"spacing {format_number(wider, digits=4)} mm, the default for this mark"
    if wider <= case.spacing_mm * (1 + 1e-9):
        wider = (math.floor(case.spacing_mm / step + 1e-9) + 1) * step
        if wider > case.mark_across_mm * (1 + 1e-9):
            return None
        change = f"spacing {format_number(wider)} mm, only where a coupon's patches show no threads"
    gain = _fill_share(case) * (1 - case.spacing_mm / wider)
    return _entry(case, "spacing", change, case.times.time_s * (1 - gain))


def _fastest_ratio(case: TimeCase) -> Quicker | None:
    """Return what the fastest dose ratio would bring at the same power.

    The area rate goes as sqrt(2 ln r) / r: the speed changes as 1 / r, the mark and with it the
    spacing as sqrt(2 ln r).
    """
    ratio = case.dose_ratio
    if ratio <= 1:
        return None
    faster = ratio / FASTEST_DOSE_RATIO
    speed = case.speed_mm_s * faster
    if speed > case.machine.top_speed_mm_s:
        return None
    narrower = 1 / math.sqrt(2 * math.log(ratio))
    share = _fill_share(case)
    stretch = share / narrower + (1 - share)
    on, rest = case.times.time_floor_s, case.times.time_s - case.times.time_floor_s
    change = (
        f"dose ratio 1.65 instead of {ratio:.3g}: {format_number(speed)} mm/s, the mark "
        f"{format_number(narrower, digits=3)} times as wide and the spacing with it"
    )
    return _entry(case, "dose", change, stretch * _at_speed(on, rest, faster))


def _more_power(case: TimeCase, limit: float, machine: Machine) -> Quicker | None:
    """Return what more power and speed at the same dose would bring.

    With path / k + rest k the best factor of the speed is sqrt(path / rest), where the limit
    allows it.
    """
    on, rest = case.times.time_floor_s, max(case.times.time_s - case.times.time_floor_s, 1e-9)
    faster = min(limit / case.speed_mm_s, math.sqrt(on / rest))
    if faster <= 1:
        return None
    speed = case.speed_mm_s * faster
    power = case.power_fraction * faster
    if case.threshold is not None:
        power = case.dose_ratio * case.threshold.power_w(speed) / machine.power_w
    change = (
        f"{format_number(speed, digits=3)} mm/s at {100 * min(power, 1.0):.3g} % power, the same "
        "line dose"
    )
    return _entry(case, "power", change, _at_speed(on, rest, faster))


def _at_speed(on_s: float, rest_s: float, faster: float) -> float:
    """Return at most what a plan takes at this multiple of its speed.

    The path takes less in proportion; runs-up and turns take more in proportion. Travel takes
    what it took, and a plan made for the speed does better still: this is a bound from above.
    """
    return on_s / faster + rest_s * faster


def dose_floor_s(area_mm2: float, *, area_dose_j_per_mm2: float, power_w: float) -> float:
    """Return the least time to bring an area dose to an area: A F / P."""
    return area_mm2 * area_dose_j_per_mm2 / power_w
