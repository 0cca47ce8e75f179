"""A job with the shop's own numbers where the job file leaves them out.

Given values come first, then the newest entry of the shop book that fits, then the tables. What
is used is said with its date; what is passed over although it is the newest of its kind is said
with what sets it apart.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from stopout.clearing.beam.dose import DEFAULT_DOSE_RATIO
from stopout.etching import (
    HALF_LIFE_DAYS,
    Faded,
    Observation,
    bath_strength,
    fading_mean,
    rate_um_per_min,
)
from stopout.job.book_mark import BookMark, dose_ratios_from_book, mark_from_book
from stopout.job.record import Coat, Etch, Job
from stopout.job.shop_numbers import (
    ClearingCalibration,
    EtchCalibration,
    JobRecord,
    ShopNumbers,
    identity_of,
)
from stopout.planning.book.dose import chosen_dose
from stopout.planning.book.machine import machine_with_book
from stopout.planning.book.matching import (
    ClearingCase,
    EtchCase,
    clearing_differs,
    etch_differs,
    newest,
)
from stopout.units import format_number
from stopout.values import Finding, Level, Measured

if TYPE_CHECKING:
    from stopout.etching import Pair
    from stopout.planning.knowledge import Knowledge

# A depth gauge or the focus of a microscope, where no standard deviation was written down.
# Common practice, no source.
_DEPTH_SHARE, _DEPTH_LEAST_MM = 0.05, 0.003
# A given mark this far from that of the dose is told (ours: three times what two readings differ).
_UNLIKE = 0.15


def with_shop_book(job: Job, numbers: ShopNumbers, knowledge: Knowledge) -> Job:
    """Return the job with marks, etch factor and rate from the shop book where it gives none.

    Parameters
    ----------
    job : Job
        As read.
    numbers : ShopNumbers
        What the book holds.
    knowledge : Knowledge
        Table entries for the job: thickness of the paints, and how rates scale.

    Returns
    -------
    Job
        With a finding for each thing that the book gave or withheld.
    """
    findings: list[Finding] = []
    if job.route.has_beam:
        job = replace(job, machine=machine_with_book(job.laser, numbers, findings))
    coats = tuple(
        _with_mark(number, coat, job, numbers, knowledge, findings)
        for number, coat in enumerate(job.coats, start=1)
    )
    etch = job.etch
    if etch is not None and knowledge.pair is not None:
        etch = _with_etch(etch, job, numbers, knowledge.pair, findings)
    return replace(job, coats=coats, etch=etch, findings=(*job.findings, *findings))


def _with_mark(
    number: int,
    coat: Coat,
    job: Job,
    numbers: ShopNumbers,
    knowledge: Knowledge,
    findings: list[Finding],
) -> Coat:
    if not job.route.clears_paint:
        return coat
    clearing = job.settings
    is_chosen = clearing.is_chosen and coat.power is None and coat.speed_mm_s is None
    given = coat.mark_mm or clearing.mark_mm
    is_ratio = given is None and clearing.dose_ratio is not None and not is_chosen
    if is_ratio or not numbers.clearing or _is_never_cleared(number, job):
        return coat
    resist = knowledge.resists[number - 1]
    case = ClearingCase(
        machine=identity_of(job.laser),
        material=job.blank.material,
        paint=coat.paint,
        colour=coat.colour,
        thickness_um=resist.film_um(coat.thickness_um),
        speed_mm_s=coat.speed_mm_s or clearing.speed_mm_s,
        passes=coat.passes or clearing.passes,
        finish=job.blank.finish,
    )
    cases = {
        id(e): _at_its_speed(case, e) if is_chosen and clearing.choose_speed else case
        for e in numbers.clearing
    }
    entry = newest([e for e in numbers.clearing if not clearing_differs(e, cases[id(e)])])
    of = f"coat {number}" if len(job.coats) > 1 else "the resist"
    power = (coat.power if coat.power is not None else clearing.power) * job.laser.power_w
    if given is not None:
        if entry is not None:
            findings += _unlike_dose(given, entry, case, power, of)
        return coat
    if entry is None:
        other = _nearest_clearing(numbers.clearing, case)
        differs = "; ".join(clearing_differs(other, case))
        findings.append(_passed_over(f"clearing coupon {other.ident}", other.date, of, differs))
        return coat
    if is_chosen:
        # The wider axis has the higher threshold.
        dose = (clearing.dose_ratio or DEFAULT_DOSE_RATIO) * max(
            axis.value for axis in entry.threshold_j_per_mm
        )
        share, speed = chosen_dose(dose, clearing, job.laser, speed_mm_s=entry.speed_mm_s)
        coat = replace(coat, power=share, speed_mm_s=speed)
        case = replace(case, speed_mm_s=speed)
        power = share * job.laser.power_w
    return _cleared_by(entry, case, power, coat, of, findings)


def _unlike_dose(
    given: tuple[Measured, Measured],
    entry: ClearingCalibration,
    case: ClearingCase,
    power_w: float,
    of: str,
) -> list[Finding]:
    """Hold a mark that the job gives against what spot and threshold make of its dose."""
    at = {"power_w": power_w, "speed_mm_s": case.speed_mm_s}
    ratios = dose_ratios_from_book(entry, **at, passes=case.passes)
    coupon = f"clearing coupon {entry.ident} of {entry.date}"
    told = (Measured(value=0.0), Measured(value=0.0))
    if min(ratios) > 1:
        told = mark_from_book(entry, **at, passes=case.passes)
    if all(
        abs(axis.value - one.value) <= max(_UNLIKE * one.value, 3 * math.hypot(axis.sd, one.sd))
        for axis, one in zip(given, told, strict=True)
    ):
        return []
    pair = f"{told[0].value:.3f} x {told[1].value:.3f} mm" if min(ratios) > 1 else "nothing"
    return [
        Finding.caution(
            "mark-unlike-dose",
            f"the mark given for {of}, {given[0].value:.3f} x {given[1].value:.3f} mm, is not "
            f"what this dose makes: {format_number(min(ratios), digits=2)} times the threshold "
            f"of {coupon} clears {pair}",
            "Leave the mark out, and the shop book gives it; or measure it at this dose.",
        )
    ]


def _at_its_speed(case: ClearingCase, entry: ClearingCalibration) -> ClearingCase:
    """The case at the speed that an entry's lines were burnt at, for a job that gives none."""
    return case if entry.speed_mm_s is None else replace(case, speed_mm_s=entry.speed_mm_s)


