"""The part of the sheet that is looked up: the plan in numbers, every value, the findings."""

from __future__ import annotations

from stopout.planning import CoatPlan, Plan
from stopout.sheet.limits import coat_limits
from stopout.sheet.model import Block, Facts, Heading, Note, Table
from stopout.sheet.values import sheet_values
from stopout.sheet.words import (
    DEFER,
    capital,
    duration,
    grams,
    length,
    litres,
    roughly,
    sentence,
    significant,
    typeset,
)

__all__ = ["findings", "plan_numbers"]

_KINDS = {"memory": "from memory", "practice": "common practice"}


def plan_numbers(plan: Plan) -> list[Block]:
    """What the plan computes, and every value with its kind, grade and source."""
    rows = tuple(
        (
            typeset(value.name),
            typeset(value.value),
            _KINDS.get(value.kind, value.kind),
            value.grade or "",
            typeset(value.source),
        )
        for value in sheet_values(plan)
    )
    return [
        Heading(text="The plan in numbers", new_page=True),
        *(
            block
            for coat in plan.coats
            for block in (*_coat_numbers(plan, coat), *coat_limits(plan, coat))
        ),
        *_etch_numbers(plan),
        Heading(text="Every value, and where it comes from"),
        Note(
            lines=(
                "Grades: A measured and published, B published practice, C anecdote or derived, "
                "D guess. Values without a grade are given, computed or measured in the shop.",
            )
        ),
        Table(
            columns=("Name", "Value", "Kind", "Grade", "Source"),
            shares=(1.35, 1.5, 0.75, 0.5, 2.4),
            rows=rows,
        ),
    ]


def findings(plan: Plan) -> list[Block]:
    """What the plan has to say about the job, with room to accept it."""
    blocks: list[Block] = [Heading(text="Findings, and what is done about them")]
    if not plan.findings:
        return [*blocks, Note(lines=("None.",))]
    rows = tuple(
        (
            str(finding.level),
            "" if finding.at_mm is None else f"{finding.at_mm[0]:.1f}, {finding.at_mm[1]:.1f}",
            sentence(finding.message),
            sentence(finding.remedy) or "Nothing: the plan has dealt with it.",
            "",
        )
        for finding in plan.findings
    )
    return [
        *blocks,
        Note(lines=("Places in mm as worked, from the blank's lower left corner. " + DEFER,)),
        Table(
            columns=("Level", "At, mm", "What", "What would help", "Accepted by"),
            shares=(0.7, 0.75, 2.9, 1.9, 0.85),
            rows=rows,
        ),
    ]


def _coat_numbers(plan: Plan, coat: CoatPlan) -> list[Block]:
    """Mask, motion and prediction of one coat, for one piece."""
    mask, outcome = coat.mask, coat.outcome
    of = f"Coat {coat.number}" if plan.shown else "Resist"
    return [
        Note(lines=(f"{of}: openings as worked, and what the program is predicted to make.",)),
        Facts(
            rows=(
                ("Openings", f"{mask.openings}"),
                ("Opened area", f"{significant(mask.area_mm2, 4)}\u00a0mm²"),
                ("Narrowest opening", length(mask.narrowest_opening_mm)),
                ("Narrowest paint left", length(mask.narrowest_land_mm)),
                ("Narrowest finished land", length(coat.finished_land_mm)),
                ("Finished area", f"{significant(outcome.area_mm2, 4)}\u00a0mm²"),
                ("Edge too far out, worst", f"{1000 * outcome.worst_outside_mm:.0f}\u00a0µm"),
                ("Edge short, worst", f"{1000 * outcome.worst_inside_mm:.0f}\u00a0µm"),
                (
                    "Lost, merged, widened places",
                    f"{outcome.lost}, {outcome.merged}, {outcome.widened}",
                ),
                ("Reach", length(coat.reach_mm)),
                *_paths(coat),
            )
        ),
    ]


def _paths(coat: CoatPlan) -> tuple[tuple[str, str], ...]:
    if coat.clearing is None:
        return ()
    times = coat.clearing.times
    return (
        ("Path with the beam on", f"{times.cleared_length_mm / 1000:.2f}\u00a0m"),
        ("Path with the beam off", f"{times.travel_length_mm / 1000:.2f}\u00a0m"),
    )


def _etch_numbers(plan: Plan) -> list[Block]:
    etch, pair = plan.etch, plan.pair
    if etch is None or pair is None:
        return []
    pieces = "1 piece" if etch.quantity == 1 else f"{etch.quantity} pieces in one bath"
    rows = [
        ("rate", f"{significant(etch.rate_um_per_min)}\u00a0µm/min"),
        (
            "time",
            f"{duration(etch.time_s)} ({roughly(etch.time_low_s)} to {roughly(etch.time_high_s)})",
        ),
        *(
            []
            if etch.time_ageing_s is None
            else [("time with the bath ageing", duration(etch.time_ageing_s))]
        ),
        (
            "undercut per edge",
            f"{1000 * etch.undercut_mm:.0f}\u00a0µm ± {1000 * etch.undercut_spread_mm:.0f}\u00a0µm",
        ),
        ("etched area", f"{significant(etch.etched_area_mm2, 4)}\u00a0mm²"),
        ("metal removed", grams(etch.metal_removed_g)),
        (
            "gas given off",
            f"{significant(etch.gas_l)}\u00a0L of {etch.gas}, up to "
            f"{significant(etch.flow.peak_ml_per_min)}\u00a0mL/min"
            if etch.gas
            else "none",
        ),
        ("heat given off", f"{significant(etch.heat_kj)}\u00a0kJ"),
        ("bath, least for heat and metal", litres(etch.bath_l)),
        ("bath, least to cover the piece", litres(etch.bath_cover_l)),
        ("bath poured", litres(etch.bath_fill_l)),
        (
            "metal in the bath, before and after",
            f"{significant(etch.pour.start_g_per_l)} and "
            f"{significant(etch.pour.end_g_per_l)}\u00a0g/L",
        ),
        ("one batch warms it by", f"{significant(etch.pour.rise_k)}\u00a0K"),
        (f"{pair.etchant.reagent} used up", grams(etch.reagent_g)),
        (f"{pair.etchant.reagent} in the least bath", grams(etch.reagent_charge_g)),
        (f"{pair.etchant.reagent} in the bath poured", grams(etch.reagent_fill_g)),
    ]
    return [
        Note(lines=(f"Etch: {pieces}.",)),
        Facts(rows=tuple((capital(name), value) for name, value in rows)),
    ]
