"""What a plan has to say: each finding with its place, and what would mend it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from stopout.clearing import plan_speeds
from stopout.clearing.beam.mark import hold_against_spot
from stopout.etching import (
    EtchPlan,
    Finish,
    Pair,
    Refusal,
    Resist,
    check_finish,
    check_piece,
    refusals,
)
from stopout.job.record import Job
from stopout.planning.findings.bed import one_by_one
from stopout.planning.findings.control import control_findings, dwell_findings, line_rate_findings
from stopout.planning.findings.dose import COUPON_WORDS, dose_findings
from stopout.planning.findings.shapes import shape_findings
from stopout.planning.findings.tips import short_tips
from stopout.planning.measures.beam import Beam, beam_for, spot_radius_mm
from stopout.planning.measures.focus_steps import focus_step_findings
from stopout.planning.plan import ClearingNumbers, CoatPlan
from stopout.program import prove
from stopout.units import format_number, rounded_down
from stopout.values import Finding, Level, Moves, Span
from stopout.wording import counted

# Within a level what spoils the piece or hurts somebody is read first; of these a coat may have
# dozens, and they come last.
_LOSSES = frozenset({"parts-merged", "counter-closed", "part-lost", "edge-outside", "resist-lifts"})
_DETAILS = frozenset({"thin-opening", "narrow-land", "small-opening", "small-island"})

_DOSE_RATIO_LIMIT = 1.15
# A pointer beam is held to this share of the threshold dose.
_POINTER_SHARE = 0.1
# The motion model counts a speed below this as standing still.
_STANDING_MM_S = 1e-6


def job_findings(job: Job, finish: Finish | None = None) -> list[Finding]:
    """Findings about the job as a whole, before any coat is looked at."""
    found: list[Finding] = [*check_finish(finish)]
    if not job.route.has_beam:
        return found
    found += control_findings(job.laser)
    found += one_by_one(job)
    if job.laser.blank_at_mm is None:
        found.append(
            Finding.note(
                "blank-centred",
                "machine.blank_at is not given: the blank is taken as centred on the bed",
                "Give the blank's corner from the bed's corner to have the bed checked.",
            )
        )
    return found


def ranked(findings: Iterable[Finding], *, first: Iterable[Finding] = ()) -> tuple[Finding, ...]:
    """Order findings: stops, cautions, notes. Repeats are dropped.

    Parameters
    ----------
    findings : iterable of Finding
        Of the job, its artwork and its coats. Within a level what is lost comes after the rest,
        and thin strokes and lands last; otherwise they stay as they came.
    first : iterable of Finding
        Of the chemistry and what must not be done: before all others of their level.
    """
    level = {Level.STOP: 0, Level.CAUTION: 1, Level.NOTE: 2}
    before = list(dict.fromkeys(first))
    others = [finding for finding in dict.fromkeys(findings) if finding not in before]
    others.sort(key=lambda finding: (finding.code in _LOSSES) + 2 * (finding.code in _DETAILS))
    return tuple(sorted([*before, *others], key=lambda finding: level[finding.level]))


def coat_findings(
    coat: CoatPlan, job: Job, etch: EtchPlan | None, threshold: Span | None = None
) -> list[Finding]:
    """Findings about one coat: shapes, outcome, lands, dose.

    Parameters
    ----------
    coat : CoatPlan
        As planned.
    job : Job
        Its job.
    etch : EtchPlan or None
        Its etch.
    threshold : Span, optional
        Published for the coat, J/mm^2.
    """
    found = list(shape_findings(coat, job, etch))
    return [*found, *_dose_findings(coat, job, threshold)] if job.route.has_beam else found


def _dose_findings(coat: CoatPlan, job: Job, threshold: Span | None) -> list[Finding]:
    """Say what is doubtful about mark, spacing and dose."""
    beam, found = beam_for(coat.coat, job), _mark_findings(coat, job)
    if threshold is not None and job.light is None:
        found += dose_findings(coat, job, beam, threshold)
    # Where the spot is a range as well, that is told once, for the whole machine.
    if not beam.is_measured and job.laser.span("spot") is None:
        found.append(_unmeasured_mark(coat, job, beam))
    clearing = coat.clearing
    if clearing is None:
        return found
    if clearing.spacing_mm > _across_mm(clearing) and not job.route.is_lit:
        found.append(_wide_spacing(clearing, job))
    found += line_rate_findings(clearing.times, job.laser, coat.number)
    found += dwell_findings(clearing, coat.number)
    found += focus_step_findings(coat.coat, coat.number, clearing.passes, job)
    if not job.route.is_lit:
        found += _tip_findings(coat, job, min(beam.dose_ratios))
    if clearing.times.dose_ratio_max > _DOSE_RATIO_LIMIT:
        found.append(_uneven_dose(clearing, job, beam))
    return found


def _across_mm(clearing: ClearingNumbers) -> float:
    """The mark's width across the lines."""
    return clearing.mark_mm[0 if clearing.line_direction == "y" else 1].value


