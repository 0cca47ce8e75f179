"""How steps and the sentences of the tables become blocks."""

from __future__ import annotations

from stopout.etching import Advice
from stopout.planning import Plan
from stopout.sheet.model import Block, FillIn, Note, Step
from stopout.sheet.words import advised, duration, length

# More holes than this are told by rows, where they stand in rows.
_MOST_NAMED = 8


def step(
    text: str,
    note: str = "",
    *,
    sets: tuple[tuple[str, str], ...] = (),
    measured: tuple[tuple[str, str], ...] = (),
    timer_s: float | None = None,
    timer: str = "",
    optional: bool = False,
    act: str = "",
) -> Step:
    """Make a step; it gets its number once the whole sheet is laid out."""
    return Step(
        number=0,
        text=text,
        note=note,
        sets=sets,
        measured=tuple(FillIn(label=label, unit=unit) for label, unit in measured),
        timer_s=None if timer_s is None else round(timer_s),
        timer=timer or ("" if timer_s is None else duration(timer_s)),
        optional=optional,
        act=act,
    )


def note(*lines: str) -> Note:
    """Sentences to read: one as a paragraph, more as a list."""
    return Note(lines=lines)


def advice(plan: Plan, lines: tuple[Advice, ...]) -> list[Block]:
    """A table's sentences that hold for this laser, as a note; nothing where there are none."""
    texts = tuple(advised(line) for line in held(plan, lines))
    return [note(*texts)] if texts else []


def held(plan: Plan, lines: tuple[Advice, ...]) -> tuple[Advice, ...]:
    """Those of a table's sentences that hold for this laser and this kind of work."""
    nm = plan.job.laser.wavelength_nm if plan.job.route.has_beam else None
    work = "plate" if plan.material.sort == "metal" else "sign"
    return tuple(line for line in lines if line.holds_at(nm) and line.holds_for(work))


def finish_steps(plan: Plan) -> list[Block]:
    """What covers the blank as bought comes off first; nothing where it is bare."""
    if plan.finish is None:
        return []
    how = " ".join(advised(line) for line in plan.finish.steps)
    return [step(f"Check what covers the blank: it comes {plan.finish.ident}.", how)]


def hole_places(plan: Plan) -> str:
    """Diameter and place of each hole, as seen; a panel's, which stand in rows, by rows."""
    holes = plan.job.blank.holes
    across, up = (sorted({hole.at_mm[k] for hole in holes}) for k in (0, 1))
    sizes = {hole.diameter_mm for hole in holes}
    places = {hole.at_mm for hole in holes}
    if len(holes) > _MOST_NAMED and len(sizes) == 1 and len(places) == len(across) * len(up):
        return (
            f"{len(holes)} of {length(sizes.pop())}, one at each X {_listed(across)} and each Y "
            f"{_listed(up)}\u00a0mm"
        )
    return "; ".join(
        f"{length(hole.diameter_mm)} at ({hole.at_mm[0]:g}, {hole.at_mm[1]:g})\u00a0mm"
        for hole in holes
    )


def _listed(places_mm: list[float]) -> str:
    return ", ".join(f"{place:g}" for place in places_mm)


def sizes(plan: Plan) -> tuple[tuple[str, str], ...]:
    """The blank's width, height and thickness, as a step sets them."""
    blank = plan.job.blank
    return (
        ("width", length(blank.width_mm)),
        ("height", length(blank.height_mm)),
        ("thickness", length(blank.thickness_mm)),
    )


def drill_steps(plan: Plan, how: str) -> list[Block]:
    """Drill the holes, whose places stand for `{}` in what is said of it; nothing without holes."""
    if not plan.job.blank.holes:
        return []
    return [step("Drill the holes.", how.format(hole_places(plan)))]


def signed(plan: Plan) -> int:
    """How many people sign a hold: one, or two where the job asks for a second name."""
    return 2 if plan.job.second_name else 1


def check(before: str, *checks: str) -> Step:
    """Make a step of what is looked over before something, where nobody need sign."""
    said = "; ".join(checks)
    return step(f"Check before {before}.", f"{said[:1].upper()}{said[1:]}.")
