"""A sign in cells: groups of edges that lie too far from all others to have to do with them.

Who shows what, how coats are cleared and what a miss shows at a place hang on the edges within a
few tenths of a millimetre. So a sign is looked at cell by cell: an overlay costs its own vertices
only, and a cell that is drawn as before need not be looked at again. Cells follow the edges, not a
raster: a cell's outside is of one kind all round it, and is stood for by a window about it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Point
from shapely.geometry.base import BaseGeometry

from stopout.links import linked
from stopout.mask import gathered, meeting
from stopout.planning.memory import digest_of
from stopout.planning.signs.grid import GRID_MM

# Small groups are taken together by squares of this size: a call costs as much for a dot.
_SMALL, _SQUARE_MM = 1500, 20.0
_POLYGON = 3
_OUTWARDS = np.array([-1.0, -1.0, 1.0, 1.0])

_Made = TypeVar("_Made")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SignCell:
    """A group of edges, and what each region is about it.

    Attributes
    ----------
    regions : tuple of BaseGeometry
        Each region as its edges here have it; filled up to the window's edge where it lies about
        the cell. The first one's window is the smaller: of what lies within the first region no
        edge of another window shows.
    around : tuple of bool
        Whether each region lies about the cell.
    point : Point
        On an edge of the cell.
    inner : (4,) ndarray
        What lies farther out than this box is the window.
    key : bytes
        What tells it from every other cell.
    """

    regions: tuple[BaseGeometry, ...]
    around: tuple[bool, ...]
    point: Point
    inner: NDArray[np.float64]
    key: bytes


class CellsDisagreeError(Exception):
    """Cells take what lies between them for different things: they are to be looked at as one."""


def in_cells(
    regions: Sequence[BaseGeometry], apart_mm: float, look: Callable[[list[SignCell]], _Made]
) -> _Made:
    """Look at regions cell by cell; where the cells disagree, at all as one.

    Parameters
    ----------
    regions, apart_mm
        As for `cells_of`.
    look : callable
        Is given cells, and raises `CellsDisagreeError` where what it makes of them does not fit.
    """
    try:
        return look(cells_of(regions, apart_mm=apart_mm))
    except CellsDisagreeError:
        return look([_whole(regions)])


def cells_of(regions: Sequence[BaseGeometry], *, apart_mm: float) -> list[SignCell]:
    """Part regions into cells, in the order of their places.

    Parameters
    ----------
    regions : sequence of BaseGeometry
        Valid regions, in mm.
    apart_mm : float
        Edges farther apart than this have nothing to do with each other: more than twice as far as
        anything acts, or grows.
    """
    pieces = _Pieces(regions, apart_mm)
    boxes = _boxes(pieces.rings, pieces.home)
    count = len(boxes)
    windows = [_windows(box, apart_mm) for box in boxes]
    around = np.zeros((count, len(regions)), dtype=bool)
    local: list[list[BaseGeometry]] = [[] for _ in range(around.size)]
    for part, cell, shell, holes in pieces.split():
        of = int(pieces.of[part])
        around[cell, of] |= shell is None
        about = windows[cell][min(of, 1)] if shell is None else shell
        is_whole = shell is not None and len(holes) == pieces.holes[part]
        local[cell * len(regions) + of].append(
            pieces.parts[part] if is_whole else shapely.polygons(about, holes=holes or None)
        )
    flat = np.concatenate([np.array(parts, dtype=object) for parts in local])
    owner = np.repeat(np.arange(around.size), [len(parts) for parts in local])
    whole = shapely.normalize(gathered(flat, owner, around.size)).reshape(around.shape)
    cells = [
        SignCell(
            regions=tuple(whole[k]),
            around=tuple(around[k].tolist()),
            point=pieces.points[k],
            inner=boxes[k] + 0.75 * apart_mm * _OUTWARDS,
            key=digest_of(*whole[k]),
        )
        for k in range(count)
    ]
    return sorted(cells, key=lambda cell: (*cell.inner.tolist(), *cell.point.coords[0]))


def _whole(regions: Sequence[BaseGeometry]) -> SignCell:
    """Return regions as one cell, with nothing about it."""
    # Copies that lie on no grid as far as they know, as those of cells do.
    own = shapely.from_wkb(shapely.to_wkb(np.array(list(regions), dtype=object)))
    return SignCell(
        regions=tuple(own),
        around=(False,) * len(regions),
        point=Point(),
        inner=np.array([-np.inf, -np.inf, np.inf, np.inf]),
        key=digest_of(*regions),
    )


def joined(cells: Sequence[SignCell], made: Sequence[BaseGeometry]) -> MultiPolygon:
    """Join what was made of a region in each cell.

    Parameters
    ----------
    cells : sequence of SignCell
        The cells.
    made : sequence of BaseGeometry
        In each, within half of what lies between cells of its edges; on the grid.

    Raises
    ------
    CellsDisagreeError
        If one has about it what another that it lies in has not, or the other way round.
    """
    parts, home = _polygons(made)
    rings, of = shapely.get_rings(parts, return_index=True)
    is_shell = np.ones(len(rings), dtype=bool)
    is_shell[1:] = of[1:] != of[:-1]
    inner, bounds = np.array([cell.inner for cell in cells])[home[of]], shapely.bounds(rings)
    is_far = (_OUTWARDS * (bounds - inner) > 0).any(axis=1)
    is_round = is_far[is_shell]
    within = _innermost(rings[real := ~is_round[of] | ~is_shell], home[of[real]], cells)
    lies_in = np.zeros(len(cells), dtype=bool)
    lies_in[home[is_round]] = True
    # The last of `within` stands for none.
    kinds = np.append(np.where(is_shell[real], of[real], -1), -1)
    parent = kinds[within]
    if (lies_in != (parent >= 0)).any() or (is_far & ~is_shell).any():
        raise CellsDisagreeError
    more: dict[int, list[BaseGeometry]] = {}
    for k in np.flatnonzero(is_round).tolist():
        more.setdefault(int(parent[home[k]]), []).extend(rings[(of == k) & ~is_shell])
    for k, holes in more.items():
        own = rings[of == k]
        if holes:
            parts[k] = shapely.polygons(own[0], holes=[*own[1:], *holes])
    whole = MultiPolygon(list(parts[~is_round]))
    return shapely.set_precision(whole, GRID_MM, mode="pointwise")


def _innermost(
    rings: NDArray[np.object_], home: NDArray[np.intp], cells: Sequence[SignCell]
) -> NDArray[np.intp]:
    """Return which ring of another cell lies most closely round each cell; -1 for none."""
    discs = shapely.polygons(rings)
    points = np.array([cell.point for cell in cells], dtype=object)
    ring, cell = shapely.STRtree(points).query(discs, predicate="contains_properly")
    far = home[ring] != cell
    ring, cell = ring[far], cell[far]
    found = np.full(len(cells), -1, dtype=np.intp)
    # Those that lie round one cell lie in each other: the smallest is written last.
    order = np.argsort(-shapely.area(discs)[ring], kind="stable")
    found[cell[order]] = ring[order]
    return found


def _windows(box: NDArray[np.float64], apart_mm: float) -> list[BaseGeometry]:
    """Return a cell's two windows, on the grid."""
    boxes = [box + by * apart_mm * _OUTWARDS for by in (1, 2)]
    return [
        shapely.linearrings([(x0, y0), (x0, y1), (x1, y1), (x1, y0)])
        for x0, y0, x1, y1 in np.round(np.array(boxes) / GRID_MM) * GRID_MM
    ]