def _unmeasured_mark(coat: CoatPlan, job: Job, beam: Beam) -> Finding:
    return Finding.caution(
        "coupon-needed",
        "the mark, the width that the beam clears, is not measured: it is calculated from "
        f"the spot at dose ratio {format_number(min(beam.dose_ratios), digits=3)} "
        f"({coat.mark_mm[0].value:.3f} x {coat.mark_mm[1].value:.3f} mm)",
        COUPON_WORDS
        if not job.route.is_lit
        else "Mark lines on an offcut at this power and speed and measure them.",
    )


def _wide_spacing(clearing: ClearingNumbers, job: Job) -> Finding:
    across = _across_mm(clearing)
    remedy = f'Give a spacing of {0.85 * across:.3f} mm or less, or spacing = "auto".'
    if job.settings.spacing_mm is None:
        remedy = (
            "Lines lie whole motor steps apart, and this is one: look whether machine.step is "
            "true, or clear a wider mark."
        )
    return Finding.stop(
        "spacing-wide",
        f"lines {clearing.spacing_mm:.4g} mm apart with a mark {across:.4g} mm wide leave "
        "threads of paint",
        remedy,
    )


def _uneven_dose(clearing: ClearingNumbers, job: Job, beam: Beam) -> Finding:
    across, ratio = _across_mm(clearing), clearing.times.dose_ratio_max
    grown = _grown_width(beam.dose_ratio_along(clearing.line_direction), ratio)
    return Finding.caution(
        "dose-uneven",
        f"where the beam slows down the dose rises to {ratio:.2f} times the planned one and "
        f"the mark grows to {grown:.2f} times its width, from {across:.3f} mm to "
        f"{grown * across:.3f} mm across the lines",
        "Clear more slowly."
        if job.laser.power_follows_speed
        else "Let the power follow the speed, or clear more slowly.",
    )


def _tip_findings(coat: CoatPlan, job: Job, dose_ratio: float) -> list[Finding]:
    """Say where a beam switched at speed leaves tips short of the prediction."""
    mark = coat.cleared.mark_mm
    clearing = coat.cleared
    dwells = coat.moves.is_dwell(
        step_mm=job.laser.step_mm, line_dose=clearing.power_fraction / clearing.speed_mm_s
    )
    strokes = replace(coat.moves, power=np.where(dwells, 0.0, coat.moves.power))
    tips = short_tips(strokes, (mark[0].value, mark[1].value), max(dose_ratio, 1.01))
    if tips is None:
        return []
    return [
        Finding.note(
            "tips-short",
            f"{counted(tips.count, 'tip')} of lines and sharp turns end up to "
            f"{tips.worst_mm:.3f} mm "
            "short of the predicted edge: a beam switched at speed gives less at its end",
            f"Draw points that matter {tips.worst_mm:.2f} mm longer.",
            at_mm=tips.at_mm,
        )
    ]


def _mark_findings(coat: CoatPlan, job: Job) -> list[Finding]:
    """Hold a measured mark against the one that the spot makes: one beam has one threshold."""
    beam = beam_for(coat.coat, job)
    if not beam.is_measured:
        return []
    check = hold_against_spot(beam.mark_mm, spot_radius_mm(job))
    if not check.is_told:
        return []
    given = " x ".join(f"{axis.value:.3f}" for axis in beam.mark_mm)
    pair = " x ".join(f"{axis:.3f}" for axis in check.expected_mm)
    spot = " x ".join(f"{width:g}" for width in job.laser.spot_mm)
    more = ", a factor of two or more apart" if check.is_stop else ""
    remedy = f"Measure a line each way again, and the spot: one threshold makes it {pair} mm."
    if check.is_swapped:
        remedy = (
            "Exchange the two: the first is the width of a line along y, the second of one along x."
        )
    return [
        Finding(
            code="mark-unlike-spot",
            level=Level.STOP if check.is_stop else Level.CAUTION,
            message=(
                f"the mark {given} mm is not one that a spot of {spot} mm makes: for the same mean "
                f"it would be {pair} mm{more}"
            ),
            remedy=remedy,
        )
    ]


