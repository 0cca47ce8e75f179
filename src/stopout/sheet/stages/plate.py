"""The etched plate: clean, coat, clear, mix, coupon, etch, rinse, strip, fill, seal, waste."""

from __future__ import annotations

from collections.abc import Mapping

from stopout.planning import Plan
from stopout.sheet.contents.model import STAGE, Block, Heading, Hold
from stopout.sheet.contents.steps import advice, finish_steps, hole_places, step
from stopout.sheet.contents.words import capital, duration, length
from stopout.sheet.stages.bath import (
    coupon_stage,
    etch_stage,
    is_guess,
    rinse_stage,
)
from stopout.sheet.stages.clearing import clearing_settings, clearing_steps
from stopout.sheet.stages.film import film_stages
from stopout.sheet.stages.hazards import hazard_boxes
from stopout.sheet.stages.mix import mix_stage
from stopout.sheet.stages.waste import put_by_stage, waste_stage

__all__ = ["WATER_BREAK_S", "plate_stages", "strip_stage"]

# Water-break test, ASTM F22: from memory.
WATER_BREAK_S = 30


def plate_stages(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    """The stages of an etched plate in order, each with its hazards before its steps.

    Parameters
    ----------
    plan : Plan
        A plan with an etch.
    statements : mapping
        Texts of the hazard and precautionary statements by code.
    """
    etch, pair = plan.etch, plan.pair
    if etch is None or pair is None:
        return []
    blocks = [
        *_prepare(plan),
        *_open(plan, statements),
        *mix_stage(plan, etch, pair, statements),
    ]
    if is_guess(etch):
        blocks += coupon_stage(plan, etch, pair, statements)
    return [
        *blocks,
        *etch_stage(plan, etch, pair, statements),
        *rinse_stage(plan, etch, statements),
        *put_by_stage(plan, etch, statements),
        *strip_stage(plan, statements),
        *_finish(plan),
        *waste_stage(plan, etch, pair, statements),
    ]


def _prepare(plan: Plan) -> list[Block]:
    blank = plan.job.blank
    blocks: list[Block] = [Heading(text="Prepare the blanks", letter=STAGE)]
    blocks += advice(plan, plan.material.advice)
    blocks += finish_steps(plan)
    blocks.append(
        step(
            "Measure the blanks.",
            f"{capital(plan.material.name)}, all from one sheet; no burr, no bow, no film left.",
            sets=(
                ("width", length(blank.width_mm)),
                ("height", length(blank.height_mm)),
                ("thickness", length(blank.thickness_mm)),
            ),
            measured=(("width", "mm"), ("height", "mm"), ("thickness", "mm")),
        )
    )
    if blank.holes:
        blocks.append(
            step(
                "Drill the holes.",
                "Before coating, so that their walls are coated too. Places as seen, from the "
                "lower left corner: " + hole_places(plan) + ".",
                sets=(("holes", f"{len(blank.holes)}"),),
            )
        )
        blocks.append(step("Take off every burr."))
    if plan.etch is not None and is_guess(plan.etch):
        blocks.append(
            step(
                "Set one coupon of the same sheet aside.",
                "It goes through every step ahead of the pieces.",
            )
        )
    return [
        *blocks,
        step("Scrub the blanks with detergent.", "Soft brush or fine pad, both faces and edges."),
        step("Rinse the blanks with clean water."),
        step(
            "Watch the water film on each face.",
            "It must stay unbroken; where it draws back, scrub again.",
            timer_s=WATER_BREAK_S,
        ),
        step("Dry the blanks.", "From now on touch the edges only."),
    ]


def _open(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    if plan.job.has_beam:
        return [*_coat(plan, statements), *_clear(plan, statements)]
    return film_stages(plan, statements)


def _coat(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    resist, coat = plan.resists[0], plan.job.coats[0]
    thickness = coat.thickness_um or resist.thickness_um.value
    cure_s = 3600 * resist.cure_h.value
    return [
        Heading(text="Coat with the resist", letter=STAGE),
        *hazard_boxes(plan, "coating", statements),
        *advice(plan, resist.advice),
        step("Make the paint ready as its cans say.", f"{capital(resist.name)}, {coat.colour}."),
        step(
            "Spray the front in thin crossed coats.",
            "Let each flash off before the next.",
            sets=(("dry film", f"{thickness:g}\u00a0µm"),),
        ),
        step("Coat the back, the edges and the hole walls.", "Bare metal anywhere is etched too."),
        step(
            "Let the paint cure.",
            "Full resistance takes this long at room temperature.",
            sets=(("cure", duration(cure_s)),),
            measured=(("begun", "date, time"), ("ended", "date, time")),
        ),
        step(
            "Measure the dry film.",
            "By gauge, or from the gain in weight and the area.",
            sets=(("dry film", f"{thickness:g}\u00a0µm"),),
            measured=(("dry film", "µm"),),
        ),
        step(
            "Look for pinholes in raking light.",
            "Touch up with the same paint, let the repair cure; count the repairs.",
            measured=(("repairs", "places"),),
        ),
    ]


def _clear(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    blocks: list[Block] = [
        Heading(text="Clear the resist with the laser", letter=STAGE),
        *hazard_boxes(plan, "clearing", statements),
    ]
    for coat in plan.coats:
        blocks += [clearing_settings(plan, coat), *clearing_steps(plan, coat)]
    return [
        *blocks,
        step("Brush loose residue out of the openings.", "Dry and soft; no finger on bare metal."),
    ]


def strip_stage(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    """Take the resist off, the bath being out of the room."""
    names = {hazard.ident: hazard.name for hazard in plan.hazards}
    strippers = [names.get(ident, ident) for ident in plan.resists[0].strippers]
    blocks: list[Block] = [
        Heading(text="Strip the resist", letter=STAGE),
        *hazard_boxes(plan, "stripping", statements),
    ]
    if plan.etch is not None:
        blocks.append(
            step("Check that bath and rinses are out of the room.", "Each in its own container.")
        )
    if strippers:
        blocks.append(
            step(
                "Soak the piece in the stripper.",
                f"{capital(' or '.join(strippers))}; what the paint's own sheet names comes "
                "first. Try it on the coupon.",
                measured=(("begun", "h:min"), ("ended", "h:min")),
            )
        )
    return [
        *blocks,
        step("Wipe the paint off.", "Soft cloth or wooden scraper; wipes go into the lidded bin."),
        step("Wash the piece with detergent.", "Then dry it at once, or it stains."),
    ]


def _finish(plan: Plan) -> list[Block]:
    raised = plan.job.artwork.dark == "raised"
    where = "field" if raised else "recesses"
    return [
        Heading(text="Fill, finish and seal", letter=STAGE),
        step(
            f"If the {where} is to be coloured, fill it with paint."
            if raised
            else f"If the {where} are to be coloured, fill them with paint.",
            "Two thin coats rather than one; as the paint's own sheet says; the coupon first.",
            optional=True,
        ),
        step(
            "If it was filled, level the face once the paint is hard.",
            "Fine paper on a flat block, long strokes with the grain.",
            optional=True,
        ),
        step("Seal the face.", "Clear coat or wax, as its own sheet says."),
        Hold(
            number=0,
            before="the pieces leave the shop",
            checks=(
                "each piece read back against the order",
                "edges, holes and depth as drawn; no paint, no stain left",
            ),
        ),
    ]
