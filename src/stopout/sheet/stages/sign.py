"""The sign behind clear plastic: coats from the viewer backwards, windows cleared from the back."""

from __future__ import annotations

from collections.abc import Mapping

from stopout.etching import Resist
from stopout.job.record import Coat
from stopout.planning import CoatPlan, Plan
from stopout.planning.signs.light import coat_name
from stopout.sheet.model import STAGE, Block, Heading, Table
from stopout.sheet.stages.clearing import clearing_steps, cross_places, program_name
from stopout.sheet.stages.hazards import hazard_boxes
from stopout.sheet.stages.mask import mask_laid, mask_peeled
from stopout.sheet.steps import check, drill_steps, finish_steps, note, sizes, step
from stopout.sheet.words import capital, duration


def sign_stages(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    """The stages of a sign: prepare, then each coat and its windows in order, then finish.

    Parameters
    ----------
    plan : Plan
        A plan whose job has coats.
    statements : mapping
        Texts of the hazard and precautionary statements by code.
    """
    blocks = _prepare(plan)
    shown: set[str] = set()
    cleared = {coat.number: coat for coat in plan.coats}
    for number, coat in enumerate(plan.job.coats, start=1):
        if coat.is_window:
            continue
        if number in cleared and not plan.job.route.has_beam:
            blocks += mask_laid(plan, cleared[number])
        blocks += _spray(plan, number, coat, _boxes(plan, "coating", statements, shown))
        if number in cleared and not plan.job.route.has_beam:
            blocks += mask_peeled(cleared[number])
        elif number in cleared:
            blocks += _clear(plan, cleared[number], _boxes(plan, "clearing", statements, shown))
    return [*blocks, *_finish(plan), *_waste()]


def coat_table(plan: Plan) -> Table:
    """The coats in the order in which they go on, from the viewer backwards."""
    cleared = {coat.number: coat for coat in plan.coats}
    rows = []
    for number, coat in enumerate(plan.job.coats, start=1):
        windows = cleared.get(number)
        rows.append(
            (
                f"{number}",
                capital(coat_name(coat, plan.resists[number - 1])),
                "none: window to light" if coat.is_window else plan.resists[number - 1].name,
                _shows(coat),
                "nothing" if windows is None else f"by {_made_by(windows)}, mirrored",
            )
        )
    return Table(
        columns=("Coat", "Colour", "Paint", "The reader sees", "Cleared of it"),
        shares=(0.65, 0.9, 1.05, 2.0, 1.6),
        rows=tuple(rows),
    )


def _made_by(coat: CoatPlan) -> str:
    return program_name(coat) if coat.drawn is None else f"the mask cut-{coat.number}.svg"


def _boxes(plan: Plan, stage: str, statements: Mapping[str, str], shown: set[str]) -> list[Block]:
    """The stage's boxes the first time; after that a line that they still hold."""
    if stage in shown:
        return [note(f"The boxes before the first {stage} apply again.")]
    shown.add(stage)
    return hazard_boxes(plan, stage, statements)


def _prepare(plan: Plan) -> list[Block]:
    peel = step("Peel the film off the back.", "The film on the front stays until the end.")
    return [
        Heading(text="Prepare the sheet", letter=STAGE),
        *finish_steps(plan),
        step(
            "Measure the cut sheet.",
            f"{capital(plan.material.name)}; {'' if _is_glass(plan) else 'film on the front, '}"
            "edges smooth.",
            sets=sizes(plan),
            measured=(("thickness", "mm"),),
        ),
        step(
            "Mark the front with the letter R on a strip of tape, the sheet's top upwards."
            if _is_glass(plan)
            else "Mark the film on the front with the letter R, the sheet's top upwards.",
            "Seen through the back it reads backwards: that is the side to work on.",
        ),
        *drill_steps(plan, "Places as seen from the front, from the lower left corner: {}."),
        *([] if _is_glass(plan) else [peel]),
        step("Wash the back with soap and water.", "No alcohol, no solvent."),
        step("Dry the back with a clean soft cloth.", "Then look for dust against a lamp."),
    ]


def _is_glass(plan: Plan) -> bool:
    """Tell whether the sheet is glass, which comes without a film on its front."""
    return plan.material.sort == "glass"


def _spray(plan: Plan, number: int, coat: Coat, boxes: list[Block]) -> list[Block]:
    resist = plan.resists[number - 1]
    thickness = resist.film_um(coat.thickness_um)
    n = len([other for other in plan.job.coats if not other.is_window])
    blocks: list[Block] = [
        Heading(text=f"Coat {number} of {n}: {coat_name(coat, resist)}", letter=STAGE),
        *boxes,
        *(_cover_crosses(plan) if number > 1 else []),
    ]
    if resist.is_diffuser:
        return [*blocks, _paint_used(coat), *_diffuser(coat, resist, thickness)]
    if number == 1:
        spray = step(
            f"Spray the BACK with {coat.colour} in thin crossed coats.",
            f"{capital(resist.name)}; the reader sees in it: {_shows(coat)}.",
            sets=(("coat thickness", f"{thickness:g}\u00a0µm"),),
            measured=(("coat thickness", "µm"),),
        )
        blocks.append(spray)
    else:
        blocks += [
            *_misted(coat, resist),
            step(
                f"Spray {coat.colour} to full cover.",
                f"The reader sees in it: {_shows(coat)}.",
                sets=(("coat thickness", f"{thickness:g}\u00a0µm"),),
                measured=(("coat thickness", "µm"),),
            ),
        ]
    return [
        *blocks,
        _paint_used(coat),
        _dried(resist, f"No solvent may be left in it under {_next_on(plan)}."),
        step(
            "Hold the sheet to a lamp.",
            "Every pinhole is a star; touch up from the back and let it dry.",
            measured=(("repairs", "places"),),
        ),
    ]


def _misted(coat: Coat, resist: Resist) -> list[Block]:
    """The first breath of a coat that goes over another, and what it must not have done."""
    return [
        step(
            f"Mist the BACK with {coat.colour}.",
            f"{capital(resist.name)}; a wet coat lifts the edges beneath it.",
        ),
        step("Look from the front once the mist has flashed off.", "Edges sharp, no halo."),
    ]


def _dried(resist: Resist, how: str) -> Block:
    return step(
        "Let the coat dry hard.",
        how,
        sets=(("drying", duration(3600 * resist.cure_h.value)),),
        measured=(("begun", "date"),),
    )


def _next_on(plan: Plan) -> str:
    return "the beam or under the next coat" if plan.job.route.has_beam else "the next mask or coat"


def _paint_used(coat: Coat) -> Block:
    """What the next piece needs to come out in the same colour."""
    return step(
        "Write down the paint, so that the next piece comes out the same.",
        "From the tin's own label; a tint on the screen is no colour match.",
        sets=(("colour", coat.colour),),
        measured=(("paint", ""), ("batch", ""), ("colour reference", "")),
    )


def _diffuser(coat: Coat, resist: Resist, thickness_um: float) -> list[Block]:
    """Thin coats of what spreads the light, each judged against a lamp, until they are even."""
    coats = resist.thin_coats
    sets = [("thickness, all coats", f"{thickness_um:g}\u00a0µm")]
    if coats is not None:
        low, high = coats.low or coats.value, coats.high or coats.value
        sets.insert(0, ("thin coats", f"{coats.value:g} ({low:g} to {high:g})"))
    return [
        step(
            "Hold the sheet to a lamp before anything covers the windows.",
            "Light comes through the windows and nowhere else: touch up pinholes and thin paint "
            "from the back now, and let it dry.",
            measured=(("repairs", "places"),),
        ),
        *_misted(coat, resist),
        step(
            f"Spray {coat.colour} in thin crossed coats, and stop once the windows are even.",
            "Each coat crosses the one before and flashes off first. More than is needed costs "
            f"light. The reader sees in it: {_shows(coat)}.",
            sets=tuple(sets),
            measured=(("thin coats", "number"),),
        ),
        step(
            "Lamp test after each thin coat.",
            "Lamp behind the sheet at the distance it will have in use, seen from the front in a "
            "dim room: no image of the lamp, no cloud, no streak in any window.",
            measured=(("even", "yes, no"),),
        ),
        _dried(resist, "The sheet lies flat, the back upwards, out of dust."),
    ]


def _cover_crosses(plan: Plan) -> list[Block]:
    """Keep the crosses that find the sheet's place free of paint."""
    if not plan.job.registration.marks_mm:
        return []
    return [
        step(
            "Cover each cross with a dot of masking tape.",
            f"Places as seen: {cross_places(plan.job.registration.marks_mm)}. Lift the dots once "
            "the coat is dry to the touch.",
        )
    ]


def _clear(plan: Plan, coat: CoatPlan, boxes: list[Block]) -> list[Block]:
    sprayed = [other.colour for other in plan.job.coats[coat.number :] if not other.is_window]
    coming = (
        f"{sprayed[0]} goes on: a window cannot be cleared cleanly after that"
        if sprayed
        else "the sheet is finished: the windows stay open to light"
    )
    return [
        Heading(
            text=f"Clear the windows in coat {coat.number}, mirrored, from the back", letter=STAGE
        ),
        *boxes,
        *clearing_steps(plan, coat),
        step(
            "Wipe the residue out of the windows.",
            "Dry cotton, from the coat towards the opening; damp only with what spares the "
            "plastic and the paint.",
        ),
        step(
            "Read the sign through the front.",
            f"It must read RIGHT, every stroke open, no film, no thread, no dust: {coming}.",
        ),
    ]


def _close_crosses(plan: Plan) -> list[Block]:
    """The crosses that find the sheet's place are windows too, and would glow."""
    marks = plan.job.registration.marks_mm
    if not marks:
        return []
    return [
        step(
            "Paint the crosses over with an opaque paint, from the back.",
            f"They let light through. Places as seen: {cross_places(marks)}.",
        )
    ]


def _finish(plan: Plan) -> list[Block]:
    is_lit = plan.resists[-1].is_diffuser or plan.job.coats[-1].is_window
    if plan.resists[-1].is_diffuser and not plan.job.coats[-1].is_window:
        look = (
            "The windows are evenly bright, and light comes through nowhere else. More diffuser "
            "where a window is cloudy; no opaque paint behind a window."
        )
    elif plan.job.coats[-1].is_window:
        look = (
            "Light comes through the windows and nowhere else. Elsewhere touch up the paint from "
            "the back; no paint in a window."
        )
    else:
        look = "No show-through; more paint behind if there is."
    return [
        Heading(text="Finish", letter=STAGE),
        *(_close_crosses(plan) if is_lit else []),
        step("View the front with a lamp behind.", look),
        step("Take the tape off the front." if _is_glass(plan) else "Peel the film off the front."),
        step("Wash the front with soap and water.", "No alcohol, no solvent."),
        check(
            "the sign leaves the shop",
            "read through the front against the order",
            "colours where the picture as seen has them",
        ),
    ]


def _waste() -> list[Block]:
    return [
        Heading(text="Waste", letter=STAGE),
        step(
            "Put paint rests, wipes and masking into their labelled containers.",
            "Rags in the lidded metal bin; filters and dust of the extraction with the paint "
            "waste.",
        ),
        step("Write the waste record.", measured=(("container", ""), ("date", ""))),
    ]


def _shows(coat: Coat) -> str:
    if coat.is_window:
        return "light through the windows"
    if coat.shows is None:
        return "the whole face"
    words = {
        "rest": "everything that no other coat claims",
        "dark": "the dark artwork",
        "fill": f"the artwork filled {coat.shows.value}",
        "id": f"the artwork named {coat.shows.value}",
        "class": f"the artwork of class {coat.shows.value}",
    }
    return words[coat.shows.kind]
