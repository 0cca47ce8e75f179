"""From strokes to a program's moves: travels, runs-up, runs-out, power along the path."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stopout.clearing.lead import lag_s, led_strokes, offset_for_play
from stopout.clearing.line_rate import within_line_rate
from stopout.clearing.motion import Course, Profile, corner_speeds, plan_speeds, turn_angles
from stopout.clearing.strokes import BeamStroke
from stopout.values import COORDINATE_DECIMALS, FloatArray, Machine, Moves

# Within one move of an outline the speed changes by no more than this factor, so that a power
# held for the move keeps the line dose within its square root (14 %).
_SPEED_STEP = 1.3
_MOST_ROUNDS = 60
# A run-up is this much longer than the distance it takes to reach the speed: places are rounded.
_RUN_SLACK_MM = 0.0012
# Outlines are entered and left at no more than this share of the speed that they reach.
_ENTRY = 0.3
# Runs of fill lines count on this share of the speed that their turns allow.
_TURN = 0.97
# They count on no more than this share of the clearing speed: where a part of the program is run
# again from elsewhere, the line dose then stays within 1 / sqrt(1 - 0.45^2), 12 %.
_MOST_CREDIT = 0.45
_MOST_RUN_ROUNDS = 4
_NO_TRAVEL_MM = 5e-5
_LEAST_SPEED_MM_S = 0.5
# Pieces shorter than this share of a motor step would be changes that no machine can follow.
_STEP_SHARE = 1.0
# A piece lasts at least this long: rounding its ends then turns it too little to slow it down.
_PIECE_S = 0.001


def assemble(
    strokes: list[BeamStroke],
    *,
    machine: Machine,
    power: float,
    speed_mm_s: float,
    passes: int = 1,
    is_draft: bool = False,
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
    is_draft : bool
        True leaves the power constant on outlines: enough to compare times.

    Returns
    -------
    Moves
        From rest at (0, 0) and back to it.
    """
    strokes = strokes * passes
    if not strokes:
        nothing = np.empty(0)
        return _moves(np.empty((0, 2)), nothing.astype(bool), nothing, nothing)
    pace = _paces(strokes, machine, speed_mm_s)
    laid = _laid(strokes, pace, machine, power=power, speed_mm_s=speed_mm_s, is_draft=is_draft)
    if machine.beam_lag_s is not None and not is_draft:
        vertex = _planned(laid.moves, machine).vertex_mm_s
        strokes = led_strokes(strokes, vertex[laid.first + 2], vertex[laid.last], machine)
        laid = _laid(strokes, pace, machine, power=power, speed_mm_s=speed_mm_s, is_draft=False)
    needed = ~laid.moves.rapid | (laid.moves.length_mm > _NO_TRAVEL_MM)
    moves, is_outline = _select(laid.moves, needed), laid.is_outline[needed]
    if is_draft:
        return moves
    moves, source = offset_for_play(moves, machine)
    is_outline = is_outline[source]
    if machine.power_follows_speed is not True:
        return within_line_rate(moves, machine)
    line_dose = power / speed_mm_s
    moves, is_outline = _in_even_pieces(moves, is_outline, machine)
    moves = within_line_rate(moves, machine)
    return _with_power(moves, is_outline, machine, line_dose=line_dose)


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
    time_s = _planned(laid.moves, machine).time_s
    travel_s = time_s[laid.first]
    return np.add.reduceat(time_s[: laid.last[-1] + 1], laid.first) - travel_s, travel_s


def _paces(strokes: list[BeamStroke], machine: Machine, speed_mm_s: float) -> FloatArray:
    """Return the commanded speed of each stroke."""
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
        moves=_moves(at, rapid, speed, power_at),
        is_outline=np.append(is_chord & ~is_fill[owner], False),
        first=first,
        last=ends.last,
    )


