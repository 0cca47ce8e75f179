"""A coat's opening, and what makes it: what every opener hands back."""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry import MultiPolygon

from stopout.mask import Mask, Tie
from stopout.planning.plan import NO_MOVES, ClearingNumbers
from stopout.values import Moves


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Opened:
    """The mask, the opening as predicted, and the program or the drawing that makes it."""

    mask: Mask
    opening: MultiPolygon
    moves: Moves = NO_MOVES
    clearing: ClearingNumbers | None = None
    program: str | None = None
    drawn: MultiPolygon | None = None
    bridge_ties: tuple[Tie, ...] = ()
