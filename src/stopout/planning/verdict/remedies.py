"""What would make a finding go: computed, kept to what a shop can do, and tried.

A change is named only where the finding goes once it is made. A shop can make the artwork larger up
to the blank, etch down to a third of the depth, and focus to half of its spot. Where none of that
helps, the remedy says what kind of drawing would do.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from stopout.planning.verdict.record import Way
from stopout.planning.verdict.things import Thing
from stopout.planning.verdict.trial import Trial
from stopout.values import Finding

# Findings whose remedies are tried.
TRIED = frozenset({"thin-opening", "part-lost", "narrow-land", "parts-merged", "counter-closed"})
# Strokes too thin have a closed form, from which trials start; gaps are tried by shares.
_STROKES = frozenset({"thin-opening", "part-lost"})
_LARGER = (1.0, 1.2, 1.5)
_SHARES = (0.7, 0.45)
_LESS = (1.0, 0.8)
_MOST_TRIES = 3
# A focus makes no mark finer than this share of the spot, 1/e^2 (our own rule: the dose is then a
# quarter above the threshold, and any drift of it shows).
_FINEST_MARK = 0.5
_LARGEST = 3.0
# Beyond so many places the worst ones stand for all.
_MOST_PLACES = 6
# So many trials a plan: more would keep a person waiting.
MOST_TRIALS = 30


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mender:
    """Finds remedies for findings about a plan's shapes.

    `trials` are its coats; `room` is the factor by which the whole artwork fits the blank; `left`
    holds how many trials may still be made.
    """

    trials: tuple[Trial, ...]
    room: float
    finest_mm: float
    left: list[int] = field(default_factory=lambda: [MOST_TRIALS])

    def mend(self, members: Sequence[Finding], thing: Thing | None) -> tuple[str, tuple[Way, ...]]:
        """Return the remedy in words, and the ways that it names.

        Parameters
        ----------
        members : sequence of Finding
            Findings of one code about one thing, with their places.
        thing : Thing or None
            The line of lettering that they belong to, if any.
        """
        ways, words = [], []
        for way in self._candidates(members, thing):
            ways.append(way)
            words.append(self._words(way, thing))
        text = ", or ".join(words)
        text = f"{text[:1].upper()}{text[1:]}." if words else self._drawn(members[0].code)
        if members[0].code in _STROKES and self.trials[0].job.limits.too_thin == "stop":
            text += _WIDEN
        return text, tuple(ways)

    def _drawn(self, code: str) -> str:
        """Return what kind of drawing would do; what is not etched has no depth to change."""
        has_depth = self.trials[0].job.etch is not None
        return _KIND_OF_CHANGE[code].replace(
            "depth or mark", "depth or mark" if has_depth else "mark"
        )

    def _spots(self, members: Sequence[Finding]) -> list[tuple[float, float]]:
        """The places, those that need most first."""
        placed = [one for one in members if one.at_mm is not None]
        placed.sort(key=lambda one: -(one.needs_mm or 0.0) / (one.size_mm or 1.0))
        return [one.at_mm for one in placed[:_MOST_PLACES] if one.at_mm is not None]

    def _candidates(self, members: Sequence[Finding], thing: Thing | None) -> Iterator[Way]:
        """The mildest change of each kind with which all places hold."""
        spots = self._spots(members)
        widths = [one.size_mm for one in members if one.size_mm and one.needs_mm]
        are_strokes = all(one.code in _STROKES for one in members)
        thinnest = min(widths, default=None) if are_strokes else None
        for tries in (self._scales(members, thing), self._depths(thinnest), self._marks(thinnest)):
            for way in tries[:_MOST_TRIES]:
                if self._hold(spots, way):
                    yield way
                    break

    def _hold(self, spots: list[tuple[float, float]], way: Way) -> bool:
        """Tell whether all places hold: the worst, where most ways fail, then the others."""
        for some in filter(None, (spots[:1], spots[1:])):
            for trial in self.trials:
                if self.left[0] <= 0:
                    return False
                self.left[0] -= len(some)
                if not trial.holds(some, way):
                    return False
        return True

    def _scales(self, members: Sequence[Finding], thing: Thing | None) -> list[Way]:
        asked = [
            one.needs_mm / one.size_mm
            for one in members
            if one.needs_mm is not None and one.size_mm
        ]
        least = max([1.05, *asked])
        room = min(self.room_for(thing), _LARGEST)
        sizes = [math.ceil(100 * least * more - 1e-6) / 100 for more in _LARGER]
        return [Way(change="scale", value=size) for size in sizes if size <= room]

    def room_for(self, thing: Thing | None) -> float:
        """Return how much larger a line of lettering, or else the artwork, may be."""
        if thing is None:
            return self.room
        x0, y0, x1, y1 = thing.box_mm
        blank = self.trials[0].job.blank
        return 0.95 * min(blank.width_mm / (x1 - x0), blank.height_mm / (y1 - y0))

    def _depths(self, thinnest_mm: float | None) -> list[Way]:
        bite, job = self.trials[0].bite, self.trials[0].job
        depth = bite.depth_mm
        if bite.factor is None or depth <= 0 or len(self.trials) > 1:
            return []
        values = [share * depth for share in _SHARES]
        if thinnest_mm is not None:
            room = thinnest_mm / 2 + job.limits.edge_tolerance_mm - max(self.trials[0].mark_mm) / 2
            values = [share * bite.factor.value * room for share in _LESS]
        down = [math.floor(1000 * value + 1e-6) / 1000 for value in values]
        return [
            Way(change="depth_mm", value=value)
            for value in down
            if depth / 3 <= value + 1e-9 and value < depth
        ]

    def _marks(self, thinnest_mm: float | None) -> list[Way]:
        trial = self.trials[0]
        mark = max(trial.mark_mm)
        values = [share * mark for share in _SHARES]
        if thinnest_mm is not None:
            tolerance = trial.job.limits.edge_tolerance_mm
            room = thinnest_mm + 2 * tolerance - 2 * trial.bite.undercut.value
            values = [share * room for share in _LESS]
        down = [math.floor(1000 * value + 1e-6) / 1000 for value in values]
        return [
            Way(change="mark_mm", value=value) for value in down if self.finest_mm <= value < mark
        ]

    def _words(self, way: Way, thing: Thing | None) -> str:
        if way.change == "depth_mm":
            return f"etch {way.value:.3g} mm deep"
        if way.change == "mark_mm":
            return f"use a mark of {way.value:.3f} mm"
        if thing is not None and thing.cap_mm > 0:
            tall = math.ceil(100 * way.value * thing.cap_mm - 1e-6) / 100
            return f'write cap_height = "{tall:.2f} mm" (now {thing.cap_mm:.2f} mm)'
        if thing is not None and thing.height_mm > 0:
            tall = math.ceil(10 * way.value * thing.height_mm - 1e-6) / 10
            return f"make its letters {tall:.1f} mm high (now {thing.height_mm:.1f} mm)"
        return f"make the artwork {100 * way.value:.0f} % of this size"


def finest_mark_mm(spot_mm: tuple[float, float]) -> float:
    """Return the finest mark that a spot makes dependably."""
    return _FINEST_MARK * min(spot_mm)


_WIDEN = ' Or set too_thin = "widen": strokes too thin are then made thicker than drawn.'
_KIND_OF_CHANGE = {
    "thin-opening": "Draw the stroke thicker, or as a plain bar with more room beside it; a point "
    "may stay as it is.",
    "part-lost": "Draw it much larger or simpler: no depth or mark of this shop makes it.",
    "narrow-land": "Draw the gap wider.",
    "parts-merged": "Draw the gap wider, or the strokes beside it thicker.",
    "counter-closed": "Draw the counter wider, or fill it.",
}
