"""What comes again in the pieces of a series: letters that lie clear of all else, planned once.

A number's figures are the same shapes at other places. Where such a shape is made without taking or
leaving anything beside it, what lies farther off than a land has to be wide makes no difference.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from stopout.job.setting import SetText, Setting
from stopout.library.pieces import Box
from stopout.links import linked
from stopout.mask import parts_of
from stopout.values import COORDINATE_DECIMALS, FloatArray

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from stopout.artwork.setting.whole import LaidElement
    from stopout.planning.plan import CoatPlan

# A shape that lies less often than this is planned with the rest of its piece.
_OFTEN = 4
# A box is so much larger than what lies in it.
_ROUND_MM = 1e-3
# Shapes alike differ by no more than this: 20 nm, by where they were put on a grid of 1 nm.
_ALIKE_MM = 2e-5
# A slanted direction, in which hardly two corners of a shape tie; ours.
_SLANT = np.array([0.7549, 0.5698])
# An edge lies within this of the drawn one where nothing was done to it.
_AS_DRAWN_MM = 0.005


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """From how far on things do not act on each other, in mm.

    `any_mm` holds for whatever they are, `quiet_mm` for shapes that are made as drawn; `face` is
    where they must lie.
    """

    any_mm: float
    quiet_mm: float
    face: BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True)
class Recurring:
    """A shape that comes again, as it lies in one piece.

    `kind` tells it from all others; `setting` and `box` are where it may be found as it lies here,
    `corner_mm` is the lower left corner of its bounds, as seen.
    """

    kind: int
    setting: Setting
    box: Box
    corner_mm: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """A piece's own in shapes that come again, and the box of all the rest, if there is any.

    `gap_mm` is how near the shapes come to each other.
    """

    shapes: tuple[Recurring, ...]
    rest: Box | None
    gap_mm: float


def split_pieces(
    laid: Mapping[Setting, Sequence[LaidElement]], apart: Apart
) -> dict[Setting, Split]:
    """Split what pieces have of their own where shapes come again.

    Parameters
    ----------
    laid : mapping
        Each piece's own, and how it is laid.
    apart : Apart
        How far things must lie from each other.

    Returns
    -------
    dict
        Of those pieces that can be split.
    """
    kinds = _Kinds()
    found = {own: split for own, items in laid.items() if (split := _split(items, apart, kinds))}
    often = Counter(shape.kind for split in found.values() for shape in split.shapes)
    return {
        own: split
        for own, split in found.items()
        if all(often[shape.kind] >= _OFTEN for shape in split.shapes)
    }


def kinds_in(splits: Iterable[Split]) -> dict[int, Recurring]:
    """Return the shapes that come again, each as it lies first."""
    found: dict[int, Recurring] = {}
    for split in splits:
        for shape in split.shapes:
            found.setdefault(shape.kind, shape)
    return found


def is_quiet(coat: CoatPlan) -> bool:
    """Tell whether a planned shape is made as drawn, nothing beside it taken or left."""
    made = coat.outcome
    return (
        not (coat.thin_places or coat.narrow_lands)
        and not (made.lost or made.merged or made.widened)
        and made.worst_outside_mm <= _AS_DRAWN_MM
    )


def _split(items: Sequence[LaidElement], apart: Apart, kinds: _Kinds) -> Split | None:
    """Split one piece's own; None where no text of it lies clear of all else."""
    covers = np.array([item.covers for item in items], dtype=object)
    shapes: list[Recurring] = []
    rest: list[BaseGeometry] = []
    gap_mm = np.inf
    for k, item in enumerate(items):
        others = np.delete(covers, k)
        is_clear = not len(others) or shapely.distance(others, covers[k]).min() > apart.any_mm
        own = _shapes(item, apart, kinds) if is_clear else None
        if own is None:
            rest.append(item.covers)
            continue
        shapes += own[0]
        gap_mm = min(gap_mm, own[1])
    if not shapes:
        return None
    box = None
    if rest:
        box = _grown(shapely.total_bounds(np.array(rest, dtype=object)), _ROUND_MM)
        if shapely.intersects(shapely.box(*box), [shapely.box(*one.box) for one in shapes]).any():
            return None
    return Split(shapes=tuple(shapes), rest=box, gap_mm=float(gap_mm))


def _shapes(item: LaidElement, apart: Apart, kinds: _Kinds) -> tuple[list[Recurring], float] | None:
    """Return the shapes of a text and how near they come to each other; None if it has none."""
    if not isinstance(item.element, SetText):
        return None
    parts = parts_of(item.region)
    if not len(parts):
        return None
    group, gap_mm = _groups(parts, apart.quiet_mm)
    bounds = shapely.bounds(parts)
    setting = Setting(texts=(item.element,), codes=())
    shapes = []
    for k in range(group.max() + 1):
        own = group == k
        low, high = bounds[own, :2].min(axis=0), bounds[own, 2:].max(axis=0)
        box = _grown(np.concatenate([low, high]), _ROUND_MM)
        is_alone = np.array_equal(shapely.covers(shapely.box(*box), parts), own)
        reach = shapely.box(*_grown(np.array(box), apart.any_mm))
        if not is_alone or not shapely.covers(apart.face, reach):
            return None
        shapes.append(
            Recurring(
                kind=kinds.of(parts[own], low),
                setting=setting,
                box=box,
                corner_mm=(float(low[0]), float(low[1])),
            )
        )
    return shapes, gap_mm


def _groups(parts: NDArray[np.object_], apart_mm: float) -> tuple[NDArray[np.intp], float]:
    """Number the groups that parts nearer than this make, and say how near two groups come."""
    far = shapely.distance(parts[:, None], parts[None, :])
    group = linked(len(parts), *np.nonzero(far <= apart_mm))
    others = far[group[:, None] != group[None, :]]
    return group, float(others.min()) if len(others) else np.inf


class _Kinds:
    """Numbers shapes; those that are the same but for whole steps of a program's decimals alike."""

    def __init__(self) -> None:
        self._known: dict[tuple[int, ...], list[tuple[FloatArray, FloatArray]]] = {}
        self._number: dict[tuple[tuple[int, ...], int], int] = {}

    def of(self, parts: NDArray[np.object_], corner: FloatArray) -> int:
        """Return the number of a shape whose bounds have this lower left corner."""
        rings = sorted(
            (_ring(ring - corner) for ring in _rings(parts)), key=lambda r: _SLANT @ r[0]
        )
        sizes, xy = tuple(len(ring) for ring in rings), np.vstack(rings)
        known = self._known.setdefault(sizes, [])
        for k, (shape, at) in enumerate(known):
            steps = (corner - at) * 10**COORDINATE_DECIMALS
            off = np.abs(steps - np.round(steps)).max() / 10**COORDINATE_DECIMALS
            if off <= _ALIKE_MM and np.abs(shape - xy).max() <= _ALIKE_MM:
                return self._number[sizes, k]
        known.append((xy, corner))
        self._number[sizes, len(known) - 1] = len(self._number)
        return len(self._number) - 1


def _rings(parts: NDArray[np.object_]) -> list[FloatArray]:
    return [shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(parts)]


def _ring(xy: FloatArray) -> FloatArray:
    """Return a ring that begins at its lowest corner in the slanted direction."""
    return np.roll(xy, -int(np.argmin(xy @ _SLANT)), axis=0)


def _grown(box: FloatArray, by_mm: float) -> Box:
    x0, y0, x1, y1 = box.tolist()
    return (x0 - by_mm, y0 - by_mm, x1 + by_mm, y1 + by_mm)
