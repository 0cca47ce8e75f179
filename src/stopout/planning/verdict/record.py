"""The verdict as a record: a state, whether it rests on measured figures, and what to act on."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from stopout.values import Level
from stopout.wording import begun, measurable

# As many findings as a person takes in at once.
MOST_LINES = 5
# Characters that a person reads at one look: two lines of a terminal.
_BRIEF = 185
_LEAD = re.compile(
    r"(?i)((all )?(\d+ )?pieces? .*|all \d+ pieces|coat \d+|outside the lettering|in the artwork|"
    r"\d+ places alike, the first of them):$"
)
# What says that a figure is not the shop's own.
UNMEASURED = frozenset(
    {
        "coupon-needed",
        "starting-guess",
        "growth-unmeasured",
        "mark-extrapolated",
        "light-guess",
        "machine-unmeasured",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One change in the planner's own terms: `scale` (a factor), `depth_mm` or `mark_mm`."""

    change: str
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One finding as a reader is told it: about a thing, with all its places as worked.

    `ways` are the changes that its remedy names, each tried.
    """

    code: str
    level: Level
    message: str
    remedy: str = ""
    places_mm: tuple[tuple[float, float], ...] = ()
    rank: tuple[int, int] = (3, 0)
    thing: str = ""
    ways: tuple[Way, ...] = ()

    def __post_init__(self) -> None:
        """Write its numbers as a person could measure them."""
        object.__setattr__(self, "message", measurable(self.message))
        object.__setattr__(self, "remedy", measurable(self.remedy))

    @property
    def text(self) -> str:
        """Message and remedy as sentences."""
        message = self.message.strip()
        if message and message[-1] not in ".!?":
            message += "."
        return f"{begun(message)} {self.remedy}".strip()

    @property
    def brief(self) -> str:
        """Two lines of it: the message's first clauses, the remedy's first sentence."""
        if len(self.text) <= _BRIEF:
            return self.text
        remedy = re.split(r"(?<=[.!?]) (?=[A-Z0-9])", self.remedy)[0]
        message = self.message.strip().rstrip(".")
        message = begun(message)
        clauses = re.split(r"(?<=[;:])\s", message)
        # What it is about says nothing by itself.
        is_name = bool(self.thing) and clauses[0].casefold() == f"{self.thing}:".casefold()
        least = 2 if is_name or _LEAD.match(clauses[0]) else 1
        while len(" ".join(clauses)) + len(remedy) > _BRIEF and len(clauses) > least:
            clauses.pop()
        return f"{' '.join(clauses).rstrip(';:')}. {remedy}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a plan comes to.

    Attributes
    ----------
    state
        `ready`, `look` (ready, with places to look at) or `stopped`.
    unmeasured
        True while mark, rate or etch factor are starting points rather than the shop's own.
    told
        All findings, gathered by thing, what to act on first standing first.
    """

    state: Literal["ready", "look", "stopped"]
    unmeasured: bool
    told: tuple[Told, ...]

    @property
    def lines(self) -> tuple[Told, ...]:
        """At most five stops and cautions, in the order in which a person must act on them."""
        return tuple(one for one in self.told if one.level is not Level.NOTE)[:MOST_LINES]

    @property
    def rest(self) -> tuple[Told, ...]:
        """What the lines leave out."""
        shown = self.lines
        return tuple(one for one in self.told if one not in shown)

    @property
    def places(self) -> int:
        """How many places of the piece ask to be looked at."""
        return sum(
            max(1, len(one.places_mm))
            for one in self.told
            if one.level is Level.CAUTION and (one.places_mm or one.rank[0] == 0)
        )

    @property
    def headline(self) -> str:
        """The verdict in a few words."""
        if self.state == "stopped":
            stops = sum(one.level is Level.STOP for one in self.told)
            why = "reason" if stops == 1 else "reasons"
            return f"STOPPED for {stops} {why}; no program is written"
        if self.state == "look":
            place = "place" if self.places == 1 else "places"
            return f"READY, with {self.places} {place} to look at"
        return "READY"
