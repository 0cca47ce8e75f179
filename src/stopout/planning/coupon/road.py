"""From a validated job to a test coupon: laid out, its program proven, its outcome predicted."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from shapely.geometry.base import BaseGeometry

from stopout.clearing import default_spacing_mm, dose_ratio_of, mark_width_mm
from stopout.clearing.beam.dose import threshold_line_dose_j_per_mm
from stopout.coupons.design import CouponDesign, CouponPart, Settings, lay_out
from stopout.coupons.design_clearing import DOSE_RATIOS, clearing_parts, coupon_speed_mm_s
from stopout.coupons.design_etch import etch_parts
from stopout.coupons.layout import CouponLayout, Identity, layout_to_dict
from stopout.coupons.moves import as_programmed, coupon_moves
from stopout.errors import CouponError
from stopout.job.record import Blank, Job, Registration
from stopout.job.shop_numbers import identity_of
from stopout.mask import mirror_left_right
from stopout.planning.book.dose import chosen_dose, with_dose
from stopout.planning.coupon.coat import coupon_coat
from stopout.planning.etch.road import bite_of, chemistry_findings, etch_of, strength_of
from stopout.planning.findings.kinds import job_findings, motion_findings, ranked
from stopout.planning.knowledge import Knowledge
from stopout.planning.measures.beam import Beam, beam_for, spot_radius_mm
from stopout.planning.measures.bite import Bite
from stopout.planning.measures.placing import as_worked_on, face_as_seen, place_of_blank
from stopout.planning.measures.threshold import area_threshold
from stopout.planning.opening.bounds import bounds_program
from stopout.planning.plan import CoatPlan, Plan
from stopout.planning.road.values import values_of
from stopout.planning.verdict.reached import reach_verdict
from stopout.planning.verdict.things import Things
from stopout.program import read_program, round_keep_outs, write_program
from stopout.values import Drawing, Finding, Level

# Discs and labels of a first coupon: this many times the highest dose that paint may ask for.
_SURE = 1.5

Kind = Literal["clearing", "etch"]

_NAMES = {
    "X": "lines along x, stepped dose",
    "Y": "lines along y, stepped dose",
    "P1": "lines of four passes",
    "V1": "lines at a second speed",
    "XP": "patches of lines along x",
    "YP": "patches of lines along y",
    "XC": "timing combs along x",
    "YC": "timing combs along y",
    "XS": "slots along x",
    "YS": "slots along y",
    "XL": "lands along x",
    "YL": "lands along y",
    "D": "pits for the depth",
    "A": "stars",
    "T": "small letters",
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CouponPlan:
    """A coupon as a plan, with what is on it.

    `plan` has one coat, its program None where a finding says stop. `parts` are the names of the
    parts with their boxes, in mm as worked; `named` says what a name stands for.
    """

    plan: Plan
    layout: CouponLayout
    settings: Settings
    parts: tuple[tuple[str, tuple[float, float, float, float]], ...]

    def named(self, part: str) -> str:
        """What a part is, in words."""
        return _part_words(part)


def coupon_job(
    job: Job, kind: Kind, *, coat: int = 1, size_mm: tuple[float, float] | None = None
) -> Job:
    """The job that makes a coupon for a job: one piece, one coat, no artwork.

    Parameters
    ----------
    job : Job
        The job whose machine, resist and blank the coupon is for.
    kind : {"clearing", "etch"}
        A clearing coupon has no etch.
    coat : int
        Which of its coats, from 1.
    size_mm : (float, float), optional
        Width and height of a plain piece of the same sheet, instead of the job's blank.

    Raises
    ------
    CouponError
        If the job has no such coat, or an etch coupon is asked for where nothing is etched.
    """
    if job.route.is_lit:
        raise CouponError(
            "the job marks a bare sheet for light, so there is no paint to try; mark its own "
            "program on an offcut, as the plan says"
        )
    if not 1 <= coat <= len(job.coats):
        raise CouponError(f"the job has {len(job.coats)} coats; coat {coat} is none of them")
    chosen = job.coats[coat - 1]
    if chosen.is_window:
        raise CouponError(f"coat {coat} is a window to light: there is no paint to try")
    if kind == "etch" and job.etch is None:
        raise CouponError(
            "the job has no [etch], so there is nothing that an etch coupon could measure; "
            "stopout coupon clearing is the one for it"
        )
    return replace(
        job,
        quantity=1,
        coats=(replace(chosen, shows=None),),
        etch=job.etch if kind == "etch" else None,
        findings=(),
        registration=Registration(),
        blank=job.blank if size_mm is None else _plain(job.blank, size_mm),
    )


def _plain(blank: Blank, size_mm: tuple[float, float]) -> Blank:
    """A plain rectangle of a blank's sheet."""
    width, height = size_mm
    return replace(
        blank, width_mm=width, height_mm=height, corner_radius_mm=0.0, outline=None, holes=()
    )


