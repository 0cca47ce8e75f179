"""From strokes to a program's moves: travels, runs-up, runs-out, power along the path."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stopout.clearing.filling.strokes import BeamStroke
from stopout.clearing.motion import ENTRY, Profile, corner_speeds
from stopout.clearing.moving.lead import led_strokes, offset_for_play
from stopout.clearing.moving.line_rate import within_line_rate
from stopout.clearing.moving.pieces import in_even_pieces, planned, rounded_moves, with_power
from stopout.values import FloatArray, Machine, Moves

# A run-up is this much longer than the distance it takes to reach the speed: places are rounded.
_RUN_SLACK_MM = 0.0012
# Runs of fill lines count on this share of the speed that their turns allow.
_TURN = 0.97
# They count on no more than this share of the clearing speed: where a part of the program is run
# again from elsewhere, the line dose then stays within 1 / sqrt(1 - 0.45^2), 12 %.
_MOST_CREDIT = 0.45
_MOST_RUN_ROUNDS = 4
_LEAST_SPEED_MM_S = 0.5


def assemble(
    strokes: list[BeamStroke],
    *,
    machine: Machine,
    power: float,
    speed_mm_s: float,
    passes: int = 1,
) -> Moves:
    """Lay strokes one after another into moves.

    Parameters
    ----------
    strokes : list of BeamStroke
        In the order of clearing.
    machine : Machine
        Limits, and whether the power word follows the speed on outlines.
    power, speed_mm_s : float
        Fraction of full power and speed: their quotient is the line dose everywhere.
    passes : int
        How often the whole sequence is run.

    Returns
    -------
    Moves
        From rest at (0, 0) and back to it.
    """
    strokes = strokes * passes
    if not strokes:
        nothing = np.empty(0)
        return rounded_moves(np.empty((0, 2)), nothing.astype(bool), nothing, nothing)
    pace = _paces(strokes, machine, speed_mm_s)
    laid = _laid(strokes, pace, machine, power=power, speed_mm_s=speed_mm_s, is_draft=False)
    if machine.beam_lag_s is not None:
        vertex = planned(laid.moves, machine).vertex_mm_s
        strokes = led_strokes(strokes, vertex[laid.first + 2], vertex[laid.last], machine)
        laid = _laid(strokes, pace, machine, power=power, speed_mm_s=speed_mm_s, is_draft=False)
    needed = ~laid.moves.rapid | (laid.moves.length_mm > 0)
    moves, is_outline = laid.moves.taken(needed), laid.is_outline[needed]
    moves, source = offset_for_play(moves, machine)
    is_outline = is_outline[source]
    if machine.power_follows_speed is not True:
        return within_line_rate(moves, machine)
    line_dose = power / speed_mm_s
    moves, is_outline = in_even_pieces(moves, is_outline, machine)
    moves = within_line_rate(moves, machine)
    return with_power(moves, is_outline, machine, line_dose=line_dose)


def stroke_times_s(
    strokes: list[BeamStroke], *, machine: Machine, speed_mm_s: float
) -> tuple[FloatArray, FloatArray]:
    """Return what each of some strokes takes as a draft, and what the travel to each takes.

    Parameters
    ----------
    strokes : list of BeamStroke
        One after another, from rest at (0, 0).
    machine : Machine
        Limits.
    speed_mm_s : float
        Clearing speed.

    Returns
    -------
    time_s, travel_s : (n,) ndarrays
    """
    if not strokes:
        return np.empty(0), np.empty(0)
    pace = _paces(strokes, machine, speed_mm_s)
    laid = _laid(strokes, pace, machine, power=1.0, speed_mm_s=speed_mm_s, is_draft=True)
    time_s = planned(laid.moves, machine).time_s
    travel_s = time_s[laid.first]
    return np.add.reduceat(time_s[: laid.last[-1] + 1], laid.first) - travel_s, travel_s


def _paces(strokes: list[BeamStroke], machine: Machine, speed_mm_s: float) -> FloatArray:
    """Return the commanded speed of each stroke."""
    if machine.power_follows_speed:
        return np.full(len(strokes), speed_mm_s)
    return np.array(
        [
            speed_mm_s if stroke.is_fill else outline_speed_mm_s(stroke, machine, speed_mm_s)
            for stroke in strokes
        ]
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Laid:
    """Strokes as moves; `first` and `last` are each one's travel and run-out."""

    moves: Moves
    is_outline: NDArray[np.bool_]
    first: NDArray[np.int64]
    last: NDArray[np.int64]


