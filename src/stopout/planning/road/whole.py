"""The one road from a validated job to a plan."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.clearing import ALONE, SideBySide
from stopout.etching import BathStrength, EtchPlan
from stopout.job.record import Job
from stopout.mask import as_multipolygon, make_target, parts_of
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
from stopout.planning.measures.bite import Bite
from stopout.planning.measures.placing import (
    as_worked_on,
    face_as_seen,
    place_of_blank,
    placed_as_worked,
)
from stopout.planning.measures.threshold import threshold_of
from stopout.planning.memory import Memory, digest_of
from stopout.planning.opening.bounds import bounds_program
from stopout.planning.opening.coat import CoatAsked, plan_coat
from stopout.planning.opening.edge_light import (
    edge_findings,
    light_values,
    prove_light,
)
from stopout.planning.opening.film_findings import film_findings
from stopout.planning.opening.look import Glimpse, Making, Narrow
from stopout.planning.opening.patches import in_a_row
from stopout.planning.plan import CoatPlan, LightPlan, Plan
from stopout.planning.road.front import front_findings, prove_front
from stopout.planning.road.sign_coats import (
    claims_on,
    cleared_on,
    plan_past_the_edge,
    stacked,
)
from stopout.planning.road.values import values_of
from stopout.planning.signs.claims import Claims
from stopout.planning.signs.front import Front, FrontGlimpse
from stopout.planning.signs.grid import on_grid
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

# A coat of fewer vertices is planned sooner than another process is begun.
_LARGE = 500
Tell = Callable[[str], None]
Look = Callable[[Glimpse | FrontGlimpse], None]
DoAll = Callable[[Sequence[Callable[[Tell], CoatPlan]], Tell], list[CoatPlan]]


def _say_nothing(stage: str) -> None:
    """Tell nobody: the default of `plan_job`."""


def one_by_one(works: Sequence[Callable[[Tell], CoatPlan]], tell: Tell) -> list[CoatPlan]:
    """Plan one coat after another: the default of `plan_job`."""
    return [work(tell) for work in works]


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
    ground = _ground(job, drawing, knowledge, outline, draft=draft, memory=memory, tell=tell)
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
class _Ground:
    """What every step stands on: the job with its dose, its drawing, and the blank's face.

    `face_seen` is the face as one looks at the piece, `face` as it is worked; `claims` is what
    each coat of a sign shows, None on metal.
    """

    job: Job
    drawing: Drawing
    knowledge: Knowledge
    face_seen: BaseGeometry
    face: BaseGeometry
    claims: Claims | None
    strength: BathStrength | None
    bite: Bite
    is_draft: bool
    memory: Memory
    tell: Callable[[str], None]
    glimpse: Look | None = None
    do_all: DoAll = one_by_one


def _ground(
    job: Job,
    drawing: Drawing,
    knowledge: Knowledge,
    outline: BaseGeometry | None,
    *,
    draft: bool,
    memory: Memory | None,
    tell: Callable[[str], None],
) -> _Ground:
    job = with_dose(job, knowledge)
    memory = memory or Memory(0)
    face_seen = face_as_seen(job.blank, outline)
    face = as_worked_on(face_seen, job)
    return _Ground(
        job=job,
        drawing=drawing,
        knowledge=knowledge,
        face_seen=face_seen,
        face=on_grid(face) if job.route.is_sign else face,
        claims=claims_on(job, drawing, face_seen, memory) if job.route.is_sign else None,
        strength=strength_of(job, knowledge),
        bite=bite_of(job, knowledge),
        is_draft=draft,
        memory=memory,
        tell=tell,
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


def _worked(ground: _Ground, given: Sequence[CoatPlan] | None) -> _Work:
    job, drawing = ground.job, ground.drawing
    layers, made = None, list(given or ())
    if given is None:
        layers, made = _coats(ground)
    coats = [
        replace(coat, changes=tuple(outside_codes(coat.changes, job, drawing))) for coat in made
    ]
    front = None
    if layers is not None:
        ground.tell("looking from the front")
        diffusers = [resist.is_diffuser for resist in ground.knowledge.resists]
        front = prove_front(
            job,
            layers,
            coats,
            ground.face,
            drawing.picture,
            diffusers,
            memory=ground.memory,
        )
    return _Work(
        layers=layers,
        coats=coats,
        front=front,
        light=None if job.light is None else prove_light(job, job.light, coats[0], coats[0].target),
        etch=etch_of(job, ground.knowledge, coats, ground.strength),
        laid=lay(job, drawing, ground.face),
    )


def _findings(ground: _Ground, work: _Work) -> tuple[str | None, list[Finding]]:
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


def _of_the_job(ground: _Ground, work: _Work) -> list[Finding]:
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
        *legibility_findings(job, drawing),
        *raised_rule_findings(job, drawing),
    ]


def _of_the_piece(ground: _Ground, work: _Work) -> list[Finding]:
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


def plan_coats(
    job: Job,
    drawings: Sequence[Drawing],
    knowledge: Knowledge,
    *,
    outline: BaseGeometry | None = None,
    draft: bool,
    beside: Narrow | None = None,
    boxes: Sequence[tuple[float, float, float, float] | None] = (),
) -> tuple[CoatPlan, SideBySide, list[list[Finding]]]:
    """Plan the coat of a plate's pieces alone, and say what of each drawing the blank takes.

    Several pieces are laid side by side and planned as one, each as if it were alone.

    Parameters
    ----------
    job : Job
        Of one piece.
    drawings : sequence of Drawing
        A piece's each.
    knowledge, outline, draft
        As for `plan_job`.
    beside : Narrow, optional
        How narrow another piece of the same panel is: what is no narrower is not measured.
    boxes : sequence, optional
        For each drawing the box, as seen, within which its parts are planned; all where None.

    Returns
    -------
    coat : CoatPlan
        Of all pieces.
    pieces : SideBySide
        Where they lie.
    findings : list of list of Finding
        Of each piece, where it is alone.

    Raises
    ------
    PlanError
        If nothing is to be cleared.
    """
    ground = _ground(
        job, drawings[0], knowledge, outline, draft=draft, memory=None, tell=_say_nothing
    )
    grounds = [replace(ground, drawing=drawing) for drawing in drawings]
    planned = [
        replace(one, drawing=_within(one.drawing, box))
        for one, box in zip(grounds, boxes or [None] * len(grounds), strict=True)
    ]
    if len(planned) == 1:
        pieces, coat = ALONE, _coats(planned[0], beside)[1][0]
    else:
        pieces, coat = _side_by_side(planned, beside)
    return coat, pieces, [_taken(one, coat.reach_mm) for one in grounds]


def _within(drawing: Drawing, box: tuple[float, float, float, float] | None) -> Drawing:
    """Return a drawing's parts that lie within a box."""
    if box is None:
        return drawing
    parts = parts_of(drawing.dark)
    return replace(drawing, dark=as_multipolygon(parts[shapely.covers(shapely.box(*box), parts)]))


