"""Resuming a program from one of its lines, after a power cut or a stop."""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stopout.errors import ProgramError
from stopout.program.read import read_program
from stopout.program.rework import run_mm
from stopout.values import COORDINATE_DECIMALS, FloatArray, Machine, Moves

# A place read off the machine farther from all that is cleared belongs to another piece; strokes
# about as near as the nearest cannot be told apart by eye.
_FARTHEST_MM, _ALIKE_MM = 5.0, 0.3
# A run short by no more than this was only rounded.
_RUN_SHORT_MM = 0.001
_COMMENT = re.compile(r"\([^()]*\)")


def moves_from_line(text: str, line: int, *, machine: Machine) -> Moves:
    """Return the moves that carry a program on from one of its lines.

    Parameters
    ----------
    text : str
        The whole program.
    line : int
        Line of the text, from 1, that was being carried out.
    machine : Machine
        Supplies power and speed words, acceleration and top speed.

    Returns
    -------
    Moves
        All moves from the beginning of the stroke that holds the line, or that follows it: a
        travel to its run-up, the run-up, and everything after. A stroke is what lies between two
        travels; it is repeated whole, for a beam that stopped within it left its mark unfinished.

    Raises
    ------
    ProgramError
        If the text cannot be read, has no such line, or clears nothing from there on.
    """
    moves = read_program(text, machine=machine)
    first = _first_move(text, line, moves)
    # What was interrupted begins at the travel that leads to it.
    begin = _stroke_begin(moves, min(first, len(moves) - 1)) if len(moves) else 0
    lit = np.flatnonzero(moves.power > 0)
    after = lit[lit >= begin] if first < len(moves) else lit[:0]
    if not len(after):
        raise ProgramError(_nothing_left(text, line, lit))
    return _with_run_up(moves, _stroke_begin(moves, int(after[0])), int(after[0]), machine)


def first_move_at(text: str, line: int, moves: Moves) -> int:
    """Return the travel that begins the stroke of a line: what is carried on from there."""
    return _stroke_begin(moves, min(_first_move(text, line, moves), len(moves) - 1))


def _first_move(text: str, line: int, moves: Moves) -> int:
    """Return the index of the first move at or after a line."""
    count = len(text.splitlines())
    if not 1 <= line <= count:
        raise ProgramError(f"line {line} is not there; the program has lines 1 to {count}")
    numbers = _move_lines(text)
    if len(numbers) != len(moves):
        raise ProgramError("the program's lines and its moves do not agree; plan the job again")
    return bisect_left(numbers, line)


def _move_lines(text: str) -> list[int]:
    """Return the numbers of the lines that move: those with a place, outside comments."""
    return [
        number
        for number, line in enumerate(text.splitlines(), start=1)
        if "X" in (plain := _COMMENT.sub("", line)) or "Y" in plain
    ]


def _stroke_begin(moves: Moves, index: int) -> int:
    """Return the travel that leads to a move; the first move where none does."""
    travels = np.flatnonzero(moves.rapid[: index + 1])
    return int(travels[-1]) if len(travels) else 0


def _nothing_left(text: str, line: int, lit: NDArray[np.int64]) -> str:
    if not len(lit):
        return "the program clears nothing, so there is nothing to clear again"
    last = _move_lines(text)[int(lit[-1])]
    return (
        f"nothing is left to clear from line {line} on; the program's last line with the beam on "
        f"is line {last}"
    )


def _with_run_up(moves: Moves, begin: int, first_lit: int, machine: Machine) -> Moves:
    """Return the moves from one on, with a run-up before the first beam-on one."""
    table = np.column_stack([moves.end_mm, moves.speed_mm_s, moves.power])[begin:]
    rapid = moves.rapid[begin:]
    start, end = moves.start_mm, moves.end_mm
    cuts = np.arange(begin, first_lit)[~moves.rapid[begin:first_lit]]
    there = float(moves.length_mm[cuts].sum())
    head = int(cuts[0]) if len(cuts) else first_lit
    # A run-up that is long enough for its own speed is the right one.
    lack = float(run_mm(moves.speed_mm_s[head : head + 1], machine)[0]) - there
    if lack > _RUN_SHORT_MM or not moves.rapid[begin]:
        step = end[head] - start[head]
        back = start[head] - step / max(float(np.hypot(*step)), 1e-9) * max(lack, 0.0)
        added = np.array(
            [
                [*back, machine.top_speed_mm_s, 0.0],
                [*start[head], moves.speed_mm_s[head], 0.0],
            ]
        )
        table = np.vstack([added, table[head - begin :]])
        rapid = np.concatenate([[True, False], rapid[head - begin :]])
    return Moves(
        x_mm=np.round(table[:, 0], COORDINATE_DECIMALS),
        y_mm=np.round(table[:, 1], COORDINATE_DECIMALS),
        rapid=rapid,
        speed_mm_s=table[:, 2],
        power=table[:, 3],
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """A stroke that comes by a place: the line that is nearest, how near, and when it runs."""

    line: int
    off_mm: float
    at_s: float


def passages_at(
    text: str, at_mm: tuple[float, float], *, machine: Machine, begun_s: FloatArray
) -> tuple[Passage, ...]:
    """Return the strokes of a program that come by a place with the beam on, in their order.

    Parameters
    ----------
    text : str
        The whole program.
    at_mm : (x, y)
        Where the head stopped, from the blank's corner as worked.
    machine : Machine
        Whose words the program has.
    begun_s : (n,) ndarray
        When each of its moves begins.

    Returns
    -------
    tuple of Passage
        One for each stroke that comes about as near as the nearest does.

    Raises
    ------
    ProgramError
        If the text cannot be read, or clears nothing within 5 mm of the place.
    """
    moves = read_program(text, machine=machine)
    lit = np.flatnonzero(moves.power > 0)
    if not len(lit):
        raise ProgramError("the program clears nothing, so there is nothing to go on with")
    off = _distance(moves.start_mm[lit], moves.end_mm[lit], np.asarray(at_mm))
    nearest = float(off.min())
    if nearest > _FARTHEST_MM:
        raise ProgramError(
            f"the program clears nothing nearer than {nearest:.1f} mm to "
            f"({at_mm[0]:g}, {at_mm[1]:g}) mm; places are as worked, from the blank's corner"
        )
    near = off <= nearest + _ALIKE_MM
    stroke = np.cumsum(moves.rapid)[lit]
    numbers = _move_lines(text)
    found = []
    for one in np.unique(stroke[near]):
        mine = np.flatnonzero(stroke == one)
        k = mine[int(np.argmin(off[mine]))]
        move = int(lit[k])
        found.append(Passage(line=numbers[move], off_mm=float(off[k]), at_s=float(begun_s[move])))
    return tuple(found)


def _distance(start: FloatArray, end: FloatArray, place: FloatArray) -> FloatArray:
    step = end - start
    whole = np.maximum((step**2).sum(axis=1), 1e-18)
    share = (((place - start) * step).sum(axis=1) / whole).clip(0, 1)
    return np.asarray(np.hypot(*(start + share[:, None] * step - place).T))
