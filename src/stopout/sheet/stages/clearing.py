"""The steps of clearing one coat with the beam, for plates and signs alike."""

from __future__ import annotations

from collections.abc import Sequence

from stopout.clearing import DwellRun
from stopout.planning import CoatPlan, Plan, file_names
from stopout.planning.measures.beam import focus_for
from stopout.sheet.model import Block, Facts, Hold, Step
from stopout.sheet.steps import check, signed, step
from stopout.sheet.words import duration, length, significant

# The hazards table (paint-fume) gives the time: vapour rises for 20 min after the last mark.
RUN_ON_S = 1200
# Clear acrylic passes visible light and the near infrared (the materials table's advice).
_PASSES_NM = (380.0, 1100.0)
_ALONG = {"x": "along x (left to right)", "y": "along y (up and down)", "crossed": "crossed"}


def program_name(coat: CoatPlan) -> str:
    """Name of a coat's program file."""
    return file_names(coat)["program"] or "(no program)"


def other_programs(plan: Plan, coat: CoatPlan) -> str:
    """The programs of further panels, each the panel's own; empty where there are none."""
    if plan.are_loose:
        return ""
    names = [plan.panel_file(program_name(coat), n) for n, _ in plan.numbered_panels]
    return " to ".join(dict.fromkeys((names[0], names[-1]))) if names else ""


def clearing_settings(plan: Plan, coat: CoatPlan) -> Facts:
    """All settings of a coat's clearing, for comparing with the machine."""
    clearing, machine = coat.cleared, plan.job.laser
    marks = " × ".join(length(axis.value).split("\u00a0")[0] for axis in clearing.mark_mm)
    x, y = plan.blank_at_mm
    mirrored = "mirrored, R reads backwards" if plan.job.blank.is_back_worked else "not mirrored"
    return Facts(
        rows=(
            ("Program", f"{program_name(coat)} ({mirrored})"),
            *((("Machine", machine.name),) if machine.name else ()),
            ("Blank's corner", f"X {length(x)}, Y {length(y)} on the bed"),
            ("Power", f"{100 * clearing.power_fraction:g}\u00a0% of {machine.power_w:g}\u00a0W"),
            ("Speed, filling", f"{clearing.speed_mm_s:g}\u00a0mm/s"),
            ("Speed, outlines", f"from {significant(clearing.outline_speed_mm_s)}\u00a0mm/s"),
            ("Passes", f"{clearing.passes}"),
            *_lowered(clearing.focus_step_mm),
            ("Lines", f"{_apart(plan, coat)} apart, {_ALONG[clearing.line_direction]}"),
            *_dots(clearing.dots),
            ("Mark", f"{marks}\u00a0mm (x × y)"),
            ("Time, one piece", duration(clearing.times.time_s)),
            ("Power word", f"S{machine.power_word:g} is full power, by {machine.beam_on}"),
        )
    )


def _on(plan: Plan) -> str:
    """On which machine, where the shop keeps it by a name."""
    name = plan.job.laser.name
    return f" on {name}" if name else ""


def _dots(dots: DwellRun | None) -> tuple[tuple[str, str], ...]:
    """The dots cleared by a dwell, where there are any."""
    if dots is None:
        return ()
    time = significant(1000 * dots.dwell_s[1], 3)
    strokes = duration(dots.time_strokes_s)
    return (("Dots", f"{dots.count} by dwells of at most {time}\u00a0ms; by strokes {strokes}"),)


def _lowered(step_mm: float | None) -> tuple[tuple[str, str], ...]:
    if step_mm is None:
        return ()
    return (("Between passes", f"pauses; lower the head by {length(step_mm)}"),)


def _apart(plan: Plan, coat: CoatPlan) -> str:
    if plan.light is None:
        return length(coat.cleared.spacing_mm)
    spacings = [band.spacing_mm for band in plan.light.bands]
    return f"{length(max(spacings))} near the light to {length(min(spacings))} far from it"


