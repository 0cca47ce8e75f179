"""From the bath to clean water: still rinses in a row, and what may reach a drain."""

from __future__ import annotations

from stopout.etching import EtchPlan, Rinses
from stopout.sheet.model import Block
from stopout.sheet.steps import step
from stopout.sheet.words import litres, significant


def still_rinses(etch: EtchPlan) -> list[Block]:
    """The piece through its still rinses; then running water, where that may take it."""
    rinses = etch.rinses
    if rinses is None:
        return [
            step("Dip the piece in two still rinses.", "Both are kept: waste like the bath."),
            _running("Brush the recesses softly."),
        ]
    names = "1, 2 and 3" if rinses.count == 3 else "1 and 2"
    dip = step(
        f"Dip the piece in still rinses {names}, in that order.",
        "Drain it over the bath for 10 s first. "
        f"{rinses.lifts} lifts drag some {significant(1000 * rinses.drag_out_l, 2)}\u00a0mL of "
        "bath along. All still rinses are waste like the bath; fresh water only into the last.",
        sets=((f"each of {rinses.count}", litres(rinses.volume_l)),),
    )
    if rinses.all_kept:
        return [dip, *_kept(rinses)]
    share = f"1/{float(f'{1 / rinses.last_share:.2g}'):.0f} of the bath at most"
    return [dip, _running(f"The last still rinse is at {share}. Brush the recesses softly.")]


def _running(note: str) -> Block:
    return step("Rinse the piece in running water.", note)


def _kept(rinses: Rinses) -> list[Block]:
    """Work that bears chromium or nickel: no water that has touched it goes to a drain."""
    return [
        step(
            "Rinse the piece in a bowl of clean water.",
            "Brush the recesses softly. This water is kept too: nothing that has touched the "
            "piece goes to a drain.",
        ),
        step(
            "Hold a chromate strip into the bowl.",
            "If it shows any: another bowl, kept, until it shows none. Colour does not tell.",
            measured=(("chromate", "mg/L"),),
        ),
    ]
