"""Traced outlines without a staircase: as straight as the pixels allow, corners left alone.

Every vertex of a traced outline lies between two neighbouring pixel centres, one dark and one
light, and the true edge crosses between them too. The vertices slide along that line, within what
the greys leave open, to where the outline bends least in the sense of least squares; where it
turns sharply (a corner) a bend costs only in proportion, so that corners are not rounded off.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Coverage = Callable[[NDArray[np.int64], NDArray[np.int64]], Floats]

# A turn of more than this per pixel is taken for a corner (a curve of 7 px radius turns by 0.15).
_CORNER = 0.15
_ROUNDS = 3
_STEPS = 40
_STIFFNESS = 0.02
_SHORTEST = 0.3
# A weak hold to where the greys put the edge.
_HOLD = 5e-4
_SPREAD = 20
# Outlines are straightened some at a time: their numbers stay in the processor's cache.
_TOGETHER = 20_000


def smooth_rings(
    rings: Sequence[Floats], *, room_px: float, coverage: Coverage | None = None
) -> list[Floats]:
    """Slide the vertices of closed outlines to where they bend least.

    Parameters
    ----------
    rings : sequence of (n, 2) ndarray
        Vertices in pixels, first and last the same; each on a grid line through pixel centres
        (which lie at k + 0.5).
    room_px : float
        How far a vertex may slide either way: half a pixel for an image of black and white alone,
        less where greys say more. It never passes the pixel centres on either side.
    coverage : callable, optional
        For an image with greys along its edges: gives how much ink the pixels (rows, columns)
        hold, from 0 to 1. Edges are then placed so that the ink across them adds up.

    Returns
    -------
    list of (n, 2) ndarray
        In the same order.

    Notes
    -----
    The bounded least-squares problem is solved by the alternating direction method of multipliers
    (Boyd and others 2011, Distributed Optimization and Statistical Learning via the Alternating
    Direction Method of Multipliers, section 5.2), a fixed number of steps; large turns are
    reweighted as in Huber's estimator.
    """
    kept = [place for place, ring in enumerate(rings) if len(ring) >= 9]
    if not kept:
        return [ring.copy() for ring in rings]
    done = [ring.copy() for ring in rings]
    sizes = np.array([len(rings[place]) - 1 for place in kept])
    batch = (np.cumsum(sizes) - sizes) // _TOGETHER
    for some in np.split(np.arange(len(kept)), np.flatnonzero(np.diff(batch)) + 1):
        points = np.concatenate([rings[kept[k]][:-1] for k in some])
        moved = _slide(points, sizes[some], room_px, coverage)
        for k, part in zip(some, np.split(moved, np.cumsum(sizes[some])[:-1]), strict=True):
            done[kept[k]] = np.vstack([part, part[:1]])
    return done


def _slide(
    points: Floats, sizes: NDArray[np.int64], room: float, coverage: Coverage | None
) -> Floats:
    after, before = _neighbours(sizes)
    place = _folded(sizes)
    axis, low, high = _room(points, room)
    if coverage is None:
        pinned = _pinned(points, axis, sizes)
        low[pinned] = high[pinned] = 0.0
    else:
        points = _by_ink(points, axis, after, before, coverage)
        low, high = np.where(low < high, -room, 0.0), np.where(low < high, room, 0.0)
    shift = np.zeros(len(points))
    dual = np.zeros(len(points))
    for _ in range(_ROUNDS):
        here = points + axis * shift[:, None]
        bends = _bending(points, axis, here, after, before)
        weight = 1.0 / np.maximum(1.0, np.abs(bends.turn(shift)) / _CORNER)
        pull = -bends.pulled(weight * bends.constant)
        solver = _Banded(bends, weight, place)
        for _ in range(_STEPS):
            free = solver.solved(pull + _STIFFNESS * (shift - dual))
            over = 1.6 * free + (1 - 1.6) * shift
            shift = np.clip(over + dual, low, high)
            dual += over - shift
    shift = np.clip(shift - _drift(shift, axis, points, after, before), low, high)
    return points + axis * shift[:, None]


def _drift(
    shift: Floats, axis: Floats, points: Floats, after: NDArray[np.int64], before: NDArray[np.int64]
) -> Floats:
    """The mean outward movement over a stretch of outline, as shifts that undo it."""
    chord = points[after] - points[before]
    length = np.maximum(np.hypot(chord[:, 0], chord[:, 1]), 1e-9)
    out = (axis[:, 0] * -chord[:, 1] + axis[:, 1] * chord[:, 0]) / length
    mean = out * shift
    for _ in range(_SPREAD):
        mean = (mean[before] + mean + mean[after]) / 3
    return mean * out / np.maximum(out**2, 0.25)


def _pinned(points: Floats, axis: Floats, sizes: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Vertices of straight runs between two true corners, in an image of black and white alone.

    A slanting line shows as runs parted by steps of one pixel; a run whose neighbours both are of
    two pixels or more is a side of its own, and stands where it is drawn.
    """
    pinned = np.zeros(len(points), dtype=bool)
    start = 0
    for size in sizes.tolist():
        part = slice(start, start + size)
        across = axis[part, 0] > 0.5
        fixed = np.where(across, points[part, 0], points[part, 1])
        is_new = (across != np.roll(across, 1)) | (np.abs(fixed - np.roll(fixed, 1)) > 1e-6)
        begins = np.flatnonzero(is_new)
        if len(begins) >= 4:
            number = (np.cumsum(is_new) - 1) % len(begins)
            lengths = np.bincount(number, minlength=len(begins))
            is_side = (lengths >= 2) & (np.roll(lengths, 1) >= 2) & (np.roll(lengths, -1) >= 2)
            pinned[part] = is_side[number]
        start += size
    return pinned


