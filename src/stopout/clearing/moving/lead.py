"""Paths led ahead of a late beam, and offset for the play of the drive.

A beam that comes on and goes off late by t stands v t farther along its path: lines to and fro
then end 2 v t apart. So fill lines are moved back by v t against their travel, and an outline is
switched on and off that much sooner, v being the planned speed there. Along a direction (dx, dy)
the lag is t_x dx^2 + t_y dy^2.

Play b of a drive lets the head stay behind by up to b where an axis turns round. Where the command
lies b/2 ahead of the wanted place along the way that each axis moved last, the head lies on it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from stopout.clearing.filling.strokes import BeamStroke
from stopout.values import COORDINATE_DECIMALS, FloatArray, Machine, Moves

_NONE_MM = 1e-9
# A lead under the program's last digit is none.
_LEAST_MM = 10.0**-COORDINATE_DECIMALS


def lag_s(direction: FloatArray, machine: Machine) -> FloatArray:
    """Return how late the beam is along unit vectors, (..., 2) -> (...)."""
    late = np.asarray(machine.beam_lag_s or (0.0, 0.0))
    return np.asarray((direction**2 * late).sum(axis=-1))


def led_strokes(
    strokes: list[BeamStroke], begin_mm_s: FloatArray, end_mm_s: FloatArray, machine: Machine
) -> list[BeamStroke]:
    """Return strokes switched sooner by the beam's lag.

    Parameters
    ----------
    strokes : list of BeamStroke
        As they are wanted on the paint.
    begin_mm_s, end_mm_s : (n,) ndarray
        The planned speed at the beginning and the end of each.
    machine : Machine
        Supplies the lag.
    """
    return [
        _led_row(stroke, first, machine)
        if stroke.is_fill
        else _led_outline(stroke, first, last, machine)
        for stroke, first, last in zip(strokes, begin_mm_s, end_mm_s, strict=True)
    ]


def _led_row(stroke: BeamStroke, speed_mm_s: float, machine: Machine) -> BeamStroke:
    """Move a straight line back against its travel, runs and all."""
    along = _unit(stroke.points_mm[-1] - stroke.points_mm[0])
    back = along * speed_mm_s * float(lag_s(along, machine))
    return replace(stroke, points_mm=stroke.points_mm - back)


def _led_outline(
    stroke: BeamStroke, first_mm_s: float, last_mm_s: float, machine: Machine
) -> BeamStroke:
    """Begin an outline sooner, on its run-up, and end an open one sooner, on its last chords.

    A closed one runs on over its beginning anyway.
    """
    points, is_on = stroke.points_mm, stroke.is_on
    head = _unit(points[1] - points[0])
    lead = first_mm_s * float(lag_s(head, machine))
    tail = _unit(points[-1] - points[-2])
    cut = last_mm_s * float(lag_s(tail, machine))
    is_round = bool(np.hypot(*(points[0] - points[-1])) < _NONE_MM) or _meets_itself(points)
    if cut > _LEAST_MM and not is_round:
        points, is_on = _ended_sooner(points, is_on, cut)
    if lead > _LEAST_MM:
        points = np.vstack([points[:1] - head * lead, points])
        is_on = np.append(True, is_on)
    return replace(stroke, points_mm=points, is_on=is_on)


def _meets_itself(points: FloatArray) -> bool:
    """Tell whether a path begins where it has come round, as one that is run on does."""
    return bool((points[3:] == points[0]).all(axis=1).any())


def _ended_sooner(
    points: FloatArray, is_on: np.ndarray, cut_mm: float
) -> tuple[FloatArray, np.ndarray]:
    length = np.hypot(*np.diff(points, axis=0).T)
    left = np.cumsum(length[::-1])[::-1]
    if left[0] <= cut_mm + _LEAST_MM:
        return points, is_on
    # The last chord that begins farther from the end than the cut.
    k = int(np.flatnonzero(left > cut_mm)[-1])
    share = (left[k] - cut_mm) / length[k]
    at = points[k] + share * (points[k + 1] - points[k])
    return (
        np.vstack([points[: k + 1], at, points[k + 1 :]]),
        np.concatenate([is_on[: k + 1], np.zeros(len(is_on) - k, dtype=bool)]),
    )


def _unit(step: FloatArray) -> FloatArray:
    return np.asarray(step / max(float(np.hypot(*step)), _NONE_MM))


def offset_for_play(moves: Moves, machine: Machine) -> tuple[Moves, np.ndarray]:
    """Return moves whose ends lie half the play ahead, and which of the given moves each is from.

    A beam-on move after an axis has turned round is parted, so that the play is taken up within
    its first piece.
    """
    same = np.arange(len(moves))
    if machine.play_mm is None or not len(moves) or max(machine.play_mm) <= 0:
        return moves, same
    play = np.asarray(machine.play_mm)
    moves, same = _parted(moves, play, machine.step_mm)
    way = _ways(moves)
    ahead = way * play / 2
    # Home is home: the last travel to the zero stays where it is.
    if moves.rapid[-1] and moves.x_mm[-1] == 0 and moves.y_mm[-1] == 0:
        ahead[-1] = 0.0
    ends = np.round(moves.end_mm + ahead, COORDINATE_DECIMALS)
    return replace(moves, x_mm=ends[:, 0], y_mm=ends[:, 1]), same


def _ways(moves: Moves) -> FloatArray:
    """Return, (n, 2), the way each axis moved last by the end of each move: -1, 1, 0 for none."""
    step = moves.end_mm - moves.start_mm
    way = np.where(np.abs(step) > _NONE_MM, np.sign(step), 0.0)
    index = np.where(way != 0, np.arange(len(way))[:, None], 0)
    last = np.maximum.accumulate(index, axis=0)
    return np.asarray(np.take_along_axis(way, last, axis=0))


def _parted(moves: Moves, play: FloatArray, step_mm: float) -> tuple[Moves, np.ndarray]:
    way = _ways(moves)
    before = np.vstack([np.zeros((1, 2)), way[:-1]])
    turns = ((before * way < 0) & (play > 0)).any(axis=1)
    length, piece = moves.length_mm, max(float(play.max()), step_mm)
    cut = turns & (moves.power > 0) & (length > 2 * piece)
    if not cut.any():
        return moves, np.arange(len(moves))
    same = np.repeat(np.arange(len(moves)), 1 + cut)
    ends = moves.end_mm[same]
    first = np.flatnonzero(cut) + np.arange(int(cut.sum()))
    share = (piece / length[cut])[:, None]
    ends[first] = moves.start_mm[cut] + share * (moves.end_mm - moves.start_mm)[cut]
    return replace(moves.taken(same), x_mm=ends[:, 0], y_mm=ends[:, 1]), same
