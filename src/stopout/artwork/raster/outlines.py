"""Outlines of what is dark, between pixel centres: the contour of a picture at one level.

Pixel (row, col) has its centre at (col + 0.5, row + 0.5) px; beyond the picture all is white.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain

import numpy as np
import shapely
from numpy.typing import NDArray

Luma = NDArray[np.uint8] | NDArray[np.uint16]
Ints = NDArray[np.int64]

# Looked at together: their differences stay in the processor's cache.
_BAND_PIXELS = 2_000_000
# A level that a pixel may have is taken this much lower: no outline runs through a pixel's centre.
_ASIDE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crossings:
    """Where an outline passes between a dark pixel and a light one.

    Attributes
    ----------
    shape : (int, int)
        Rows and columns of the picture with a border of one white pixel, which all places count.
    across, down : (n,) and (m,) ndarray of int
        Ascending places, row times columns plus column, of pixels that differ from the next one in
        their row, and of those that differ from the one below.
    count : int
        How many there are; above the most that are wanted, `across` and `down` are empty.
    """

    shape: tuple[int, int]
    across: Ints
    down: Ints
    count: int


def crossings_of(luma: Luma, level: float, *, most: int) -> Crossings:
    """Find where the outlines of what is darker than a level pass between pixels.

    Parameters
    ----------
    luma : (M, N) ndarray
        Row 0 on top.
    level : float
        Dark is a luma below it.
    most : int
        If there are more, they are only counted.
    """
    rows, columns = luma.shape
    wide = columns + 2
    height = max(1, _BAND_PIXELS // wide)
    band = np.zeros((height + 1, wide), dtype=bool)
    found: tuple[list[Ints], list[Ints]] = ([], [])
    count = 0
    # A band's last row is the next one's first; row 0 is the border's.
    for top in range(0, rows + 1, height):
        here = band[: min(height, rows + 1 - top) + 1]
        here[0] = here[-1] = False
        first = max(top - 1, 0)
        own = luma[first : top + len(here) - 1]
        here[first + 1 - top : first + 1 - top + len(own), 1:-1] = _is_dark(own, level)
        sides = here[:-1, 1:] != here[:-1, :-1], here[1:] != here[:-1]
        count += sum(int(np.count_nonzero(side)) for side in sides)
        if count <= most:
            for kept, side in zip(found, sides, strict=True):
                row, column = np.divmod(np.flatnonzero(side), side.shape[1])
                kept.append((row + top) * wide + column)
    none = np.zeros(0, dtype=np.int64)
    across, down = (np.concatenate(kept) if count <= most else none for kept in found)
    return Crossings(shape=(rows + 2, wide), across=across, down=down, count=count)


def _is_dark(luma: Luma, level: float) -> NDArray[np.bool_]:
    # In the picture's own whole numbers: far quicker than against a fraction.
    darkest_light = np.ceil(level)
    if darkest_light <= 0:
        return np.zeros(luma.shape, dtype=bool)
    most = min(int(darkest_light) - 1, int(np.iinfo(luma.dtype).max))
    dark: NDArray[np.bool_] = luma <= luma.dtype.type(most)
    return dark


def outlined(luma: Luma, level: float, crossings: Crossings) -> NDArray[np.object_]:
    """Return the dark parts of a picture as polygons in pixels.

    Parameters
    ----------
    luma : (M, N) ndarray
        The picture.
    level : float
        The level of the crossings.
    crossings : Crossings
        All of them.

    Returns
    -------
    (k,) ndarray of Polygon
        Valid and apart from each other. Each vertex lies between two neighbouring pixel centres
        where the luma, interpolated between them, takes the level. Where four pixels are dark and
        light by turns, their mean tells whether the dark ones are joined.

    Notes
    -----
    Each crossing is followed by the one through which its outline leaves the square of four pixel
    centres that it has entered, dark on the right hand. An outline's first crossing within a row
    tells its kind: dark begins there, or a hole, and that hole lies in the same part as the
    crossing to its left.
    """
    if not crossings.count:
        return np.empty(0, dtype=object)
    grid = _Grid(luma, level, crossings)
    order, sizes = _rings_of(grid.following())
    first = order[np.cumsum(sizes) - sizes]
    owner = _owners(first, ring_of=_spread(order, sizes), is_hole=~grid.rises[first])
    # Each part's outer ring, then its holes: numbered as they are met, an outer one comes first.
    by_owner = np.argsort(owner, kind="stable")
    vertex = np.argsort(np.repeat(np.argsort(by_owner), sizes), kind="stable")
    ring = np.repeat(np.arange(len(sizes)), sizes[by_owner])
    lines = shapely.linearrings(grid.points()[order[vertex]], indices=ring)
    _, whose = np.unique(owner[by_owner], return_inverse=True)
    polygons: NDArray[np.object_] = shapely.polygons(lines, indices=whose)
    return polygons


class _Grid:
    """Crossings within rows, then those between rows, and the pixels beside them."""

    def __init__(self, luma: Luma, level: float, crossings: Crossings) -> None:
        self.luma, self.wide = luma, crossings.shape[1]
        self.level = level - _ASIDE if level == np.floor(level) else level
        self.n_across = len(crossings.across)
        self.at = np.concatenate([crossings.across, crossings.down])
        self.step = np.where(np.arange(len(self.at)) < self.n_across, 1, self.wide)
        self.one, self.other = self._luma(self.at), self._luma(self.at + self.step)
        # Dark lies behind the crossing, to the right or below, of those that rise.
        self.rises = self.one >= self.level

    def _luma(self, place: Ints) -> NDArray[np.float64]:
        """The luma at places of the picture with its border."""
        row, column = np.divmod(place, self.wide)
        rows, columns = self.luma.shape
        inside = (row >= 1) & (row <= rows) & (column >= 1) & (column <= columns)
        found = np.full(len(place), float(np.iinfo(self.luma.dtype).max))
        found[inside] = self.luma[row[inside] - 1, column[inside] - 1]
        return found

    def points(self) -> NDArray[np.float64]:
        """Where the crossings are, (n, 2), in pixels of the picture."""
        row, column = np.divmod(self.at, self.wide)
        xy = np.column_stack([column, row]) - 0.5
        share = (self.level - self.one) / (self.other - self.one)
        is_across = np.arange(len(self.at)) < self.n_across
        xy[:, 0] += np.where(is_across, share, 0.0)
        xy[:, 1] += np.where(is_across, 0.0, share)
        return xy

    def following(self) -> Ints:
        """Index of the crossing that follows each on its outline."""
        is_across = np.arange(len(self.at)) < self.n_across
        # A square is named by its upper left pixel. With dark on the right hand an outline goes up
        # where dark lies to the right, and to the right where it lies below.
        before, behind = self.at - np.where(is_across, self.wide, 1), self.at
        goes_back = self.rises == is_across
        entered, left = np.where(goes_back, before, behind), np.where(goes_back, behind, before)
        by_square = np.argsort(left, kind="stable")
        squares = left[by_square]
        low = np.searchsorted(squares, entered)
        is_saddle = squares[np.minimum(low + 1, len(squares) - 1)] == entered
        is_saddle &= low + 1 < len(squares)
        following: Ints = by_square[low]
        at = np.flatnonzero(is_saddle)
        ways = np.stack([by_square[low[at]], by_square[low[at] + 1]])
        following[at] = np.where(self._takes_first(at, entered[at], ways[0]), *ways)
        return following

    def _takes_first(self, at: Ints, square: Ints, way: Ints) -> NDArray[np.bool_]:
        """Tell whether, in squares with two ways out, the outline goes out by this one."""
        corners = [self._luma(square + step) for step in (0, 1, self.wide, self.wide + 1)]
        is_joined = sum(corners) / 4 <= self.level
        # Sides of a square: top and bottom are crossings within rows, left and right between.
        is_near = (self.at[at] == square) == (self.at[way] == square)
        # Top and left bound one corner, bottom and right another: light there, it is cut off from
        # the rest where dark is joined; dark, where it is not.
        is_dark = corners[0] < self.level
        leads: NDArray[np.bool_] = is_near == (is_dark != is_joined)
        return leads


def _rings_of(following: Ints) -> tuple[Ints, Ints]:
    """Take a permutation apart into its rings: all indices ring by ring, and the rings' sizes."""
    ahead = following.tolist()
    seen = bytearray(len(ahead))
    rings: list[list[int]] = []
    for begin in range(len(ahead)):
        if seen[begin]:
            continue
        ring = []
        here = begin
        while not seen[here]:
            seen[here] = 1
            ring.append(here)
            here = ahead[here]
        rings.append(ring)
    sizes = np.array([len(ring) for ring in rings], dtype=np.int64)
    return np.fromiter(chain.from_iterable(rings), np.int64, len(ahead)), sizes


def _spread(order: Ints, sizes: Ints) -> Ints:
    """The number of each crossing's ring."""
    ring = np.empty(len(order), dtype=np.int64)
    ring[order] = np.repeat(np.arange(len(sizes)), sizes)
    return ring


def _owners(first: Ints, *, ring_of: Ints, is_hole: NDArray[np.bool_]) -> Ints:
    """The outer ring to which each ring belongs, by the crossing to the left of its first."""
    owner = np.arange(len(first))
    owner[is_hole] = ring_of[first[is_hole] - 1]
    while is_hole[owner].any():
        owner = owner[owner]
    return owner