def coupon_settings(kind: Kind, job: Job, knowledge: Knowledge) -> tuple[Job, Beam, Bite, Settings]:
    """What a coupon is laid out for: the job with its dose, beam, undercut and limits.

    Parameters
    ----------
    kind : {"clearing", "etch"}
        Which coupon.
    job : Job
        As `coupon_job` makes it.
    knowledge : Knowledge
        Table entries for that job.
    """
    search = None
    if kind == "clearing":
        job, search = _searching(job, knowledge)
    job = with_dose(job, knowledge)
    beam, bite = beam_for(job.coats[0], job), bite_of(job, knowledge)
    return job, beam, bite, _settings(job, knowledge, beam, bite.undercut.value, search)


def plan_coupon(
    kind: Kind, job: Job, knowledge: Knowledge, *, outline: BaseGeometry | None = None
) -> CouponPlan:
    """Lay out a coupon, write and prove its program, and predict what it makes.

    Parameters
    ----------
    kind : {"clearing", "etch"}
        Which coupon.
    job : Job
        As `coupon_job` makes it.
    knowledge : Knowledge
        Table entries for that job.
    outline : BaseGeometry, optional
        The blank's outline as seen, where it is not a rounded rectangle.

    Returns
    -------
    CouponPlan
        Without programs where a finding says stop.

    Raises
    ------
    CouponError
        If the blank is too small; the sentence says what size would do.
    PlanError
        If the settings clear nothing.
    """
    job, beam, bite, settings = coupon_settings(kind, job, knowledge)
    face = as_worked_on(face_as_seen(job.blank, outline), job)
    design = _designed(kind, settings, face, _empty(kind, job, knowledge))
    corner = place_of_blank(job)
    moves = coupon_moves(design, settings, machine=job.laser, passes=beam.passes)
    moves = round_keep_outs(moves, machine=job.laser, blank_at_mm=corner)
    text = write_program(moves, machine=job.laser, title=_title(kind, job))
    moves = read_program(text, machine=job.laser)
    layout = _hashed(as_programmed(design.layout, moves, power_w=job.laser.power_w))
    coat = coupon_coat(
        replace(design, layout=layout), settings, job, face, beam, moves, text, bite.undercut
    )
    strength = strength_of(job, knowledge)
    etch = etch_of(job, knowledge, [coat], strength)
    findings = [*job_findings(job, knowledge.finish), *motion_findings(coat, job, corner)]
    findings += _coupon_findings(design, settings, beam)
    # This is the coupon that a guessed rate asks for.
    chemistry = [
        finding
        for finding in chemistry_findings(job, knowledge, etch, strength)
        if finding.code != "starting-guess"
    ]
    bounds, problems = bounds_program(job, [coat], corner)
    findings += problems
    if any(finding.level is Level.STOP for finding in [*findings, *chemistry]):
        coat, bounds = replace(coat, program=None), None
    told = ranked(findings, first=chemistry)
    plan = Plan(
        job=job,
        drawing=_drawing(coat, job, layout),
        material=knowledge.material,
        resists=knowledge.resists,
        pair=knowledge.pair,
        hazards=knowledge.hazards,
        face=face,
        shown=(),
        front=None,
        finish=knowledge.finish,
        coats=(coat,),
        etch=etch,
        blank_at_mm=corner,
        bounds_program=bounds,
        refusal_codes=frozenset(rule.code for rule in knowledge.refusals),
        findings=told,
        verdict=reach_verdict(told, Things(())),
        values=values_of(job, knowledge, [coat], etch),
    )
    return CouponPlan(plan=plan, layout=layout, settings=settings, parts=design.parts)


def _part_words(part: str) -> str:
    return _NAMES.get(part) or _NAMES.get(part[:1], part)


