"""Strokes: continuous paths of the beam, and the outline passes among them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.clearing.fill import FillRow
from stopout.clearing.motion import corner_speeds, turn_angles
from stopout.clearing.order import quicker_order
from stopout.values import COORDINATE_DECIMALS, FloatArray, Machine

# How far chords of an outline may stand off its curve.
_CHORD_MM = 0.0003
# How far a vertex that makes a chord shorter than a motor step may lie off without it.
_MERGED_MM = 0.0012
# A closed outline may begin anywhere; this many places are tried for a near one.
_PLACES = 24
# Below this speed a vertex counts as a reversal: the path is parted there.
_REVERSAL_MM_S = 0.5
# No turn under this brings the speed so low, whatever the machine's limits.
_NEARLY_BACK = np.radians(150)
_SMOOTH_TURN = np.radians(25)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BeamStroke:
    """A path of the beam without a stop.

    Attributes
    ----------
    points_mm : (n + 1, 2) ndarray
        Vertices in mm; first and last agree on a closed path.
    is_on : (n,) ndarray of bool
        Whether the beam is on along each chord.
    is_fill : bool
        True for fill lines, which run at constant speed.
    """

    points_mm: FloatArray
    is_on: NDArray[np.bool_]
    is_fill: bool

    @property
    def is_closed(self) -> bool:
        """Tell whether the path ends where it begins and could go on there.

        A path that was parted at its one reversal ends where it begins, but has two ends.
        """
        points = self.points_mm
        if points[0, 0] != points[-1, 0] or points[0, 1] != points[-1, 1]:
            return False
        return bool(turn_angles(points[[-2, 0, 1]])[0] < _NEARLY_BACK)

    def moved(self, by_mm: FloatArray) -> BeamStroke:
        """Return the path elsewhere, by whole steps of a program's decimals."""
        return replace(self, points_mm=np.round(self.points_mm + by_mm, COORDINATE_DECIMALS))


def row_stroke(row: FillRow, *, is_forward: bool, along: str) -> BeamStroke:
    """Return the stroke of one fill line, the beam off across its gaps."""
    xs = row.spans_mm.reshape(-1)
    across = 1 if along == "x" else 0
    points = np.empty((len(xs), 2))
    points[:, 1 - across] = xs if is_forward else xs[::-1]
    points[:, across] = row.height_mm
    # Stretches on and off by turns, the first and the last of them on: the same from either end.
    on = np.ones(len(xs) - 1, dtype=bool)
    on[1::2] = False
    return BeamStroke(points_mm=points, is_on=on, is_fill=True)


def outline_strokes(centres: BaseGeometry, machine: Machine) -> list[BeamStroke]:
    """Return a closed stroke along each ring of the beam centres, parted at reversals."""
    rings = shapely.get_rings(shapely.get_parts(centres))
    strokes: list[BeamStroke] = []
    for ring in shapely.simplify(rings, _CHORD_MM):
        points = _merged(_distinct(shapely.get_coordinates(ring)), machine.step_mm)
        if len(points) >= 3:
            strokes.extend(_parted(points, machine))
    return strokes


def line_strokes(lines: BaseGeometry, machine: Machine) -> list[BeamStroke]:
    """Return a stroke along each single line, parted at reversals."""
    strokes = []
    for line in shapely.get_parts(lines):
        points = _merged(_distinct(shapely.get_coordinates(line)), machine.step_mm)
        if len(points) > 1:
            strokes.extend(_parted(points, machine))
    return strokes


def path_strokes(paths: list[FloatArray], machine: Machine) -> list[BeamStroke]:
    """Return a stroke along each path of rings, parted at reversals."""
    strokes = []
    for path in paths:
        points = _merged(_distinct(path), machine.step_mm)
        if len(points) > 1:
            strokes.extend(_parted(points, machine))
    return strokes


def overlapped(stroke: BeamStroke, length_mm: float) -> BeamStroke:
    """Return a closed stroke run on over its own beginning; an open one as it is.

    Where the beam is switched on and off at speed the dose rises and falls over about a spot: each
    switched end alone would leave a notch there.
    """
    if stroke.is_fill or not stroke.is_closed:
        return stroke
    points = stroke.points_mm
    chord = np.hypot(*np.diff(points, axis=0).T)
    at = np.cumsum(chord)
    length = min(length_mm, float(at[-1]))
    k = int(np.searchsorted(at, length - 1e-9))
    share = 1 - (at[k] - length) / chord[k]
    last = points[k] + share * (points[k + 1] - points[k])
    return _outline(_distinct(np.vstack([points, points[1 : k + 1], last])))


def _outline(points: FloatArray) -> BeamStroke:
    return BeamStroke(points_mm=points, is_on=np.ones(len(points) - 1, dtype=bool), is_fill=False)


