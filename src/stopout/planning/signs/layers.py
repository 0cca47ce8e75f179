"""The coats of a sign in register: what each clearing takes away, and by which of two methods.

One by one, each coat is cleared where any later coat is to show, and the beam meets that coat
alone. Through, only the next colour's places are cleared, through every coat that is there, so
that both sides of an edge are cut at once. Two clearings never meet exactly; what lies hidden, or
is cut again later, is therefore cleared a little farther than drawn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from stopout.job.record import Coat, Job
from stopout.mask import dilate
from stopout.planning.measures.beam import beam_for
from stopout.planning.memory import Memory
from stopout.planning.signs.cells import CellsDisagreeError, SignCell, in_cells, joined
from stopout.planning.signs.grid import difference, intersection, union
from stopout.planning.signs.register import apart_mm, thinly_laid, worst_slip
from stopout.planning.signs.shows import METHODS, Method

# A method must show this much less of a wrong colour to be preferred for it: less than this no
# eye tells apart at reading distance (one minute of arc at 0.35 m is 0.1 mm).
_WORTH_MM = 0.1
_LEAST_PAINT = (
    "it burns the least paint, and at the given error clearing through all coats would show no "
    "less of a wrong colour"
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layers:
    """How a sign's coats are cleared.

    Attributes
    ----------
    shown : tuple of BaseGeometry
        What the reader is to see of each coat.
    cleared : tuple of BaseGeometry or None
        What each clearing takes away, after its coat has dried; None where nothing is cleared.
    method : str
        "one-by-one" or "through".
    reason : str
        Why this method, in a sentence.
    """

    shown: tuple[BaseGeometry, ...]
    cleared: tuple[BaseGeometry | None, ...]
    method: Method
    reason: str


def plan_layers(
    shown: Sequence[BaseGeometry],
    *,
    face: BaseGeometry,
    method: Method | Literal["auto"] = "auto",
    error_mm: float | None = None,
    edge_mm: float = 0.0,
    memory: Memory | None = None,
) -> Layers:
    """Choose how the coats are cleared, and what each clearing takes away.

    Parameters
    ----------
    shown : sequence of BaseGeometry
        What the reader is to see of each coat, from the viewer backwards; disjoint.
    face : BaseGeometry
        The blank's face, in the same frame.
    method : str
        "one-by-one", "through", or "auto": the one that shows less of a wrong colour where two
        clearings miss each other, else the one that burns less paint.
    error_mm : float, optional
        How far two clearings may miss each other.
    edge_mm : float
        How far an edge may err of itself.
    memory : Memory, optional
        What was found of the cells of earlier signs.

    Returns
    -------
    Layers
    """
    clearing = _CellClearing(
        shown=tuple(shown), error_mm=error_mm or 0.0, edge_mm=edge_mm, memory=memory or Memory(0)
    )

    def chosen(cells: list[SignCell]) -> Layers:
        way, reason = _asked(method, clearing.numbers("one-by-one"), error_mm)
        # One by one, a miss shows slivers no wider than itself: what is wrong then was spared by
        # a clearing that took it, and no disc wider than the miss lies clear of where it was.
        if not reason and clearing.error_mm > _WORTH_MM:
            first, other = (clearing.sliver_mm(cells, each) for each in METHODS)
            if first > other + _WORTH_MM:
                way = "through"
                reason = (
                    f"at {error_mm:g} mm it shows {other:.2f} mm of a wrong colour, coat by coat "
                    f"{first:.2f} mm"
                )
        return Layers(
            shown=clearing.shown,
            cleared=clearing.of(cells, way),
            method=way,
            reason=reason or _LEAST_PAINT,
        )

    return in_cells([face, *shown], apart_mm(error_mm, edge_mm), chosen)


def _asked(
    method: Method | Literal["auto"], numbers: Sequence[int], error_mm: float | None
) -> tuple[Method, str]:
    """Return the method to begin with, and why it is the one; nothing where another may be."""
    if len(numbers) < 2:
        return "one-by-one", "there is one clearing only, which no other can miss"
    if method != "auto":
        return method, "the job file asks for it"
    no_error = "no registration error is given, and it burns the least paint"
    return "one-by-one", "" if error_mm else no_error


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _CellClearing:
    """Clears what is to be seen of the coats cell by cell, where clearings may miss each other."""

    shown: tuple[BaseGeometry, ...]
    error_mm: float
    edge_mm: float
    memory: Memory

    def numbers(self, method: Method) -> tuple[int, ...]:
        """Return which coats are cleared at all, from 1."""
        is_shown = [not region.is_empty for region in self.shown]
        return tuple(
            k
            for k in range(1, len(self.shown))
            if (any(is_shown[k:]) if method == "one-by-one" else is_shown[k])
        )

    def of(self, cells: Sequence[SignCell], method: Method) -> tuple[BaseGeometry | None, ...]:
        """Return what each clearing of a sign takes away."""
        made = self._by_cell(cells, method)
        return tuple(
            joined(cells, [regions[k - 1] for regions in made])
            if k in self.numbers(method)
            else None
            for k in range(1, 1 + len(self.shown))
        )

    def sliver_mm(self, cells: Sequence[SignCell], method: Method) -> float:
        """Return how wide a wrong colour is at most where a clearing misses the others."""
        made = self._by_cell(cells, method)

        def sliver_mm(k: int) -> float:
            face, *shown = cells[k].regions
            how = {"error_mm": self.error_mm, "allowed_mm": self.edge_mm}
            return worst_slip(shown, thinly_laid(made[k]), face=face, method=method, **how).width_mm

        how = (method, self.numbers(method), self.error_mm, self.edge_mm)
        found = self.memory.recall_all(
            [("sliver", cell.key, *how) for cell in cells],
            lambda missing: [sliver_mm(k) for k in missing],
        )
        return max(found, default=0.0)

    def _by_cell(
        self, cells: Sequence[SignCell], method: Method
    ) -> list[tuple[BaseGeometry | None, ...]]:
        """Return what each clearing takes of each cell; about one must be one coat's to show."""
        if any(sum(cell.around[1:]) != cell.around[0] for cell in cells):
            raise CellsDisagreeError
        numbers = self.numbers(method)

        def taken(cell: SignCell) -> tuple[BaseGeometry | None, ...]:
            found = clearings(
                cell.regions[1:], method=method, error_mm=self.error_mm, edge_mm=self.edge_mm
            )
            # What is cleared elsewhere only is cleared here too, of nothing.
            return tuple(
                Polygon() if region is None and k in numbers else region
                for k, region in enumerate(found, start=1)
            )

        return self.memory.recall_all(
            [("cleared", cell.key, method, numbers, self.error_mm, self.edge_mm) for cell in cells],
            lambda missing: [taken(cells[k]) for k in missing],
        )


