"""What is seen of a sign as its programs clear it, cell by cell, and once a clearing misses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.planning.memory import Memory
from stopout.planning.signs.cells import CellsDisagreeError, SignCell, in_cells, joined
from stopout.planning.signs.grid import intersection
from stopout.planning.signs.register import (
    Agreement,
    Slip,
    agreement_of,
    apart_mm,
    moved_view,
    moves,
    thinly_laid,
    widest_of,
    worst_slip,
)
from stopout.planning.signs.shows import Method, effective, front_view

# Areas that differ by less are the same but for rounding.
_NOTHING_MM2 = 1e-4
# The corners of a window, the first once more.
_RECTANGLE = 5
_Kind = TypeVar("_Kind")
_None = TypeVar("_None")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeenFront:
    """What is seen from the front, and once one clearing misses the others; as in `Front`.

    `shown` is what is to be seen of each coat on the part of the face that is judged.
    """

    shown: tuple[BaseGeometry, ...]
    views: tuple[BaseGeometry, ...]
    moved_views: tuple[BaseGeometry, ...] | None
    agreement: Agreement
    slip: Slip | None


def seen_of(
    shown: Sequence[BaseGeometry],
    cleared: Sequence[BaseGeometry | None],
    face: BaseGeometry,
    *,
    method: Method,
    error_mm: float | None,
    edge_mm: float,
    memory: Memory,
) -> SeenFront:
    """Look at a sign from the front.

    Parameters
    ----------
    shown : sequence of BaseGeometry
        What the reader is to see of each coat, from the viewer backwards.
    cleared : sequence of BaseGeometry or None
        What was cleared after each coat; None for nothing.
    face : BaseGeometry
        The part of the face that is judged.
    method : str
        "one-by-one" or "through".
    error_mm, edge_mm : float
        How far clearings may miss each other (None: nobody says), and an edge may err.
    memory : Memory
        What was found of the cells of earlier signs.
    """
    regions = [face, *shown, *(region for region in cleared if region is not None)]
    look = _Look(
        is_cleared=tuple(region is not None for region in cleared),
        method=method,
        error_mm=error_mm or 0.0,
        edge_mm=edge_mm,
    )
    return in_cells(
        regions, apart_mm(error_mm, edge_mm), lambda cells: look.at(cells, face, memory)
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Here:
    """What is seen in a cell, as in `SeenFront`; of each coat `lost_mm2` is not seen as meant."""

    shown: list[BaseGeometry]
    views: list[BaseGeometry]
    lost_mm2: list[float]
    slip: Slip | None
    laid: list[BaseGeometry | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """How a sign is looked at: all that what is seen hangs on, besides the regions."""

    is_cleared: tuple[bool, ...]
    method: Method
    error_mm: float
    edge_mm: float

    def is_sure(self, cell: SignCell) -> bool:
        """Tell whether the coat seen about a cell is the one to be seen."""
        is_face, shown, cleared = self._parted(cell.around, nothing=False)
        gone = [
            any(cleared[k:]) if self.method == "through" else own for k, own in enumerate(cleared)
        ]
        seen = [not own and all(gone[:k]) for k, own in enumerate(gone)]
        return shown == [is_face and one for one in seen]

    def at(self, cells: Sequence[SignCell], face: BaseGeometry, memory: Memory) -> SeenFront:
        """Look at all cells."""
        if not all(self.is_sure(cell) for cell in cells):
            raise CellsDisagreeError
        here = memory.recall_all(
            [("seen", cell.key, self) for cell in cells],
            lambda missing: [self._here(cells[k]) for k in missing],
        )
        shown, views = (
            _all_joined(cells, [getattr(one, name) for one in here]) for name in ("shown", "views")
        )
        slip = widest_of([one.slip for one in here])
        lost = np.sum([one.lost_mm2 for one in here], axis=0)
        return SeenFront(
            shown=shown,
            views=views,
            moved_views=None if slip is None else self._moved(cells, here, slip, memory),
            agreement=agreement_of([region.area for region in shown], lost, face.area),
            slip=slip,
        )

    def _here(self, cell: SignCell) -> _Here:
        face, wanted, cleared = self._parted(cell.regions, nothing=None)
        laid = thinly_laid(cleared)
        # Where no edge of the face runs, only what lies about the cell goes beyond its window.
        _, about, _ = self._parted(cell.around, nothing=False)
        is_plain = cell.around[0] and shapely.get_num_coordinates(face) == _RECTANGLE
        shown = [
            region if is_plain and not is_about else intersection(region, face)
            for region, is_about in zip(wanted, about, strict=True)
        ]
        views = front_view(face, effective(laid, self.method))
        slip = None
        if self.error_mm and sum(self.is_cleared) > 1:
            slip = worst_slip(
                shown,
                laid,
                face=face,
                method=self.method,
                error_mm=self.error_mm,
                allowed_mm=self.edge_mm,
            )
        return _Here(
            shown=shown, views=views, lost_mm2=_lost_mm2(shown, views), slip=slip, laid=laid
        )

    def _moved(
        self, cells: Sequence[SignCell], here: Sequence[_Here], slip: Slip, memory: Memory
    ) -> tuple[BaseGeometry, ...]:
        """Return what is seen where a clearing lies off: the worst move, else any."""
        move = slip.moved or moves(here[0].laid, self.error_mm)[0]

        def moved(k: int) -> list[BaseGeometry]:
            face = cells[k].regions[0]
            return moved_view(here[k].laid, face=face, method=self.method, move=move)

        views = memory.recall_all(
            [("moved", cell.key, self, move) for cell in cells],
            lambda missing: [moved(k) for k in missing],
        )
        return _all_joined(cells, views)

    def _parted(
        self, values: Sequence[_Kind], *, nothing: _None
    ) -> tuple[_Kind, list[_Kind], list[_Kind | _None]]:
        """Part what stands for each region of a cell: face, what is to be seen, what is cleared."""
        count = len(self.is_cleared)
        rest = iter(values[1 + count :])
        cleared = [next(rest) if is_cleared else nothing for is_cleared in self.is_cleared]
        return values[0], list(values[1 : 1 + count]), cleared


def _lost_mm2(shown: Sequence[BaseGeometry], views: Sequence[BaseGeometry]) -> list[float]:
    """Return what of each coat is not seen as it is to be; areas need no common grid."""
    lost = [0.0] * len(shown)
    both = np.array([shown, views], dtype=object)
    there = np.flatnonzero(~shapely.is_empty(both).all(axis=0)).tolist()
    is_all = abs(shapely.area(both[0]).sum() - shapely.area(both[1]).sum()) < _NOTHING_MM2
    # Of two coats that share a place, what is seen wrongly of one is what the other lost.
    two = len(there) == 2 and is_all
    for k in there[:1] if two else there:
        right = shapely.intersection(shown[k], views[k]).area
        lost[k] = max(shown[k].area - right, 0.0)
        if two:
            lost[there[1]] = max(views[k].area - right, 0.0)
    return lost


def _all_joined(
    cells: Sequence[SignCell], made: Sequence[Sequence[BaseGeometry]]
) -> tuple[BaseGeometry, ...]:
    """Join each coat's regions of all cells."""
    return tuple(joined(cells, regions) for regions in zip(*made, strict=True))
