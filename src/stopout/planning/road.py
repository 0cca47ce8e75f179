"""The one road from a validated job to a plan."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Literal

from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.clearing import ClearingRun, clear, mark_in_bands, measure_program
from stopout.errors import PlanError
from stopout.etching import (
    BathStrength,
    BathUse,
    Cell,
    Current,
    EtchPlan,
    Finish,
    Hazard,
    Material,
    Origin,
    Pair,
    Refusal,
    Resist,
    Sludge,
    bath_strength,
    check_depth,
    plan_etch,
    resist_values,
    table_etch_factor,
)
from stopout.mask import (
    Mask,
    as_multipolygon,
    as_worked,
    blank_region,
    lost_bridges,
    lost_counters,
    make_mask,
    make_target,
    reach_mm,
    widen_lands,
)
from stopout.outcome import advance, closed_gaps, judge, sweep
from stopout.planning.beam import Beam, beam_for
from stopout.planning.bed import told_once
from stopout.planning.bite import Bite
from stopout.planning.bounds import bounds_program
from stopout.planning.edge_light import (
    edge_findings,
    light_bands,
    light_values,
    line_bands,
    lines_along,
    prove_light,
)
from stopout.planning.film import film_findings, film_values, plan_film_coat
from stopout.planning.findings import (
    coat_findings,
    etch_findings,
    job_findings,
    motion_findings,
    ranked,
    refusal_findings,
)
from stopout.planning.front import front_findings, mark_crosses, prove_front
from stopout.planning.job import Coat, Job
from stopout.planning.layers import Layers, plan_layers, stack_passes
from stopout.planning.legibility import legibility_findings
from stopout.planning.light import light_findings
from stopout.planning.margins import advise, land_margin, needed_land_mm, stroke_margin
from stopout.planning.measuring import (
    drawn_widths,
    land_left,
    measure_opening,
    thinnest_opening,
)
from stopout.planning.plan import ClearingNumbers, CoatPlan, Plan
from stopout.planning.sheet_findings import sheet_findings
from stopout.planning.shows import shown_by_coats
from stopout.planning.stating import clearing_values, machine_values
from stopout.planning.unclaimed import unclaimed_findings
from stopout.program import read_program, round_keep_outs, write_program
from stopout.values import Drawing, Finding, Level, Stated

__all__ = ["Knowledge", "plan_job"]

_LEFT_OUT = Finding(
    code="etch-left-out",
    level=Level.NOTE,
    message="of what is refused no etch is reckoned: masks, edges and pictures leave it out",
    remedy="Look at them again once the stop is mended.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Knowledge:
    """What the tables say about this job's material, paints and chemicals.

    `resists` runs parallel to the job's coats; `pair` is None where nothing is etched, or where
    the bath is refused whatever its strength; `cell` is given where a current etches, `sludge`
    where it is known. `finish` is what covers the blank as bought, and
    `other_resists` what may be named in place of a resist that would not last. `findings` is what
    the tables themselves have to say: whose they are.
    """

    material: Material
    resists: tuple[Resist, ...]
    pair: Pair | None = None
    cell: Cell | None = None
    sludge: Sludge | None = None
    refusals: tuple[Refusal, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    finish: Finish | None = None
    other_resists: tuple[Resist, ...] = ()
    findings: tuple[Finding, ...] = ()


def _say_nothing(stage: str) -> None:
    """Tell nobody: the default of `plan_job`."""


def plan_job(
    job: Job,
    drawing: Drawing,
    knowledge: Knowledge,
    *,
    outline: BaseGeometry | None = None,
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
    tell : callable
        Called with a few words at each stage, for a progress display.

    Returns
    -------
    Plan
        With programs, unless a finding says stop.

    Raises
    ------
    PlanError
        If the job cannot be planned at all.
    """
    face_seen = blank_region(
        width_mm=job.blank.width_mm,
        height_mm=job.blank.height_mm,
        corner_radius_mm=job.blank.corner_radius_mm,
        outline=outline,
        holes=[(hole.at_mm, hole.diameter_mm) for hole in job.blank.holes],
    )
    face = _worked(face_seen, job)
    strength = _strength(job, knowledge)
    bite = _bite(job, knowledge)
    layers, targets = _targets(job, drawing, face_seen, face)
    coats = [
        _plan_coat(number, _stacked(number, coat, layers, job), target, face, job, bite, tell)
        if job.has_beam
        else plan_film_coat(coat, target, face, job, bite, tell)
        for number, (coat, target) in enumerate(zip(job.coats, targets, strict=True), start=1)
        if target is not None
    ]
    front = None
    if layers is not None:
        tell("looking from the front")
        front = prove_front(job, layers, coats, face)
    light = None if job.light is None else prove_light(job, job.light, coats[0], coats[0].target)
    etch = _etch(job, knowledge, coats, strength)
    blank_at = _blank_at(job)
    findings = [*job.findings, *knowledge.findings]
    findings += [_placed(finding, job) for finding in drawing.findings]
    findings += job_findings(job, drawing.dark, face_seen, knowledge.finish)
    findings += sheet_findings(job, knowledge.material)
    findings += light_findings(job, knowledge.resists)
    findings += edge_findings(job, knowledge.material, light)
    findings += legibility_findings(job, drawing)
    if layers is not None:
        # What is to be shown is as worked there; a mirror image turned over again is as seen.
        shown = [_worked(region, job) for region in layers.shown]
        unclaimed = unclaimed_findings(job.coats, shown, drawing, face_seen)
        findings += [_placed(finding, job) for finding in unclaimed]
    for coat in coats:
        findings += coat_findings(coat, job, etch)
        if job.has_beam:
            findings += motion_findings(coat, job, blank_at)
        else:
            findings += film_findings(coat, job, face)
    if front is not None:
        findings += front_findings(job, front)
    chemistry = _chemistry(job, knowledge, etch, strength)
    bounds = None
    if job.has_beam:
        bounds, bounds_problems = bounds_program(job, coats, blank_at)
        findings += bounds_problems
    findings = told_once(findings, job, coats)
    if any(finding.level is Level.STOP for finding in [*findings, *chemistry]):
        coats = [replace(coat, program=None, prints=False, cuts=False) for coat in coats]
        bounds = None
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
        blank_at_mm=blank_at,
        bounds_program=bounds,
        finish=knowledge.finish,
        refusal_codes=frozenset(rule.code for rule in knowledge.refusals),
        findings=ranked(findings, first=chemistry),
        values=(
            *_values(job, knowledge, coats, etch),
            *(() if light is None else light_values(light)),
        ),
    )