def clearings(
    shown: Sequence[BaseGeometry], *, method: Method, error_mm: float, edge_mm: float = 0.0
) -> list[BaseGeometry | None]:
    """Return what each clearing takes away, spread where a miss would else show a wrong colour.

    One by one, coat k is cleared where a later coat shows, and a little farther where an earlier
    coat hides it. Through, the places of coat k + 1 are cleared of all coats before it, and a
    little farther where a still later coat will be cut in. Neither goes into what must stay.

    Parameters
    ----------
    shown : sequence of BaseGeometry
        What the reader is to see of each coat, from the viewer backwards; disjoint.
    method : str
        "one-by-one" or "through".
    error_mm, edge_mm : float
        How far two clearings may miss each other, and an edge may err; nothing is spread at an
        error of 0.
    """
    spread = error_mm + edge_mm if error_mm > 0 else 0.0
    cleared: list[BaseGeometry | None] = []
    for k in range(len(shown)):
        later = union(list(shown[k + 1 :]))
        if later.is_empty:
            cleared.append(None)
        elif method == "one-by-one":
            cleared.append(_spread_under(later, shown[k], list(shown[:k]), spread))
        else:
            cleared.append(_spread_into(shown[k + 1], list(shown[k + 2 :]), spread))
    return cleared


def _spread_under(
    later: BaseGeometry, stays: BaseGeometry, before: list[BaseGeometry], spread: float
) -> BaseGeometry:
    """Grow a clearing where earlier coats hide it, and keep it clear of what must stay."""
    hidden = union(before)
    if spread <= 0 or hidden.is_empty:
        return later
    grown = intersection(dilate(later, spread), hidden)
    return union([later, difference(grown, dilate(stays, spread))])


def _spread_into(
    now: BaseGeometry, to_come: list[BaseGeometry], spread: float
) -> BaseGeometry | None:
    """Grow a clearing into what will be cut again."""
    if now.is_empty:
        return None
    if spread <= 0 or not to_come:
        return now
    return union([now, intersection(dilate(now, spread), union(to_come))])


def stack_passes(coats: Sequence[Coat], number: int, job: Job) -> int:
    """Return the passes that clear coats 1 to `number` at once, with the last one's settings.

    Each coat asks for its own line dose, and the paint to be burnt adds up: the sum of the doses,
    in whole passes. A starting guess; a coupon with the same coats decides.

    Parameters
    ----------
    coats : sequence of Coat
        From the viewer backwards.
    number : int
        The last coat of the stack, from 1.
    job : Job
        For the settings that the coats leave to it.
    """
    beams = [beam_for(coat, job) for coat in coats[:number]]
    asked = sum(beam.line_dose_fraction for beam in beams)
    last = beams[-1]
    return math.ceil(asked / (last.power / last.speed_mm_s) - 1e-9)
