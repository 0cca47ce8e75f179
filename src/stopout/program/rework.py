"""Rework: what a program clears within a box, once more on the same origin.

A piece of a stroke is cleared again with the speed it had the first time, and not only with the
speed that was asked for: where the power word follows the planned speed, a piece before a corner
has the power of a machine that already slows down. So the beam-off runs before and after a piece
retrace the program's own path, far enough (v^2 / 2a) for the machine to be where the first run had
it, and go straight on only where that path ends sooner. What is retraced was proven the first time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stopout.errors import ProgramError
from stopout.values import COORDINATE_DECIMALS, Box, FloatArray, Machine, Moves

# A run is this much longer than the distance it takes to reach the speed, as the first time.
_RUN_SLACK_MM = 0.002
# A run short by no more than this was only rounded.
_RUN_SHORT_MM = 0.001
# Shorter pieces vanish in the program's last digit.
_LEAST_MM = 10.0**-COORDINATE_DECIMALS
# Places along the path closer than this are one.
_SAME_MM = 1e-7
# The speed at a vertex depends on the chords beside it: v^2 = a (l1 + l2) / (2 t). A run of
# v^2 / 2a leaves v untouched up to this turn t; beyond it the chord stays whole, or this many
# runs long, which is enough up to a turn of 1 rad; sharper ones are limited by rounding instead.
_FREE_TURN = 0.25
_WHOLE_RUNS = 4.0
# To go on at speed over v^2 / a takes as long as to slow down before it and speed up after it.
_BRIDGED_RUNS = 2.0


def moves_in_box(moves: Moves, box_mm: Box, *, machine: Machine) -> Moves:
    """Return the moves that clear once more what a program clears within a box.

    Parameters
    ----------
    moves : Moves
        The whole program, from rest at (0, 0).
    box_mm : (x0, y0, x1, y1)
        Lower left and upper right corner as worked, in mm from the blank's corner.
    machine : Machine
        Supplies acceleration and top speed.

    Returns
    -------
    Moves
        Every beam-on move clipped to the box, in the program's order, with its power, speed and
        direction; beam-off runs before and after; travels between them. Pieces under 0.1 um are
        left out.

    Raises
    ------
    ProgramError
        If the box has no inside, lies beside all that the program clears, or holds none of it.
    """
    _refuse_strange_box(box_mm)
    path = _Path(moves)
    low, high = _fractions_inside(moves, box_mm)
    lit = (moves.power > 0) & ((high - low) * path.length > _LEAST_MM)
    if not lit.any():
        _refuse_empty(moves, box_mm)
    owner = np.flatnonzero(lit)
    return _laid(path, _pieces(path, owner, low[owner], high[owner], machine), machine)


class _Path:
    """A program's moves with the length along them: one axis on which every place is a number."""

    def __init__(self, moves: Moves) -> None:
        self.moves = moves
        self.length = moves.length_mm
        self.at = np.concatenate([[0.0], np.cumsum(self.length)])
        self.start, self.end = moves.start_mm, moves.end_mm
        self.stroke = np.cumsum(moves.rapid.astype(np.int64))
        cuts = np.flatnonzero(~moves.rapid)
        index = np.arange(len(moves))
        # First and one past the last cutting move of each move's stroke.
        ids, first = np.unique(self.stroke[cuts], return_index=True)
        begin = np.zeros(int(self.stroke.max(initial=0)) + 1, dtype=np.int64)
        finish = np.zeros_like(begin)
        begin[ids] = cuts[first]
        np.maximum.at(finish, self.stroke[cuts], index[cuts] + 1)
        self.begin, self.finish = begin[self.stroke], finish[self.stroke]
        self.turn = self._turns()

    def _turns(self) -> FloatArray:
        """Turn at the start of each move, in radians."""
        step = self.end - self.start
        turn = np.zeros(len(step) + 1)
        cross = step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0]
        turn[1:-1] = np.abs(np.arctan2(cross, np.einsum("ij,ij->i", step[:-1], step[1:])))
        return turn

    def lack(self, move: NDArray[np.int64], machine: Machine, *, at_end: bool) -> FloatArray:
        """Return what the dark run at the begin or end of each move's stroke lacks.

        A run that is long enough for its own speed lacks nothing: the stroke was entered at that
        speed, and its power is right for it.
        """
        first = self.finish[move] - 1 if at_end else self.begin[move]
        lit = np.flatnonzero(~self.moves.rapid & (self.moves.power > 0) & (self.length > 0))
        if at_end:
            dark = (
                self.at[first + 1] - self.at[lit[np.searchsorted(lit, first, side="right") - 1] + 1]
            )
        else:
            dark = self.at[lit[np.searchsorted(lit, first)]] - self.at[first]
        run = run_mm(self.moves.speed_mm_s[first], machine)
        return np.asarray(np.maximum(run - dark, 0.0))

    def move_at(self, place: FloatArray) -> NDArray[np.int64]:
        """Return the move on which each place lies; at a vertex the later one."""
        after = np.searchsorted(self.at, place, side="right") - 1
        return np.clip(after, 0, len(self.length) - 1)

    def point(self, place: FloatArray) -> FloatArray:
        """(n, 2) points at places along the path."""
        move = self.move_at(place)
        share = (place - self.at[move]) / np.maximum(self.length[move], _SAME_MM)
        step = self.end[move] - self.start[move]
        return np.asarray(self.start[move] + share.clip(0, 1)[:, None] * step)

    def direction(self, move: NDArray[np.int64]) -> FloatArray:
        """(n, 2) unit vectors along moves."""
        step = self.end[move] - self.start[move]
        return np.asarray(step / np.maximum(np.hypot(*step.T), _SAME_MM)[:, None])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pieces:
    """Pieces to be cleared again, in order: places along the path, with their runs.

    `run` is the length of a piece's run; `run_from`, `run_to` hold the piece and its runs as far as
    the stroke goes; `short_before`, `short_after` what is then missing of a run.
    """

    begin: FloatArray
    end: FloatArray
    run_from: FloatArray
    run_to: FloatArray
    short_before: FloatArray
    short_after: FloatArray
    run: FloatArray
    stroke: NDArray[np.int64]