class _Pieces:
    """The polygons of some regions, their rings, and the cell that each ring belongs to."""

    def __init__(self, regions: Sequence[BaseGeometry], apart_mm: float) -> None:
        parts, self.of = _polygons(regions)
        self.parts = shapely.normalize(parts)
        self.rings, self.part = shapely.get_rings(self.parts, return_index=True)
        self.first = np.searchsorted(self.part, np.arange(len(self.parts) + 1))
        self.holes = np.diff(self.first) - 1
        group = _linked_within(self.rings, apart_mm)
        inside = self._inside(group)
        place = self._places(group, inside)
        self.home = place[group]
        leads = np.unique(self.home, return_index=True)[1]
        self.points = shapely.get_point(self.rings[leads], 0)
        # A part lies about what its shell goes round, and none of its holes.
        about, times = np.unique(
            np.stack([inside[:, 0], self.part[inside[:, 1]]], axis=1), axis=0, return_counts=True
        )
        about = about[times % 2 == 1]
        self.about = np.unique(np.stack([place[about[:, 0]], about[:, 1]], axis=1), axis=0)

    def _inside(self, group: NDArray[np.intp]) -> NDArray[np.intp]:
        """Return which groups of edges which other rings go round: pairs, in the groups' order."""
        leads = np.unique(group, return_index=True)[1]
        points = shapely.get_point(self.rings[leads], 0)
        discs = shapely.polygons(self.rings)
        ring, at = shapely.STRtree(points).query(discs, predicate="contains_properly")
        far = group[ring] != at
        return np.unique(np.stack([at[far], ring[far]], axis=1), axis=0)

    def _places(self, group: NDArray[np.intp], inside: NDArray[np.intp]) -> NDArray[np.intp]:
        """Number each group's cell: groups that are small, near, and in the same rings are one."""
        boxes = _boxes(self.rings, group)
        count = len(boxes)
        size = np.bincount(group, weights=shapely.get_num_coordinates(self.rings))
        square = np.floor((boxes[:, :2] + boxes[:, 2:]) / 2 / _SQUARE_MM)
        about = np.split(inside[:, 1], np.searchsorted(inside[:, 0], np.arange(1, count)))
        place: list[tuple[float, ...]] = [
            (*square[k], *about[k]) if size[k] < _SMALL and len(about[k]) else (k,)
            for k in range(count)
        ]
        names = {name: number for number, name in enumerate(dict.fromkeys(place))}
        return np.array([names[name] for name in place], dtype=np.intp)

    def split(self) -> Iterator[tuple[int, int, BaseGeometry | None, list[BaseGeometry]]]:
        """Give each part's share of each cell: part, cell, its shell if it has one there, holes."""
        for k in range(len(self.parts)):
            own = slice(self.first[k], self.first[k + 1])
            rings, homes = self.rings[own], self.home[own]
            yield k, int(homes[0]), rings[0], list(rings[1:][homes[1:] == homes[0]])
        for cell, k in self.about:
            own = slice(self.first[k] + 1, self.first[k + 1])
            yield int(k), int(cell), None, list(self.rings[own][self.home[own] == cell])


