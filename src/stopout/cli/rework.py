"""`stopout rework`: a program that clears part of a plan once more."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from stopout.cli.asked.options import AS_JSON, QUIET, REQUIRED, Given, Option, command
from stopout.cli.speech.telling import say, say_json
from stopout.cli.stopped import ask_where, line_of_stop, stop_picture
from stopout.errors import OutputError, ProgramError, StopoutError, UnitError
from stopout.folders import check_replaceable, write_file
from stopout.library.plan_folder import PlanFolder, read_plan_folder

if TYPE_CHECKING:
    from stopout.clearing import ProgramTimes
    from stopout.program import Relocation
    from stopout.values import Box, Moves

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)", re.ASCII)
_MOST = "0.1 mm"
# A mark that is wider or narrower by more than this clears another width than was planned.
_MARK_CHANGE = 0.05
# Beyond this the points stand too close together for what is cleared.
_GROWTH = 2.0
_DOSE_RATIO = 1.15

Pair = tuple[tuple[float, float], tuple[float, float]]


# A table is read as one: an option in a line or two.
# fmt: off
_OPTIONS = (
    Option("folder", "folder", "A plan's folder.", REQUIRED, metavar="PLAN_DIR", is_argument=True),
    Option("box", "text", "Clear what lies in this box again: lower left and upper right corner as "
           "worked, in mm from the blank's corner.", metavar="x0,y0,x1,y1"),
    Option("piece", "text", "Make a piece of a series again, by its number.", metavar="NUMBER"),
    Option("from_line", "count", "Go on from line N of the program, its whole stroke included.",
           metavar="N", least=-1e8, most=1e8),
    Option("resume", "switch", "Go on after a stop: asks where the head stood, draws the place."),
    Option("stopped_at", "text", "Where the head stopped, in mm from the blank's corner.",
           metavar="x,y"),
    Option("after", "text", "How long the program had run, such as 7:30.", metavar="TIME"),
    Option("coat", "count", "Which coat. [the only one that is cleared]", metavar="K"),
    Option("points", "text", "Where the piece lies now, if it was lifted: two pairs or more of a "
           'planned and a found place in mm, "x,y=x,y;x,y=x,y", or a file with one pair a line.',
           metavar="FILE|PAIRS"),
    Option("most", "text", "How far a point may miss.", _MOST, metavar="LENGTH"),
    Option("out", "file", "Where to write. [rework-K.nc in the plan's folder]"),
    Option("force", "switch", "Replace an earlier program of that name."),
    QUIET,
    replace(AS_JSON, help="Print a summary as JSON on standard output."),
)
# fmt: on


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @command(app, *_OPTIONS, once="again")
    def rework(given: Given) -> None:
        """Clear part of a plan once more, on the same origin or where a lifted piece lies now.

        Example: stopout rework winch-plate-plan --box 4,20,50,45
        """
        is_resumed = _is_resumed(given)
        wanted = _wanted(given)
        pairs = () if given.points is None else _pairs(given.points)
        most_mm = _most_mm(given.most)
        plan = read_plan_folder(given.folder, given.coat, piece=given.piece)
        target = given.out or given.folder / f"rework-{plan.coat}{_of_piece(given.piece)}.nc"
        _check_target(target, given.folder, plan, force=given.force)
        picture = target.with_suffix(".png")
        if is_resumed:
            check_replaceable(picture, kind="PNG")
            where = given.stopped_at or ask_where()
            wanted, passage = line_of_stop(plan, where, given.after)
        made = _make(plan, plan.piece_mm or wanted, pairs, most_mm)
        write_file(target, made.text.encode("ascii"))
        if is_resumed:
            write_file(picture, stop_picture(plan, where, passage.line))
            if not given.quiet:
                say(
                    f"goes on from line {passage.line}, {passage.off_mm:.2f} mm from there: look "
                    f"at {picture} before you run it",
                    to_stderr=True,
                )
        _report(made, plan, target, quiet=given.quiet, as_json=given.as_json)


# --- what is asked for ------------------------------------------------------------------------


def _is_resumed(given: Given) -> bool:
    return bool(given.resume or given.stopped_at is not None)


def _of_piece(piece: str | None) -> str:
    return "" if piece is None else f"-piece-{re.sub('[^A-Za-z0-9_-]', '_', piece)}"


def _wanted(given: Given) -> Box | int:
    """The box or the line; a line of which nothing is said where something else decides."""
    box, from_line = given.box, given.from_line
    is_plain = box is None and from_line is None
    if given.piece is not None and (not is_plain or _is_resumed(given)):
        raise StopoutError("--piece is given with another choice; give one of them")
    if _is_resumed(given) and not is_plain:
        raise StopoutError("--resume finds the line itself; leave --box and --from-line out")
    if _is_resumed(given) or given.piece is not None:
        return 1
    if box is not None and from_line is not None:
        raise StopoutError("--box and --from-line are both given; give one of them")
    if from_line is not None:
        return int(from_line)
    if box is None:
        raise StopoutError(
            "what is to be cleared again? Give --box x0,y0,x1,y1 or --from-line N; "
            "--from-line 1 repeats the whole program"
        )
    parts = box.split(",")
    if len(parts) != 4:
        raise StopoutError(
            f"--box {box!r} has {len(parts)} numbers; it takes four, x0,y0,x1,y1, in mm with "
            "decimal points"
        )
    x0, y0, x1, y1 = (_length_mm(part, f"--box {box!r}") for part in parts)
    return (x0, y0, x1, y1)


def _length_mm(text: str, where: str) -> float:
    """Read a plain number of mm, or a length with its unit."""
    from stopout.units import parse_length_mm

    plain = text.strip()
    if _NUMBER.fullmatch(plain):
        return float(plain)
    try:
        return parse_length_mm(plain)
    except UnitError as error:
        raise StopoutError(f"{where}: {error}") from None


def _most_mm(text: str) -> float:
    most_mm = _length_mm(text, "--most")
    if most_mm <= 0:
        raise StopoutError(f"--most {text!r} lets no point miss at all; {_MOST!r} is usual")
    return most_mm


def _pairs(points: str) -> tuple[Pair, ...]:
    """Read the pairs of points, given as they are or in a file."""
    if "=" in points:
        texts = [(f"--points, pair {n}", part) for n, part in enumerate(points.split(";"), 1)]
    else:
        texts = _lines_of(Path(points))
    return tuple(_pair(text, where) for where, text in texts if text.strip())


def _lines_of(file: Path) -> list[tuple[str, str]]:
    if not file.is_file():
        raise StopoutError(
            f"--points {str(file)!r} is neither a file nor pairs of places; "
            'pairs look like "5,5=5.2,4.9;95,55=95.1,55.2"'
        )
    try:
        text = file.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise StopoutError(f"{file} is no text; give one pair a line, x,y=x,y") from None
    lines = enumerate(text.splitlines(), 1)
    return [(f"{file}:{number}", line.split("#")[0]) for number, line in lines]


def _pair(text: str, where: str) -> Pair:
    sides = [side.split(",") for side in text.split("=")]
    if [len(side) for side in sides] != [2, 2]:
        raise StopoutError(
            f"{where}: {text.strip()!r} is no pair of places; write planned x,y = found x,y in mm, "
            "such as 5,5=5.2,4.9"
        )
    (px, py), (qx, qy) = (tuple(_length_mm(part, where) for part in side) for side in sides)
    return ((px, py), (qx, qy))


# --- the program ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Made:
    text: str
    what: str
    wanted: Box | int
    times: ProgramTimes
    n_moves: int
    placement: Relocation | None
    growth: float
    cautions: tuple[str, ...]


def _make(plan: PlanFolder, wanted: Box | int, pairs: tuple[Pair, ...], most_mm: float) -> _Made:
    """Write the program, read it back and prove it."""
    from stopout.clearing import measure_program
    from stopout.program import locate, prove_text, read_program, relocate, write_program

    placement = locate(pairs, most_mm=most_mm) if pairs else None
    try:
        moves, what = _part(plan, wanted)
    except ProgramError as error:
        raise StopoutError(f"{plan.program}: {error}") from None
    growth = 0.0
    if placement is not None:
        growth = placement.error_growth(moves.end_mm[moves.power > 0])
        moves = relocate(moves, placement)
    moves = _travelled(moves, plan)
    text = write_program(moves, machine=plan.machine, title=_title(plan, what, placement))
    problems = prove_text(text, machine=plan.machine, blank_at_mm=plan.blank_at_mm)
    if problems:
        raise ProgramError(
            f"no program is written, for it would not be safe: {problems[0].message}"
        )
    moves = read_program(text, machine=plan.machine)
    times = measure_program(
        moves, machine=plan.machine, power=plan.power, speed_mm_s=plan.speed_mm_s
    )
    return _Made(
        text=text,
        what=what,
        wanted=wanted,
        times=times,
        n_moves=len(moves),
        placement=placement,
        growth=growth,
        cautions=_cautions(plan, times, placement, growth),
    )


def _part(plan: PlanFolder, wanted: Box | int) -> tuple[Moves, str]:
    from stopout.program import moves_from_line, moves_in_box, read_program

    if isinstance(wanted, int):
        moves = moves_from_line(plan.text, wanted, machine=plan.machine)
        return moves, f"from line {wanted} of {plan.program} on"
    x0, y0, x1, y1 = wanted
    whole = read_program(plan.text, machine=plan.machine)
    moves = moves_in_box(whole, wanted, machine=plan.machine)
    return moves, f"what lies from ({x0:g}, {y0:g}) to ({x1:g}, {y1:g}) mm"


def _travelled(moves: Moves, plan: PlanFolder) -> Moves:
    """Add the way home, and lead travels that are new round what they may not enter."""
    import numpy as np

    from stopout.program import round_keep_outs
    from stopout.values import Moves

    home = Moves(
        x_mm=np.append(moves.x_mm, 0.0),
        y_mm=np.append(moves.y_mm, 0.0),
        rapid=np.append(moves.rapid, True),
        speed_mm_s=np.append(moves.speed_mm_s, plan.machine.top_speed_mm_s),
        power=np.append(moves.power, 0.0),
    )
    return round_keep_outs(home, machine=plan.machine, blank_at_mm=plan.blank_at_mm)


def _title(plan: PlanFolder, what: str, placement: Relocation | None) -> list[str]:
    return [
        f"{plan.name}, revision {plan.revision}",
        f"clears coat {plan.coat} once more: {what.replace('(', '').replace(')', '')}",
        f"worked side {plan.worked_side}",
        "origin: where it was for the first run",
        *([] if placement is None else [f"for a piece that was lifted: {_placed(placement)}"]),
        "attend the machine at all times",
    ]


def _placed(placement: Relocation) -> str:
    x, y = placement.shift_mm
    return f"turned by {_degrees(placement):.3f} deg, then shifted by {x:.3f}, {y:.3f} mm"


def _degrees(placement: Relocation) -> float:
    from math import degrees

    # A turn that rounding alone makes is none, and not minus none.
    return round(degrees(placement.angle_rad), 6) + 0.0


def _cautions(
    plan: PlanFolder, times: ProgramTimes, placement: Relocation | None, growth: float
) -> tuple[str, ...]:
    from stopout.program import count_stops

    said = []
    if count_stops(plan.text):
        said.append(
            "the plan lowers the head between its passes; this program runs at one height, with "
            "no stop: set the head to the height of the pass that was left unfinished"
        )
    if times.dose_ratio_max > max(_DOSE_RATIO, 1.001 * plan.dose_ratio_max):
        said.append(
            f"where pieces are short the beam gives up to {times.dose_ratio_max:.2f} of the "
            "intended dose; a box a little larger or smaller avoids it"
        )
    if placement is None:
        return tuple(said)
    change = _mark_change(plan.mark_mm, placement.angle_rad)
    if change > _MARK_CHANGE:
        said.append(
            f"at a turn of {_degrees(placement):.1f} deg the mark across a line is up to "
            f"{100 * change:.0f} % wider or narrower than planned; turn the piece nearer to how "
            "it lay and find the points again"
        )
    if growth > _GROWTH:
        said.append(
            f"an error in finding the points grows up to {growth:.1f} times at the farthest place; "
            "take points farther apart"
        )
    return tuple(said)


def _mark_change(mark_mm: tuple[float, float], angle_rad: float) -> float:
    """Return the largest relative change of the mark's width across a line that is turned."""
    import numpy as np

    def across(direction: Any) -> Any:
        return np.hypot(mark_mm[0] * np.sin(direction), mark_mm[1] * np.cos(direction))

    ways = np.linspace(0, np.pi, 361)
    return float(np.abs(across(ways + angle_rad) / across(ways) - 1).max())


