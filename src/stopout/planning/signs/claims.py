"""Who shows what: the coats' claims on the artwork, each place to one coat.

What is named explicitly (a fill, an id, a class) goes before what is meant by its tone (`dark`),
and that before what is left (`rest`). White belongs to nobody only where it is the bare page.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from stopout.errors import PlanError
from stopout.job.record import Coat, Shows
from stopout.planning.memory import Memory, digest_of
from stopout.planning.signs.cells import CellsDisagreeError, SignCell, in_cells, joined
from stopout.planning.signs.grid import partition
from stopout.values import Drawing, DrawnShape

WHITE = "#ffffff"
# Claims that share less than this meet along an edge.
_SHARED_MM2 = 0.01
# The shapes tell all that is dark where they differ from it by less than this share.
_UNTOLD = 1e-3
# Edges nearer than this are looked at together: no less than any cell of a sign takes.
_APART_MM = 0.5
_NAMED = ("fill", "id", "class")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Overlap:
    """Two coats that name the same part of the artwork; the first of them gets it."""

    first: int
    second: int
    region: BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Claims:
    """What the reader is to see of each coat, as seen: disjoint regions on the grid."""

    shown: tuple[BaseGeometry, ...]
    overlaps: tuple[Overlap, ...]


def claims_of(
    coats: Sequence[Coat], drawing: Drawing, face: BaseGeometry, memory: Memory | None = None
) -> Claims:
    """Share the artwork out to the coats.

    Parameters
    ----------
    coats : sequence of Coat
        From the viewer backwards; each with `shows`.
    drawing : Drawing
        The artwork on the blank, as seen.
    face : BaseGeometry
        The blank's face, as seen.
    memory : Memory, optional
        What was found of the cells of earlier drawings.

    Returns
    -------
    Claims
        Of two coats that name the same part the earlier gets it.

    Raises
    ------
    PlanError
        If a coat does not say what it shows, or names what the artwork does not hold.
    """
    asked = tuple(_shows(coat, number) for number, coat in enumerate(coats, start=1))
    named = [_meant(shows, drawing, number) for number, shows in enumerate(asked, start=1)]
    memory = memory or Memory(0)
    dark: list[int] = []
    if any(shows.kind == "dark" for shows in asked):
        dark = _dark(drawing, memory)
    kinds: dict[_Kind, list[BaseGeometry]] = {}
    for k, shape in enumerate(drawing.shapes):
        kind = _Kind(by=tuple(k in meant for meant in named), is_dark=k in dark)
        kinds.setdefault(kind, []).extend(_parts(shape.region))
    share = _Share(asked=asked, kinds=tuple(kinds))
    # Shapes of a kind may meet and overlap: only what lies in a cell is laid on each other.
    regions = [face, *(shapely.geometrycollections(shapes) for shapes in kinds.values())]
    if share.asks_for_dark:
        regions.append(drawing.dark)
    return in_cells(regions, _APART_MM, lambda cells: share.of(cells, drawing.dark, memory))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """Shapes that are named by the same coats, and are dark or not."""

    by: tuple[bool, ...]
    is_dark: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Share:
    """How the artwork is shared out: what the coats ask for, and the kinds of shapes there are."""

    asked: tuple[Shows, ...]
    kinds: tuple[_Kind, ...]

    @property
    def asks_for_dark(self) -> bool:
        """Tell whether some coat shows what is dark."""
        return any(shows.kind == "dark" for shows in self.asked)

    def of(self, cells: Sequence[SignCell], dark: BaseGeometry, memory: Memory) -> Claims:
        """Share out what lies in all cells."""
        by_region = self.asks_for_dark and self._untold(cells, memory) > _UNTOLD * dark.area
        made = memory.recall_all(
            [("claims", cell.key, self, by_region) for cell in cells],
            lambda missing: [self._in(cells[k], by_region) for k in missing],
        )
        shown, shared = zip(*made, strict=True)
        named = [k for k, shows in enumerate(self.asked) if shows.kind in _NAMED]
        overlaps = [
            Overlap(first=a + 1, second=b + 1, region=joined(cells, both))
            for (a, b), both in zip(combinations(named, 2), zip(*shared, strict=True), strict=True)
        ]
        return Claims(
            shown=tuple(joined(cells, regions) for regions in zip(*shown, strict=True)),
            overlaps=tuple(both for both in overlaps if both.region.area > _SHARED_MM2),
        )

    def _untold(self, cells: Sequence[SignCell], memory: Memory) -> float:
        """Return how much is dark and in no dark shape, or the other way round, in mm^2."""
        told = [k for k, kind in enumerate(self.kinds, start=1) if kind.is_dark]
        if any(any(cell.around[k] for k in told) != cell.around[-1] for cell in cells):
            raise CellsDisagreeError

        def untold(cell: SignCell) -> float:
            shapes = shapely.union_all([part for k in told for part in _parts(cell.regions[k])])
            return float(shapely.symmetric_difference(shapes, cell.regions[-1]).area)

        return sum(
            memory.recall_all(
                [("untold", cell.key, tuple(told)) for cell in cells],
                lambda missing: [untold(cells[k]) for k in missing],
            )
        )

    def _in(self, cell: SignCell, by_region: bool) -> tuple[list[BaseGeometry], list[BaseGeometry]]:
        """Return what each coat shows in a cell, and what each two coats name both."""
        face, *kinds = cell.regions[: 1 + len(self.kinds)]
        parts = [_parts(region) for region in kinds]
        regions = [face, *(part for own in parts for part in own)]
        kind_of = [kind for kind, own in zip(self.kinds, parts, strict=True) for _ in own]
        dark = [kind.is_dark and not by_region for kind in kind_of]
        if by_region:
            regions.append(cell.regions[-1])
            dark.append(True)
        by = np.zeros((len(self.asked), len(regions) - 1), dtype=bool)
        for n, kind in enumerate(kind_of):
            by[:, n] = kind.by
        by[[shows.kind == "dark" for shows in self.asked]] = dark
        faces, lies_in = partition(regions)
        on_face = lies_in[0]
        claimed = (by[:, :, None] & lies_in[None, 1:]).any(axis=1) & on_face
        owner = _owners(self.asked, claimed)
        owner[~on_face] = -1
        named = [k for k, shows in enumerate(self.asked) if shows.kind in _NAMED]
        return (
            [_all_of(faces[owner == k]) for k in range(len(self.asked))],
            [_all_of(faces[claimed[a] & claimed[b]]) for a, b in combinations(named, 2)],
        )


def _all_of(faces: NDArray[np.object_]) -> BaseGeometry:
    """Return faces of a partition, whose edges are each other's, as one."""
    return shapely.coverage_union_all(faces) if len(faces) else Polygon()