def _chemistry(
    job: Job, knowledge: Knowledge, etch: EtchPlan | None, strength: BathStrength | None
) -> list[Finding]:
    refused = refusal_findings(
        job, None if strength is None else strength.g_per_l, knowledge.resists, knowledge.refusals
    )
    # Of a bath that is refused altogether, nothing may read as advice how to run it; a mere
    # caution beside it hides nothing.
    if job.etch is not None and knowledge.pair is None:
        return [*refused, *_depth_findings(job), _LEFT_OUT]
    if knowledge.pair is None or any(finding.level is Level.STOP for finding in refused):
        return [*refused, *_depth_findings(job)]
    return [
        *refused,
        *etch_findings(job, etch, knowledge.pair, knowledge.resists, knowledge.other_resists),
    ]


def _depth_findings(job: Job) -> tuple[Finding, ...]:
    if job.etch is None:
        return ()
    return check_depth(job.etch.depth_mm, job.blank.thickness_mm)


def _worked(region: BaseGeometry, job: Job) -> BaseGeometry:
    return as_worked(region, width_mm=job.blank.width_mm, is_back_worked=job.blank.is_back_worked)


def _placed(finding: Finding, job: Job) -> Finding:
    """Turn a finding about the artwork, placed as seen, to its place as worked."""
    if finding.at_mm is None or not job.blank.is_back_worked:
        return finding
    x, y = finding.at_mm
    return replace(finding, at_mm=(job.blank.width_mm - x, y))


