"""What a plan says while figures of the machine are ranges: how far its numbers may lie off."""

from __future__ import annotations

from collections.abc import Sequence

from stopout.job.record import Job
from stopout.planning.measures.bite import Bite
from stopout.planning.plan import CoatPlan
from stopout.units import format_duration
from stopout.values import Finding

_NAMES = {"spot": "spot", "power": "power", "acceleration": "acceleration",
          "cornering": "cornering", "step": "motor step"}  # fmt: skip


def unmeasured_findings(job: Job, coats: Sequence[CoatPlan], bite: Bite) -> list[Finding]:
    """Say which figures of the machine are ranges, what follows, and which coupon to burn first.

    Parameters
    ----------
    job : Job
        The job.
    coats : sequence of CoatPlan
        As planned.
    bite : Bite
        The undercut, with its spread.
    """
    if not job.route.has_beam or not job.laser.spans or not coats:
        return []
    *first, last = [_NAMES[span.name] for span in job.laser.spans]
    figures = f"{', '.join(first)} and {last}" if first else last
    marks = [axis for coat in coats for axis in coat.mark_mm]
    wide, spot = max(2 * axis.sd for axis in marks), job.laser.span("spot")
    parts = []
    if spot is not None and wide > 0:
        # The mark goes with the spot.
        low = min(axis.value for axis in marks) * spot.low / spot.value
        high = max(axis.value for axis in marks) * spot.high / spot.value
        parts.append(f"the mark lies between {low:.2f} and {high:.2f} mm at twice the threshold")
    ranges = [coat.clearing.time_range_s for coat in coats if coat.clearing is not None]
    if any(one is not None for one in ranges):
        low_s, high_s = (sum(one[k] for one in ranges if one is not None) for k in (0, 1))
        parts.append(
            f"clearing takes {format_duration(low_s)} to {format_duration(high_s)} a piece"
        )
    return [
        Finding.caution(
            "machine-unmeasured",
            f"{figures} {'is' if len(job.laser.spans) == 1 else 'are'} not known of this "
            f"machine: {' and '.join(parts) or 'ranges stand for it'}",
            _remedy({span.name for span in job.laser.spans}, wide, bite),
        )
    ]


def _remedy(open_figures: set[str], mark_half_mm: float, bite: Bite) -> str:
    """What to do first: the coupon for what moves an edge most, half the mark's spread or the bite.

    A coupon is named only where it measures one of the figures: a motor step is read.
    """
    if open_figures & {"spot", "power"} and (mark_half_mm or bite.undercut.sd):
        coupon = "clearing" if mark_half_mm / 2 >= 2 * bite.undercut.sd else "etch"
        return f"stopout coupon {coupon} shrinks this most: burn it on painted scrap first."
    if open_figures & {"acceleration", "cornering"}:
        return "stopout coupon timing shrinks this most: run it, then stopout shop timed."
    return "Read it in the control's settings, steps per mm, and give machine.step."