def _by_ink(
    points: Floats,
    axis: Floats,
    after: NDArray[np.int64],
    before: NDArray[np.int64],
    coverage: Coverage,
) -> Floats:
    """Place vertices where the ink of four pixels across the edge puts it.

    A pixel's grey is the share of it that is covered. Across an edge that leans by at most half a
    right angle at most two pixels are covered in part: the sum of four, from full ink to bare
    paper, is then the exact place of the edge in the middle of its row or column.
    """
    across = axis[:, 0] > 0.5
    chord = points[after] - points[before]
    leans = np.where(across, np.abs(chord[:, 0]), np.abs(chord[:, 1])) <= 1.05 * np.where(
        across, np.abs(chord[:, 1]), np.abs(chord[:, 0])
    )
    along = np.where(across, points[:, 0], points[:, 1]) - 0.5
    row = np.round(np.where(across, points[:, 1], points[:, 0]) - 0.5).astype(np.int64)
    first = np.floor(along).astype(np.int64) - 1
    ink = np.stack(
        [np.where(across, coverage(row, first + k), coverage(first + k, row)) for k in range(4)]
    )
    rises = ink[0] < ink[3]
    ends = np.where(rises, ink[3], ink[0]), np.where(rises, ink[0], ink[3])
    is_whole = (ends[0] > 0.95) & (ends[1] < 0.05) & leans
    # What is all but bare or covered is so: a scan's noise and a JPEG's ringing must not add up.
    total = np.where(ink > 0.95, 1.0, np.where(ink < 0.05, 0.0, ink)).sum(axis=0)
    place = np.where(rises, first + 4.0 - total, first + total)
    is_whole &= np.abs(place - 0.5 - along) < 0.6
    moved = points.copy()
    moved[:, 0] = np.where(is_whole & across, place, points[:, 0])
    moved[:, 1] = np.where(is_whole & ~across, place, points[:, 1])
    return moved


