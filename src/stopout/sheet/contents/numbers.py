"""The part of the sheet that is looked up: the plan in numbers, every value, the findings."""

from __future__ import annotations

from collections.abc import Sequence

from stopout.planning import CoatPlan, Plan
from stopout.planning.verdict import Told
from stopout.sheet import words
from stopout.sheet.contents.limits import coat_limits
from stopout.sheet.contents.values import sheet_values
from stopout.sheet.model import Block, Heading, Table
from stopout.sheet.steps import note

# Of more places than these only so many are named.
_MOST_PLACES = 4
_KINDS = {"memory": "from memory", "practice": "common practice"}


def plan_numbers(plan: Plan) -> list[Block]:
    """What the plan computes, and every value with its kind, grade and source."""
    return [
        Heading(text="The plan in numbers"),
        *(block for coat in plan.coats for block in _of_coat(plan, coat)),
        *_etch_numbers(plan),
        *value_table(plan),
    ]


def _of_coat(plan: Plan, coat: CoatPlan) -> list[Block]:
    return [_coat_numbers(plan, coat), *coat_limits(plan, coat)]


def value_table(plan: Plan) -> list[Block]:
    """Every value with its kind, grade and source."""
    groups: dict[tuple[str, str], list[str]] = {}
    for value in sheet_values(plan):
        kind = _KINDS.get(value.kind, value.kind) + (f", {value.grade}" if value.grade else "")
        said = f"{words.typeset(value.name)}:\u00a0{words.typeset(value.value)}"
        groups.setdefault((kind, words.typeset(value.source)), []).append(said)
    rows = tuple(
        (kind, f"{'; '.join(said)}. Source: {source}") for (kind, source), said in groups.items()
    )
    return [
        Heading(text="Every value, and where it comes from"),
        note(
            "Grades: A measured and published, B published practice, C anecdote or derived, "
            "D guess."
        ),
        Table(
            columns=("Kind, grade", "Values, and where they come from"),
            shares=(0.9, 5.6),
            rows=rows,
            small=True,
        ),
    ]


def findings(plan: Plan) -> list[Block]:
    """What the plan has to say about the job, alike ones together, with room to accept it."""
    blocks: list[Block] = [Heading(text="Findings, and what is done about them")]
    if not plan.verdict.told:
        return [*blocks, note("None.")]
    return [
        *blocks,
        note("Places in mm as worked, from the blank's lower left corner. " + words.DEFER),
        Table(
            columns=("Level", "At, mm", "What", "What would help", "Accepted by"),
            shares=(0.6, 0.75, 2.9, 2.0, 0.85),
            rows=tuple(_finding_row(one) for one in plan.verdict.told),
        ),
    ]


def _finding_row(one: Told) -> tuple[str, str, str, str, str]:
    """One finding in a row; of many places the first few."""
    places = [f"{x:.1f}, {y:.1f}" for x, y in one.places_mm]
    shown = "; ".join(places[:_MOST_PLACES])
    left = len(places) - _MOST_PLACES
    return (
        str(one.level),
        shown + (f" and {left} more, in plan.json" if left > 0 else ""),
        words.sentence(one.message),
        words.sentence(one.remedy) or "Nothing: the plan has dealt with it.",
        "",
    )


def _coat_numbers(plan: Plan, coat: CoatPlan) -> Table:
    """Mask, motion and prediction of one coat, for one piece."""
    mask, outcome = coat.mask, coat.outcome
    of = f"Coat {coat.number}" if plan.shown else "Resist"
    title = f"{of}: openings as worked, and what the program is predicted to make"
    opened, left = ("Openings", "Opened area", "Narrowest opening"), "Narrowest paint left"
    if plan.job.route.is_lit:
        title = "Marks as worked, as the program is predicted to make them"
        opened, left = ("Parts", "Marked area", "Narrowest mark"), "Narrowest gap"
    return Table(
        title=title,
        shares=(2.0, 1.0),
        small=True,
        rows=_stopped(
            (
                (opened[0], f"{mask.openings}"),
                (opened[1], f"{words.significant(mask.area_mm2, 4)}\u00a0mm²"),
                (opened[2], words.length(mask.narrowest_opening_mm)),
                (left, words.length(mask.narrowest_land_mm)),
                ("Narrowest finished land", words.length(coat.finished_land_mm)),
                ("Finished area", f"{words.significant(outcome.area_mm2, 4)}\u00a0mm²"),
                ("Edge too far out, worst", f"{1000 * outcome.worst_outside_mm:.0f}\u00a0µm"),
                ("Edge short, worst", f"{1000 * outcome.worst_inside_mm:.0f}\u00a0µm"),
                (
                    "Lost, merged, widened places",
                    f"{outcome.lost}, {outcome.merged}, {outcome.widened}",
                ),
                ("Reach", words.length(coat.reach_mm)),
                *_paths(coat),
            )
        ),
    )


def _stopped(rows: Sequence[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """Rows that run on in one paragraph: each ends with a stop."""
    return tuple((words.capital(name), f"{value}.") for name, value in rows)


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
    span = words.span(etch.time_low_s, etch.longest_s)
    pieces = "1 piece" if etch.quantity == 1 else f"{etch.quantity} pieces in one bath"
    rows = [
        ("rate", f"{words.significant(etch.rate_um_per_min)}\u00a0µm/min"),
        ("time", words.duration(etch.time_s) + (f" ({span})" if span else "")),
        *(
            []
            if etch.time_ageing_s is None
            else [("time with the bath ageing", words.duration(etch.time_ageing_s))]
        ),
        (
            "undercut per edge",
            f"{1000 * etch.undercut_mm:.0f}\u00a0µm ± {1000 * etch.undercut_spread_mm:.0f}\u00a0µm",
        ),
        ("etched area", f"{words.significant(etch.etched_area_mm2, 4)}\u00a0mm²"),
        ("metal removed", words.grams(etch.metal_removed_g)),
        (
            "gas given off",
            f"{words.significant(etch.gas_wet_l)}\u00a0L of {etch.gas}, wet at the bath's "
            "temperature, up to "
            f"{words.significant(etch.wet_ratio * etch.flow.peak_ml_per_min)}\u00a0mL/min"
            if etch.gas
            else "none",
        ),
        ("heat given off", f"{words.significant(etch.heat_kj)}\u00a0kJ"),
        ("bath, least for heat and metal", words.litres(etch.bath_l)),
        ("bath, least to cover the piece", words.litres(etch.bath_cover_l)),
        ("bath poured", words.litres(etch.bath_fill_l)),
        (
            "metal in the bath, before and after",
            f"{words.significant(etch.pour.start_g_per_l)} and "
            f"{words.significant(etch.pour.end_g_per_l)}\u00a0g/L",
        ),
        ("one batch warms it by", f"{words.significant(etch.pour.rise_k)}\u00a0K"),
        (f"{pair.etchant.reagent} used up", words.grams(etch.reagent_g)),
        (f"{pair.etchant.reagent} in the least bath", words.grams(etch.reagent_charge_g)),
        (f"{pair.etchant.reagent} in the bath poured", words.grams(etch.reagent_fill_g)),
    ]
    return [Table(title=f"Etch: {pieces}", shares=(2.0, 1.0), rows=_stopped(rows), small=True)]
