"""What a plan says about the control that drives the machine."""

from __future__ import annotations

from stopout.clearing import ProgramTimes
from stopout.planning.plan import ClearingNumbers
from stopout.units import format_duration
from stopout.values import Finding, Level, Machine
from stopout.wording import counted

# A control of unknown speed is told of from this many lines a second (ours).
_MANY_LINES_PER_S = 500
_NEAR = 0.9


def control_findings(machine: Machine) -> list[Finding]:
    """Say what is not known of the control, and what that costs."""
    if machine.power_follows_speed is not None:
        return []
    return [
        Finding.caution(
            "power-way-unknown",
            "machine.power_follows_speed is left out, so outlines run at the slow speed of "
            "their sharpest corner, which gives an even dose on any control",
            "Burn the two lines of docs/how-to/set-up-a-control.md on scrap and give true, "
            '"control" or false: most outlines then run several times as fast.',
        )
    ]


def line_rate_findings(times: ProgramTimes, machine: Machine, coat: int) -> list[Finding]:
    """Say where a program asks for as many lines in a second as its control takes."""
    asked, limit = times.lines_per_s_max, machine.most_lines_per_s
    most = f"coat {coat}: up to {asked} lines of the program fall into one second"
    if limit is None:
        if asked < _MANY_LINES_PER_S:
            return []
        message = f"{most}, and the machine does not say how many its control carries out"
        remedy = "Give machine.most_lines_per_second: the plan then runs slower there if need be."
        level = Level.NOTE
    elif asked > limit:
        message = f"{most}; its control carries out {limit:g}, and travels cannot go slower"
        remedy = "Clear more slowly, or draw fewer and larger shapes: the machine may stutter here."
        level = Level.CAUTION
    elif asked >= _NEAR * limit:
        message = f"{most}, of {limit:g} that its control carries out: it runs slower there"
        remedy = "No harm to the piece: speed and power are lowered together."
        level = Level.NOTE
    else:
        return []
    return [
        Finding(
            code="lines-limited",
            level=level,
            message=message,
            remedy=remedy,
            at_mm=times.busiest_mm,
        )
    ]


def dwell_findings(clearing: ClearingNumbers, coat: int) -> list[Finding]:
    """Say how many dots are cleared by a dwell, what that saves, and what it rests on."""
    dots = clearing.dots
    if dots is None:
        return []
    low, high = (1000 * time for time in dots.dwell_s)
    each = f"{high:.3g}" if high - low < 0.01 * high else f"{low:.3g} to {high:.3g}"
    return [
        Finding.note(
            "dots-by-dwell",
            f"coat {coat}: {counted(dots.count, 'dot is', 'dots are')} cleared by {each} ms of "
            f"beam at their middle: {format_duration(clearing.times.time_s)} instead of "
            f"{format_duration(dots.time_strokes_s)} by strokes; their size is calculated "
            "from that of lines",
            "Burn a few on painted scrap and measure them; where they are off, give "
            'clearing.dots = "strokes".',
        )
    ]
