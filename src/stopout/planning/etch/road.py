"""From a job and its openings to the etch: strength, undercut, bath, and what is refused."""

from __future__ import annotations

from collections.abc import Sequence

from stopout.etching import (
    CEILING,
    BathStrength,
    BathUse,
    Current,
    EtchAsked,
    EtchPlan,
    Origin,
    Pair,
    bath_strength,
    check_depth,
    plan_etch,
    table_etch_factor,
)
from stopout.job.record import Job
from stopout.planning.findings.kinds import etch_findings, refusal_findings
from stopout.planning.knowledge import Knowledge
from stopout.planning.measures.bite import Bite
from stopout.planning.plan import CoatPlan
from stopout.values import Finding, Level

_LEFT_OUT = Finding.note(
    "etch-left-out",
    "the bath is refused, so its time, amounts and undercut are not worked out; masks, edges "
    "and pictures leave them out",
    "Look at them again once the stop is mended.",
)


def strength_of(job: Job, knowledge: Knowledge) -> BathStrength | None:
    """Return the bath's strength in all its measures; None where nothing is etched."""
    if job.etch is None or knowledge.pair is None:
        return None
    return bath_strength(
        knowledge.pair.etchant, value=job.etch.strength.value, unit=job.etch.strength.unit
    )


def bite_of(job: Job, knowledge: Knowledge) -> Bite:
    """Return how deep the etch goes and how far it creeps under the resist."""
    if job.etch is None or knowledge.pair is None:
        return Bite()
    factor = job.etch.etch_factor or table_etch_factor(knowledge.pair)
    return Bite(depth_mm=job.etch.depth_mm, factor=factor)


def etch_of(
    job: Job, knowledge: Knowledge, coats: Sequence[CoatPlan], strength: BathStrength | None
) -> EtchPlan | None:
    """Plan the etch of all the pieces; None where nothing is etched."""
    if job.etch is None or knowledge.pair is None or strength is None or not coats:
        return None
    mask = coats[0].mask
    asked = EtchAsked(
        pair=knowledge.pair,
        strength=strength,
        temperature_degc=job.etch.temperature_degc,
        depth_mm=job.etch.depth_mm,
        etch_factor=job.etch.etch_factor,
        rate_um_per_min=job.etch.rate_um_per_min,
        rise_k=job.etch.rise_k,
        stands_degc=min(
            filter(None, (one.stands_degc(job.etch.etchant) for one in knowledge.resists)),
            default=None,
        ),
        opening_area_mm2=mask.area_mm2,
        opening_edge_mm=mask.edge_mm,
        opening_parts=mask.openings,
        opening_holes=mask.holes,
        quantity=job.quantity,
        blank_size_mm=(job.blank.width_mm, job.blank.height_mm),
        agitation=job.etch.agitation,
        use=_bath_use(job, knowledge.pair),
        sludge=knowledge.sludge,
        cell=knowledge.cell,
        current=Current(
            current_a=job.etch.current_a,
            density_a_per_cm2=job.etch.current_density_a_per_cm2,
            efficiency=job.etch.efficiency,
            voltage_v=job.etch.voltage_v,
            is_chromate_acknowledged=job.etch.is_chromate_acknowledged,
        ),
        etch_factor_origin=_origin(job.etch.etch_factor_source),
        rate_origin=_origin(job.etch.rate_source),
    )
    return plan_etch(asked)


def _bath_use(job: Job, pair: Pair) -> BathUse:
    bath = job.bath
    stock = bath.stock
    return BathUse(
        ident=bath.ident,
        dissolved_g_per_l=bath.dissolved_g_per_l,
        volume_l=bath.volume_l,
        tray_mm=bath.tray_mm,
        plates_at_once=bath.plates_at_once,
        stock=None
        if stock is None
        else bath_strength(pair.etchant, value=stock.value, unit=stock.unit),
        coupon_area_mm2=bath.coupon_area_mm2,
        spares=job.spares,
        is_cooled=bath.is_cooled,
    )


def _origin(book_source: str | None) -> Origin:
    """Where a value handed in is from: the shop book where it says so, else the job file."""
    return Origin() if book_source is None else Origin(kind="measured", source=book_source)


def chemistry_findings(
    job: Job, knowledge: Knowledge, etch: EtchPlan | None, strength: BathStrength | None
) -> list[Finding]:
    """Return what the chemistry has to say, refusals first."""
    refused = refusal_findings(
        job,
        None if strength is None else strength.g_per_l,
        knowledge.resists,
        knowledge.refusals,
        knowledge.material.base,
    )
    # Of a bath that is refused altogether, nothing may read as advice how to run it; a mere
    # caution beside it hides nothing.
    if job.etch is not None and knowledge.pair is None:
        return [*refused, *_depth_findings(job), _LEFT_OUT]
    if knowledge.pair is None or any(finding.level is Level.STOP for finding in refused):
        return [*refused, *_depth_findings(job)]
    found = etch_findings(job, etch, knowledge.pair, knowledge.resists, knowledge.other_resists)
    if any(finding.code.startswith(CEILING) for finding in found):
        found = [finding for finding in found if finding.level is Level.STOP]
    return [*refused, *found]


def _depth_findings(job: Job) -> tuple[Finding, ...]:
    if job.etch is None:
        return ()
    return check_depth(job.etch.depth_mm, job.blank.thickness_mm)
