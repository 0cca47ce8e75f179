"""The hazards of a job: boxes before the steps, a part for the wall and one to look up."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Literal

from stopout.etching import (
    DOES_NOT_ARISE,
    ROUTES,
    Advice,
    Hazard,
    Neutralising,
    aid_lines,
    incidents_of,
    spill_lines,
    wear_strictest,
)
from stopout.planning import Plan
from stopout.sheet.drawings.safety_signs import sign_codes
from stopout.sheet.model import Block, Box, Facts, Heading, Note, Signs, Table
from stopout.sheet.steps import note
from stopout.sheet.words import DEFER, advised, capital, coded, sign_words, typeset

_EMERGENCY = ("E003", "E011", "E012", "F001")
_STAGES = ("coating", "clearing", "mixing", "etching", "rinsing", "stripping", "waste")
_ROUTES = {"eyes": "Eyes", "skin": "Skin", "breathed": "Breathed in", "swallowed": "Swallowed"}
# Stands behind a sentence of the emergency part that no publication is named for.
_PRACTICE = "\u00b0"
# A caution that begins so forbids something.
_FORBIDS = ("No ", "Not ", "Never", "Do not", "Nothing")
_NEVERS = 3
_SIGNALS = ("Danger", "Warning", "")
# Statements in a box; all of them stand in the annex. The order is our own: what kills or maims at
# once, what burns or explodes, what harms for life, then the rest.
_STATEMENTS = 3
_GRAVEST = (
    "H330", "H310", "H300", "H314", "H318", "H220", "H222", "H224", "H225", "H271", "H272",
    "H334", "H317", "H350", "H340", "H360", "H361", "H304", "H372", "H373", "H331", "H311",
    "H301", "H302", "H312", "H332", "H315", "H319", "H335", "H336", "H410", "H411", "H290",
)  # fmt: skip
_SOURCES_BELOW = "Whom the rest follows stands in the annex, with the hazards in full."


def hazard_boxes(
    plan: Plan, stage: str, statements: Mapping[str, str], *, again: bool = False
) -> list[Block]:
    """What is worn at a stage, and a box for each danger that it is the first to meet.

    A danger has one box on the whole sheet, at the head of the first section that meets it: what
    it does, at most three nevers, and the first aid for it. After that it is named in one line.
    All else that the table says of it stands in the annex.

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
    met = _met(plan, stage)
    if not met:
        return []
    if again:
        return [note("Wear and dangers as at the etch before this.")]
    new = tuple(hazard for hazard in met if _first_stage(hazard) == stage)
    earlier = {hazard.ident: found for hazard, found in _aid_said(plan)}
    boxes = [_danger(hazard, statements, earlier[hazard.ident]) for hazard in new]
    return [_worn(plan, stage, met, new), *boxes]


def emergency(plan: Plan) -> list[Block]:
    """First aid by route, incidents and spills, with places for what only the shop knows."""
    return _wall(plan.hazards, _incidents(plan, _marked), all_of="this job")


def wall_page(hazards: tuple[Hazard, ...]) -> list[Block]:
    """The same for the hazards of a whole shop, which the page names.

    Parameters
    ----------
    hazards : tuple of Hazard
        All that is handled, each once.
    """
    names = sorted(capital(typeset(hazard.name)) for hazard in hazards)
    what = note(f"Holds for: {'; '.join(names)}. Print it again when more comes in.")
    page = _wall(hazards, _happens(hazards, _marked), all_of="this shop")
    return [page[0], what, *page[1:]]


def _wall(
    hazards: tuple[Hazard, ...], happens: tuple[tuple[str, str], ...], *, all_of: str
) -> list[Block]:
    return [
        Heading(text="In an emergency"),
        Signs(signs=sign_words((*_EMERGENCY, *_worn_signs(hazards)))),
        Facts(
            rows=(
                ("Emergency number", ""),
                ("Poison centre", ""),
                ("Eyewash, shower, running water", ""),
                ("Extinguisher, first-aid box", ""),
                ("Second person, within call", ""),
                ("Licensed waste carrier", ""),
            )
        ),
        note(DEFER),
        Table(
            columns=("First aid", "Do", "After"),
            shares=(0.75, 3.6, 1.5),
            rows=_aid(hazards, all_of),
        ),
        *_goes_wrong(hazards, happens),
    ]


