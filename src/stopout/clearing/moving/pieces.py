"""Outlines parted into pieces within which the speed changes little, each with its own power."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stopout.clearing.motion import Course, Profile, plan_speeds, turn_angles
from stopout.clearing.moving.lead import lag_s
from stopout.values import COORDINATE_DECIMALS, FloatArray, Machine, Moves

__all__ = ["in_even_pieces", "planned", "rounded_moves", "with_power"]

# Within one move of an outline the speed changes by no more than this factor, so that a power
# held for the move keeps the line dose within its square root (14 %).
_SPEED_STEP = 1.3
_MOST_ROUNDS = 60
# A factor, as a logarithm, that parts what is not held to steps.
_NO_STEP = 30.0
# A piece lasts at least this long: rounding its ends then turns it too little to slow it down.
_PIECE_S = 0.001
_LOWEST_MM_S = 1e-3


def in_even_pieces(
    moves: Moves, is_outline: NDArray[np.bool_], machine: Machine
) -> tuple[Moves, NDArray[np.bool_]]:
    """Part outlines so that the speed changes little within a piece.

    Beside a corner a piece of each chord must stay whole; where the speed changes too much within
    such a piece it is capped, and only there. All else is cut where its planned speed changes.
    """
    moves, is_outline, is_whole = _guarded(moves, is_outline, machine)
    moves = _capped(moves, is_outline & is_whole, machine)
    moves, is_outline = _cut_at_speeds(moves, is_outline, is_whole, machine)
    # Whatever rounding or a very short piece has left uneven.
    return _capped(moves, is_outline, machine), is_outline


def with_power(
    moves: Moves, is_outline: NDArray[np.bool_], machine: Machine, *, line_dose: float
) -> Moves:
    """Give each piece of an outline the power that its own speed asks for."""
    profile = planned(moves, machine)
    held = _sooner(np.sqrt(_slowest(profile) * profile.peak_mm_s), moves, profile, machine)
    follows = is_outline & (moves.power > 0)
    return replace(moves, power=np.where(follows, np.minimum(line_dose * held, 1.0), moves.power))


def _sooner(held: FloatArray, moves: Moves, profile: Profile, machine: Machine) -> FloatArray:
    """Return the speeds that the power is set for: those of when a late beam obeys."""
    if machine.beam_lag_s is None or not len(moves):
        return held
    middle = np.cumsum(profile.time_s) - profile.time_s / 2
    step = moves.end_mm - moves.start_mm
    unit = step / np.maximum(moves.length_mm, 1e-9)[:, None]
    return np.interp(middle + lag_s(unit, machine), middle, held)


def _slowest(profile: Profile) -> FloatArray:
    """Return the lower of the speeds at both ends of each move."""
    return np.minimum(profile.vertex_mm_s[:-1], profile.vertex_mm_s[1:])


def _capped(moves: Moves, may_cap: NDArray[np.bool_], machine: Machine) -> Moves:
    """Lower the commanded speed of moves within which it would change by more than a step."""
    course = Course(
        moves,
        acceleration_mm_s2=machine.acceleration_mm_s2,
        cornering_mm=machine.cornering_mm,
    )
    steps = np.append(0.0, np.cumsum(np.where(may_cap, np.log(_SPEED_STEP), _NO_STEP)))
    speed = moves.speed_mm_s
    for _ in range(_MOST_ROUNDS):
        vertex, peak = course.speeds(speed)
        slow = _slow_enough(vertex, steps)
        uneven = may_cap & (peak > _SPEED_STEP * slow * (1 + 1e-6))
        capped = np.where(uneven, np.minimum(speed, _SPEED_STEP * slow + 1e-3), speed)
        if np.array_equal(capped, speed):
            # What is left begins or ends at rest: no cap makes it even.
            break
        speed = capped
    return replace(moves, speed_mm_s=speed)


def _slow_enough(vertex_mm_s: FloatArray, steps: FloatArray) -> FloatArray:
    """Return the lower of the speeds at both ends of each move, once none differs by more than a
    step from the next: running minima of their logarithms less the steps so far, both ways.
    """
    log = np.log(np.maximum(vertex_mm_s, 1e-9))
    log = np.minimum.accumulate(log - steps) + steps
    log = np.minimum.accumulate((log + steps)[::-1])[::-1] - steps
    return np.exp(np.minimum(log[:-1], log[1:]))


def _guarded(
    moves: Moves, is_outline: NDArray[np.bool_], machine: Machine
) -> tuple[Moves, NDArray[np.bool_], NDArray[np.bool_]]:
    """Part outline moves into what must stay whole beside their corners, and what may be cut.

    A corner's speed also depends on the length of the chords beside it: that much is its guard.
    """
    profile = planned(moves, machine)
    guard = np.zeros(len(moves) + 1)
    points = np.vstack([moves.start_mm[:1], moves.end_mm])
    # A little more than the arc rule asks for, since places are rounded.
    turn = turn_angles(points) * 1.02
    guard[1:-1] = turn * profile.vertex_mm_s[1:-1] ** 2 / machine.acceleration_mm_s2
    g0, g1, length = guard[:-1], guard[1:], moves.length_mm
    uneven = is_outline & (_slowest(profile) * _SPEED_STEP < profile.peak_mm_s)
    # Pieces shorter than a motor step would be changes that no machine can follow.
    least = machine.step_mm
    has_room = uneven & (length > g0 + g1 + 2 * least)
    k = np.flatnonzero(has_room)
    at_mm = np.stack([g0[k], length[k] - g1[k], length[k]], axis=1)
    inner = (at_mm[:, :2] > least) & (at_mm[:, :2] < length[k, None] - least)
    row, column = np.nonzero(np.column_stack([inner, np.ones(len(k), dtype=bool)]))
    parted, index = _cut(moves, _Cuts(move=k[row], at_mm=at_mm[row, column]))
    # Of a parted move the pieces at its ends are whole, where it has guards there.
    is_first = np.diff(index, prepend=-1) != 0
    is_last = np.diff(index, append=len(moves)) != 0
    is_whole = ~has_room[index]
    is_whole |= is_first & ~is_last & (g0[index] > least)
    is_whole |= is_last & ~is_first & (g1[index] > least)
    return parted, is_outline[index], is_whole


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cuts:
    """Where moves are cut: which, rising, and how far along, their ends among them."""

    move: NDArray[np.int64]
    at_mm: FloatArray


def _cut(moves: Moves, cuts: _Cuts) -> tuple[Moves, NDArray[np.int64]]:
    """Cut moves; also return whose each piece is."""
    count = np.maximum(np.bincount(cuts.move, minlength=len(moves)), 1)
    index = np.repeat(np.arange(len(moves)), count)
    share = np.ones(len(index))
    is_cut = np.zeros(len(moves), dtype=bool)
    is_cut[cuts.move] = True
    share[is_cut[index]] = cuts.at_mm / moves.length_mm[cuts.move]
    start = moves.start_mm
    points = start[index] + share[:, None] * (moves.end_mm - start)[index]
    pieces = rounded_moves(points, moves.rapid[index], moves.speed_mm_s[index], moves.power[index])
    return pieces, index


def rounded_moves(
    points: FloatArray, rapid: NDArray[np.bool_], speed: FloatArray, power: FloatArray
) -> Moves:
    """Return moves rounded as the program will be.

    Short moves then turn a little, which the speeds must know.
    """
    points = np.round(points, COORDINATE_DECIMALS)
    return Moves(
        x_mm=points[:, 0],
        y_mm=points[:, 1],
        rapid=rapid,
        speed_mm_s=speed,
        power=power,
    )


def planned(moves: Moves, machine: Machine) -> Profile:
    """Plan the speeds of moves by the machine's limits."""
    return plan_speeds(
        moves,
        acceleration_mm_s2=machine.acceleration_mm_s2,
        cornering_mm=machine.cornering_mm,
    )