def _distinct(points: FloatArray) -> FloatArray:
    """Round to a program's decimals and drop vertices that repeat the one before.

    Rounding may fold a needle into a reversal, which must be seen before paths are parted.
    """
    points = np.round(points, COORDINATE_DECIMALS)
    gap = np.hypot(*np.diff(points, axis=0).T)
    return np.asarray(points[np.concatenate([[True], gap > 0])])


def _merged(points: FloatArray, step_mm: float) -> FloatArray:
    """Leave out vertices closer than a motor step to the one before, where the path hardly changes.

    No motor follows a shorter chord; a control that has to read it may stutter.
    """
    if len(points) < 4:
        return points
    chord = np.hypot(*np.diff(points, axis=0).T)
    if chord.min() >= step_mm:
        return points
    xy = points.tolist()
    kept: list[int] = [0]
    gone: list[int] = []
    for k in range(1, len(xy) - 1):
        begin = xy[kept[-1]]
        is_short = (xy[k][0] - begin[0]) ** 2 + (xy[k][1] - begin[1]) ** 2 < step_mm**2
        if is_short and all(_off_mm(xy[j], begin, xy[k + 1]) <= _MERGED_MM for j in (*gone, k)):
            gone.append(k)
            continue
        kept.append(k)
        gone = []
    return np.asarray(points[[*kept, len(xy) - 1]])


def _off_mm(place: list[float], begin: list[float], end: list[float]) -> float:
    """Return how far a place lies off a chord, infinite where it is not beside it."""
    dx, dy = end[0] - begin[0], end[1] - begin[1]
    px, py = place[0] - begin[0], place[1] - begin[1]
    whole = dx * dx + dy * dy
    along = px * dx + py * dy
    if not 0 <= along <= whole or whole == 0:
        return float("inf")
    return float(abs(px * dy - py * dx) / whole**0.5)


def _parted(points: FloatArray, machine: Machine) -> list[BeamStroke]:
    """Part a path where it turns back on itself; elsewhere leave it whole."""
    is_closed = bool(np.all(points[0] == points[-1]))
    around = np.vstack([points, points[1]]) if is_closed else points
    if len(around) < 3 or turn_angles(around).max() < _NEARLY_BACK:
        return [_outline(points)]
    limit = corner_speeds(
        around, acceleration_mm_s2=machine.acceleration_mm_s2, cornering_mm=machine.cornering_mm
    )
    # limit[k] belongs to vertex k + 1.
    cuts = np.flatnonzero(limit < _REVERSAL_MM_S) + 1
    if not len(cuts):
        return [_outline(points)]
    if is_closed:
        # Begin at a reversal: what is left is an open path between reversals.
        loop = points[:-1]
        begin = int(cuts[0] % len(loop))
        points = np.vstack([np.roll(loop, -begin, axis=0), loop[begin]])
        cuts = np.unique((cuts - begin) % len(loop))
        cuts = cuts[cuts > 0]
    bounds = [0, *(int(cut) for cut in cuts), len(points) - 1]
    return [_outline(points[first : last + 1]) for first, last in pairwise(bounds) if last > first]


def order_outlines(strokes: list[BeamStroke], *, start_mm: tuple[float, float]) -> list[BeamStroke]:
    """Order outlines by a short way; closed ones begin at a near, smooth place."""
    if not strokes:
        return []
    entries = np.full((len(strokes), _PLACES + 1, 2), np.inf)
    exits = np.full((len(strokes), _PLACES + 1, 2), np.inf)
    begins: list[NDArray[np.int64]] = []
    for k, stroke in enumerate(strokes):
        if stroke.is_closed:
            places = np.append(0, _smooth_places(stroke.points_mm))
            entries[k, : len(places)] = exits[k, : len(places)] = stroke.points_mm[places]
        else:
            places = np.array([0, len(stroke.points_mm) - 1])
            entries[k, :2] = stroke.points_mm[places]
            exits[k, :2] = stroke.points_mm[places[::-1]]
        begins.append(places)
    chosen, _ = quicker_order(entries, exits, start_mm=start_mm)
    return [_begun_at(strokes[k], int(begins[k][way])) for k, way in chosen]


def _smooth_places(points: FloatArray) -> NDArray[np.int64]:
    """Return up to `_PLACES` vertices of a closed path where it hardly turns, if there are any."""
    turn = turn_angles(np.vstack([points[-2], points]))
    smooth = np.flatnonzero(turn < _SMOOTH_TURN)
    if not len(smooth):
        smooth = np.arange(len(points) - 1)
    pick = np.unique(np.linspace(0, len(smooth) - 1, min(_PLACES, len(smooth))).astype(np.int64))
    return np.asarray(smooth[pick], dtype=np.int64)


def _begun_at(stroke: BeamStroke, place: int) -> BeamStroke:
    """Return the stroke begun at a vertex: rolled where closed, turned round where open."""
    points = stroke.points_mm
    if stroke.is_closed:
        loop = points[:-1]
        return _outline(np.vstack([np.roll(loop, -place, axis=0), loop[place]]))
    return _outline(points if place == 0 else points[::-1])
