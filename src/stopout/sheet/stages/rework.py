"""What to do when a step goes wrong: paint left, the power cut, an etch too shallow or too hot."""

from __future__ import annotations

from stopout.planning import Plan
from stopout.sheet.model import Block, Heading, Table
from stopout.sheet.stages.clearing import program_name
from stopout.sheet.stages.hazards import mishaps
from stopout.sheet.stages.light import light_rework


def rework(plan: Plan) -> list[Block]:
    """A table of faults and ways out, for this plan's programs and its bath."""
    rows = [*_clearing(plan), *_coating(plan), *_etching(plan)]
    if plan.job.route.is_lit:
        rows = [*light_rework(plan), *_clearing(plan)[1:]]
    return [
        Heading(text="If something goes wrong"),
        Table(columns=("What", "What to do"), shares=(1.0, 2.6), rows=(*rows, *mishaps(plan))),
    ]


def _clearing(plan: Plan) -> list[tuple[str, str]]:
    if not plan.job.route.has_beam:
        return _drawn(plan)
    of = " --coat N" if len(plan.coats) > 1 else ""
    names = " or ".join(program_name(coat) for coat in plan.coats)
    return [
        (
            "Paint left in a few openings, piece not moved",
            f"On the same origin: stopout rework PLAN_DIR --box X0,Y0,X1,Y1{of} clears that corner "
            f"alone. All that guards the clearing holds again: {_throws_back(plan)}.",
        ),
        (
            "Power cut, or stopped half way",
            "Key out; look: no fire, lid shut. Set the origin against the same fence, then "
            f"stopout rework PLAN_DIR --from-line N{of}: N is the line of {names} that was "
            "running, twenty earlier if in doubt.",
        ),
        (
            "The piece was lifted or slipped",
            f"stopout rework PLAN_DIR --box X0,Y0,X1,Y1{of} --points with two or three places as "
            "planned and as found. Off by more than 0.1\u00a0mm: a new blank.",
        ),
    ]


def _throws_back(plan: Plan) -> str:
    """What the beam does where the paint is gone already."""
    if plan.shown or plan.job.route.is_lit:
        return "where the paint is gone the beam goes on through the sheet to what lies below"
    return "bare metal throws the beam back"


def _drawn(plan: Plan) -> list[tuple[str, str]]:
    """Where a film or a knife opens the resist."""
    if plan.job.method == "cut-film" and plan.shown:
        return [
            (
                "A piece of the mask lifts or slips",
                "Before spraying: lay a new piece, cut from the same file. After: let the coat "
                "dry, and scrape what ran under it off the window with a plastic edge.",
            )
        ]
    if plan.job.method == "cut-film":
        return [
            (
                "A piece of the film lifts or slips",
                "Peel all of it off, clean the metal again, and cut and lay a new one: glue that "
                "has lifted once creeps in the bath.",
            )
        ]
    return [
        (
            "An opening is not open after developing",
            "Develop on, a little at a time, and look again. What stays closed was exposed too "
            "long or the film lay loose: strip all of the resist and begin again.",
        ),
        (
            "The film slipped under the lamp",
            "Strip all of the resist, clean, coat and expose again: a second exposure doubles "
            "every edge.",
        ),
    ]


def _coating(plan: Plan) -> list[tuple[str, str]]:
    if plan.shown:
        return [
            (
                "A window runs in, or the coat before lifts",
                "Stop spraying, let it dry hard. Never strip paint from acrylic with solvent: "
                + (
                    "clear it again with the beam if there is room between paint and plastic, or "
                    if plan.job.route.has_beam
                    else ""
                )
                + "begin a new sheet.",
            )
        ]
    if not plan.job.route.has_beam:
        return []
    return [
        (
            "Paint lifts or a pinhole shows in the bath",
            "Lift the piece out, rinse, dry; touch up with the same paint, let it cure in full, "
            "then etch on for the time that is left. Metal that was bitten outside the artwork "
            "stays bitten.",
        )
    ]


def _etching(plan: Plan) -> list[tuple[str, str]]:
    etch = plan.etch
    if etch is None:
        return []
    most = etch.temperature_degc + etch.rise_k
    return [
        (
            f"Bath above {most:g}\u00a0°C, foaming or spitting",
            "Lift the piece out with tongs and rinse: that stops it. Never pour water or acid "
            "into it, no lid. Out of reach: step back; extraction stays on.",
        ),
        (
            "Too deep, or the resist is off too soon",
            "No way back: measure, write it down, scrap the piece or ask whoever ordered it.",
        ),
    ]