def _laid(
    strokes: list[BeamStroke],
    pace: FloatArray,
    machine: Machine,
    *,
    power: float,
    speed_mm_s: float,
    is_draft: bool,
) -> _Laid:
    """Lay strokes into moves with runs, the power constant along each."""
    n_chords = np.array([len(stroke.is_on) for stroke in strokes])
    points = np.concatenate([stroke.points_mm for stroke in strokes])
    is_on = np.concatenate([stroke.is_on for stroke in strokes])
    is_fill = np.array([stroke.is_fill for stroke in strokes])
    # A stroke's moves: the travel to its run-up, the run-up, its chords, the run-out.
    first = np.cumsum(n_chords + 3) - (n_chords + 3)
    begin = np.cumsum(n_chords + 1) - (n_chords + 1)
    ends = _Ends(
        points=points, begin=begin, end=begin + n_chords, first=first, last=first + n_chords + 2
    )
    n_moves = int((n_chords + 3).sum())
    owner = np.repeat(np.arange(len(strokes)), n_chords + 3)
    place = np.arange(n_moves) - first[owner]
    is_chord = (place >= 2) & (place < n_chords[owner] + 2)
    within = (place >= 1) & (place < n_chords[owner] + 2)
    # The last move is the return to (0, 0): what is left for it is known when runs are laid.
    at = np.zeros((n_moves + 1, 2))
    at[:-1][within] = points
    rapid = np.append(place == 0, True)
    power_at = np.zeros(n_moves + 1)
    power_at[:-1][is_chord] = np.where(is_on, power * pace[owner[is_chord]] / speed_mm_s, 0.0)
    speed = np.where(rapid, machine.top_speed_mm_s, np.append(pace[owner], 0.0))
    at, speed = _with_runs(
        at,
        ends,
        rapid=rapid,
        speed=speed,
        pace=pace,
        is_fill=is_fill,
        machine=machine,
        is_draft=is_draft,
    )
    return _Laid(
        moves=rounded_moves(at, rapid, speed, power_at),
        is_outline=np.append(is_chord & ~is_fill[owner], False),
        first=first,
        last=ends.last,
    )


def outline_speed_mm_s(stroke: BeamStroke, machine: Machine, speed_mm_s: float) -> float:
    """Return the commanded speed of an outline.

    Where the power follows the speed, by the program or by the control itself, it is the clearing
    speed. Otherwise it is a speed that the stroke's corners allow, so that a constant power gives
    an even dose; that is right whatever the control does, so also where it is not known.
    """
    if machine.power_follows_speed:
        return speed_mm_s
    # Paths are parted at vertices slower than the least speed, so this leaves nothing stuck.
    least = min(_LEAST_SPEED_MM_S, speed_mm_s)
    return float(np.clip(_slowest_vertex(stroke, machine), least, speed_mm_s))


def _slowest_vertex(stroke: BeamStroke, machine: Machine) -> float:
    points = stroke.points_mm
    if stroke.is_closed:
        points = np.vstack([points, points[1]])
    if len(points) < 3:
        return float("inf")
    limit = corner_speeds(
        points, acceleration_mm_s2=machine.acceleration_mm_s2, cornering_mm=machine.cornering_mm
    )
    return float(limit.min())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ends:
    """Where strokes begin and end: among their points, and among the program's moves."""

    points: FloatArray
    begin: NDArray[np.int64]
    end: NDArray[np.int64]
    first: NDArray[np.int64]
    last: NDArray[np.int64]

    def lay(self, at: FloatArray, up_mm: FloatArray, out_mm: FloatArray) -> FloatArray:
        """Return the moves' ends with runs-up and runs-out straight on from the strokes."""
        head = self.points[self.begin + 1] - self.points[self.begin]
        tail = self.points[self.end] - self.points[self.end - 1]
        head, tail = (step / np.hypot(*step.T)[:, None] for step in (head, tail))
        laid = at.copy()
        laid[self.first] = self.points[self.begin] - head * up_mm[:, None]
        laid[self.last] = self.points[self.end] + tail * out_mm[:, None]
        return laid


