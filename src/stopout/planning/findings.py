"""What a plan has to say: each finding with its place, and what would mend it."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.clearing import plan_speeds
from stopout.etching import Etchant, EtchPlan, Refusal, Resist, check_depth, check_resist, refusals
from stopout.mask import ThinPlace
from stopout.planning.beam import beam_for
from stopout.planning.job import Job
from stopout.planning.margins import land_remedies, low_factor, stroke_remedies
from stopout.planning.plan import CoatPlan
from stopout.program import prove
from stopout.values import Finding, Level, Moves

__all__ = [
    "coat_findings",
    "etch_findings",
    "job_findings",
    "motion_findings",
    "pointer_findings",
]

# Artwork that sticks out of the blank by less than this is rounding.
_CUT_MM = 0.01
_DOSE_RATIO_LIMIT = 1.15
# More strokes than this that come out within the tolerance are told in one finding.
_MADE_LISTED = 8
# Smaller openings tend to be pinholes, smaller islands to flake off (our own rule, no source).
_SPECK_MM2 = 0.05
# A pointer beam is held to this share of the threshold dose.
_POINTER_SHARE = 0.1
# Clear acrylic passes visible light and the near infrared, and absorbs farther out.
_PASSES_NM = (380.0, 1100.0)
# The motion model counts a speed below this as standing still.
_STANDING_MM_S = 1e-6


def job_findings(job: Job, drawing_dark: BaseGeometry, face_seen: BaseGeometry) -> list[Finding]:
    """Findings about the job as a whole, before any coat is looked at."""
    found: list[Finding] = []
    found += _cut_artwork(job, drawing_dark, face_seen)
    if job.machine.blank_at_mm is None:
        found.append(
            Finding(
                code="blank-centred",
                level=Level.NOTE,
                message="machine.blank_at is left out: the blank is taken as centred on the bed",
                remedy="Give the blank's corner from the bed's corner to have the bed checked.",
            )
        )
    low, high = _PASSES_NM
    if job.blank.is_back_worked and low <= job.machine.wavelength_nm <= high:
        found.append(
            Finding(
                code="beam-passes",
                level=Level.CAUTION,
                message=(
                    "this beam passes clear plastic: where the paint is gone it goes on to "
                    "whatever lies under the sheet, and comes back from a shiny bed"
                ),
                remedy="Lay a matt, dark, non-flammable stop well below the sheet.",
            )
        )
    return found


def _cut_artwork(job: Job, dark: BaseGeometry, face_seen: BaseGeometry) -> list[Finding]:
    """Say where artwork lies outside the blank and is cut off."""
    outline = shapely.union_all([shapely.polygons(face_seen.exterior)])
    beyond = dark.difference(outline.buffer(_CUT_MM))
    if beyond.is_empty:
        return []
    beyond = dark.difference(outline)
    point = beyond.representative_point()
    reach = max(outline.distance(part.representative_point()) for part in shapely.get_parts(beyond))
    at = (float(point.x), float(point.y))
    if job.blank.is_back_worked:
        at = (job.blank.width_mm - at[0], at[1])
    return [
        Finding(
            code="artwork-cut",
            level=Level.CAUTION,
            message=(
                f"{beyond.area:.2f} mm^2 of the artwork lies outside the blank and is cut off, "
                f"some of it {reach:.2f} mm out"
            ),
            remedy="Make the artwork smaller, move it, or use a larger blank.",
            at_mm=at,
        )
    ]


def coat_findings(coat: CoatPlan, job: Job, etch: EtchPlan | None) -> list[Finding]:
    """Findings about one coat: shapes, outcome, lands, dose."""
    found = _thin_findings(coat, job, etch)
    found += _outcome_findings(coat, job)
    found += _land_findings(coat, job, etch)
    found += _resist_findings(coat, job, etch)
    found += _dose_findings(coat, job)
    return found


def _thin_findings(coat: CoatPlan, job: Job, etch: EtchPlan | None) -> list[Finding]:
    """One finding for each thin stroke; many that are simply made share one."""
    made = [place for place in coat.thin_places if place.treatment == "made"]
    decided = [place for place in coat.thin_places if place.treatment != "made"]
    if len(made) <= _MADE_LISTED:
        return [_thin_finding(place, coat, job, etch) for place in [*decided, *made]]
    found = [_thin_finding(place, coat, job, etch) for place in decided]
    thinnest = min(made, key=lambda place: place.width_mm)
    length = sum(place.length_mm for place in made)
    found.append(
        Finding(
            code="thin-opening",
            level=Level.NOTE,
            message=(
                f"{len(made)} strokes narrower than the {2 * coat.clearing.reach_mm:.3f} mm "
                f"that {_makers(job)}, {length:.1f} mm in all, are followed along their centre "
                f"line; they come out within the edge tolerance. The thinnest, "
                f"{thinnest.width_mm:.3f} mm {_where(thinnest.at_mm, job)}, is finished "
                f"{thinnest.expected_mm:.3f} mm wide"
            ),
            remedy="",
            at_mm=thinnest.at_mm,
        )
    )
    return found


def _thin_finding(place: ThinPlace, coat: CoatPlan, job: Job, etch: EtchPlan | None) -> Finding:
    """Say what becomes of a stroke that is too thin."""
    reach = 2 * coat.clearing.reach_mm
    drawn = (
        f"a stroke {place.width_mm:.3f} mm wide {_where(place.at_mm, job)} is narrower than the "
        f"{reach:.3f} mm that {_makers(job)}"
    )
    length = f"over {max(place.length_mm, 0.01):.2f} mm"
    ways = stroke_remedies(
        place.narrowest_mm,
        mark_mm=max(axis.value for axis in coat.clearing.mark_mm),
        undercut_mm=etch.undercut_mm if etch is not None else 0.0,
        factor=etch.etch_factor if etch is not None else None,
        edge_tolerance_mm=job.limits.edge_tolerance_mm,
    )
    if place.joins_parts or place.spoils_land:
        ways = "Or draw the gap beside it wider."
    if place.narrowest_mm < place.width_mm / 2:
        ways = "A point is best ended bluntly, or left as it is."
    thicker = f"Draw it {reach:.2f} mm wide or more. {ways}"
    joined = "; it then meets its neighbour" if place.joins_parts else ""
    if place.spoils_land:
        joined = "; the land beside it then closes or gets narrower than the shop's limit"
    code, level, message, remedy = {
        "made": (
            "thin-opening",
            Level.NOTE,
            f"{drawn}; {length} it is followed along its centre line and finished "
            f"{place.expected_mm:.3f} mm wide, within the edge tolerance",
            "",
        ),
        "widened": (
            "thin-opening",
            Level.CAUTION,
            f"{drawn}; {length} it is widened to {place.expected_mm:.3f} mm{joined}",
            thicker,
        ),
        "left out": (
            "thin-opening",
            Level.CAUTION,
            f"{drawn}; {length} it is left out",
            thicker,
        ),
        "stop": (
            "thin-opening",
            Level.STOP,
            f"{drawn} ({length})",
            f'{thicker} Or set too_thin = "widen" or "leave-out".',
        ),
    }[place.treatment]
    return Finding(code=code, level=level, message=message, remedy=remedy, at_mm=place.at_mm)


def _outcome_findings(coat: CoatPlan, job: Job) -> list[Finding]:
    """Compare the prediction with the artwork."""
    outcome, tolerance = coat.outcome, job.limits.edge_tolerance_mm
    if coat.opening.is_empty:
        return [
            Finding(
                code="nothing-to-clear",
                level=Level.STOP,
                message=f"coat {coat.number}: nothing of the artwork can be made, all is too thin",
                remedy=f"Draw it thicker,{_shallower(job)} or use a finer mark.",
            )
        ]
    found = []
    left_out = any(place.treatment == "left out" for place in coat.thin_places)
    if outcome.lost and not left_out:
        found.append(
            Finding(
                code="lost",
                level=Level.CAUTION,
                message=f"{outcome.lost} place(s) of the artwork would be lost",
                remedy=f"Draw them thicker,{_shallower(job)} or use a finer mark.",
                at_mm=_point_of(outcome.lost_parts),
            )
        )
    if outcome.merged:
        found.append(
            Finding(
                code="merged",
                level=Level.CAUTION,
                message=(
                    f"{outcome.merged} gap(s) between parts of the artwork would close, or "
                    "counters fill"
                ),
                remedy=f"Widen the gaps,{_shallower(job)} or draw the thin strokes thicker.",
                at_mm=_point_of(outcome.merged_parts) or _point_of(outcome.filled_holes),
            )
        )
    # The last micrometre is the arithmetic's own.
    if outcome.worst_inside_mm > tolerance + 0.001 and not left_out:
        found.append(
            Finding(
                code="corner-short",
                level=Level.NOTE,
                message=(
                    f"the finished edge stops {outcome.worst_inside_mm:.3f} mm short of the "
                    f"artwork {_where(outcome.worst_inside_at, job)}: sharp corners are rounded "
                    f"to the reach of {coat.clearing.reach_mm:.3f} mm"
                ),
                remedy=f"Use a finer mark,{_shallower(job)} or accept rounder corners.",
                at_mm=outcome.worst_inside_at,
            )
        )
    if outcome.worst_outside_unwidened_mm > tolerance + 0.001:
        found.append(
            Finding(
                code="edge-outside",
                level=Level.CAUTION,
                message=(
                    f"the finished edge goes {outcome.worst_outside_unwidened_mm:.3f} mm beyond "
                    f"the artwork {_where(outcome.worst_outside_unwidened_at, job)}"
                ),
                remedy="Check the spacing and the mark that the job gives.",
                at_mm=outcome.worst_outside_unwidened_at,
            )
        )
    return found


def _land_findings(coat: CoatPlan, job: Job, etch: EtchPlan | None) -> list[Finding]:
    """Say where lands are, or may come out, narrower than the shop accepts."""
    found = _drawn_land_findings(coat, job, etch)
    least, worst, how = job.limits.narrowest_land_mm, coat.finished_land_mm, ""
    if etch is not None:
        factor = etch.etch_factor
        worst = max(0.0, worst - 2 * (etch.depth_mm / low_factor(factor) - etch.undercut_mm))
        if factor.sd > 0:
            how = (
                f" ({coat.finished_land_mm:.3f} mm at the planned etch factor {factor.value:g}, "
                f"the least at {low_factor(factor):.2f})"
            )
    if worst < least - 0.0015 and all(finding.level is Level.NOTE for finding in found):
        found.append(
            Finding(
                code="narrow-land",
                level=Level.CAUTION,
                message=(
                    f"the narrowest finished land may be {worst:.3f} mm wide{how}; "
                    f"the shop's limit is {least:.3f} mm"
                ),
                remedy=f"Widen the gap drawn,{_shallower(job)} or measure the etch factor.",
                at_mm=coat.narrowest_land_at,
            )
        )
    return found


def _drawn_land_findings(coat: CoatPlan, job: Job, etch: EtchPlan | None) -> list[Finding]:
    """Say which lands were drawn too narrow, and what was done about them."""
    widened = [land for land in coat.narrow_lands if land.is_widened]
    found = [
        Finding(
            code="narrow-land",
            level=Level.CAUTION,
            message=(
                f"a land {land.width_mm:.3f} mm wide {_where(land.at_mm, job)} may come out "
                f"narrower than {job.limits.narrowest_land_mm:.3f} mm at the worst undercut, "
                f"over {land.length_mm:.2f} mm"
            ),
            remedy=(
                f"Draw it {land.needed_mm:.2f} mm wide or more. "
                + land_remedies(
                    land.width_mm,
                    narrowest_land_mm=job.limits.narrowest_land_mm,
                    depth_mm=etch.depth_mm if etch is not None else 0.0,
                    factor=etch.etch_factor if etch is not None else None,
                )
            ),
            at_mm=land.at_mm,
        )
        for land in coat.narrow_lands
        if not land.is_widened
    ]
    if widened:
        thinnest = min(widened, key=lambda land: land.width_mm)
        found.append(
            Finding(
                code="narrow-land",
                level=Level.NOTE,
                message=(
                    f"{len(widened)} land(s) are widened within the edge tolerance, so that they "
                    f"keep {job.limits.narrowest_land_mm:.3f} mm at the worst undercut. The "
                    f"narrowest, drawn {thinnest.width_mm:.3f} mm wide, is "
                    f"{_where(thinnest.at_mm, job)}"
                ),
                at_mm=thinnest.at_mm,
            )
        )
    return found


def _resist_findings(coat: CoatPlan, job: Job, etch: EtchPlan | None) -> list[Finding]:
    """Say which openings and islands of resist are too small, and where resist may lift."""
    found = []
    parts = shapely.get_parts(coat.opening)
    rings = [ring for part in parts for ring in part.interiors]
    holes = shapely.polygons(rings) if rings else parts[:0]
    for code, what, shapes in (
        ("small-opening", "opening(s) in the resist", parts),
        ("small-island", "island(s) of resist", holes),
    ):
        small = shapes[shapely.area(shapes) < _SPECK_MM2] if len(shapes) else shapes
        if len(small):
            found.append(
                Finding(
                    code=code,
                    level=Level.NOTE,
                    message=(
                        f"{len(small)} {what} are smaller than {_SPECK_MM2:g} mm^2 and may fail"
                    ),
                    remedy="Clean specks from the artwork, or draw the detail larger.",
                    at_mm=_point_of(small[0]),
                )
            )
    if etch is not None:
        # Common practice, no source: a land must be as wide as the etch is deep to hold on.
        holds = 2 * etch.undercut_mm + etch.depth_mm
        if 0 < coat.mask.narrowest_land_mm < holds and _keeps_land(coat):
            found.append(
                Finding(
                    code="resist-lifts",
                    level=Level.NOTE,
                    message=(
                        f"the narrowest land of resist is {coat.mask.narrowest_land_mm:.3f} mm "
                        f"wide; under {holds:.3f} mm it is undercut so far that it may lift"
                    ),
                    remedy="Draw it wider, or etch less deep.",
                )
            )
    found += _joined_findings(coat, job)
    return found


def _keeps_land(coat: CoatPlan) -> bool:
    """Tell whether the narrowest resist stands for a finished land, not between one stroke's
    own openings, which the etch is meant to join."""
    return coat.finished_land_mm < coat.mask.narrowest_land_mm


def _joined_findings(coat: CoatPlan, job: Job) -> list[Finding]:
    """Say which counters close: holes of the artwork that the finished region fills."""
    closed = shapely.get_parts(coat.outcome.filled_holes)
    if not len(closed):
        return []
    at = _point_of(closed[0])
    return [
        Finding(
            code="counter-closed",
            level=Level.CAUTION,
            message=f"{len(closed)} counter(s) of the artwork close, one {_where(at, job)}",
            remedy=f"Draw the counter larger,{_shallower(job)} or use a finer mark.",
            at_mm=at,
        )
    ]


def _dose_findings(coat: CoatPlan, job: Job) -> list[Finding]:
    """Say what is doubtful about mark, spacing and dose."""
    clearing, found = coat.clearing, []
    if not beam_for(coat.coat, job).is_measured:
        found.append(
            Finding(
                code="coupon-needed",
                level=Level.CAUTION,
                message=(
                    "the mark is not measured: it is reckoned from the spot at dose ratio "
                    f"{beam_for(coat.coat, job).dose_ratio:g} "
                    f"({clearing.mark_mm[0].value:.3f} x {clearing.mark_mm[1].value:.3f} mm)"
                ),
                remedy="Burn lines on a painted coupon at this power and speed and measure them.",
            )
        )
    across = clearing.mark_mm[0 if clearing.line_direction == "y" else 1].value
    if clearing.spacing_mm > across:
        found.append(
            Finding(
                code="spacing-wide",
                level=Level.STOP,
                message=(
                    f"lines {clearing.spacing_mm:.4g} mm apart with a mark {across:.4g} mm wide "
                    "leave threads of paint"
                ),
                remedy=f'Give a spacing of {0.85 * across:.3f} mm or less, or spacing = "auto".',
            )
        )
    ratio = clearing.times.dose_ratio_max
    if ratio > _DOSE_RATIO_LIMIT:
        grown = _grown_width(beam_for(coat.coat, job).dose_ratio, ratio)
        found.append(
            Finding(
                code="dose-uneven",
                level=Level.CAUTION,
                message=(
                    f"where the beam slows down the dose rises to {ratio:.2f} times the planned "
                    f"one and the mark grows to {grown:.2f} times its width"
                ),
                remedy="Let the power follow the speed, or clear more slowly.",
            )
        )
    return found


def _grown_width(dose_ratio: float, more: float) -> float:
    """Return by what factor the mark's width grows when the dose grows by `more`."""
    return float(np.sqrt(np.log(dose_ratio * more) / np.log(dose_ratio)))


