"""Doubts about a coat's dose: how many times the threshold fill and outline get."""

from __future__ import annotations

from stopout.job.record import Job
from stopout.planning.measures.beam import Beam
from stopout.planning.measures.threshold import SCORCH_RATIO, Held, held_against
from stopout.planning.plan import CoatPlan
from stopout.units import format_number
from stopout.values import Finding, Level, Span

COUPON_WORDS = (
    "Burn a clearing coupon on painted scrap (stopout coupon clearing), scan and read it."
)
# Past this factor beyond what is known of paints, or beyond the usual dose, something is wrong with
# power, speed or spot (ours).
_STOP_FACTOR = 5.0
_USUAL_RATIO = 2.0


def dose_findings(coat: CoatPlan, job: Job, beam: Beam, threshold: Span) -> list[Finding]:
    """Say how many times the threshold a coat's fill and outlines get.

    Parameters
    ----------
    coat : CoatPlan
        As planned.
    job : Job
        Its job.
    beam : Beam
        The coat's settings.
    threshold : Span
        Published for the coat, J/mm^2; what a coupon told of it comes first.
    """
    # A draft has no program, and so no place where the beam slows.
    most = 1.0 if coat.clearing is None else coat.clearing.times.dose_ratio_max
    of = f" of coat {coat.number}" if len(job.coats) > 1 else ""
    if coat.coat.book_mark is not None and beam.is_measured:
        return _measured(beam, most, of)
    held = held_against(threshold, beam, job)
    low, high = held.ratios
    gets = f"{_times(low)} to {_times(high)} times"
    outline = f" (where the beam slows, {most:.2f} times that)" if most > 1.005 else ""
    known = (
        f"what is published to clear such a coat, {_times(threshold.low)} to "
        f"{_times(threshold.high)} J/mm^2"
    )
    message = (
        f"the dose{of}, {_times(held.dose_j_per_mm2)} J/mm^2 in the middle of a line, is {gets} "
        f"{known}{outline}: {_outcome(held)}"
    )
    if held.factor_off <= 1:
        return [Finding.note("dose-range", message, COUPON_WORDS)]
    is_stop = held.factor_off > _STOP_FACTOR
    change = threshold.value * beam.dose_ratios[0] / held.dose_j_per_mm2
    way = "more" if change > 1 else "less"
    factor = format_number(max(change, 1 / change), digits=2)
    return [
        Finding(
            code="dose-implausible" if is_stop else "dose-doubtful",
            level=Level.STOP if is_stop else Level.CAUTION,
            message=message,
            remedy=(
                f"Check power, speed, spot{' and mark' if beam.is_measured else ''}: about "
                f"{factor} times {way} dose would be usual. {COUPON_WORDS}"
            ),
        )
    ]


def _measured(beam: Beam, most: float, of: str) -> list[Finding]:
    """By a threshold that a coupon told; a dose below it is stopped where it is looked up."""
    low, high = min(beam.dose_ratios), max(beam.dose_ratios)
    message = (
        f"the fill{of} gets {_times(low)} to {_times(high)} times the threshold dose that the "
        f"coupon told, outlines up to {_times(high * most)}"
    )
    if high <= SCORCH_RATIO:
        return [Finding.note("dose-range", message)]
    is_stop = high > _STOP_FACTOR * _USUAL_RATIO
    factor = format_number(high / _USUAL_RATIO, digits=2)
    return [
        Finding(
            code="dose-implausible" if is_stop else "dose-doubtful",
            level=Level.STOP if is_stop else Level.CAUTION,
            message=f"{message}: paint scorches, and lines are wider than the beam",
            remedy=f"Give {factor} times less dose, by power or by speed, for twice the threshold.",
        )
    ]


def _outcome(held: Held) -> str:
    low, high = held.ratios
    if high < 1:
        return "paint is left"
    if low > SCORCH_RATIO:
        return "paint scorches"
    clears = "it clears" if low >= 1 else "it may leave paint"
    scorches = "and may scorch" if high > SCORCH_RATIO else "and hardly scorches"
    return f"{clears} {scorches}"


def _times(value: float) -> str:
    return format_number(value, digits=2)
