"""The sheet that is lit through one edge: nothing is painted, the beam marks the back itself."""

from __future__ import annotations

from collections.abc import Mapping

from stopout.planning import Plan
from stopout.planning.plan import LightPlan
from stopout.sheet.model import STAGE, Block, Heading, Hold, Table
from stopout.sheet.stages.clearing import aligning_steps, laying_steps, program_name, run_on_step
from stopout.sheet.stages.hazards import hazard_boxes
from stopout.sheet.steps import check, drill_steps, note, signed, sizes, step
from stopout.sheet.words import capital, length


def light_stages(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    """The stages: prepare the sheet, try an offcut, mark, look at it lit.

    Parameters
    ----------
    plan : Plan
        A plan whose job has a lit edge.
    statements : mapping
        Texts of the hazard and precautionary statements by code.
    """
    return [*_prepare(plan), *_mark(plan, statements), *_finish(plan)]


def band_table(light: LightPlan) -> list[Block]:
    """The bands of the marking, from near the light to far from it."""
    rows = tuple(
        (
            f"{band.near_mm:.1f} to {band.far_mm:.1f}\u00a0mm",
            length(band.spacing_mm),
            f"{100 * band.aimed:.0f}\u00a0%",
            "nothing drawn" if band.covered is None else f"{100 * band.covered:.0f}\u00a0%",
        )
        for band in light.bands
    )
    return [
        Heading(text=f"Marking, lit from the {light.edge}"),
        Table(
            columns=("From the lit edge", "Lines apart", "Marked, aimed at", "Marked, predicted"),
            shares=(1.4, 1.0, 1.2, 1.2),
            rows=rows,
        ),
        note(
            f"Up to {light.far:g} times denser away from the light: a starting guess (common "
            "practice, no source). Shares are of the drawn area in the band, outlines counted."
        ),
    ]


def light_rework(plan: Plan) -> list[tuple[str, str]]:
    """Faults of the marking and ways out."""
    return [
        (
            "The far side is dim, or glares",
            "Change far in the job file and plan again, on a new sheet: what is marked stays.",
        ),
        (
            "Melted or clear places instead of white ones",
            "Less power or more speed, tried on an offcut; make sure that the sheet is cast.",
        ),
        (
            "A flame stands on the sheet",
            "Beam off at once. A small flame: lid shut, extinguisher. Anything larger: leave, "
            "door shut, fire service.",
        ),
    ]


def _prepare(plan: Plan) -> list[Block]:
    edge = plan.light.edge if plan.light else ""
    return [
        Heading(text="Prepare the sheet", letter=STAGE),
        step(
            "Measure the cut sheet.",
            f"{capital(plan.material.name)}; film on the front; about as thick as the lamps are "
            "wide (common practice, no source).",
            sets=sizes(plan),
            measured=(("width", "mm"), ("height", "mm"), ("thickness", "mm")),
        ),
        step(
            "Mark the film on the front with the letter R, the sheet's top upwards.",
            "Seen through the back it reads backwards: that is the side to work on.",
        ),
        step(
            f"Polish the {edge} edge, as seen from the front.",
            "The light comes in there; a sawn edge keeps it out.",
        ),
        *drill_steps(
            plan, "Places as seen from the front, from the lower left corner: {}. They glow too."
        ),
        step(
            "Peel the film off the back.",
            "The film on the front stays until the end. Each scratch, fingerprint and grain of "
            "dust lights up: clean cotton gloves.",
        ),
        step(
            "Wash the back with soap and water.", "No alcohol, no solvent. Dry with a soft cloth."
        ),
    ]


def _mark(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    coat = plan.coats[0]
    name = program_name(coat)
    return [
        Heading(text="Mark the back, mirrored", letter=STAGE),
        *hazard_boxes(plan, "clearing", statements),
        step(
            "Mark an offcut of the same sheet first, as long as the sign.",
            "Light it as the sign will be lit, in the dark: white, not melted; the near side no "
            "brighter than the far side. If it is, change far in the job file and plan again.",
            measured=(("near and far alike", "yes, no"),),
        ),
        *laying_steps(plan, coat),
        *aligning_steps(plan, coat),
        Hold(
            number=0,
            before="the beam goes on",
            checks=(
                f"{name} is loaded, from this job, revision and artwork",
                "the back is up, the front with its film is down; the text will read BACKWARDS",
                "text read aloud from the picture as seen, against the order",
            ),
            signatures=signed(plan),
        ),
        step(
            f"Run {name}.",
            "Stay with it to the end, extinguisher at hand: the vapour burns.",
            sets=(
                ("program", name),
                ("power", f"{100 * coat.cleared.power_fraction:g}\u00a0%"),
                ("speed", f"{coat.cleared.speed_mm_s:g}\u00a0mm/s"),
                ("passes", f"{coat.cleared.passes}"),
            ),
            timer_s=coat.cleared.times.time_s,
        ),
        run_on_step("sheet"),
        step("Look at the marks with a loupe.", "Evenly white, no molten rim, no brown."),
        step("Lift the sheet by its edges.", "Then the next one, if more are ordered."),
    ]


def _finish(plan: Plan) -> list[Block]:
    return [
        Heading(text="Finish", letter=STAGE),
        step(
            "Brush the dust off with a soft brush.", "Then soap and water; no alcohol, no solvent."
        ),
        step("Peel the film off the front.", "Clean cotton gloves."),
        step(
            "Light the edge in a dim room.",
            "It reads RIGHT from the front, near and far alike; no scratch, no fingerprint glows.",
            measured=(("near and far alike", "yes, no"),),
        ),
        check(
            "the sign leaves the shop",
            "read through the front against the order",
            "evenly bright when lit",
        ),
        Heading(text="Waste", letter=STAGE),
        step("Put dust, wipes and filters of the extraction where they belong."),
    ]
