"""What the page for a phone calculates with: clocks by batch, and the numbers behind its sums."""

from __future__ import annotations

from stopout.etching import EtchPlan
from stopout.etching.schedule import LOOK
from stopout.planning import Plan
from stopout.sheet.model import BenchSums, Lane
from stopout.sheet.stages.bath import is_guess
from stopout.units import six_digits

COUPON = "coupon"
# A depth gauge or the focus of a microscope: the same as where a record gives no standard
# deviation. Common practice, no source.
_GAUGE_SHARE, _GAUGE_UM = 0.05, 3.0


def bench_numbers(plan: Plan) -> BenchSums | None:
    """Return what the page calculates with; None where nothing is etched.

    Parameters
    ----------
    plan : Plan
        One that may be worked.
    """
    etch = plan.etch
    if etch is None:
        return None
    return BenchSums(
        depth_um=six_digits(1000 * etch.depth_mm),
        rate_um_per_min=six_digits(etch.rate_um_per_min),
        undercut_um=six_digits(1000 * etch.undercut_mm),
        loss_g=six_digits(etch.metal_per_piece_g),
        bath_l=six_digits(etch.bath_fill_l),
        start_g_per_l=six_digits(etch.batches[0].start_g_per_l) if etch.batches else 0.0,
        gauge_share=_GAUGE_SHARE,
        gauge_um=_GAUGE_UM,
        clock="bath" if etch.electro is None else "current",
        lanes=_lanes(etch),
        known=known_of(plan, etch),
    )


def _lanes(etch: EtchPlan) -> tuple[Lane, ...]:
    """The coupon, if there is one, then batch after batch, their pieces numbered through."""
    lanes = []
    if is_guess(etch):
        half_s = six_digits(LOOK * etch.time_s)
        lanes.append(Lane(name=COUPON, pieces=(COUPON,), time_s=half_s, checks=(("lift", 1.0),)))
    checks = tuple((check.what, six_digits(check.share)) for check in etch.schedule)
    first = 1
    for batch in etch.batches:
        pieces = tuple(str(k) for k in range(first, first + batch.pieces))
        first += batch.pieces
        name = f"piece {pieces[0]}" if len(pieces) == 1 else f"batch {batch.number}"
        time_s = None if batch.time_s is None else six_digits(batch.time_s)
        lanes.append(Lane(name=name, pieces=pieces, time_s=time_s, checks=checks))
    return tuple(lanes)


def known_of(plan: Plan, etch: EtchPlan) -> tuple[tuple[str, str | int | float], ...]:
    """Return what the plan knows of a record, by the record's own keys."""
    job = plan.job
    return (
        ("name", job.name),
        ("revision", job.revision),
        ("material", job.blank.material),
        ("finish", job.blank.finish),
        ("etchant", etch.etchant),
        ("strength_g_per_l", six_digits(etch.strength.g_per_l)),
        ("temperature_degc", etch.temperature_degc),
        ("agitation", etch.agitation),
        ("job_sha256", job.sha256),
    )