def _pieces(
    path: _Path,
    owner: NDArray[np.int64],
    low: FloatArray,
    high: FloatArray,
    machine: Machine,
) -> _Pieces:
    begin = path.at[owner] + low * path.length[owner]
    end = path.at[owner] + high * path.length[owner]
    run = run_mm(path.moves.speed_mm_s[owner], machine)
    first, last = path.at[path.begin[owner]], path.at[path.finish[owner]]
    back, on = begin - run, end + run
    # A chord cut short would slow the machine at the vertex behind it.
    move = path.move_at(back)
    vertex = path.at[move + 1]
    bent = path.turn[move + 1] > _FREE_TURN
    from_ = np.where(
        bent, np.minimum(back, np.maximum(path.at[move], vertex - _WHOLE_RUNS * run)), back
    )
    move = path.move_at(on)
    vertex = path.at[move]
    bent = path.turn[move] > _FREE_TURN
    to = np.where(
        bent, np.maximum(on, np.minimum(path.at[move + 1], vertex + _WHOLE_RUNS * run)), on
    )
    return _Pieces(
        begin=begin,
        end=end,
        run_from=np.maximum(from_, first),
        run_to=np.minimum(to, last),
        short_before=np.minimum(
            np.maximum(first - back, 0.0), path.lack(owner, machine, at_end=False)
        ),
        short_after=np.maximum(np.minimum(on - last, path.lack(owner, machine, at_end=True)), 0.0),
        run=run,
        stroke=path.stroke[owner],
    )