def motion_findings(coat: CoatPlan, job: Job, blank_at_mm: tuple[float, float]) -> list[Finding]:
    """Findings of the proof that the program stays in the bed and outside keep-outs."""
    remedy = "Move the blank (machine.blank_at), or clear more slowly for shorter runs-up."
    if any(_holds(box, blank_at_mm) for box in job.machine.keep_outs_mm):
        remedy = (
            "Programs begin and end at the blank's lower left corner as worked, and that lies in "
            "a keep-out: move the blank or the clamp."
        )
    return [
        Finding(
            code=violation.code,
            level=Level.STOP,
            message=f"coat {coat.number}: {violation.message}",
            remedy=remedy,
            at_mm=violation.at_mm,
        )
        for violation in prove(coat.moves, machine=job.machine, blank_at_mm=blank_at_mm)
    ]


def _holds(box: tuple[float, float, float, float], at_mm: tuple[float, float]) -> bool:
    """Tell whether a place lies inside a box, both from the bed's corner."""
    return box[0] < at_mm[0] < box[2] and box[1] < at_mm[1] < box[3]


def pointer_findings(job: Job, moves: Moves) -> list[Finding]:
    """Refuse a pointer beam that could mark: at most a tenth of the threshold dose."""
    fraction = job.machine.pointer_fraction
    on = moves.power > 0
    if fraction <= 0 or not on.any():
        return []
    profile = plan_speeds(
        moves,
        acceleration_mm_s2=job.machine.acceleration_mm_s2,
        cornering_mm=job.machine.cornering_mm,
    )
    slowest = float(np.minimum(profile.vertex_mm_s[:-1], profile.vertex_mm_s[1:])[on].min())
    dose = fraction / max(slowest, _STANDING_MM_S)
    beams = [beam_for(coat, job) for coat in job.coats]
    # A single pass counts here: the threshold is then on the safe side.
    threshold = min(beam.line_dose_fraction / beam.passes / beam.dose_ratio for beam in beams)
    if dose <= _POINTER_SHARE * threshold:
        return []
    most = _POINTER_SHARE * threshold * slowest
    return [
        Finding(
            code="pointer-strong",
            level=Level.STOP,
            message=(
                f"the pointer's {100 * fraction:.3g} % of full power reaches "
                f"{dose / threshold:.2g} of the threshold dose where it is slowest "
                f"({slowest:.2g} mm/s); at most a tenth is allowed"
            ),
            remedy=(
                f'Set pointer = "0 %" or at most "{100 * most:.2g} %". A pointing beam of this '
                "laser is as dangerous to the eye as its working beam."
            ),
        )
    ]


