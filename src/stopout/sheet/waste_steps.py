"""The stage that ends a bath: where it and the first rinse go, and what makes them neutral."""

from __future__ import annotations

from collections.abc import Mapping

from stopout.etching import EtchPlan, Pair, neutraliser_g
from stopout.planning import Plan
from stopout.sheet.hazards import hazard_boxes
from stopout.sheet.model import STAGE, Block, Heading, Note, Table
from stopout.sheet.steps import advice, step
from stopout.sheet.words import advised, grams, litres, significant, typeset

__all__ = ["waste_stage"]


def waste_stage(
    plan: Plan, etch: EtchPlan, pair: Pair, statements: Mapping[str, str]
) -> list[Block]:
    """Where the bath and the first rinse go, and what makes them neutral."""
    rows = tuple(
        (
            typeset(way.name),
            grams(neutraliser_g(way, etch.reagent_fill_g)),
            way.end_ph,
            " ".join(advised(line) for line in way.advice),
        )
        for way in pair.neutralisers
    )
    blocks: list[Block] = [
        Heading(text="Bath and waste", letter=STAGE),
        *hazard_boxes(plan, "waste", statements),
        *advice(plan, (*pair.waste, *pair.etchant.waste)),
        step(
            "Let the bath cool until it gives off nothing.",
            "No piece, no scrap of metal left in it; extraction on.",
        ),
        step(
            "Pour the bath and the first rinse into their labelled containers.",
            "Vented caps, open vessel until all is quiet; label: what was the bath, the metal, the "
            "date. This comes first: nothing is added in the tray. A bath that is used again or "
            "regenerated is kept apart from the waste; the first rinse is waste.",
            sets=(
                ("bath", litres(etch.bath_fill_l)),
                ("dissolved metal", f"{significant(etch.metal_g_per_l)}\u00a0g/L"),
            ),
            measured=(("bath and rinse", "L"),),
        ),
    ]
    if rows:
        blocks += [
            *advice(plan, pair.etchant.neutralising),
            step(
                "If its safety data sheet and the local code allow it, neutralise the cooled "
                "bath with ONE of these.",
                "In the waste container, as the sheet of the chemical says; else leave it to the "
                f"licensed carrier. Amounts for the {grams(etch.reagent_fill_g)} of "
                f"{pair.etchant.reagent} in it. Open vessel, slowly, stirred, below 30\u00a0°C; "
                "check the pH at the end.",
                measured=(("end", "pH"),),
                optional=True,
            ),
            *_sludge(etch),
            Table(
                columns=("One of", "For the whole bath", "To pH", "Mind"),
                shares=(1.3, 1.0, 0.6, 2.2),
                rows=rows,
            ),
        ]
    return [
        *blocks,
        step("Write the waste record."),
        Table(
            columns=("Bath no.", "Litres", "What is in it", "Label", "Date", "Carrier", "Initials"),
            shares=(0.8, 0.7, 1.6, 1.0, 0.9, 1.2, 0.8),
            rows=(),
            blank_rows=2,
            hand=True,
        ),
    ]


def _sludge(etch: EtchPlan) -> list[Block]:
    if etch.sludge_g is None or etch.sludge_g <= 0.0:
        return []
    line = (
        f"About {grams(etch.sludge_g)} of dry sludge falls out, five to ten times that as gel: "
        "filter it into a labelled tub for the carrier."
    )
    return [Note(lines=(line,))]