def run_mm(speed_mm_s: FloatArray, machine: Machine) -> FloatArray:
    """Return the distance in which the machine comes to speed: v^2 / 2a and a little more."""
    return np.asarray(speed_mm_s**2 / (2 * machine.acceleration_mm_s2) + _RUN_SLACK_MM)


def _laid(path: _Path, pieces: _Pieces, machine: Machine) -> Moves:
    """Lay pieces into moves; pieces whose runs meet stay on one stroke."""
    order = np.argsort(pieces.run_from, kind="stable")
    run_from, run_to = pieces.run_from[order], np.maximum.accumulate(pieces.run_to[order])
    stroke = pieces.stroke[order]
    is_new = np.ones(len(order), dtype=bool)
    gap = run_from[1:] - run_to[:-1]
    is_new[1:] = (gap > _BRIDGED_RUNS * pieces.run[order][1:]) | (stroke[1:] != stroke[:-1])
    group = np.cumsum(is_new) - 1
    first = run_from[is_new]
    last = run_to[np.append(np.flatnonzero(is_new)[1:] - 1, len(order) - 1)]
    short_before, short_after = np.zeros(len(first)), np.zeros(len(first))
    np.maximum.at(short_before, group, pieces.short_before[order])
    np.maximum.at(short_after, group, pieces.short_after[order])
    place, owner = _places(path, pieces, first, last)
    joined = owner[1:] == owner[:-1]
    middle = ((place[1:] + place[:-1]) / 2)[joined]
    move = path.move_at(middle)
    return _assembled(
        path,
        place=place,
        group=owner,
        move=move,
        is_on=_is_in(middle, pieces),
        short=(short_before, short_after),
        machine=machine,
    )


def _places(
    path: _Path, pieces: _Pieces, first: FloatArray, last: FloatArray
) -> tuple[FloatArray, NDArray[np.int64]]:
    """Return every place where something changes, in order, and the group it belongs to."""
    inner = np.concatenate([path.at, pieces.begin, pieces.end])
    of = np.searchsorted(first, inner, side="right") - 1
    kept = (of >= 0) & (inner > first[of] + _SAME_MM) & (inner < last[of] - _SAME_MM)
    groups = np.arange(len(first))
    place = np.concatenate([first, last, inner[kept]])
    owner = np.concatenate([groups, groups, of[kept]])
    order = np.lexsort([place, owner])
    place, owner = place[order], owner[order]
    distinct = np.ones(len(place), dtype=bool)
    distinct[1:] = (np.diff(place) > _SAME_MM) | (owner[1:] != owner[:-1])
    return place[distinct], owner[distinct]


def _is_in(place: FloatArray, pieces: _Pieces) -> NDArray[np.bool_]:
    """Tell which places lie in a piece; pieces do not overlap and stand in order."""
    which = np.searchsorted(pieces.begin, place, side="right") - 1
    return np.asarray((which >= 0) & (place < pieces.end[np.maximum(which, 0)]))


