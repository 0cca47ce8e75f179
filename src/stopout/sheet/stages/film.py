"""The steps of opening a resist without a beam: exposed through a film, or cut and weeded."""

from __future__ import annotations

from collections.abc import Mapping

from stopout.mask import islands_of
from stopout.planning import CoatPlan, Plan
from stopout.planning.opening.by_film import film_reading
from stopout.sheet.model import STAGE, Block, Facts, Heading, Hold, Step
from stopout.sheet.stages.hazards import hazard_boxes
from stopout.sheet.steps import signed, step
from stopout.sheet.words import capital, length


def film_stages(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    """The stages between a clean blank and an open resist.

    Parameters
    ----------
    plan : Plan
        A plan whose opening no beam clears.
    statements : mapping
        Texts of the hazard and precautionary statements by code.
    """
    coat = plan.coats[0]
    name = capital(plan.resists[0].name)
    lay = [Heading(text="Lay the resist", letter=STAGE), *hazard_boxes(plan, "coating", statements)]
    if plan.job.film is not None:
        return [*lay, *_laid(name), *_exposed(plan, coat), _opened()]
    return [*_cut(plan, coat), *lay, *_applied(plan, coat), _opened()]


def _opened() -> Step:
    return step(
        "Breathe on every opening.",
        "Bare metal fogs evenly. No edge has lifted; back, edges and holes are covered too.",
    )


def _laid(name: str) -> list[Block]:
    return [
        step("Darken the room to yellow light.", "As the resist's own sheet says."),
        step(
            "Lay the resist on the front.",
            f"{name}, from one edge, without bubbles, dust or creases; warm and press as its own "
            "sheet says.",
        ),
        _covered(),
    ]


def _covered() -> Step:
    return step(
        "Cover the back, the edges and the hole walls.", "Bare metal anywhere is etched too."
    )


def _exposed(plan: Plan, coat: CoatPlan) -> list[Block]:
    film = plan.job.film
    assert film is not None
    side = film.printed_side
    reading = film_reading(is_back_worked=plan.job.blank.is_back_worked, printed_side=side)
    acts = "hardens where light falls" if film.resist_acts == "negative" else "opens where it falls"
    return [
        Heading(text="Expose and develop", letter=STAGE),
        Facts(
            rows=(
                ("Film", f"film-{coat.number}.pdf, printed at 100\u00a0%"),
                ("Resist", f"{film.resist_acts}: it {acts}"),
                ("Growth drawn for", f"{1000 * film.growth_mm:g}\u00a0µm per edge"),
                ("Smallest opening", length(film.smallest_opening_mm)),
            )
        ),
        step(
            "Let the film lie in the room, then measure its bar.",
            "It must be 100\u00a0mm long; where it is not, print again at 100\u00a0%.",
            sets=(("bar", "100\u00a0mm"),),
            measured=(("bar", "mm"),),
        ),
        step(
            "Hold the film to a lamp.", "Its dark lets no light through, its clear has no specks."
        ),
        step(
            f"Lay the printed side {side.upper()}.",
            f"Text must read {reading.on_work} as you look at the film on the work.",
        ),
        Hold(
            number=0,
            before="the light goes on",
            checks=(
                f"the printed side is {side}; R and text read {reading.on_work}",
                "film and plate touch all over; outline and holes meet",
                "this film is of this job, revision and artwork",
            ),
            signatures=signed(plan),
        ),
        step(
            "Expose a strip in steps on a coupon first, then the plate.",
            "Take the step that the resist's own sheet asks for. Do not look into the lamp: "
            "ultraviolet harms eyes and skin; cover it.",
            measured=(("exposure", "s"),),
        ),
        step("Peel off the resist's cover sheet, if it has one."),
        step(
            "Develop until the openings are clear, then as long again.",
            "Common practice. Developer is caustic: goggles and gloves; its own safety data sheet "
            "comes first.",
            measured=(("clear after", "s"), ("developed", "s")),
        ),
        step("Rinse and dry the plate.", "Look with the loupe for scum and pinholes."),
    ]


def _cut(plan: Plan, coat: CoatPlan) -> list[Block]:
    stencil = plan.job.stencil
    assert stencil is not None
    assert coat.drawn is not None
    islands = islands_of(coat.drawn, plan.face)
    small = f", the smallest {islands[0].across_mm:.2f}\u00a0mm across" if islands else ""
    carry = (
        step("Lift the loose stencil off its paper.", "Its bridges hold the islands.")
        if stencil.is_loose
        else step("Rub transfer tape over the film.", "It carries the islands: count them.")
    )
    return [
        Heading(text="Cut and weed the film", letter=STAGE),
        Facts(
            rows=(
                ("Cut file", f"cut-{coat.number}.svg, 1 unit is 1\u00a0mm"),
                ("Cut", "with a KNIFE, right-reading on the film's face; never with a laser"),
                ("Overrun at corners", length(stencil.overrun_mm)),
                ("Past the plate's edge", length(stencil.margin_mm)),
                ("Islands", f"{len(islands)}{small}"),
                ("Bridges", f"{len(coat.bridge_ties)}"),
            )
        ),
        step("Cut one square of the film as a trial.", "Through the film, not the paper under it."),
        step("Cut the film.", "The group peel divides the waste; the group border comes last."),
        step(
            "Weed the openings.",
            "From a corner, flat back over itself; press down what lifts.",
            measured=(("islands left", "pcs"),),
        ),
        carry,
    ]


def _applied(plan: Plan, coat: CoatPlan) -> list[Block]:
    return [
        step("Lay the film on the front.", "From one edge; outline and holes meet; no bubbles."),
        step("Rub the film down, then draw off the tape.", "Slowly, flat; count the islands."),
        step("Rub every edge with a hard thumb.", "Edges creep in a warm bath."),
        _covered(),
    ]