def _worn_signs(hazards: tuple[Hazard, ...]) -> tuple[str, ...]:
    """The mandatory signs of all that is met."""
    codes = {code for hazard in hazards for code in hazard.signs if code[0] == "M"}
    return tuple(code for code in sorted(codes) if code in sign_codes())


def _aid(hazards: tuple[Hazard, ...], all_of: str) -> tuple[tuple[str, ...], ...]:
    """Route by route, the strictest first; where one sentence serves all, it says so."""
    lines = aid_lines(hazards)
    alone = {line.route for line in lines if sum(o.route == line.route for o in lines) == 1}
    return tuple(
        (
            _ROUTES[line.route],
            _marked(line.aid.advice),
            f"all that {all_of} handles"
            if line.route in alone
            else ", ".join(typeset(name) for name in line.hazards),
        )
        for line in lines
    )


def _goes_wrong(hazards: tuple[Hazard, ...], happens: tuple[tuple[str, str], ...]) -> list[Block]:
    """What may go wrong, and spills."""
    told = ((("If", "Do"), happens), (("Spilt or loose", "Do"), _spills(hazards, _marked)))
    blocks: list[Block] = [
        Table(columns=columns, shares=(1.0, 4.0), rows=rows) for columns, rows in told if rows
    ]
    return [*blocks, note(f"{_PRACTICE} common practice, no source. {_SOURCES_BELOW}")]