# --- writing and telling ----------------------------------------------------------------------


def _check_target(target: Path, folder: Path, plan: PlanFolder, *, force: bool) -> None:
    """Refuse to write over anything but an earlier program, and never over the plan's own."""
    check_replaceable(target, kind="program")
    if not target.exists():
        return
    is_here = target.parent.resolve() == folder.resolve()
    if is_here and re.fullmatch(r"(?:clear-[0-9]+|bounds)\.nc", target.name, re.IGNORECASE):
        raise OutputError(f"{target} is the plan's own program and stays; choose another place")
    if not force:
        raise OutputError(f"{target} exists already; give --force to replace it, or --out")


def _report(made: _Made, plan: PlanFolder, target: Path, *, quiet: bool, as_json: bool) -> None:
    if as_json:
        say_json(_summary(made, plan, target))
    if quiet:
        return
    for caution in made.cautions:
        say(f"caution: {caution}.", to_stderr=True)
    if not as_json:
        for line in _lines(made, plan, target):
            say(line)


def _lines(made: _Made, plan: PlanFolder, target: Path) -> list[str]:
    from stopout.units import format_duration

    times = made.times
    lines = [
        f"{target}",
        f"coat {plan.coat}: {made.what}; {times.cleared_length_mm:.1f} mm with the beam on, "
        f"{format_duration(times.time_s)}",
    ]
    if made.placement is not None:
        worst = 1000 * made.placement.worst_residual_mm
        lines.append(
            f"the piece is {_placed(made.placement)}; the points miss by {worst:.0f} um at most"
        )
        if len(made.placement.residual_mm) == 2:
            lines.append("two points do not show a misread turn; a third would")
    return lines


def _summary(made: _Made, plan: PlanFolder, target: Path) -> dict[str, Any]:
    times, placement = made.times, made.placement
    return {
        "program": str(target),
        "coat": plan.coat,
        "box_mm": None if isinstance(made.wanted, int) else list(made.wanted),
        "from_line": made.wanted if isinstance(made.wanted, int) else None,
        "moves": made.n_moves,
        "cleared_length_mm": round(times.cleared_length_mm, 4),
        "travel_length_mm": round(times.travel_length_mm, 4),
        "time_s": round(times.time_s, 3),
        "dose_ratio_max": round(times.dose_ratio_max, 4),
        "placement": placement
        and {
            "angle_deg": _degrees(placement),
            "shift_mm": [round(value, 5) for value in placement.shift_mm],
            "residual_um": [round(1000 * value, 2) for value in placement.residual_mm],
            "error_growth": round(made.growth, 3),
        },
        "cautions": list(made.cautions),
    }