def _with_runs(
    at: FloatArray,
    ends: _Ends,
    *,
    rapid: NDArray[np.bool_],
    speed: FloatArray,
    pace: FloatArray,
    is_fill: NDArray[np.bool_],
    machine: Machine,
    is_draft: bool,
) -> tuple[FloatArray, FloatArray]:
    """Return the moves' ends with runs-up and runs-out as long as they must be, and the speeds.

    A fill line's run need not begin at rest: the turn into the next line is taken at what its
    corner allows. An outline is entered and left no faster than it is there, or than `ENTRY`
    of the clearing speed: its power follows, so that a longer run would only cost time. Its runs
    are commanded at that speed, which holds it wherever the machine comes from.
    """
    speed = speed.copy()
    twice_a = 2 * machine.acceleration_mm_s2
    full = pace**2 / twice_a + _RUN_SLACK_MM
    up, out = full.copy(), full.copy()

    def run() -> Profile:
        moves = rounded_moves(ends.lay(at, up, out), rapid, speed, np.zeros(len(at)))
        return planned(moves, machine)

    vertex = run().vertex_mm_s
    if machine.power_follows_speed:
        outline = ~is_fill
        peak = np.maximum.reduceat(vertex[1:], ends.first + 1)
        slow = ENTRY * np.minimum(peak, pace)
        for runs, index in ((up, ends.first + 2), (out, ends.last)):
            entry = np.minimum(vertex[index], slow)
            runs[outline] = (entry**2 / twice_a + _RUN_SLACK_MM)[outline]
            # The run-up is the move before its vertex, the run-out the one after the last chord.
            move = ends.first + 1 if runs is up else ends.last
            speed[move[outline]] = entry[outline]
    # Only into and out of a line close by: a program may be taken up again at any other.
    gap = np.hypot(*(ends.points[ends.begin[1:]] - ends.points[ends.end[:-1]]).T)
    is_close = np.concatenate([[False], gap < 2 * full[1:], [False]])
    for runs, index, close in (
        (up, ends.first + 1, is_close[:-1]),
        (out, ends.last + 1, is_close[1:]),
    ):
        credit = np.minimum(_TURN * vertex[index], _MOST_CREDIT * pace)
        runs[is_fill & close] -= (credit**2 / twice_a)[is_fill & close]
    if is_draft:
        return ends.lay(at, up, out), speed
    for _ in range(_MOST_RUN_ROUNDS):
        vertex = run().vertex_mm_s
        short_up = is_fill & (vertex[ends.first + 2] < pace * (1 - 1e-9))
        short_out = is_fill & (vertex[ends.last] < pace * (1 - 1e-9))
        if not (short_up.any() or short_out.any()):
            return ends.lay(at, up, out), speed
        up[short_up], out[short_out] = full[short_up], full[short_out]
    return ends.lay(at, np.where(is_fill, full, up), np.where(is_fill, full, out)), speed


def dose_ratio_max(
    moves: Moves, profile: Profile, *, power: float, speed_mm_s: float, scales: bool
) -> float:
    """Return the largest line dose along the beam-on path relative to the intended one.

    Taken at the slowest end of each beam-on move; 0 where nothing is cleared. Where the control
    `scales` the power by its own speed over the commanded one, the dose is S over the latter.
    """
    on = moves.power > 0
    if not on.any():
        return 0.0
    slowest = np.minimum(profile.vertex_mm_s[:-1], profile.vertex_mm_s[1:])[on]
    if scales:
        slowest = moves.speed_mm_s[on]
    with np.errstate(divide="ignore"):
        ratio = (moves.power[on] / slowest) / (power / speed_mm_s)
    return float(ratio.max())
