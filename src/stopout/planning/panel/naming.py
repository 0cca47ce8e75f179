"""Which pieces of a panel a finding is about: places are named by the numbers that lie there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np
import shapely

from stopout.planning.plan import PlacedPiece, Plan
from stopout.planning.verdict.grouping import order_of_telling
from stopout.planning.verdict.record import Told, Verdict
from stopout.values import Finding

_Said = TypeVar("_Said", Finding, Told)
# As many numbers as a person reads in a sentence.
_MOST_NAMED = 3
_ALL = "all "
_STATES = ("ready", "look", "stopped")


def name_pieces(plan: Plan, pieces: Sequence[PlacedPiece]) -> Plan:
    """Say with each finding about places which pieces lie there.

    Parameters
    ----------
    plan : Plan
        Of one panel.
    pieces : sequence of PlacedPiece
        Those on it.
    """
    corners = np.array([(*piece.at_mm, *piece.size_mm) for piece in pieces])
    corners[:, 2:] += corners[:, :2]
    tree = shapely.STRtree(shapely.box(*corners.T))

    def named(one: _Said, places: Sequence[tuple[float, float]]) -> _Said:
        if not places:
            return one
        hit = tree.query(shapely.points(places), predicate="intersects")[1]
        words = _words([pieces[k].number for k in sorted(set(hit.tolist()))], len(pieces))
        return replace(one, message=f"{words}: {one.message}") if words else one

    findings = tuple(named(one, [one.at_mm] if one.at_mm else []) for one in plan.findings)
    told = tuple(named(one, one.places_mm) for one in plan.verdict.told)
    return replace(plan, findings=findings, verdict=replace(plan.verdict, told=told))


def _words(numbers: Sequence[str], of_all: int) -> str:
    if not numbers:
        return ""
    if len(numbers) == 1:
        return f"piece {numbers[0]}"
    if len(numbers) <= _MOST_NAMED:
        return f"pieces {', '.join(numbers[:-1])} and {numbers[-1]}"
    if len(numbers) == of_all:
        return f"{_ALL}{of_all} pieces"
    return f"{len(numbers)} pieces ({', '.join(numbers[:_MOST_NAMED])} ...)"


def told_together(plans: Sequence[Plan]) -> list[Plan]:
    """Return the panels' plans, the first with what there is to say of all; one stop stops all.

    Places are those of the first panel: on the others the pieces are named.
    """
    first = plans[0]
    if len(plans) == 1:
        return [first]
    findings, told = list(first.findings), list(first.verdict.told)
    known = {*map(_said, findings), *map(_said, told)}
    for plan in plans[1:]:
        findings += [replace(f, at_mm=None) for f in plan.findings if _said(f) not in known]
        told += [replace(t, places_mm=()) for t in plan.verdict.told if _said(t) not in known]
        known |= {*map(_said, plan.findings), *map(_said, plan.verdict.told)}
    verdict = Verdict(
        state=max((plan.verdict.state for plan in plans), key=_STATES.index),
        unmeasured=any(plan.verdict.unmeasured for plan in plans),
        told=tuple(sorted(told, key=order_of_telling)),
    )
    whole = [replace(first, findings=tuple(findings), verdict=verdict), *plans[1:]]
    if verdict.state != "stopped":
        return whole
    return [
        replace(
            plan,
            coats=tuple(replace(c, program=None, prints=False, cuts=False) for c in plan.coats),
            bounds_program=None,
        )
        for plan in whole
    ]


def _said(one: Finding | Told) -> tuple[str, str, str, str]:
    """What tells it from others: of a whole panel, or of all its pieces, its code does."""
    has_places = one.places_mm if isinstance(one, Told) else one.at_mm
    own = one.message if has_places and not one.message.startswith(_ALL) else ""
    return type(one).__name__, one.code, str(one.level), own
