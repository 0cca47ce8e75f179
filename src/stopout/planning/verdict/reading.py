"""Will every letter be there? The drawing's parts against the predicted piece, as findings."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import shapely

from stopout.job.record import Job
from stopout.outcome import Change
from stopout.planning.measures.wording import where
from stopout.planning.verdict.things import Thing, Things
from stopout.values import Finding, Level

if TYPE_CHECKING:
    from stopout.planning.plan import CoatPlan

# Findings about single places that a loss at the same place explains.
DETAILS = frozenset(
    {
        "thin-opening",
        "narrow-land",
        "small-opening",
        "small-island",
        "resist-lifts",
        "may-not-survive",
        "counter-closed",
        "parts-merged",
        "corner-short",
    }
)
_KEEPS_ITS_OWN = {"counter closed": "counter-closed"}


def reading_findings(
    job: Job, coat: CoatPlan, details: Iterable[Finding], things: Things
) -> list[Finding]:
    """Turn a coat's changed parts into findings, and leave out the details that they explain.

    Parameters
    ----------
    job : Job
        For the side, so that places are told as seen too.
    coat : CoatPlan
        With its changes and the reach.
    details : iterable of Finding
        What was found of the coat otherwise, place by place.
    things : Things
        The drawing's lettering, rules and pictures, as worked.

    Returns
    -------
    list of Finding
        The losses first, then the details that are left.
    """
    left = list(details)
    found = []
    merged_told = any(finding.code == "parts-merged" for finding in left)
    for change in coat.changes:
        if change.kind == "merged" and merged_told:
            continue
        near = [f for f in left if _explains(change, f, coat.reach_mm)]
        if any(finding.level is Level.STOP for finding in near):
            # The stop says it, and says what would be done otherwise.
            continue
        own = _KEEPS_ITS_OWN.get(change.kind)
        if own is not None and any(finding.code == own for finding in near):
            continue
        thing = things.at(shapely.Point(change.at_mm), within_mm=4 * coat.reach_mm)
        is_bridged = change.kind in _BRIDGED and _is_crossed(change, coat)
        found.append(_finding(job, change, thing, things, near, is_bridged=is_bridged))
        if change.kind != "merged":
            left = [finding for finding in left if finding not in near]
    return [*found, *left]


def _is_crossed(change: Change, coat: CoatPlan) -> bool:
    """Tell whether a bridge of a loose stencil stands where a part is missing."""
    ties = [tie.region for tie in coat.bridge_ties]
    return bool(shapely.dwithin(change.region, ties, coat.reach_mm).any()) if ties else False


def _explains(change: Change, finding: Finding, reach_mm: float) -> bool:
    if finding.code not in DETAILS or finding.at_mm is None or change.kind == "merged":
        return False
    return bool(change.region.distance(shapely.Point(finding.at_mm)) <= 2 * reach_mm)


_CODES = {"counter closed": "counter-closed", "merged": "parts-merged"}
_WORDS = {
    "gone": "is not made at all",
    "piece gone": "loses a part",
    "split": "comes out in pieces",
    "counter closed": "has its counter filled",
    "counter opened": "comes out broken, its counter open",
    "merged": "runs into its neighbour",
}


def _finding(
    job: Job,
    change: Change,
    thing: Thing | None,
    things: Things,
    near: list[Finding],
    *,
    is_bridged: bool,
) -> Finding:
    at = change.at_mm
    letter = things.letter_at(at, thing) if thing is not None else ""
    x0, y0, x1, y1 = change.region.bounds
    size = max(x1 - x0, y1 - y0)
    if letter:
        what = f'the letter "{letter}"'
    elif thing is not None and thing.is_lettering:
        what = "a letter"
    else:
        what = "a part of the artwork"
    of = f" of {thing.name}," if thing is not None and thing.is_lettering else ""
    worst = max(
        (finding for finding in near if finding.needs_mm and finding.size_mm),
        key=lambda finding: (finding.needs_mm or 0.0) / (finding.size_mm or 1.0),
        default=None,
    )
    missing = f" {size:.2f} mm long" if change.kind == "piece gone" else ""
    kind, why = str(change.kind), ""
    remedy = next((finding.remedy for finding in near if finding.remedy), _PLAIN)
    if is_bridged:
        kind, why, remedy = "bridged", ": a bridge of the loose stencil crosses it", _UNBRIDGED
    return Finding.caution(
        _CODES.get(change.kind, "part-lost"),
        f"{what}{of} {where(at, job)} {_WORDS[change.kind]}{missing}{why}",
        remedy,
        at_mm=at,
        kind=f"{kind}:{letter}" if letter else kind,
        size_mm=None if worst is None else worst.size_mm,
        needs_mm=None if worst is None else worst.needs_mm,
        thing="" if thing is None else thing.name,
    )


_PLAIN = "Draw it larger or thicker, or use a finer mark."
# What bridges cost a part, and what does without them.
_BRIDGED = ("split", "piece gone", "counter opened")
_UNBRIDGED = "Write loose = false in [stencil] and carry the film over on transfer tape."
