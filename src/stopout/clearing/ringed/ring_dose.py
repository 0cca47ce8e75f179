"""The dose that rings and further lines bring to places between them.

All places of all parts are asked in one go: each point is paired with the chords near it, and what
the chords of one track bring is summed pair by pair.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from stopout.clearing.beam.spot import FWHM_PER_RADIUS
from stopout.values import FloatArray

__all__ = ["Tracks"]

Index = NDArray[np.int64]

# A line this many spot radii off brings less than a thousandth of its dose: exp(-2 x 1.9^2).
_DOSE_REACH = 1.9
# 1/e^2 radius of a spot whose line at a dose ratio of 2 is a mark wide, in marks.
_RADIUS = 1 / FWHM_PER_RADIUS
# Chords are looked for by the middles of pieces no longer than this.
_PIECE = 0.8
_NEAR = _DOSE_REACH * _RADIUS + _PIECE / 2
# So many points are asked at once: memory.
_AT_ONCE = 20_000


class Tracks:
    """Rings and lines in a plane where the mark is a disc of diameter 1, as chords with owners.

    Parameters
    ----------
    paths : sequence of (n, 2) ndarray
        Vertices; first and last agree on a closed path.
    owner : (len(paths),) ndarray
        Whose each is: points are asked of the tracks of one owner only.
    """

    def __init__(self, paths: Sequence[FloatArray], owner: Index) -> None:
        points = np.concatenate([*paths, np.empty((0, 2))])
        track = np.repeat(np.arange(len(paths)), [len(path) for path in paths])
        step = np.diff(points, axis=0)
        length = np.hypot(*step.T)
        real = (track[1:] == track[:-1]) & (length > 0)
        self.start, self.length, self.track = points[:-1][real], length[real], track[:-1][real]
        self.ahead = step[real] / self.length[:, None]
        self.whole = np.bincount(self.track, self.length, minlength=len(paths))
        self.begin = np.cumsum(self.length) - self.length
        self.is_closed = np.array([np.array_equal(path[0], path[-1]) for path in paths], dtype=bool)
        self.owner = np.asarray(owner)
        self._found: tuple[FloatArray, Index] | None = None

    def dose(self, at: FloatArray, asker: Index) -> FloatArray:
        """Return the largest line dose that any one track of the asker's brings to each point.

        1 in the middle of a straight line, marks being 1 wide: summed over the chords within reach
        along the line, each with a Gaussian spot whose line at a dose ratio of 2 is a mark wide.
        Chords too far off to bring a thousandth are left out.
        """
        most = np.zeros(len(at))
        for first in range(0, len(at), _AT_ONCE):
            some = slice(first, first + _AT_ONCE)
            most[some] = self._dose(at[some], asker[some])
        return most

    def _dose(self, at: FloatArray, asker: Index) -> FloatArray:
        most = np.zeros(len(at))
        point, chord = self._pairs(at, asker)
        if not len(point):
            return most
        begins = np.flatnonzero(
            np.append(True, (np.diff(point) != 0) | (np.diff(self.track[chord]) != 0))
        )
        dose = np.add.reduceat(self._pair_doses(at[point], chord, begins), begins)
        np.maximum.at(most, point[begins], dose)
        return most

    def _pairs(self, at: FloatArray, asker: Index) -> tuple[Index, Index]:
        """Return which points lie near which chords of their asker's, point by point."""
        from scipy.spatial import cKDTree

        middle, chord = self._pieces()
        some = _in_cells(middle, at)
        trees = [
            cKDTree(places, balanced_tree=False, compact_nodes=False)
            for places in (at, middle[some])
        ]
        near = trees[0].sparse_distance_matrix(trees[1], _NEAR, output_type="ndarray")
        point, chord = near["i"], chord[some][near["j"]]
        mine = self.owner[self.track[chord]] == asker[point]
        pairs = np.unique(point[mine] * len(self.length) + chord[mine])
        point, chord = np.divmod(pairs, len(self.length))
        return point, chord

    def _pieces(self) -> tuple[FloatArray, Index]:
        """Return the middles of short pieces of all chords, and whose each is."""
        if self._found is None:
            n = np.ceil(self.length / _PIECE).astype(np.int64)
            chord = np.repeat(np.arange(len(n)), n)
            share = (np.arange(len(chord)) - (np.cumsum(n) - n)[chord] + 0.5) / n[chord]
            along = (share * self.length[chord])[:, None] * self.ahead[chord]
            self._found = (self.start[chord] + along, chord)
        return self._found

    def _pair_doses(self, at: FloatArray, chord: Index, begins: Index) -> FloatArray:
        """Return what chords bring to points, those far off along the line nothing.

        Pairs of one point and one track stand together, from `begins` on.
        """
        from scipy.special import erf

        ahead, length = self.ahead[chord], self.length[chord]
        x, y = (at - self.start[chord]).T
        along = x * ahead[:, 0] + y * ahead[:, 1]
        across = y * ahead[:, 0] - x * ahead[:, 1]
        on = along.clip(0, length)
        count = np.diff(np.append(begins, len(chord)))
        off = across**2 + (along - on) ** 2
        nearest = np.flatnonzero(off == np.repeat(np.minimum.reduceat(off, begins), count))
        nearest = nearest[np.searchsorted(nearest, begins)]
        begin = self.begin[chord]
        here = np.repeat((begin + on)[nearest], count)
        gap = np.abs(begin + length / 2 - here)
        track = self.track[chord]
        gap = np.where(self.is_closed[track], np.minimum(gap, self.whole[track] - gap), gap)
        w = _RADIUS
        near = (gap - length / 2 < 2 * w) & (off < (_DOSE_REACH * w) ** 2)
        along, across, length = along[near], across[near], length[near]
        share = erf(np.sqrt(2) / w * along) - erf(np.sqrt(2) / w * (along - length))
        dose = np.zeros(len(chord))
        dose[near] = np.exp(-2 / w**2 * across**2) * share / 2
        return dose


def _in_cells(places: FloatArray, at: FloatArray) -> Index:
    """Return those places that lie in or beside a cell in which a point lies."""
    low = at.min(axis=0) - 2 * _NEAR
    n_rows = int(np.ptp(at[:, 1]) // _NEAR) + 5
    cells = np.floor((at - low) / _NEAR).astype(np.int64)
    beside = np.array([[dx, dy] for dx in (-1, 0, 1) for dy in (-1, 0, 1)])
    around = np.unique(cells @ (n_rows, 1))[:, None] + beside @ (n_rows, 1)
    cell = np.floor((places - low) / _NEAR).astype(np.int64)
    within = np.flatnonzero(((cell >= 0) & (cell <= cells.max(axis=0) + 1)).all(axis=1))
    return within[np.isin(cell[within] @ (n_rows, 1), around)]
