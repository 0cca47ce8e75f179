"""The stages that end a bath: put by in its container, and what makes it neutral."""

from __future__ import annotations

from collections.abc import Mapping

from stopout.etching import BathControl, EtchPlan, Neutralising, Pair
from stopout.planning import Plan
from stopout.sheet.model import STAGE, Block, Heading, Table
from stopout.sheet.stages.hazards import hazard_boxes, mildest_way
from stopout.sheet.steps import advice, note, step
from stopout.sheet.words import advised, grams, litres, significant, typeset


def put_by_stage(plan: Plan, etch: EtchPlan, statements: Mapping[str, str]) -> list[Block]:
    """Bath and still rinses into containers with caps where they stand, and only then away."""
    rinses = etch.rinses
    sets = [
        ("bath", litres(etch.bath_fill_l)),
        ("dissolved metal", f"{significant(etch.metal_g_per_l)}\u00a0g/L"),
    ]
    if rinses is not None:
        sets.append(("still rinses", litres(rinses.waste_l)))
    return [
        Heading(text="Put the bath by", letter=STAGE),
        *hazard_boxes(plan, "etching", statements, again=True),
        step(
            "Let the bath cool in its tray until it gives off nothing.",
            "No piece, no scrap of metal left in it; extraction on, no lid.",
        ),
        step(
            "Pour the bath into its labelled container, where the tray stands.",
            "Container in a catch tray beside it; plastic jug and funnel until the tray is light: "
            "nobody carries an open bath. The still rinses likewise, into theirs. Vented caps; "
            "label: what it was, the metal, the date. What is used again is kept apart.",
            sets=tuple(sets),
        ),
        step(
            "Carry the containers away, upright, caps on, one at a time.",
            "In a bucket that would hold all of one; well away from solvents.",
        ),
    ]


def waste_stage(
    plan: Plan, etch: EtchPlan, pair: Pair, statements: Mapping[str, str]
) -> list[Block]:
    """Where the bath and the still rinses go, and what makes them neutral."""
    return [
        Heading(text="Bath and waste", letter=STAGE),
        *hazard_boxes(plan, "waste", statements),
        *advice(plan, pair.waste),
        *_neutral(plan, etch, pair),
        step(
            "Write the waste record.",
            measured=(("bath", "L"), ("rinses", "L"), ("container", ""), ("date", "")),
        ),
    ]


def _neutral(plan: Plan, etch: EtchPlan, pair: Pair) -> list[Block]:
    """The mildest way to make it neutral, in portions; the others stand in the annex."""
    if not pair.neutralisers:
        return []
    way = mildest_way(plan)
    if way is None:
        return [note("Nothing here makes it neutral: the licensed carrier takes it.")]
    amount, each = _amounts(way)
    others = " The annex has other ways." if len(etch.neutralising) > 1 else ""
    water = litres(way.water_l) if way.water_l > 0.0 else "none"
    return [
        step(
            f"If its data sheet and the local code allow it, neutralise the cooled bath with "
            f"{typeset(way.name)}.",
            "Else the licensed carrier takes it. Outdoors or extracted: the cold water first, the "
            f"bath INTO it, then portion after portion, stirred; {_felt(way)}. After each wait "
            f"{way.wait_min:.0f}\u00a0min at least, until it is cooler than 25\u00a0°C and foams "
            f"no more.{others}",
            sets=(
                ("in all", amount),
                ("portions", f"{way.portions} of {each}"),
                ("cold water", water),
                ("vessel", f"{significant(way.vessel_l, 2)}\u00a0L or more"),
                ("to pH", way.end_ph),
            ),
            measured=(("end", "pH"),),
            optional=True,
        ),
        *_sludge(etch),
    ]


def neutral_ways(plan: Plan, etch: EtchPlan, pair: Pair) -> list[Block]:
    """All ways to make the bath neutral, why others are not offered, and how a bath is kept."""
    blocks: list[Block] = []
    if pair.neutralisers:
        blocks += advice(plan, pair.etchant.neutralising)
        declined = tuple(
            f"Not by {typeset(way.name)}: {typeset(way.reason)}." for way in etch.declined
        )
        blocks += [note(*declined)] if declined else []
    advices = {
        way.ident: " ".join(advised(line) for line in way.advice) for way in pair.neutralisers
    }
    if etch.neutralising:
        blocks.append(
            Table(
                columns=(
                    "One of", "In all", "Cold water", "Vessel", "Portions", "Heat, gas", "To pH"
                ),
                shares=(2.2, 1.2, 0.8, 0.8, 1.0, 1.2, 0.5),
                rows=tuple(_row(way, advices[way.ident]) for way in etch.neutralising),
            )
        )  # fmt: skip
    return [*blocks, *_kept(pair.etchant.control)]


def _row(way: Neutralising, said: str) -> tuple[str, ...]:
    amount, each = _amounts(way)
    return (
        f"{typeset(way.name)}. {said}".strip(),
        amount,
        litres(way.water_l) if way.water_l > 0.0 else "none",
        f"{significant(way.vessel_l, 2)}\u00a0L or more",
        f"{way.portions} of {each}",
        _felt(way),
        way.end_ph,
    )


def _amounts(way: Neutralising) -> tuple[str, str]:
    """How much of it in all, and in a portion."""
    if way.stock_g is None or way.stock_ml is None or way.stock_percent is None:
        return grams(way.amount_g), grams(way.portion_g)
    amount = (
        f"{significant(way.stock_ml)}\u00a0mL ({grams(way.stock_g)}) of "
        f"{way.stock_percent:g}\u00a0% as sold"
    )
    return amount, f"{significant(way.stock_ml / way.portions)}\u00a0mL"


def _felt(way: Neutralising) -> str:
    felt = (
        f"+{significant(way.rise_k, 2)}\u00a0K if all at once" if way.rise_k > 0.0 else "it cools"
    )
    if way.gas_l > 0.0:
        felt += f"; {significant(way.gas_l, 2)}\u00a0L of carbon dioxide"
    return felt


def _sludge(etch: EtchPlan) -> list[Block]:
    if etch.sludge_g is None or etch.sludge_g <= 0.0:
        return []
    line = (
        f"About {grams(etch.sludge_g)} of dry sludge falls out, five to ten times that as gel: "
        "filter it into a labelled tub for the carrier."
    )
    return [note(line)]


def _kept(control: BathControl | None) -> list[Block]:
    """How a bath is kept for another day: tests, corrections, regeneration, its end."""
    if control is None:
        return []
    rows = (
        ("Test", control.test),
        ("Correct", control.correct),
        ("Regenerate", control.regenerate),
        ("End", control.discard),
    )
    return [
        Table(
            title="Where the bath is kept",
            shares=(1.0, 4.6),
            rows=tuple(
                (label, " ".join(advised(line) for line in lines)) for label, lines in rows if lines
            ),
            small=True,
        )
    ]