def _is_never_cleared(number: int, job: Job) -> bool:
    """The last coat of a sign stays whole: nothing is cleared of it."""
    return job.route.is_sign and number == len(job.coats)


def _cleared_by(
    entry: ClearingCalibration,
    case: ClearingCase,
    power_w: float,
    coat: Coat,
    of: str,
    findings: list[Finding],
) -> Coat:
    """Take the mark from a calibration that fits, or say that this dose clears nothing."""
    at = {"power_w": power_w, "speed_mm_s": case.speed_mm_s}
    ratios = dose_ratios_from_book(entry, **at, passes=case.passes)
    if min(ratios) <= 1:
        findings.append(_under_threshold(entry, ratios, of))
        return coat
    mark = mark_from_book(entry, **at, passes=case.passes)
    source = f"shop book: clearing coupon {entry.ident} of {entry.date}"
    x, y = mark
    findings.append(
        Finding.note(
            "shop-book-used",
            f"the mark of {of}, {x.value:.3f} x {y.value:.3f} mm (sd {x.sd:.3f} x {y.sd:.3f}), "
            f"is from the {source}",
            "Burn a new coupon when paint, coat, focus or the tube have changed.",
        )
    )
    findings += _beyond(entry, power_w / case.speed_mm_s, of)
    return replace(coat, book_mark=BookMark(mark_mm=mark, dose_ratios=ratios, source=source))


