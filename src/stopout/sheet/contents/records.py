"""What is written down of the pieces, row by row, and for the shop book."""

from __future__ import annotations

from stopout.etching import EtchPlan
from stopout.planning import Plan
from stopout.sheet.contents.bench import known_of
from stopout.sheet.model import Block, Facts, FillIn, Heading, Result, Table
from stopout.sheet.stages.bath import is_guess
from stopout.sheet.steps import note
from stopout.sheet.words import grams

# Lines in the record of the pieces: more would not be filled in by hand.
_MOST_PIECES = 8


def records(plan: Plan) -> list[Block]:
    """Return a row for each piece or panel, the result for the shop book, and who signs."""
    blocks: list[Block] = []
    n = plan.job.quantity + plan.job.spares
    heading = "Record of the panels" if plan.is_panel else "Record of the pieces"
    if plan.etch is not None:
        guess = is_guess(plan.etch)
        names = (["coupon"] if guess else []) + [f"{i}" for i in range(1, n + 1)]
        shown = names[:_MOST_PIECES]
        lines = [
            f"Set: depth {1000 * plan.etch.depth_mm:.0f}\u00a0µm, loss "
            f"{grams(plan.etch.metal_per_piece_g)} each. Weights in g, depths in µm."
        ]
        if plan.is_panel:
            lines.insert(0, "A row is a whole panel.")
        if len(names) > len(shown):
            lines.append(f"{len(names) - len(shown)} more on a second copy of this page.")
        blocks += [
            Heading(text=heading),
            note(" ".join(lines)),
            Table(
                columns=("Piece", "before", "after", "in", "out", "depth", "OK by"),
                shares=(1.0, 1.0, 0.9, 0.9, 0.9, 0.9, 0.9),
                rows=tuple((name, *[""] * 6) for name in shown),
                hand=True,
            ),
            _result(plan, plan.etch),
        ]
    else:
        names = [f"{i}" for i in range(1, n + 1)][:_MOST_PIECES]
        blocks += [
            Heading(text=heading),
            Table(
                columns=("Piece", "cleared, date", "read and good", "OK by"),
                shares=(0.7, 1.2, 1.2, 1.0),
                rows=tuple((name, "", "", "") for name in names),
                hand=True,
            ),
        ]
    good = () if plan.etch is not None else (("Good", ""),)
    return [
        *blocks,
        Facts(rows=(("Done otherwise, photographs", ""),)),
        Facts(rows=(*good, ("Scrap", ""), ("Done by", ""), ("Date", ""))),
    ]


def _result(plan: Plan, etch: EtchPlan) -> Result:
    """What a record of the finished pieces asks for; the rest of it the plan knows."""
    return Result(
        known=(*known_of(plan, etch), ("pieces", plan.job.quantity)),
        asked=(
            FillIn(key="depth_um", label="mean depth", unit="µm"),
            FillIn(key="depth_sd_um", label="its spread", unit="µm"),
            FillIn(key="time_min", label="in the bath", unit="min"),
            FillIn(key="temperature_degc", label="bath, mean", unit="°C"),
            FillIn(key="undercut_um", label="undercut", unit="µm"),
            FillIn(key="pieces", label="good pieces", unit="pcs"),
            FillIn(key="metal_g", label="metal lost, all", unit="g"),
            FillIn(key="bath", label="bath's name", unit=""),
        ),
        words="For the shop book: stopout shop record.",
    )
