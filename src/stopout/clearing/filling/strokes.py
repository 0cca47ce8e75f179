"""Strokes: continuous paths of the beam, and the outline passes among them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.clearing.filling.fill import FillRow
from stopout.clearing.motion import corner_speeds, turn_angles
from stopout.values import COORDINATE_DECIMALS, FloatArray, Machine

# How far chords of an outline may stand off its curve.
_CHORD_MM = 0.0003
# How far a vertex that makes a chord shorter than a motor step may lie off without it.
_MERGED_MM = 0.0012
# Below this speed a vertex counts as a reversal: the path is parted there.
_REVERSAL_MM_S = 0.5
# No turn under this brings the speed so low, whatever the machine's limits.
NEARLY_BACK = np.radians(150)


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
        return bool(turn_angles(points[[-2, 0, 1]])[0] < NEARLY_BACK)

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


def outlines_of(areas: NDArray[np.object_], machine: Machine) -> list[list[BeamStroke]]:
    """Return closed strokes along the rings of each of some polygons, parted at reversals."""
    rings, home = shapely.get_rings(areas, return_index=True)
    xy, ring = shapely.get_coordinates(shapely.simplify(rings, _CHORD_MM), return_index=True)
    bounds = np.searchsorted(ring, np.arange(len(rings) + 1)).tolist()
    paths: list[list[FloatArray]] = [[] for _ in areas]
    for whose, (a, b) in zip(home.tolist(), pairwise(bounds), strict=True):
        paths[whose].append(xy[a:b])
    return path_strokes(paths, machine, least=3)


def line_strokes(lines: BaseGeometry, machine: Machine) -> list[BeamStroke]:
    """Return a stroke along each single line, parted at reversals."""
    paths = [shapely.get_coordinates(line) for line in shapely.get_parts(lines)]
    return path_strokes([paths], machine)[0]


def path_strokes(
    groups: Sequence[Sequence[FloatArray]], machine: Machine, *, least: int = 2
) -> list[list[BeamStroke]]:
    """Return for each group a stroke along each of its paths, parted at reversals.

    Paths of fewer vertices than `least` give none.
    """
    paths = [path for group in groups for path in group]
    home = np.repeat(np.arange(len(groups)), [len(group) for group in groups]).tolist()
    found: list[list[BeamStroke]] = [[] for _ in groups]
    for k, points, turns_back in _cleaned(paths, machine.step_mm):
        if len(points) >= least:
            found[home[k]] += _parted(points, machine) if turns_back else [edge_stroke(points)]
    return found


def _cleaned(paths: Sequence[FloatArray], step_mm: float) -> Iterator[tuple[int, FloatArray, bool]]:
    """Yield each path's number, its vertices that count, and whether it turns back anywhere."""
    if not paths:
        return
    points = np.concatenate(paths)
    whose = np.repeat(np.arange(len(paths)), [len(path) for path in paths])
    points, whose = _distinct(points, whose)
    kept = np.ones(len(points), dtype=bool)
    is_short = np.hypot(*np.diff(points, axis=0).T) < step_mm
    bounds = np.searchsorted(whose, np.arange(len(paths) + 1))
    for k in np.unique(whose[1:][is_short]).tolist():
        a, b = bounds[k : k + 2]
        kept[a:b] = _kept(points[a:b], np.flatnonzero(is_short[a : b - 1]) + 1, step_mm)
    points, whose = points[kept], whose[kept]
    bounds = np.searchsorted(whose, np.arange(len(paths) + 1))
    turns_back = np.zeros(len(paths), dtype=bool)
    turn, at = turns_around(points, bounds)
    turns_back[whose[at[turn >= NEARLY_BACK]]] = True
    ends = zip(pairwise(bounds.tolist()), turns_back.tolist(), strict=True)
    for k, ((a, b), turning) in enumerate(ends):
        yield k, points[a:b], turning