def _strength(job: Job, knowledge: Knowledge) -> BathStrength | None:
    if job.etch is None or knowledge.pair is None:
        return None
    return bath_strength(
        knowledge.pair.etchant, value=job.etch.strength.value, unit=job.etch.strength.unit
    )


def _bite(job: Job, knowledge: Knowledge) -> Bite:
    if job.etch is None or knowledge.pair is None:
        return Bite()
    factor = job.etch.etch_factor or table_etch_factor(knowledge.pair)
    return Bite(depth_mm=job.etch.depth_mm, factor=factor)


def _targets(
    job: Job, drawing: Drawing, face_seen: BaseGeometry, face: BaseGeometry
) -> tuple[Layers | None, list[MultiPolygon | None]]:
    """Return how a sign's coats are cleared, and what is cleared of each coat, as worked."""
    if job.coats[0].shows is None:
        target = make_target(
            drawing.dark,
            face_seen,
            is_raised=job.artwork.dark == "raised",
            field_mm=job.artwork.field_mm or 0.0,
        )
        return None, [as_multipolygon(_worked(target, job))]
    shown = shown_by_coats(job.coats, drawing, face_seen)
    layers = plan_layers(
        [_worked(region, job) for region in shown],
        face=face,
        method=job.registration.method,
        error_mm=job.registration.error_mm,
        edge_mm=job.limits.edge_tolerance_mm,
    )
    mark = max(axis.value for axis in beam_for(job.coats[0], job).mark_mm)
    crosses = mark_crosses(job, face, mark_mm=mark)
    cleared = [
        region.union(crosses) if region is not None and number == 0 else region
        for number, region in enumerate(layers.cleared)
    ]
    return layers, [None if region is None else as_multipolygon(region) for region in cleared]


def _stacked(number: int, coat: Coat, layers: Layers | None, job: Job) -> Coat:
    """Give a coat the passes that go through all coats before it, where the method asks for it."""
    if layers is None or layers.method != "through" or number == 1:
        return coat
    return replace(coat, passes=stack_passes(job.coats, number, job))


