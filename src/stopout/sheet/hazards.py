"""The hazards of a job as boxes before the steps, a first-aid table and a reference part."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from stopout.etching import Advice, Hazard
from stopout.planning import Plan
from stopout.sheet.model import Block, Box, Facts, Heading, Note, Signs, Table
from stopout.sheet.signs import sign_codes
from stopout.sheet.words import DEFER, advised, capital, coded, sign_words, typeset

__all__ = ["emergency", "hazard_boxes", "hazard_reference"]

_RECALLED = "Word and statements are from memory: read the label. "
_EMERGENCY = ("E003", "E011", "E012", "F001")
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
    drawn: set[str] = set()
    new = []
    for hazard in met:
        if hazard not in known:
            new.append(_full_box(hazard, statements, drawn))
            drawn.update(hazard.signs)
    return [*_reminder(known), *new]


def emergency(plan: Plan) -> list[Block]:
    """First aid of this job's hazards, with places for what only the shop knows."""
    rows = tuple(
        (typeset(hazard.name), _joined(hazard.first_aid))
        for hazard in plan.hazards
        if hazard.first_aid
    )
    return [
        Heading(text="In an emergency"),
        Signs(signs=sign_words(_EMERGENCY)),
        Facts(
            rows=(
                ("Emergency number", ""),
                ("Poison centre", ""),
                ("Eyewash, shower, running water", ""),
                ("Extinguisher, first-aid box", ""),
                ("Second person, within call", ""),
                ("Licensed waste carrier", ""),
            ),
        ),
        Note(lines=(DEFER,)),
        Table(columns=("What", "First aid"), shares=(1.0, 2.6), rows=rows),
    ]


def hazard_reference(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    """All else that the hazards table says: precautions, storage, limits, classification."""
    blocks: list[Block] = [
        Heading(text="Hazards of this job in full"),
        Note(lines=("What the boxes do not say. The label of the bottle in hand wins. " + DEFER,)),
    ]
    for hazard in plan.hazards:
        rows = _reference_rows(hazard)
        title = typeset(hazard.name)
        if hazard.cas:
            title += f" (CAS {hazard.cas})"
        blocks.append(Table(title=capital(title), shares=(1.0, 4.6), rows=tuple(rows), small=True))
    codes = sorted({code for hazard in plan.hazards for code in hazard.precautions})
    if codes:
        blocks.append(
            Table(
                title="Precautionary statements",
                shares=(1.0, 4.6),
                rows=tuple((code, typeset(statements[code])) for code in codes),
                small=True,
            )
        )
    return blocks


def _first_stage(hazard: Hazard) -> str:
    return next((stage for stage in _STAGES if stage in hazard.arises), "")


def _full_box(hazard: Hazard, statements: Mapping[str, str], drawn: set[str]) -> Box:
    """All of a hazard; signs that a box just above has drawn are named and not drawn again."""
    codes = (*hazard.pictograms, *(code for code in hazard.signs if code not in drawn))
    shown = sign_words(tuple(code for code in codes if code in sign_codes()))
    seen = [code for code, _ in shown]
    above = ", ".join(code for code in hazard.signs if code not in seen and code in drawn)
    others = coded(tuple(c for c in codes if c not in seen))
    recalled = hazard.classification.kind == "memory"
    lines = (
        ("Hazard", _said(hazard.statements, statements) or advised(hazard.classification)),
        ("Take care", _joined(hazard.cautions)),
        ("Wear", _joined(hazard.ppe)),
        ("Never mix with", _joined(hazard.never_mix)),
        ("Signs above", above),
        ("Signs too", others),
        ("First of all", (_RECALLED if recalled else "") + DEFER),
    )
    return Box(
        word=_word(hazard),
        rank=_rank(hazard),
        title=typeset(hazard.name),
        lines=tuple((label, text) for label, text in lines if text),
        signs=shown,
    )


def _joined(sentences: tuple[Advice, ...]) -> str:
    return " ".join(advised(line) for line in sentences)


def _reminder(hazards: list[Hazard]) -> list[Box]:
    """One box for the hazards whose own boxes have stood before."""
    if not hazards:
        return []
    worn = dict.fromkeys(line.text for hazard in hazards for line in hazard.ppe)
    worst = min(hazards, key=lambda hazard: ("Danger", "Warning", "").index(hazard.signal))
    lines = (
        ("Wear", " ".join(typeset(text) for text in worn)),
        ("Again", "The boxes before hold here too. " + DEFER),
    )
    names = ", ".join(typeset(hazard.name) for hazard in hazards)
    return [Box(word=_word(worst), rank=_rank(worst), title=names, lines=lines)]


def _word(hazard: Hazard) -> str:
    return f"{hazard.signal.upper()} (GHS)" if hazard.signal else "HAZARD (no GHS word)"


def _rank(hazard: Hazard) -> Literal["danger", "warning", "notice"]:
    return "warning" if hazard.signal == "Warning" else "danger"


def _reference_rows(hazard: Hazard) -> list[tuple[str, str]]:
    about = hazard.classification
    limits = "; ".join(
        f"{typeset(limit.name)} {typeset(f'{limit.value.value:g} {limit.value.unit}')} "
        f"[{limit.value.source}]"
        for limit in hazard.limits
    )
    rows = (
        ("Classification", f"{typeset(about.text)} [{about.source}]"),
        ("Precautions", " ".join(hazard.precautions)),
        ("Storage", _joined(hazard.storage)),
        ("Limits", limits),
    )
    return [(label, text) for label, text in rows if text]


def _said(codes: tuple[str, ...], statements: Mapping[str, str]) -> str:
    return " ".join(f"{code} {typeset(statements[code])}" for code in codes)
