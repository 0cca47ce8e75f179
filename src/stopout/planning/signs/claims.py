"""Who shows what: the coats' claims on the artwork, each place to one coat.

What is named explicitly (a fill, an id, a class) goes before what is meant by its tone (`dark`),
and that before what is left (`rest`). White belongs to nobody only where it is the bare page.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from stopout.errors import PlanError
from stopout.planning.job import Coat, Shows
from stopout.planning.signs.grid import difference, intersection, on_grid, union
from stopout.values import Drawing, DrawnShape

__all__ = ["Claims", "Overlap", "claims_of"]

WHITE = "#ffffff"
# Claims that share less than this meet along an edge.
_SHARED_MM2 = 0.01
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


def claims_of(coats: Sequence[Coat], drawing: Drawing, face: BaseGeometry) -> Claims:
    """Share the artwork out to the coats.

    Parameters
    ----------
    coats : sequence of Coat
        From the viewer backwards; each with `shows`.
    drawing : Drawing
        The artwork on the blank, as seen.
    face : BaseGeometry
        The blank's face, as seen.

    Returns
    -------
    Claims
        Of two coats that name the same part the earlier gets it.

    Raises
    ------
    PlanError
        If a coat does not say what it shows, or names what the artwork does not hold.
    """
    face = on_grid(face)
    kinds = [_shows(coat, number).kind for number, coat in enumerate(coats, start=1)]
    asked = [
        intersection(_claimed(_shows(coat, number), drawing, number), face)
        for number, coat in enumerate(coats, start=1)
    ]
    named = [k for k, kind in enumerate(kinds) if kind in _NAMED]
    shown: list[BaseGeometry] = [Polygon()] * len(coats)
    taken: BaseGeometry = Polygon()
    for k in [*named, *(k for k, kind in enumerate(kinds) if kind == "dark")]:
        shown[k] = difference(asked[k], taken)
        taken = union([taken, shown[k]])
    home = _home_of_the_page(coats, kinds)
    if home is not None:
        shown[home] = union([shown[home], difference(face, taken)])
    return Claims(shown=tuple(shown), overlaps=tuple(_overlaps(named, asked)))


def _home_of_the_page(coats: Sequence[Coat], kinds: Sequence[str]) -> int | None:
    """Return which coat shows what nobody names: `rest`, else one that names white."""
    if "rest" in kinds:
        return kinds.index("rest")
    whites = [
        k
        for k, coat in enumerate(coats)
        if coat.shows is not None and coat.shows.kind == "fill" and coat.shows.value == WHITE
    ]
    return whites[0] if whites else None


def _overlaps(named: Sequence[int], asked: Sequence[BaseGeometry]) -> list[Overlap]:
    found = []
    for a, b in combinations(named, 2):
        both = intersection(asked[a], asked[b])
        if both.area > _SHARED_MM2:
            found.append(Overlap(first=a + 1, second=b + 1, region=both))
    return found


def _shows(coat: Coat, number: int) -> Shows:
    if coat.shows is None:
        raise PlanError(f'coat {number} does not say what it shows; add shows = "dark" or "rest"')
    return coat.shows


def _claimed(shows: Shows, drawing: Drawing, number: int) -> BaseGeometry:
    """Return the artwork that a coat asks for; nothing for `rest`."""
    if shows.kind == "rest":
        return Polygon()
    if shows.kind == "dark":
        if drawing.dark.is_empty:
            raise PlanError(
                f"coat {number} shows what is dark, but nothing in {drawing.file} is dark at the "
                'job\'s threshold; name a fill instead: shows = { fill = "#rrggbb" }'
            )
        return on_grid(drawing.dark)
    shapes = [shape for shape in drawing.shapes if _is_meant(shape, shows)]
    if not shapes:
        raise PlanError(_nothing_has_it(shows, drawing, number))
    if shows.kind != "fill":
        shapes = _without_counters(shapes)
    return union([on_grid(shape.region) for shape in shapes])


def _is_meant(shape: DrawnShape, shows: Shows) -> bool:
    if shows.kind == "fill":
        return shape.fill == shows.value.lower()
    if shows.kind == "class":
        return shows.value in shape.classes
    # A shape with the id, or in a group that has it.
    return shape.ident == shows.value or f"#{shows.value}" in shape.classes


def _without_counters(shapes: list[DrawnShape]) -> list[DrawnShape]:
    """Leave out white among other colours: it cuts counters out of what is meant."""
    coloured = [shape for shape in shapes if shape.fill != WHITE]
    return coloured or shapes


def _nothing_has_it(shows: Shows, drawing: Drawing, number: int) -> str:
    areas: Counter[str] = Counter()
    for shape in drawing.shapes:
        areas[shape.fill] += float(shape.region.area)  # type: ignore[assignment]
    known = ", ".join(fill for fill, _ in areas.most_common(8))
    return (
        f"coat {number} shows {shows.kind} {shows.value!r}, but no visible shape of "
        f"{drawing.file} has it; the colours seen there are {known or 'not named'}"
    )