def _select(moves: Moves, kept: NDArray[np.bool_]) -> Moves:
    return Moves(
        x_mm=moves.x_mm[kept],
        y_mm=moves.y_mm[kept],
        rapid=moves.rapid[kept],
        speed_mm_s=moves.speed_mm_s[kept],
        power=moves.power[kept],
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
    corner allows. An outline is entered and left no faster than it is there, or than `_ENTRY`
    of the clearing speed: its power follows, so that a longer run would only cost time. Its runs
    are commanded at that speed, which holds it wherever the machine comes from.
    """
    speed = speed.copy()
    twice_a = 2 * machine.acceleration_mm_s2
    full = pace**2 / twice_a + _RUN_SLACK_MM
    up, out = full.copy(), full.copy()

    def planned() -> Profile:
        moves = _moves(ends.lay(at, up, out), rapid, speed, np.zeros(len(at)))
        return _planned(moves, machine)

    vertex = planned().vertex_mm_s
    if machine.power_follows_speed:
        outline = ~is_fill
        peak = np.maximum.reduceat(vertex[1:], ends.first + 1)
        slow = _ENTRY * np.minimum(peak, pace)
        for runs, index in ((up, ends.first + 2), (out, ends.last)):
            entry = np.minimum(vertex[index], slow)
            runs[outline] = (entry**2 / twice_a + _RUN_SLACK_MM)[outline]
            # The run-up is the move before its vertex, the run-out the one after the last chord.
            move = ends.first + 1 if runs is up else ends.last
            speed[move[outline]] = entry[outline]
        if is_fill.any():
            vertex = planned().vertex_mm_s
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
        vertex = planned().vertex_mm_s
        short_up = is_fill & (vertex[ends.first + 2] < pace * (1 - 1e-9))
        short_out = is_fill & (vertex[ends.last] < pace * (1 - 1e-9))
        if not (short_up.any() or short_out.any()):
            return ends.lay(at, up, out), speed
        up[short_up], out[short_out] = full[short_up], full[short_out]
    return ends.lay(at, np.where(is_fill, full, up), np.where(is_fill, full, out)), speed


def _moves(
    points: FloatArray, rapid: NDArray[np.bool_], speed: FloatArray, power: FloatArray
) -> Moves:
    # Rounded as the program will be: short moves then turn a little, which the speeds must know.
    points = np.round(points, COORDINATE_DECIMALS)
    return Moves(
        x_mm=points[:, 0],
        y_mm=points[:, 1],
        rapid=rapid,
        speed_mm_s=speed,
        power=power,
    )


def _in_even_pieces(
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


def _with_power(
    moves: Moves, is_outline: NDArray[np.bool_], machine: Machine, *, line_dose: float
) -> Moves:
    """Give each piece of an outline the power that its own speed asks for."""
    profile = _planned(moves, machine)
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
    speed = moves.speed_mm_s
    for _ in range(_MOST_ROUNDS):
        profile = course.profile(speed)
        slow = _slowest(profile)
        uneven = may_cap & (profile.peak_mm_s > _SPEED_STEP * slow * (1 + 1e-6))
        if not uneven.any():
            break
        capped = np.where(uneven, np.minimum(speed, _SPEED_STEP * slow + 1e-3), speed)
        if np.array_equal(capped, speed):
            # What is left begins or ends at rest: no cap makes it even.
            break
        speed = capped
    return replace(moves, speed_mm_s=speed)


def _guarded(
    moves: Moves, is_outline: NDArray[np.bool_], machine: Machine
) -> tuple[Moves, NDArray[np.bool_], NDArray[np.bool_]]:
    """Part outline moves into what must stay whole beside their corners, and what may be cut.

    A corner's speed also depends on the length of the chords beside it: that much is its guard.
    """
    profile = _planned(moves, machine)
    guard = np.zeros(len(moves) + 1)
    points = np.vstack([moves.start_mm[:1], moves.end_mm])
    # A little more than the arc rule asks for, since places are rounded.
    turn = turn_angles(points) * 1.02
    guard[1:-1] = turn * profile.vertex_mm_s[1:-1] ** 2 / machine.acceleration_mm_s2
    g0, g1, length = guard[:-1], guard[1:], moves.length_mm
    uneven = is_outline & (_slowest(profile) * _SPEED_STEP < profile.peak_mm_s)
    has_room = uneven & (length > g0 + g1 + 2 * machine.step_mm * _STEP_SHARE)
    least = machine.step_mm * _STEP_SHARE
    places = {
        int(k): np.array(
            [at for at in (g0[k], length[k] - g1[k]) if least < at < length[k] - least]
            + [length[k]]
        )
        for k in np.flatnonzero(has_room)
    }
    parted, index = _cut(moves, places)
    # Of a parted move the pieces at its ends are whole, where it has guards there.
    is_first = np.diff(index, prepend=-1) != 0
    is_last = np.diff(index, append=len(moves)) != 0
    is_whole = ~has_room[index]
    is_whole |= is_first & ~is_last & (g0[index] > least)
    is_whole |= is_last & ~is_first & (g1[index] > least)
    return parted, is_outline[index], is_whole


def _cut(moves: Moves, places: dict[int, FloatArray]) -> tuple[Moves, NDArray[np.int64]]:
    """Cut moves at places along them, the last being their end; also return whose each piece is."""
    count = np.ones(len(moves), dtype=np.int64)
    for k, at in places.items():
        count[k] = len(at)
    index = np.repeat(np.arange(len(moves)), count)
    first = np.cumsum(count) - count
    share = np.ones(len(index))
    length = moves.length_mm
    for k, at in places.items():
        share[first[k] : first[k] + count[k]] = at / length[k]
    start = moves.start_mm
    points = start[index] + share[:, None] * (moves.end_mm - start)[index]
    pieces = _moves(points, moves.rapid[index], moves.speed_mm_s[index], moves.power[index])
    return pieces, index


def _planned(moves: Moves, machine: Machine) -> Profile:
    return plan_speeds(
        moves,
        acceleration_mm_s2=machine.acceleration_mm_s2,
        cornering_mm=machine.cornering_mm,
    )


def _cut_at_speeds(
    moves: Moves, is_outline: NDArray[np.bool_], is_whole: NDArray[np.bool_], machine: Machine
) -> tuple[Moves, NDArray[np.bool_]]:
    """Cut outline moves that are not whole where their planned speed changes by a step."""
    profile = _planned(moves, machine)
    v0, v1, top = profile.vertex_mm_s[:-1], profile.vertex_mm_s[1:], profile.peak_mm_s
    length = moves.length_mm
    uneven = is_outline & ~is_whole & (np.minimum(v0, v1) * _SPEED_STEP < top)
    places = {
        int(k): _speed_steps(v0[k], v1[k], top[k], length[k], machine)
        for k in np.flatnonzero(uneven)
    }
    pieces, index = _cut(moves, places)
    return pieces, is_outline[index]


def _speed_steps(
    v0: float, v1: float, top: float, length_mm: float, machine: Machine
) -> FloatArray:
    """Return where one move is to be cut so that its speed changes little within each piece.

    The last place is the end of the move.
    """
    twice_a = 2 * machine.acceleration_mm_s2
    up, down = _ramp(v0, top), _ramp(v1, top)[::-1]
    rising = (up**2 - v0**2) / twice_a
    falling = length_mm - (down**2 - v1**2) / twice_a
    places = np.concatenate([[0.0], rising[1:], falling[:-1], [length_mm]])
    # The rise ends before the fall begins, give or take rounding.
    places = np.sort(places.clip(0.0, length_mm))
    speed = np.sqrt(
        np.minimum(v0**2 + twice_a * places, v1**2 + twice_a * (length_mm - places)).clip(0, top**2)
    )
    least = np.maximum(machine.step_mm * _STEP_SHARE, _PIECE_S * speed)
    return places[_spaced(places, least)[1:]]


def _spaced(at: FloatArray, least: FloatArray) -> NDArray[np.int64]:
    """Return indices of rising places, each `least` beyond the one before; the ends stay."""
    place, room = at.tolist(), least.tolist()
    kept = [0]
    for k in range(1, len(place) - 1):
        if place[k] - place[kept[-1]] >= room[k] and place[-1] - place[k] >= room[-1]:
            kept.append(k)
    return np.asarray([*kept, len(place) - 1], dtype=np.int64)


def _ramp(from_mm_s: float, to_mm_s: float) -> FloatArray:
    """Return speeds from one to another in equal ratios of at most `_SPEED_STEP`."""
    low = max(from_mm_s, 1e-3)
    whole = max(to_mm_s / low, 1.0)
    n = max(1, math.ceil(math.log(whole) / math.log(_SPEED_STEP) - 1e-9))
    return np.asarray(low * whole ** (np.arange(n + 1) / n))


def dose_ratio_max(
    moves: Moves, profile: Profile, *, power: float, speed_mm_s: float, scales: bool = False
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