def _linked_within(rings: NDArray[np.object_], apart_mm: float) -> NDArray[np.intp]:
    """Number rings by the groups that lie within a distance of each other."""
    # Edges of neighbours run together: most are known by the leftmost corners, and go as one.
    leads = shapely.get_point(rings, 0)
    near = shapely.STRtree(leads).query(leads, predicate="dwithin", distance=apart_mm)
    first = linked(len(rings), *near)
    order = np.argsort(first, kind="stable")
    lines = shapely.multilinestrings(rings[order], indices=first[order])
    return linked(len(lines), *meeting(lines, apart_mm))[first]


def _polygons(regions: Sequence[BaseGeometry]) -> tuple[NDArray[np.object_], NDArray[np.intp]]:
    """Return the polygons of some regions, and whose they are."""
    parts, of = shapely.get_parts(np.array(list(regions), dtype=object), return_index=True)
    real = (shapely.get_type_id(parts) == _POLYGON) & ~shapely.is_empty(parts)
    return parts[real], of[real]


def _boxes(rings: NDArray[np.object_], home: NDArray[np.intp]) -> NDArray[np.float64]:
    """Return the box of each cell."""
    bounds, count = shapely.bounds(rings), int(home.max(initial=-1)) + 1
    boxes = np.tile([np.inf, np.inf, -np.inf, -np.inf], (count, 1))
    np.minimum.at(boxes[:, :2], home, bounds[:, :2])
    np.maximum.at(boxes[:, 2:], home, bounds[:, 2:])
    return boxes
