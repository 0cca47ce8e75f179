"""What a plan came to, in a few lines for the terminal."""

from __future__ import annotations

from stopout.pictures.piece.of_plan import etch_time, least_bath_l
from stopout.planning import CoatPlan, Plan
from stopout.units import format_duration
from stopout.wording import width_words


def result_lines(plan: Plan, folder: object, *, in_full: bool = True) -> list[str]:
    """Return the few lines that tell a person what the plan came to.

    Parameters
    ----------
    plan : Plan
        The plan.
    folder : object
        Where its files lie.
    in_full : bool
        Several lines a coat rather than one.
    """
    lines = coat_lines(plan, in_full=in_full)
    etch = plan.etch
    if etch is not None and not plan.is_stopped:
        lines.append(
            f"etch {etch.depth_mm:g} mm in {etch.etchant_name}: {etch_time(etch)}, "
            f"bath {least_bath_l(etch):.2f} L or more, gas {etch.gas_wet_l:.2f} L, "
            f"heat {etch.heat_kj:.1f} kJ for {plan.told_count}"
        )
    if not plan.is_stopped and not plan.is_draft:
        # As the sheet's first page has it.
        from stopout.sheet.contents.hours import in_all

        total = in_all(plan).replace("\u00a0", " ")
        lines.append(f"in all {total} with the waits; work by hand comes on top")
    verdict = "what was planned, without a program" if plan.is_stopped else "ready"
    if plan.is_draft:
        verdict = "a draft, without programs or sheet"
    return [*lines, f"{folder}: {verdict}"]


def coat_lines(plan: Plan, *, in_full: bool = False) -> list[str]:
    """Return what each coat came to: a line a coat, or several."""
    lines = []
    for coat in plan.coats:
        if not in_full:
            lines += _short_lines(plan, coat)
        elif plan.job.route.is_lit:
            lines += _light_lines(plan, coat)
        else:
            lines += _coat_lines(coat)
    return lines


def _coat_lines(coat: CoatPlan) -> list[str]:
    outcome = coat.outcome
    return [
        f"coat {coat.number}: {coat.mask.openings} openings, {coat.mask.area_mm2:.1f} mm^2; "
        f"narrowest opening {width_words(coat.mask.narrowest_opening_mm)}, "
        f"narrowest finished land {width_words(coat.finished_land_mm)}",
        _way_line(coat),
        f"  calculated edge: at most {1000 * outcome.worst_outside_mm:.0f} um outside and "
        f"{1000 * outcome.worst_inside_mm:.0f} um short of the artwork; {_counts(coat)}",
    ]


def _short_lines(plan: Plan, coat: CoatPlan) -> list[str]:
    """What a coat takes and how true it comes out, in one line."""
    if coat.clearing is None:
        how = f"{coat.mask.openings} openings" if coat.drawn is None else "as drawn on the film"
    else:
        verb = plan.job.route.doing
        how = f"{verb} {format_duration(coat.clearing.times.time_s)}"
    return [
        f"coat {coat.number}: {how}; "
        f"narrowest opening {width_words(coat.mask.narrowest_opening_mm)}, "
        f"land {width_words(coat.finished_land_mm)}; {_counts(coat)}"
    ]


def _counts(coat: CoatPlan) -> str:
    return f"lost {coat.lost}, merged {coat.merged}, widened {coat.outcome.widened}"


def _light_lines(plan: Plan, coat: CoatPlan) -> list[str]:
    """What a sheet marked for light came to."""
    outcome, light = coat.outcome, plan.light
    assert light is not None
    near, far = light.bands[0].spacing_mm, light.bands[-1].spacing_mm
    marking = "lines "
    if coat.clearing is not None:
        time = format_duration(coat.clearing.times.time_s)
        marking = f"marking {time}; lines along {coat.clearing.line_direction}, "
    return [
        f"marked: {coat.mask.openings} parts, {coat.mask.area_mm2:.1f} mm^2; narrowest mark "
        f"{width_words(coat.mask.narrowest_opening_mm)}, "
        f"narrowest gap {width_words(coat.finished_land_mm)}",
        f"  {marking}{near:.4g} mm apart near the light ({light.edge}), {far:.4g} mm far from it",
        f"  calculated edge: at most {1000 * outcome.worst_outside_mm:.0f} um outside and "
        f"{1000 * outcome.worst_inside_mm:.0f} um short of the artwork; {_counts(coat)}",
    ]


def _way_line(coat: CoatPlan) -> str:
    """Say how the opening is made: the beam's time and lines, or what is drawn."""
    if coat.drawn is not None:
        return f"  as drawn on the film: {coat.drawn.area:.1f} mm^2"
    clearing = coat.clearing
    if clearing is None:
        return "  no program laid, so no time"
    return (
        f"  clearing {format_duration(clearing.times.time_s)} "
        f"(one way, line by line: {format_duration(clearing.time_one_direction_s)}); "
        f"lines along {clearing.line_direction}, {clearing.spacing_mm:.4g} mm apart"
    )
