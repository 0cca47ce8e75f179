"""Two programs without the beam, whose times tell a machine's top speed and acceleration."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from stopout.clearing.moving.timed_traverses import Traverses, lay_traverses
from stopout.errors import CouponError
from stopout.job.record import Job
from stopout.planning.measures.placing import place_of_blank
from stopout.program import prove_text, write_program

# From the last traverse to the bed's edge, and the least room that is worth a run.
_CLEAR_MM, _LEAST_MM = 5.0, 20.0
# Where the acceleration was given, it may lie this far off either way.
_OFF = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TimingRuns:
    """The runs along an axis, and their programs, proven."""

    axis: Literal["x", "y"]
    long: Traverses
    short: Traverses
    long_program: str
    short_program: str
    expected_s: tuple[float, float]


def timing_runs(job: Job, axis: Literal["x", "y"]) -> TimingRuns:
    """Lay the two runs from the blank's corner along an axis of the bed.

    Parameters
    ----------
    job : Job
        For its machine and the place of its blank.
    axis : str
        `x` or `y`.

    Raises
    ------
    CouponError
        If the bed has no room for them, or a clamp stands in the way.
    """
    machine, k = job.laser, "xy".index(axis)
    room = machine.bed_mm[k] - place_of_blank(job)[k] - _CLEAR_MM
    if room < _LEAST_MM:
        raise CouponError(
            f"{room:.0f} mm of the bed are left along {axis} from the blank's corner and "
            f"{_LEAST_MM:g} mm are needed: set machine.blank_at for this"
        )
    a, span = machine.acceleration_mm_s2, machine.span("acceleration")
    ends = (a / _OFF, a * _OFF) if span is None else (span.low, span.high)
    long, short = lay_traverses(
        room, top_speed_mm_s=machine.top_speed_mm_s, acceleration_mm_s2=(ends[0], a, ends[1])
    )
    return TimingRuns(
        axis=axis,
        long=long,
        short=short,
        long_program=_program(long, "long", axis, job),
        short_program=_program(short, "short", axis, job),
        expected_s=(
            long.time_s(machine.top_speed_mm_s, a),
            short.time_s(machine.top_speed_mm_s, a),
        ),
    )


def _program(run: Traverses, name: str, axis: str, job: Job) -> str:
    """Write a run and prove it; the beam is never enabled."""
    machine = job.laser
    text = write_program(
        run.moves(axis, machine.top_speed_mm_s),
        machine=machine,
        title=[
            f"{name} timing run along {axis}: {run.count} times {run.length_mm:g} mm, beam off",
            "from the blank's lower left corner; keep clear of the head",
        ],
    )
    problems = prove_text(text, machine=machine, blank_at_mm=place_of_blank(job))
    if problems:
        raise CouponError(f"the {name} run: {problems[0].message}; move the clamp, or the blank")
    # What proves the program knows only one that enables the beam, with no power.
    lines = [line for line in text.splitlines() if not line.startswith(f"{machine.beam_on} S0")]
    return ("\r\n" if machine.line_ending == "crlf" else "\n").join([*lines, ""])
