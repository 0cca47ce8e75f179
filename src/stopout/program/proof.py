"""Proofs that a program is safe: in the bed, clear of clamps, dark on travels, dark at the end."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stopout.errors import ProgramError
from stopout.program.read import read_program
from stopout.values import MOST_DWELL_S, FloatArray, Machine, Moves

# Places are written to 1e-4 mm; sums with the blank's corner are exact to far less than this.
_SLACK_MM = 1e-6
_SLACK = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Violation:
    """One way in which a program is not safe.

    Attributes
    ----------
    code : str
        `structure`, `not-a-number`, `outside-bed`, `keep-out`, `beam-on-travel`, `power`,
        `speed`, `dwell` or `ends-on`.
    message : str
        What is wrong, where, and what would be right.
    move : int or None
        Index of the first offending move; None for the text's structure.
    count : int
        How many moves offend.
    at_mm : (x, y) or None
        Where it first happens, from the blank's corner.
    """

    code: str
    message: str
    move: int | None = None
    count: int = 1
    at_mm: tuple[float, float] | None = None


def prove(
    moves: Moves, *, machine: Machine, blank_at_mm: tuple[float, float]
) -> tuple[Violation, ...]:
    """Prove that moves stay within the machine's limits.

    Parameters
    ----------
    moves : Moves
        The motion, from rest at (0, 0).
    machine : Machine
        Bed, keep-out boxes and top speed.
    blank_at_mm : (x, y)
        The blank's corner from the bed's corner.

    Returns
    -------
    tuple of Violation
        Empty where all of this holds: 0 <= blank_at + (X, Y) <= bed; no move enters the inside
        of a keep-out box, whole moves and not only their ends (the box's border may be touched);
        beam off on every travel; 0 <= power <= 1; 0 < speed <= top speed; no more than
        `MOST_DWELL_S` full-power seconds of beam within two motor steps; beam off at the end.
    """
    return tuple(_violations(moves, machine, np.asarray(blank_at_mm, dtype=float)))


def prove_text(
    text: str, *, machine: Machine, blank_at_mm: tuple[float, float]
) -> tuple[Violation, ...]:
    """Prove a program as written: its structure by reading it back, then its moves.

    Returns
    -------
    tuple of Violation
        One with the code `structure` where `read_program` refuses the text, else as `prove`.
    """
    try:
        moves = read_program(text, machine=machine)
    except ProgramError as error:
        return (Violation(code="structure", message=str(error)),)
    return prove(moves, machine=machine, blank_at_mm=blank_at_mm)


def _violations(moves: Moves, machine: Machine, corner: FloatArray) -> Iterator[Violation]:
    values = np.column_stack([moves.x_mm, moves.y_mm, moves.speed_mm_s, moves.power])
    broken = ~np.isfinite(values.sum(axis=1))
    if broken.any():
        yield _found("not-a-number", broken, None, "has a place, speed or power that is no number")
        return
    yield from _outside_bed(moves, machine, corner)
    yield from _in_keep_outs(moves, machine, corner)
    yield from _beam_and_speed(moves, machine)


def _outside_bed(moves: Moves, machine: Machine, corner: FloatArray) -> Iterator[Violation]:
    bed = np.asarray(machine.bed_mm)
    wide = f"the bed is {bed[0]:g} x {bed[1]:g} mm"
    if ((corner < -_SLACK_MM) | (corner > bed + _SLACK_MM)).any():
        yield Violation(
            code="outside-bed",
            message=f"the blank's corner at {_place(corner)} mm lies outside the bed; {wide}",
            move=0,
            count=len(moves),
            at_mm=(0.0, 0.0),
        )
        return
    on_bed = moves.end_mm + corner
    # A straight move between two points of a rectangle stays in it.
    off = (on_bed < -_SLACK_MM) | (on_bed > bed + _SLACK_MM)
    outside = off[:, 0] | off[:, 1]
    if outside.any():
        there = on_bed[int(np.argmax(outside))]
        what = f"leaves the bed at {_place(there)} mm from the bed's corner; {wide}"
        yield _found("outside-bed", outside, moves.end_mm, what)


def _in_keep_outs(moves: Moves, machine: Machine, corner: FloatArray) -> Iterator[Violation]:
    start, end = moves.start_mm + corner, moves.end_mm + corner
    for number, box in enumerate(machine.keep_outs_mm, start=1):
        enters_at = _entry(start, end, box)
        inside = np.isfinite(enters_at)
        if inside.any():
            along = np.where(inside, enters_at, 0.0)[:, None]
            places = moves.start_mm + along * (moves.end_mm - moves.start_mm)
            spot = _place(places[int(np.argmax(inside))] + corner)
            what = f"enters keep-out box {number} at {spot} mm from the bed's corner"
            yield _found("keep-out", inside, places, what)


def _entry(start: FloatArray, end: FloatArray, box: tuple[float, ...]) -> FloatArray:
    """Fraction of each move at which it enters the inside of a box; infinity where never."""
    x0, y0, x1, y1 = box
    low = np.array([min(x0, x1), min(y0, y1)]) + _SLACK_MM
    high = np.array([max(x0, x1), max(y0, y1)]) - _SLACK_MM
    step = end - start
    still = step == 0
    safe = np.where(still, 1.0, step)
    first, second = (low - start) / safe, (high - start) / safe
    between = (start > low) & (start < high)
    enter = np.where(still, np.where(between, -np.inf, np.inf), np.minimum(first, second))
    leave = np.where(still, np.where(between, np.inf, -np.inf), np.maximum(first, second))
    entry = np.maximum(enter.max(axis=1), 0.0)
    exit_ = np.minimum(leave.min(axis=1), 1.0)
    # A move that stands still in the box has entry 0 and exit 1.
    return np.where(entry < exit_, entry, np.inf)


def _beam_and_speed(moves: Moves, machine: Machine) -> Iterator[Violation]:
    ends = moves.end_mm
    lit = moves.rapid & (moves.power != 0)
    if lit.any():
        yield _found("beam-on-travel", lit, ends, "travels with the beam on; it must be off")
    strong = (moves.power < 0) | (moves.power > 1 + _SLACK)
    if strong.any():
        power = moves.power[int(np.argmax(strong))]
        what = f"asks for {power:.4g} of full power; 0 to 1 is right"
        yield _found("power", strong, ends, what)
    top = machine.top_speed_mm_s
    fast = (moves.speed_mm_s > top * (1 + _SLACK)) | (moves.speed_mm_s <= 0)
    if fast.any():
        speed = moves.speed_mm_s[int(np.argmax(fast))]
        what = f"asks for {speed:.6g} mm/s; this machine goes above 0 and up to {top:g} mm/s"
        yield _found("speed", fast, ends, what)
    yield from _dwells(moves, machine)
    if len(moves) and moves.power[-1] != 0:
        last = np.arange(len(moves)) == len(moves) - 1
        yield _found("ends-on", last, ends, "is the last and leaves the beam on; end with S0")


def _dwells(moves: Moves, machine: Machine) -> Iterator[Violation]:
    """Beam-on moves that together hardly leave the spot, and burn there for too long."""
    lit = moves.power > 0
    if not lit.any():
        return
    chain = np.cumsum(np.diff(lit, prepend=False) & lit)
    length = moves.length_mm
    with np.errstate(divide="ignore"):
        energy = moves.power * length / np.maximum(moves.speed_mm_s, 0.0)
    energy = np.where(lit & (moves.speed_mm_s > 0), energy, 0.0)
    still = 2 * machine.step_mm + _SLACK_MM
    of_chain = np.bincount(chain, weights=np.where(lit, length, 0.0))[chain] <= still
    held = np.where(of_chain, np.bincount(chain, weights=energy)[chain], energy)
    long = lit & (of_chain | (length <= still)) & (held > MOST_DWELL_S)
    if long.any():
        seconds = held[int(np.argmax(long))]
        what = (
            f"holds the beam on one spot for {seconds:.3g} s of full power; "
            f"{MOST_DWELL_S:g} s is the most"
        )
        yield _found("dwell", long, moves.end_mm, what)


def _found(code: str, wrong: NDArray[np.bool_], places: FloatArray | None, what: str) -> Violation:
    first, count = int(np.argmax(wrong)), int(wrong.sum())
    at = None if places is None else (float(places[first, 0]), float(places[first, 1]))
    where = "" if at is None else f" at ({at[0]:.4f}, {at[1]:.4f}) mm on the blank"
    more = "" if count == 1 else f" ({count} moves in all)"
    return Violation(
        code=code, message=f"move {first}{where} {what}{more}", move=first, count=count, at_mm=at
    )


def _place(point: FloatArray) -> str:
    return f"({point[0]:.4f}, {point[1]:.4f})"
