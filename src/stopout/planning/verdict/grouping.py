"""Findings about places, gathered into findings about things."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from stopout.planning.verdict.ranks import rank_of
from stopout.planning.verdict.record import Told, Way
from stopout.planning.verdict.remedies import TRIED, Mender
from stopout.planning.verdict.things import Thing, Things
from stopout.values import Finding, Level
from stopout.wording import width_words

# A place this near to a thing's box belongs to it.
_NEAR_MM = 0.5
# Findings without a place: more of one code than this are told by the first and counted.
_MOST_ALIKE = 3
# What small lettering leads to is one finding: it has one cause, and one remedy.
_ONE_CAUSE = frozenset(
    {"part-lost", "parts-merged", "counter-closed", "thin-opening", "narrow-land"}
)
# At the blank's edge only moving helps, by a closed form; a stencil's bridges are its own.
_SURE = frozenset({"edge", "bridged"})


def gather(
    findings: Iterable[Finding], things: Things, mender: Mender | None = None
) -> tuple[Told, ...]:
    """Gather findings of one code, level and kind about one thing; order them by what they do.

    Parameters
    ----------
    findings : iterable of Finding
        Place by place, as worked.
    things : Things
        The lettering, rules and pictures of the drawing, as worked.
    mender : Mender, optional
        Finds remedies and tries them.
    """
    groups: dict[tuple[str, ...], list[Finding]] = {}
    named: dict[tuple[str, ...], Thing | None] = {}
    for finding in findings:
        thing = None
        if finding.at_mm is not None:
            thing = things.at(finding.at_mm, within_mm=_NEAR_MM)
        thing = thing if thing is not None and thing.is_lettering else None
        own = "" if thing is None else thing.name
        if own and finding.code in _ONE_CAUSE and finding.level is Level.CAUTION:
            key: tuple[str, ...] = ("one cause", own)
        else:
            key = (finding.code, str(finding.level), _family(finding.kind.partition(":")[0]), own)
        groups.setdefault(key, []).append(finding)
        named[key] = thing
    other = "in the artwork"
    if any(thing.is_lettering for thing in things.things):
        other = "outside the lettering"
    told = [_told(members, named[key], other, mender) for key, members in groups.items()]
    return tuple(sorted((one for several in told for one in several), key=order_of_telling))


def _family(kind: str) -> str:
    """Kinds of loss are one family: each letter is told by what became of it."""
    return "lost" if kind in ("gone", "piece gone", "split", "counter opened") else kind


def order_of_telling(one: Told) -> tuple[int, ...]:
    """Return what findings are sorted by: stops, then what spoils the piece."""
    return (one.level is not Level.STOP, *one.rank)


def _told(
    members: list[Finding], thing: Thing | None, other: str, mender: Mender | None
) -> list[Told]:
    """Tell of findings alike about one thing, or about `other` than any."""
    members = sorted(members, key=lambda one: rank_of(one.code, one.level, has_place=True))
    first = members[0]
    places = tuple(dict.fromkeys(f.at_mm for f in members if f.at_mm is not None))
    if len(members) > 1 and not places and len(members) <= _MOST_ALIKE:
        return [one for member in members for one in _told([member], thing, other, mender)]
    rank = rank_of(first.code, first.level, has_place=bool(places))
    # Lettering is read before all else of its rank.
    rank = (rank[0], 2 * rank[1] + (thing is None))
    message = first.message if len(members) == 1 else _message(members, thing, other)
    remedy = _remedy(members)
    ways: tuple[Way, ...] = ()
    is_tried = first.code in TRIED and not all(
        one.kind.partition(":")[0] in _SURE for one in members
    )
    if mender is not None and is_tried and first.level is not Level.NOTE and places:
        remedy, ways = mender.mend(members, thing)
    return [
        Told(
            code=first.code,
            level=first.level,
            message=message,
            remedy=remedy,
            places_mm=places,
            rank=rank,
            thing=first.thing or (thing.name if thing is not None else ""),
            ways=ways,
        )
    ]


def _remedy(members: Sequence[Finding]) -> str:
    """The remedy of the place that needs most."""
    worst = max(members, key=lambda f: (f.needs_mm or 0.0) / (f.size_mm or 1.0))
    return worst.remedy or next((f.remedy for f in members if f.remedy), "")


_NOUNS = {
    ("thin-opening", "widened"): (
        "1 stroke {least} wide comes out wider than drawn",
        "{count} strokes (down to {least}) come out wider than drawn",
    ),
    ("thin-opening", "left out"): (
        "1 stroke {least} wide is left out",
        "{count} strokes as thin as {least} are left out",
    ),
    ("thin-opening", "stop"): (
        "1 stroke {least} wide is too thin to be made",
        "{count} strokes as thin as {least} are too thin to be made",
    ),
    ("thin-opening", "made"): (
        "1 thin stroke is made within the edge tolerance",
        "{count} thin strokes are made within the edge tolerance",
    ),
    ("narrow-land", "narrow"): (
        "1 gap {least} wide may end under the limit",
        "{count} gaps as narrow as {least} may end under the limit",
    ),
    ("narrow-land", "edge"): (
        "1 gap {least} wide to the blank's edge may end under the limit",
        "{count} gaps to the blank's edge, as narrow as {least}, may end under the limit",
    ),
    ("narrow-land", "finished"): (
        "its narrowest gap may end {least} wide",
        "its narrowest gap may end {least} wide",
    ),
    ("parts-merged", "bridge"): ("1 gap ({least}) closes", "{count} gaps (down to {least}) close"),
    ("counter-closed", "counter"): (
        "1 counter {least} wide fills",
        "{count} counters (down to {least}) fill",
    ),
}
_LOSSES = {
    "gone": ("is not made at all", "are not made at all"),
    "piece gone": ("loses a part", "lose a part"),
    "split": ("comes out in pieces", "come out in pieces"),
    "counter opened": ("comes out broken", "come out broken"),
    "bridged": (
        "is crossed by bridges of the loose stencil",
        "are crossed by bridges of the loose stencil",
    ),
    "counter closed": ("has its counter filled", "have their counters filled"),
    "merged": ("runs into its neighbour", "run into their neighbours"),
}


def _message(members: list[Finding], thing: Thing | None, other: str) -> str:
    """Say of several places at once what one finding says of one."""
    first = members[0]
    name = thing.name if thing is not None else other
    alike: dict[tuple[str, str], list[Finding]] = {}
    for one in members:
        alike.setdefault((one.code, _family(one.kind.partition(":")[0])), []).append(one)
    phrases = [_phrase(few, thing) for few in alike.values()]
    if all(phrases):
        why = "too small for this mark and etch: " if len(phrases) > 1 and thing is not None else ""
        return f"{name}: {why}{'; '.join(phrases)}"
    return f"{len(members)} places alike, the first of them: {first.message}"


def _phrase(members: list[Finding], thing: Thing | None) -> str:
    """Say in a few words what findings of one code and kind come to; empty where none is known."""
    first = members[0]
    kinds = [finding.kind.partition(":") for finding in members]
    if kinds[0][0] in _LOSSES:
        return _losses([(kind, letter) for kind, _, letter in kinds], thing)
    sizes = [finding.size_mm for finding in members if finding.size_mm is not None]
    nouns = _NOUNS.get((first.code, first.kind))
    if nouns is None or not sizes:
        return ""
    return nouns[len(members) > 1].format(count=len(members), least=width_words(min(sizes)))


def _losses(kinds: list[tuple[str, str]], thing: Thing | None) -> str:
    words = []
    what = ("letter", "letters") if thing is not None else ("part", "parts")
    for kind, count in Counter(kind for kind, _ in kinds).items():
        letters = "".join(letter for k, letter in kinds if k == kind and letter)
        which = f' ("{letters}")' if letters else ""
        words.append(f"{count} {what[count > 1]}{which} {_LOSSES[kind][count > 1]}")
    return " and ".join(words)
