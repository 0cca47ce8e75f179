"""The hazards of a job as boxes before the steps, a first-aid table and a reference part."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from stopout.etching import Advice, Hazard
from stopout.planning import Plan
from stopout.sheet.model import Block, Box, Facts, Heading, Note, Table
from stopout.sheet.words import DEFER, coded, typeset

__all__ = ["emergency", "hazard_boxes", "hazard_reference"]

_STAGES = ("coating", "clearing", "mixing", "etching", "rinsing", "stripping", "waste")


def hazard_boxes(plan: Plan, stage: str, statements: Mapping[str, str]) -> list[Block]:
    """Boxes of the hazards that a stage meets: in full at the first, as a reminder after that.

    Parameters
    ----------
    plan : Plan
        Whose hazards are meant.
    stage : str
        As the hazards table names it in `arises`.
    statements : mapping
        Texts of the hazard and precautionary statements by code.
    """
    met = [hazard for hazard in plan.hazards if stage in hazard.arises]
    return [
        _full_box(hazard, statements) if _first_stage(hazard) == stage else _reminder(hazard)
        for hazard in met
    ]


def emergency(plan: Plan) -> list[Block]:
    """First aid of this job's hazards, with places for what only the shop knows."""
    rows = tuple(
        (typeset(hazard.name), " ".join(typeset(line.text) for line in hazard.first_aid))
        for hazard in plan.hazards
        if hazard.first_aid
    )
    return [
        Heading(text="In an emergency"),
        Facts(
            rows=(
                ("Emergency number", ""),
                ("Poison centre", ""),
                ("Eyewash and running water", ""),
                ("Extinguisher", ""),
                ("Second person, within call", ""),
            ),
        ),
        Table(columns=("What", "First aid"), shares=(1.0, 2.6), rows=rows),
        Note(lines=(DEFER,)),
    ]


def hazard_reference(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    """All else that the hazards table says: precautions in full, storage, limits, classification."""
    blocks: list[Block] = [
        Heading(text="Hazards of this job in full", new_page=True),
        Note(
            lines=(
                "Signal words, pictograms and statements are those of the GHS as the source "
                "beside them gives them. What the label of the bottle in hand says wins. " + DEFER,
            )
        ),
    ]
    for hazard in plan.hazards:
        rows = _reference_rows(hazard, statements)
        title = typeset(hazard.name)
        if hazard.cas:
            title += f" (CAS {hazard.cas})"
        blocks.append(Table(columns=(_capital(title), ""), shares=(1.0, 3.4), rows=tuple(rows)))
    return blocks


def _first_stage(hazard: Hazard) -> str:
    return next((stage for stage in _STAGES if stage in hazard.arises), "")


def _full_box(hazard: Hazard, statements: Mapping[str, str]) -> Box:
    said = " ".join(f"{code} {typeset(statements[code])}" for code in hazard.statements)
    lines = (
        ("Hazard", said),
        ("Take care", _joined(hazard.cautions)),
        ("Wear", _joined(hazard.ppe)),
        ("Never mix with", _joined(hazard.never_mix)),
        ("Signs", coded((*hazard.pictograms, *hazard.signs))),
        ("First of all", DEFER),
    )
    return Box(
        word=_word(hazard),
        rank=_rank(hazard),
        title=typeset(hazard.name),
        lines=tuple((label, text) for label, text in lines if text),
    )


def _joined(sentences: tuple[Advice, ...]) -> str:
    return " ".join(typeset(line.text) for line in sentences)


def _reminder(hazard: Hazard) -> Box:
    lines = (
        ("Wear", _joined(hazard.ppe)),
        ("Again", "Its box before an earlier step applies here too. " + DEFER),
    )
    return Box(word=_word(hazard), rank=_rank(hazard), title=typeset(hazard.name), lines=lines)


def _word(hazard: Hazard) -> str:
    return f"{hazard.signal.upper()} (GHS)" if hazard.signal else "HAZARD (no GHS word)"


def _rank(hazard: Hazard) -> Literal["danger", "warning", "notice"]:
    return "warning" if hazard.signal == "Warning" else "danger"


def _reference_rows(hazard: Hazard, statements: Mapping[str, str]) -> list[tuple[str, str]]:
    about = hazard.classification
    rows = [
        (
            "classification",
            f"{typeset(about.text)} [{about.kind}{': ' + about.source if about.source else ''}]",
        )
    ]
    if hazard.signal:
        rows.append(("signal word", hazard.signal))
    if hazard.pictograms:
        rows.append(("pictograms", coded(hazard.pictograms)))
    rows += [(code, typeset(statements[code])) for code in hazard.statements]
    rows += [(code, typeset(statements[code])) for code in hazard.precautions]
    rows += [("storage", typeset(line.text)) for line in hazard.storage]
    rows += [
        (
            typeset(limit.name),
            typeset(f"{limit.value.value:g} {limit.value.unit}") + f" [{limit.value.source}]",
        )
        for limit in hazard.limits
    ]
    return rows


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