def _under_threshold(entry: ClearingCalibration, ratios: tuple[float, float], of: str) -> Finding:
    worst = min(ratios)
    return Finding.stop(
        "dose-under-threshold",
        f"at this power and speed the line dose is {worst:.2g} of what clears {of} "
        f"(shop book: clearing coupon {entry.ident} of {entry.date}): paint would be left",
        f"Give {2 / worst:.2g} times the dose, by power or by speed, for twice the threshold; "
        "or give clearing.mark as measured at these settings.",
    )


def _beyond(entry: ClearingCalibration, line_dose: float, of: str) -> list[Finding]:
    """Say where a dose lies outside those that the coupon's fit rests on."""
    if entry.line_dose_range_j_per_mm is None:
        return []
    low, high = entry.line_dose_range_j_per_mm
    if low * (1 - 1e-6) <= line_dose <= high * (1 + 1e-6):
        return []
    return [
        Finding.caution(
            "mark-extrapolated",
            f"the line dose for {of}, {line_dose:.3g} J/mm, lies outside the "
            f"{low:.3g} to {high:.3g} J/mm that the coupon's fit rests on",
            "Clear within the coupon's doses, or burn a coupon that covers this one.",
        )
    ]


def _nearest_clearing(
    entries: tuple[ClearingCalibration, ...], case: ClearingCase
) -> ClearingCalibration:
    """Return the entry that differs in the fewest things, of those the newest."""
    fewest = min(len(clearing_differs(e, case)) for e in entries)
    found = newest([e for e in entries if len(clearing_differs(e, case)) == fewest])
    assert found is not None
    return found


def _passed_over(what: str, date: str, of: str, differs: str) -> Finding:
    return Finding.note(
        "shop-book-differs",
        f"the shop book's {what} of {date} is not used for {of}: {differs}",
        "Burn a coupon for this case, or give the measured value in the job file.",
    )


def _with_etch(
    etch: Etch, job: Job, numbers: ShopNumbers, pair: Pair, findings: list[Finding]
) -> Etch:
    """Fill in etch factor and rate from the newest coupon and the job records that fit."""
    is_complete = etch.etch_factor is not None and etch.rate_um_per_min is not None
    if is_complete or not (numbers.etch or numbers.jobs):
        return etch
    strength = bath_strength(pair.etchant, value=etch.strength.value, unit=etch.strength.unit)
    case = EtchCase(
        material=job.blank.material,
        etchant=etch.etchant,
        strength_g_per_l=strength.g_per_l,
        temperature_degc=etch.temperature_degc,
        agitation=etch.agitation,
        depth_mm=etch.depth_mm,
        finish=job.blank.finish,
    )
    coupon = newest([e for e in numbers.etch if not etch_differs(e, case)])
    records = [e for e in numbers.jobs if not etch_differs(e, case)]
    used: list[EtchCalibration | JobRecord] = [*([coupon] if coupon else []), *records]
    if not used:
        findings.append(_etch_passed_over(numbers, case))
        return etch
    factor = _mean([factor_observation(e) for e in used])
    rate = _mean([rate_observation(e, pair, case) for e in used])
    if etch.etch_factor is None and factor is not None:
        source = _etch_source(used, [factor_observation(e) for e in used])
        etch = replace(etch, etch_factor=factor.mean, etch_factor_source=source)
        findings.append(_etch_used("etch factor", f"{factor.mean.value:.3g}", factor, source))
    if etch.rate_um_per_min is None and rate is not None:
        source = _etch_source(used, [rate_observation(e, pair, case) for e in used])
        etch = replace(etch, rate_um_per_min=rate.mean, rate_source=source)
        findings.append(_etch_used("etch rate", f"{rate.mean.value:.3g} um/min", rate, source))
    return etch


