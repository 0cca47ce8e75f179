"""Strokes along edges in order: what follows outlines, rings and lines, nearest first."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stopout.clearing.filling.order import quicker_order
from stopout.clearing.filling.strokes import NEARLY_BACK, BeamStroke, edge_stroke, turns_around
from stopout.values import COORDINATE_DECIMALS, FloatArray

__all__ = ["order_outlines", "overlapped"]

# A closed outline may begin anywhere; this many places are tried for a near one.
_PLACES = 24
_SMOOTH_TURN = np.radians(25)


def order_outlines(strokes: list[BeamStroke], *, start_mm: tuple[float, float]) -> list[BeamStroke]:
    """Order outlines by a short way; closed ones begin at a near, smooth place."""
    if not strokes:
        return []
    points, bounds = _joined(strokes)
    is_closed, smooth = _closed_and_smooth(points, bounds)
    last = np.diff(bounds) - 1
    places = np.full((len(strokes), _PLACES + 1), -1)
    places[:, 0] = 0
    places[~is_closed, 1] = last[~is_closed]
    places[is_closed, 1:] = _spread(smooth, bounds)[is_closed]
    entries = np.where((places >= 0)[..., None], points[bounds[:-1, None] + places], np.inf)
    exits = entries.copy()
    exits[~is_closed, :2] = entries[~is_closed, 1::-1]
    chosen, _ = quicker_order(entries, exits, start_mm=start_mm)
    return [
        _begun_at(strokes[k], int(places[k, way]), is_closed=bool(is_closed[k]))
        for k, way in chosen
    ]


def overlapped(strokes: list[BeamStroke], length_mm: float) -> list[BeamStroke]:
    """Return closed strokes run on over their own beginning; open ones as they are.

    Where the beam is switched on and off at speed the dose rises and falls over about a spot: each
    switched end alone would leave a notch there.
    """
    if not strokes:
        return []
    is_closed, _ = _closed_and_smooth(*_joined(strokes))
    return [
        _run_on(stroke.points_mm, length_mm) if closed else stroke
        for stroke, closed in zip(strokes, is_closed.tolist(), strict=True)
    ]


def _run_on(points: FloatArray, length_mm: float) -> BeamStroke:
    step = points[1:] - points[:-1]
    chord = np.hypot(step[:, 0], step[:, 1])
    at = chord.cumsum()
    length = min(length_mm, float(at[-1]))
    k = int(at.searchsorted(length - 1e-9))
    share = 1 - (at[k] - length) / chord[k]
    last = np.round(points[k] + share * step[k], COORDINATE_DECIMALS)
    # The end may round onto the vertex before it.
    ends = [] if (last == points[k]).all() else [last[None]]
    return edge_stroke(np.concatenate([points, points[1 : k + 1], *ends]))


def _joined(strokes: list[BeamStroke]) -> tuple[FloatArray, NDArray[np.int64]]:
    """Return the vertices of all strokes, and where each one's begin."""
    points = np.concatenate([stroke.points_mm for stroke in strokes])
    count = [len(stroke.points_mm) for stroke in strokes]
    return points, np.append(0, np.cumsum(count))


def _closed_and_smooth(
    points: FloatArray, bounds: NDArray[np.int64]
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Tell which paths end where they begin and could go on there; and where these hardly turn.

    Of a closed path's vertices the last, which is its first again, is never a smooth one. Where it
    turns sharply everywhere, all others count as smooth.
    """
    turn, at = turns_around(points, bounds)
    is_first = np.isin(at, bounds[:-1])
    is_closed = np.isin(bounds[:-1], at[is_first & (turn < NEARLY_BACK)])
    smooth = np.zeros(len(points), dtype=bool)
    smooth[at[turn < _SMOOTH_TURN]] = True
    count = np.add.reduceat(smooth, bounds[:-1], dtype=np.int64)
    whose = np.repeat(np.arange(len(count)), np.diff(bounds))
    smooth |= count[whose] == 0
    smooth[bounds[1:] - 1] = False
    return is_closed, smooth


def _spread(smooth: NDArray[np.bool_], bounds: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return up to `_PLACES` smooth vertices of each path, evenly among them; -1 for no more."""
    number = np.flatnonzero(smooth)
    begin = np.searchsorted(number, bounds)
    many = np.diff(begin)[:, None]
    n = np.minimum(many, _PLACES)
    k = np.arange(_PLACES)
    pick = np.where(k == n - 1, many - 1, (k * ((many - 1) / np.maximum(n - 1, 1))).astype(int))
    place = number[np.minimum(begin[:-1, None] + pick, max(len(number) - 1, 0))]
    return np.where(k < n, place - bounds[:-1, None], -1)


def _begun_at(stroke: BeamStroke, place: int, *, is_closed: bool) -> BeamStroke:
    """Return the stroke begun at a vertex: rolled where closed, turned round where open."""
    points = stroke.points_mm
    if is_closed:
        return edge_stroke(np.concatenate([points[place:-1], points[: place + 1]]))
    return edge_stroke(points if place == 0 else points[::-1])
