"""The hazards of a job as boxes before the steps, an emergency part and a reference part."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from stopout.etching import (
    Advice,
    Hazard,
    aid_lines,
    incidents_of,
    never_mixed,
    spill_lines,
    wear_strictest,
)
from stopout.planning import Plan
from stopout.sheet.contents.model import Block, Box, Facts, Heading, Note, Signs, Table
from stopout.sheet.contents.words import DEFER, advised, capital, coded, sign_words, typeset
from stopout.sheet.drawings.safety_signs import sign_codes

__all__ = ["emergency", "hazard_boxes", "hazard_reference"]

_EMERGENCY = ("E003", "E011", "E012", "F001")
_STAGES = ("coating", "clearing", "mixing", "etching", "rinsing", "stripping", "waste")
_ROUTES = {"eyes": "Eyes", "skin": "Skin", "breathed": "Breathed in", "swallowed": "Swallowed"}
# Stands behind a sentence of the emergency part that no publication is named for.
_PRACTICE = "\u00b0"
_SOURCES_BELOW = "Whom the rest follows stands with the hazards in full."


def hazard_boxes(
    plan: Plan, stage: str, statements: Mapping[str, str], *, again: bool = False
) -> list[Block]:
    """What is worn at a stage, and the boxes of the hazards that it is the first to meet.

    Parameters
    ----------
    plan : Plan
        Whose hazards are meant.
    stage : str
        As the hazards table names it in `arises`.
    statements : mapping
        Texts of the hazard and precautionary statements by code.
    again : bool
        True where the stage's boxes have stood before already: only what is worn.
    """
    met = tuple(hazard for hazard in plan.hazards if stage in hazard.arises)
    if not met:
        return []
    new = () if again else tuple(hazard for hazard in met if _first_stage(hazard) == stage)
    said = _said_elsewhere(plan)
    drawn: set[str] = set()
    boxes: list[Block] = [_stage_box(met, new)]
    for hazard in new:
        boxes.append(_full_box(hazard, statements, drawn, said[hazard.ident]))
        drawn.update(hazard.signs)
    return boxes


def emergency(plan: Plan) -> list[Block]:
    """First aid by route, incidents and spills, with places for what only the shop knows."""
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
        Table(columns=("First aid", "Do", "After"), shares=(0.75, 3.6, 1.5), rows=_aid(plan)),
        *_goes_wrong(plan),
    ]


def _aid(plan: Plan) -> tuple[tuple[str, ...], ...]:
    """Route by route, the strictest first; where one sentence serves all, it says so."""
    lines = aid_lines(plan.hazards)
    alone = {line.route for line in lines if sum(o.route == line.route for o in lines) == 1}
    return tuple(
        (
            _ROUTES[line.route],
            _marked(line.aid.advice),
            "all that this job handles"
            if line.route in alone
            else ", ".join(typeset(name) for name in line.hazards),
        )
        for line in lines
    )


def _goes_wrong(plan: Plan) -> list[Block]:
    """What may go wrong, and spills."""
    incidents = tuple(
        (incident.title, " ".join(_marked(line) for line in incident.steps))
        for incident in incidents_of(plan.hazards)
    )
    spills = tuple(_spill_row(line) for line in spill_lines(plan.hazards))
    blocks: list[Block] = [
        Table(columns=columns, shares=(1.0, 4.0), rows=rows)
        for columns, rows in ((("If", "Do"), incidents), (("Spilt or loose", "Do"), spills))
        if rows
    ]
    return [*blocks, Note(lines=(f"{_PRACTICE} common practice, no source. {_SOURCES_BELOW}",))]


def _aid_sources(plan: Plan) -> str:
    """After whom first aid, incidents and spills are written."""
    lines = [line.aid.advice for line in aid_lines(plan.hazards)]
    lines += [line for incident in incidents_of(plan.hazards) for line in incident.steps]
    lines += spill_lines(plan.hazards)
    return "; ".join(dict.fromkeys(typeset(line.source) for line in lines if line.source_id))


def _spill_row(line: Advice) -> tuple[str, str]:
    """A spill's sentence names first what has been spilt."""
    what, _, do = _marked(line).partition(": ")
    return what, capital(do)


def _marked(line: Advice) -> str:
    return advised(line) + ("" if line.source_id else _PRACTICE)


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
    sources = _aid_sources(plan)
    if sources:
        written = (("Written after", sources),)
        title = "First aid, incidents and spills"
        blocks.append(Table(title=title, shares=(1.0, 4.6), rows=written, small=True))
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


def _said_elsewhere(plan: Plan) -> dict[str, set[str]]:
    """For each hazard the cautions that a box before its own has said already."""
    before: set[str] = set()
    found = {}
    for hazard in sorted(plan.hazards, key=lambda hazard: _STAGES.index(_first_stage(hazard))):
        found[hazard.ident] = set(before)
        before.update(line.text for line in hazard.cautions)
    return found


def _stage_box(met: tuple[Hazard, ...], new: tuple[Hazard, ...]) -> Box:
    """What is worn against all that a stage handles, and what the new ones must never meet."""
    worst = min(met, key=lambda hazard: ("Danger", "Warning", "").index(hazard.signal))
    worn = "; ".join(typeset(item.advice.text) for item in wear_strictest(met))
    never = " ".join(advised(line) for line in never_mixed(new))
    known = ", ".join(dict.fromkeys(hazard.short for hazard in met if hazard not in new))
    lines = (
        ("Wear", f"{capital(worn)}." if worn else ""),
        ("Never mix with", never),
        ("As before", capital(known)),
    )
    return Box(
        word=_word(worst),
        rank=_rank(worst),
        title="Before this stage",
        lines=tuple((label, text) for label, text in lines if text),
    )


def _full_box(
    hazard: Hazard, statements: Mapping[str, str], drawn: set[str], said: set[str]
) -> Box:
    """A hazard's own box; signs that a box just above has drawn are named and not drawn again."""
    codes = (*hazard.pictograms, *(code for code in hazard.signs if code not in drawn))
    shown = sign_words(tuple(code for code in codes if code in sign_codes()))
    seen = [code for code, _ in shown]
    above = ", ".join(code for code in hazard.signs if code not in seen and code in drawn)
    others = coded(tuple(c for c in codes if c not in seen))
    cautions = tuple(line for line in hazard.cautions if line.text not in said)
    lines = (
        ("Hazard", _hazard_words(hazard, statements)),
        ("Take care", _joined(cautions)),
        ("Signs above", above),
        ("Signs too", others),
    )
    return Box(
        word=_word(hazard),
        rank=_rank(hazard),
        title=typeset(hazard.name),
        lines=tuple((label, text) for label, text in lines if text),
        signs=shown,
    )


def _hazard_words(hazard: Hazard, statements: Mapping[str, str]) -> str:
    """The statements, or the class in words; one that was recalled carries its mark."""
    about = hazard.classification
    said = _said(hazard.statements, statements) or typeset(about.text)
    return f"{said} [{about.source}]" if about.kind == "memory" else said


def _joined(sentences: tuple[Advice, ...]) -> str:
    return " ".join(advised(line) for line in sentences)


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