def etch_findings(
    job: Job,
    etch: EtchPlan | None,
    resists: Iterable[Resist],
    etchant: Etchant,
    rules: tuple[Refusal, ...],
) -> list[Finding]:
    """Findings of the chemistry: refusals, depth, the resist's time and temperature."""
    if etch is None or job.etch is None:
        return []
    refused = refusals(
        rules,
        material_id=job.blank.material,
        etchant_id=job.etch.etchant,
        strength_g_per_l=etch.strength.g_per_l,
    )
    # Of a bath that is refused altogether, nothing may read as advice how to run it; a mere
    # caution beside it hides nothing.
    is_refused = any(finding.level is Level.STOP for finding in refused)
    found = [*refused, *(() if is_refused else etch.findings)]
    found += check_depth(job.etch.depth_mm, job.blank.thickness_mm)
    for resist in resists:
        found += check_resist(
            resist,
            etchant,
            temperature_degc=job.etch.temperature_degc + job.etch.rise_k,
            time_s=etch.time_s,
            time_high_s=etch.time_high_s,
        )
    return found


def _makers(job: Job) -> str:
    """Say what sets the narrowest stroke: the mark alone where nothing is etched."""
    return "this mark makes" if job.etch is None else "this mark and etch make"


def _shallower(job: Job) -> str:
    return "" if job.etch is None else " etch less deep,"


def _where(at_mm: tuple[float, float] | None, job: Job) -> str:
    """Say where, as worked, and as seen too on a back-worked piece."""
    if at_mm is None:
        return ""
    text = f"at ({at_mm[0]:.2f}, {at_mm[1]:.2f}) mm"
    if job.blank.is_back_worked:
        seen = job.blank.width_mm - at_mm[0]
        text += f" as worked (({seen:.2f}, {at_mm[1]:.2f}) as seen)"
    return text


def _point_of(region: BaseGeometry) -> tuple[float, float] | None:
    if region.is_empty:
        return None
    point = region.representative_point()
    return (float(point.x), float(point.y))
