"""Findings about places, gathered into findings about things."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from stopout.planning.verdict.ranks import rank_of
from stopout.planning.verdict.record import Told
from stopout.planning.verdict.things import Thing, Things
from stopout.values import Finding, Level

__all__ = ["gather"]

# A place this near to a thing's box belongs to it.
_NEAR_MM = 0.5
# Findings without a place: more of one code than this are told by the first and counted.
_MOST_ALIKE = 3
_ORDER = {Level.STOP: 0, Level.CAUTION: 1, Level.NOTE: 2}


def gather(findings: Iterable[Finding], things: Things) -> tuple[Told, ...]:
    """Gather findings of one code, level and kind about one thing; order them by what they do.

    Parameters
    ----------
    findings : iterable of Finding
        Place by place, as worked.
    things : Things
        The lettering, rules and pictures of the drawing, as worked.
    """
    groups: dict[tuple[str, ...], list[Finding]] = {}
    named: dict[tuple[str, ...], Thing | None] = {}
    for finding in findings:
        thing = None
        if finding.at_mm is not None:
            thing = things.at(finding.at_mm, within_mm=_NEAR_MM)
        own = thing.name if thing is not None and thing.kind == "lettering" else ""
        kind = finding.kind.partition(":")[0]
        key = (finding.code, str(finding.level), _family(kind), own)
        groups.setdefault(key, []).append(finding)
        named[key] = thing if own else None
    told = [_told(members, named[key]) for key, members in groups.items()]
    flat = [one for several in told for one in several]
    return tuple(sorted(flat, key=_order))


def _family(kind: str) -> str:
    """Kinds of loss are one family: each letter is told by what became of it."""
    return "lost" if kind in ("gone", "piece gone", "split", "counter opened") else kind


def _order(one: Told) -> tuple[int, ...]:
    return (_ORDER[one.level] if one.level is not Level.CAUTION else 1, *one.rank)


def _told(members: list[Finding], thing: Thing | None) -> list[Told]:
    first = members[0]
    places = tuple(dict.fromkeys(f.at_mm for f in members if f.at_mm is not None))
    if len(members) > 1 and not places and len(members) <= _MOST_ALIKE:
        return [one for member in members for one in _told([member], thing)]
    rank = rank_of(first.code, first.level, has_place=bool(places))
    # Lettering is read before all else of its rank.
    rank = (rank[0], 2 * rank[1] + (thing is None))
    message = first.message if len(members) == 1 else _message(members, thing)
    return [
        Told(
            code=first.code,
            level=first.level,
            message=message,
            remedy=_remedy(members),
            places_mm=places,
            rank=rank,
            thing=first.thing or (thing.name if thing is not None else ""),
        )
    ]


def _remedy(members: Sequence[Finding]) -> str:
    """The remedy of the place that needs most."""
    worst = max(members, key=lambda f: (f.needs_mm or 0.0) / (f.size_mm or 1.0))
    return worst.remedy or next((f.remedy for f in members if f.remedy), "")


_NOUNS = {
    ("thin-opening", "widened"): "strokes as thin as {least:.3f} mm come out wider than drawn",
    ("thin-opening", "left out"): "strokes as thin as {least:.3f} mm are left out",
    ("thin-opening", "stop"): "strokes as thin as {least:.3f} mm are too thin to be made",
    ("thin-opening", "made"): "thin strokes are made within the edge tolerance",
    (
        "narrow-land",
        "narrow",
    ): "gaps as narrow as {least:.3f} mm may end under the limit",
    (
        "parts-merged",
        "bridge",
    ): "gaps as narrow as {least:.3f} mm close: parts run together",
    ("counter-closed", "counter"): "counters as narrow as {least:.3f} mm fill",
}
_LOSSES = {
    "gone": ("is not made at all", "are not made at all"),
    "piece gone": ("loses a part", "lose a part"),
    "split": ("comes out in pieces", "come out in pieces"),
    "counter opened": ("comes out broken", "come out broken"),
    "counter closed": ("has its counter filled", "have their counters filled"),
    "merged": ("runs into its neighbour", "run into their neighbours"),
}


def _message(members: list[Finding], thing: Thing | None) -> str:
    """Say of several places at once what one finding says of one."""
    first = members[0]
    name = thing.name if thing is not None else "elsewhere in the artwork"
    kinds = [finding.kind.partition(":") for finding in members]
    if kinds[0][0] in _LOSSES:
        return f"{name}: {_losses([(kind, letter) for kind, _, letter in kinds], thing)}"
    sizes = [finding.size_mm for finding in members if finding.size_mm is not None]
    noun = _NOUNS.get((first.code, first.kind))
    if noun is not None and sizes:
        return f"{name}: {len(members)} {noun.format(least=min(sizes))}"
    return f"{len(members)} places alike, the first of them: {first.message}"


def _losses(kinds: list[tuple[str, str]], thing: Thing | None) -> str:
    words = []
    what = ("letter", "letters") if thing is not None else ("part", "parts")
    for kind, count in Counter(kind for kind, _ in kinds).items():
        letters = "".join(letter for k, letter in kinds if k == kind and letter)
        which = f' ("{letters}")' if letters else ""
        words.append(f"{count} {what[count > 1]}{which} {_LOSSES[kind][count > 1]}")
    return " and ".join(words)