def _neighbours(sizes: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The index after and before each vertex, round its own ring."""
    total = int(sizes.sum())
    after = np.arange(1, total + 1)
    ends = np.cumsum(sizes)
    after[ends - 1] = ends - sizes
    before = np.empty(total, dtype=np.int64)
    before[after] = np.arange(total)
    return after, before


def _room(points: Floats, room: float) -> tuple[Floats, Floats, Floats]:
    """The line on which each vertex slides, and how far back and forth."""
    off = points - 0.5 - np.round(points - 0.5)
    is_across = np.abs(off[:, 1]) <= np.abs(off[:, 0])
    axis = np.where(is_across[:, None], [1.0, 0.0], [0.0, 1.0])
    along = np.where(is_across, points[:, 0], points[:, 1]) - 0.5
    edge = np.floor(along)
    low = np.maximum(-room, edge - along + 0.02)
    high = np.minimum(room, edge + 1.0 - along - 0.02)
    # A vertex on a pixel centre, or off the grid lines where strips meet, stays.
    stuck = np.minimum(np.abs(off[:, 0]), np.abs(off[:, 1])) > 1e-6
    low[stuck | (low > 0.0)] = 0.0
    high[stuck | (high < 0.0)] = 0.0
    return axis, low, high


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Bends:
    """The turn at each vertex as a linear function of the shifts of it and its neighbours."""

    back: Floats
    own: Floats
    ahead: Floats
    constant: Floats
    before: NDArray[np.int64]
    after: NDArray[np.int64]

    def turn(self, shift: Floats) -> Floats:
        """The turns at given shifts."""
        near = self.back * shift[self.before] + self.ahead * shift[self.after]
        return near + self.own * shift + self.constant

    def pulled(self, turn: Floats) -> Floats:
        """The transpose of that function, applied to turns."""
        near = (self.ahead * turn)[self.before] + (self.back * turn)[self.after]
        out: Floats = near + self.own * turn
        return out


def _bending(
    points: Floats, axis: Floats, here: Floats, after: NDArray[np.int64], before: NDArray[np.int64]
) -> _Bends:
    chord = here[after] - here[before]
    length = np.maximum(np.hypot(chord[:, 0], chord[:, 1]), 1e-9)
    normal = np.column_stack([-chord[:, 1], chord[:, 0]]) / length[:, None]
    step = np.maximum(np.hypot(*(here[after] - here).T), _SHORTEST)
    ahead, back = 1.0 / step, 1.0 / step[before]

    def leaning(lines: Floats) -> Floats:
        return np.asarray(np.einsum("ij,ij->i", normal, lines))

    second = ahead[:, None] * (points[after] - points) - back[:, None] * (points - points[before])
    return _Bends(
        back=back * leaning(axis[before]),
        own=-(ahead + back) * leaning(axis),
        ahead=ahead * leaning(axis[after]),
        constant=leaning(second),
        before=before,
        after=after,
    )


def _folded(sizes: NDArray[np.int64]) -> NDArray[np.int64]:
    """A place for each vertex: its ring is laid together, so that neighbours lie side by side.

    From the first vertex both ways round take turns: 0, n - 1, 1, n - 2 and so on. What lies two
    apart on a ring lies at most four apart so, its last vertex and its first one too.
    """
    start = np.repeat(np.cumsum(sizes) - sizes, sizes)
    number = np.arange(len(start)) - start
    size = np.repeat(sizes, sizes)
    return np.asarray(start + np.where(2 * number < size, 2 * number, 2 * (size - number) - 1))


class _Banded:
    """The normal equations of the bends, as a band beside the diagonal of four places."""

    def __init__(self, bends: _Bends, weight: Floats, place: NDArray[np.int64]) -> None:
        from scipy.linalg import cholesky_banded

        after, before = bends.after, bends.before
        back, own, ahead = bends.back, bends.own, bends.ahead
        self.place = place
        band = np.zeros((5, len(place)))
        weighed = [weight * part for part in (back, own, ahead)]
        band[0, place] = (
            weighed[1] * own + (weighed[2] * ahead)[before] + (weighed[0] * back)[after]
        ) + (_STIFFNESS + _HOLD)
        next_one = weighed[1] * ahead + (weighed[0] * own)[after]
        for neighbour, entry in ((after, next_one), (after[after], (weighed[0] * ahead)[after])):
            low = np.minimum(place, place[neighbour])
            band[np.abs(place - place[neighbour]), low] = entry
        self.factor = cholesky_banded(band, lower=True, overwrite_ab=True, check_finite=False)

    def solved(self, right: Floats) -> Floats:
        """Solve for the shifts."""
        from scipy.linalg import cho_solve_banded

        laid = np.empty_like(right)
        laid[self.place] = right
        found: Floats = cho_solve_banded((self.factor, True), laid, check_finite=False)[self.place]
        return found
