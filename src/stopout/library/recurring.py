"""What comes again in the pieces of a series: letters and groups of modules, planned once.

A number's figures are the same shapes at other places. Where such a shape is made without taking or
leaving anything beside it, what lies farther off than a land has to be wide makes no difference.
Groups of a code's modules lie a module apart, or touch in a point: see `stopout.library.touching`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from stopout.job.setting import SetCode, SetText, Setting
from stopout.links import linked
from stopout.mask import parts_of
from stopout.values import COORDINATE_DECIMALS, Box, FloatArray

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from stopout.artwork.setting.whole import LaidElement
    from stopout.planning.plan import CoatPlan

# A shape that lies less often than this is planned with the rest of its piece.
_OFTEN = 3
# A box is so much larger than what lies in it.
_ROUND_MM = 1e-3
# Shapes alike differ by no more than this: 20 nm, by where they were put on a grid of 1 nm.
_ALIKE_MM = 2e-5
# A slanted direction, in which hardly two corners of a shape tie; ours.
_SLANT = np.array([0.7549, 0.5698])
# How many corners the rings of a shape have, and where they lie on a grid.
_Sizes = tuple[tuple[int, ...], bytes]
# How what becomes of the artwork's dark is painted.
_DARK = "#000000"
# An edge lies within this of the drawn one where nothing was done to it.
_AS_DRAWN_MM = 0.005


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """From how far on things do not act on each other, in mm.

    `any_mm` holds for whatever they are, `quiet_mm` for shapes that are made as drawn; between
    shapes farther apart than `known_mm` no land can be the narrowest. They must lie on `face`.
    """

    any_mm: float
    quiet_mm: float
    known_mm: float
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
class Coded:
    """Groups of a code's modules, each in a box of its own; `corner_mm` is the code's, as seen.

    `box` holds the code and nothing else. `touches` tells that any of its groups do.
    """

    box: Box
    side_mm: float
    corner_mm: tuple[float, float]
    touches: bool
    groups: tuple[Recurring, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cluster:
    """What of a piece lies clear of all the rest, and the box that holds it and nothing else.

    `word` is all of it as one shape, where it is of one text. Its `letters` may stand for it if
    each of them is made as drawn. `coded` are what may be planned without the rest of a code.
    """

    box: Box
    word: Recurring | None = None
    letters: tuple[Recurring, ...] = ()
    coded: Coded | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """A piece's own: words that come again, clusters whose letters do, and boxes of the rest.

    `coded` are codes of which groups come again.
    """

    words: tuple[Recurring, ...]
    lettered: tuple[Cluster, ...]
    rest: tuple[Box, ...]
    coded: tuple[Coded, ...]


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
        Of those pieces in which anything comes again.
    """
    kinds = _Kinds()
    found = {own: _clusters(items, apart, kinds) for own, items in laid.items()}
    every = [one for clusters in found.values() for one in clusters]
    words = _often(one.word for one in every if one.word is not None)
    letters = _often(
        letter for one in every if one.word and one.word.kind not in words for letter in one.letters
    )
    groups = _often(group for one in every if one.coded for group in one.coded.groups)
    splits = {own: _split(clusters, words, letters, groups) for own, clusters in found.items()}
    return {own: one for own, one in splits.items() if one.words or one.lettered or one.coded}


def is_quiet(coat: CoatPlan) -> bool:
    """Tell whether planned shapes are made as drawn, nothing beside them taken or left."""
    made = coat.outcome
    return (
        not (coat.thin_places or coat.narrow_lands)
        and not (made.lost or made.merged or made.widened)
        and made.worst_outside_mm <= _AS_DRAWN_MM
    )


def _often(shapes: Iterable[Recurring]) -> set[int]:
    """Return the kinds that are worth being planned by themselves."""
    return {kind for kind, times in Counter(one.kind for one in shapes).items() if times >= _OFTEN}


def _split(
    clusters: Sequence[Cluster], words: set[int], letters: set[int], groups: set[int]
) -> Split:
    again: list[Recurring] = []
    lettered: list[Cluster] = []
    coded: list[Coded] = []
    rest: list[Box] = []
    for one in clusters:
        if one.word is not None and one.word.kind in words:
            again.append(one.word)
        elif one.letters and all(letter.kind in letters for letter in one.letters):
            lettered.append(one)
        elif one.coded and (own := [g for g in one.coded.groups if g.kind in groups]):
            coded.append(replace(one.coded, groups=tuple(own)))
        else:
            rest.append(one.box)
    return Split(words=tuple(again), lettered=tuple(lettered), rest=tuple(rest), coded=tuple(coded))


