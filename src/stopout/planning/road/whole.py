"""The one road from a validated job to a plan."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.job.record import Coat, Job
from stopout.mask import as_multipolygon, make_target
from stopout.planning.book.dose import with_dose
from stopout.planning.etch.road import bite_of, chemistry_findings, etch_of, strength_of
from stopout.planning.findings.bed import told_once
from stopout.planning.findings.clear_sheet import sheet_findings
from stopout.planning.findings.codes import code_findings, outside_codes
from stopout.planning.findings.kinds import (
    coat_findings,
    job_findings,
    motion_findings,
    ranked,
)
from stopout.planning.findings.plausible import plausible_findings
from stopout.planning.findings.raised_rule import raised_rule_findings
from stopout.planning.findings.unmeasured import unmeasured_findings
from stopout.planning.knowledge import Knowledge
from stopout.planning.measures.beam import beam_for
from stopout.planning.measures.bite import Bite
from stopout.planning.measures.placing import (
    as_worked_on,
    face_as_seen,
    place_of_blank,
    placed_as_worked,
)
from stopout.planning.measures.threshold import threshold_of
from stopout.planning.memory import Memory
from stopout.planning.opening.bounds import bounds_program
from stopout.planning.opening.coat import plan_coat
from stopout.planning.opening.edge_light import (
    edge_findings,
    light_values,
    prove_light,
)
from stopout.planning.opening.film_findings import film_findings
from stopout.planning.opening.look import Narrow
from stopout.planning.plan import CoatPlan, Plan
from stopout.planning.road.front import bleed_mm, front_findings, mark_crosses, prove_front
from stopout.planning.road.values import values_of
from stopout.planning.signs.bleed import overrun
from stopout.planning.signs.claims import Claims, claims_of
from stopout.planning.signs.grid import on_grid, union
from stopout.planning.signs.layers import Layers, plan_layers, stack_passes
from stopout.planning.signs.legibility import legibility_findings
from stopout.planning.signs.light import light_findings
from stopout.planning.signs.verdicts import claim_findings, plainly_told
from stopout.planning.verdict.cut import Laid, cut_findings, lay
from stopout.planning.verdict.reached import reach_verdict
from stopout.planning.verdict.reading import reading_findings
from stopout.planning.verdict.remedies import Mender, finest_mark_mm
from stopout.planning.verdict.trial import Trial
from stopout.values import Drawing, Finding, Level


def _say_nothing(stage: str) -> None:
    """Tell nobody: the default of `plan_job`."""


def plan_job(
    job: Job,
    drawing: Drawing,
    knowledge: Knowledge,
    *,
    outline: BaseGeometry | None = None,
    draft: bool = False,
    coats: Sequence[CoatPlan] | None = None,
    memory: Memory | None = None,
    tell: Callable[[str], None] = _say_nothing,
) -> Plan:
    """Plan a job.

    Parameters
    ----------
    job : Job
        The validated job.
    drawing : Drawing
        The artwork laid on the blank, as seen.
    knowledge : Knowledge
        Table entries for the job's material, paints and etchant.
    outline : BaseGeometry, optional
        The blank's outline as seen, where it is not a rounded rectangle.
    draft : bool
        Stop at the prediction: no program is laid, timed or proven, and no remedy tried.
    coats : sequence of CoatPlan, optional
        The coats of a plate, where they are planned already: those of a panel's pieces, joined.
    memory : Memory, optional
        What was found of the patches of earlier drawings; it changes nothing but the time.
    tell : callable
        Called with a few words at each stage, for a progress display.

    Returns
    -------
    Plan
        With programs, unless it is a draft or a finding says stop.

    Raises
    ------
    PlanError
        If the job cannot be planned at all.
    """
    job = with_dose(job, knowledge)
    face_seen = face_as_seen(job.blank, outline)
    face = as_worked_on(face_seen, job)
    strength = strength_of(job, knowledge)
    bite = bite_of(job, knowledge)
    claims = None
    if job.route.is_sign:
        face = on_grid(face)
        claims = claims_of(job.coats, drawing, face_seen)
    layers, made = None, list(coats or ())
    if coats is None:
        layers, targets = _targets(job, drawing, claims, face_seen, face)
        made = _coats(job, layers, targets, face, bite, tell, draft=draft, memory=memory)
    coats = [
        replace(coat, changes=tuple(outside_codes(coat.changes, job, drawing))) for coat in made
    ]
    front = None
    if layers is not None:
        tell("looking from the front")
        front = prove_front(
            job,
            layers,
            coats,
            face,
            drawing.picture,
            [resist.is_diffuser for resist in knowledge.resists],
        )
    light = None if job.light is None else prove_light(job, job.light, coats[0], coats[0].target)
    etch = etch_of(job, knowledge, coats, strength)
    corner = place_of_blank(job)
    findings = [*job.findings, *knowledge.findings]
    findings += [placed_as_worked(finding, job) for finding in drawing.findings]
    findings += job_findings(job, knowledge.finish)
    laid = lay(job, drawing, face)
    reach = max((coat.reach_mm for coat in coats), default=0.0)
    findings += cut_findings(job, laid, reach_mm=reach)
    findings += sheet_findings(job, knowledge.material)
    findings += light_findings(job, knowledge.resists)
    findings += edge_findings(job, knowledge.material, light)
    findings += legibility_findings(job, drawing)
    findings += raised_rule_findings(job, drawing)
    findings += code_findings(
        job, drawing, coats, None if front is None else front.views, face, bite
    )
    findings += plausible_findings(job, coats, etch)
    findings += unmeasured_findings(job, coats, bite)
    if claims is not None:
        asked = claim_findings(job.coats, claims, drawing)
        findings += [placed_as_worked(finding, job) for finding in asked]
    for coat in coats:
        said = coat_findings(coat, job, etch, threshold_of(coat, knowledge))
        said = outside_codes(said, job, drawing)
        findings += reading_findings(job, coat, said, laid.things)
        if job.route.has_beam:
            findings += motion_findings(coat, job, corner)
        else:
            findings += film_findings(coat, job, face)
    if front is not None:
        findings += front_findings(job, front, drawing)
    chemistry = chemistry_findings(job, knowledge, etch, strength)
    bounds = None
    if job.route.has_beam and not draft:
        bounds, bounds_problems = bounds_program(job, coats, corner)
        findings += bounds_problems
    findings = plainly_told(told_once(findings, job, coats))
    if any(finding.code == "cut-off" for finding in findings):
        findings = [finding for finding in findings if finding.code != "artwork-beyond-page"]
    if draft or any(finding.level is Level.STOP for finding in [*findings, *chemistry]):
        coats = [replace(coat, program=None, prints=False, cuts=False) for coat in coats]
        bounds = None
    told = ranked(findings, first=chemistry)
    mender = None if draft else _mender(job, coats, laid, face, bite)
    return Plan(
        job=job,
        drawing=drawing,
        material=knowledge.material,
        resists=knowledge.resists,
        pair=knowledge.pair,
        hazards=knowledge.hazards,
        face=face,
        shown=() if layers is None else layers.shown,
        front=front,
        light=light,
        coats=tuple(coats),
        etch=etch,
        blank_at_mm=corner,
        bounds_program=bounds,
        finish=knowledge.finish,
        refusal_codes=frozenset(rule.code for rule in knowledge.refusals),
        findings=told,
        verdict=reach_verdict(told, laid.things, mender),
        values=(
            *values_of(job, knowledge, coats, etch),
            *(() if light is None else light_values(light)),
        ),
        is_draft=draft,
    )


def plan_coats(
    job: Job,
    drawing: Drawing,
    knowledge: Knowledge,
    *,
    outline: BaseGeometry | None = None,
    draft: bool = False,
    memory: Memory | None = None,
    beside: Narrow | None = None,
    tell: Callable[[str], None] = _say_nothing,
) -> tuple[list[CoatPlan], list[Finding]]:
    """Plan the coats of a plate alone, and say what of its drawing the blank takes.

    Parameters are those of `plan_job`; `beside` says how narrow another piece of the same panel
    is: what is no narrower is not measured.

    Raises
    ------
    PlanError
        If nothing is to be cleared.
    """
    job = with_dose(job, knowledge)
    face_seen = face_as_seen(job.blank, outline)
    face = as_worked_on(face_seen, job)
    layers, targets = _targets(job, drawing, None, face_seen, face)
    bite = bite_of(job, knowledge)
    coats = _coats(
        job, layers, targets, face, bite, tell, draft=draft, memory=memory, beside=beside
    )
    laid = lay(job, drawing, face)
    return coats, cut_findings(job, laid, reach_mm=max(coat.reach_mm for coat in coats))


def cut_by_blank(
    job: Job, drawing: Drawing, *, outline: BaseGeometry | None = None
) -> list[Finding]:
    """Say what of a drawing its own blank takes, where it is planned on a larger one."""
    face = as_worked_on(face_as_seen(job.blank, outline), job)
    return cut_findings(job, lay(job, drawing, face), reach_mm=0.0)


def _coats(
    job: Job,
    layers: Layers | None,
    targets: Sequence[MultiPolygon | None],
    face: BaseGeometry,
    bite: Bite,
    tell: Callable[[str], None],
    *,
    draft: bool,
    memory: Memory | None,
    beside: Narrow | None = None,
) -> list[CoatPlan]:
    coats: list[CoatPlan] = []
    for number, (paint, target) in enumerate(zip(job.coats, targets, strict=True), start=1):
        if target is not None:
            coat = _stacked(number, paint, layers, job)
            opened = partial(
                plan_coat,
                number,
                coat,
                face=face,
                job=job,
                bite=bite,
                tell=tell,
                draft=draft,
                memory=memory,
                beside=beside,
            )
            coats.append(
                opened(target) if layers is None else _past_the_edge(opened, target, face, job)
            )
    return coats


def _mender(
    job: Job, coats: Sequence[CoatPlan], laid: Laid, face: BaseGeometry, bite: Bite
) -> Mender | None:
    """Return what finds and tries remedies; none where no beam clears paint."""
    if not coats or not job.route.clears_paint:
        return None
    trials = [
        Trial(
            job=job,
            target=coat.target,
            face=face,
            mark_mm=(coat.mark_mm[0].value, coat.mark_mm[1].value),
            bite=bite,
        )
        for coat in coats
    ]
    x0, y0, x1, y1 = laid.dark.bounds
    wide, high = x1 - x0, y1 - y0
    room = min(job.blank.width_mm / wide, job.blank.height_mm / high)
    finest = finest_mark_mm(job.laser.spot_mm)
    return Mender(trials=tuple(trials), room=room, finest_mm=finest)


def _past_the_edge(
    plan: Callable[[MultiPolygon], CoatPlan], target: MultiPolygon, face: BaseGeometry, job: Job
) -> CoatPlan:
    """Open past the sheet's edge; by a beam where clamps and bed allow it, else up to the edge."""
    more = overrun(target, face, bleed_mm(job))
    if more.is_empty:
        return plan(target)
    corner = place_of_blank(job)
    past = plan(as_multipolygon(union([target, more])))
    if not job.route.has_beam or not motion_findings(past, job, corner):
        return past
    plain = plan(target)
    return past if motion_findings(plain, job, corner) else plain