def _parts(region: BaseGeometry) -> list[BaseGeometry]:
    """Return the polygons of a region, sound ones."""
    parts = shapely.get_parts(region)
    sound = shapely.is_valid(parts)
    if not sound.all():
        parts = shapely.get_parts(shapely.get_parts(shapely.make_valid(region)))
    return [part for part in parts if part.geom_type == "Polygon"]


def _owners(asked: Sequence[Shows], claimed: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return which coat each face of the partition goes to; -1 where none shows it."""
    home = _home_of_the_page(asked)
    owner = np.full(claimed.shape[1], -1 if home is None else home, dtype=np.int64)
    # What is named goes before what is dark, and of the named the earlier coat before the later.
    named = [k for k, shows in enumerate(asked) if shows.kind in _NAMED]
    toned = [k for k, shows in enumerate(asked) if shows.kind == "dark"]
    for k in [*toned[::-1], *named[::-1]]:
        owner[claimed[k]] = k
    return owner


def _home_of_the_page(asked: Sequence[Shows]) -> int | None:
    """Return which coat shows what nobody names: `rest`, else one that names white."""
    kinds = [shows.kind for shows in asked]
    if "rest" in kinds:
        return kinds.index("rest")
    whites = [k for k, shows in enumerate(asked) if shows == Shows(kind="fill", value=WHITE)]
    return whites[0] if whites else None


def _dark(drawing: Drawing, memory: Memory) -> list[int]:
    """Return which shapes are dark: whole ones, so that their edges are those of their neighbours.

    What of the dark region meets a shape decides, which is remembered.
    """
    parts = shapely.get_parts(drawing.dark)
    regions = np.array([shape.region for shape in drawing.shapes], dtype=object)
    at, part = shapely.STRtree(parts).query(regions)
    near = [np.sort(part[at == k]) for k in range(len(regions))]

    def is_dark(k: int) -> bool:
        region = shapely.union_all(_parts(regions[k]))
        both = shapely.intersection(region, shapely.multipolygons(parts[near[k]]))
        return bool(both.area > region.area / 2)

    found = memory.recall_all(
        [("dark", digest_of(regions[k], *parts[near[k]])) for k in range(len(regions))],
        lambda missing: [is_dark(k) for k in missing],
    )
    return [k for k, one in enumerate(found) if one]


def _shows(coat: Coat, number: int) -> Shows:
    if coat.shows is None:
        raise PlanError(
            f'coat {number} does not say what it shows; add shows = "dark" or "rest"',
            at=("coat", number - 1),
        )
    return coat.shows


def _meant(shows: Shows, drawing: Drawing, number: int) -> list[int]:
    """Return which shapes a coat names; none for `dark` and `rest`."""
    if shows.kind == "dark" and drawing.dark.is_empty:
        raise PlanError(
            f"coat {number} shows what is dark, but nothing in {drawing.file} is dark at the "
            'job\'s threshold; name a fill instead: shows = { fill = "#rrggbb" }',
            at=("coat", number - 1, "shows"),
        )
    if shows.kind not in _NAMED:
        return []
    found = [k for k, shape in enumerate(drawing.shapes) if _is_meant(shape, shows)]
    if not found:
        raise PlanError(_nothing_has_it(shows, drawing, number), at=("coat", number - 1, "shows"))
    if shows.kind == "fill":
        return found
    # White among other colours cuts counters out of what is meant.
    return [k for k in found if drawing.shapes[k].fill != WHITE] or found


def _is_meant(shape: DrawnShape, shows: Shows) -> bool:
    if shows.kind == "fill":
        return shape.fill == shows.value.lower()
    if shows.kind == "class":
        return shows.value in shape.classes
    # A shape with the id, or in a group that has it.
    return shape.ident == shows.value or f"#{shows.value}" in shape.classes


def _nothing_has_it(shows: Shows, drawing: Drawing, number: int) -> str:
    areas: Counter[str] = Counter()
    for shape in drawing.shapes:
        areas[shape.fill] += float(shape.region.area)  # type: ignore[assignment]
    known = ", ".join(fill for fill, _ in areas.most_common(8))
    return (
        f"coat {number} shows {shows.kind} {shows.value!r}, but no visible shape of "
        f"{drawing.file} has it; the colours seen there are {known or 'not named'}"
    )