def _plan_coat(
    number: int,
    coat: Coat,
    target: MultiPolygon,
    face: BaseGeometry,
    job: Job,
    bite: Bite,
    tell: Callable[[str], None],
) -> CoatPlan:
    """Plan one coat: mask, clearing, program; then go forwards from the program's text."""
    beam = beam_for(coat, job)
    mark = (beam.mark_mm[0].value, beam.mark_mm[1].value)
    if target.is_empty:
        raise PlanError(
            f"coat {number}: nothing is left to clear once {job.artwork.file} is laid on the "
            "blank; check the artwork's size and position, and `dark`"
        )
    undercut, limits = bite.undercut.value, job.limits
    reach = reach_mm(undercut, mark)
    # The geometry library works without the interpreter's lock, so two cores are used: what depends
    # on the artwork alone is measured while the mask is planned.
    with ThreadPoolExecutor(max_workers=2) as pool:
        drawn = pool.submit(drawn_widths, target, face, reach)
        tell(f"coat {number}: mask")
        wanted, lands = widen_lands(
            target,
            face,
            needed_mm=needed_land_mm(
                limits.narrowest_land_mm, depth_mm=bite.depth_mm, factor=bite.factor
            ),
            edge_tolerance_mm=limits.edge_tolerance_mm,
            reach_mm=reach,
        )
        mask = make_mask(
            wanted,
            undercut_mm=undercut,
            mark_mm=mark,
            too_thin=limits.too_thin,
            edge_tolerance_mm=limits.edge_tolerance_mm,
            narrowest_land_mm=limits.narrowest_land_mm,
            step_mm=job.laser.step_mm,
        )
        tell(f"coat {number}: clearing paths")
        run = _run(mask, target, beam, job)
        title = [
            f"{job.name}, revision {job.revision}",
            f"{f'clears coat {number}' if job.light is None else 'marks the sheet'}; "
            f"worked side {job.blank.worked_side}",
            f"blank {job.blank.width_mm:g} x {job.blank.height_mm:g} mm",
            "origin: the blank's lower left corner as worked",
            "attend the machine at all times",
        ]
        led = round_keep_outs(run.moves, machine=job.laser, blank_at_mm=_blank_at(job))
        text = write_program(led, machine=job.laser, title=title)
        moves = read_program(text, machine=job.laser)
        tell(f"coat {number}: predicting the piece")
        opening = sweep(moves, mark)
        swept_mm2 = opening.area
        spacing = beam.spacing_mm["y" if run.line_direction == "y" else "x"]
        if job.light is not None:
            # The lines leave gaps on purpose; what is judged is the area that they make.
            spacings = [band.spacing_mm for band in light_bands(target, job, job.light, mark)]
            opening, spacing = closed_gaps(opening, max(spacings)), min(spacings)
        finished = advance(opening, undercut)
        tell(f"coat {number}: holding it against the artwork")
        judged = pool.submit(
            judge,
            target=target,
            opening=opening,
            finished=finished,
            blank=face,
            reach_mm=reach,
            edge_tolerance_mm=limits.edge_tolerance_mm,
        )
        land = pool.submit(land_left, face, finished, 2 * min(mark))
        measured = measure_opening(opening, face, min(mark))
        outcome, finished_land = judged.result(), land.result()
        widths, narrowest_stroke = drawn.result()
    times = measure_program(moves, machine=job.laser, power=beam.power, speed_mm_s=beam.speed_mm_s)
    across = mark[0] if run.line_direction == "y" else mark[1]
    return CoatPlan(
        number=number,
        coat=coat,
        target=target,
        opening=opening,
        finished=finished,
        thin_places=mask.thin_places,
        narrow_lands=lands,
        bridges=lost_bridges(
            target,
            opening,
            finished,
            outcome.too_much,
            land=widths[1],
            n_filled=len(outcome.filled_holes.geoms),
            undercut_mm=undercut,
        ),
        counters=lost_counters(outcome.filled_holes, opening, undercut_mm=undercut),
        widths=widths,
        stroke=stroke_margin(
            thinnest_opening(mask, measured, narrowest_stroke, undercut, mark),
            undercut=bite.undercut,
            mark=beam.mark_mm,
        ),
        land=land_margin(finished_land.width_mm, undercut=bite.undercut, mark=beam.mark_mm),
        advice=advise(
            stroke_mm=narrowest_stroke,
            land_mm=finished_land.width_mm,
            mark_mm=max(mark),
            depth_mm=bite.depth_mm,
            factor=bite.factor,
            edge_tolerance_mm=limits.edge_tolerance_mm,
            narrowest_land_mm=limits.narrowest_land_mm,
        ),
        moves=moves,
        mask=measured,
        mark_mm=beam.mark_mm,
        reach_mm=reach,
        clearing=ClearingNumbers(
            mark_mm=beam.mark_mm,
            reach_mm=reach,
            spacing_mm=spacing,
            line_direction=run.line_direction,
            power_fraction=beam.power,
            speed_mm_s=beam.speed_mm_s,
            passes=beam.passes,
            outline_speed_mm_s=run.outline_speed_mm_s,
            times=times,
            time_one_direction_s=run.time_one_direction_s,
            time_other_direction_s=run.other_time_s,
            area_floor_s=beam.passes * swept_mm2 / (across * beam.speed_mm_s),
        ),
        outcome=outcome,
        finished_land_mm=finished_land.width_mm,
        narrowest_land_at=finished_land.at_mm,
        program=text,
    )