def _searching(job: Job, knowledge: Knowledge) -> tuple[Job, tuple[float, float] | None]:
    """Where neither spot nor threshold is known: the doses to look between, and the job for it.

    The line dose that clears is sqrt(pi/2) w F, so the bounds are those of the spot and of the
    paint, and of the power where that is not known either. Discs and labels are cleared at a dose
    that clears at all of these.
    """
    spot = job.laser.span("spot")
    coat = job.coats[0]
    if spot is None or not job.settings.is_chosen or coat.book_mark or not knowledge.thresholds:
        return job, None
    paint = area_threshold(coat, knowledge.resists[0], knowledge.thresholds[0])
    low = threshold_line_dose_j_per_mm(paint.low, spot.low / 2)
    high = threshold_line_dose_j_per_mm(paint.high, spot.high / 2)
    power = job.laser.span("power")
    if power is not None:
        # In J/mm of the power that is planned with: a stronger machine needs less of it.
        low, high = low * power.value / power.high, high * power.value / power.low
    share, speed = chosen_dose(_SURE * high, job.settings, job.laser)
    dose = share * job.laser.power_w / speed
    # Close enough to leave no threads where the spot is the smallest and the paint the hardest.
    worst = dose / threshold_line_dose_j_per_mm(paint.high, spot.low / 2)
    clearing = replace(
        job.settings,
        power=share,
        speed_mm_s=speed,
        choose_power=False,
        choose_speed=False,
        dose_ratio=dose / threshold_line_dose_j_per_mm(paint.value, spot.value / 2),
        spacing_mm=default_spacing_mm(
            mark_across_mm=mark_width_mm(spot.low / 2, worst),
            radius_across_mm=spot.low / 2,
            step_mm=job.laser.step_mm,
        ),
    )
    return replace(job, clearing=clearing), (low, high)


def _settings(
    job: Job,
    knowledge: Knowledge,
    beam: Beam,
    undercut_mm: float,
    search: tuple[float, float] | None,
) -> Settings:
    machine = job.laser
    radius = spot_radius_mm(job)
    mark = (beam.mark_mm[0].value, beam.mark_mm[1].value)
    # A single pass of the job is taken to give all of its ratio: the lowest lines then stay dark
    # even where passes add up.
    ratios = (
        (dose_ratio_of(mark[0], radius[0]), dose_ratio_of(mark[1], radius[1]))
        if beam.is_measured
        else beam.dose_ratios
    )
    return Settings(
        mark_mm=mark,
        radius_mm=radius,
        dose_ratio=ratios,
        power_w=machine.power_w,
        power_fraction=beam.power,
        speed_mm_s=beam.speed_mm_s,
        top_speed_mm_s=machine.top_speed_mm_s,
        step_mm=machine.step_mm,
        spacing_mm=(beam.spacing_mm["x"], beam.spacing_mm["y"]),
        undercut_mm=undercut_mm,
        is_metal=knowledge.material.sort != "plastic",
        search_j_per_mm=search,
    )


def _empty(kind: Kind, job: Job, knowledge: Knowledge) -> CouponLayout:
    """The coupon without anything on it."""
    machine, coat, blank = job.laser, job.coats[0], job.blank
    thickness = knowledge.resists[0].film_um(coat.thickness_um)
    known_by, strength = identity_of(machine), strength_of(job, knowledge)
    spot = " x ".join(f"{width:g}" for width in machine.spot_mm)
    return CouponLayout(
        kind=kind,
        width_mm=blank.width_mm,
        height_mm=blank.height_mm,
        marks=(),
        identity=Identity(
            job=job.name,
            material=blank.material,
            finish=blank.finish,
            worked_side=blank.worked_side,
            resist=coat.paint,
            colour=coat.colour,
            coats=1,
            thickness_um=thickness,
            power_w=machine.power_w,
            machine=(
                f"spot {spot} mm ({machine.spot_means}), {machine.wavelength_nm:g} nm, "
                f"{machine.power_w:g} W, step {machine.step_mm:g} mm"
            ),
            spot_x_mm=known_by.spot_mm[0],
            spot_y_mm=known_by.spot_mm[1],
            wavelength_nm=known_by.wavelength_nm,
            substrate=knowledge.material.sort,
            etchant="" if job.etch is None else job.etch.etchant,
            strength_g_per_l=None if strength is None else strength.g_per_l,
            temperature_degc=None if job.etch is None else job.etch.temperature_degc,
            agitation="" if job.etch is None else job.etch.agitation,
            depth_mm=None if job.etch is None else job.etch.depth_mm,
            job_sha256=job.sha256,
        ),
    )