def factor_observation(entry: EtchCalibration | JobRecord) -> Observation | None:
    """Return the etch factor that an entry shows; None where no undercut was measured."""
    if isinstance(entry, EtchCalibration):
        sd = entry.etch_factor.sd or _DEPTH_SHARE * entry.etch_factor.value
        return Observation(value=entry.etch_factor.value, sd=sd, date=entry.date)
    undercut = entry.undercut_mm
    if undercut is None:
        return None
    value = entry.depth_mm.value / undercut.value
    share = _depth_share(entry) ** 2 + (undercut.sd / undercut.value or _DEPTH_SHARE) ** 2
    return Observation(value=value, sd=value * share**0.5, date=entry.date)


def rate_observation(
    entry: EtchCalibration | JobRecord, pair: Pair, case: EtchCase
) -> Observation | None:
    """Return the rate that an entry shows, carried to the job's temperature and strength.

    None where the entry has no time, or where the tables know no rate to carry it by.
    """
    if isinstance(entry, EtchCalibration):
        if entry.rate_um_per_min is None:
            return None
        value = entry.rate_um_per_min.value
        share = entry.rate_um_per_min.sd / value or _DEPTH_SHARE
    else:
        value = 1000 * entry.depth_mm.value / (entry.time_s / 60)
        share = _depth_share(entry)
    there, here = (
        rate_um_per_min(
            pair,
            strength_g_per_l=at.strength_g_per_l,
            temperature_degc=at.temperature_degc,
            agitation=at.agitation,
        )
        for at in (entry, case)
    )
    if any(f.level is Level.STOP for f in (*there.findings, *here.findings)):
        return None
    value *= here.um_per_min / there.um_per_min
    return Observation(value=value, sd=share * value, date=entry.date)


def _depth_share(entry: JobRecord) -> float:
    depth = entry.depth_mm
    if depth.sd > 0:
        return depth.sd / depth.value
    return max(_DEPTH_SHARE, _DEPTH_LEAST_MM / depth.value)


def _mean(observations: list[Observation | None]) -> Faded | None:
    known = [o for o in observations if o is not None]
    return fading_mean(known) if known else None


def _etch_source(
    used: list[EtchCalibration | JobRecord], observations: list[Observation | None]
) -> str:
    """Name the entries behind a mean: the coupon, and how many job records up to which date."""
    behind = [e for e, o in zip(used, observations, strict=True) if o is not None]
    words = [f"etch coupon {e.ident} of {e.date}" for e in behind if isinstance(e, EtchCalibration)]
    records = [e for e in behind if isinstance(e, JobRecord)]
    if len(records) == 1:
        words.append(f"job record {records[0].ident} of {records[0].date}")
    elif records:
        words.append(f"{len(records)} job records, the last of {max(e.date for e in records)}")
    fades = f"; half-life {HALF_LIFE_DAYS:g} days" if len(behind) > 1 else ""
    return f"shop book: {' and '.join(words)}{fades}"


def _etch_used(name: str, value: str, mean: Faded, source: str) -> Finding:
    return Finding.note(
        "shop-book-used",
        f"the {name}, {value} (sd {mean.mean.sd:.2g}), is from the {source}",
        "Measure depth, time and undercut of this job too, and record them.",
    )


def _etch_passed_over(numbers: ShopNumbers, case: EtchCase) -> Finding:
    entries: list[EtchCalibration | JobRecord] = [*numbers.etch, *numbers.jobs]
    fewest = min(len(etch_differs(e, case)) for e in entries)
    near = [e for e in entries if len(etch_differs(e, case)) == fewest]
    other = max(near, key=lambda entry: (entry.date, entry.ident))
    what = "etch coupon" if isinstance(other, EtchCalibration) else "job record"
    differs = "; ".join(etch_differs(other, case))
    return _passed_over(f"{what} {other.ident}", other.date, "the etch", differs)