def _assembled(
    path: _Path,
    *,
    place: FloatArray,
    group: NDArray[np.int64],
    move: NDArray[np.int64],
    is_on: NDArray[np.bool_],
    short: tuple[FloatArray, FloatArray],
    machine: Machine,
) -> Moves:
    """Make the moves: for each group a travel, its chords, and straight runs where some lack."""
    point = path.point(place)
    is_first = np.concatenate([[True], group[1:] != group[:-1]])
    is_last = np.append(is_first[1:], True)
    speed, power = np.zeros(len(place)), np.zeros(len(place))
    speed[~is_first] = path.moves.speed_mm_s[move]
    power[~is_first] = np.where(is_on, path.moves.power[move], 0.0)
    heads, tails = np.flatnonzero(is_first), np.flatnonzero(is_last)
    chord = np.cumsum(~is_first) - 1
    before, after = (np.where(lack > _RUN_SHORT_MM, lack, 0.0) for lack in short)
    head_step = path.direction(move[chord[heads + 1]])
    tail_step = path.direction(move[chord[tails]])
    # Slots: [travel] [straight run-up] chords [straight run-out], the straight ones mostly empty.
    rows = [
        (heads - 0.50, point[heads] - head_step * before[:, None], True, heads + 1),
        (heads[before > 0] - 0.25, point[heads[before > 0]], False, heads[before > 0] + 1),
        (np.flatnonzero(~is_first), point[~is_first], False, np.flatnonzero(~is_first)),
        (
            tails[after > 0] + 0.25,
            (point[tails] + tail_step * after[:, None])[after > 0],
            False,
            tails[after > 0],
        ),
    ]
    order = np.argsort(np.concatenate([slot for slot, *_ in rows]), kind="stable")
    points = np.concatenate([at for _, at, *_ in rows])[order]
    rapid = np.concatenate([np.full(len(slot), travel) for slot, _, travel, _ in rows])[order]
    like = np.concatenate([source for *_, source in rows])[order]
    runs = np.concatenate([np.full(len(s), k != 2) for k, (s, *_) in enumerate(rows)])[order]
    points = np.round(points, COORDINATE_DECIMALS)
    return Moves(
        x_mm=points[:, 0],
        y_mm=points[:, 1],
        rapid=rapid,
        speed_mm_s=np.where(rapid, machine.top_speed_mm_s, speed[like]),
        power=np.where(runs, 0.0, power[like]),
    )


def _fractions_inside(moves: Moves, box_mm: Box) -> tuple[FloatArray, FloatArray]:
    """Return the fractions of each move between which it lies in a closed box; equal if never."""
    low, high = np.array(box_mm[:2]), np.array(box_mm[2:])
    start, step = moves.start_mm, moves.end_mm - moves.start_mm
    still = step == 0
    safe = np.where(still, 1.0, step)
    one, other = (low - start) / safe, (high - start) / safe
    within = (start >= low) & (start <= high)
    enter = np.where(still, np.where(within, -np.inf, np.inf), np.minimum(one, other))
    leave = np.where(still, np.where(within, np.inf, -np.inf), np.maximum(one, other))
    first = np.clip(enter.max(axis=1), 0.0, 1.0)
    return first, np.maximum(np.clip(leave.min(axis=1), 0.0, 1.0), first)


def _refuse_strange_box(box_mm: Box) -> None:
    x0, y0, x1, y1 = box_mm
    if not np.isfinite(box_mm).all():
        raise ProgramError("the box has a corner that is no number; give x0,y0,x1,y1 in mm")
    if not (x0 < x1 and y0 < y1):
        raise ProgramError(
            f"the box's second corner ({x1:g}, {y1:g}) mm must lie right of the first "
            f"({x0:g}, {y0:g}) mm and above it; x0,y0,x1,y1 are two corners, not a corner and a "
            "size"
        )


def _refuse_empty(moves: Moves, box_mm: Box) -> None:
    x0, y0, x1, y1 = box_mm
    box = f"the box from ({x0:g}, {y0:g}) to ({x1:g}, {y1:g}) mm"
    on = moves.power > 0
    if not on.any():
        raise ProgramError("the program clears nothing, so there is nothing to clear again")
    ends = np.vstack([moves.start_mm[on], moves.end_mm[on]])
    low, high = ends.min(axis=0), ends.max(axis=0)
    cleared = f"({low[0]:.2f}, {low[1]:.2f}) to ({high[0]:.2f}, {high[1]:.2f}) mm"
    if x1 < low[0] or x0 > high[0] or y1 < low[1] or y0 > high[1]:
        raise ProgramError(
            f"{box} lies beside all that the program clears, which is from {cleared}; places are "
            "as worked, from the blank's lower left corner"
        )
    raise ProgramError(
        f"{box} holds no beam-on move: the resist stays there; the program clears parts of "
        f"{cleared}, as worked"
    )
