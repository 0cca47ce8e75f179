"""Tips that the dose leaves short of the mark: free ends of lines, and the outside of sharp turns.

The prediction clears a whole mark at every beam-on point. A beam switched at speed gives less at
its end: with w the 1/e^2 radius and r the dose ratio the edge lies (w / sqrt 2) erfinv(1 - 2 / r)
beyond the switching point (0 at r = 2) where the mark reaches D / 2. Outside a turn whose arms
stand t apart, doses of the path added, it lies at the x of
exp(-2 x^2 sin^2(t/2) / w^2) erfc(sqrt 2 x cos(t/2) / w) = 1 / r.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from stopout.clearing.beam.dose import gated_end_mm
from stopout.clearing.motion import turn_angles
from stopout.values import FloatArray, Moves

# A tip counts where no beam-on move passes nearer to what is short of it, in half marks.
_PROBE, _COVER = 0.9, 0.98
# Places nearer than this are one.
_SAME_MM = 0.001
# Turns from here on leave more than a quarter of the radius.
_SHARP = math.radians(115)
# Less than this share of the radius is what the geometric model is good for.
_GOOD_RADII = 0.25
_STEPS = 50
# Lit moves that are looked at together: a panel's program has millions.
_MOST_LINES = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortTips:
    """Tips short of the prediction: how many, the worst by how much, and where that is."""

    count: int
    worst_mm: float
    at_mm: tuple[float, float]


def short_tips(moves: Moves, mark_mm: tuple[float, float], dose_ratio: float) -> ShortTips | None:
    """Find the tips that the dose leaves short by more than a quarter of the spot's radius.

    Parameters
    ----------
    moves : Moves
        The program as it is run.
    mark_mm : (float, float)
        Full axes of the mark.
    dose_ratio : float
        Line dose / threshold line dose, above 1.
    """
    on = moves.power > 0
    if not on.any():
        return None
    # Stretched so that the mark is round.
    stretch = np.array([1.0, mark_mm[0] / mark_mm[1]])
    half = mark_mm[0] / 2
    w = mark_mm[0] / math.sqrt(2 * math.log(dose_ratio))
    start, end = moves.start_mm * stretch, moves.end_mm * stretch
    places, ways, short = _ends(start, end, on, half - gated_end_mm(w, dose_ratio))
    corners = _corners(start, end, on, w, half, dose_ratio)
    places, ways = np.vstack([places, corners[0]]), np.vstack([ways, corners[1]])
    short = np.concatenate([short, corners[2]])
    wanted = short > _GOOD_RADII * w
    places, ways, short = places[wanted], ways[wanted], short[wanted]
    if not len(short):
        return None
    bare = ~_is_cleared(places, ways, np.stack([start[on], end[on]], axis=1), half)
    if not bare.any():
        return None
    worst = int(np.argmax(np.where(bare, short, 0.0)))
    x, y = places[worst] / stretch
    return ShortTips(
        count=len(np.unique(np.round(places[bare], 2), axis=0)),
        worst_mm=float(short[worst]),
        at_mm=(float(x), float(y)),
    )


def _is_cleared(places: FloatArray, ways: FloatArray, lit: FloatArray, half: float) -> np.ndarray:
    """Tell which tips other lit moves clear, or go on through."""
    points, probes = shapely.points(places), shapely.points(places + ways * _PROBE * half)
    touching = np.zeros(len(places), dtype=int)
    is_found = np.zeros(len(places), dtype=bool)
    for begin in range(0, len(lit), _MOST_LINES):
        some = lit[begin : begin + _MOST_LINES]
        lines = shapely.linestrings(some)
        tree = shapely.STRtree(lines)
        # Most tips of lines lie on an outline, which passes near what is short of them.
        left = np.flatnonzero(~is_found)
        probe, near = tree.query(probes[left], predicate="dwithin", distance=_COVER * half)
        own = shapely.distance(lines[near], points[left[probe]]) < _SAME_MM
        is_found[left[probe[~own]]] = True
        left = np.flatnonzero(~is_found)
        tip, line = tree.query(points[left], predicate="dwithin", distance=_SAME_MM)
        tip = left[tip]
        # A move that runs through a place, or a second one that comes and goes there.
        ends = np.linalg.norm(some[line] - places[tip][:, None, :], axis=2).min(axis=1)
        touching += np.bincount(tip, minlength=len(places))
        is_found[tip[ends > 2 * _SAME_MM]] = True
    return np.asarray(is_found | (touching > 2))


def _ends(
    start: FloatArray, end: FloatArray, on: np.ndarray, short_mm: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return where the beam goes on and off, the way outwards, and what is short there."""
    step = end - start
    unit = step / np.maximum(np.hypot(*step.T), 1e-12)[:, None]
    before = np.concatenate([[False], on[:-1]])
    after = np.append(on[1:], False)
    first, last = np.flatnonzero(on & ~before), np.flatnonzero(on & ~after)
    places = np.vstack([start[first], end[last]])
    return places, np.vstack([-unit[first], unit[last]]), np.full(len(places), short_mm)


def _corners(
    start: FloatArray, end: FloatArray, on: np.ndarray, w: float, half: float, ratio: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return sharp turns of lit paths, the way outwards, and what is short there."""
    nothing = np.empty((0, 2))
    if len(start) < 2:
        return nothing, nothing, np.empty(0)
    turn = turn_angles(np.vstack([start[:1], end]))
    sharp = np.flatnonzero(on[:-1] & on[1:] & (turn > _SHARP))
    one, other = start[sharp] - end[sharp], end[sharp + 1] - start[sharp + 1]
    inward = one / np.maximum(np.hypot(*one.T), 1e-12)[:, None]
    inward = inward + other / np.maximum(np.hypot(*other.T), 1e-12)[:, None]
    outward = -inward / np.maximum(np.hypot(*inward.T), 1e-12)[:, None]
    reach = np.array([_reach(np.pi - t, ratio) * w for t in turn[sharp]])
    return end[sharp], outward, half - reach


def _reach(between_rad: float, ratio: float) -> float:
    """Return how far outside a turn is cleared, in radii, by bisection."""
    sin, cos = math.sin(between_rad / 2), math.cos(between_rad / 2)
    low, high = 0.0, 3.0
    for _ in range(_STEPS):
        x = (low + high) / 2
        if math.exp(-2 * (x * sin) ** 2) * math.erfc(math.sqrt(2) * x * cos) > 1 / ratio:
            low = x
        else:
            high = x
    return low