def _cut_at_speeds(
    moves: Moves, is_outline: NDArray[np.bool_], is_whole: NDArray[np.bool_], machine: Machine
) -> tuple[Moves, NDArray[np.bool_]]:
    """Cut outline moves that are not whole where their planned speed changes by a step."""
    profile = planned(moves, machine)
    v0, v1, top = profile.vertex_mm_s[:-1], profile.vertex_mm_s[1:], profile.peak_mm_s
    uneven = is_outline & ~is_whole & (np.minimum(v0, v1) * _SPEED_STEP < top)
    k = np.flatnonzero(uneven)
    row, at_mm = _speed_steps(v0[k], v1[k], top[k], moves.length_mm[k], machine)
    pieces, index = _cut(moves, _Cuts(move=k[row], at_mm=at_mm))
    return pieces, is_outline[index]


def _speed_steps(
    v0: FloatArray, v1: FloatArray, top: FloatArray, length_mm: FloatArray, machine: Machine
) -> tuple[NDArray[np.int64], FloatArray]:
    """Return where moves are to be cut so that their speed changes little within each piece.

    Each place has its move's number beside it; the last of a move is its end.
    """
    if not len(v0):
        return np.empty(0, dtype=np.int64), np.empty(0)
    twice_a = 2 * machine.acceleration_mm_s2
    v0, v1, top, end = (values[:, None] for values in (v0, v1, top, length_mm))
    rising = (_ramp(v0, top) ** 2 - v0**2) / twice_a
    falling = end - (_ramp(v1, top) ** 2 - v1**2) / twice_a
    # The rise ends before the fall begins, give or take rounding.
    inner = np.concatenate([rising[:, 1:], falling[:, 1:]], axis=1)
    inner = np.sort(np.clip(inner, 0.0, end), axis=1)
    energy = np.minimum(v0**2 + twice_a * inner, v1**2 + twice_a * (end - inner))
    speed = np.sqrt(energy)
    kept = _spaced(
        inner,
        end,
        np.maximum(machine.step_mm, _PIECE_S * speed),
        np.maximum(machine.step_mm, _PIECE_S * v1),
    )
    places = np.concatenate([inner, end], axis=1)
    row, column = np.nonzero(np.concatenate([kept, np.ones_like(end, dtype=bool)], axis=1))
    return row, places[row, column]


def _spaced(
    at: FloatArray, end: FloatArray, least: FloatArray, least_at_end: FloatArray
) -> NDArray[np.bool_]:
    """Tell which rising places, row by row, lie far enough beyond the one kept before.

    Rows begin at 0 and end at `end`; places that are not a number are left out.
    """
    kept = np.zeros(at.shape, dtype=bool)
    last = np.zeros(len(at))
    has_room = end - at >= least_at_end
    for k in range(at.shape[1]):
        kept[:, k] = has_room[:, k] & (at[:, k] - last >= least[:, k])
        last = np.where(kept[:, k], at[:, k], last)
    return kept


def _ramp(from_mm_s: FloatArray, to_mm_s: FloatArray) -> FloatArray:
    """Return speeds from one to another in equal ratios of at most `_SPEED_STEP`, row by row.

    Rows of fewer steps go on as not a number.
    """
    low = np.maximum(from_mm_s, _LOWEST_MM_S)
    whole = np.maximum(to_mm_s / low, 1.0)
    n = np.maximum(1, np.ceil(np.log(whole) / np.log(_SPEED_STEP) - 1e-9))
    step = np.arange(int(n.max()) + 1)
    return np.asarray(np.where(step <= n, low * whole ** (step / n), np.nan))