def _clusters(items: Sequence[LaidElement], apart: Apart, kinds: _Kinds) -> list[Cluster]:
    """Part one piece's own into clusters; none where anything of it is not dark."""
    if any(item.shape.fill != _DARK for item in items):
        return []
    parts = [
        parts_of(item.region) if isinstance(item.element, SetText) else [item.covers]
        for item in items
    ]
    own = np.repeat(np.arange(len(items)), [len(some) for some in parts])
    shapes = np.array([part for some in parts for part in some], dtype=object)
    group = _apart_by_box(shapes, _linked_within(shapes, apart.any_mm))
    found = []
    for k in range(group.max(initial=-1) + 1):
        which = np.flatnonzero(group == k)
        box = _box_of(shapes[which])
        item = items[own[which[0]]]
        is_one = (own[which] == own[which[0]]).all()
        if not is_one or not shapely.covers(apart.face, _box(_grown(np.array(box), apart.any_mm))):
            found.append(Cluster(box=box))
        elif isinstance(item.element, SetText):
            setting = Setting(texts=(item.element,))
            found.append(_lettered(shapes[which], box, setting, apart, kinds))
        else:
            found.append(_coded(item, box, apart, kinds))
    return found


def _coded(item: LaidElement, box: Box, apart: Apart, kinds: _Kinds) -> Cluster:
    """Return a cluster of one element, with the groups of modules of a code of squares."""
    code = item.element
    if (
        not isinstance(code, SetCode)
        or item.code is None
        or code.kind == "code-128"
        or code.module_mm <= max(apart.quiet_mm, apart.known_mm)
    ):
        return Cluster(box=box)
    parts, setting = parts_of(item.region), Setting(codes=(code,))
    tree = shapely.STRtree(parts)
    boxes = [_box(_box_of(parts[k : k + 1])) for k in range(len(parts))]
    whose, _ = tree.query(boxes, predicate="covers")
    own = np.flatnonzero(np.bincount(whose, minlength=len(parts)) == 1)
    near = tree.query(parts, predicate="dwithin", distance=_ROUND_MM)
    coded = Coded(
        box=box,
        side_mm=code.module_mm,
        corner_mm=item.code.box_mm[:2],
        touches=near.shape[1] > len(parts),
        groups=tuple(_shape(parts[k : k + 1], setting, kinds, code.module_mm) for k in own),
    )
    return Cluster(box=box, coded=coded)


def _lettered(
    parts: NDArray[np.object_], box: Box, setting: Setting, apart: Apart, kinds: _Kinds
) -> Cluster:
    """Return a cluster of one text, with what of it may come again."""
    word = _shape(parts, setting, kinds)
    group = _linked_within(parts, apart.quiet_mm)
    near = shapely.STRtree(parts).query(parts, predicate="dwithin", distance=apart.known_mm)
    is_known = np.array_equal(group[near[0]], group[near[1]])
    if group.max() == 0 or not is_known or (_apart_by_box(parts, group) != group).any():
        return Cluster(box=box, word=word)
    letters = [_shape(parts[group == k], setting, kinds) for k in range(group.max() + 1)]
    return Cluster(box=box, word=word, letters=tuple(letters))


def _shape(
    parts: NDArray[np.object_], setting: Setting, kinds: _Kinds, grid_mm: float = np.inf
) -> Recurring:
    corner = shapely.total_bounds(parts)[:2]
    x, y = corner.tolist()
    kind = kinds.of(parts, corner, grid_mm)
    return Recurring(kind=kind, setting=setting, box=_box_of(parts), corner_mm=(x, y))


def _linked_within(parts: NDArray[np.object_], apart_mm: float) -> NDArray[np.intp]:
    """Number the groups that parts no farther apart than this make."""
    tree = shapely.STRtree(parts)
    return linked(len(parts), *tree.query(parts, predicate="dwithin", distance=apart_mm))


def _apart_by_box(parts: NDArray[np.object_], group: NDArray[np.intp]) -> NDArray[np.intp]:
    """Join groups until the box of none holds anything of another."""
    while True:
        boxes = [shapely.box(*_box_of(parts[group == k])) for k in range(group.max(initial=-1) + 1)]
        box, part = shapely.STRtree(parts).query(boxes, predicate="intersects")
        joined = linked(len(boxes), box, group[part])[group]
        if np.array_equal(joined, group):
            return group
        group = joined


class _Kinds:
    """Numbers shapes; those that are the same but for whole steps of a program's decimals alike."""

    def __init__(self) -> None:
        self._known: dict[_Sizes, list[tuple[FloatArray, FloatArray]]] = {}
        self._number: dict[tuple[_Sizes, int], int] = {}

    def of(self, parts: NDArray[np.object_], corner: FloatArray, grid_mm: float = np.inf) -> int:
        """Return the number of a shape whose bounds have this lower left corner.

        Shapes whose corners lie on a grid from there are soon told apart by them.
        """
        rings = sorted(
            (_ring(ring - corner) for ring in _rings(parts)), key=lambda r: _SLANT @ r[0]
        )
        xy = np.vstack(rings)
        sizes = tuple(len(ring) for ring in rings), np.rint(xy / grid_mm).tobytes()
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


def _box_of(parts: NDArray[np.object_]) -> Box:
    return _grown(shapely.total_bounds(parts), _ROUND_MM)


def _box(box: Box) -> BaseGeometry:
    return shapely.box(*box)


def _grown(box: FloatArray, by_mm: float) -> Box:
    x0, y0, x1, y1 = box.tolist()
    return (x0 - by_mm, y0 - by_mm, x1 + by_mm, y1 + by_mm)
