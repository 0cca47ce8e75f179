"""Hazards of one job put together: each sentence once, the strictest of what is worn."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from stopout.etching.records import Advice
from stopout.etching.safety.records import (
    DOES_NOT_ARISE,
    ROUTES,
    Aid,
    Hazard,
    Incident,
    Route,
    Wear,
)

# From the head down, then what cleans the air.
_PARTS = ("eyes", "beam", "beam, hit", "hands", "hands, solvent", "body", "dust", "vapour", "air",
          "enclosure")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class AidLine:
    """One sentence of first aid, for one route, with the short names of what it serves."""

    route: Route
    aid: Aid
    hazards: tuple[str, ...]


def aid_lines(hazards: tuple[Hazard, ...]) -> tuple[AidLine, ...]:
    """First aid of several hazards, route by route, the strictest first, each sentence once.

    Parameters
    ----------
    hazards : tuple of Hazard
        Those of a job. A route that a hazard cannot take is left out.
    """
    lines = []
    for route in ROUTES:
        names: dict[Aid, dict[str, None]] = {}
        for hazard in hazards:
            aid = hazard.first_aid.by(route)
            if aid.rank > DOES_NOT_ARISE:
                names.setdefault(aid, {})[hazard.short] = None
        strict_first = sorted(names, key=lambda aid: -aid.rank)
        lines += [AidLine(route=route, aid=aid, hazards=tuple(names[aid])) for aid in strict_first]
    return tuple(lines)


def aid_strictest(hazards: tuple[Hazard, ...]) -> tuple[AidLine, ...]:
    """One sentence for each route, the strictest: for a wall, where nobody knows what it was."""
    firsts: dict[Route, AidLine] = {}
    for line in aid_lines(hazards):
        firsts.setdefault(line.route, line)
    return tuple(firsts.values())


def wear_strictest(hazards: tuple[Hazard, ...]) -> tuple[Wear, ...]:
    """What is worn against all of these at once: for each part of the body the strictest."""
    worn: dict[str, Wear] = {}
    for hazard in hazards:
        for item in hazard.wear:
            before = worn.get(item.part)
            if before is None or item.rank > before.rank:
                worn[item.part] = item
    order = {part: place for place, part in enumerate(_PARTS)}
    return tuple(sorted(worn.values(), key=lambda item: order.get(item.part, len(order))))


def never_mixed(hazards: tuple[Hazard, ...]) -> tuple[Advice, ...]:
    """What none of these may meet, each sentence once."""
    return _once(line for hazard in hazards for line in hazard.never_mix)


def spill_lines(hazards: tuple[Hazard, ...]) -> tuple[Advice, ...]:
    """What is done with a spill of any of these, each sentence once."""
    return _once(line for hazard in hazards for line in hazard.spill)


def incidents_of(hazards: tuple[Hazard, ...]) -> tuple[Incident, ...]:
    """What may go wrong with any of these, each once, in the order of the table."""
    met = {incident.ident: incident for hazard in hazards for incident in hazard.incidents}
    return tuple(sorted(met.values(), key=lambda incident: incident.number))


def _once(lines: Iterable[Advice]) -> tuple[Advice, ...]:
    found: dict[str, Advice] = {}
    for line in lines:
        found.setdefault(line.text, line)
    return tuple(found.values())