def _side_by_side(grounds: Sequence[_Ground], beside: Narrow | None) -> tuple[SideBySide, CoatPlan]:
    ground = grounds[0]
    job, face = ground.job, ground.face
    asked = replace(_asked(ground), beside=beside)
    apart = math.ceil(2 * asked.making().apart_mm)
    pieces = SideBySide(pitch_mm=math.ceil(job.blank.width_mm) + 2 * apart, lead_mm=apart)
    targets = [_target(one) for one in grounds]
    for target in targets:
        if target.is_empty:
            # Says what is wrong with it.
            return ALONE, plan_coat(asked, target)
    asked = replace(asked, pieces=pieces, face=in_a_row([face] * len(grounds), pieces))
    return pieces, plan_coat(asked, in_a_row(targets, pieces))


def making_for(job: Job, drawing: Drawing, knowledge: Knowledge) -> Making:
    """Return what decides how the one coat of a plate is made."""
    ground = _ground(job, drawing, knowledge, None, draft=True, memory=None, tell=_say_nothing)
    return _asked(ground).making()


def _asked(ground: _Ground) -> CoatAsked:
    """The one coat of a plate, on its face."""
    return CoatAsked(
        number=1,
        coat=ground.job.coats[0],
        face=ground.face,
        job=ground.job,
        bite=ground.bite,
        tell=ground.tell,
        is_draft=ground.is_draft,
        memory=Memory(0),
    )


def _taken(ground: _Ground, reach_mm: float) -> list[Finding]:
    """What the blank takes of a piece's drawing."""
    laid = lay(ground.job, ground.drawing, ground.face)
    return cut_findings(ground.job, laid, reach_mm=reach_mm)


def cut_by_blank(
    job: Job, drawing: Drawing, *, outline: BaseGeometry | None = None
) -> list[Finding]:
    """Say what of a drawing its own blank takes, where it is planned on a larger one."""
    face = as_worked_on(face_as_seen(job.blank, outline), job)
    return cut_findings(job, lay(job, drawing, face), reach_mm=0.0)


def _coats(ground: _Ground, beside: Narrow | None = None) -> tuple[Layers | None, list[CoatPlan]]:
    """How a sign's coats are cleared, and each coat that anything is cleared of, opened."""
    job = ground.job
    layers: Layers | None = None
    targets: list[MultiPolygon | None] = [_target(ground)] if ground.claims is None else []
    if ground.claims is not None:
        _look_at_front(ground, ground.claims)
        layers, targets = cleared_on(job, ground.claims.shown, ground.face, ground.memory)

    def opened(number: int, target: MultiPolygon, tell: Tell) -> CoatPlan:
        asked = CoatAsked(
            number=number,
            coat=job.coats[number - 1] if layers is None else stacked(number, layers, job),
            face=ground.face,
            job=job,
            bite=ground.bite,
            tell=tell,
            is_draft=ground.is_draft,
            memory=ground.memory,
            beside=beside,
            glimpse=ground.glimpse,
        )
        return plan_coat(asked, target) if layers is None else plan_past_the_edge(asked, target)

    works = [
        partial(opened, number, target)
        for number, target in enumerate(targets, start=1)
        if target is not None
    ]
    large = [t for t in targets if t and shapely.get_num_coordinates(t) >= _LARGE]
    do_all = ground.do_all if len(large) > 1 else one_by_one
    return layers, do_all(works, ground.tell)


def _look_at_front(ground: _Ground, claims: Claims) -> None:
    """Give a first look at a sign that is drafted, unless it was given one as it is drawn now."""
    key = ("front as drawn", digest_of(ground.face_seen, *claims.shown))
    if ground.glimpse is None or not ground.is_draft or ground.memory.knows(key):
        return
    ground.glimpse(FrontGlimpse(face=ground.face_seen, shown=claims.shown))
    ground.memory.recall(key, lambda: True)


def _target(ground: _Ground) -> MultiPolygon:
    """What is to be finished of a plate, as worked."""
    job = ground.job
    target = make_target(
        ground.drawing.dark,
        ground.face_seen,
        is_raised=job.artwork.dark == "raised",
        field_mm=job.artwork.field_mm or 0.0,
    )
    return as_multipolygon(as_worked_on(target, job))


def _mender(ground: _Ground, work: _Work) -> Mender | None:
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