def clearing_steps(plan: Plan, coat: CoatPlan) -> list[Block]:
    """Lay, align, check, run, inspect; with holds before the beam and before lifting."""
    return [
        *laying_steps(plan, coat),
        *aligning_steps(plan, coat),
        *_find_crosses(plan, coat),
        Hold(
            number=0,
            before="the beam goes on",
            checks=(
                f"{_own_program(plan, coat)} loaded{_on(plan)}, of this job, revision, artwork",
                f"full power in the control is S{plan.job.laser.power_word:g}, "
                f"beam by {plan.job.laser.beam_on}",
                _facing(plan),
                "text of the picture as seen read against the order",
            ),
            signatures=signed(plan),
        ),
        *_running(plan, coat),
        _before_lifting(plan, coat),
        step(
            "Lift the piece by its edges and brush loose residue out of the openings.",
            f"Dry and soft. {_next_piece(plan, coat)}".strip(),
        ),
    ]


def _before_lifting(plan: Plan, coat: CoatPlan) -> Block:
    """Nothing is laid back exactly; stops that stayed for a second clearing come near to it."""
    looks = ("every opening is clear down to the bare material", "no edge has lifted")
    if coat is not plan.coats[0]:
        return check("the sheet is lifted off its stops", *looks)
    return Hold(
        number=0,
        before="the piece is moved: it cannot be laid back exactly",
        checks=looks,
        signatures=signed(plan),
    )


def _facing(plan: Plan) -> str:
    if plan.job.blank.is_back_worked:
        front = "the front" if plan.material.sort == "glass" else "the front with its film"
        return f"the back is up, {front} is down; the text will read BACKWARDS"
    return "the front is up; the text will read RIGHT"


def _find_crosses(plan: Plan, coat: CoatPlan) -> list[Block]:
    """Check a sign's place by its crosses before a later coat is cleared."""
    marks = plan.job.registration.marks_mm
    if not marks or coat is plan.coats[0]:
        return []
    width, error = plan.job.blank.width_mm, plan.job.registration.error_mm
    within = "" if error is None else f" within {length(error)}"
    places = cross_places([(width - x, y) for x, y in marks])
    return [
        step(
            "Move the head, beam off, over each cross.",
            f"As worked, from the blank's corner: {places}. It must stand over the cross{within}; "
            "if not, push the sheet into its corner again, or turn the program with stopout rework "
            "--points.",
            measured=(("off by", "mm"),),
        )
    ]


def cross_places(places: Sequence[tuple[float, float]]) -> str:
    """List places of crosses, in mm."""
    return "; ".join(f"{x:g}, {y:g}\u00a0mm" for x, y in places)


def laying_steps(plan: Plan, coat: CoatPlan) -> list[Block]:
    """Lay the blank on the bed and fix it."""
    x, y = plan.blank_at_mm
    back = plan.job.blank.is_back_worked
    side = "back" if back else "front"
    corner: tuple[tuple[str, str], ...] = (("corner, X", length(x)), ("corner, Y", length(y)))
    note = "The corner meant is the lower left one of the picture as worked."
    if plan.job.laser.blank_at_mm is None:
        note, corner = "Make its lower left corner as worked the machine's origin.", ()
    if coat is not plan.coats[0]:
        error = plan.job.registration.error_mm
        within = "" if error is None else f" within {length(error)}"
        note += f" Against the same fence as before: the clearings must meet{within}."
    blocks: list[Block] = []
    if len(plan.coats) > 1 and coat is plan.coats[0]:
        blocks.append(
            step(
                "Fix a fence to the bed: two pegs along the lower edge, one at the left edge.",
                "They stay until the last clearing: every program has the same origin. Push the "
                "sheet into this corner each time, never turn it.",
            )
        )
    blocks += [
        step(
            f"Lay the blank on the bed with its {side} up and fix it flat.",
            f"{note} {_clamps(plan)}",
            sets=corner,
        )
    ]
    low, high = _PASSES_NM
    if back and low <= plan.job.laser.wavelength_nm <= high:
        blocks.append(
            step(
                "Check the dark board below the plastic.",
                "Matt, dark, does not burn, well below focus: this beam passes cleared windows.",
            )
        )
    return blocks


def _clamps(plan: Plan) -> str:
    boxes = plan.job.laser.keep_outs_mm
    if not boxes:
        return "Clamps stay outside all motion."
    places = "; ".join(
        f"X {x0:g} to {x1:g}, Y {y0:g} to {y1:g}\u00a0mm" for x0, y0, x1, y1 in boxes
    )
    return f"Clamps may stand only where the beam never goes, from the bed's corner: {places}."


