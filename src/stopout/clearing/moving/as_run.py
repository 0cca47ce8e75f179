"""What a machine makes of a program: its beam late, its drive with play.

The way back from `stopout.clearing.moving.lead`, for the prediction: the commanded moves go in, the
places come out where the head is and the beam is on. A beam switched at a time is lit from that
time and its lag on; an axis with play b follows its command only once it is b/2 behind it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from stopout.clearing.motion import Profile, plan_speeds
from stopout.clearing.moving.lead import lag_s
from stopout.values import FloatArray, Machine, Moves

_SAME_MM = 1e-9


def as_run(moves: Moves, machine: Machine) -> Moves:
    """Return the moves of the head, lit where the beam is really on.

    Parameters
    ----------
    moves : Moves
        As the program commands them.
    machine : Machine
        Supplies lag and play; without them the moves come back as they are.
    """
    if not len(moves):
        return moves
    if machine.beam_lag_s is not None and max(machine.beam_lag_s) > 0:
        moves = _lit_late(moves, machine)
    if machine.play_mm is not None and max(machine.play_mm) > 0:
        moves = _with_play(moves, machine.play_mm)
    return moves


def heads_mm(moves: Moves, machine: Machine) -> FloatArray:
    """Return, (n, 2), where the head is at the end of each move: behind by the drive's play."""
    if machine.play_mm is None or max(machine.play_mm) <= 0 or not len(moves):
        return moves.end_mm
    table = _head_rows(moves, machine.play_mm)
    last = np.searchsorted(table[:, 2], np.arange(len(moves)), side="right") - 1
    return np.asarray(table[last, :2])


def _lit_late(moves: Moves, machine: Machine) -> Moves:
    profile = plan_speeds(
        moves, acceleration_mm_s2=machine.acceleration_mm_s2, cornering_mm=machine.cornering_mm
    )
    on = moves.power > 0
    switches = np.flatnonzero(np.diff(on, prepend=False))
    if not len(switches):
        return moves
    begun = np.concatenate([[0.0], np.cumsum(profile.time_s)])
    step = moves.end_mm - moves.start_mm
    unit = step / np.maximum(moves.length_mm, _SAME_MM)[:, None]
    # A switch belongs to the lit move beside it.
    lit = np.where(on[switches], switches, switches - 1)
    when = begun[switches] + lag_s(unit[lit], machine)
    place = _places_at(when, moves, profile, begun, machine.acceleration_mm_s2)
    at = np.concatenate([[0.0], np.cumsum(moves.length_mm)])
    inner = place[(place > _SAME_MM) & (place < at[-1] - _SAME_MM)]
    places = np.concatenate([at[1:], inner])
    order = np.argsort(places, kind="stable")
    owner = np.concatenate([np.arange(len(moves)), np.searchsorted(at, inner, side="left") - 1])
    places, owner = places[order], owner[order].clip(0, len(moves) - 1)
    share = (places - at[owner]) / np.maximum(moves.length_mm[owner], _SAME_MM)
    ends = moves.start_mm[owner] + share.clip(0, 1)[:, None] * step[owner]
    middle = (places + np.concatenate([[0.0], places[:-1]])) / 2
    # Switches on and off by turns, the first one on.
    is_on = np.searchsorted(place, middle, side="right") % 2 == 1
    strongest = float(moves.power.max())
    power = np.where(is_on, np.where(on[owner], moves.power[owner], strongest), 0.0)
    return replace(moves.taken(owner), x_mm=ends[:, 0], y_mm=ends[:, 1], power=power)


def _places_at(
    when_s: FloatArray, moves: Moves, profile: Profile, begun_s: FloatArray, acceleration: float
) -> FloatArray:
    """Return how far along the program the head is at given times, in mm."""
    k = (np.searchsorted(begun_s, when_s, side="right") - 1).clip(0, len(moves) - 1)
    at = np.concatenate([[0.0], np.cumsum(moves.length_mm)])
    t = (when_s - begun_s[k]).clip(0.0, profile.time_s[k])
    v0, v1, top = profile.vertex_mm_s[k], profile.vertex_mm_s[k + 1], profile.peak_mm_s[k]
    rise, fall = (top - v0) / acceleration, (top - v1) / acceleration
    left = profile.time_s[k] - t
    gone = np.where(
        t < rise,
        v0 * t + acceleration * t**2 / 2,
        (top**2 - v0**2) / (2 * acceleration) + top * (t - rise),
    )
    to_go = v1 * left + acceleration * left**2 / 2
    gone = np.where(left < fall, moves.length_mm[k] - to_go, gone)
    return np.asarray(at[k] + gone.clip(0.0, moves.length_mm[k]))


def _with_play(moves: Moves, play_mm: tuple[float, float]) -> Moves:
    """Return where the head goes: each axis stays until its command is half the play ahead."""
    table = _head_rows(moves, play_mm)
    source = table[:, 2].astype(np.int64)
    return replace(moves.taken(source), x_mm=table[:, 0], y_mm=table[:, 1])


def _head_rows(moves: Moves, play_mm: tuple[float, float]) -> FloatArray:
    """Return rows of the head's x and y and of the move in which it gets there."""
    half = [max(b, 0.0) / 2 for b in play_mm]
    command, head = [0.0, 0.0], [0.0, 0.0]
    rows: list[tuple[float, float, int]] = []
    for k, end in enumerate(moves.end_mm.tolist()):
        shares = {1.0}
        step = [end[axis] - command[axis] for axis in (0, 1)]
        for axis in (0, 1):
            ahead = command[axis] - head[axis]
            if step[axis]:
                slack = half[axis] - ahead if step[axis] > 0 else half[axis] + ahead
                shares.add(min(1.0, max(0.0, slack) / abs(step[axis])))
        for share in sorted(shares):
            for axis in (0, 1):
                now = command[axis] + share * step[axis]
                head[axis] = min(max(head[axis], now - half[axis]), now + half[axis])
            rows.append((head[0], head[1], k))
        command = end
    return np.array(rows)
