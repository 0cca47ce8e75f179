"""Visits in a short way: nearest first by a search tree, then made shorter by turning stretches.

Items have several ways of being visited, each with an entry and an exit. Every way can be gone
backwards: some other way (or the same) enters where it leaves.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stopout.values import FloatArray

Visit = tuple[int, int]

# Up to so many entries are simply all looked at.
_FEW = 128
_ASKED = 8
# Turning stretches costs more than it saves on more items than this.
_MOST_ITEMS = 5000
_NEIGHBOURS = 6
_MOST_PASSES = 12
_GAIN_MM = 1e-6
_SAME_MM = 1e-9


def nearest_first(
    entries: FloatArray, exits: FloatArray, *, start_mm: tuple[float, float]
) -> tuple[list[Visit], tuple[float, float]]:
    """Visit items one after another, always the one with the nearest entry.

    Parameters
    ----------
    entries, exits : (n, k, 2) ndarray
        Entry and exit points of each item for each of its k ways; infinite where there is none.
    start_mm : (float, float)
        Where the visit begins.

    Returns
    -------
    chosen : list of (item, way)
    end_mm : (float, float)
        The last exit.
    """
    n_ways = entries.shape[1]
    here = np.asarray(start_mm, dtype=float)
    search = _Search(entries)
    chosen = []
    for _ in range(len(entries)):
        item, way = divmod(search.take_nearest(here), n_ways)
        chosen.append((item, way))
        here = exits[item, way]
    return chosen, (float(here[0]), float(here[1]))


class _Search:
    """Finds the nearest entry of the items not yet taken."""

    def __init__(self, entries: FloatArray) -> None:
        self.n_ways = entries.shape[1]
        self.points = entries.reshape(-1, 2)
        self.is_left = np.isfinite(self.points[:, 0])
        self._plant()

    def _plant(self) -> None:
        self.index = np.flatnonzero(self.is_left)
        self.n_left = len(self.index)
        self.tree = None
        if self.n_left > _FEW:
            from scipy.spatial import cKDTree

            self.tree = cKDTree(self.points[self.index])

    def take_nearest(self, here: FloatArray) -> int:
        """Return the number of the nearest entry, and take its item out."""
        if self.n_left * 2 < len(self.index) and self.tree is not None:
            self._plant()
        best = self._nearest(here)
        item = best // self.n_ways
        mine = slice(item * self.n_ways, (item + 1) * self.n_ways)
        self.n_left -= int(self.is_left[mine].sum())
        self.is_left[mine] = False
        return best

    def _nearest(self, here: FloatArray) -> int:
        if self.tree is None:
            left = self.index[self.is_left[self.index]]
            gap = self.points[left] - here
            return int(left[np.argmin(np.einsum("ij,ij->i", gap, gap))])
        asked = _ASKED + self.n_ways
        while True:
            distance, found = self.tree.query(here, k=min(asked, len(self.index)))
            number = self.index[found]
            kept = np.flatnonzero(self.is_left[number])
            if len(kept):
                # Of equally near ones the first, so that the same input gives the same order.
                most = distance[kept[0]] + _SAME_MM
                return int(min(number[k] for k in kept if distance[k] <= most))
            asked *= 4


def travel_mm(
    visits: list[Visit], entries: FloatArray, exits: FloatArray, start_mm: tuple[float, float]
) -> float:
    """Return the way between the items of a visit."""
    index = tuple(np.array(visits).T)
    begin = np.vstack([np.asarray(start_mm, dtype=float)[None], exits[index][:-1]])
    return float(np.hypot(*(entries[index] - begin).T).sum())


def shortened(
    visits: list[Visit], entries: FloatArray, exits: FloatArray, start_mm: tuple[float, float]
) -> list[Visit]:
    """Shorten a visit by going stretches of it backwards, as long as that gains anything.

    Never returns a longer one. Very many items are left in the order in which they come.
    """
    n = len(visits)
    if not 2 < n <= _MOST_ITEMS:
        return visits
    tour = _Tour(visits, entries, exits, start_mm)
    for _ in range(_MOST_PASSES):
        if not tour.improve():
            break
    return tour.visits()


class _Tour:
    """A visit, item by item; the 0th is where it starts. Points are complex, for speed."""

    def __init__(
        self,
        visits: list[Visit],
        entries: FloatArray,
        exits: FloatArray,
        start_mm: tuple[float, float],
    ) -> None:
        index = np.array(visits)
        way = (index[:, 0], index[:, 1])
        start = complex(*start_mm)
        self.entries, self.exits = _complex(entries), _complex(exits)
        self.item: list[int] = [len(visits), *(int(item) for item in index[:, 0])]
        self.entry: list[complex] = [start, *self.entries[way].tolist()]
        self.exit: list[complex] = [start, *self.exits[way].tolist()]
        self.position = [0] * len(self.item)
        for place, item in enumerate(self.item):
            self.position[item] = place

    def improve(self) -> bool:
        """Go through all items once; tell whether anything was gained."""
        any_gain = False
        for item, other in self._promising():
            one, two = sorted((self.position[item], self.position[other]))
            # Either of the two new legs joins near ends: look at both.
            for i, j in ((one, two), (one - 1, two - 1)):
                if self._gain_mm(i, j) > _GAIN_MM:
                    self._turn(i + 1, j)
                    any_gain = True
        return any_gain

    def _promising(self) -> list[tuple[int, int]]:
        """Return pairs of items near each other whose turning would gain something as things are.

        What is turned first may spoil it for others, or make it worth while: the next time tells.
        """
        pairs = self._neighbours()
        place = np.array(self.position)[pairs]
        one, two = place.min(axis=1), place.max(axis=1)
        entry, exit_ = np.array([*self.entry, 0]), np.array([*self.exit, 0])
        gains = np.zeros(len(pairs), dtype=bool)
        for i, j in ((one, two), (one - 1, two - 1)):
            gain = abs(exit_[i] - entry[i + 1]) - abs(exit_[i] - exit_[j])
            after = abs(exit_[j] - entry[j + 1]) - abs(entry[i + 1] - entry[j + 1])
            gain += np.where(j + 1 < len(self.item), after, 0.0)
            gains |= (i >= 0) & (j > i) & (gain > _GAIN_MM)
        return [(item, other) for item, other in pairs[gains].tolist()]

    def _gain_mm(self, i: int, j: int) -> float:
        """Return what going from item i + 1 to j backwards would save."""
        if i < 0 or j <= i:
            return 0.0
        gain = abs(self.exit[i] - self.entry[i + 1]) - abs(self.exit[i] - self.exit[j])
        if j + 1 < len(self.item):
            gain += abs(self.exit[j] - self.entry[j + 1])
            gain -= abs(self.entry[i + 1] - self.entry[j + 1])
        return gain

    def _neighbours(self) -> NDArray[np.int64]:
        """Return (n, 2) pairs of an item and one of those whose ends lie nearest to its own.

        The start counts as the last item.
        """
        from scipy.spatial import KDTree

        entry, exit_ = np.array(self.entry), np.array(self.exit)
        owner = np.array(self.item * 2)
        ends = np.concatenate([exit_, entry])
        points = np.column_stack([ends.real, ends.imag])
        asked = min(_NEIGHBOURS, len(ends))
        near = owner[KDTree(points).query(points, k=asked)[1].reshape(-1, asked)]
        n = len(self.item)
        pairs = np.unique(np.repeat(owner, asked) * n + near.ravel())
        found = np.column_stack(np.divmod(pairs, n))
        return np.asarray(found[found[:, 0] != found[:, 1]])

    def _turn(self, first: int, last: int) -> None:
        stretch = slice(first, last + 1)
        self.item[stretch] = self.item[stretch][::-1]
        turned = self.exit[stretch][::-1]
        self.exit[stretch] = self.entry[stretch][::-1]
        self.entry[stretch] = turned
        for place in range(first, last + 1):
            self.position[self.item[place]] = place

    def visits(self) -> list[Visit]:
        """Return items with the ways whose entries and exits they now have."""
        items = np.array(self.item[1:])
        off = np.abs(self.entries[items] - np.array(self.entry[1:])[:, None])
        off += np.abs(self.exits[items] - np.array(self.exit[1:])[:, None])
        ways = np.argmin(np.where(np.isfinite(off), off, np.inf), axis=1)
        return [(int(item), int(way)) for item, way in zip(items, ways, strict=True)]


def _complex(points: FloatArray) -> NDArray[np.complex128]:
    found = np.empty(points.shape[:-1], dtype=np.complex128)
    found.real, found.imag = points[..., 0], points[..., 1]
    return found
