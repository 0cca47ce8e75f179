"""The one road from a validated job to a plan."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from shapely.geometry.base import BaseGeometry

from stopout.etching import EtchPlan
from stopout.job.record import Job
from stopout.planning.etch.road import chemistry_findings, etch_of
from stopout.planning.findings.bed import told_once
from stopout.planning.findings.clear_sheet import sheet_findings
from stopout.planning.findings.codes import code_findings, outside_codes
from stopout.planning.findings.kinds import coat_findings, job_findings, motion_findings, ranked
from stopout.planning.findings.plausible import coarse_findings, plausible_findings
from stopout.planning.findings.raised_rule import raised_rule_findings
from stopout.planning.findings.unmeasured import unmeasured_findings
from stopout.planning.knowledge import Knowledge
from stopout.planning.measures.placing import place_of_blank, placed_as_worked
from stopout.planning.measures.threshold import threshold_of
from stopout.planning.memory import Memory
from stopout.planning.opening.bounds import bounds_program
from stopout.planning.opening.edge_light import edge_findings, light_values, prove_light
from stopout.planning.opening.film_findings import film_findings
from stopout.planning.plan import CoatPlan, LightPlan, Plan
from stopout.planning.road.coats import coats_of
from stopout.planning.road.front import front_findings, prove_front
from stopout.planning.road.ground import DoAll, Ground, Look, ground_of, one_by_one, say_nothing
from stopout.planning.road.values import values_of
from stopout.planning.signs.front import Front
from stopout.planning.signs.layers import Layers
from stopout.planning.signs.legibility import legibility_findings
from stopout.planning.signs.light import light_findings
from stopout.planning.signs.verdicts import claim_findings, plainly_told
from stopout.planning.verdict.cut import Laid, cut_findings, lay
from stopout.planning.verdict.reached import reach_verdict
from stopout.planning.verdict.reading import reading_findings
from stopout.planning.verdict.remedies import Mender, finest_mark_mm
from stopout.planning.verdict.trial import Trial
from stopout.values import Drawing, Finding, Level


def plan_job(
    job: Job,
    drawing: Drawing,
    knowledge: Knowledge,
    *,
    outline: BaseGeometry | None = None,
    draft: bool = False,
    coats: Sequence[CoatPlan] | None = None,
    memory: Memory | None = None,
    tell: Callable[[str], None] = say_nothing,
    glimpse: Look | None = None,
    do_all: DoAll = one_by_one,
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
    glimpse : callable, optional
        Is given a first look at the front of a draft's sign, and at each coat, before anything is
        judged.
    do_all : callable
        Plans the coats, each given a `tell`, and returns what they make of it, in their order.

    Returns
    -------
    Plan
        With programs, unless it is a draft or a finding says stop.

    Raises
    ------
    PlanError
        If the job cannot be planned at all.
    """
    ground = ground_of(job, drawing, knowledge, outline, draft=draft, memory=memory, tell=tell)
    ground = replace(ground, glimpse=glimpse, do_all=do_all)
    work = _worked(ground, coats)
    bounds, findings = _findings(ground, work)
    chemistry = chemistry_findings(ground.job, knowledge, work.etch, ground.strength)
    made = work.coats
    if draft or any(finding.level is Level.STOP for finding in [*findings, *chemistry]):
        made = [replace(coat, program=None, prints=False, cuts=False) for coat in made]
        bounds = None
    told = ranked(findings, first=chemistry)
    mender = None if draft else _mender(ground, work)
    return Plan(
        job=ground.job,
        drawing=drawing,
        material=knowledge.material,
        resists=knowledge.resists,
        pair=knowledge.pair,
        hazards=knowledge.hazards,
        face=ground.face,
        shown=() if work.layers is None else work.layers.shown,
        front=work.front,
        light=work.light,
        coats=tuple(made),
        etch=work.etch,
        blank_at_mm=place_of_blank(ground.job),
        bounds_program=bounds,
        finish=knowledge.finish,
        refusal_codes=frozenset(rule.code for rule in knowledge.refusals),
        findings=told,
        verdict=reach_verdict(told, work.laid.things, mender),
        values=(
            *values_of(ground.job, knowledge, made, work.etch),
            *(() if work.light is None else light_values(work.light)),
        ),
        is_draft=draft,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Work:
    """What is made of it: the coats opened and etched, how it looks, and how the blank takes it."""

    layers: Layers | None
    coats: list[CoatPlan]
    front: Front | None
    light: LightPlan | None
    etch: EtchPlan | None
    laid: Laid


def _worked(ground: Ground, given: Sequence[CoatPlan] | None) -> _Work:
    job, drawing = ground.job, ground.drawing
    layers, made = None, list(given or ())
    if given is None:
        layers, made = coats_of(ground)
    coats = [
        replace(coat, changes=tuple(outside_codes(coat.changes, job, drawing))) for coat in made
    ]
    front = None
    if layers is not None:
        ground.tell("looking from the front")
        diffusers = [resist.is_diffuser for resist in ground.knowledge.resists]
        front = prove_front(
            job, layers, coats, ground.face, drawing.picture, diffusers, memory=ground.memory
        )
    return _Work(
        layers=layers,
        coats=coats,
        front=front,
        light=None if job.light is None else prove_light(job, job.light, coats[0], coats[0].target),
        etch=etch_of(job, ground.knowledge, coats, ground.strength),
        laid=lay(job, drawing, ground.face),
    )


def _findings(ground: Ground, work: _Work) -> tuple[str | None, list[Finding]]:
    """The program that runs round the work, and what is to be said of all but the chemistry."""
    job, bounds = ground.job, None
    findings = [*_of_the_job(ground, work), *_of_the_piece(ground, work)]
    if job.route.has_beam and not ground.is_draft:
        bounds, problems = bounds_program(job, work.coats, place_of_blank(job))
        findings += problems
    findings = plainly_told(told_once(findings, job, work.coats))
    if any(finding.code == "cut-off" for finding in findings):
        findings = [finding for finding in findings if finding.code != "artwork-beyond-page"]
    return bounds, findings


def _of_the_job(ground: Ground, work: _Work) -> list[Finding]:
    """What is to be said of the job, its drawing and its material."""
    job, drawing, knowledge = ground.job, ground.drawing, ground.knowledge
    reach = max((coat.reach_mm for coat in work.coats), default=0.0)
    return [
        *job.findings,
        *knowledge.findings,
        *(placed_as_worked(finding, job) for finding in drawing.findings),
        *job_findings(job, knowledge.finish),
        *cut_findings(job, work.laid, reach_mm=reach),
        *sheet_findings(job, knowledge.material),
        *light_findings(job, knowledge.resists),
        *edge_findings(job, knowledge.material, work.light),
        *coarse_findings(job, drawing),
        *legibility_findings(job, drawing),
        *raised_rule_findings(job, drawing),
    ]


def _of_the_piece(ground: Ground, work: _Work) -> list[Finding]:
    """What is to be said of the piece, coat by coat and as it is looked at."""
    job, drawing, front = ground.job, ground.drawing, work.front
    views = None if front is None else front.views
    findings = [
        *code_findings(job, drawing, work.coats, views, ground.face, ground.bite),
        *plausible_findings(job, work.coats, work.etch),
        *unmeasured_findings(job, work.coats, ground.bite),
    ]
    if ground.claims is not None:
        asked = claim_findings(job.coats, ground.claims, drawing)
        findings += [placed_as_worked(finding, job) for finding in asked]
    for coat in work.coats:
        said = coat_findings(coat, job, work.etch, threshold_of(coat, ground.knowledge))
        said = outside_codes(said, job, drawing)
        findings += reading_findings(job, coat, said, work.laid.things)
        if job.route.has_beam:
            findings += motion_findings(coat, job, place_of_blank(job))
        else:
            findings += film_findings(coat, job, ground.face)
    if front is not None:
        findings += front_findings(job, front, drawing, ground.memory)
    return findings


def _mender(ground: Ground, work: _Work) -> Mender | None:
    """Return what finds and tries remedies; none where no beam clears paint."""
    job = ground.job
    if not work.coats or not job.route.clears_paint:
        return None
    trials = [
        Trial(
            job=job,
            target=coat.target,
            face=ground.face,
            mark_mm=(coat.mark_mm[0].value, coat.mark_mm[1].value),
            bite=ground.bite,
        )
        for coat in work.coats
    ]
    x0, y0, x1, y1 = work.laid.dark.bounds
    wide, high = x1 - x0, y1 - y0
    room = min(job.blank.width_mm / wide, job.blank.height_mm / high)
    finest = finest_mark_mm(job.laser.spot_mm)
    return Mender(trials=tuple(trials), room=room, finest_mm=finest)