def aligning_steps(plan: Plan, coat: CoatPlan) -> list[Block]:
    """Make ready for the beam, and run the program that shows where the job will lie."""
    pointer = plan.job.laser.pointer_fraction
    beam = (
        "the beam stays off"
        if pointer <= 0
        else f"the artwork's box is traced at {100 * pointer:g}\u00a0% power, and that is class 4 "
        "work like the clearing itself: eyewear on, housing shut, nobody else in the room"
    )
    within = focus_for(coat.coat, plan.job).tolerance_mm
    return [
        step(
            "Focus on the back of the sheet." if plan.job.route.is_lit else "Focus on the paint.",
            "At the middle of the blank, then at all four corners.",
            sets=(("height within", f"{significant(within, 2)}\u00a0mm either way"),),
        ),
        step(
            "Put on the laser eyewear, start the extraction, close the housing.",
            "Eyewear marked for this laser's wavelength.",
        ),
        step(
            "Run bounds.nc.",
            f"It shows the box of all motion, then the artwork's; {beam}. All of it must lie on "
            "the bed, and the artwork's box on the blank.",
        ),
    ]


def _running(plan: Plan, coat: CoatPlan) -> list[Block]:
    clearing = coat.cleared
    if plan.job.blank.is_back_worked:
        look = "Through the front, with a lamp behind: no film, no threads, no brown rim."
    else:
        look = "Bright bare metal in each, no film, no threads between the lines, no charred rim."
    return [
        step(
            f"Run {program_name(coat)}.",
            "Stay with it, extinguisher at hand. Never pause in mid-stroke: at rest the beam may "
            "burn on. Stop, then clear the rest with stopout rework.",
            sets=(
                ("power", f"{100 * clearing.power_fraction:g}\u00a0%"),
                ("speed", f"{clearing.speed_mm_s:g}\u00a0mm/s"),
                ("passes", f"{clearing.passes}"),
            ),
            timer_s=clearing.times.time_s,
        ),
        *_at_stops(clearing.focus_step_mm, clearing.passes),
        run_on_step("blank"),
        step("Look at every opening with a loupe, the blank still fixed.", look),
        step(
            f"If paint is left, run {program_name(coat)} once more on the same origin.",
            "Key in again, eyewear on, housing shut, extraction running, as before.",
            optional=True,
        ),
        step(
            "Measure the narrowest opening with a loupe.",
            "Much wider or narrower: the mark is not as planned.",
            sets=(("narrowest opening", length(coat.mask.narrowest_opening_mm)),),
            measured=(("opening", "mm"),),
        ),
    ]


def run_on_step(piece: str) -> Step:
    """Let the vapour be drawn off before anyone comes near."""
    return step(
        "Leave the housing shut with the extraction running, and take the key out.",
        "Vapour goes on rising after the last mark; no eye comes near the "
        f"{piece} while the beam could be on.",
        timer_s=RUN_ON_S,
    )


def _at_stops(step_mm: float | None, passes: int) -> list[Block]:
    """What to do where the program pauses between passes."""
    if step_mm is None:
        return []
    return [
        step(
            f"At each pause lower the head by {length(step_mm)}, then start again.",
            "The head is home and the beam ended. Key out of the laser before you open the "
            "housing; lower, keep clear of the blank, shut the housing, key in, start. "
            "Touch nothing else: the origin must stay.",
            sets=(("pauses", f"{passes - 1}"), ("lower by", length(step_mm))),
        )
    ]


def _next_piece(plan: Plan, coat: CoatPlan) -> str:
    n = plan.job.quantity + plan.job.spares
    if n == 1:
        return ""
    if others := other_programs(plan, coat):
        return f"Then clear the next panel with its own program, {others}: {n} panels in all."
    return f"Then clear the next one in the same way: {n} {plan.blank_called}s in all."


def _own_program(plan: Plan, coat: CoatPlan) -> str:
    others = other_programs(plan, coat)
    own = f" (panel 1; each panel has its own: {others})" if others else ""
    return f"{program_name(coat)}{own}"
