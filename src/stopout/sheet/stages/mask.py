"""The steps of a sign's coat that is sprayed over a cut mask instead of cleared with a beam."""

from __future__ import annotations

import shapely

from stopout.planning import CoatPlan, Plan
from stopout.sheet.model import STAGE, Block, Facts, Heading, Hold
from stopout.sheet.steps import signed, step
from stopout.sheet.words import length


def mask_laid(plan: Plan, coat: CoatPlan) -> list[Block]:
    """What comes before spraying: cut the film, weed the ground, lay it by its marks."""
    stencil = plan.job.stencil
    assert stencil is not None
    pieces = shapely.get_parts(coat.drawn) if coat.drawn is not None else []
    return [
        Heading(text=f"Cut and lay the mask of coat {coat.number}, mirrored", letter=STAGE),
        Facts(
            rows=(
                ("Cut file", f"cut-{coat.number}.svg, 1 unit is 1\u00a0mm, as worked: mirrored"),
                ("Cut", "with a KNIFE or a plotter's knife; never with a laser"),
                ("Film stays on", f"the windows: {len(pieces)} piece(s)"),
                ("Overrun at corners", length(stencil.overrun_mm)),
            )
        ),
        step("Draw or cut the group register on the carrier, never into the film.", ""),
        step(
            "Weed the GROUND and leave the pieces that are drawn.",
            "The paint goes where the film is gone; what stays covered is open to the next coat.",
            measured=(("pieces left", "pcs"),),
        ),
        step("Rub transfer tape over the pieces and lift them off."),
        step(
            "Lay the mask on the BACK by outline, corners and holes.",
            "From one edge, no bubbles. Text reads BACKWARDS as you look at the back.",
        ),
        step("Rub every edge down and draw off the tape.", "Count the pieces again."),
        Hold(
            number=0,
            before=f"{coat.coat.colour} is sprayed over the mask",
            checks=(
                "the mask reads RIGHT through the front",
                "outline, corners and holes meet; every piece is there, its edges down",
            ),
            signatures=signed(plan),
        ),
    ]


def mask_peeled(coat: CoatPlan) -> list[Block]:
    """What comes after spraying: the film off while the paint still parts clean."""
    return [
        step(
            "Peel the film off the windows while the paint is dry to the touch.",
            "Flat back over itself, away from the painted edge; cut a skin of paint, never tear "
            "it (common practice). Then let the coat dry hard.",
        ),
        step("Read the sign through the front.", "It must read RIGHT, every window open."),
    ]