def _designed(
    kind: Kind, settings: Settings, face: BaseGeometry, empty: CouponLayout
) -> CouponDesign:
    """The fullest of the three layouts that the blank has room for."""
    parts_of_kind: Callable[..., list[CouponPart]] = (
        clearing_parts if kind == "clearing" else etch_parts
    )
    size = (empty.width_mm, empty.height_mm)
    best: CouponDesign | None = None
    failure: CouponError | None = None
    for level in range(3):
        parts = parts_of_kind(settings, level)
        try:
            made = lay_out(parts, settings, face=face, size_mm=size, blank=empty)
        except CouponError as error:
            failure = error
            continue
        # The digits beside the lines are worth one part.
        if best is None or len(made.left_out) + 1 < len(best.left_out):
            best = made
    if best is None:
        assert failure is not None
        raise failure
    return best


def _hashed(layout: CouponLayout) -> CouponLayout:
    """The layout with its own hash: that of its description without it."""
    plain = json.dumps(layout_to_dict(layout), sort_keys=True).encode()
    digest = hashlib.sha256(plain).hexdigest()
    return replace(layout, identity=replace(layout.identity, coupon_sha256=digest))


def _title(kind: Kind, job: Job) -> list[str]:
    return [
        f"{kind} coupon for {job.name}, revision {job.revision}",
        f"worked side {job.blank.worked_side}",
        f"blank {job.blank.width_mm:g} x {job.blank.height_mm:g} mm",
        "origin: the blank's lower left corner as worked",
        "attend the machine at all times",
    ]


def _drawing(coat: CoatPlan, job: Job, layout: CouponLayout) -> Drawing:
    """What stands for the artwork: the coupon itself, as seen."""
    dark: BaseGeometry = coat.target
    if job.blank.is_back_worked:
        dark = mirror_left_right(dark, width_mm=job.blank.width_mm)
    return Drawing(
        file="coupon.json",
        sha256=layout.identity.coupon_sha256,
        width_mm=job.blank.width_mm,
        height_mm=job.blank.height_mm,
        dark=dark,
    )


def _coupon_findings(design: CouponDesign, settings: Settings, beam: Beam) -> list[Finding]:
    """What was left out for want of room, and settings that differ from the job's."""
    found = []
    if design.left_out:
        names = ", ".join(f"{name} ({_part_words(name)})" for name in design.left_out)
        found.append(
            Finding.caution(
                "coupon-shortened",
                f"the blank has no room for all of the coupon; left out: {names}",
                "Make it on a larger piece of the same sheet, with --size.",
            )
        )
    if settings.search_j_per_mm is not None:
        return [*found, _search_finding(design.layout, settings.search_j_per_mm)]
    speed = coupon_speed_mm_s(settings)
    if design.layout.lines and speed != settings.speed_mm_s:
        found.append(
            Finding.caution(
                "coupon-slower",
                f"the dose lines run at {speed:g} mm/s, not at the job's "
                f"{settings.speed_mm_s:g} mm/s: {DOSE_RATIOS[-1]:.1f} times the threshold "
                "dose needs all of the power",
                "A threshold measured at another speed is only near that of the job.",
            )
        )
    if design.layout.lines and not beam.is_measured:
        found.append(
            Finding.note(
                "coupon-guess",
                "the doses are stepped about a threshold that is only a guess from the job's "
                "settings; where all lines clear, or none, change the power and try again",
            )
        )
    return found


def _search_finding(layout: CouponLayout, bounds_j_per_mm: tuple[float, float]) -> Finding:
    doses = [line.line_dose_j_per_mm for line in layout.lines]
    low, high = bounds_j_per_mm
    return Finding.note(
        "coupon-search",
        "nothing is measured yet: the paint clears somewhere between "
        f"{low:.2g} and {high:.2g} J/mm, and the lines run from {min(doses):.2g} to "
        f"{max(doses):.2g} J/mm; the strongest scorch",
        "Scan it, read it and keep it (stopout read --keep); a second coupon then runs about "
        "the threshold that was found.",
    )
