"""The hazards of a job as boxes before the steps, a first-aid table and a reference part."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from stopout.etching import Advice, Hazard
from stopout.planning import Plan
from stopout.sheet.model import Block, Box, Facts, Heading, Note, Table
from stopout.sheet.words import DEFER, capital, coded, typeset

__all__ = ["emergency", "hazard_boxes", "hazard_reference"]

_FROM_MEMORY = (
    "signal word, pictograms and statements from memory: the label and the safety data sheet decide"
)
_SIGNS_FROM_MEMORY = "numbers and names of the ISO 7010 signs from memory"
_STAGES = ("coating", "clearing", "mixing", "etching", "rinsing", "stripping", "waste")


def hazard_boxes(
    plan: Plan, stage: str, statements: Mapping[str, str], *, again: bool = False
) -> list[Block]:
    """Boxes of the hazards that a stage meets: in full at the first, as a reminder after that.

    Parameters
    ----------
    plan : Plan
        Whose hazards are meant.
    stage : str
        As the hazards table names it in `arises`.
    statements : mapping
        Texts of the hazard and precautionary statements by code.
    again : bool
        True where the stage's boxes have stood before already: reminders only.
    """
    met = [hazard for hazard in plan.hazards if stage in hazard.arises]
    known = [hazard for hazard in met if again or _first_stage(hazard) != stage]
    new = [_full_box(hazard, statements) for hazard in met if hazard not in known]
    return [*_reminder(known), *new]


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
        Note(lines=(DEFER,)),
        Table(columns=("What", "First aid"), shares=(1.0, 2.6), rows=rows),
    ]


def hazard_reference(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    """All else that the hazards table says: precautions, storage, limits, classification."""
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
        blocks.append(Table(title=capital(title), shares=(1.0, 4.6), rows=tuple(rows)))
    return blocks


def _first_stage(hazard: Hazard) -> str:
    return next((stage for stage in _STAGES if stage in hazard.arises), "")


def _full_box(hazard: Hazard, statements: Mapping[str, str]) -> Box:
    lines = (
        ("Hazard", _said(hazard.statements, statements) + _doubt(hazard)),
        ("Take care", _joined(hazard.cautions)),
        ("Wear", _joined(hazard.ppe)),
        ("Never mix with", _joined(hazard.never_mix)),
        ("Signs", _signs(hazard)),
        ("First of all", DEFER),
    )
    return Box(
        word=_word(hazard),
        rank=_rank(hazard),
        title=typeset(hazard.name),
        lines=tuple((label, text) for label, text in lines if text),
    )


def _signs(hazard: Hazard) -> str:
    """Pictograms and signs; the numbers of ISO 7010 were recalled, not read."""
    if not hazard.signs:
        return coded(hazard.pictograms)
    return f"{coded((*hazard.pictograms, *hazard.signs))} [{_SIGNS_FROM_MEMORY}]"


def _doubt(hazard: Hazard) -> str:
    """Say where the classification was recalled and not read: the label then decides."""
    if not hazard.statements or hazard.classification.kind != "memory":
        return ""
    return f" [{_FROM_MEMORY}]"


def _joined(sentences: tuple[Advice, ...]) -> str:
    return " ".join(typeset(line.text) for line in sentences)


def _reminder(hazards: list[Hazard]) -> list[Box]:
    """One box for the hazards whose own boxes have stood before."""
    if not hazards:
        return []
    worn = dict.fromkeys(line.text for hazard in hazards for line in hazard.ppe)
    worst = min(hazards, key=lambda hazard: ("Danger", "Warning", "").index(hazard.signal))
    lines = (
        ("Wear", " ".join(typeset(text) for text in worn)),
        ("Again", "What stood in the boxes before holds here too. " + DEFER),
    )
    names = ", ".join(typeset(hazard.name) for hazard in hazards)
    return [Box(word=_word(worst), rank=_rank(worst), title=names, lines=lines)]


def _word(hazard: Hazard) -> str:
    return f"{hazard.signal.upper()} (GHS)" if hazard.signal else "HAZARD (no GHS word)"


def _rank(hazard: Hazard) -> Literal["danger", "warning", "notice"]:
    return "warning" if hazard.signal == "Warning" else "danger"


def _reference_rows(hazard: Hazard, statements: Mapping[str, str]) -> list[tuple[str, str]]:
    about = hazard.classification
    limits = "; ".join(
        f"{typeset(limit.name)} {typeset(f'{limit.value.value:g} {limit.value.unit}')} "
        f"[{limit.value.source}]"
        for limit in hazard.limits
    )
    rows = (
        ("Classification", f"{typeset(about.text)} [{about.source}]"),
        ("Label", "; ".join(text for text in (hazard.signal, coded(hazard.pictograms)) if text)),
        ("Statements", _said(hazard.statements, statements)),
        ("Precautions", _said(hazard.precautions, statements)),
        ("Storage", _joined(hazard.storage)),
        ("Limits", limits),
    )
    return [(label, text) for label, text in rows if text]


def _said(codes: tuple[str, ...], statements: Mapping[str, str]) -> str:
    return " ".join(f"{code} {typeset(statements[code])}" for code in codes)