def _run(mask: Mask, target: MultiPolygon, beam: Beam, job: Job) -> ClearingRun:
    """Return the moves: lines that clear all, or for light lines whose spacing goes by bands."""
    mark = (beam.mark_mm[0].value, beam.mark_mm[1].value)
    if job.light is not None:
        bands = light_bands(target, job, job.light, mark)
        return mark_in_bands(
            mask.centres,
            mask.lines,
            machine=job.laser,
            mark_mm=mark,
            bands=line_bands(bands, job, job.light),
            along=lines_along(job.light),
            power=beam.power,
            speed_mm_s=beam.speed_mm_s,
            passes=beam.passes,
        )
    return clear(
        mask.centres,
        mask.lines,
        machine=job.laser,
        mark_mm=mark,
        spacing_mm=beam.spacing_mm,
        power=beam.power,
        speed_mm_s=beam.speed_mm_s,
        passes=beam.passes,
        line_direction=_direction(mask, job),
    )


def _direction(mask: Mask, job: Job) -> Literal["auto", "x", "y", "crossed"]:
    """Return how lines run: where the beam would leave the bed, no way is worth a search.

    The proof of the program then says what is wrong and where.
    """
    at, bed = _blank_at(job), job.laser.bed_mm
    bounds = [area.bounds for area in (mask.centres, mask.lines) if not area.is_empty]
    corners = [(0.0, 0.0), *(box[:2] for box in bounds), *(box[2:] for box in bounds)]
    fits = all(0 <= x + at[0] <= bed[0] and 0 <= y + at[1] <= bed[1] for x, y in corners)
    if fits or job.settings.line_direction != "auto":
        return job.settings.line_direction
    return "x"


def _etch(
    job: Job, knowledge: Knowledge, coats: Sequence[CoatPlan], strength: BathStrength | None
) -> EtchPlan | None:
    if job.etch is None or knowledge.pair is None or strength is None or not coats:
        return None
    mask = coats[0].mask
    return plan_etch(
        knowledge.pair,
        strength=strength,
        temperature_degc=job.etch.temperature_degc,
        depth_mm=job.etch.depth_mm,
        etch_factor=job.etch.etch_factor,
        rate_um_per_min=job.etch.rate_um_per_min,
        rise_k=job.etch.rise_k,
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
    )


def _origin(book_source: str | None) -> Origin | None:
    """Where a value handed in is from: the shop book where it says so, else the job file."""
    return None if book_source is None else Origin(kind="measured", source=book_source)


def _blank_at(job: Job) -> tuple[float, float]:
    if not job.has_beam:
        return (0.0, 0.0)
    if job.laser.blank_at_mm is not None:
        return job.laser.blank_at_mm
    bed = job.laser.bed_mm
    return ((bed[0] - job.blank.width_mm) / 2, (bed[1] - job.blank.height_mm) / 2)


def _values(
    job: Job, knowledge: Knowledge, coats: Sequence[CoatPlan], etch: EtchPlan | None
) -> tuple[Stated, ...]:
    """Return every value that the plan uses, each with its kind and source."""
    stated = machine_values(job)
    for coat in coats:
        stated += clearing_values(coat, job) if job.has_beam else film_values(coat, job)
    etchant = knowledge.pair.etchant if knowledge.pair is not None else None
    if job.light is not None:
        return tuple(stated)
    for number, (resist, coat_as_given) in enumerate(
        zip(knowledge.resists, job.coats, strict=True), start=1
    ):
        if coat_as_given.is_window:
            continue
        stated += resist_values(
            resist,
            etchant=etchant,
            thickness_um=coat_as_given.thickness_um,
            of=f" of coat {number}" if len(job.coats) > 1 else "",
        )
    return (*stated, *(etch.values if etch else ()))