def turns_around(
    points: FloatArray, bounds: NDArray[np.int64]
) -> tuple[FloatArray, NDArray[np.int64]]:
    """Return the turns of paths that stand one after another, and the vertices where they are.

    A path that ends where it begins turns at its first vertex too, an open one at its inner ones
    only. Those at the first vertices stand behind all others, path by path.
    """
    first, last = bounds[:-1], bounds[1:] - 1
    is_inner = np.ones(len(points), dtype=bool)
    is_inner[first[first <= last]] = is_inner[last[first <= last]] = False
    inner = np.flatnonzero(is_inner)
    many = last - first >= 2
    first, last = first[many], last[many]
    is_closed = (points[first] == points[last]).all(axis=1)
    first, last = first[is_closed], last[is_closed]
    before, at = np.append(inner - 1, last - 1), np.append(inner, first)
    behind, ahead = points[at] - points[before], points[at + 1] - points[at]
    cross = behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]
    return np.abs(np.arctan2(cross, np.einsum("ij,ij->i", behind, ahead))), at


def _distinct(points: FloatArray, whose: NDArray[np.int64]) -> tuple[FloatArray, NDArray[np.int64]]:
    """Round to a program's decimals and drop vertices that repeat the one before.

    Rounding may fold a needle into a reversal, which must be seen before paths are parted.
    """
    points = np.round(points, COORDINATE_DECIMALS)
    moves = (points[1:] != points[:-1]).any(axis=1) | (whose[1:] != whose[:-1])
    kept = np.append(True, moves)
    return points[kept], whose[kept]


def _kept(points: FloatArray, short: NDArray[np.int64], step_mm: float) -> NDArray[np.bool_]:
    """Tell which vertices stay when those closer than a motor step to the one before are left out.

    They are left out where the path hardly changes by it. No motor follows a shorter chord; a
    control that has to read it may stutter. `short` are the vertices at the ends of such chords.
    """
    xy = points.tolist()
    kept = np.ones(len(xy), dtype=bool)
    done = 0
    for start in short.tolist():
        if start <= done:
            continue
        begin, k = xy[start - 1], start
        gone: list[int] = []
        while (
            k < len(xy) - 1
            and (xy[k][0] - begin[0]) ** 2 + (xy[k][1] - begin[1]) ** 2 < step_mm**2
            and all(_off_mm(xy[j], begin, xy[k + 1]) <= _MERGED_MM for j in (*gone, k))
        ):
            gone.append(k)
            k += 1
        kept[gone] = False
        # The vertex that was kept is the last that has been looked at.
        done = k
    return kept


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
    """Part a path that turns back on itself somewhere where it comes to rest for that."""
    is_closed = bool(np.all(points[0] == points[-1]))
    # Of an open path this adds a turn at its end, where it ends anyway.
    around = np.vstack([points, points[1]])
    limit = corner_speeds(
        around, acceleration_mm_s2=machine.acceleration_mm_s2, cornering_mm=machine.cornering_mm
    )
    # limit[k] belongs to vertex k + 1.
    cuts = np.flatnonzero(limit < _REVERSAL_MM_S) + 1
    if not len(cuts):
        return [edge_stroke(points)]
    if is_closed:
        # Begin at a reversal: what is left is an open path between reversals.
        loop = points[:-1]
        begin = int(cuts[0] % len(loop))
        points = np.vstack([np.roll(loop, -begin, axis=0), loop[begin]])
        cuts = np.unique((cuts - begin) % len(loop))
        cuts = cuts[cuts > 0]
    bounds = [0, *(int(cut) for cut in cuts), len(points) - 1]
    return [
        edge_stroke(points[first : last + 1]) for first, last in pairwise(bounds) if last > first
    ]


def edge_stroke(points: FloatArray) -> BeamStroke:
    """Return a stroke along an edge by its vertices, the beam on all along."""
    return BeamStroke(points_mm=points, is_on=np.ones(len(points) - 1, dtype=bool), is_fill=False)
