"""The etched plate: clean, coat, clear, mix, coupon, etch, rinse, strip, fill, seal, waste."""

from __future__ import annotations

from collections.abc import Mapping

from stopout.planning import Plan
from stopout.sheet.model import STAGE, Block, Heading
from stopout.sheet.stages.bath import coupon_stage, etch_stage, is_guess, rinse_stage
from stopout.sheet.stages.clearing import clearing_steps
from stopout.sheet.stages.film import film_stages
from stopout.sheet.stages.hazards import hazard_boxes, mildest_stripper
from stopout.sheet.stages.mix import mix_stage
from stopout.sheet.stages.waste import put_by_stage, waste_stage
from stopout.sheet.steps import check, drill_steps, finish_steps, sizes, step
from stopout.sheet.words import capital, duration

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
    blocks = [*_prepare(plan), *_open(plan, statements), *mix_stage(plan, etch, pair, statements)]
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
    coupon = step(
        "Set one coupon of the same sheet aside.", "It goes through every step ahead of the pieces."
    )
    return [
        Heading(text="Prepare the blanks", letter=STAGE),
        *finish_steps(plan),
        step(
            "Measure the blanks.",
            f"{capital(plan.material.name)}, all from one sheet; no burr, no bow, no film left.",
            sets=sizes(plan),
            measured=(("thickness", "mm"),),
        ),
        *drill_steps(
            plan,
            "Before coating, so that their walls are coated too. Places as seen, from the lower "
            "left corner: {}. Take off every burr.",
        ),
        *([coupon] if plan.etch is not None and is_guess(plan.etch) else []),
        step(
            "Scrub the blanks with detergent and rinse them.",
            f"Soft brush or fine pad, both faces and edges. The water must stay an unbroken film "
            f"for {WATER_BREAK_S}\u00a0s; where it draws back, scrub again.",
        ),
        step("Dry the blanks.", "From now on touch the edges only."),
    ]


def _open(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    if plan.job.route.has_beam:
        return [*_coat(plan, statements), *_clear(plan, statements)]
    return film_stages(plan, statements)


def _coat(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    resist, coat = plan.resists[0], plan.job.coats[0]
    thickness = resist.film_um(coat.thickness_um)
    cure_s = 3600 * resist.cure_h.value
    return [
        Heading(text="Coat with the resist", letter=STAGE),
        *hazard_boxes(plan, "coating", statements),
        step(
            "Spray the front in thin crossed coats, and back, edges and hole walls too.",
            f"{capital(resist.name)}, {coat.colour}, made ready as its cans say; each coat flashes "
            "off before the next. Bare metal anywhere is etched too.",
        ),
        step(
            "Let the paint cure.",
            "Full resistance takes this long at room temperature.",
            sets=(("cure", duration(cure_s)),),
            measured=(("begun", "date"),),
        ),
        step(
            "Measure the thickness of the coat, and look for pinholes in raking light.",
            "By gauge, or from the gain in weight and the area. Touch up with the same paint and "
            "let the repair cure.",
            sets=(("coat thickness", f"{thickness:g}\u00a0µm"),),
            measured=(("coat thickness", "µm"),),
        ),
    ]


def _clear(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    blocks: list[Block] = [
        Heading(text="Clear the resist with the laser", letter=STAGE),
        *hazard_boxes(plan, "clearing", statements),
    ]
    for coat in plan.coats:
        blocks += clearing_steps(plan, coat)
    return blocks


def strip_stage(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    """Take the resist off, the bath being out of the room."""
    stripper = mildest_stripper(plan)
    others = " The annex has others." if len(plan.resists[0].strippers) > 1 else ""
    blocks: list[Block] = [
        Heading(text="Strip the resist", letter=STAGE),
        *hazard_boxes(plan, "stripping", statements),
    ]
    if plan.etch is not None:
        blocks.append(step("Check that bath and rinses are out of the room."))
    if stripper:
        blocks.append(
            step(
                "Soak the piece in the stripper.",
                f"{capital(stripper)}; what the paint's own sheet names comes first.{others} Try "
                "it on the coupon.",
            )
        )
    return [
        *blocks,
        step(
            "Wipe the paint off, wash the piece with detergent, dry it at once.",
            "Soft cloth or wooden scraper; wipes go into the lidded bin. Wet metal stains.",
        ),
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
            "Two thin coats rather than one; the coupon first. Once it is hard, level the face: "
            "fine paper on a flat block, long strokes with the grain.",
            optional=True,
        ),
        step("Seal the face.", "Clear coat or wax, as its own sheet says."),
        check(
            "the pieces leave the shop",
            "each read back against the order",
            "edges, holes and depth as drawn",
            "no paint, no stain left",
        ),
    ]