def _targets(
    job: Job,
    drawing: Drawing,
    claims: Claims | None,
    face_seen: BaseGeometry,
    face: BaseGeometry,
) -> tuple[Layers | None, list[MultiPolygon | None]]:
    """Return how a sign's coats are cleared, and what is cleared of each coat, as worked."""
    if claims is None:
        target = make_target(
            drawing.dark,
            face_seen,
            is_raised=job.artwork.dark == "raised",
            field_mm=job.artwork.field_mm or 0.0,
        )
        return None, [as_multipolygon(as_worked_on(target, job))]
    layers = plan_layers(
        [on_grid(as_worked_on(region, job)) for region in claims.shown],
        face=face,
        # A mask is laid for one coat: nothing is cut through several.
        method=job.registration.method if job.route.has_beam else "one-by-one",
        error_mm=job.registration.error_mm,
        edge_mm=job.limits.edge_tolerance_mm,
    )
    mark = 0.0
    if job.route.has_beam:
        mark = max(axis.value for axis in beam_for(job.coats[0], job).mark_mm)
    crosses = mark_crosses(job, face, mark_mm=mark)
    cleared = [
        union([region, crosses]) if region is not None and number == 0 else region
        for number, region in enumerate(layers.cleared)
    ]
    return layers, [None if region is None else as_multipolygon(region) for region in cleared]


def _stacked(number: int, coat: Coat, layers: Layers | None, job: Job) -> Coat:
    """Give a coat the passes that go through all coats before it, where the method asks for it."""
    if layers is None or layers.method != "through" or number == 1:
        return coat
    return replace(coat, passes=stack_passes(job.coats, number, job))
