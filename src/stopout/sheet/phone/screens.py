"""Which steps share a screen of the phone: a screen is one act of the work with its actions.

Stages keep their order and never share a screen. A hold closes its screen, for nobody goes on
before it is signed; the steps that a clock spans stand on one, for their pieces are at different
ones of them. Within that, a screen holds as little as the number of screens allows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stopout.sheet.model import Block, Box, Hold, Note, Step, Table

MOST_SCREENS = 25
# The acts that a piece's clock runs over.
CLOCKED = ("lower", "keep", "look", "gauge", "lift")
_BY_PIECE = {"weigh-before": 1, "weigh-after": 1, "depth": 3}
# What a screen may hold at most, in steps of usual length: more is a page to scroll, not a step.
_FULL = 8.0
_LEAST, _STEP = 1.0, 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A step or a hold with what leads up to it; `is_clocked` where a clock runs over it."""

    blocks: tuple[Block, ...]
    weight: float
    is_clocked: bool = False

    @property
    def closes(self) -> bool:
        """Whether nothing may follow on the same screen."""
        return any(isinstance(block, Hold) for block in self.blocks)


def units_of(blocks: Sequence[Block], *, pieces: int) -> list[Unit]:
    """Part a stage into its steps and holds; what follows the last belongs to it.

    Parameters
    ----------
    blocks : sequence of Block
        Of one stage, without its heading.
    pieces : int
        How many pieces are weighed and gauged one by one.
    """
    parts: list[list[Block]] = [[]]
    for block in blocks:
        parts[-1].append(block)
        if isinstance(block, Step | Hold):
            parts.append([])
    tail = parts.pop()
    if tail and parts:
        parts[-1] += tail
    elif tail:
        parts = [tail]
    acts = [_act(part) for part in parts]
    clocked = [k for k, act in enumerate(acts) if act in CLOCKED]
    first, last = (clocked[0], clocked[-1]) if clocked else (0, -1)
    return [
        Unit(
            blocks=tuple(part),
            weight=sum(_weight(block, pieces) for block in part),
            is_clocked=first <= k <= last,
        )
        for k, part in enumerate(parts)
    ]


def _act(part: Sequence[Block]) -> str:
    return next((block.act for block in part if isinstance(block, Step)), "")


def _weight(block: Block, pieces: int) -> float:
    """How much room a block takes, in steps of usual length (our own measure, no source)."""
    match block:
        case Step():
            fields = len(block.measured)
            if block.act in _BY_PIECE:
                fields = _BY_PIECE[block.act] * pieces
            timer = 1.0 if block.timer_s is not None else 0.0
            return 0.7 + 0.2 * fields + timer + len(block.text + block.note) / 300
        case Hold():
            return 0.7 + 0.2 * len(block.checks)
        case Note():
            return len("".join(block.lines)) / 500
        case Table():
            return 0.3 * len(block.rows)
        case Box():
            return 0.7
        case _:
            return 0.5


def paged(stages: Sequence[Sequence[Unit]], *, other: int) -> list[list[list[int]]]:
    """Tell which units of each stage share a screen.

    Parameters
    ----------
    stages : sequence of sequence of Unit
        In the order of the work.
    other : int
        Screens that are there besides.

    Returns
    -------
    list of list of list of int
        For each stage its screens, each with the places of its units.
    """
    room = _LEAST
    while room < _FULL and sum(len(_cut(one, room)) for one in stages) + other > MOST_SCREENS:
        room += _STEP
    return [_cut(one, room) for one in stages]


def _cut(units: Sequence[Unit], room: float) -> list[list[int]]:
    """Screens of one stage: as few as the room allows, and within that as even as can be."""
    screens: list[list[int]] = []
    for run in _runs(units):
        if units[run[0]].is_clocked:
            screens.append(run)
            continue
        weights = [units[k].weight for k in run]
        count = len(_parted(weights, room))
        least = room
        # What a screen holds at most is lowered as long as no screen is added.
        while len(_parted(weights, least - _STEP / 5)) == count and least > _STEP:
            least -= _STEP / 5
        at = 0
        for part in _parted(weights, least):
            screens.append(run[at : at + len(part)])
            at += len(part)
    return screens


def _runs(units: Sequence[Unit]) -> list[list[int]]:
    """What may share a screen: nothing follows a hold, and a clock's steps stand alone."""
    runs: list[list[int]] = []
    for k, unit in enumerate(units):
        before = units[k - 1] if k else None
        if before is None or before.closes or before.is_clocked is not unit.is_clocked:
            runs.append([])
        runs[-1].append(k)
    return runs


def _parted(weights: Sequence[float], room: float) -> list[list[float]]:
    parts: list[list[float]] = []
    for weight in weights:
        if parts and sum(parts[-1]) + weight <= room:
            parts[-1].append(weight)
        else:
            parts.append([weight])
    return parts
