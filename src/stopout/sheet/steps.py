"""How a step and a table's advice become blocks."""

from __future__ import annotations

from stopout.etching import Advice
from stopout.sheet.model import Blank, Block, Note, Step
from stopout.sheet.words import duration, typeset

__all__ = ["advice", "step"]


def step(
    text: str,
    note: str = "",
    *,
    sets: tuple[tuple[str, str], ...] = (),
    measured: tuple[tuple[str, str], ...] = (),
    timer_s: float | None = None,
    timer: str = "",
    optional: bool = False,
) -> Step:
    """Make a step; it gets its number once the whole sheet is laid out."""
    return Step(
        number=0,
        text=text,
        note=note,
        sets=sets,
        measured=tuple(Blank(label=label, unit=unit) for label, unit in measured),
        timer_s=None if timer_s is None else round(timer_s),
        timer=timer or ("" if timer_s is None else duration(timer_s)),
        optional=optional,
    )


def advice(lines: tuple[Advice, ...]) -> list[Block]:
    """A table's sentences as a note; nothing where there are none."""
    return [Note(lines=tuple(typeset(line.text) for line in lines))] if lines else []