def _grown_width(dose_ratio: float, more: float) -> float:
    """Return by what factor the mark's width grows when the dose grows by `more`."""
    return float(np.sqrt(np.log(dose_ratio * more) / np.log(dose_ratio)))


def motion_findings(coat: CoatPlan, job: Job, blank_at_mm: tuple[float, float]) -> list[Finding]:
    """Findings of the proof that the program stays in the bed and outside keep-outs."""
    remedy = "Move the blank (machine.blank_at), or clear more slowly for shorter runs-up."
    if any(_holds(box, blank_at_mm) for box in job.laser.keep_outs_mm):
        remedy = (
            "Programs begin and end at the blank's lower left corner as worked, and that lies in "
            "a keep-out: move the blank or the clamp."
        )
    return [
        Finding.stop(
            violation.code,
            f"coat {coat.number}: {violation.message}",
            remedy,
            at_mm=violation.at_mm,
        )
        for violation in prove(coat.moves, machine=job.laser, blank_at_mm=blank_at_mm)
    ]


def _holds(box: tuple[float, float, float, float], at_mm: tuple[float, float]) -> bool:
    """Tell whether a place lies inside a box, both from the bed's corner."""
    return box[0] < at_mm[0] < box[2] and box[1] < at_mm[1] < box[3]


def pointer_findings(job: Job, moves: Moves) -> list[Finding]:
    """Refuse a pointer beam that could mark: at most a tenth of the threshold dose."""
    fraction = job.laser.pointer_fraction
    on = moves.power > 0
    if fraction <= 0 or not on.any():
        return []
    profile = plan_speeds(
        moves, acceleration_mm_s2=job.laser.acceleration_mm_s2, cornering_mm=job.laser.cornering_mm
    )
    slowest = float(np.minimum(profile.vertex_mm_s[:-1], profile.vertex_mm_s[1:])[on].min())
    dose = fraction / max(slowest, _STANDING_MM_S)
    beams = [beam_for(coat, job) for coat in job.coats]
    # A single pass counts here: the threshold is then on the safe side.
    threshold = min(beam.line_dose_fraction / beam.passes / max(beam.dose_ratios) for beam in beams)
    # What is told as the most must pass when it is given, its last digit's rounding included.
    if dose <= _POINTER_SHARE * threshold * (1 + 1e-9):
        return []
    most = rounded_down(100 * _POINTER_SHARE * threshold * slowest, digits=2)
    return [
        Finding.stop(
            "pointer-strong",
            f"the pointer's {format_number(100 * fraction, digits=3)} % of full power reaches "
            f"{dose / threshold:.2g} times the threshold dose where it is slowest "
            f"({format_number(slowest, digits=2)} mm/s); at most a tenth is allowed",
            f'Set pointer = "0 %" or at most "{most:.2g} %". A pointing beam of this '
            "laser is as dangerous to the eye as its working beam.",
        )
    ]


def refusal_findings(
    job: Job,
    strength_g_per_l: float | None,
    resists: Iterable[Resist],
    rules: tuple[Refusal, ...],
    base_id: str = "",
) -> list[Finding]:
    """What must not be done at all with this material, bath and paint, or not so strong."""
    if not job.route.has_beam:
        # What must not come under a beam may well be cut with a knife.
        rules = tuple(rule for rule in rules if not rule.code.endswith("-under-the-beam"))
    return list(
        refusals(
            rules,
            material_id=job.blank.material,
            etchant_id=None if job.etch is None else job.etch.etchant,
            strength_g_per_l=strength_g_per_l,
            resist_ids=tuple(resist.ident for resist in resists),
            base_id=base_id,
        )
    )


def etch_findings(
    job: Job,
    etch: EtchPlan | None,
    pair: Pair,
    resists: Iterable[Resist],
    others: tuple[Resist, ...] = (),
) -> list[Finding]:
    """Findings of the chemistry: depth, the resist's time and temperature.

    Parameters
    ----------
    job : Job
        The job.
    etch : EtchPlan or None
        Its etch; None says nothing.
    pair : Pair
        The metal in its bath.
    resists : iterable of Resist
        The job's own coats.
    others : tuple of Resist
        The resists that may be named as a remedy.
    """
    if etch is None or job.etch is None:
        return []
    piece = check_piece(
        etch,
        pair,
        thickness_mm=job.blank.thickness_mm,
        is_filled=job.etch.is_filled,
        resists=resists,
        others=others,
    )
    return [*etch.findings, *piece]