def mishaps(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Incidents, then the gravest spills: what has happened, and what is done.

    All spills stand on the wall page, where other work of the same shop is meant as well; here
    words of a bath, a beam or a current stand only where the job has one.
    """
    grave = tuple(
        hazard
        for hazard in plan.hazards
        if hazard.signal == "Danger" and set(hazard.arises) & {"mixing", "stripping"}
    )
    spills = _spills(grave, advised)
    # A bath that runs away has its own line in the rework of its stage, with its own temperature.
    happened = (row for row in _incidents(plan, advised) if not row[0].startswith("Bath foams"))
    rows = (*happened, *((f"Spilt: {what}", do) for what, do in spills))
    return tuple((what, of_this_job(plan, do)) for what, do in rows)


def of_this_job(plan: Plan, text: str) -> str:
    """Leave out of a table's sentences the clauses about a bath, beam or current that is not there.

    Parameters
    ----------
    plan : Plan
        Whose work is meant.
    text : str
        Sentences, their clauses parted by commas and semicolons.
    """
    has_current = plan.etch is not None and plan.etch.electro is not None
    if not plan.job.route.has_beam:
        text = re.sub(r"Beam or c", "C", text)
        text = re.sub(r", sparks and any beam off", " and sparks off", text)
    if not has_current:
        text = re.sub(r"Beam or current", "Beam", text)
    foreign = [] if plan.job.route.has_beam else ["beam", "laser"]
    foreign += [] if has_current else ["current"]
    foreign += [] if plan.etch is not None else ["bath", "still rinse"]
    if not foreign:
        return text
    about = re.compile(rf"\b(?:{'|'.join(foreign)})\b", re.IGNORECASE)
    kept = []
    for said in re.split(r"(?<=[.!?]) ", text):
        clauses = [c for c in re.split(r"(?<=[,;]) ", said.rstrip(".")) if not about.search(c)]
        if clauses:
            kept.append(f"{capital(' '.join(clauses).rstrip(',;'))}.")
    return " ".join(kept)


def _incidents(plan: Plan, say: Callable[[Advice], str]) -> tuple[tuple[str, str], ...]:
    """What may happen and what is done; a lit sheet's shop need know neither paint nor bath."""
    rows = _happens(plan.hazards, say)
    if not plan.job.route.is_lit:
        return rows
    return tuple((what, of_this_job(plan, do)) for what, do in rows)


def _happens(
    hazards: tuple[Hazard, ...], say: Callable[[Advice], str]
) -> tuple[tuple[str, str], ...]:
    return tuple(
        (incident.title, " ".join(say(line) for line in incident.steps))
        for incident in incidents_of(hazards)
    )


def _spills(
    hazards: tuple[Hazard, ...], say: Callable[[Advice], str]
) -> tuple[tuple[str, str], ...]:
    """A spill's sentence names first what has been spilt."""
    rows = []
    for line in spill_lines(hazards):
        what, _, do = say(line).partition(": ")
        rows.append((what, capital(do)))
    return tuple(rows)


def _aid_sources(plan: Plan) -> str:
    """After whom first aid, incidents and spills are written."""
    lines = [line.aid.advice for line in aid_lines(plan.hazards)]
    lines += [line for incident in incidents_of(plan.hazards) for line in incident.steps]
    lines += spill_lines(plan.hazards)
    return "; ".join(dict.fromkeys(typeset(line.source) for line in lines if line.source_id))


def _marked(line: Advice) -> str:
    return advised(line) + ("" if line.source_id else _PRACTICE)


def hazard_reference(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    """All else that the hazards table says: precautions, storage, limits, classification."""
    blocks: list[Block] = [
        Heading(text="Hazards of this job in full"),
        note("The label of the bottle in hand wins. " + DEFER),
    ]
    for hazard in plan.hazards:
        rows = _reference_rows(hazard, statements)
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


def _aid_said(plan: Plan) -> list[tuple[Hazard, dict[str, str]]]:
    """Each hazard with the first aid that a box before its own has said, and for what."""
    said: dict[str, str] = {}
    found = []
    boxed = [
        hazard for stage in _STAGES for hazard in _met(plan, stage) if _first_stage(hazard) == stage
    ]
    for hazard in boxed:
        found.append((hazard, dict(said)))
        for route in ROUTES:
            said.setdefault(hazard.first_aid.by(route).advice.text, hazard.short)
    return found


def _worn(plan: Plan, stage: str, met: tuple[Hazard, ...], new: tuple[Hazard, ...]) -> Note:
    """What is worn against all that a stage handles, and in one line what it meets again."""
    worn = _wear(met)
    same = next(
        (other for other in _STAGES[: _STAGES.index(stage)] if _wear(_met(plan, other)) == worn), ""
    )
    known = dict.fromkeys(hazard.short for hazard in met if hazard not in new)
    parts = (
        f"Wear: as at {same}." if same and worn else f"Wear: {worn}." if worn else "",
        f"Dangers as before: {', '.join(known)}." if known else "",
    )
    return note(" ".join(part for part in parts if part))


def _wear(met: tuple[Hazard, ...]) -> str:
    return "; ".join(typeset(item.advice.text) for item in wear_strictest(met))


def _met(plan: Plan, stage: str) -> tuple[Hazard, ...]:
    """What a stage handles; of several ways or strippers only the mildest one's."""
    other = set(_ways(plan)) - {_mildest(plan, _ways(plan))}
    other |= set(_strippers(plan)) - {_mildest(plan, _strippers(plan))}
    return tuple(
        hazard
        for hazard in plan.hazards
        if stage in hazard.arises and not (hazard.ident in other and len(hazard.arises) == 1)
    )


def _ways(plan: Plan) -> tuple[str, ...]:
    return tuple(way.ident for way in plan.etch.neutralising) if plan.etch else ()


def _strippers(plan: Plan) -> tuple[str, ...]:
    return plan.resists[0].strippers if plan.etch and plan.resists else ()


def _mildest(plan: Plan, idents: tuple[str, ...]) -> str:
    """The one of several whose hazard is the mildest, by signal word and gravest statements."""
    hazards = {hazard.ident: hazard for hazard in plan.hazards}

    def mildness(ident: str) -> tuple[int, list[int]]:
        hazard = hazards.get(ident)
        if hazard is None:
            return 0, []
        return _SIGNALS.index(hazard.signal), sorted(_gravity(code) for code in hazard.statements)

    return max(idents, key=mildness, default="")


def mildest_stripper(plan: Plan) -> str:
    """Name of the mildest of the resist's strippers; empty where its own sheet must tell."""
    ident = _mildest(plan, _strippers(plan))
    return next((hazard.name for hazard in plan.hazards if hazard.ident == ident), ident)


def mildest_way(plan: Plan) -> Neutralising | None:
    """Of the ways to make the bath neutral the one whose hazard is the mildest; None without."""
    ways = plan.etch.neutralising if plan.etch else ()
    ident = _mildest(plan, _ways(plan))
    return next((way for way in ways if way.ident == ident), None)


def _danger(hazard: Hazard, statements: Mapping[str, str], said: Mapping[str, str]) -> Box:
    """A danger's own box: what it does, what never, first aid."""
    # Where GHS has a pictogram, the warning sign of the same meaning stands in the annex alone.
    codes = hazard.pictograms or tuple(code for code in hazard.signs if code[0] == "W")
    lines = (
        ("Does", _does(hazard, statements)),
        ("Never", _nevers(hazard)),
        ("First aid", _aid_of(hazard, said)),
    )
    return Box(
        word=_word(hazard),
        rank=_rank(hazard),
        title=typeset(hazard.name),
        lines=tuple((label, text) for label, text in lines if text),
        signs=sign_words(tuple(code for code in codes if code in sign_codes())),
    )


def _does(hazard: Hazard, statements: Mapping[str, str]) -> str:
    """The hazard statements' words without their codes, or the class in words."""
    gravest = sorted(hazard.statements, key=_gravity)[:_STATEMENTS]
    said = " ".join(typeset(statements[code]) for code in hazard.statements if code in gravest)
    about = hazard.classification
    mark = " [not yet checked against the standard]" if about.kind == "memory" else ""
    return f"{said or capital(typeset(about.text))}".rstrip(".") + f"{mark}."


def _gravity(code: str) -> int:
    """Place of a hazard statement among the gravest; those that are not listed come last."""
    return _GRAVEST.index(code[:4]) if code[:4] in _GRAVEST else len(_GRAVEST)


def _nevers(hazard: Hazard) -> str:
    """At most so many things that must never be: what it never meets first."""
    others = [advised(line) for line in hazard.cautions if line.text.startswith(_FORBIDS)]
    mixed = hazard.never_mix[: _NEVERS - bool(others)]
    met = "; ".join(_inner(advised(line)) for line in mixed)
    parts = [f"With {met}."] if met else []
    return " ".join(parts + others[: _NEVERS - len(mixed)])


def _inner(text: str) -> str:
    """A sentence's words within another sentence."""
    first = text[:1] if text[1:2].isupper() else text[:1].lower()
    return first + text[1:].rstrip(".")


def _aid_of(hazard: Hazard, said: Mapping[str, str]) -> str:
    """First aid by route; what a box before has said word for word is referred to."""
    told: dict[str, list[str]] = {}
    for route in ROUTES:
        aid = hazard.first_aid.by(route)
        if aid.rank > DOES_NOT_ARISE:
            told.setdefault(aid.advice.text, []).append(_ROUTES[route])
    new = {text: routes for text, routes in told.items() if text not in said}
    old: dict[str, list[str]] = {}
    for text, routes in told.items():
        if text in said:
            old.setdefault(said[text], []).extend(routes)
    parts = [f"{_routes(routes)}: {typeset(text)}" for text, routes in new.items()]
    parts += [f"{_routes(routes)}: as for {short}." for short, routes in old.items()]
    return " ".join(parts)


def _routes(names: list[str]) -> str:
    return capital(", ".join(names).lower())


def _hazard_words(hazard: Hazard, statements: Mapping[str, str]) -> str:
    """The statements, or the class in words; one that was recalled carries its mark."""
    about = hazard.classification
    said = _said(hazard.statements, statements) or typeset(about.text)
    return f"{said} [not yet checked against the standard]" if about.kind == "memory" else said


def _joined(sentences: tuple[Advice, ...]) -> str:
    return " ".join(advised(line) for line in sentences)


def _word(hazard: Hazard) -> str:
    return f"{hazard.signal.upper()} (GHS)" if hazard.signal else "HAZARD"


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
        ("Hazard", _hazard_words(hazard, statements)),
        ("Take care", _joined(hazard.cautions)),
        ("Never mix with", _joined(hazard.never_mix)),
        ("Signs", coded((*hazard.pictograms, *hazard.signs))),
        ("Classification", f"{typeset(about.text)} [{about.source}]"),
        ("Precautions", " ".join(hazard.precautions)),
        ("Storage", _joined(hazard.storage)),
        ("Limits", limits),
    )
    return [(label, text) for label, text in rows if text]


def _said(codes: tuple[str, ...], statements: Mapping[str, str]) -> str:
    return " ".join(f"{code} {typeset(statements[code])}" for code in codes)
